//! How a printer's lengths are drawn so that they come out true: measured by the studio, paper by paper, and kept beside
//! the printer's entry in a file of the program's own.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use seamwright_contract::scale::Scale;
use seamwright_contract::settings::{Fields, Node, Value};

use crate::config::yaml::{self, Document, LONGEST_SETTINGS};

/// What any printer stretches or shrinks by at most; beyond it something was measured or printed wrongly.
pub(crate) const PLAUSIBLE: std::ops::RangeInclusive<f64> = 0.98..=1.02;

type Scales = BTreeMap<String, Scale>;

/// The file of a printer, beside its entry.
pub(crate) fn file(base: &Path, printer: &str) -> PathBuf {
    base.join("printers").join(format!("{printer}.scale"))
}

/// What the entry says, and over it what was measured.
pub(super) fn scales(printer: &str, fields: &mut Fields<'_>, base: &Path) -> Scales {
    let mut scales = fields.get("scale").map(|node| read(&node)).unwrap_or_default();
    let file = file(base, printer);
    if file.is_file() {
        match measured(&file) {
            Ok(measured) => scales.extend(measured),
            Err(why) => fields.node().complain(
                format!("printers/{printer}.scale is not in order: {why}"),
                "Measure the printer again with `seamwright calibrate`, or remove the file.",
            ),
        }
    }
    scales
}

/// What was measured, as its file has it.
///
/// # Errors
/// In words, what is wrong with it.
pub(crate) fn measured(file: &Path) -> Result<Scales, String> {
    let told = |mistakes: Vec<super::Diagnosis>| {
        mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    };
    let document = Document::open(file, &crate::config::name(file), LONGEST_SETTINGS).map_err(told)?;
    let scales = read(&document.root());
    let mistakes = document.diagnoses();
    if mistakes.is_empty() { Ok(scales) } else { Err(told(mistakes)) }
}

/// The text of such a file.
pub(crate) fn text(scales: &Scales) -> String {
    let note = "# Measured on this printer, by paper. Written by: seamwright calibrate\n";
    format!("{note}{}", yaml::write(&value(scales)))
}

/// The same as entries have it.
pub(crate) fn value(scales: &Scales) -> Value {
    let one = |scale: &Scale| {
        Value::Map(vec![
            ("along".to_owned(), Value::Number(scale.along)),
            ("across".to_owned(), Value::Number(scale.across)),
        ])
    };
    Value::Map(scales.iter().map(|(paper, scale)| (paper.clone(), one(scale))).collect())
}

fn read(node: &Node<'_>) -> Scales {
    let one = |(paper, node): (&str, Node<'_>)| {
        let mut fields = node.fields()?;
        let mut factor = |key| {
            let factor = fields.or(key, 1.0);
            if !PLAUSIBLE.contains(&factor) {
                node.complain(
                    format!("no printer is off by so much ({key} {factor})"),
                    "Write a factor from 0.98 to 1.02: what a length should be by what it measures.",
                );
            }
            factor
        };
        let (along, across) = (factor("along"), factor("across"));
        fields.finish();
        Some((paper.to_owned(), Scale { across, along }))
    };
    node.named().into_iter().filter_map(one).collect()
}
