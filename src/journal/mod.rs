//! The states of a job, carried by folder names, so that a kill at any moment loses, doubles and half-shows nothing.
//!
//! Constraints first. Artwork and sidecar lie in a folder others write into; the result must appear whole, once, and
//! may be taken away the moment it appears; the power may fail between any two steps. A database could not commit
//! together with a rename, so the plain folders are the truth and every step is one rename that never replaces:
//!
//! 1. claim: `incoming/.claimed/ID.tmp` is made, [`Claim`]'s facts written into it, the sources moved in, then it is
//!    renamed to `ID`. Claims never cross a file system.
//! 2. work: the writers fill `outgoing/.staging/ID.part`; it is flushed and renamed to `ID.ready`.
//! 3. done: `ID` becomes `ID.done`. 4. publish: `ID.ready` becomes `outgoing/ID`.
//! 5. keep: `ID.done` becomes `kept/ID`.
//!
//! An order list is a job too; its rows are made between 2 and 3 ([`rows`]). So are sheets that several jobs share ([`sharing`]).
//!
//! A refusal writes `why.txt` into the claim, renames it to `ID.refused` and moves it to `refused/ID`. Before a folder
//! is renamed its files are flushed, after it both parents are. Where `kept/` or `refused/` is on another file system,
//! the folder is copied there, and what is left of it here is called `ID.gone` before it is removed.
//!
//! [`Journal::recover`] brings every state it can find back onto this way: `.tmp` is handed back, `.part`, `.gone` and
//! `.unfolding` removed, a plain claim worked again (or taken on, if its `.ready` stands), `.done` published if its
//! `.ready` stands and else it is known to be published, `.refused` moved on. Each job by itself: trouble with one does
//! not stop the others, and every step may be repeated.

mod claim;
pub(crate) mod clock;
mod defaults;
pub(crate) mod files;
pub(crate) mod naming;
mod recovery;
mod rows;
mod sharing;
#[cfg(test)]
mod tests;
mod text;

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use seamwright_contract::Fault;

use crate::config::{Folders, Keep};
use crate::deliver::Slips;
use crate::history::{self, Line};
use files::{copy_folder, move_no_replace, remove_folder, sync_contents, sync_folder, unshare, write_whole};

pub use claim::Claim;
pub(crate) use claim::FACTS;
pub(crate) use claim::{Signature, Source, SourceSet};
pub(crate) use rows::{PLAN, Plan, Planned, Waiting};
pub(crate) use sharing::{Offered, members};
pub(crate) use text::{block, in_words, lines_visible, reasons, visible};

/// The hidden folder of claims inside the inbox.
pub(crate) const CLAIMED: &str = ".claimed";

/// The resolved order, and what was decided by it. Hidden, as all that is ours among the maker's files, while the job is
/// worked; visible without the dot once kept.
pub(crate) const ORDER: &str = ".order.yaml";
pub(crate) const RECORD: &str = ".record.json";

/// What the studio's own programs consist of that had a hand in a claimed job.
pub(crate) const PROGRAMS: &str = ".programs";

/// The reasons of a refusal.
pub(crate) const WHY: &str = "why.txt";

/// One of our files in a folder of `kept/`: hidden still where the maker's own file bears its name.
pub(crate) fn kept_file(folder: &Path, name: &str) -> PathBuf {
    let hidden = folder.join(name);
    if hidden.exists() { hidden } else { folder.join(name.trim_start_matches('.')) }
}

/// The states of a claim besides the plain one, in the order a job goes through them.
const STATES: [&str; 8] = [".tmp", "", sharing::WAITS, ".unfolding", ".rows", ".done", ".refused", ".gone"];

/// The folders in which jobs move.
#[derive(Debug, Clone)]
pub struct Journal {
    folders: Folders,
    /// Held while a name is chosen, so that two jobs never choose the same.
    naming: Arc<Mutex<()>>,
}

/// How far a claimed job got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// It is to be worked.
    Claimed,
    /// Its files are complete; it is to be delivered.
    Worked,
    /// It is refused, but not yet where refusals lie.
    Refused,
    /// Its claim is not there any more: somebody took the inbox away.
    Gone,
}

impl Journal {
    /// Makes the folders that are missing.
    ///
    /// # Errors
    /// Why one cannot be made.
    pub fn open(folders: &Folders) -> io::Result<Self> {
        let journal = Self::of(folders);
        for folder in
            [&folders.outgoing, &folders.refused, &folders.kept, &journal.claimed(), &journal.staging()]
        {
            fs::create_dir_all(folder)?;
            folder.parent().map_or(Ok(()), sync_folder)?;
        }
        Ok(journal)
    }

