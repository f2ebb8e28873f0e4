//! YAML text to [`Value`]s, with the place of every mistake: the only place that knows the parser.
//!
//! A text from outside is looked at in four steps, each of which may end it: how long it is and whether it is
//! plain UTF-8; what the [`scan`] finds unwanted; the parser proper; texts with control characters smuggled in by
//! escapes. Only then does `contract::settings` read types from it, and what it complains of gets its place here.

mod scan;
mod syntax;
#[cfg(test)]
mod tests;

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

use seamwright_contract::settings::{Complaint, Complaints, Node, Part, Value};

use super::diagnosis::{Diagnosis, Excerpt};

/// The longest sidecar, in bytes: a hundred times what an order needs, and short enough for any parser.
pub(crate) const LONGEST_ORDER: u64 = 16 * 1024;

/// The longest file of the studio's own, in bytes.
pub(crate) const LONGEST_SETTINGS: u64 = 64 * 1024;

/// A parsed text together with what is needed to complain about it.
#[derive(Debug)]
pub(crate) struct Document {
    file: String,
    text: String,
    value: Value,
    spots: scan::Spots,
    complaints: Complaints,
}

impl Document {
    /// Reads a file of at most `longest` bytes; `name` is what people know it by.
    pub(crate) fn open(path: &Path, name: &str, longest: u64) -> Result<Self, Vec<Diagnosis>> {
        Self::read(File::open(path), name, longest)
    }

    /// Reads an opened file in the same way.
    pub(crate) fn read(file: io::Result<File>, name: &str, longest: u64) -> Result<Self, Vec<Diagnosis>> {
        let mut bytes = Vec::new();
        match file.and_then(|file| file.take(longest + 1).read_to_end(&mut bytes)) {
            Ok(_) => Self::parse(name, &bytes, longest),
            Err(why) => Err(vec![Diagnosis::of_file(
                name,
                format!("the file cannot be read ({why})"),
                "Look whether it is there and may be read.",
            )]),
        }
    }

    /// Parses a text.
    pub(crate) fn parse(name: &str, bytes: &[u8], longest: u64) -> Result<Self, Vec<Diagnosis>> {
        let text = syntax::plain(name, bytes, longest).map_err(|diagnosis| vec![diagnosis])?;
        let (spots, troubles) = scan::scan(text);
        if !troubles.is_empty() {
            let told = |trouble: scan::Trouble| Diagnosis {
                key: trouble.key,
                ..Diagnosis::of_file(name, trouble.what, trouble.cure).at(Excerpt::of(text, trouble.at))
            };
            return Err(troubles.into_iter().map(told).collect());
        }
        let mut value = if text.trim().is_empty() {
            Value::Nothing
        } else {
            serde_yaml::from_str(text).map_err(|why| vec![syntax::told(name, text, &spots, &why)])?
        };
        as_written(&mut value, text);
        let complaints = Complaints::new();
        let document = Self { file: name.to_owned(), text: text.to_owned(), value, spots, complaints };
        smuggled(&document.value, "", &document.complaints);
        if document.complaints.is_empty() { Ok(document) } else { Err(document.diagnoses()) }
    }

    /// A text that says nothing, for a file that is not there.
    pub(crate) fn empty(name: &str) -> Self {
        Self {
            file: name.to_owned(),
            text: String::new(),
            value: Value::Nothing,
            spots: scan::Spots::default(),
            complaints: Complaints::new(),
        }
    }

    /// Its root, to read from.
    pub(crate) fn root(&self) -> Node<'_> {
        Node::root(&self.value, &self.complaints)
    }

    /// What is known of the place that a way leads to.
    pub(crate) fn excerpt(&self, way: &str, part: Part) -> Option<Excerpt> {
        self.spots.of(way, part, &self.text).map(|at| Excerpt::of(&self.text, at))
    }

    /// The name people know it by.
    pub(crate) fn file(&self) -> &str {
        &self.file
    }

    /// What was complained of while reading, with its places.
    pub(crate) fn diagnoses(mut self) -> Vec<Diagnosis> {
        let mut complaints = std::mem::take(&mut self.complaints).into_list();
        // What is missing may well have been meant by what is wrong.
        complaints.sort_by_key(|complaint| complaint.part == Part::Group);
        let told = |complaint: Complaint| Diagnosis {
            file: self.file.clone(),
            excerpt: self.excerpt(&complaint.key, complaint.part).map(Box::new),
            key: complaint.key,
            what: complaint.what,
            cure: complaint.cure,
        };
        let mut found: Vec<Diagnosis> = complaints.into_iter().map(told).collect();
        // As one reads; what is missing in the file as a whole comes last.
        found.sort_by_key(|found| found.excerpt.as_ref().map_or(usize::MAX, |excerpt| excerpt.line));
        found
    }
}

/// The key whose values go onto the goods as they were typed.
pub(crate) const FIELDS: &str = "fields";

/// Gives the values under [`FIELDS`] as they stand in the text: `1.50` would be 1.5 as a number, and `TRUE` true. Where one
/// of them is no plain word, whoever reads them complains of it.
fn as_written(value: &mut Value, text: &str) {
    #[derive(serde::Deserialize)]
    struct Written {
        fields: std::collections::BTreeMap<String, String>,
    }
    let Value::Map(entries) = value else { return };
    let Some((_, Value::Map(fields))) = entries.iter_mut().find(|(key, _)| key == FIELDS) else { return };
    let Ok(mut written) = serde_yaml::from_str::<Written>(text) else { return };
    for (key, value) in fields {
        if let (Value::Number(_) | Value::Bool(_), Some(text)) = (&value, written.fields.remove(key.as_str()))
        {
            *value = Value::Text(text);
        }
    }
}

/// Characters that only an escape can bring in, or that make a text look like another one.
fn smuggled(value: &Value, key: &str, complaints: &Complaints) {
    let odd = |text: &str| {
        text.chars().any(|c| {
            c.is_control() && !matches!(c, '\n' | '\t')
                || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        })
    };
    let below = |word: &str| if key.is_empty() { word.to_owned() } else { format!("{key}.{word}") };
    match value {
        Value::Text(text) if odd(text) => {
            complaints.add(
                key,
                Part::Value,
                "the text holds a control character",
                "Write it with visible characters only.",
            );
        }
        Value::List(items) => {
            for (i, item) in items.iter().enumerate() {
                smuggled(item, &below(&i.to_string()), complaints);
            }
        }
        Value::Map(entries) => {
            for (word, value) in entries {
                if odd(word) {
                    let cure = "Write keys with plain letters.";
                    complaints.add(key, Part::Value, "a key holds a control character", cure);
                } else {
                    smuggled(value, &below(word), complaints);
                }
            }
        }
        Value::Nothing | Value::Bool(_) | Value::Number(_) | Value::Text(_) => {}
    }
}

/// A value as YAML text.
pub(crate) fn write(value: &Value) -> String {
    serde_yaml::to_string(&outward(value)).unwrap_or_default()
}

fn outward(value: &Value) -> serde_yaml::Value {
    match value {
        Value::Nothing => serde_yaml::Value::Null,
        Value::Bool(yes) => (*yes).into(),
        Value::Number(number) if number.fract() == 0.0 => seamwright_contract::num::round(*number).into(),
        Value::Number(number) => (*number).into(),
        Value::Text(text) => text.as_str().into(),
        Value::List(items) => serde_yaml::Value::Sequence(items.iter().map(outward).collect()),
        Value::Map(entries) => serde_yaml::Value::Mapping(
            entries.iter().map(|(key, value)| (key.as_str().into(), outward(value))).collect(),
        ),
    }
}
