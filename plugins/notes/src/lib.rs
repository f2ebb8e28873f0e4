//! `notes`: what the maker needs beside the sheets, to read at the table: `notes.pdf` with drawings, and `notes.txt`
//! with the same content in words, for screen readers and phones.
//!
//! The layout becomes a list of blocks: `content`, with a part each for cutting (`cut`), joining (`join`), placing
//! (`place`) and pressing (`press`), the reasoning about the lay-up in `plan`, every standing sentence in `words` and
//! every length put into words in `say`. The two forms show the same blocks: `flow` sets them on pages, the first of them
//! by `overview`, with the drawings of `maps` and `steps`; `text` writes them out, so that rules can read its tables.
//! Drawings of paper are in paper space, drawings of the blank in face space, and both say so.

mod blocks;
mod colours;
mod content;
mod cut;
mod flow;
mod join;
mod maps;
mod overview;
mod place;
mod plan;
mod press;
mod say;
mod steps;
mod text;
mod tidy;
mod words;

use std::io::Write;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_drawing::pdf;

/// The writer as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "notes",
    about: "writes notes.pdf and notes.txt: how to cut, join, place and press",
    needs: &[Fact::Design, Fact::Panels],
    example: "notes",
    parse,
};

/// The drawn form.
const PDF: &str = "notes.pdf";

/// The form in words.
const TEXT: &str = "notes.txt";

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(Box::new(Notes))
}

/// The writer; it has no settings.
#[derive(Debug)]
struct Notes;

impl Writer for Notes {
    fn write(&self, layout: &Layout, _means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let content = content::of(layout)?;
        let info = pdf::Info {
            title: format!("{} {}", words::TITLE, tidy::clean(&layout.job.name)),
            subject: words::SUBJECT.to_owned(),
            identity: layout.job.name.clone(),
        };
        let mut document = pdf::document(&flow::pages(&content), &info)?;
        pdf::save(&mut document, &mut to.create(PDF)?)?;
        let mut out = to.create(TEXT)?;
        out.write_all(text::of(&content).as_bytes())
            .and_then(|()| out.flush())
            .map_err(|e| Fault::unwritten(TEXT, e))
    }
}

#[cfg(test)]
mod tests;