    /// In folders that may be missing: enough to look into them.
    pub(crate) fn of(folders: &Folders) -> Self {
        Self { folders: folders.clone(), naming: Arc::default() }
    }

    fn claimed(&self) -> PathBuf {
        self.folders.incoming.join(CLAIMED)
    }

    fn staging(&self) -> PathBuf {
        self.folders.outgoing.join(".staging")
    }

    fn state(&self, id: &str, state: &str) -> PathBuf {
        self.claimed().join(format!("{id}{state}"))
    }

    fn staged(&self, id: &str, state: &str) -> PathBuf {
        self.staging().join(format!("{id}{state}"))
    }

    /// Takes a set of files out of the inbox.
    pub(crate) fn claim(&self, set: &SourceSet) -> io::Result<Claim> {
        // Not the inbox itself: where it was taken away, another one in its place would bar its way back.
        match fs::create_dir(self.claimed()) {
            Err(why) if why.kind() != ErrorKind::AlreadyExists => return Err(why),
            _ => {}
        }
        claim::take(self, set)
    }

    /// A name for a new job, and its folder.
    fn begin(&self, wanted: &str) -> io::Result<(String, PathBuf)> {
        let _alone = self.naming.lock().unwrap_or_else(PoisonError::into_inner);
        let id = self.free_name(wanted)?;
        let tmp = self.state(&id, ".tmp");
        fs::create_dir(&tmp)?;
        sync_folder(&self.claimed())?;
        Ok((id, tmp))
    }

    /// A name that nothing in the studio bears yet. Looked for in the order in which jobs move, so that one that moves
    /// meanwhile is met.
    fn free_name(&self, wanted: &str) -> io::Result<String> {
        let results = [&self.folders.outgoing, &self.folders.refused, &self.folders.kept];
        let numbered = (2_u32..).map(|n| format!("{wanted}-{n}"));
        for id in std::iter::once(wanted.to_owned()).chain(numbered) {
            let claims = STATES.iter().map(|state| self.state(&id, state));
            let staged = std::iter::once(self.staged(&id, ".ready"));
            if !any_there(claims.chain(staged).chain(results.iter().map(|folder| folder.join(&id))))? {
                return Ok(id);
            }
        }
        Err(ErrorKind::AlreadyExists.into())
    }

    /// How far a job got before it was interrupted.
    pub(crate) fn standing(&self, claim: &Claim) -> io::Result<Standing> {
        Ok(if there(&self.state(&claim.id, ".refused"))? {
            Standing::Refused
        } else if there(&self.state(&claim.id, ".done"))? {
            Standing::Worked
        } else if !there(&claim.folder)? {
            Standing::Gone
        } else if there(&self.staged(&claim.id, ".ready"))? || there(&self.state(&claim.id, ".rows"))? {
            Standing::Worked
        } else {
            Standing::Claimed
        })
    }

    /// An empty folder for the writers.
    pub(crate) fn stage(&self, claim: &Claim) -> io::Result<PathBuf> {
        self.stage_aside(&claim.id)
    }

    /// An empty folder of this name for what is not yet to be seen; one that was left is removed at the next start.
    pub(crate) fn stage_aside(&self, name: &str) -> io::Result<PathBuf> {
        let part = self.staged(name, ".part");
        remove_folder(&part)?;
        fs::create_dir_all(&part)?;
        Ok(part)
    }

    /// Publishes the files of such a folder beside the finished jobs, each under a name of its own that begins with the
    /// stem, and removes it.
    pub(crate) fn publish_files(&self, part: &Path, stem: &str) -> io::Result<Vec<PathBuf>> {
        sync_contents(part)?;
        let mut published = Vec::new();
        for name in names(part)? {
            let wanted = format!("{stem}-{name}");
            let places =
                (1..).map(|number| self.folders.outgoing.join(claim::numbered(wanted.as_ref(), number)));
            published.push(to_free(places, |to| move_no_replace(&part.join(&name), to))?);
        }
        remove_folder(part)?;
        Ok(published)
    }

    /// Publishes such a folder whole beside the finished jobs, under this name or one that begins with it.
    pub(crate) fn publish_folder(&self, part: &Path, name: &str) -> io::Result<PathBuf> {
        sync_contents(part)?;
        to_free(numbered(&self.folders.outgoing, name), |to| move_no_replace(part, to))
    }

    /// Whether the claimed files still are what was claimed. Where that cannot be told, what is there counts.
    pub(crate) fn is_unchanged(&self, claim: &Claim) -> bool {
        claim::Facts::read(&claim.folder).map_or(true, |facts| facts.hold(&claim.folder))
    }

