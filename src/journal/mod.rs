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
//! A refusal writes `why.txt` into the claim, renames it to `ID.refused` and moves it to `refused/ID`. Before a folder
//! is renamed its files are flushed, after it both parents are.
//!
//! [`Journal::recover`] brings every state it can find back onto this way: `.tmp` is handed back, `.part` removed, a
//! plain claim worked again (or taken on, if its `.ready` stands), `.done` published if its `.ready` stands and else
//! it is known to be published, `.refused` moved on. Each job by itself: trouble with one does not stop the others.

mod claim;
pub(crate) mod files;
pub(crate) mod naming;
#[cfg(test)]
mod tests;

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_contract::{Blame, Fault};

use crate::config::{Folders, Keep};
use files::{move_folder, move_no_replace, remove_folder, sync_contents, write_whole};

pub(crate) use claim::{Claim, Signature, Source, SourceSet};

/// The hidden folder of claims inside the inbox.
pub(crate) const CLAIMED: &str = ".claimed";

/// The resolved order while the job is worked; visible as `order.yaml` once kept.
pub(crate) const ORDER: &str = ".order.yaml";

/// The folders in which jobs move.
#[derive(Debug, Clone)]
pub(crate) struct Journal {
    folders: Folders,
}

impl Journal {
    /// Makes the folders that are missing.
    pub(crate) fn open(folders: &Folders) -> io::Result<Self> {
        let journal = Self { folders: folders.clone() };
        for folder in
            [&folders.outgoing, &folders.refused, &folders.kept, &journal.claimed(), &journal.staging()]
        {
            fs::create_dir_all(folder)?;
        }
        Ok(journal)
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
        fs::create_dir_all(self.claimed())?;
        claim::take(self, set)
    }

    /// A name for a job that nothing in the studio bears yet.
    fn free_name(&self, wanted: &str) -> String {
        let taken = |id: &str| {
            let known = [&self.folders.outgoing, &self.folders.refused, &self.folders.kept];
            known.iter().any(|folder| there(&folder.join(id)))
                || ["", ".tmp", ".done", ".refused"].iter().any(|state| there(&self.state(id, state)))
                || there(&self.staged(id, ".ready"))
        };
        let numbered = (2_u32..).map(|n| format!("{wanted}-{n}"));
        std::iter::once(wanted.to_owned())
            .chain(numbered)
            .find(|id| !taken(id))
            .unwrap_or_else(|| wanted.to_owned())
    }

    /// An empty folder for the writers.
    pub(crate) fn stage(&self, claim: &Claim) -> io::Result<PathBuf> {
        let part = self.staged(&claim.id, ".part");
        remove_folder(&part)?;
        fs::create_dir_all(&part)?;
        Ok(part)
    }

    /// Whether an earlier run finished the work but was ended before it said so.
    pub(crate) fn is_ready(&self, claim: &Claim) -> bool {
        there(&self.staged(&claim.id, ".ready"))
    }

    /// From staged to published to kept. Returns where the finished folder is.
    pub(crate) fn deliver(&self, claim: &Claim) -> io::Result<PathBuf> {
        if !self.is_ready(claim) {
            let part = self.staged(&claim.id, ".part");
            sync_contents(&part)?;
            move_no_replace(&part, &self.staged(&claim.id, ".ready"))?;
        }
        sync_contents(&claim.folder)?;
        move_no_replace(&claim.folder, &self.state(&claim.id, ".done"))?;
        let published = self.publish(&claim.id)?;
        self.keep(&claim.id)?;
        Ok(published)
    }

    fn publish(&self, id: &str) -> io::Result<PathBuf> {
        let ready = self.staged(id, ".ready");
        to_free(numbered(&self.folders.outgoing, id), |to| move_no_replace(&ready, to))
    }

    fn keep(&self, id: &str) -> io::Result<PathBuf> {
        let done = self.state(id, ".done");
        match move_no_replace(&done.join(ORDER), &done.join("order.yaml")) {
            // Not there: renamed before a kill. Taken: the maker's own sidecar is called so, ours stays hidden.
            Err(why) if !matches!(why.kind(), ErrorKind::NotFound | ErrorKind::AlreadyExists) => {
                return Err(why);
            }
            _ => {}
        }
        to_free(numbered(&self.folders.kept, id), |to| move_folder(&done, to))
    }

