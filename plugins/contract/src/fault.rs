//! What went wrong, sorted by who must act, and always with a cure.

use std::fmt;

/// Who must act before the job can go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blame {
    /// The artwork file: the maker saves a better one. The job is set aside.
    Artwork,
    /// The order: the maker corrects the sidecar. The job is set aside.
    Order,
    /// Configuration or catalogue: the studio corrects it. The daemon refuses to start, a job is set aside.
    Setup,
    /// Disk, memory or network: may pass by itself. The job is tried again after a pause.
    Machine,
    /// A mistake of ours. The job is set aside and the daemon goes on.
    Defect,
}

impl Blame {
    /// The word used in messages handed from the worker to the daemon.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Artwork => "artwork",
            Self::Order => "order",
            Self::Setup => "setup",
            Self::Machine => "machine",
            Self::Defect => "defect",
        }
    }

    /// The blame a [`Blame::word`] names.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Artwork, Self::Order, Self::Setup, Self::Machine, Self::Defect]
            .into_iter()
            .find(|blame| blame.word() == word)
    }
}

/// One thing that keeps a job from being done: what, where, and what to do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Who must act.
    pub blame: Blame,
    /// What is wrong, one or two plain sentences with the figures that show it.
    pub what: String,
    /// Where: a file, line and key, or a place on the design. Empty where there is none.
    pub place: String,
    /// What to do about it, as an instruction. Empty only for a [`Blame::Defect`].
    pub cure: String,
    /// The line of a text that is meant, with what of it underlined, as lines to be shown with every sign as wide as any
    /// other. Empty where nothing can be shown.
    pub shown: String,
}

impl Fault {
    /// A fault without a place.
    pub fn new(blame: Blame, what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self { blame, what: what.into(), place: String::new(), cure: cure.into(), shown: String::new() }
    }

    /// The artwork cannot be used.
    pub fn artwork(what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self::new(Blame::Artwork, what, cure)
    }

    /// The order asks for something that cannot be done.
    pub fn order(what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self::new(Blame::Order, what, cure)
    }

    /// Configuration or catalogue is wrong.
    pub fn setup(what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self::new(Blame::Setup, what, cure)
    }

    /// Disk, memory or network failed.
    pub fn machine(what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self::new(Blame::Machine, what, cure)
    }

    /// A file of the finished job could not be written.
    pub fn unwritten(what: &str, why: impl fmt::Display) -> Self {
        Self::machine(
            format!("{what} could not be written: {why}."),
            "Make room on the disk; the job is tried again.",
        )
    }

    /// Something that cannot happen did.
    pub fn defect(what: impl Into<String>) -> Self {
        Self::new(
            Blame::Defect,
            what,
            "Please report this with the job's folder; the job can be tried again.",
        )
    }

    /// The same fault with its place said.
    #[must_use]
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = place.into();
        self
    }

    /// The same fault with what is to be shown of its place.
    #[must_use]
    pub fn showing(mut self, shown: impl Into<String>) -> Self {
        self.shown = shown.into();
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        write!(f, "{}", self.what)?;
        if !self.cure.is_empty() {
            write!(f, " {}", self.cure)?;
        }
        Ok(())
    }
}

impl std::error::Error for Fault {}
