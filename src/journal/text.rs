//! What is written for people: the reasons of a refusal, and names without tricks.

use seamwright_contract::{Blame, Fault};

use crate::history::Reason;

/// What stands before the lines of an excerpt, so that they stand under the words.
const MARGIN: &str = "       ";

/// `why.txt`: a block for each reason, in plain words.
pub(super) fn why(faults: &[Fault]) -> String {
    let mut text = String::from("This job could not be done.\n");
    for fault in faults {
        text.push('\n');
        text.push_str(&in_words(fault));
    }
    if faults.iter().all(|fault| fault.blame != Blame::Defect) {
        text.push_str("\nThen save artwork and sidecar into the inbox again; or mend what lies here, and run `seamwright retry` with this \
             folder's name.\n");
    }
    text
}

/// A fault in a few lines, the same wherever people read it.
pub(crate) fn in_words(fault: &Fault) -> String {
    block(fault, &lines_visible(&fault.shown))
}

/// The same with its excerpt drawn in another way.
pub(crate) fn block(fault: &Fault, shown: &str) -> String {
    let said = |word: &str, said: &str| {
        if said.is_empty() { String::new() } else { format!("{word:<7}{}\n", visible(said)) }
    };
    let shown: String =
        shown.lines().map(|line| format!("{}\n", format!("{MARGIN}{line}").trim_end())).collect();
    [said("Where:", &fault.place), said("What:", &fault.what), shown, said("Cure:", &fault.cure)].concat()
}

/// The reasons in a `why.txt`.
pub(crate) fn reasons(text: &str) -> Vec<Reason> {
    let mut reasons: Vec<Reason> = Vec::new();
    let mut place = String::new();
    let mut shown: Vec<&str> = Vec::new();
    for line in text.lines() {
        if let Some(said) = line.strip_prefix("Where: ") {
            said.clone_into(&mut place);
        } else if let Some(said) = line.strip_prefix("What:  ") {
            shown.clear();
            let (what, place) = (said.into(), std::mem::take(&mut place).into());
            reasons.push(Reason { what, place, ..Reason::default() });
        } else if let (Some(drawn), Some(reason)) = (line.strip_prefix(MARGIN), reasons.last_mut()) {
            shown.push(drawn);
            reason.shown = shown.join("\n").into();
        } else if let (Some(said), Some(reason)) = (line.strip_prefix("Cure:  "), reasons.last_mut()) {
            reason.cure = said.into();
        }
    }
    reasons
}

/// [`visible`] of each line.
pub(crate) fn lines_visible(text: &str) -> String {
    text.lines().map(visible).collect::<Vec<_>>().join("\n")
}

/// A text without what could play tricks on a terminal: control characters, and those that turn the direction of
/// reading.
pub(crate) fn visible(text: &str) -> String {
    let tricks = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    text.chars().map(|c| if tricks(c) { '\u{fffd}' } else { c }).collect()
}
