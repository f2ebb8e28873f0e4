//! Which sets of files in the inbox are complete, and in what order they are taken.
//!
//! Notifications only wake us ([`wake`]); what is there, a scan finds out ([`scan`]), at start, after every wake and
//! on a timer. A file is written completely when its facts have not changed for the quiet time and, where its format
//! has an end mark, the mark is there. Files of one stem in one folder belong together; artwork waits for its sidecar
//! and a sidecar for its artwork, and both for the list they name, up to the configured time, and then go as they are,
//! to be refused with the reason.
//! All waiting is counted on the monotonic clock. How long a file was left alone before it was first seen is told by
//! the file system's own clock, whichever machine keeps it.

mod groups;
mod scan;
#[cfg(test)]
mod tests;
mod wake;
mod writers;

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fs::{self, File};
use std::io;
use std::os::unix::fs::FileExt as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::intake::{Named, named_by};
use crate::journal::files::open_plain;
use crate::journal::{CLAIMED, Signature, SourceSet, visible};
use crate::registry;
use groups::Missing;
use scan::{Found, Kind, Scanner};

pub(crate) use groups::{Group, Place};
pub(crate) use wake::Wake;

/// How patient the watch is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Patience {
    /// For how long a file must have been left alone.
    pub(crate) quiet: Duration,
    /// For how long artwork or sidecar waits for the other.
    pub(crate) wait: Duration,
    /// For how long an unchanged file may lack its end mark, or be open for writing.
    pub(crate) unfinished: Duration,
}

/// All sets in an inbox, complete or not, wherever in the queue they stand.
pub(crate) fn lying_in(incoming: &Path) -> io::Result<Vec<Group>> {
    let found = Scanner::default().scan(incoming)?;
    Ok(groups::group(&found, named_by))
}

/// What was seen of one file.
#[derive(Debug, Clone)]
struct Seen {
    signature: Signature,
    /// When it first looked like this.
    since: Instant,
    /// When it was first seen at all.
    first: Instant,
    /// Whether it was left alone for the quiet time before it was first seen.
    old: bool,
    /// Whether it is begun and its end mark is there, once asked.
    ended: Option<bool>,
    /// What an order names, once read.
    names: Option<Named>,
    /// Whether it was said that it waits.
    told: bool,
}

