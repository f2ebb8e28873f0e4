//! Which files belong together.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::time::Instant;

use unicode_normalization::UnicodeNormalization as _;

use super::scan::{Found, Kind};
use crate::journal::{Signature, Source, SourceSet};

/// Files of one stem in one folder.
#[derive(Debug)]
pub(super) struct Group {
    pub(super) folder: PathBuf,
    stem: String,
    pub(super) files: Vec<(PathBuf, Kind, Signature)>,
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
        group.defaults = defaults.get(&group.folder).cloned();
    }
    groups.into_values().collect()
}

/// The same for stems that only case or the way accents are stored tells apart: some systems cannot.
fn alike(stem: &str) -> String {
    stem.nfc().flat_map(char::to_lowercase).nfc().collect()
}

impl Group {
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
    pub(super) fn written(&self) -> Option<i128> {
        self.files.iter().map(|(_, _, signature)| signature.modified).max()
    }

    /// Sidecars first, so that a claim never holds artwork whose sidecar is still in the inbox.
    pub(super) fn into_set(mut self, first_seen: Instant) -> SourceSet {
        self.files.sort_by_key(|(_, kind, _)| *kind != Kind::Sidecar);
        let files = self.files.into_iter().map(|(path, _, signature)| Source { path, signature }).collect();
        SourceSet { stem: self.stem, files, defaults: self.defaults, first_seen }
    }
}
