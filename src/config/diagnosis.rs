//! A mistake in a file of the studio's, said so that someone with a text editor can mend it.

use std::fmt;

use seamwright_contract::{Blame, Fault};

/// One mistake: where, what, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnosis {
    /// The file as people know it: `chart.yaml`, `blanks/table-mat-36x24.yaml`.
    pub file: String,
    /// The line, counted from 1.
    pub line: Option<usize>,
    /// The way to the key (`size.width`); empty where the file as a whole is meant.
    pub key: String,
    /// What is wrong.
    pub what: String,
    /// What to do about it.
    pub cure: String,
}

impl Diagnosis {
    /// A mistake that concerns a file as a whole.
    pub(crate) fn of_file(file: impl Into<String>, what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self { file: file.into(), line: None, key: String::new(), what: what.into(), cure: cure.into() }
    }

    /// Where it is: file, line and key.
    #[must_use]
    pub fn place(&self) -> String {
        let mut place = self.file.clone();
        if let Some(line) = self.line {
            place.push_str(&format!(", line {line}"));
        }
        if !self.key.is_empty() {
            place.push_str(&format!(", `{}`", self.key));
        }
        place
    }

    /// As a fault of whoever must mend it.
    #[must_use]
    pub fn blamed(self, blame: Blame) -> Fault {
        let place = self.place();
        Fault::new(blame, sentence(&self.what), self.cure).at(place)
    }
}

impl fmt::Display for Diagnosis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place(), sentence(&self.what))?;
        if !self.cure.is_empty() {
            write!(f, " {}", self.cure)?;
        }
        Ok(())
    }
}

/// A complaint with its full stop.
fn sentence(what: &str) -> String {
    let ended = what.ends_with(['.', '!', '?', ':']);
    if ended { what.to_owned() } else { format!("{what}.") }
}
