//! JSON Schemas of all that people write here, for editors to complete and check by.
//!
//! Nothing is written about a form twice: a schema is what the code that reads the form asked for while it read
//! ([`sketch`]), and the words on each key are the remarks of the form's commented example in `config/forms`. What is asked
//! for only where another key says something in particular is heard with the further texts of a form.

mod draw;
mod sketch;
#[cfg(test)]
mod tests;

use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::settings::{Node, Part, Value as Read};
use serde_json::{Value, json};

use crate::config::yaml::{Document, LONGEST_SETTINGS};
use crate::config::{self, Config, DEFAULTS};
use crate::intake;
use crate::journal::files::write_whole;
use sketch::Sketch;

/// Something that people write.
struct Form {
    /// The schema's name.
    name: &'static str,
    title: &'static str,
    /// A commented example with all its keys.
    example: &'static str,
    /// More of what may stand there.
    further: &'static [&'static str],
    read: fn(&Node<'_>, &Config),
}

/// All of them.
const FORMS: [Form; 8] = [
    Form {
        name: "seamwright",
        title: "How a studio works: seamwright.yaml",
        example: DEFAULTS,
        further: &[
            "stages: [bare: {from: 248}, tile: {room_for_marks: 8mm}, program: deepen]\nwriters: [swatches, program: slip]\n\
             rates: {currency: EUR, papers: {letter: 0.35}, blanks: {table-mat-36x24: 12.5}, ink_ml: 0.4, press_hour: 18}",
        ],
        read: config::look,
    },
    Form {
        name: "sidecar",
        title: "An order, beside its artwork, or folder.yaml for all of a folder",
        example: include_str!("../../config/forms/sidecar.yaml"),
        further: &[
            "blank: {width: 24in, height: 12in, shape: rounded, radius: 1in, bleed: 1mm, substrate: polyester-mat}",
            "blank: {width: 24in, height: 12in, inset: 1mm, substrate: polyester-mat}",
            "blank: table-mat-36x24\nplace: {right: 2in, top: 1in}\n\
             row: {list: visitors.csv, line: 2, group: moon-5d11f5}",
        ],
        read: intake::look,
    },
    Form {
        name: "blank",
        title: "A blank: blanks/NAME.yaml",
        example: include_str!("../../config/forms/blank.yaml"),
        further: &["width: 24in\nheight: 12in\ninset: 1mm\nsubstrate: polyester-mat"],
        read: |node, config| config.catalogue.look("blanks", node),
    },
    Form {
        name: "substrate",
        title: "A substrate: substrates/NAME.yaml",
        example: include_str!("../../config/forms/substrate.yaml"),
        further: &[],
        read: |node, config| config.catalogue.look("substrates", node),
    },
    Form {
        name: "paper",
        title: "A paper: papers/NAME.yaml",
        example: include_str!("../../config/forms/paper.yaml"),
        further: &[],
        read: |node, config| config.catalogue.look("papers", node),
    },
    Form {
        name: "printer",
        title: "A printer: printers/NAME.yaml",
        example: include_str!("../../config/forms/printer.yaml"),
        further: &["papers: [letter]\nmargins: 5mm\nsend_to: {command: [lp, \"{sheets}\"]}"],
        read: |node, config| config.catalogue.look("printers", node),
    },
    Form {
        name: "press",
        title: "A heat press: presses/NAME.yaml",
        example: include_str!("../../config/forms/press.yaml"),
        further: &[],
        read: |node, config| config.catalogue.look("presses", node),
    },
    Form {
        name: "program",
        title: "A program of the studio's own: programs/NAME.yaml",
        example: include_str!("../../config/forms/program.yaml"),
        further: &[],
        read: |node, config| config.catalogue.look("programs", node),
    },
];

