//! What was made, with which settings, and how it turned out: a log that is only ever added to.
//!
//! `kept/.history.jsonl` has a line of JSON for each end of a job, for each time one was made again and for each result
//! the maker notes. People and their scripts read it, the report page and the notes of later jobs are written from it,
//! and no job's fate depends on it: a line that cannot be written is no reason to stop, one that cannot be read is
//! passed over and counted.
//!
//! What is missing of it, one line after a kill at the wrong moment or all of it, is made again at the daemon's start
//! from the records ([`mod@mend`]), which `kept/` has for each job. Five thousand jobs are some four megabytes, read in a
//! fraction of what people notice, so there is no index to keep true.

mod made;
mod mend;
mod query;
#[cfg(test)]
mod tests;

use std::collections::{HashMap, HashSet};
use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use seamwright_contract::Fault;
use seamwright_contract::order::Row;
use serde::{Deserialize, Serialize};

use crate::intake::{WRITTEN, row_in};
use crate::journal::clock::{self, Timestamp};
use crate::journal::{lines_visible, visible};
use crate::report::words;

pub(crate) use made::{Made, Pressing};
pub(crate) use mend::mend;
pub(crate) use query::{Asked, finished, note_printing, note_result, read, told};

/// The log's name in `kept/`.
const FILE: &str = ".history.jsonl";

/// The results of one job, in its folder in `kept/`, as the log has them.
const RESULTS: &str = "results.jsonl";

/// What a line tells of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum End {
    /// It is finished.
    Done,
    /// It is an order list, and its rows are jobs now.
    List,
    /// It cannot be done.
    Refused,
    /// It was cancelled by hand.
    Cancelled,
    /// A refused job's sources were put back into the inbox.
    Retried,
    /// Sheets of it were made again.
    Again,
    /// Its sheets were handed to the printer.
    Sent,
    /// The printer has printed them.
    Printed,
    /// They could not be handed over.
    Unprinted,
    /// The maker says that it turned out well.
    Good,
    /// The maker says that it did not.
    Bad,
}

impl End {
    /// The word for it, as in the log.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::List => "list",
            Self::Refused => "refused",
            Self::Cancelled => "cancelled",
            Self::Retried => "retried",
            Self::Again => "again",
            Self::Sent => "sent",
            Self::Printed => "printed",
            Self::Unprinted => "unprinted",
            Self::Good => "good",
            Self::Bad => "bad",
        }
    }
}

/// A line of the log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Line {
    /// When, RFC 3339 in UTC.
    pub(crate) at: String,
    pub(crate) job: String,
    pub(crate) end: End,
    /// How long it was worked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) seconds: Option<u64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) made: Option<Box<Made>>,
    /// Why it was refused.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) why: Vec<Reason>,
    /// The row of a list that it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) row: Option<Row>,
    /// How many rows a list has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) rows: Option<u32>,
    /// The blank that a result is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) blank: Option<String>,
    /// The maker's words, or how it was printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) words: Option<String>,
    /// The panels made again; none for all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) panels: Vec<u32>,
}

/// One reason of a refusal, as `why.txt` has it. Many jobs are refused for the same, so the texts can be shared.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Reason {
    pub(crate) what: Arc<str>,
    #[serde(rename = "where", skip_serializing_if = "is_nothing")]
    pub(crate) place: Arc<str>,
    #[serde(skip_serializing_if = "is_nothing")]
    pub(crate) cure: Arc<str>,
    /// The lines that show what is meant.
    #[serde(skip_serializing_if = "is_nothing")]
    pub(crate) shown: Arc<str>,
}

fn is_nothing(text: &Arc<str>) -> bool {
    text.is_empty()
}

impl From<&Fault> for Reason {
    fn from(fault: &Fault) -> Self {
        let said = |text: &str| visible(text).into();
        Self {
            what: said(&fault.what),
            place: said(&fault.place),
            cure: said(&fault.cure),
            shown: lines_visible(&fault.shown).into(),
        }
    }
}

impl From<&Reason> for Fault {
    fn from(reason: &Reason) -> Self {
        Self::order(&*reason.what, &*reason.cure).at(&*reason.place).showing(&*reason.shown)
    }
}

impl Line {
    /// A line of this moment about a job that was set aside in this folder, and why.
    pub(crate) fn set_aside(job: &str, end: End, why: Vec<Reason>, folder: &Path) -> Self {
        Self { why, row: row_in(folder), ..Self::now(job, end) }
    }

    /// A line of this moment.
    pub(crate) fn now(job: &str, end: End) -> Self {
        Self {
            at: clock::stamp(Instant::now()),
            job: job.to_owned(),
            end,
            seconds: None,
            made: None,
            why: Vec::new(),
            row: None,
            rows: None,
            blank: None,
            words: None,
            panels: Vec::new(),
        }
    }
}

