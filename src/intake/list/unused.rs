//! Columns of a list that say something and that nothing uses: most likely a key misspelt, or a word that was to be on the
//! goods. It is no mistake, for tables come from elsewhere and hold more; the maker is told once.

use std::collections::BTreeSet;
use std::path::PathBuf;

use seamwright_contract::order::fields_in;
use seamwright_contract::settings::{Value, nearest};

use super::table::Table;
use super::{Column, KEYS, List, PARTS};
use crate::registry;

impl List<'_> {
    /// A sentence on them; none where there are none, or where nobody can tell. The first column is what rows are known by.
    pub(super) fn unused(&self, table: &Table) -> Option<String> {
        let says = |place: usize| {
            table.rows.iter().any(|row| row.cells.get(place).is_some_and(|cell| !cell.is_empty()))
        };
        let fields = self.columns.iter().enumerate().skip(1).filter_map(|(place, column)| match column {
            Column::Field(name) if says(place) => Some(name),
            _ => None,
        });
        let mut names: Vec<&String> = fields.collect();
        // Programs are given all fields.
        if names.is_empty() || self.config.pipeline.runs_programs() {
            return None;
        }
        let asked = self.asked()?;
        names.retain(|name| !asked.contains(*name));
        let first = names.first()?;
        let columns = if names.len() == 1 { "column" } else { "columns" };
        let listed: Vec<String> = names.iter().map(|name| called(name)).collect();
        Some(format!(
            "Nothing uses the {columns} {}. What shall be on the goods is written in braces, such as `{{{first}}}`, into \
             `lettering` or the words of an SVG.",
            listed.join(", ")
        ))
    }

    /// All fields that sidecar, defaults and artwork ask for; nothing where the artwork cannot be read.
    fn asked(&self) -> Option<BTreeSet<String>> {
        let artwork = self.artwork.as_ref()?;
        // It is only read here, so nothing needs a scratch file.
        let mut asked = registry::fields_asked(artwork, &self.config.artwork_limits(PathBuf::new())).ok()?;
        for document in [&self.sidecar, &self.defaults] {
            let Value::Map(keys) = document.root().value() else { continue };
            for stage in registry::STAGES.iter().filter(|stage| stage.order.is_some()) {
                let said = keys.iter().find(|(key, _)| key == stage.name);
                said.into_iter().for_each(|(_, said)| ask(said, &mut asked));
            }
        }
        Some(asked)
    }
}

/// The fields that any text in a value asks for.
fn ask(value: &Value, asked: &mut BTreeSet<String>) {
    match value {
        Value::Text(text) => asked.extend(fields_in(text).map(str::to_owned)),
        Value::List(items) => items.iter().for_each(|item| ask(item, asked)),
        Value::Map(entries) => entries.iter().for_each(|(_, value)| ask(value, asked)),
        Value::Nothing | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// A column by its name, and by the key that it may be meant for.
fn called(name: &str) -> String {
    let keys: Vec<&str> = KEYS.into_iter().chain(PARTS.map(|(name, _, _)| name)).collect();
    // A slip of the fingers is seldom in the first letter.
    match nearest(&keys, name).filter(|key| key.chars().next() == name.chars().next()) {
        Some(key) => format!("`{name}` (did you mean `{key}`?)"),
        None => format!("`{name}`"),
    }
}
