//! The studio's own programs: their manifests by name, and the folder in which they lie with all that they consist of.
//!
//! What lies in that folder goes along whole, folders in it too: into the copy of the settings that jobs are worked by, and
//! among what is kept of a job that a program had a hand in. A program may be of many files, and only it knows which.

use std::fs;
use std::io;
use std::os::unix::ffi::OsStrExt as _;
use std::path::{Path, PathBuf};

use seamwright_contract::settings::{Node, Value};

use super::super::diagnosis::Diagnosis;
use super::Shelf;

/// The folder's name; no programs are shipped.
pub(crate) const PROGRAMS: &str = "programs";

/// The key that tells a program where the files of its manifest lie; never kept, for it is another folder then.
pub(crate) const HERE: &str = "here";

/// The most that may lie in the folder: it is copied with the settings, and with each job.
const MOST_FILES: usize = 1000;
const MOST_BYTES: u64 = 64 << 20;

/// The manifests of programs by name, and where they lie.
#[derive(Debug, Clone)]
pub struct Programs {
    /// What each manifest says, looked over.
    pub shelf: Shelf<Value>,
    /// Their folder, with the files beside them; of a kept order, the folder that was kept with it.
    pub folder: PathBuf,
}

impl Programs {
    /// All that the step of a program reads: its manifest with its name and the folder of its files. Complains at `at` where
    /// there is none of that name.
    pub(crate) fn settings(&self, name: &str, at: &Node<'_>) -> Option<Value> {
        let Value::Map(keys) = self.shelf.known(name, at)? else { return None };
        let name = ("name".to_owned(), Value::Text(name.to_owned()));
        Some(self.here(std::iter::once(name).chain(keys.clone()).collect()))
    }

    /// A manifest with its name, and the folder of its files.
    pub(crate) fn here(&self, keys: Vec<(String, Value)>) -> Value {
        let here = Value::Text(self.folder.to_string_lossy().into_owned());
        Value::Map(std::iter::once((HERE.to_owned(), here)).chain(keys).collect())
    }

    /// None by name, for steps that hold all of theirs themselves; the files lie in `folder`.
    pub(crate) fn none(folder: PathBuf) -> Self {
        Self { shelf: Shelf::new("program"), folder }
    }

    /// Copies what programs consist of, all but their manifests, into a folder.
    pub(crate) fn copy_files(&self, to: &Path) -> io::Result<()> {
        let is_manifest = |path: &Path| {
            path.parent() == Some(self.folder.as_path())
                && path.extension().is_some_and(|ending| ending == "yaml")
        };
        for file in files(&self.folder)?.into_iter().filter(|file| !is_manifest(file)) {
            copy_file(&file, &self.folder, to)?;
        }
        Ok(())
    }
}

/// Copies a file to the same place below another folder.
pub(crate) fn copy_file(file: &Path, from: &Path, to: &Path) -> io::Result<()> {
    let goal = to.join(file.strip_prefix(from).unwrap_or(file));
    goal.parent().map_or(Ok(()), fs::create_dir_all)?;
    fs::copy(file, goal).map(drop)
}

/// All files in the folder of programs and in the folders in it, but what is hidden, as the folder's history may be; none
/// where there is no such folder.
pub(crate) fn files(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let (mut found, mut next) = (Vec::new(), vec![folder.to_owned()]);
    while let Some(folder) = next.pop().filter(|folder| folder.is_dir()) {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            if entry.file_name().as_bytes().starts_with(b".") {
                continue;
            }
            if entry.file_type()?.is_dir() {
                next.push(entry.path());
            } else if entry.path().is_file() {
                found.push(entry.path());
            }
            if found.len() + next.len() > MOST_FILES {
                return Err(io::Error::other(format!("there are more than {MOST_FILES} files in it")));
            }
        }
    }
    Ok(found)
}

/// What is wrong with the folder as a whole.
pub(super) fn look_over(folder: &Path) -> Option<Diagnosis> {
    let size = |file: &PathBuf| file.metadata().map_or(0, |facts| facts.len());
    let what = match files(folder) {
        Ok(files) if files.iter().map(size).sum::<u64>() <= MOST_BYTES => return None,
        Ok(_) => format!("there are more than {} MiB in it", MOST_BYTES >> 20),
        Err(why) => why.to_string(),
    };
    let cure = "All of it goes along with each job. Install elsewhere what is large, and name it in `command` by its path.";
    Some(Diagnosis::of_file(format!("{PROGRAMS}/"), what, cure))
}
