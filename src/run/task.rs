//! What the daemon and its workers say to each other: a task in, words on how far it is and an answer out, each a line of
//! JSON.

use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use seamwright_contract::plugin::Means;
use seamwright_contract::{Blame, Fault};
use serde::{Deserialize, Serialize};

/// What the daemon tells a worker.
#[derive(Clone, Serialize, Deserialize)]
pub(crate) struct Task {
    /// The job's name.
    pub(crate) name: String,
    /// The claim folder; of a test print or a plan, the artwork where it lies; of sheets made again, the folder in `kept/`.
    #[serde(with = "raw")]
    pub(crate) source: PathBuf,
    /// The staging folder, empty.
    #[serde(with = "raw")]
    pub(crate) staging: PathBuf,
    /// The settings to work by.
    #[serde(with = "raw")]
    pub(crate) settings: PathBuf,
    /// The studio they are of.
    #[serde(with = "raw")]
    pub(crate) studio: PathBuf,
    /// Memory for pixels, in bytes; a worker is told it once, when it is started.
    #[serde(skip)]
    pub(crate) memory: u64,
    /// As much of it is for what the next job may use again; none where none of its kin waits.
    pub(crate) keep: u64,
    /// Threads.
    pub(crate) threads: usize,
    /// What is made of the source.
    pub(crate) what: What,
    /// The panels made again; none for all.
    pub(crate) panels: Vec<u32>,
    /// Jobs that are probably of the same artwork have the same.
    #[serde(skip)]
    pub(crate) kin: Option<Kin>,
    /// How long it may take; the daemon sees to it.
    #[serde(skip)]
    pub(crate) time: Duration,
    /// Whoever wants to hear how far it is.
    #[serde(skip)]
    pub(crate) heard: Option<Heard>,
}

impl fmt::Debug for Task {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Task({} as {:?})", self.name, self.what)
    }
}

impl Task {
    pub(crate) fn means(&self) -> Means {
        Means { memory: self.memory, threads: self.threads, keep: self.keep }
    }
}

/// By what jobs are told to be probably of the same artwork, before it is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Kin {
    /// Rows of one list.
    Rows(String),
    /// Files of so many bytes.
    Bytes(u64),
}

/// What a worker makes of its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum What {
    /// All that the studio lists.
    Job,
    /// A test print; nothing is kept of the order.
    TestPrint,
    /// The record alone, for artwork that is not given yet.
    Plan,
    /// Sheets that were made before, by what is kept of them.
    Again,
}

impl What {
    /// A word for the names of folders.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Job => "job",
            Self::TestPrint => "test-print",
            Self::Plan => "plan",
            Self::Again => "again",
        }
    }
}

/// What a worker says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Said {
    /// How far it is.
    Far(Word),
    /// Its task is worked.
    Answer(Answer),
}

/// How far a worker is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Word {
    /// The sheets that are made.
    pub(crate) sheet: usize,
    /// All there will be.
    pub(crate) of: usize,
}

/// Hears how far a worker is.
pub(crate) type Heard = Arc<dyn Fn(Word) + Send + Sync>;

/// What a worker answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Answer {
    /// The staged files are complete.
    Done {
        /// Sheets of paper.
        sheets: usize,
        /// Warnings for the maker.
        warnings: Vec<String>,
    },
    /// It is a list, and what becomes of its rows is decided.
    List,
    /// The job cannot be done.
    Faults(Vec<FaultForm>),
}

/// A fault on its way between two processes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct FaultForm {
    blame: String,
    what: String,
    place: String,
    cure: String,
    shown: String,
}

impl From<Fault> for FaultForm {
    fn from(fault: Fault) -> Self {
        let Fault { blame, what, place, cure, shown } = fault;
        Self { blame: blame.word().to_owned(), what, place, cure, shown }
    }
}

impl From<FaultForm> for Fault {
    fn from(form: FaultForm) -> Self {
        let blame = Blame::from_word(&form.blame).unwrap_or(Blame::Defect);
        Self { blame, what: form.what, place: form.place, cure: form.cure, shown: form.shown }
    }
}

/// Paths as the bytes they are: they need not be text.
mod raw {
    use std::ffi::OsString;
    use std::os::unix::ffi::{OsStrExt as _, OsStringExt as _};
    use std::path::{Path, PathBuf};

    use serde::{Deserialize as _, Deserializer, Serialize as _, Serializer};

    pub(super) fn serialize<S: Serializer>(path: &Path, to: S) -> Result<S::Ok, S::Error> {
        path.as_os_str().as_bytes().serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<PathBuf, D::Error> {
        Ok(OsString::from_vec(Vec::deserialize(from)?).into())
    }
}