/// The inbox as it was seen so far.
#[derive(Debug)]
pub(crate) struct Inbox {
    folder: PathBuf,
    pub(crate) patience: Patience,
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
        let unsettled = self.unsettled(&found, now);
        let groups = groups::group(&found, |order| self.named(order, now));
        self.tell_of_lists(&found, &groups, now);
        let mut look = Look::default();
        let mut ready = Vec::new();
        for group in groups.into_iter().filter(|group| group.place() != Place::Held) {
            if self.is_to_be_taken(&group, &unsettled, now) {
                ready.push(group);
            } else {
                look.waiting += group.files.len();
            }
        }
        let written = self.written_to(&ready, now);
        ready.retain(|group| {
            let waits = group.files.iter().any(|(_, _, signature)| written.contains(&signature.inode));
            look.waiting += if waits { group.files.len() } else { 0 };
            !waits
        });
        // Names decide between equals.
        ready.sort_by_key(Group::turn);
        look.ready = ready
            .into_iter()
            .map(|group| {
                let first_seen = self.first_seen(&group).unwrap_or(now);
                group.into_set(first_seen)
            })
            .collect();
        Ok(look)
    }

    fn remember(&mut self, found: &Found, now: Instant) {
        self.seen.retain(|path, _| found.contains_key(path));
        // Asked only where there is something new, and once.
        let mut clock = None;
        for (path, (_, signature)) in found {
            match self.seen.get_mut(path) {
                Some(seen) if seen.signature == *signature => {}
                Some(seen) => *seen = Seen { first: seen.first, ..Seen::new(*signature, false, now) },
                None => {
                    let clock = *clock.get_or_insert_with(|| file_system_time(&self.folder).ok());
                    let old = clock.is_some_and(|clock| is_old(signature, clock, self.patience.quiet));
                    self.seen.insert(path.clone(), Seen::new(*signature, old, now));
                }
            }
        }
    }

    fn settled(&self, path: &Path, now: Instant) -> bool {
        self.seen
            .get(path)
            .is_some_and(|seen| seen.old || now.duration_since(seen.since) >= self.patience.quiet)
    }

    /// The folders in which something is still being written.
    fn unsettled(&self, found: &Found, now: Instant) -> BTreeSet<PathBuf> {
        let moving = found.keys().filter(|path| !self.settled(path, now));
        moving.filter_map(|path| path.parent()).map(Path::to_owned).collect()
    }

    /// What a settled order names.
    fn named(&mut self, order: &Path, now: Instant) -> Named {
        if !self.settled(order, now) {
            return Named::default();
        }
        let Some(seen) = self.seen.get_mut(order) else { return Named::default() };
        seen.names.get_or_insert_with(|| named_by(order)).clone()
    }

    /// Says once of each list that no order names it; it may be a list of something else.
    fn tell_of_lists(&mut self, found: &Found, groups: &[Group], now: Instant) {
        let named: BTreeSet<&PathBuf> =
            groups.iter().flat_map(|group| &group.files).map(|(path, _, _)| path).collect();
        let lists = found.iter().filter(|(_, (kind, _))| *kind == Kind::List).map(|(path, _)| path);
        for path in lists.filter(|path| !named.contains(path)) {
            if let Some(seen) = self.seen.get_mut(path)
                && now.duration_since(seen.first) >= self.patience.wait
                && !std::mem::replace(&mut seen.told, true)
            {
                tracing::info!(file = %visible(&path.to_string_lossy()), "is a list that no order names, and is left alone");
            }
        }
    }

    /// The inodes in these groups that somebody has open for writing, and may yet write to. Asked for all at once, since it
    /// is as much work as for one.
    fn written_to(&self, groups: &[Group], now: Instant) -> BTreeSet<u64> {
        let may_grow = |path: &PathBuf| {
            self.seen.get(path).is_some_and(|seen| now.duration_since(seen.since) < self.patience.unfinished)
        };
        let files: BTreeMap<u64, PathBuf> = groups
            .iter()
            .flat_map(|group| &group.files)
            .filter(|(path, _, _)| may_grow(path))
            .map(|(path, _, signature)| (signature.inode, path.clone()))
            .collect();
        if files.is_empty() { BTreeSet::new() } else { writers::writing(&files) }
    }

    fn first_seen(&self, group: &Group) -> Option<Instant> {
        group.files.iter().filter_map(|(path, _, _)| self.seen.get(path)).map(|seen| seen.first).min()
    }

    fn is_to_be_taken(&mut self, group: &Group, unsettled: &BTreeSet<PathBuf>, now: Instant) -> bool {
        let mut parts = group.files.iter().map(|(path, _, _)| path).chain(&group.defaults);
        if parts.any(|path| !self.settled(path, now)) {
            return false;
        }
        if group.files.iter().any(|(path, kind, _)| *kind == Kind::Artwork && self.unfinished(path, now)) {
            return false;
        }
        let Some(missing) = group.missing() else { return true };
        // What is being written beside it may be what it waits for.
        if unsettled.contains(&group.folder) {
            return false;
        }
        let waited =
            self.first_seen(group).is_none_or(|first| now.duration_since(first) >= self.patience.wait);
        if !waited {
            self.tell(group, missing);
        }
        waited
    }

    /// Says once that a set waits.
    fn tell(&mut self, group: &Group, missing: Missing) {
        let Some((path, _, _)) = group.files.first() else { return };
        if let Some(seen) = self.seen.get_mut(path)
            && !std::mem::replace(&mut seen.told, true)
        {
            let what = match missing {
                Missing::Sidecar => "waits for its sidecar",
                Missing::Artwork => "waits for its artwork",
                Missing::List => "waits for its list",
            };
            let at_most = self.patience.wait;
            tracing::info!(file = %visible(&path.to_string_lossy()), ?at_most, "{what}");
        }
    }

    /// Whether a file still lacks its format's end mark and may yet get it.
    fn unfinished(&mut self, path: &Path, now: Instant) -> bool {
        let Some(seen) = self.seen.get_mut(path) else { return true };
        let ended = *seen.ended.get_or_insert_with(|| is_whole(path));
        !ended && now.duration_since(seen.since) < self.patience.unfinished
    }
}

impl Seen {
    fn new(signature: Signature, old: bool, now: Instant) -> Self {
        Self { signature, since: now, first: now, old, ended: None, names: None, told: false }
    }
}

/// Whether neither content nor status of a file changed within the quiet time. A time to come tells nothing.
fn is_old(signature: &Signature, clock: i128, quiet: Duration) -> bool {
    let quiet = i128::try_from(quiet.as_nanos()).unwrap_or(i128::MAX);
    clock - signature.modified.max(signature.changed) >= quiet
}

/// Whether a file is begun and its end mark is there. What cannot be opened counts as whole: taking it says more.
fn is_whole(path: &Path) -> bool {
    open_plain(path).map_or(true, |file| is_begun(&file) && registry::looks_complete(file))
}

/// Whether anything stands at the start of a file. Some copiers first make a file of the whole size, and of nothing but
/// noughts.
fn is_begun(file: &File) -> bool {
    let mut head = [0; 16];
    file.read_at(&mut head, 0).is_err() || head.iter().any(|byte| *byte != 0)
}

/// The time as the file system of the inbox has it, in nanoseconds, read off a file of our own.
fn file_system_time(folder: &Path) -> io::Result<i128> {
    let claims = folder.join(CLAIMED);
    match fs::create_dir(&claims) {
        Err(why) if why.kind() != io::ErrorKind::AlreadyExists => return Err(why),
        _ => {}
    }
    // An empty file cut to nothing is changed all the same.
    let facts = File::create(claims.join(".now"))?.metadata()?;
    Ok(Signature::from(&facts).changed)
}
