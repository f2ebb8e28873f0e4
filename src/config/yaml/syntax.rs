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

/// Where, what and how to mend it.
type Told = (Range<usize>, &'static str, &'static str);

/// What is wrong with a line that does not stand under its neighbours, with one that has no colon, and with what is opened
/// and not closed.
const UNEVEN: (&str, &str) = (
    "the line is indented differently from its neighbours",
    "Let keys of one group start in the same column.",
);
const NO_KEY: (&str, &str) =
    ("the line has no key with a colon and a space after it", "Write it as `key: value`.");
const BRACKET: (&str, &str) =
    ("a bracket is not closed, or a comma is missing", "Close each `[` with `]` and each `{` with `}`.");
const QUOTE: (&str, &str) = ("a quote is not closed", "End the text with the quote it starts with.");

/// What the parser says.
pub(super) fn told(name: &str, text: &str, spots: &Spots, why: &serde_yaml::Error) -> Diagnosis {
    let said = why.to_string();
    let noticed = why.location().map_or((1, 1), |place| (place.line(), place.column()));
    // The parser says where it noticed, and after that where what it was reading began.
    let begun = places(&said).last().map_or(noticed.0, |(line, _)| *line);
    let (at, begun) = (line_of(text, noticed.0), line_of(text, begun));
    let says = |words: &[&str]| words.iter().any(|word| said.contains(word));
    let as_told = |at: Range<usize>, (what, cure): (&'static str, &'static str)| (at, what, cure);
    let (at, what, cure): Told =
        if let Some(tab) = tab(text).filter(|_| says(&["token", "tab", "expected ':'"])) {
            (tab, "a tab stands where YAML counts spaces", "Indent with spaces instead of the tab.")
        } else if let Some(open) = spots.unclosed {
            as_told(open..open + 1, if says(&["quoted scalar"]) { QUOTE } else { BRACKET })
        } else if says(&["mapping values are not allowed"]) {
            too_many_colons(text, sign(text, noticed).unwrap_or(at))
        } else if says(&["flow sequence", "flow mapping"]) {
            as_told(begun, BRACKET)
        } else if says(&["quoted scalar"]) {
            as_told(begun, QUOTE)
        } else if says(&["simple key", "expected ':'"]) {
            as_told(begun, NO_KEY)
        } else if says(&["block mapping", "block collection"]) {
            as_told(at, UNEVEN)
        } else if says(&["a key must be a word"]) {
            (at, "a key is no plain word", "Write `key: value` with a single word before the colon.")
        } else {
            let cure = "Write `key: value` lines, and quotes round texts with unusual signs.";
            let what = format!("the text is not readable as YAML ({said})");
            return Diagnosis::of_file(name, what, cure).at(Excerpt::of(text, at));
        };
    Diagnosis::of_file(name, what, cure).at(Excerpt::of(text, at))
}

/// What is wrong where the parser finds a colon that it cannot use: it, or what stands before its line.
fn too_many_colons(text: &str, colon: Range<usize>) -> Told {
    let before = text.get(..colon.start).unwrap_or_default();
    let (above, line) = before.rsplit_once(['\n', '\r']).unwrap_or(("", before));
    let last = above.trim_end();
    if line.contains(':') || last.is_empty() {
        return (
            colon,
            "there is one `: ` too many in the line",
            "Put quotes round a text that holds a colon.",
        );
    }
    // The key of this line is read as the rest of a text above it.
    let start = last.rfind(['\n', '\r']).map_or(0, |at| at + 1);
    let written = last.get(start..).unwrap_or_default();
    let indent = |line: &str| line.len() - line.trim_start().len();
    if indent(line) > indent(written) {
        let at = before.len() - line.len() + indent(line)..colon.end;
        return (at, UNEVEN.0, UNEVEN.1);
    }
    (start + indent(written)..last.len(), NO_KEY.0, NO_KEY.1)
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

/// The sign at a line and a column, both counted from 1.
fn sign(text: &str, (line, column): (usize, usize)) -> Option<Range<usize>> {
    let start = line_of(text, line).start;
    let from = text.get(..start)?.rfind(['\n', '\r']).map_or(0, |at| at + 1);
    let (before, c) = text.get(from..)?.char_indices().nth(column.saturating_sub(1))?;
    Some(from + before..from + before + c.len_utf8())
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