    /// From staged to published to kept, from wherever it was interrupted. Returns where the finished folder is.
    pub(crate) fn deliver(&self, claim: &Claim) -> io::Result<PathBuf> {
        let (part, ready) = (self.staged(&claim.id, ".part"), self.staged(&claim.id, ".ready"));
        let done = self.state(&claim.id, ".done");
        if !there(&done)? {
            // Before it counts as worked: what is kept of it was written by the same work.
            sync_contents(&claim.folder)?;
            if !there(&ready)? && !there(&self.state(&claim.id, ".rows"))? {
                sync_contents(&part)?;
                move_no_replace(&part, &ready)?;
            }
            self.unfold(claim)?;
            move_no_replace(&claim.folder, &done)?;
        }
        self.finish(&claim.id)
    }

    /// From done to published to kept.
    fn finish(&self, id: &str) -> io::Result<PathBuf> {
        let ready = self.staged(id, ".ready");
        let published = if there(&ready)? {
            to_free(numbered(&self.folders.outgoing, id), |to| move_no_replace(&ready, to))?
        } else {
            self.folders.outgoing.join(id)
        };
        remove_folder(&self.state(id, ".done").join(sharing::MEMBERS))?;
        show_ours(&self.state(id, ".done"))?;
        self.leave(id, ".done", &self.folders.kept)?;
        Ok(published)
    }

    /// Moves a job's sources to `refused/` with the reasons.
    pub(crate) fn refuse(&self, claim: &Claim, faults: &[Fault]) -> io::Result<PathBuf> {
        remove_folder(&self.staged(&claim.id, ".part"))?;
        write_whole(&claim.folder.join(WHY), text::why(faults).as_bytes())?;
        sync_contents(&claim.folder)?;
        move_no_replace(&claim.folder, &self.state(&claim.id, ".refused"))?;
        self.set_aside(&claim.id)
    }

    /// From refused to where refusals lie.
    pub(crate) fn set_aside(&self, id: &str) -> io::Result<PathBuf> {
        unshare(&self.state(id, ".refused"))?;
        self.leave(id, ".refused", &self.folders.refused)
    }

    /// Moves a claim out of the folder of claims, to another file system if it must be.
    fn leave(&self, id: &str, state: &str, folder: &Path) -> io::Result<PathBuf> {
        let from = self.state(id, state);
        // Somebody may have tidied it away.
        fs::create_dir_all(folder)?;
        match to_free(numbered(folder, id), |to| move_no_replace(&from, to)) {
            Err(why) if why.kind() == ErrorKind::CrossesDevices => {}
            done => return done,
        }
        let facts = fs::read(from.join(FACTS)).ok();
        let at = to_free(numbered(folder, id), |to| {
            let copied = facts.is_some() && fs::read(to.join(FACTS)).ok() == facts;
            match (copied, there(to)?) {
                (true, _) => Ok(()),
                (false, true) => Err(ErrorKind::AlreadyExists.into()),
                (false, false) => copy_folder(&from, to),
            }
        })?;
        let gone = self.state(id, ".gone");
        move_no_replace(&from, &gone)?;
        if let Err(why) = remove_folder(&gone) {
            tracing::warn!(job = %id, %why, "what was copied cannot be removed yet; it is at the next start");
        }
        Ok(at)
    }

    /// Puts a job's sources back into the inbox, to be taken again.
    pub(crate) fn hand_back(&self, claim: &Claim) -> io::Result<()> {
        for state in [".part", ".ready"] {
            remove_folder(&self.staged(&claim.id, state))?;
        }
        let tmp = self.state(&claim.id, ".tmp");
        move_no_replace(&claim.folder, &tmp)?;
        claim::put_back(&tmp, &self.folders.incoming).map(drop)
    }

    /// Puts the sources of a refused job back into the inbox, with whatever the maker has mended or laid beside them. Returns
    /// the folder's defaults, if they are among that.
    pub(crate) fn retry(&self, id: &str) -> io::Result<Option<PathBuf>> {
        if !crate::intake::is_bare_name(id) {
            return Err(ErrorKind::NotFound.into());
        }
        let (from, tmp) = (self.folders.refused.join(id), self.state(id, ".tmp"));
        // What stands in the way of mended defaults is told before anything is moved.
        claim::mended(&from, &self.folders.incoming)?;
        match move_no_replace(&from, &tmp) {
            Err(why) if why.kind() == ErrorKind::CrossesDevices => {
                copy_folder(&from, &tmp)?;
                remove_folder(&from)?;
            }
            done => done?,
        }
        claim::put_back(&tmp, &self.folders.incoming)
    }

    /// Forgets what was begun of a claim that is not there any more. What is complete stays: it is all there is of the
    /// job, should the claim come back as done.
    pub(crate) fn forget(&self, claim: &Claim) -> io::Result<()> {
        remove_folder(&self.staged(&claim.id, ".part"))
    }

