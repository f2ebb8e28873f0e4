//! Writes `record.json`: every decision about a job, for other programs to read.
//!
//! It is the machine-readable truth of a finished job. Judges, spoolers and scripts cut the sheets apart and put
//! them together by it and by nothing else, so its form is fixed and described by `config/schemas/record.schema.json`;
//! a change of the form is a new number in its first field.
//!
//! Lengths are whole micrometres. Rectangles are `[x, y, width, height]` from their space's top left, except
//! `page_pt`, which is in points from the page's bottom left as PDF counts. Rows, columns, panel numbers, trim edges
//! and the final trim are counted on paper, lying ink side up; panels' parts of the design, seams, tape and what was
//! left out are given on the face. It stands last in the list of writers, since it lists the files of the others.

mod form;

use std::io::Write as _;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;

use crate::form::Record;

/// The writer as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "record",
    about: "writes record.json: every decision, for other programs to read",
    needs: &[Fact::Design, Fact::Panels],
    example: "record",
    parse,
};

/// The file's name.
pub const FILE: &str = "record.json";

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(writer())
}

/// The writer alone, for a record that is kept wherever the studio's list of writers ends.
#[must_use]
pub fn writer() -> Box<dyn Writer> {
    Box::new(RecordWriter)
}

/// The writer; it has no settings.
#[derive(Debug)]
struct RecordWriter;

impl Writer for RecordWriter {
    fn write(&self, layout: &Layout, _means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let mut files = to.files();
        files.push(FILE.to_owned());
        let mut text = serde_json::to_vec_pretty(&Record::of(layout, &files, to.panels())?)
            .map_err(|e| Fault::defect(format!("the record could not be put into words: {e}")))?;
        text.push(b'\n');
        let mut out = to.create(FILE)?;
        out.write_all(&text).and_then(|()| out.flush()).map_err(|e| Fault::unwritten(FILE, e))
    }
}

#[cfg(test)]
mod tests;
