//! How finished sheets reach a printer, as the studio wants it.

use std::collections::BTreeMap;

/// Whether a job's sheets are handed to the printer once they are finished.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Print {
    /// They are not.
    #[default]
    No,
    /// They are when the maker says so.
    Hold,
    /// They are at once.
    Yes,
}

impl Print {
    /// The words used in sidecars, catalogue files and records.
    pub const WORDS: [(&'static str, Self); 3] = [("no", Self::No), ("hold", Self::Hold), ("yes", Self::Yes)];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::No => "no",
            Self::Hold => "hold",
            Self::Yes => "yes",
        }
    }
}

/// Where a printer's sheets go, and what it is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SendTo {
    /// The way there.
    pub way: Way,
    /// What becomes of jobs whose order says nothing of it.
    pub print: Print,
    /// Asked of the printer; its best, where the studio says nothing.
    pub quality: Option<Quality>,
    /// The printer's own words for papers, by their names; others are named by their size.
    pub media: BTreeMap<String, String>,
    /// The kind of paper, in the printer's own words.
    pub kind: Option<String>,
    /// The tray, in the printer's own words.
    pub tray: Option<String>,
    /// Whether the printer keeps jobs until they are released at it.
    pub hold: bool,
    /// Whether a job is followed until its last sheet is printed, not only until the printer has taken it.
    pub follow: bool,
    /// Whether sheets were measured to come out at true size, though the printer does not promise it.
    pub trusted: bool,
}

/// The way to a printer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Way {
    /// The Internet Printing Protocol (RFC 8011), to the printer itself or to a queue before it.
    Ipp(String),
    /// A program with its words; `{sheets}`, `{copies}`, `{media}` and `{name}` stand for what they say.
    Command(Vec<String>),
}

/// How well a printer is asked to print: the values of `print-quality` (RFC 8011, 5.2.13).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// Its fastest.
    Draft = 3,
    /// Its usual one.
    Normal = 4,
    /// Its best.
    High = 5,
}