    /// Moves a job's sources to `refused/` with the reasons.
    pub(crate) fn refuse(&self, claim: &Claim, faults: &[Fault]) -> io::Result<PathBuf> {
        remove_folder(&self.staged(&claim.id, ".part"))?;
        write_whole(&claim.folder.join("why.txt"), why(faults).as_bytes())?;
        sync_contents(&claim.folder)?;
        move_no_replace(&claim.folder, &self.state(&claim.id, ".refused"))?;
        self.set_aside(&claim.id)
    }

    fn set_aside(&self, id: &str) -> io::Result<PathBuf> {
        let refused = self.state(id, ".refused");
        to_free(numbered(&self.folders.refused, id), |to| move_folder(&refused, to))
    }

    /// Puts a job's sources back into the inbox, to be taken again.
    pub(crate) fn hand_back(&self, claim: &Claim) -> io::Result<()> {
        remove_folder(&self.staged(&claim.id, ".part"))?;
        let tmp = self.state(&claim.id, ".tmp");
        if claim.folder != tmp {
            move_no_replace(&claim.folder, &tmp)?;
        }
        claim::put_back(&tmp, &self.folders.incoming)
    }

    /// Removes the sources of jobs that were kept for as long as the studio wants.
    pub(crate) fn prune(&self, keep: Keep) -> io::Result<()> {
        let Keep::Days(days) = keep else { return Ok(()) };
        let longest = Duration::from_secs(u64::from(days) * 24 * 60 * 60);
        for name in names(&self.folders.kept)?.into_iter().filter(|name| !name.starts_with('.')) {
            let folder = self.folders.kept.join(&name);
            // A clock that was set back makes the age unknown, and what is unknown is kept.
            let old = folder.symlink_metadata()?.modified()?.elapsed().is_ok_and(|age| age > longest);
            if old && there(&folder.join(claim::FACTS)) {
                tracing::info!(job = %name, "kept long enough, removed");
                remove_folder(&folder)?;
            }
        }
        Ok(())
    }

    /// Brings every job found between two states back onto its way; returns the claims to work, by name.
    pub(crate) fn recover(&self) -> io::Result<Vec<Claim>> {
        let parts = names(&self.staging())?.into_iter().filter(|name| name.ends_with(".part"));
        for part in parts {
            remove_folder(&self.staging().join(part))?;
        }
        let mut waiting = Vec::new();
        for name in names(&self.claimed())? {
            match self.recover_one(&name) {
                Ok(claim) => waiting.extend(claim),
                Err(why) => {
                    tracing::error!(job = %name, %why, "this claim cannot be taken up; it stays where it is");
                }
            }
        }
        Ok(waiting)
    }

    fn recover_one(&self, name: &str) -> io::Result<Option<Claim>> {
        if let Some(id) = name.strip_suffix(".done") {
            if there(&self.staged(id, ".ready")) {
                self.publish(id)?;
            }
            self.keep(id)?;
        } else if let Some(id) = name.strip_suffix(".refused") {
            self.set_aside(id)?;
        } else if name.ends_with(".tmp") {
            claim::put_back(&self.claimed().join(name), &self.folders.incoming)?;
        } else {
            return Claim::read(&self.claimed().join(name), name).map(Some);
        }
        Ok(None)
    }
}

/// `why.txt`: a block for each reason, in plain words.
fn why(faults: &[Fault]) -> String {
    let mut text = String::from("This job could not be done.\n");
    for fault in faults {
        text.push('\n');
        if !fault.place.is_empty() {
            text.push_str(&format!("Where: {}\n", visible(&fault.place)));
        }
        text.push_str(&format!("What:  {}\n", visible(&fault.what)));
        if !fault.cure.is_empty() {
            text.push_str(&format!("Cure:  {}\n", visible(&fault.cure)));
        }
    }
    if faults.iter().all(|fault| fault.blame != Blame::Defect) {
        text.push_str("\nThen save artwork and sidecar into the inbox again.\n");
    }
    text
}

/// A text without what could play tricks on a terminal.
pub(crate) fn visible(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c) { '\u{fffd}' } else { c })
        .collect()
}

fn there(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// The names in a folder of ours, in order.
fn names(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        names.extend(entry?.file_name().into_string().ok());
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
