//! From what a printer says of itself to the texts of its entry and of papers that the catalogue does not have, and to what
//! the maker is told.

use std::collections::BTreeMap;

use seamwright_contract::catalogue::PaperSize;
use seamwright_contract::sending::Quality;
use seamwright_contract::{Length, Sides, Size};

use super::super::ipp::PDF;
use super::super::media;
use super::told::{Sheet, Told};
use crate::config::Catalogue;
use crate::journal::visible;
use crate::report::words::counted;

/// What is taken for margins where a printer says none: a quarter of an inch is safe with any printer (published: a
/// question-and-answer page; also common practice).
const SAFE: Sides<Length> = Sides::all(Length::from_um(6_350));

/// Sheets with a side shorter than this are cards, which nobody lays panels of (common practice, no source).
const CARD: Length = Length::from_mm(100);

/// How envelopes are called (PWG 5101.1), after the first word of their names.
const ENVELOPES: [&str; 14] = [
    "number-", "monarch", "personal", "c3", "c4", "c5", "c6", "c7", "dl", "chou", "kaku", "you", "postfix",
    "envelope",
];

/// The longest that a printer's own words are repeated.
const LONGEST: usize = 200;

/// Texts to be written, and lines to be said.
#[derive(Debug)]
pub(super) struct Entry {
    pub(super) printer: String,
    /// By their names, the papers that the catalogue does not have.
    pub(super) papers: BTreeMap<String, String>,
    pub(super) said: Vec<String>,
}

/// A paper that the entry has.
struct Taken<'t> {
    name: String,
    word: String,
    sheet: &'t Sheet,
}

/// The entry of a printer of this name and address. `is_free` tells whether a paper may get a name.
///
/// # Errors
/// In words, why there can be none.
pub(super) fn entry(
    (name, uri): (&str, &str),
    told: &Told,
    catalogue: &Catalogue,
    is_free: impl Fn(&str) -> bool,
) -> Result<Entry, String> {
    let mut papers = BTreeMap::new();
    let (mut taken, mut left_out) = (Vec::new(), Vec::new());
    for sheet in &told.sheets {
        let Some(word) = media::word(&told.media, sheet.size.width.um(), sheet.size.height.um()) else {
            continue;
        };
        if !is_for_panels(&word, sheet) {
            left_out.push(one_line(&word));
            continue;
        }
        let known = known(catalogue, sheet.size);
        let Some(name) = known.or_else(|| new_name(&word, sheet.size, &is_free)) else { continue };
        if taken.iter().any(|other: &Taken<'_>| other.name == name) {
            continue;
        }
        if catalogue.papers.get(&name).is_none() {
            papers.insert(name.clone(), paper(&word, sheet.size));
        }
        taken.push(Taken { name, word, sheet });
    }
    if taken.is_empty() {
        return Err("It lists no paper that panels could be printed on.".to_owned());
    }
    // What is loaded is the usual paper; all others stay in the order of the printer.
    taken.sort_by_key(|paper| !told.ready.contains(&paper.word));
    let mut said = findings(told, &taken, &left_out);
    said.extend(troubles(told));
    let printer = text((name, uri), told, &taken, &left_out);
    Ok(Entry { printer, papers, said })
}

/// Whether a sheet is one to lay panels of, with room between its margins.
fn is_for_panels(word: &str, sheet: &Sheet) -> bool {
    let own = word.split_once('_').map_or(word, |(_, own)| own);
    let envelope = ENVELOPES.iter().any(|start| own.starts_with(start)) || own.contains("envelope");
    let Sides { left, top, right, bottom } = sheet.margins().unwrap_or(SAFE);
    let room = left + right < sheet.size.width && top + bottom < sheet.size.height;
    !envelope && sheet.size.width >= CARD && room
}

/// The catalogue's name for a size: the nearest, where several are as good as equal.
fn known(catalogue: &Catalogue, size: Size) -> Option<String> {
    let off =
        |paper: &PaperSize| (paper.size.width - size.width).abs() + (paper.size.height - size.height).abs();
    let papers = catalogue.papers.names().filter_map(|name| catalogue.papers.get(name));
    papers
        .filter(|paper| media::alike(paper.size, size))
        .min_by_key(|paper| off(paper))
        .map(|paper| paper.name.clone())
}

