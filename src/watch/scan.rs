//! What lies in the inbox: a walk over names and facts, opening nothing.

use std::collections::{BTreeMap, HashSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::intake::{is_artwork_name, is_defaults_name, is_ignored, is_list_name, is_sidecar_name};
use crate::journal::{Signature, visible};

/// How deep folders in the inbox are looked into.
const DEEPEST: usize = 4;

/// What a file in the inbox may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Artwork,
    Sidecar,
    Defaults,
    List,
}

/// The files found, by path.
pub(super) type Found = BTreeMap<PathBuf, (Kind, Signature)>;

/// Walks the inbox and remembers what it has already spoken of.
#[derive(Debug, Default)]
pub(super) struct Scanner {
    spoken_of: HashSet<PathBuf>,
}

impl Scanner {
    /// All files that concern us, wherever they lie.
    pub(super) fn scan(&mut self, incoming: &Path) -> io::Result<Found> {
        let mut found = Found::new();
        self.walk(incoming, 0, &mut found)?;
        Ok(found)
    }

    fn walk(&mut self, folder: &Path, depth: usize, found: &mut Found) -> io::Result<()> {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let (path, name) = (entry.path(), entry.file_name());
            // A file may be gone by now; the next scan knows.
            let Ok(facts) = path.symlink_metadata() else { continue };
            if is_ignored(&name) {
                continue;
            }
            if facts.is_dir() {
                if depth == DEEPEST {
                    self.speak(&path, "lies too deep in the inbox and is not looked into");
                } else if let Err(why) = self.walk(&path, depth + 1, found) {
                    self.speak(&path, &format!("cannot be looked into ({why})"));
                }
                continue;
            }
            let kind = if is_defaults_name(&name) {
                Kind::Defaults
            } else if is_sidecar_name(&name) {
                Kind::Sidecar
            } else if is_artwork_name(&name) {
                Kind::Artwork
            } else if is_list_name(&name) {
                Kind::List
            } else {
                self.speak(&path, "is of no kind known here and is left alone");
                continue;
            };
            if facts.is_file() {
                found.insert(path, (kind, Signature::from(&facts)));
            } else {
                self.speak(&path, "is a link or a device, not a file, and is left alone");
            }
        }
        Ok(())
    }

    /// Once for each path.
    fn speak(&mut self, path: &Path, what: &str) {
        if self.spoken_of.len() < 10_000 && self.spoken_of.insert(path.to_owned()) {
            tracing::info!(file = %visible(&path.to_string_lossy()), "{what}");
        }
    }
}
