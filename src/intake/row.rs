//! Where an order comes from that is a row of a list: the key `row`, which is written for each row and read back here.

use std::fs;
use std::path::Path;

use seamwright_contract::order::Row;
use seamwright_contract::settings::{Fields, Read as _, Value};

use super::names::{is_bare_name, is_defaults_name, is_sidecar_name};
use crate::config::Layered;
use crate::config::yaml::{Document, LONGEST_ORDER};
use crate::journal::files::open_plain;

/// The key.
pub(super) const ROW: &str = "row";

/// Reads it; nothing where the order is no row. `None` with a complaint.
#[expect(clippy::option_option, reason = "a mistake, no row, a row")]
pub(super) fn read(keys: &mut Layered<'_>) -> Option<Option<Row>> {
    if let Some(node) = keys.under_unlisted(ROW) {
        node.complain("a folder's defaults are not a line of a list", "Take the line out.");
        return None;
    }
    let Some(node) = keys.own_unlisted(ROW) else { return Some(None) };
    let row = node.fields().and_then(|mut fields| {
        let row = of(&mut fields);
        fields.finish();
        row
    });
    if row.is_none() {
        node.complain(
            "this does not say which line of which list the order is",
            "The program writes this key; put it back as it was, or take it out.",
        );
    }
    Some(Some(row?))
}

fn of(fields: &mut Fields<'_>) -> Option<Row> {
    let mut name = |key| {
        let name = String::read(&fields.get(key)?)?;
        is_bare_name(&name).then_some(name)
    };
    let (list, group) = (name("list")?, name("group")?);
    let line = fields.optional("line").filter(|line| *line > 0)?;
    Some(Row { list, line, group })
}

/// A row as that key has it.
pub(super) fn value(row: &Row) -> Value {
    let text = |text: &str| Value::Text(text.to_owned());
    Value::Map(vec![
        ("list".to_owned(), text(&row.list)),
        ("line".to_owned(), Value::Number(f64::from(row.line))),
        ("group".to_owned(), text(&row.group)),
    ])
}

/// The row that a job is which is claimed or refused; nothing where it is none or that cannot be told.
pub(crate) fn row_in(folder: &Path) -> Option<Row> {
    let mut entries = fs::read_dir(folder).ok()?.filter_map(Result::ok).map(|entry| entry.path());
    let sidecar = entries.find(|path| {
        let name = path.file_name().unwrap_or_default();
        is_sidecar_name(name) && !is_defaults_name(name)
    })?;
    let document = Document::read(open_plain(&sidecar), "", LONGEST_ORDER).ok()?;
    let mut fields = document.root().fields()?.get(ROW)?.fields()?;
    of(&mut fields)
}
