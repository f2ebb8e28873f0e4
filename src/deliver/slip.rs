//! The slip of a job that is to be printed: what is known of it, on the disk before anything is done about it.
//!
//! A slip is a folder in the studio's hidden one, with the facts and the sheets themselves (a hard link where it can be),
//! so that neither the maker, who may take the finished folder away at once, nor a kill can come between. It is made
//! before the job is published and counts from when it is:
//!
//! `JOB.part` being made, `JOB.next` complete but not published, `JOB` to be printed, gone when it is done with.
//!
//! What a maker asks for at the command line is a file beside them, `JOB.go`, for whoever hands over.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::time::Instant;

use seamwright_contract::sending::Print;
use serde::{Deserialize, Serialize};

use crate::config::{Folders, HIDDEN};
use crate::intake::is_bare_name;
use crate::journal::files::{move_no_replace, remove_folder, sync_contents, sync_folder, write_whole};
use crate::journal::{Claim, Journal, clock, naming};

/// What is printed.
pub(crate) const SHEETS: &str = "sheets.pdf";

/// The facts of a slip.
const FACTS: &str = "slip.json";

/// What is known of a job to be printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Slip {
    pub(crate) job: String,
    /// Its name in the catalogue.
    pub(crate) printer: String,
    /// The paper's name in the catalogue, and its upright size.
    pub(crate) paper: String,
    pub(super) width_um: i64,
    pub(super) height_um: i64,
    /// Of one copy.
    pub(crate) sheets: usize,
    pub(crate) copies: u32,
    /// What tells the sheets from all others.
    pub(super) sha256: String,
    /// When it was asked for, RFC 3339 in UTC.
    pub(crate) asked: String,
    /// The first time, or the how manieth.
    pub(super) round: u32,
    pub(crate) state: State,
    /// What stood in the way the last time, and how often something did.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub(crate) why: String,
    #[serde(default)]
    pub(crate) tries: u32,
}

/// How far it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum State {
    /// It waits for the maker's word.
    Held,
    /// It is to be handed over; nothing of it has left this machine.
    Waiting,
    /// It is being handed over. Written before the printer hears of it, so that whoever comes after a kill asks first.
    Begun {
        /// Where.
        to: String,
        /// The printer's number for it, as soon as it is known.
        id: Option<i32>,
        /// Whether the sheets may have reached the printer.
        sent: bool,
    },
    /// The printer has it, and is asked how it goes.
    Taken { to: String, id: i32 },
    /// It is not tried again unless the maker says so.
    Stopped { cure: String },
}

/// The record, as far as it is read here.
#[derive(Deserialize)]
struct Record {
    /// Not in those of earlier versions.
    #[serde(default)]
    print: String,
    printer: String,
    paper: Paper,
    copies: u32,
    /// A sheet each; of shared sheets, the pages.
    #[serde(alias = "pages")]
    panels: Vec<serde::de::IgnoredAny>,
    /// What it says of the sheets that it shares, which are printed in place of its own.
    share: Option<serde::de::IgnoredAny>,
}

#[derive(Deserialize)]
struct Paper {
    name: String,
    width_um: i64,
    height_um: i64,
}

impl Slip {
    /// Of a job with this record.
    fn new(job: &str, record: Record, sheets: &Path) -> io::Result<Self> {
        let Paper { name, width_um, height_um } = record.paper;
        Ok(Self {
            job: job.to_owned(),
            printer: record.printer,
            paper: name,
            width_um: width_um.min(height_um),
            height_um: width_um.max(height_um),
            sheets: record.panels.len(),
            copies: record.copies,
            sha256: naming::digest(sheets)?,
            asked: clock::stamp(Instant::now()),
            round: 1,
            state: State::Waiting,
            why: String::new(),
            tries: 0,
        })
    }

    /// What the printer shall call it: no other job, and no other try of this one, is called so.
    pub(super) fn name(&self) -> String {
        let digest = self.sha256.get(..12).unwrap_or_default();
        let round = if self.round > 1 { format!(" {}", self.round) } else { String::new() };
        format!("{} {digest}{round}", self.job)
    }
}

/// The slips of a studio.
#[derive(Debug, Clone)]
pub(crate) struct Slips {
    folder: PathBuf,
}

impl Slips {
    pub(crate) fn of(studio: &Folders) -> Self {
        Self { folder: studio.root.join(HIDDEN).join("printing") }
    }

    fn place(&self, name: &str, state: &str) -> PathBuf {
        self.folder.join(format!("{name}{state}"))
    }

    pub(super) fn sheets(&self, name: &str) -> PathBuf {
        self.place(name, "").join(SHEETS)
    }

    /// Makes the slip of a job that is worked and not yet published, if it is to be printed. May be repeated.
    pub(crate) fn prepare(&self, journal: &Journal, claim: &Claim) -> io::Result<()> {
        // Published already, before a kill: the slip was made before that.
        let Some(sheets) = journal.staged_file(claim, SHEETS)? else { return Ok(()) };
        let next = self.place(&claim.id, ".next");
        remove_folder(&next)?;
        let record = journal.record(claim);
        let Some(record) = record.and_then(|record| serde_json::from_slice::<Record>(&record).ok()) else {
            return Ok(());
        };
        if record.share.is_some() {
            return Ok(());
        }
        let print = Print::WORDS.iter().find(|(word, _)| *word == record.print);
        let state = match print.map_or(Print::No, |(_, print)| *print) {
            Print::No => return Ok(()),
            Print::Hold => State::Held,
            Print::Yes => State::Waiting,
        };
        let slip = Slip::new(&claim.id, record, &sheets)?;
        self.make(&Slip { state, ..slip }, &sheets, &next)
    }

