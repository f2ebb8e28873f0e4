//! Which files belong together.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::time::Instant;

use unicode_normalization::UnicodeNormalization as _;

use super::scan::{Found, Kind};
use crate::journal::{Signature, Source, SourceSet};

/// Where in the queue the files of a folder stand. A folder called `first` or `hold` is that place in the queue of the
/// folder it lies in, so that a maker moves a job by moving its files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// Before all others.
    First,
    /// In the order in which it was saved.
    Usual,
    /// Not before it is moved out again.
    Held,
}

impl Place {
    /// The name of its folder.
    pub(crate) fn folder(self) -> Option<&'static str> {
        match self {
            Self::First => Some("first"),
            Self::Usual => None,
            Self::Held => Some("hold"),
        }
    }

    fn of(folder: &Path) -> Self {
        let name = folder.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
        let named = [Self::First, Self::Held].into_iter().find(|place| place.folder() == Some(&name));
        named.unwrap_or(Self::Usual)
    }
}

/// Files of one stem in one folder.
#[derive(Debug, Clone)]
pub(crate) struct Group {
    pub(crate) folder: PathBuf,
    pub(crate) stem: String,
    pub(crate) files: Vec<(PathBuf, Kind, Signature)>,
    pub(super) defaults: Option<PathBuf>,
}

/// What a group waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Missing {
    Sidecar,
    Artwork,
}

/// Files by folder and stem, in the order of both; a sidecar that names other artwork goes with it.
pub(super) fn group(found: &Found, mut named: impl FnMut(&Path) -> Option<PathBuf>) -> Vec<Group> {
    let mut groups: BTreeMap<(PathBuf, String), Group> = BTreeMap::new();
    let mut defaults: HashMap<PathBuf, PathBuf> = HashMap::new();
    for (path, (kind, signature)) in found {
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        if *kind == Kind::Defaults {
            defaults.insert(folder, path.clone());
            continue;
        }
        let named = if *kind == Kind::Sidecar { named(path) } else { None };
        let stem = named.as_deref().unwrap_or(path).file_stem().unwrap_or_default().to_string_lossy();
        let group = groups.entry((folder.clone(), alike(&stem))).or_insert_with(|| Group {
            folder,
            stem: stem.into_owned(),
            files: Vec::new(),
            defaults: None,
        });
        group.files.push((path.clone(), *kind, *signature));
    }
    for group in groups.values_mut() {
        group.defaults = defaults.get(&group.folder).or_else(|| defaults.get(group.home())).cloned();
    }
    groups.into_values().collect()
}

/// The same for stems that only case or the way accents are stored tells apart: some systems cannot.
fn alike(stem: &str) -> String {
    stem.nfc().flat_map(char::to_lowercase).nfc().collect()
}

impl Group {
    /// Where in the queue it stands.
    pub(crate) fn place(&self) -> Place {
        Place::of(&self.folder)
    }

    /// The folder of the inbox whose job it is: where its defaults are.
    pub(crate) fn home(&self) -> &Path {
        match self.place() {
            Place::Usual => &self.folder,
            Place::First | Place::Held => self.folder.parent().unwrap_or(&self.folder),
        }
    }

    /// What is not there; nothing for a set that can be worked, or whose only trouble is too much.
    pub(super) fn missing(&self) -> Option<Missing> {
        let has = |wanted: Kind| self.files.iter().any(|(_, kind, _)| *kind == wanted);
        if !has(Kind::Artwork) {
            return Some(Missing::Artwork);
        }
        let ordered = has(Kind::Sidecar) || self.defaults.is_some();
        (!ordered).then_some(Missing::Sidecar)
    }

    /// When the last of its files was written.
    fn written(&self) -> Option<i128> {
        self.files.iter().map(|(_, _, signature)| signature.modified).max()
    }

    /// What comes before what: those put first, then whole sets in the order in which their last file was written.
    pub(crate) fn turn(&self) -> (bool, Option<i128>) {
        (self.place() != Place::First, self.written())
    }

    /// Its files, sidecars first.
    pub(crate) fn in_order(&self) -> impl Iterator<Item = &Path> {
        let of = |sidecars: bool| {
            let kind = move |kind: &Kind| (*kind == Kind::Sidecar) == sidecars;
            self.files.iter().filter(move |(_, found, _)| kind(found)).map(|(path, _, _)| path.as_path())
        };
        of(true).chain(of(false))
    }

    /// Sidecars first, so that a claim never holds artwork whose sidecar is still in the inbox.
    pub(crate) fn into_set(mut self, first_seen: Instant) -> SourceSet {
        self.files.sort_by_key(|(_, kind, _)| *kind != Kind::Sidecar);
        let files = self.files.into_iter().map(|(path, _, signature)| Source { path, signature }).collect();
        SourceSet { stem: self.stem, files, defaults: self.defaults, first_seen }
    }
}
