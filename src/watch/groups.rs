//! Which files belong together.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::{Path, PathBuf};
use std::time::Instant;

use unicode_normalization::UnicodeNormalization as _;

use super::scan::{Found, Kind};
use crate::intake::Named;
use crate::journal::{Signature, Source, SourceSet};

/// Where in the queue the files of a folder stand. A folder called `first` or `hold` is that place in the queue of the
/// folder it lies in, so that a maker moves a job by moving its files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
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

/// Files of one stem in one folder, and the list they are ordered by.
#[derive(Debug, Clone)]
pub(crate) struct Group {
    pub(crate) folder: PathBuf,
    pub(crate) stem: String,
    pub(crate) files: Vec<(PathBuf, Kind, Signature)>,
    pub(super) defaults: Option<PathBuf>,
    /// What its sidecar names.
    named: Named,
    /// The list that is not there.
    lacks: Option<PathBuf>,
}

/// What a group waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Missing {
    Sidecar,
    Artwork,
    List,
}

/// Files by folder and stem, in the order of both; a sidecar that names other artwork goes with it, and a list with the
/// order that names it.
pub(super) fn group(found: &Found, mut named: impl FnMut(&Path) -> Named) -> Vec<Group> {
    let mut groups: BTreeMap<(PathBuf, String), Group> = BTreeMap::new();
    let mut defaults: HashMap<PathBuf, PathBuf> = HashMap::new();
    for (path, (kind, signature)) in found {
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        let said = match kind {
            Kind::Defaults => {
                defaults.insert(folder, path.clone());
                continue;
            }
            Kind::List => continue,
            Kind::Sidecar => named(path),
            Kind::Artwork => Named::default(),
        };
        let other = said.artwork.as_ref().map(|name| path.with_file_name(name));
        let other = other.filter(|path| found.contains_key(path));
        let stem = other.as_deref().unwrap_or(path).file_stem().unwrap_or_default().to_string_lossy();
        let group = groups.entry((folder.clone(), alike(&stem))).or_insert_with(|| Group {
            folder,
            stem: stem.into_owned(),
            files: Vec::new(),
            defaults: None,
            named: Named::default(),
            lacks: None,
        });
        group.files.push((path.clone(), *kind, *signature));
        if *kind == Kind::Sidecar {
            group.named = said;
        }
    }
    for group in groups.values_mut() {
        group.defaults = defaults.get(&group.folder).or_else(|| defaults.get(group.home())).cloned();
    }
    let mut groups: Vec<Group> = groups.into_values().collect();
    hand_out_lists(&mut groups, found, named);
    groups
}

/// Gives each list to the first order that names it itself, or else to the first artwork whose folder's defaults do.
fn hand_out_lists(groups: &mut [Group], found: &Found, mut named: impl FnMut(&Path) -> Named) {
    let mut given = BTreeSet::new();
    for by_defaults in [false, true] {
        for group in groups.iter_mut().filter(|group| !group.named.is_row) {
            let name = match (&group.named.list, &group.defaults) {
                (Some(name), _) if !by_defaults => Some(name.clone()),
                (None, Some(defaults)) if by_defaults && group.has(Kind::Artwork) => named(defaults).list,
                _ => None,
            };
            let Some(path) = name.map(|name| group.folder.join(name)) else { continue };
            match found.get(&path) {
                Some((Kind::List, signature)) if given.insert(path.clone()) => {
                    group.files.push((path, Kind::List, *signature));
                }
                _ => group.lacks = Some(path),
            }
        }
    }
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

    fn has(&self, wanted: Kind) -> bool {
        self.files.iter().any(|(_, kind, _)| *kind == wanted)
    }

    /// What is not there; nothing for a set that can be worked, or whose only trouble is too much.
    pub(super) fn missing(&self) -> Option<Missing> {
        if !self.has(Kind::Artwork) {
            return Some(Missing::Artwork);
        }
        if !self.has(Kind::Sidecar) && self.defaults.is_none() {
            return Some(Missing::Sidecar);
        }
        self.lacks.is_some().then_some(Missing::List)
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
        let mut files: Vec<_> = self.files.iter().collect();
        files.sort_by_key(|(_, kind, _)| turn_of(*kind));
        files.into_iter().map(|(path, _, _)| path.as_path())
    }

    /// Sidecars first, so that a claim never holds artwork whose sidecar is still in the inbox.
    pub(crate) fn into_set(mut self, first_seen: Instant) -> SourceSet {
        self.files.sort_by_key(|(_, kind, _)| turn_of(*kind));
        let place = self.place();
        let files = self.files.into_iter().map(|(path, _, signature)| Source { path, signature }).collect();
        SourceSet { stem: self.stem, files, defaults: self.defaults, place, first_seen }
    }
}

/// The order in which the files of a set are taken.
const fn turn_of(kind: Kind) -> u8 {
    match kind {
        Kind::Sidecar => 0,
        Kind::List => 1,
        Kind::Artwork | Kind::Defaults => 2,
    }
}
