//! What a studio has measured of a printer, paper by paper: how lengths are drawn so that they come out true, and what cannot
//! be printed on. It is kept beside the printer's entry in a file of the program's own.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use seamwright_contract::scale::Scale;
use seamwright_contract::settings::{Fields, Node, Value};
use seamwright_contract::{Length, Sides};

use super::printer::Margins;
use crate::config::yaml::{self, Document, LONGEST_SETTINGS};

/// What any printer stretches or shrinks by at most; beyond it something was measured or printed wrongly.
pub(crate) const PLAUSIBLE: std::ops::RangeInclusive<f64> = 0.98..=1.02;

type Scales = BTreeMap<String, Scale>;

/// What was measured on one paper.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Measured {
    /// How lengths are drawn.
    pub(crate) scale: Scale,
    /// What cannot be printed on, where that was looked at.
    pub(crate) margins: Option<Sides<Length>>,
}

/// The same by papers.
pub(crate) type Measurements = BTreeMap<String, Measured>;

/// The file of a printer, beside its entry.
pub(crate) fn file(base: &Path, printer: &str) -> PathBuf {
    base.join("printers").join(format!("{printer}.scale"))
}

/// What the entry says, and over it what was measured.
pub(super) fn measurements(printer: &str, fields: &mut Fields<'_>, base: Option<&Path>) -> Measurements {
    let mut all = fields.get("scale").map(|node| read(&node, false)).unwrap_or_default();
    if let Some(file) = base.map(|base| file(base, printer)).filter(|file| file.is_file()) {
        match measured(&file) {
            Ok(measured) => all.extend(measured),
            Err(why) => fields.complain(
                format!("printers/{printer}.scale is not in order: {why}"),
                "Measure the printer again with `seamwright calibrate`, or remove the file.",
            ),
        }
    }
    all
}

/// What was measured, as its file has it.
///
/// # Errors
/// In words, what is wrong with it.
pub(crate) fn measured(file: &Path) -> Result<Measurements, String> {
    let told = |mistakes: Vec<super::Diagnosis>| {
        mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    };
    let document = Document::open(file, &crate::config::name(file), LONGEST_SETTINGS).map_err(told)?;
    let all = read(&document.root(), true);
    let mistakes = document.diagnoses();
    if mistakes.is_empty() { Ok(all) } else { Err(told(mistakes)) }
}

/// The text of such a file.
pub(crate) fn text(all: &Measurements) -> String {
    let note = "# Measured on this printer, by paper. Written by: seamwright calibrate\n";
    let one = |measured: &Measured| {
        let mut keys = factors(&measured.scale);
        keys.extend(measured.margins.map(|margins| ("margins".to_owned(), margins_value(margins))));
        Value::Map(keys)
    };
    let all = Value::Map(all.iter().map(|(paper, measured)| (paper.clone(), one(measured))).collect());
    format!("{note}{}", yaml::write(&all))
}

/// The factors as entries have them.
pub(crate) fn value(scales: &Scales) -> Value {
    Value::Map(scales.iter().map(|(paper, scale)| (paper.clone(), Value::Map(factors(scale)))).collect())
}

/// Margins as entries have them.
pub(crate) fn margins_value(sides: Sides<Length>) -> Value {
    let side = |key: &str, length: Length| (key.to_owned(), Value::Text(length.to_string()));
    Value::Map(vec![
        side("top", sides.top),
        side("right", sides.right),
        side("bottom", sides.bottom),
        side("left", sides.left),
    ])
}

fn factors(scale: &Scale) -> Vec<(String, Value)> {
    vec![("along".to_owned(), Value::Number(scale.along)), ("across".to_owned(), Value::Number(scale.across))]
}

/// Reads them; an entry has its margins elsewhere.
fn read(node: &Node<'_>, with_margins: bool) -> Measurements {
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
        let margins = if with_margins { fields.optional("margins") } else { None };
        fields.finish();
        let margins = margins.map(|Margins(margins)| margins);
        Some((paper.to_owned(), Measured { scale: Scale { across, along }, margins }))
    };
    node.named().into_iter().filter_map(one).collect()
}
