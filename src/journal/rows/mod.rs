//! A claimed list unfolds into its rows, which then wait to be claimed one by one.
//!
//! The rows must all be there or none, whatever happens, and each be claimed once, also by a maker's hand that cancels
//! one while the daemon takes another. So they stand in folders again, and each step is one rename:
//!
//! 1. The work of a list is its [`Plan`]: what becomes of each row, in `ID/.rows.json`, and a summary among its staged
//!    files. When that is `ID.ready`, the plan stands.
//! 2. unfold: `ID.unfolding` is filled with a folder for each row, `00007.NAME`, that has all a claim has: facts, the
//!    artwork (a further name of the same file, or a copy where that cannot be), a sidecar of its own, the folder's
//!    defaults. It is flushed and renamed to `ID.rows`: now all rows are there. Then the list goes on as any job does.
//! 3. Rows wait in `ID.rows`, in its folders `first` and `hold` as in those of the inbox, until `ID` is done.
//! 4. claim: `ID.rows/00007.NAME` becomes `NAME`; a row that cannot be done from the start, `00009.NAME.refused`, becomes
//!    `NAME.refused`. When the last is claimed, `ID.rows` is removed.
//!
//! After a kill `ID.unfolding` is removed and made again by the plan, and `ID.rows` is never made a second time: as long as
//! `ID` is not done no row is claimed, so it cannot have gone.

#[cfg(test)]
mod tests;

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::sync::PoisonError;

use seamwright_contract::Fault;
use serde::{Deserialize, Serialize};

use super::claim::Facts;
use super::defaults::readable;
use super::files::{move_no_replace, remove_folder, rename_no_replace, sync_contents, sync_folder};
use super::{Claim, Journal, WHY, names, text, there};
use crate::history::Reason;
use crate::intake::{is_artwork_name, is_bare_name, is_defaults_name};
use crate::watch::Place;

/// What becomes of the rows of a list, among its files.
pub(crate) const PLAN: &str = ".rows.json";

/// What becomes of the rows of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Plan {
    /// The list's file name.
    pub(crate) list: String,
    /// What is to be said of it as a whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) remark: Option<String>,
    pub(crate) rows: Vec<Planned>,
}

/// What becomes of one row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Planned {
    /// The line it begins on.
    pub(crate) line: u32,
    /// What people know it by: the first it says.
    pub(crate) label: String,
    /// Its job's name, unless that is taken.
    pub(crate) job: String,
    /// The stem of its files.
    pub(crate) stem: String,
    /// Its order.
    pub(crate) sidecar: String,
    /// The job that is just this, so that none is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) before: Option<String>,
    /// Why it cannot be done.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) why: Vec<Reason>,
}

impl Plan {
    /// The plan among the files of a list; nothing where it is none.
    pub(crate) fn of(folder: &Path) -> io::Result<Option<Self>> {
        match fs::read(super::kept_file(folder, PLAN)) {
            Ok(bytes) => Ok(Some(serde_json::from_slice(&bytes)?)),
            Err(why) if why.kind() == ErrorKind::NotFound => Ok(None),
            Err(why) => Err(why),
        }
    }
}

/// A row that waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Waiting {
    /// Its job's name, unless that is taken.
    pub(crate) job: String,
    /// The list's.
    pub(crate) group: String,
    pub(crate) place: Place,
    pub(crate) path: PathBuf,
}

impl Waiting {
    /// Moves it to another place in the queue.
    pub(crate) fn move_to(&self, place: Place) -> io::Result<()> {
        let above =
            if self.place == Place::Usual { self.path.parent() } else { self.path.ancestors().nth(2) };
        let rows = above.unwrap_or(&self.path);
        let folder = place.folder().map_or_else(|| rows.to_owned(), |name| rows.join(name));
        // Not its parents: where the last row was claimed, the folder of rows stays gone.
        match fs::create_dir(&folder) {
            Err(why) if why.kind() != ErrorKind::AlreadyExists => return Err(why),
            _ => {}
        }
        move_no_replace(&self.path, &folder.join(self.path.file_name().unwrap_or_default()))
    }
}

impl Journal {
    /// Makes a claimed list's rows, all of them or none; what is no list has none.
    pub(super) fn unfold(&self, claim: &Claim) -> io::Result<()> {
        let Some(plan) = Plan::of(&claim.folder)? else { return Ok(()) };
        let (unfolding, rows) = (self.state(&claim.id, ".unfolding"), self.state(&claim.id, ".rows"));
        if there(&rows)? {
            return Ok(());
        }
        remove_folder(&unfolding)?;
        fs::create_dir(&unfolding)?;
        let sources = Sources::of(&claim.folder)?;
        for row in plan.rows.iter().filter(|row| row.before.is_none()) {
            if !is_bare_name(&row.job) || !is_bare_name(&row.stem) {
                return Err(io::Error::new(
                    ErrorKind::InvalidData,
                    "a row's name in the plan leads elsewhere",
                ));
            }
            let refused = if row.why.is_empty() { "" } else { ".refused" };
            let folder = unfolding.join(format!("{:05}.{}{refused}", row.line, row.job));
            fs::create_dir(&folder)?;
            sources.share(row, &folder)?;
            sync_contents(&folder)?;
        }
        sync_folder(&unfolding)?;
        move_no_replace(&unfolding, &rows)
    }