/// Adds a line to the log in `kept`.
pub(crate) fn add(kept: &Path, line: &Line) {
    if let Err(why) = append(&kept.join(FILE), line) {
        tracing::warn!(job = %line.job, %why, "the history log could not be written");
    }
}

/// In one write, so that lines never mix; on a line of its own, also where the one before was cut off.
fn append(file: &Path, line: &Line) -> io::Result<()> {
    let mut log = OpenOptions::new().create(true).append(true).read(true).open(file)?;
    let torn = log.seek(SeekFrom::End(-1)).is_ok() && {
        let mut last = [b'\n'];
        log.read_exact(&mut last)?;
        last != *b"\n"
    };
    let start = if torn { "\n" } else { "" };
    log.write_all(format!("{start}{}\n", serde_json::to_string(line)?).as_bytes())
}

/// How a job turned out, in the maker's words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Verdict {
    pub(crate) at: String,
    pub(crate) good: bool,
    pub(crate) words: String,
}

impl From<Line> for Verdict {
    fn from(line: Line) -> Self {
        Self { at: line.at, good: line.end == End::Good, words: line.words.unwrap_or_default() }
    }
}

/// A job that has ended.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Job {
    pub(crate) name: Arc<str>,
    /// When it ended.
    pub(crate) at: Timestamp,
    /// Done, a list, refused or cancelled; retried if it is no more refused.
    pub(crate) end: End,
    pub(crate) made: Option<Box<Made>>,
    pub(crate) why: Box<[Reason]>,
    /// The row of a list that it is.
    pub(crate) row: Option<Box<Row>>,
    /// How many rows it has, where it is a list.
    pub(crate) rows: Option<u32>,
    after: Option<Box<After>>,
}

/// What came after a job's end; nothing did after most.
#[derive(Debug, Clone, Default, PartialEq)]
struct After {
    verdicts: Vec<Verdict>,
    printing: Vec<Printing>,
    again: usize,
}

/// How sheets came to the printer: when, what, and in words.
pub(crate) type Printing = (String, End, String);

impl Job {
    /// What the maker said of it.
    pub(crate) fn verdicts(&self) -> &[Verdict] {
        self.after.as_ref().map_or(&[], |after| &after.verdicts)
    }

    /// How its sheets came to the printer.
    pub(crate) fn printing(&self) -> &[Printing] {
        self.after.as_ref().map_or(&[], |after| &after.printing)
    }

    /// How often sheets of it were made again.
    pub(crate) fn again(&self) -> usize {
        self.after.as_ref().map_or(0, |after| after.again)
    }

    fn after(&mut self) -> &mut After {
        self.after.get_or_insert_default()
    }
}

/// The log as read so far. The daemon holds it all the time, ten thousand jobs in some two megabytes.
#[derive(Debug, Default)]
pub(crate) struct History {
    file: PathBuf,
    /// Bytes read, and how many there were then; what has no end yet is not read.
    read: u64,
    seen: u64,
    /// In the order in which they ended.
    jobs: Vec<Job>,
    /// The latest of each name.
    latest: HashMap<Arc<str>, usize>,
    /// The latest sheets that carry panels of each job which shares its own.
    carried: HashMap<Arc<str>, usize>,
    /// Texts of reasons, each once.
    texts: HashSet<Arc<str>>,
    /// Lines that could not be read.
    unread: usize,
}

impl History {
    /// Of the log in `kept`, of which nothing is read yet.
    pub(crate) fn of(kept: &Path) -> Self {
        Self { file: kept.join(FILE), ..Self::default() }
    }

