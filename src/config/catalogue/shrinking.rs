//! What a studio has measured of a blank under the press: what became of a length marked on it. An entry may say it, and
//! `seamwright shrink` keeps it beside the entry in a file of the program's own.

use std::path::{Path, PathBuf};

use seamwright_contract::Size;
use seamwright_contract::catalogue::Blank;
use seamwright_contract::scale::Shrink;
use seamwright_contract::settings::{Fields, Node, Read, Value};

use super::entries::Measure;
use crate::config::yaml::{self, Document, LONGEST_SETTINGS};

/// What goods that are pressed become shorter by; beyond it something was measured wrongly (common practice, no source).
const PLAUSIBLE: std::ops::RangeInclusive<f64> = 0.97..=1.15;

/// The file of a blank, beside its entry.
pub(crate) fn file(base: &Path, blank: &str) -> PathBuf {
    base.join("blanks").join(format!("{blank}.shrink"))
}

/// A blank of the catalogue with what was measured of it, which counts before what its entry says.
pub(super) fn over(blank: Option<Blank>, fields: &Fields<'_>, base: Option<&Path>) -> Option<Blank> {
    let blank = blank?;
    let Some(file) = base.map(|base| file(base, &blank.name)).filter(|file| file.is_file()) else {
        return Some(blank);
    };
    match measured(&file) {
        Ok(shrink) => Some(Blank { shrink: Some(shrink), ..blank }),
        Err(why) => {
            fields.complain(
                format!("blanks/{}.shrink is not in order: {why}", blank.name),
                "Measure the blank again with `seamwright shrink`, or remove the file.",
            );
            None
        }
    }
}

fn measured(file: &Path) -> Result<Shrink, String> {
    let told = |mistakes: Vec<super::Diagnosis>| {
        mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    };
    let document = Document::open(file, &crate::config::name(file), LONGEST_SETTINGS).map_err(told)?;
    let read = Shrunk::read(&document.root());
    match (read, document.diagnoses()) {
        (Some(Shrunk(shrink)), mistakes) if mistakes.is_empty() => Ok(shrink),
        (_, mistakes) => Err(told(mistakes)),
    }
}

/// The text of such a file.
pub(crate) fn text(shrink: &Shrink) -> String {
    format!("# Measured on this blank. Written by: seamwright shrink\n{}", yaml::write(&value(shrink)))
}

/// What was measured as entries have it.
pub(crate) fn value(shrink: &Shrink) -> Value {
    let Shrink { marked, pressed } = shrink;
    let lengths = [("marked", *marked), ("width", pressed.width), ("height", pressed.height)];
    let said = lengths.map(|(key, length)| (key.to_owned(), Value::Text(length.to_string())));
    Value::Map(said.to_vec())
}

/// What can be believed of a measurement.
///
/// # Errors
/// In words, what is wrong with it.
pub(crate) fn plausible(shrink: Shrink) -> Result<Shrink, String> {
    let Size { width, height } = shrink.pressed;
    let sides = [("across", width), ("down", height)];
    let odd = sides.iter().zip(shrink.factors()).find(|(_, factor)| !PLAUSIBLE.contains(factor));
    odd.map_or(Ok(shrink), |((way, pressed), _)| {
        Err(format!("{} marked cannot become {pressed} {way} the blank", shrink.marked))
    })
}

/// What an entry or such a file says.
pub(super) struct Shrunk(pub(super) Shrink);

impl Read for Shrunk {
    fn read(node: &Node<'_>) -> Option<Self> {
        let mut fields = node.fields()?;
        let marked = fields.required("marked", "600mm");
        let (width, height) = (fields.required("width", "588mm"), fields.required("height", "594mm"));
        fields.finish();
        let (Measure(marked), Measure(width), Measure(height)) = (marked?, width?, height?);
        match plausible(Shrink { marked, pressed: Size::new(width, height) }) {
            Ok(shrink) => Some(Self(shrink)),
            Err(why) => {
                node.complain(why, "Write what was marked before pressing and what it measured afterwards.");
                None
            }
        }
    }
}
