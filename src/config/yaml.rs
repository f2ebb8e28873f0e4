//! YAML text to [`Value`]s, with the line of every mistake: the only place that knows the parser.
//!
//! A text from outside is looked at in four steps, each of which may end it: how long it is and whether it is
//! plain UTF-8; what the [`scan`] finds unwanted; the parser proper; texts with control characters smuggled in by
//! escapes. Only then does `contract::settings` read types from it, and what it complains of gets its line here.

mod scan;
#[cfg(test)]
mod tests;

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

use seamwright_contract::settings::{Complaints, Node, Value};

use super::diagnosis::Diagnosis;

/// The longest sidecar, in bytes: a hundred times what an order needs, and short enough for any parser.
pub(crate) const LONGEST_ORDER: u64 = 16 * 1024;

/// The longest file of the studio's own, in bytes.
pub(crate) const LONGEST_SETTINGS: u64 = 64 * 1024;

/// A parsed text together with what is needed to complain about it.
#[derive(Debug)]
pub(crate) struct Document {
    file: String,
    value: Value,
    lines: scan::Lines,
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
        let text = plain(name, bytes, longest).map_err(|diagnosis| vec![diagnosis])?;
        let (lines, troubles) = scan::scan(text);
        if !troubles.is_empty() {
            return Err(troubles
                .into_iter()
                .map(|t| Diagnosis {
                    file: name.to_owned(),
                    line: Some(t.line),
                    key: t.key,
                    what: t.what,
                    cure: t.cure,
                })
                .collect());
        }
        let mut value = if text.trim().is_empty() {
            Value::Nothing
        } else {
            serde_yaml::from_str(text).map_err(|why| vec![syntax(name, text, &why)])?
        };
        as_written(&mut value, text);
        let document = Self { file: name.to_owned(), value, lines, complaints: Complaints::new() };
        smuggled(&document.value, "", &document.complaints);
        if document.complaints.is_empty() { Ok(document) } else { Err(document.diagnoses()) }
    }

    /// A text that says nothing, for a file that is not there.
    pub(crate) fn empty(name: &str) -> Self {
        Self {
            file: name.to_owned(),
            value: Value::Nothing,
            lines: scan::Lines::default(),
            complaints: Complaints::new(),
        }
    }

    /// Its root, to read from.
    pub(crate) fn root(&self) -> Node<'_> {
        Node::root(&self.value, &self.complaints)
    }

    /// What was complained of while reading, with lines.
    pub(crate) fn diagnoses(self) -> Vec<Diagnosis> {
        let Self { file, lines, complaints, .. } = self;
        complaints
            .into_list()
            .into_iter()
            .map(|c| Diagnosis {
                file: file.clone(),
                line: lines.of(&c.key),
                key: c.key,
                what: c.what,
                cure: c.cure,
            })
            .collect()
    }
}

/// The text of the bytes, if they are plain UTF-8 of a sane length.
fn plain<'a>(name: &str, bytes: &'a [u8], longest: u64) -> Result<&'a str, Diagnosis> {
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > longest {
        return Err(Diagnosis::of_file(
            name,
            format!("the file is longer than {} KiB", longest / 1024),
            "This is a text of a few lines: look whether the right file was saved under this name.",
        ));
    }
    let at = |offset: usize, what: String, cure: &str| {
        let before = bytes.get(..offset).unwrap_or_default();
        let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
        let column = before.iter().rev().take_while(|byte| **byte != b'\n').count() + 1;
        let what = format!("{what} at column {column}");
        Diagnosis { line: Some(line), ..Diagnosis::of_file(name, what, cure) }
    };
    let text = std::str::from_utf8(bytes).map_err(|why| {
        at(
            why.valid_up_to(),
            "the text is not UTF-8".to_owned(),
            "Save it as UTF-8, which every text editor offers.",
        )
    })?;
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if let Some((offset, c)) = text.char_indices().find(|(_, c)| odd(*c)) {
        let what = format!("a control character (U+{:04X}) stands in the text", u32::from(c));
        return Err(at(offset, what, "Take it out, or save the file anew as plain text."));
    }
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
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
                    complaints.add(key, "a key holds a control character", "Write keys with plain letters.");
                } else {
                    smuggled(value, &below(word), complaints);
                }
            }
        }
        Value::Nothing | Value::Bool(_) | Value::Number(_) | Value::Text(_) => {}
    }
}

/// What the parser says, in words that help someone who knows no YAML.
fn syntax(name: &str, text: &str, why: &serde_yaml::Error) -> Diagnosis {
    let said = why.to_string();
    let line = why.location().map(|place| place.line());
    let tab = text.lines().position(|line| line.trim_start_matches(' ').starts_with('\t'));
    let (line, what, cure) = if let (Some(tab), true) = (tab, said.contains("token") || said.contains("tab"))
    {
        (Some(tab + 1), "a tab starts the line", "Indent with spaces.")
    } else if said.contains("mapping values are not allowed") {
        (line, "there is one `: ` too many in the line", "Put quotes round a text that holds a colon.")
    } else if said.contains("flow sequence") || said.contains("flow mapping") {
        (
            line,
            "a bracket is not closed, or a comma is missing",
            "Close each `[` with `]` and each `{` with `}`.",
        )
    } else if said.contains("quoted scalar") {
        (line, "a quote is not closed", "End the text with the quote it starts with.")
    } else if said.contains("simple key") || said.contains("expected ':'") {
        (line, "a line is no `key: value`", "Write a colon and a space after the key.")
    } else if said.contains("block mapping") || said.contains("block collection") {
        (
            line,
            "the line is indented differently from its neighbours",
            "Let keys of one group start in the same column.",
        )
    } else if said.contains("a key must be a word") {
        (line, "a key is no plain word", "Write `key: value` with a single word before the colon.")
    } else {
        let cure = "Write `key: value` lines, and quotes round texts with unusual signs.";
        let what = format!("the text is not readable as YAML ({said})");
        return Diagnosis { line, ..Diagnosis::of_file(name, what, cure) };
    };
    Diagnosis { line, ..Diagnosis::of_file(name, what, cure) }
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
