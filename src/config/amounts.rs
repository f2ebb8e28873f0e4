//! Amounts only the configuration has: bytes, threads, and for how long sources are kept.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use seamwright_contract::num;
use seamwright_contract::settings::heard::Look;
use seamwright_contract::settings::{Node, Read, Value};
use seamwright_contract::units::{Seconds, Unreadable};

/// A number of bytes, as written `1GiB`, `512 MiB` or `2GB`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Bytes(pub(crate) u64);

/// The units, largest first; of those with a power of two (IEC 80000-13) and those with a power of ten.
const UNITS: [(&str, u64); 7] = [
    ("TiB", 1 << 40),
    ("GiB", 1 << 30),
    ("MiB", 1 << 20),
    ("KiB", 1 << 10),
    ("GB", 1_000_000_000),
    ("MB", 1_000_000),
    ("KB", 1_000),
];

impl FromStr for Bytes {
    type Err = Unreadable;

    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let text = text.trim();
        let wrong = || {
            Unreadable(format!("'{text}' is not an amount of memory; write for example `1GiB` or `512MiB`"))
        };
        let unit_at = text.find(|c: char| c.is_ascii_alphabetic()).ok_or_else(|| {
            Unreadable(format!("'{text}' has no unit; write for example `{text}MiB` or `{text}GiB`"))
        })?;
        let (number, unit) = text.split_at(unit_at);
        let (_, each) = UNITS.iter().find(|(name, _)| name.eq_ignore_ascii_case(unit)).ok_or_else(wrong)?;
        let number: f64 = number.trim().parse().map_err(|_| wrong())?;
        let total = number * num::float(i64::try_from(*each).map_err(|_| wrong())?);
        // Beyond 2^53 a float counts no single bytes any more, and no machine has as many.
        if !(0.0..9_007_199_254_740_992.0).contains(&total) {
            return Err(wrong());
        }
        u64::try_from(num::round(total)).map(Self).map_err(|_| wrong())
    }
}

impl fmt::Display for Bytes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = UNITS.iter().find(|(_, each)| self.0 >= *each && self.0.is_multiple_of(*each));
        match whole {
            Some((unit, each)) => write!(f, "{}{unit}", self.0 / each),
            None => write!(f, "{} bytes", self.0),
        }
    }
}

/// How an amount of memory looks.
const BYTES: Look = Look {
    pattern: r"^\s*(\d+\.?\d*|\.\d+)\s*([TtGgMmKk][Ii][Bb]|[GgMmKk][Bb])\s*$",
    examples: &["1GiB", "512MiB", "2GB"],
};

/// How a number of days looks, where it is no bare number.
const DAYS: Look = Look { pattern: r"^\s*[\d\s]*\d\s*(d|day|days)?\s*$", examples: &["90 days"] };

impl Read for Bytes {
    fn read(node: &Node<'_>) -> Option<Self> {
        node.looks(BYTES);
        let typed = String::read(node)?;
        typed
            .parse()
            .map_err(|why: Unreadable| node.complain_of_look(&why.0, "Write for example `1GiB`."))
            .ok()
    }
}

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
        node.complain(format!("{count} workers cannot be"), "Write `auto`, or a number from 1 to 256.");
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shown_reads_back() {
        for bytes in [1_u64 << 30, 512 << 20, 3 << 10, 2_000_000_000, 5_000_000, 7_000, 1 << 40] {
            let shown = Bytes(bytes).to_string();
            assert_eq!(shown.parse::<Bytes>(), Ok(Bytes(bytes)), "{shown}");
        }
        assert_eq!("1.5 GiB".parse::<Bytes>(), Ok(Bytes(1_610_612_736)));
    }

    #[test]
    fn amounts_that_are_none() {
        for text in
            ["", "1", "GiB", "-1GiB", "1e30GiB", "infGiB", "nanMB", "1 lot", "1 GiB or so", "9999999TiB"]
        {
            assert!(text.parse::<Bytes>().is_err(), "{text}");
        }
    }
}