    /// The rows that wait, list by list, in the order of their lines. Those of a list that is not done wait for it.
    pub(crate) fn waiting_rows(&self) -> io::Result<Vec<Waiting>> {
        let mut lists = Vec::new();
        for name in names_in(&self.claimed())? {
            let Some(group) = name.strip_suffix(".rows") else { continue };
            if there(&self.state(group, ""))? {
                continue;
            }
            let folder = self.claimed().join(&name);
            let mut rows = Vec::new();
            for place in [Place::First, Place::Usual, Place::Held] {
                let folder = place.folder().map_or_else(|| folder.clone(), |name| folder.join(name));
                rows.extend(names_in(&folder)?.into_iter().filter_map(|name| {
                    let (_, job) = name.split_once('.')?;
                    let job = job.strip_suffix(".refused").unwrap_or(job).to_owned();
                    Some(Waiting { job, group: group.to_owned(), place, path: folder.join(&name) })
                }));
            }
            let since =
                rows.first().and_then(|row| Facts::read(&row.path).ok()).map(|facts| facts.first_seen);
            if rows.is_empty() {
                // Held and cancelled, or killed after the last was claimed.
                self.forget_rows(group);
            }
            lists.push((since, rows));
        }
        lists.sort_by(|one, other| one.0.cmp(&other.0));
        Ok(lists.into_iter().flat_map(|(_, rows)| rows).collect())
    }

    /// Claims a row that waits.
    pub(crate) fn claim_row(&self, row: &Waiting) -> io::Result<Claim> {
        let name = row.path.file_name().unwrap_or_default().to_string_lossy();
        let state = if name.ends_with(".refused") { ".refused" } else { "" };
        let claim = {
            let _alone = self.naming.lock().unwrap_or_else(PoisonError::into_inner);
            let claim = self.claim_called(&self.free_name(&row.job)?);
            rename_no_replace(&row.path, &self.state(&claim.id, state))?;
            claim
        };
        sync_folder(&self.claimed())?;
        // The folder it was in goes with its last row, whoever takes that.
        match row.path.parent().map_or(Ok(()), sync_folder) {
            Err(why) if why.kind() != ErrorKind::NotFound => return Err(why),
            _ => {}
        }
        self.forget_rows(&row.group);
        Ok(claim)
    }

    /// Removes the folder of a list's rows once none is in it.
    fn forget_rows(&self, group: &str) {
        let rows = self.state(group, ".rows");
        for place in [Place::First, Place::Held] {
            if let Some(name) = place.folder() {
                drop(fs::remove_dir(rows.join(name)));
            }
        }
        // As long as there is one, nothing is removed.
        drop(fs::remove_dir(rows));
    }

    /// The names of all jobs that are made or wait, so that none of them is made again unasked.
    pub(crate) fn known_jobs(&self) -> io::Result<BTreeSet<String>> {
        let mut known: BTreeSet<String> = names_in(&self.folders.kept)?.into_iter().collect();
        for name in names_in(&self.claimed())? {
            let ours = [
                ".tmp",
                ".refused",
                ".gone",
                ".unfolding",
                ".rows",
                super::sharing::WAITS,
                super::sharing::BEGUN,
            ];
            if !ours.iter().any(|state| name.ends_with(state)) {
                known.insert(name.strip_suffix(".done").unwrap_or(&name).to_owned());
            }
        }
        let waits = |row: &Waiting| !row.path.to_string_lossy().ends_with(".refused");
        known.extend(self.waiting_rows()?.into_iter().filter(waits).map(|row| row.job));
        Ok(known)
    }

    /// The reasons for which a claim is refused, as they were written down.
    pub(crate) fn reasons(&self, claim: &Claim) -> Vec<Reason> {
        let why = fs::read_to_string(self.state(&claim.id, ".refused").join(WHY));
        text::reasons(&why.unwrap_or_default())
    }
}

/// The names in a folder that may not be there.
fn names_in(folder: &Path) -> io::Result<Vec<String>> {
    match names(folder) {
        Err(why) if why.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        names => names,
    }
}

/// What the rows of a list have in common.
struct Sources {
    artwork: PathBuf,
    defaults: Option<PathBuf>,
    facts: Facts,
}

impl Sources {
    fn of(claim: &Path) -> io::Result<Self> {
        let (mut artwork, mut defaults) = (None, None);
        for entry in fs::read_dir(claim)? {
            let path = entry?.path();
            let name = path.file_name().unwrap_or_default();
            if is_defaults_name(name) {
                defaults = Some(path);
            } else if is_artwork_name(name) {
                artwork = Some(path);
            }
        }
        let artwork =
            artwork.ok_or_else(|| io::Error::new(ErrorKind::NotFound, "the list's artwork is gone"))?;
        Ok(Self { artwork, defaults, facts: Facts::read(claim)? })
    }

    /// Fills the folder of one row; whoever calls flushes it.
    fn share(&self, row: &Planned, folder: &Path) -> io::Result<()> {
        let mut artwork = PathBuf::from(format!("{}.", row.stem));
        artwork.as_mut_os_string().push(self.artwork.extension().unwrap_or_default());
        let files = [folder.join(format!("{}.yaml", row.stem)), folder.join(artwork)];
        let [sidecar, artwork] = &files;
        write(sidecar, row.sidecar.as_bytes())?;
        if fs::hard_link(&self.artwork, artwork).is_err() {
            // Some file systems know no second names; what else stands in the way stands in the way of a copy too.
            fs::copy(&self.artwork, artwork)?;
        }
        if let Some(defaults) = &self.defaults {
            write(&folder.join(defaults.file_name().unwrap_or_default()), &readable(defaults)?)?;
        }
        if !row.why.is_empty() {
            let faults: Vec<Fault> = row.why.iter().map(Fault::from).collect();
            write(&folder.join(WHY), text::why(&faults).as_bytes())?;
        }
        let facts = self.facts.of_others(&files)?;
        write(&folder.join(super::FACTS), &serde_json::to_vec(&facts)?)
    }
}

fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    File::create_new(path)?.write_all(bytes)
}