    /// Makes a slip of a job that was published long ago, by its kept record; one that is there already stays.
    pub(super) fn anew(&self, job: &str, record: &[u8], sheets: &Path, round: u32) -> io::Result<()> {
        let slip = Slip::new(job, serde_json::from_slice(record)?, sheets)?;
        self.make(&Slip { round, ..slip }, sheets, &self.place(job, ""))
    }

    fn make(&self, slip: &Slip, sheets: &Path, to: &Path) -> io::Result<()> {
        let part = self.place(&slip.job, ".part");
        remove_folder(&part)?;
        fs::create_dir_all(&part)?;
        // Another file system, or one without links.
        if fs::hard_link(sheets, part.join(SHEETS)).is_err() {
            fs::copy(sheets, part.join(SHEETS))?;
        }
        File::create(part.join(FACTS))?.write_all(&serde_json::to_vec_pretty(slip)?)?;
        sync_contents(&part)?;
        move_no_replace(&part, to)
    }

    /// The job is published: its slip counts, if it has one. May be repeated.
    pub(crate) fn release(&self, job: &str) -> io::Result<()> {
        let numbered = (2_u32..).map(|n| format!("{job}-{n}"));
        for name in std::iter::once(job.to_owned()).chain(numbered) {
            // Of one so called that was tidied away since, a slip may still wait.
            match move_no_replace(&self.place(job, ".next"), &self.place(&name, "")) {
                Err(why) if why.kind() == ErrorKind::AlreadyExists => {}
                Err(why) if why.kind() == ErrorKind::NotFound => return Ok(()),
                done => return done,
            }
        }
        Ok(())
    }

    /// Brings back what a kill left between two states. `worked` are the jobs that are yet to be published.
    pub(super) fn recover(&self, kept: &Path, worked: &[&str]) -> io::Result<()> {
        for name in self.names()? {
            if name.ends_with(".part") {
                remove_folder(&self.folder.join(name))?;
            } else if let Some(job) = name.strip_suffix(".next")
                // Of a claim that is away with the inbox, it waits for that to come back.
                && !worked.contains(&job)
                && kept.join(job).is_dir()
            {
                self.release(job)?;
            }
        }
        Ok(())
    }

    fn names(&self) -> io::Result<Vec<String>> {
        let entries = match fs::read_dir(&self.folder) {
            Err(why) if why.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            entries => entries?,
        };
        let mut names = Vec::new();
        for entry in entries {
            names.extend(entry?.file_name().into_string().ok().filter(|name| is_bare_name(name)));
        }
        names.sort();
        Ok(names)
    }

    /// The names of the slips that count.
    pub(super) fn there(&self) -> io::Result<Vec<String>> {
        let own = |name: &String| {
            let ending = Path::new(name).extension().and_then(OsStr::to_str);
            !ending.is_some_and(|ending| ["part", "next", "go"].contains(&ending)) && !name.starts_with('.')
        };
        Ok(self.names()?.into_iter().filter(own).collect())
    }

    /// Reads one; nothing where it is gone.
    pub(super) fn read(&self, name: &str) -> io::Result<Option<Slip>> {
        match fs::read(self.place(name, "").join(FACTS)) {
            Err(why) if why.kind() == ErrorKind::NotFound => Ok(None),
            bytes => Ok(Some(serde_json::from_slice(&bytes?)?)),
        }
    }

    /// Writes down how far one is; on the disk when it returns.
    pub(super) fn write(&self, name: &str, slip: &Slip) -> io::Result<()> {
        write_whole(&self.place(name, "").join(FACTS), &serde_json::to_vec_pretty(slip)?)
    }

    /// It is done with.
    pub(super) fn remove(&self, name: &str) -> io::Result<()> {
        remove_folder(&self.place(name, ""))?;
        sync_folder(&self.folder)
    }

    /// All that count, the oldest first; what cannot be read is passed over.
    pub(crate) fn all(&self) -> Vec<Slip> {
        let names = self.there().unwrap_or_default();
        let mut slips: Vec<Slip> = names.iter().filter_map(|name| self.read(name).ok().flatten()).collect();
        slips.sort_by(|one, other| (&one.asked, &one.job).cmp(&(&other.asked, &other.job)));
        slips
    }

    /// The maker's word for a slip: it is to be handed over now, whatever kept it; `force` also where it may be printed.
    pub(super) fn wish(&self, name: &str, force: bool) -> io::Result<()> {
        write_whole(&self.place(name, ".go"), if force { b"force" } else { b"" })
    }

    /// That word, if there is one, and whether it is by force.
    pub(super) fn wished(&self, name: &str) -> Option<bool> {
        fs::read(self.place(name, ".go")).ok().map(|text| text == b"force")
    }

    /// The word is heard, or comes too late.
    pub(super) fn unwish(&self, name: &str) -> io::Result<()> {
        match fs::remove_file(self.place(name, ".go")) {
            Err(why) if why.kind() != ErrorKind::NotFound => Err(why),
            _ => Ok(()),
        }
    }
}