/// Writes the schemas into a folder, with what the studio has in its catalogue; gives the files.
///
/// # Errors
/// Why they cannot be written.
pub(crate) fn write(folder: &Path, config: &Config) -> io::Result<Vec<PathBuf>> {
    std::fs::create_dir_all(folder)?;
    let write = |(name, schema): (&str, Value)| {
        let file = folder.join(format!("{name}.schema.json"));
        write_whole(&file, text(&schema).as_bytes())?;
        Ok(file)
    };
    all(config).into_iter().map(write).collect()
}

fn text(schema: &Value) -> String {
    format!("{schema:#}\n")
}

/// Every schema by its name.
fn all(config: &Config) -> Vec<(&'static str, Value)> {
    FORMS.iter().map(|form| (form.name, form.schema(config))).collect()
}

impl Form {
    fn schema(&self, config: &Config) -> Value {
        let drawn = draw::whole(&self.sketch(config), &self.words());
        let mut schema = json!({"$schema": "http://json-schema.org/draft-07/schema#", "title": self.title});
        if let (Some(schema), Value::Object(drawn)) = (schema.as_object_mut(), drawn) {
            schema.extend(drawn);
        }
        schema
    }

    fn sketch(&self, config: &Config) -> Sketch {
        let examples: Vec<Read> = std::iter::once(&self.example)
            .chain(self.further)
            .filter_map(|text| Some(document(text)?.root().value().clone()))
            .collect();
        Sketch::of(&examples, &|node| (self.read)(node, config))
    }

    /// The remarks on the keys of the example: what stands behind them in the same line, or in lines of their own before.
    fn words(&self) -> draw::Words {
        let Some(document) = document(self.example) else { return draw::Words::new() };
        let mut words = draw::Words::new();
        let mut ways = Vec::new();
        self::ways(document.root().value(), String::new(), &mut ways);
        let lines: Vec<&str> = self.example.lines().collect();
        for way in ways {
            let Some(excerpt) = document.excerpt(&way, Part::Key) else { continue };
            let at = excerpt.line - 1;
            // Of several keys in a line the first is meant.
            let before = excerpt.text.get(..excerpt.marked.start).unwrap_or_default();
            let first_there = before.trim_matches([' ', '-']).is_empty();
            if let Some(said) = remark(&lines, at).filter(|_| first_there) {
                words.entry(plain(&way)).or_insert(said);
            }
        }
        words
    }
}

fn document(text: &str) -> Option<Document> {
    Document::parse("an example", text.as_bytes(), LONGEST_SETTINGS).ok()
}

/// A way without the numbers of items: a form says the same of each.
fn plain(way: &str) -> String {
    let words = way.split('.').filter(|step| !step.bytes().all(|byte| byte.is_ascii_digit()));
    words.collect::<Vec<_>>().join(".")
}

fn ways(value: &Read, way: String, found: &mut Vec<String>) {
    let below = |word: &str| if way.is_empty() { word.to_owned() } else { format!("{way}.{word}") };
    match value {
        Read::Map(entries) => {
            for (key, value) in entries {
                found.push(below(key));
                ways(value, below(key), found);
            }
        }
        Read::List(items) => {
            for (i, item) in items.iter().enumerate() {
                ways(item, below(&i.to_string()), found);
            }
        }
        Read::Nothing | Read::Bool(_) | Read::Number(_) | Read::Text(_) => {}
    }
}

/// What is remarked on a line: behind it, or else before it and its neighbours.
fn remark(lines: &[&str], at: usize) -> Option<String> {
    let line = lines.get(at)?;
    if let Some((_, said)) = line.rsplit_once("  # ").or_else(|| line.rsplit_once(" # ")) {
        return Some(said.trim().to_owned());
    }
    let before: Vec<&str> = lines
        .iter()
        .take(at)
        .rev()
        .take_while(|line| !line.trim().is_empty())
        .skip_while(|line| !line.trim_start().starts_with("# "))
        .map_while(|line| line.trim_start().strip_prefix("# "))
        .map(str::trim)
        .collect();
    let said = before.into_iter().rev().collect::<Vec<_>>().join(" ");
    (!said.is_empty()).then_some(said)
}