    /// All that is in the log in `kept`; one that is not there yet is empty.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub(crate) fn read(kept: &Path) -> io::Result<Self> {
        let mut history = Self::of(kept);
        history.catch_up()?;
        Ok(history)
    }

    /// Reads what was added since. A log that became shorter is another one, and read from its start.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub(crate) fn catch_up(&mut self) -> io::Result<()> {
        let mut file = match File::open(&self.file) {
            Err(why) if why.kind() == ErrorKind::NotFound => return Ok(()),
            file => file?,
        };
        self.seen = file.metadata()?.len();
        if self.seen < self.read {
            *self = Self { file: std::mem::take(&mut self.file), seen: self.seen, ..Self::default() };
        }
        file.seek(SeekFrom::Start(self.read))?;
        let mut text = Vec::new();
        file.read_to_end(&mut text)?;
        // What has no end yet is being written, or was cut off; the next line begins anew.
        let whole = text.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
        for line in text.get(..whole).unwrap_or_default().split(|byte| *byte == b'\n') {
            match serde_json::from_slice(line) {
                Ok(line) => self.take(line),
                Err(_) => self.unread += usize::from(!line.is_empty()),
            }
        }
        self.read += u64::try_from(whole).unwrap_or_default();
        Ok(())
    }

    /// Whether something was added since.
    pub(crate) fn has_more(&self) -> bool {
        self.file.metadata().is_ok_and(|facts| facts.len() != self.seen)
    }

    fn take(&mut self, line: Line) {
        let Ok(at) = line.at.parse() else {
            self.unread += 1;
            return;
        };
        let known = self.latest.get(line.job.as_str()).and_then(|at| self.jobs.get_mut(*at));
        match (line.end, known) {
            (End::Done | End::List | End::Refused | End::Cancelled, _) => {
                let name: Arc<str> = line.job.into();
                self.latest.insert(Arc::clone(&name), self.jobs.len());
                for job in line.made.iter().flat_map(|made| &made.carries) {
                    self.carried.insert(job.as_str().into(), self.jobs.len());
                }
                let why = line.why.into_iter().map(|reason| self.shared(reason)).collect();
                self.jobs.push(Job {
                    name,
                    at,
                    end: line.end,
                    row: line.row.or_else(|| line.made.as_ref()?.row.clone()).map(Box::new),
                    rows: line.rows,
                    made: line.made,
                    why,
                    after: None,
                });
            }
            (End::Retried, Some(job)) => job.end = End::Retried,
            (End::Again, Some(job)) => job.after().again += 1,
            (End::Sent | End::Printed | End::Unprinted, Some(job)) => {
                job.after().printing.push((line.at, line.end, line.words.unwrap_or_default()));
            }
            (End::Good | End::Bad, Some(job)) => job.after().verdicts.push(line.into()),
            (_, None) => {}
        }
    }

    /// A reason whose texts are those of others that say the same.
    fn shared(&mut self, reason: Reason) -> Reason {
        let mut once = |text: Arc<str>| match self.texts.get(&text) {
            Some(known) => Arc::clone(known),
            None => {
                self.texts.insert(Arc::clone(&text));
                text
            }
        };
        // Places are each another.
        Reason { what: once(reason.what), cure: once(reason.cure), shown: once(reason.shown), ..reason }
    }

    /// The jobs in the order in which they ended.
    pub(crate) fn jobs(&self) -> &[Job] {
        &self.jobs
    }

    /// The job that last bore this name.
    pub(crate) fn latest(&self, name: &str) -> Option<&Job> {
        self.jobs.get(*self.latest.get(name)?)
    }

    /// The shared sheets that last came to carry a job's panels.
    pub(crate) fn carrying(&self, job: &str) -> Option<&Job> {
        self.jobs.get(*self.carried.get(job)?)
    }

    /// How many lines could not be read.
    pub(crate) fn unread(&self) -> usize {
        self.unread
    }

    /// How the last job on a blank turned out that the maker said a word on. Blanks without a name are each another.
    pub(crate) fn last_on(&self, blank: &str) -> Option<(&Job, &Verdict)> {
        if blank == WRITTEN {
            return None;
        }
        let on_it = |job: &&Job| job.made.as_ref().is_some_and(|made| made.blank == blank);
        let said = self.jobs.iter().filter(on_it);
        said.flat_map(|job| job.verdicts().iter().map(move |verdict| (job, verdict)))
            .max_by(|one, other| one.1.at.cmp(&other.1.at))
    }
}

/// A sentence on how the last job on this blank turned out, for the notes of the next. Where the log cannot be read,
/// nothing is said.
pub(crate) fn last_time(kept: &Path, blank: &str) -> Option<String> {
    if blank == WRITTEN {
        return None;
    }
    let log = std::fs::read(kept.join(FILE)).ok()?;
    // Most lines are of other things and need not be parsed.
    let lines = log.split(|byte| *byte == b'\n').rev();
    let result = lines
        .filter(|line| !contains(line, b"\"made\":") && contains(line, b"\"blank\":"))
        .filter_map(|line| serde_json::from_slice::<Line>(line).ok())
        .find(|line| matches!(line.end, End::Good | End::Bad) && line.blank.as_deref() == Some(blank))?;
    let day = result.at.get(..10).unwrap_or_default().to_owned();
    let job = result.job.clone();
    let how = words::verdict(&Verdict::from(result));
    Some(format!("Last time on this blank ({job}, {day}): {}.", visible(&how)))
}

fn contains(line: &[u8], part: &[u8]) -> bool {
    line.windows(part.len()).any(|window| window == part)
}