/// A name after the printer's own word: `govt-letter` of `na_govt-letter_8x10in`, or else the size in whole millimetres.
fn new_name(word: &str, size: Size, is_free: &impl Fn(&str) -> bool) -> Option<String> {
    let parts: Vec<&str> = word.split('_').collect();
    let called = match parts[..] {
        ["iso" | "na", own, _] => Some(own.to_owned()),
        [class, own, _] if class != "custom" => Some(format!("{class}-{own}")),
        _ => None,
    };
    let plain = |name: &String| {
        name.chars().all(|letter| letter.is_ascii_alphanumeric() || "-.".contains(letter))
            && !name.starts_with('.')
    };
    let by_size = format!("{:.0}x{:.0}mm", size.width.mm(), size.height.mm());
    called.filter(plain).into_iter().chain([by_size]).find(|name| is_free(name))
}

fn paper(word: &str, size: Size) -> String {
    let Size { width, height } = size;
    format!(
        "# As a printer lists it: {}.\nwidth: {width}\nheight: {height}\norigin: \"as a printer lists it\"\n",
        one_line(word)
    )
}

fn text((name, uri): (&str, &str), told: &Told, taken: &[Taken<'_>], left_out: &[String]) -> String {
    let usual = taken.first().and_then(|paper| paper.sheet.margins()).unwrap_or(SAFE);
    let names: Vec<&str> = taken.iter().map(|paper| paper.name.as_str()).collect();
    let mut lines = vec![
        format!("# {}, as it says of itself. Written by: seamwright printer learn", model(told)),
        "# The first paper is taken where an order names none.".to_owned(),
        format!("papers: [{}]", names.join(", ")),
    ];
    if !left_out.is_empty() {
        lines.push(format!("# Also listed, but no paper for panels: {}.", left_out.join(", ")));
    }
    lines.push(if taken.first().is_some_and(|paper| paper.sheet.margins().is_some()) {
        "# What it cannot print on, on the upright sheet; of several trays and kinds of paper the largest."
            .to_owned()
    } else {
        "# It says no margins; a quarter of an inch is safe with any printer.".to_owned()
    });
    lines.push(format!("margins: {}", sides(usual)));
    let own: Vec<String> = taken
        .iter()
        .filter_map(|paper| {
            Some((paper, paper.sheet.margins().unwrap_or(SAFE))).filter(|(_, margins)| *margins != usual)
        })
        .map(|(paper, margins)| format!("  - {{paper: {}, margins: {}}}", paper.name, sides(margins)))
        .collect();
    if !own.is_empty() {
        lines.push("on_paper:".to_owned());
        lines.extend(own);
    }
    if taken.iter().any(|paper| paper.sheet.borderless) {
        lines.push("# It also prints without borders. That enlarges and crops, so panels would not fit: it is not used.".to_owned());
    }
    lines.push("# face-up: the sheet printed last lies on top, ink up; face-down: the one printed first, once the stack is turned over.".to_owned());
    lines.push(match told.delivers {
        Some(delivers) => format!("delivers: {}", delivers.word()),
        None => "# delivers: face-up".to_owned(),
    });
    lines.push(
        "# An ICC profile for this printer, ink and paper: the name of a file in this folder.".to_owned(),
    );
    lines.push("profile: none".to_owned());
    lines.push(format!(
        "# Measure it before the first job: seamwright calibrate {name} --paper {}",
        names.first().unwrap_or(&"")
    ));
    lines.push("origin: \"as the printer says of itself\"".to_owned());
    lines.extend(send_to(uri, told));
    lines.join("\n") + "\n"
}

/// Where its sheets go, or why they cannot go there.
fn send_to(uri: &str, told: &Told) -> Vec<String> {
    if !told.formats.is_empty() && !told.formats.iter().any(|format| format == PDF) {
        return vec![format!("# It takes no PDF, so nothing can be sent to {uri}.")];
    }
    let mut lines = vec![
        "send_to:".to_owned(),
        format!("  uri: \"{uri}\""),
        "  # hold: sheets wait for `seamwright print`; yes: they are printed as soon as they are made; no: not at all.".to_owned(),
        "  print: hold".to_owned(),
    ];
    let words = [(Quality::Draft, "draft"), (Quality::Normal, "normal"), (Quality::High, "high")];
    let qualities: Vec<&str> = words
        .iter()
        .filter(|(quality, _)| told.qualities.contains(&(*quality as i32)))
        .map(|(_, word)| *word)
        .collect();
    for (key, words) in [
        ("quality", qualities),
        ("kind", told.kinds.iter().map(String::as_str).collect()),
        ("tray", told.trays.iter().map(String::as_str).collect()),
    ] {
        if !words.is_empty() {
            lines.push(format!("  # {key}: one of {}", one_line(&words.join(", "))));
        }
    }
    if !told.keeps_size() {
        lines.push("  # It does not promise actual size, so nothing is handed to it. Measure the ruler on a sheet, and if it is right:".to_owned());
        lines.push("  # true_size: measured".to_owned());
    }
    lines
}

/// What was found, for the maker.
fn findings(told: &Told, taken: &[Taken<'_>], left_out: &[String]) -> Vec<String> {
    let names = |which: &dyn Fn(&&Taken<'_>) -> bool| {
        taken.iter().filter(which).map(|paper| paper.name.as_str()).collect::<Vec<_>>().join(", ")
    };
    let mut said = vec![format!("It is {} and takes {}.", model(told), names(&|_| true))];
    let ready = names(&|paper| told.ready.contains(&paper.word));
    if !ready.is_empty() {
        said.push(format!("Loaded now: {ready}; the first of it is taken where an order names no paper."));
    }
    if !left_out.is_empty() {
        said.push(format!("Left out: {}, which are no paper for panels.", counted(left_out.len(), "size")));
    }
    let silent = names(&|paper| paper.sheet.margins().is_none());
    if !silent.is_empty() {
        said.push(format!(
            "It says no margins for {silent}: a quarter of an inch was written, which is safe."
        ));
    }
    let several = names(&|paper| paper.sheet.bordered.len() > 1);
    if !several.is_empty() {
        said.push(format!("Margins differ by tray or kind of paper on {several}: the largest were written."));
    }
    let borderless = names(&|paper| paper.sheet.borderless);
    if !borderless.is_empty() {
        said.push(format!("It also prints {borderless} without borders, which is not used: that enlarges, and panels would not fit."));
    }
    said
}

/// What stands against printing on it, or was not told.
fn troubles(told: &Told) -> Vec<String> {
    let mut said = Vec::new();
    if !told.formats.is_empty() && !told.formats.iter().any(|format| format == PDF) {
        said.push(format!(
            "It takes no PDF, only {}: sheets cannot be sent to it, but to a queue of this machine or by a command.",
            one_line(&told.formats.join(", "))
        ));
    } else if !told.keeps_size() {
        said.push("It does not promise actual size (no print-scaling none), so sheets would not be handed to it: measure the ruler on a sheet printed by hand, and if it is right write `true_size: measured` under send_to.".to_owned());
    }
    if !told.sides.is_empty() && !told.sides.iter().any(|sides| sides == "one-sided") {
        said.push("It does not list printing on one side, and may refuse jobs for that.".to_owned());
    }
    if !told.colours.is_empty() && !told.colours.iter().any(|colour| colour == "color") {
        said.push("It lists no colour printing.".to_owned());
    }
    if told.delivers.is_none() {
        said.push("It does not say how sheets come to lie on each other: look, and write `delivers: face-up` or `face-down`, so that stacks come out with panel 1 on top.".to_owned());
    }
    if !told.qualities.contains(&(Quality::High as i32)) {
        said.push(
            "It lists no high quality; it prints in its usual one unless `quality` says otherwise."
                .to_owned(),
        );
    }
    said
}

fn model(told: &Told) -> String {
    if told.model.trim().is_empty() { "A printer without a name".to_owned() } else { one_line(&told.model) }
}

/// A printer's words, shortened and without what could play tricks.
fn one_line(text: &str) -> String {
    let plain = visible(text);
    if plain.chars().count() <= LONGEST {
        return plain;
    }
    plain.chars().take(LONGEST).chain(['…']).collect()
}

fn sides(margins: Sides<Length>) -> String {
    let Sides { left, top, right, bottom } = margins;
    format!("{{top: {top}, right: {right}, bottom: {bottom}, left: {left}}}")
}
