//! Amounts only the configuration has: threads, and for how long sources are kept.

use std::time::Duration;

use seamwright_contract::num;
use seamwright_contract::settings::heard::Look;
use seamwright_contract::settings::{Node, Read, Value};
use seamwright_contract::units::Seconds;

/// How a number of days looks, where it is no bare number.
const DAYS: Look = Look { pattern: r"^\s*[\d\s]*\d\s*(d|day|days)?\s*$", examples: &["90 days"] };

/// For how long the sources of finished jobs stay in `kept/`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Nothing is ever deleted.
    Forever,
    /// What is older than so many days is deleted.
    Days(u32),
}

impl Read for Keep {
    fn read(node: &Node<'_>) -> Option<Self> {
        if node.says("forever") {
            return Some(Self::Forever);
        }
        let days = match node.value() {
            Value::Number(_) => u32::read(node)?.to_string(),
            other => {
                node.looks(DAYS);
                let Value::Text(word) = other else { return Self::unlike(node) };
                word.split_whitespace().collect()
            }
        };
        let digits = days.trim_end_matches("days").trim_end_matches("day").trim_end_matches('d');
        match digits.parse() {
            Ok(days) if days > 0 => Some(Self::Days(days)),
            _ => Self::unlike(node),
        }
    }
}

impl Keep {
    fn unlike(node: &Node<'_>) -> Option<Self> {
        node.complain(
            "this is no time to keep sources for",
            "Write `forever`, or a number of days such as `90`.",
        );
        None
    }
}

/// The most threads that make sense on one machine.
const MOST_WORKERS: u32 = 256;

/// How many threads a job may use: a number, or `auto` for as many as the machine has cores.
pub(super) fn workers(node: &Node<'_>) -> Option<usize> {
    if node.says("auto") {
        return Some(std::thread::available_parallelism().map_or(1, usize::from));
    }
    let count = u32::read(node)?;
    if !(1..=MOST_WORKERS).contains(&count) {
        node.complain(format!("there cannot be {count} workers"), "Write `auto`, or a number from 1 to 256.");
        return None;
    }
    Some(num::index(count))
}

/// How long a file must have been left alone; `auto` where the program is to know.
#[expect(clippy::option_option, reason = "a mistake, auto, a time")]
pub(super) fn quiet(node: &Node<'_>) -> Option<Option<Duration>> {
    if node.says("auto") {
        return Some(None);
    }
    Seconds::read(node).map(|Seconds(seconds)| Some(Duration::from_secs(u64::from(seconds))))
}