    /// Adds to the history log.
    pub(crate) fn tell(&self, line: &Line) {
        history::add(&self.folders.kept, line);
    }

    /// The record of a job that is worked and not yet delivered; nothing where it left none.
    pub(crate) fn record(&self, claim: &Claim) -> Option<Vec<u8>> {
        let places = [claim.folder.clone(), self.state(&claim.id, ".done")];
        places.iter().find_map(|place| fs::read(kept_file(place, RECORD)).ok())
    }

    /// The slips of what is to be printed.
    pub(crate) fn slips(&self) -> Slips {
        Slips::of(&self.folders)
    }

    /// One of the files of a job that is worked and not yet published.
    pub(crate) fn staged_file(&self, claim: &Claim, name: &str) -> io::Result<Option<PathBuf>> {
        for state in [".part", ".ready"] {
            let file = self.staged(&claim.id, state).join(name);
            if there(&file)? {
                return Ok(Some(file));
            }
        }
        Ok(None)
    }

    /// What becomes of the rows of a list that is worked and not yet delivered; nothing where it is none.
    pub(crate) fn plan_of(&self, claim: &Claim) -> Option<Plan> {
        let places = [claim.folder.clone(), self.state(&claim.id, ".done")];
        places.iter().find_map(|place| Plan::of(place).ok().flatten())
    }

    /// Removes the sources of jobs that were kept for as long as the studio wants.
    pub(crate) fn prune(&self, keep: Keep) -> io::Result<()> {
        let Keep::Days(days) = keep else { return Ok(()) };
        let longest = Duration::from_secs(u64::from(days) * 24 * 60 * 60);
        for name in names(&self.folders.kept)?.into_iter().filter(|name| !name.starts_with('.')) {
            let folder = self.folders.kept.join(&name);
            // A clock that was set back makes the age unknown, and what is unknown is kept.
            let old = |facts: fs::Metadata| facts.modified()?.elapsed().map_err(io::Error::other);
            let age = folder.symlink_metadata().and_then(old);
            if age.is_ok_and(|age| age > longest) && there(&folder.join(FACTS))? {
                tracing::info!(job = %name, "kept long enough, removed");
                remove_folder(&folder)?;
            }
        }
        Ok(())
    }
}

/// Takes the dot from the names of our files among the maker's, so that people find them; the facts of the claim stay ours.
fn show_ours(folder: &Path) -> io::Result<()> {
    let entries = match fs::read_dir(folder) {
        // Kept already, before a kill.
        Err(why) if why.kind() == ErrorKind::NotFound => return Ok(()),
        entries => entries?,
    };
    for entry in entries {
        let name = entry?.file_name();
        let Some(shown) = name.to_str().and_then(|name| name.strip_prefix('.')) else { continue };
        if name == FACTS || shown.ends_with(".part") {
            continue;
        }
        match move_no_replace(&folder.join(&name), &folder.join(shown)) {
            // Taken: the maker's own file is called so, ours stays hidden.
            Err(why) if why.kind() == ErrorKind::AlreadyExists => {}
            done => done?,
        }
    }
    Ok(())
}

/// Whether something bears this name. What cannot be told is trouble and never "no": on a "no" files are removed and jobs
/// count as published.
fn there(path: &Path) -> io::Result<bool> {
    match path.symlink_metadata() {
        Ok(_) => Ok(true),
        Err(why) if why.kind() == ErrorKind::NotFound => Ok(false),
        Err(why) => Err(why),
    }
}

fn any_there(mut paths: impl Iterator<Item = PathBuf>) -> io::Result<bool> {
    paths.try_fold(false, |found, path| Ok(found || there(&path)?))
}

/// The names in a folder of ours, in order; hidden ones are no jobs.
fn names(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        names.extend(entry?.file_name().into_string().ok().filter(|name| !name.starts_with('.')));
    }
    names.sort();
    Ok(names)
}

/// `folder/id`, then `folder/id-2`, `folder/id-3` and so on.
fn numbered(folder: &Path, id: &str) -> impl Iterator<Item = PathBuf> {
    let more = (2_u32..).map(move |n| format!("{id}-{n}"));
    std::iter::once(id.to_owned()).chain(more).map(move |name| folder.join(name))
}

/// Moves to the first of these places that nobody has taken.
fn to_free(
    places: impl Iterator<Item = PathBuf>,
    move_to: impl Fn(&Path) -> io::Result<()>,
) -> io::Result<PathBuf> {
    for to in places {
        match move_to(&to) {
            Err(why) if matches!(why.kind(), ErrorKind::AlreadyExists | ErrorKind::DirectoryNotEmpty) => {}
            done => return done.map(|()| to),
        }
    }
    Err(ErrorKind::AlreadyExists.into())
}
