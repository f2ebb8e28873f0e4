//! What is wrong with bytes that are no plain text, and with texts that are no YAML, in words that help someone who knows
//! neither.

use std::ops::Range;

use super::scan::Spots;
use crate::config::diagnosis::{Diagnosis, Excerpt};

/// The text of the bytes, if they are plain UTF-8 of a sane length.
pub(super) fn plain<'a>(name: &str, bytes: &'a [u8], longest: u64) -> Result<&'a str, Diagnosis> {
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > longest {
        return Err(Diagnosis::of_file(
            name,
            format!("the file is longer than {} KiB", longest / 1024),
            "This is a text of a few lines: look whether the right file was saved under this name.",
        ));
    }
    // Texts of two bytes a letter begin with one of these marks (The Unicode Standard, 23.8).
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let cure = "Save it as UTF-8, which every text editor offers.";
        return Err(Diagnosis::of_file(name, "the text is saved as UTF-16, not as UTF-8", cure));
    }
    let text = std::str::from_utf8(bytes).map_err(|why| {
        // What comes before can be shown, and a sign in the place of what cannot.
        let text = String::from_utf8_lossy(bytes);
        let at = why.valid_up_to();
        Diagnosis::of_file(name, "the text is not UTF-8", "Save it as UTF-8, which every text editor offers.")
            .at(Excerpt::of(&text, at..at + char::REPLACEMENT_CHARACTER.len_utf8()))
    })?;
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if let Some((at, c)) = text.char_indices().find(|(_, c)| odd(*c)) {
        let what = format!("a control character (U+{:04X}) stands in the text", u32::from(c));
        return Err(Diagnosis::of_file(name, what, "Take it out, or save the file anew as plain text.")
            .at(Excerpt::of(text, at..at + c.len_utf8())));
    }
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// What the parser says.
pub(super) fn told(name: &str, text: &str, spots: &Spots, why: &serde_yaml::Error) -> Diagnosis {
    let said = why.to_string();
    let line = |number: usize| line_of(text, number);
    let at = why.location().map_or(0..0, |place| line(place.line()));
    // The parser says where it noticed, and after that where what it was reading began.
    let begun = places(&said).last().map_or(at.clone(), |(number, _)| line(*number));
    let spot = why.location().and_then(|place| {
        let start = line(place.line()).start;
        let rest = text.get(start..)?;
        let (before, c) = rest.char_indices().nth(place.column().saturating_sub(1))?;
        Some(start + before..start + before + c.len_utf8())
    });
    let says = |words: &[&str]| words.iter().any(|word| said.contains(word));
    let (at, what, cure) = if let Some(tab) = tab(text).filter(|_| says(&["token", "tab", "expected ':'"])) {
        (tab, "a tab stands where YAML counts spaces", "Indent with spaces instead of the tab.")
    } else if let Some(open) = spots.unclosed {
        let cure = if says(&["quoted scalar"]) {
            ("a quote is not closed", "End the text with the quote it starts with.")
        } else {
            (
                "a bracket is not closed, or a comma is missing",
                "Close each `[` with `]` and each `{` with `}`.",
            )
        };
        (open..open + 1, cure.0, cure.1)
    } else if says(&["mapping values are not allowed"]) {
        (
            spot.unwrap_or(at),
            "there is one `: ` too many in the line",
            "Put quotes round a text that holds a colon.",
        )
    } else if says(&["flow sequence", "flow mapping"]) {
        (
            begun,
            "a bracket is not closed, or a comma is missing",
            "Close each `[` with `]` and each `{` with `}`.",
        )
    } else if says(&["quoted scalar"]) {
        (begun, "a quote is not closed", "End the text with the quote it starts with.")
    } else if says(&["simple key", "expected ':'"]) {
        (begun, "a line is no `key: value`", "Write a colon and a space after the key.")
    } else if says(&["block mapping", "block collection"]) {
        let what = "the line is indented differently from its neighbours";
        (at, what, "Let keys of one group start in the same column.")
    } else if says(&["a key must be a word"]) {
        (at, "a key is no plain word", "Write `key: value` with a single word before the colon.")
    } else {
        let cure = "Write `key: value` lines, and quotes round texts with unusual signs.";
        let what = format!("the text is not readable as YAML ({said})");
        return Diagnosis::of_file(name, what, cure).at(Excerpt::of(text, at));
    };
    Diagnosis::of_file(name, what, cure).at(Excerpt::of(text, at))
}

/// The tab with which the first line begins that begins with one, after any spaces.
fn tab(text: &str) -> Option<Range<usize>> {
    let mut start = 0;
    for line in text.split_inclusive(['\n', '\r']) {
        let indent = line.len() - line.trim_start_matches(' ').len();
        if line.get(indent..).is_some_and(|rest| rest.starts_with('\t')) {
            return Some(start + indent..start + indent + 1);
        }
        start += line.len();
    }
    None
}

/// What a line says, counted from 1.
fn line_of(text: &str, number: usize) -> Range<usize> {
    let ends = text.match_indices('\n').map(|(at, _)| at);
    let starts = std::iter::once(0).chain(ends.map(|at| at + 1));
    // Where a text ends too early, the last line that says anything is the one to look at.
    let last = text.trim_end().len();
    let start = starts.take(number.max(1)).filter(|start| *start < last).last().unwrap_or(0);
    let line = text.get(start..).unwrap_or_default().split(['\n', '\r']).next().unwrap_or_default();
    let blank = line.len() - line.trim_start().len();
    start + blank..start + line.len()
}

/// The lines and columns that the parser names.
fn places(said: &str) -> Vec<(usize, usize)> {
    let number = |words: &str| words.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok();
    let place = |words: &str| {
        let (line, column) = words.split_once(" column ")?;
        Some((number(line)?, number(column)?))
    };
    said.split(" line ").skip(1).filter_map(place).collect()
}
