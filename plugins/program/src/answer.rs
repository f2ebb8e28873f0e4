//! What a program answers, believed only as far as it can be seen to be so.

use seamwright_contract::Length;
use seamwright_contract::geometry::{Face, Rect};
use seamwright_contract::picture::{Channels, Pixels};
use serde::Deserialize;

use crate::PROTOCOL;
use crate::attempt::{Files, shown};
use crate::manifest::{Gift, Program};
use crate::raster::Raster;
use crate::scratch::Scratch;
use crate::tiff;

/// The most of each kind that is taken.
const MOST: usize = 64;

/// The most sheets more that may be asked for, as in an order.
const MOST_SHEETS: u32 = 99;

/// The size and kind that a picture must come back in.
pub(crate) type Wanted = (Pixels, Channels);

/// An answer, as it is written.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Form {
    protocol: u32,
    #[serde(default)]
    picture: Option<String>,
    #[serde(default)]
    keep_clear: Option<Vec<[i64; 4]>>,
    #[serde(default)]
    extra_sheets: Option<u32>,
    #[serde(default)]
    note: Option<String>,
    #[serde(default)]
    files: Option<Vec<String>>,
    #[serde(default)]
    remarks: Vec<String>,
    #[serde(default)]
    warnings: Vec<String>,
    #[serde(default)]
    refuse: Option<String>,
    #[serde(default)]
    cure: Option<String>,
}

/// What came of a program, looked over.
#[derive(Debug, Default)]
pub(crate) struct Done {
    pub(crate) picture: Option<Raster>,
    pub(crate) keep_clear: Vec<Rect<Face>>,
    pub(crate) extra_sheets: Option<u32>,
    pub(crate) note: Option<String>,
    pub(crate) files: Files,
    pub(crate) remarks: Vec<String>,
    pub(crate) warnings: Vec<String>,
}

/// The answer of a program that ended well.
pub(crate) fn read(
    program: &Program,
    answer: &[u8],
    scratch: &Scratch,
    picture: Option<&Wanted>,
) -> Result<Done, String> {
    let form = form(answer)?;
    if form.refuse.is_some() {
        return Err("It refuses the artwork, but ended with code 0; refusals end with code 1".to_owned());
    }
    only_what_is_given(program, &form)?;
    if form.files.iter().flatten().count() > MOST || form.keep_clear.iter().flatten().count() > MOST {
        return Err(format!("It gives more than {MOST} of a kind"));
    }
    let picture = match (picture, &form.picture) {
        (Some(wanted), Some(name)) => Some(tiff::open(scratch.open(name)?, name, wanted)?),
        (Some(_), None) => return Err("It gives no picture, though its manifest says so".to_owned()),
        (None, _) => None,
    };
    let zone = |[x, y, width, height]: [i64; 4]| {
        let sane = |um: i64| (0..=100_000_000).contains(&um);
        let um = Length::from_um;
        ([x, y, width, height].into_iter().all(sane) && width > 0 && height > 0)
            .then(|| Rect::new(um(x), um(y), um(width), um(height)))
            .ok_or_else(|| {
                format!("`keep_clear` has [{x}, {y}, {width}, {height}], which is no part of a design")
            })
    };
    let extra = form.extra_sheets.filter(|sheets| *sheets <= MOST_SHEETS);
    if extra != form.extra_sheets {
        return Err(format!("`extra_sheets` is more than {MOST_SHEETS}"));
    }
    let file = |name: String| scratch.open(&name).map(|file| (name, file));
    let texts = |texts: Vec<String>| texts.iter().take(MOST).map(|text| shown(text)).collect();
    Ok(Done {
        picture,
        keep_clear: form.keep_clear.unwrap_or_default().into_iter().map(zone).collect::<Result<_, _>>()?,
        extra_sheets: extra,
        note: form.note.map(|note| shown(&note)),
        files: form.files.unwrap_or_default().into_iter().map(file).collect::<Result<_, _>>()?,
        remarks: texts(form.remarks),
        warnings: texts(form.warnings),
    })
}

/// Why a program refuses the artwork, and the cure, in its words.
pub(crate) fn refusal(answer: &[u8]) -> Option<(String, String)> {
    let form = form(answer).ok()?;
    let what = form.refuse.filter(|what| !what.trim().is_empty())?;
    let cure = form.cure.filter(|cure| !cure.trim().is_empty());
    let cure = cure.unwrap_or_else(|| "Save another picture, or order it otherwise.".to_owned());
    Some((shown(&what), shown(&cure)))
}

fn form(answer: &[u8]) -> Result<Form, String> {
    if answer.iter().all(u8::is_ascii_whitespace) {
        return Err("It ended without an answer on standard output".to_owned());
    }
    let form: Form = serde_json::from_slice(answer)
        .map_err(|why| format!("Its answer is not one JSON object as it must be: {why}"))?;
    if form.protocol == PROTOCOL {
        Ok(form)
    } else {
        Err(format!("Its answer is of protocol {}, and this is {PROTOCOL}", form.protocol))
    }
}

/// Nothing may be in an answer that the manifest does not state.
fn only_what_is_given(program: &Program, form: &Form) -> Result<(), String> {
    let there = [
        (Gift::Picture, form.picture.is_some()),
        (Gift::KeepClear, form.keep_clear.is_some()),
        (Gift::ExtraSheets, form.extra_sheets.is_some()),
        (Gift::Note, form.note.is_some()),
        (Gift::Files, form.files.is_some()),
    ];
    match there.into_iter().find(|(gift, there)| *there && !program.gives(*gift)) {
        Some((gift, _)) => {
            Err(format!("It answers `{0}`, but `{0}` is not among what its manifest gives", gift.word()))
        }
        None => Ok(()),
    }
}
