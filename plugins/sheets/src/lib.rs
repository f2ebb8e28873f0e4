//! `sheets`: the PDF that is printed, one page a panel at true size.
//!
//! A page's box is the paper, its trim box the printed face. The picture lies on it as one lossless image of
//! whole pixels of the design-wide grid, mirrored in its pixels (not by the page's matrix, so that every reader
//! shows the same), clipped to the printed face; the marks lie beside it as lines and text.
//!
//! Full-size pixels are computed here: some rows of a page at a time, side by side on the job's threads, so that no more
//! than a few such pieces are ever in memory (`crew`). Where jobs of the same artwork follow one another, pieces that look the
//! same in both are made once (`kept`). How they become a file is `drawing`'s part, shared with the test
//! print.

mod crew;
mod kept;
mod page;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_drawing::pdf::Info;
use seamwright_drawing::sheet::{Press, Printout};

use kept::Kept;

/// This writer, as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "sheets",
    about: "the sheets to print, one PDF page a panel at true size",
    needs: &[Fact::Design, Fact::Panels],
    example: "sheets",
    parse,
};

/// The file this writer makes.
const FILE: &str = "sheets.pdf";

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(writer())
}

/// The writer alone, for sheets that are made again.
#[must_use]
pub fn writer() -> Box<dyn Writer> {
    Box::new(Sheets::default())
}

#[derive(Debug, Default)]
struct Sheets {
    kept: Kept,
}

impl Writer for Sheets {
    fn write(&self, layout: &Layout, means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let (picture, mirrored) = (layout.picture.as_ref(), layout.mirrored);
        let (numbers, sheets): (Vec<u32>, Vec<_>) = page::all(layout)?.into_iter().unzip();
        let profile = layout.colour.as_ref().and_then(|colour| colour.attached.as_ref());
        let info = info(layout, sheets.len());
        let printout = Printout::new(&sheets, picture.format().channels, profile, &info)?;
        let mut file = to.create(FILE)?;
        let pieces = printout.pieces();
        let workers = crew::workers(means, picture.format());
        let mut numbers = numbers.into_iter();
        self.kept.begin();
        printout.write(
            file.as_mut(),
            |put| {
                crew::work(
                    &pieces,
                    workers,
                    Press::default,
                    |press, piece| self.kept.piece(press, picture, piece, mirrored, means.keep),
                    |piece| put(&piece),
                )
            },
            &mut |sha256| numbers.next().into_iter().for_each(|number| to.note_panel(number, sha256.clone())),
        )
    }
}

fn info(layout: &Layout, count: usize) -> Info {
    Info {
        title: layout.job.name.clone(),
        subject: format!(
            "{count} {} to print from {}",
            if count == 1 { "sheet" } else { "sheets" },
            layout.artwork.file
        ),
        identity: format!("{} {}", layout.artwork.sha256, layout.job.name),
    }
}

#[cfg(test)]
mod tests;
