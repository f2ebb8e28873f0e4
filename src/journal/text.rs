//! What is written for people: the reasons of a refusal, and names without tricks.

use seamwright_contract::{Blame, Fault};

use crate::history::Reason;

/// `why.txt`: a block for each reason, in plain words.
pub(super) fn why(faults: &[Fault]) -> String {
    let mut text = String::from("This job could not be done.\n");
    for fault in faults {
        text.push('\n');
        if !fault.place.is_empty() {
            text.push_str(&format!("Where: {}\n", visible(&fault.place)));
        }
        text.push_str(&format!("What:  {}\n", visible(&fault.what)));
        if !fault.cure.is_empty() {
            text.push_str(&format!("Cure:  {}\n", visible(&fault.cure)));
        }
    }
    if faults.iter().all(|fault| fault.blame != Blame::Defect) {
        text.push_str("\nThen save artwork and sidecar into the inbox again.\n");
    }
    text
}

/// The reasons in a `why.txt`.
pub(crate) fn reasons(text: &str) -> Vec<Reason> {
    let mut reasons: Vec<Reason> = Vec::new();
    let mut place = String::new();
    for line in text.lines() {
        if let Some(said) = line.strip_prefix("Where: ") {
            said.clone_into(&mut place);
        } else if let Some(said) = line.strip_prefix("What:  ") {
            let (what, place) = (said.into(), std::mem::take(&mut place).into());
            reasons.push(Reason { what, place, ..Reason::default() });
        } else if let (Some(said), Some(reason)) = (line.strip_prefix("Cure:  "), reasons.last_mut()) {
            reason.cure = said.into();
        }
    }
    reasons
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
