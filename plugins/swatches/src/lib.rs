//! `swatches`: one page to try on a scrap of blank before the piece itself.
//!
//! It holds the parts of this very artwork that say most about its colours, at true size (`crops`, found by `regions`),
//! and flat patches of its colours and of the sheets' own channels (`patches`). They are one picture (`scrap`) that goes
//! through what the sheets go through: the same values, the same profile, the same mirroring, the same resolution.
//! `arrange` lays the page out, the pressed part on a `board` in face space; `words` has every sentence.

mod arrange;
mod board;
mod crops;
mod patches;
mod regions;
mod scrap;
mod words;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::Picture as _;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_drawing::pdf::Info;
use seamwright_drawing::sheet::{Press, Printout};

/// This writer, as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "swatches",
    about: "one page of patches and crops of the artwork, to try on a scrap first",
    needs: &[Fact::Design],
    example: "swatches",
    parse,
};

/// The file this writer makes.
const FILE: &str = "test-print.pdf";

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(writer())
}

/// The writer by itself.
#[must_use]
pub fn writer() -> Box<dyn Writer> {
    Box::new(Swatches)
}

#[derive(Debug)]
struct Swatches;

impl Writer for Swatches {
    fn write(&self, layout: &Layout, _: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let (sheet, scrap) = arrange::page(layout)?;
        let profile = layout.colour.as_ref().and_then(|colour| colour.attached.as_ref());
        let info = Info {
            title: format!("{} {}", words::TITLE, layout.job.name),
            subject: words::SUBJECT.to_owned(),
            identity: format!("{} {}", layout.artwork.sha256, layout.job.name),
        };
        let printout = Printout::new(&[sheet], scrap.format().channels, profile, &info)?;
        let mut to = to.create(FILE)?;
        let mut press = Press::default();
        printout.write(
            to.as_mut(),
            |put| {
                let mut pieces = printout.pieces().into_iter();
                pieces.try_for_each(|piece| put(&press.compress(&scrap, piece, layout.mirrored)?))
            },
            // Nobody asks for a test print again.
            &mut |_| {},
        )
    }
}

#[cfg(test)]
mod tests;
