//! Which sets of files in the inbox are complete, and in what order they are taken.
//!
//! Notifications only wake us ([`wake`]); what is there, a scan finds out ([`scan`]), at start, after every wake and
//! on a timer. A file is written completely when its facts have not changed for the quiet time and, where its format
//! has an end mark, the mark is there. Files of one stem in one folder belong together; artwork waits for its sidecar
//! and a sidecar for its artwork, up to the configured time, and then goes as it is, to be refused with the reason.
//! All waiting is counted on the monotonic clock.

mod scan;
#[cfg(test)]
mod tests;
mod wake;

use std::collections::{BTreeMap, HashMap};
use std::ffi::OsString;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::intake::artwork_named_by;
use crate::journal::{Source, SourceSet};
use crate::registry;
use scan::{Facts, Found, Kind, Scanner};

pub(crate) use wake::Wake;

/// How patient the watch is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Patience {
    /// For how long a file must have been left alone.
    pub(crate) quiet: Duration,
    /// For how long artwork or sidecar waits for the other.
    pub(crate) wait: Duration,
    /// For how long a file may lack its end mark.
    pub(crate) unfinished: Duration,
}

/// What was seen of one file.
#[derive(Debug, Clone)]
struct Seen {
    facts: Facts,
    /// When it first looked like this.
    since: Instant,
    /// When it was first seen at all.
    first: Instant,
    /// Whether its end mark is there, once asked.
    ended: Option<bool>,
    /// The artwork a sidecar names, once read.
    names: Option<Option<OsString>>,
}

/// The inbox as it was seen so far.
#[derive(Debug)]
pub(crate) struct Inbox {
    folder: PathBuf,
    patience: Patience,
    scanner: Scanner,
    seen: HashMap<PathBuf, Seen>,
}

/// What one look at the inbox found.
#[derive(Debug, Default)]
pub(crate) struct Look {
    /// Sets to take, the oldest first.
    pub(crate) ready: Vec<SourceSet>,
    /// How many files are not yet to be taken.
    pub(crate) waiting: usize,
}

impl Inbox {
    pub(crate) fn new(folder: &Path, patience: Patience) -> Self {
        Self { folder: folder.to_owned(), patience, scanner: Scanner::default(), seen: HashMap::new() }
    }

    /// Scans, and says which sets are to be taken at this moment.
    pub(crate) fn look(&mut self, now: Instant) -> io::Result<Look> {
        let found = self.scanner.scan(&self.folder)?;
        self.remember(&found, now);
        let mut look = Look::default();
        let mut ready = Vec::new();
        for group in self.groups(&found, now) {
            match self.judge(&group, now) {
                Verdict::Take => ready.push(group),
                Verdict::Wait => look.waiting += group.files.len(),
            }
        }
        // Whole sets in the order in which their last file was written, names deciding between equals.
        ready.sort_by_key(|group| group.files.iter().map(|(_, _, facts)| facts.signature.modified).max());
        look.ready = ready.into_iter().map(Group::into_set).collect();
        Ok(look)
    }

    fn remember(&mut self, found: &Found, now: Instant) {
        self.seen.retain(|path, _| found.contains_key(path));
        for (path, (_, facts)) in found {
            let seen = self.seen.entry(path.clone()).or_insert_with(|| Seen::new(*facts, now));
            if seen.facts != *facts {
                *seen = Seen { first: seen.first, ..Seen::new(*facts, now) };
            }
        }
    }

    fn settled(&self, path: &Path, now: Instant) -> bool {
        self.seen.get(path).is_some_and(|seen| now.duration_since(seen.since) >= self.patience.quiet)
    }

    /// Files by folder and stem; a sidecar that names other artwork goes with it.
    fn groups(&mut self, found: &Found, now: Instant) -> Vec<Group> {
        let mut groups: BTreeMap<(PathBuf, String), Group> = BTreeMap::new();
        let mut defaults: HashMap<PathBuf, PathBuf> = HashMap::new();
        for (path, (kind, facts)) in found {
            let folder = path.parent().unwrap_or(&self.folder).to_owned();
            if *kind == Kind::Defaults {
                if self.settled(path, now) {
                    defaults.insert(folder, path.clone());
                }
                continue;
            }
            let named = if *kind == Kind::Sidecar { self.named(path, &folder, found, now) } else { None };
            let stem = stem(named.as_deref().unwrap_or(path));
            let group = groups.entry((folder, stem.to_lowercase())).or_insert_with(|| Group::new(stem));
            group.files.push((path.clone(), *kind, *facts));
        }
        for ((folder, _), group) in &mut groups {
            group.defaults = defaults.get(folder).cloned();
        }
        groups.into_values().collect()
    }

    /// The other artwork that a settled sidecar names, if it is there.
    fn named(&mut self, sidecar: &Path, folder: &Path, found: &Found, now: Instant) -> Option<PathBuf> {
        if !self.settled(sidecar, now) {
            return None;
        }
        let seen = self.seen.get_mut(sidecar)?;
        let name = seen.names.get_or_insert_with(|| artwork_named_by(sidecar)).clone()?;
        Some(folder.join(name)).filter(|path| found.contains_key(path))
    }

    fn judge(&mut self, group: &Group, now: Instant) -> Verdict {
        if group.files.iter().any(|(path, _, _)| !self.settled(path, now)) {
            return Verdict::Wait;
        }
        if group.files.iter().any(|(path, kind, _)| *kind == Kind::Artwork && self.unfinished(path, now)) {
            return Verdict::Wait;
        }
        let has = |wanted: Kind| group.files.iter().any(|(_, kind, _)| *kind == wanted);
        if has(Kind::Artwork) && (has(Kind::Sidecar) || group.defaults.is_some()) {
            return Verdict::Take;
        }
        let first =
            group.files.iter().filter_map(|(path, _, _)| self.seen.get(path)).map(|seen| seen.first).min();
        let waited = first.is_none_or(|first| now.duration_since(first) >= self.patience.wait);
        if waited { Verdict::Take } else { Verdict::Wait }
    }

    /// Whether a file still lacks its format's end mark and may yet get it.
    fn unfinished(&mut self, path: &Path, now: Instant) -> bool {
        let Some(seen) = self.seen.get_mut(path) else { return true };
        let ended = *seen.ended.get_or_insert_with(|| registry::looks_complete(path));
        !ended && now.duration_since(seen.since) < self.patience.unfinished
    }
}

impl Seen {
    fn new(facts: Facts, now: Instant) -> Self {
        Self { facts, since: now, first: now, ended: None, names: None }
    }
}

enum Verdict {
    Take,
    Wait,
}

/// Files that belong together.
#[derive(Debug)]
struct Group {
    stem: String,
    files: Vec<(PathBuf, Kind, Facts)>,
    defaults: Option<PathBuf>,
}

impl Group {
    fn new(stem: String) -> Self {
        Self { stem, files: Vec::new(), defaults: None }
    }

    /// Sidecars first, so that a claim never holds artwork whose sidecar is still in the inbox.
    fn into_set(mut self) -> SourceSet {
        self.files.sort_by_key(|(_, kind, _)| *kind != Kind::Sidecar);
        let source = |(path, _, facts): (PathBuf, Kind, Facts)| Source { path, signature: facts.signature };
        SourceSet {
            stem: self.stem,
            files: self.files.into_iter().map(source).collect(),
            defaults: self.defaults,
        }
    }
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}
