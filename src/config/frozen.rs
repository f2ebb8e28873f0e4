//! The settings as they were when last found in order, copied, so that jobs are worked by them whatever somebody is
//! editing meanwhile.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::{Config, Diagnosis, FILE, catalogue};
use crate::journal::files::{remove_folder, write_whole};

/// The hidden folder in the studio for what the program keeps for itself.
pub(crate) const HIDDEN: &str = ".seamwright";

/// A configuration and the copy of its files; the copy goes when the last job that uses it has ended.
#[derive(Debug)]
pub(crate) struct Frozen {
    /// What the files say.
    pub(crate) config: Config,
    /// The copied configuration.
    pub(crate) file: PathBuf,
    folder: PathBuf,
}

/// What the files of a configuration look like: it changes with them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stamp(Vec<(PathBuf, u64, Option<std::time::SystemTime>)>);

impl Stamp {
    /// Of the files as they are now.
    pub(crate) fn of(config: Option<&Path>) -> Self {
        let seen = files(config).unwrap_or_default().into_iter().filter_map(|path| {
            let facts = path.metadata().ok()?;
            Some((path, facts.len(), facts.modified().ok()))
        });
        Self(seen.collect())
    }
}

impl Frozen {
    /// Copies the files of a configuration that was read from them to a new folder in the studio's hidden one.
    ///
    /// # Errors
    /// Why they cannot be copied.
    pub(crate) fn new(config: Config, from: Option<&Path>, number: u32) -> Result<Self, Vec<Diagnosis>> {
        let folder = config.studio.root.join(HIDDEN).join(format!("settings-{number}"));
        let file = copy(from, &folder).map_err(|why| {
            vec![Diagnosis::of_file(
                FILE,
                format!("the settings cannot be copied to {} ({why})", folder.display()),
                "Make room on the studio's disk, and see that its folder may be written to.",
            )]
        })?;
        Ok(Self { config, file, folder })
    }

    /// Removes what earlier runs left.
    pub(crate) fn sweep(studio: &Path) -> io::Result<()> {
        let hidden = studio.join(HIDDEN);
        for entry in fs::read_dir(&hidden).into_iter().flatten().flatten() {
            if entry.file_name().to_string_lossy().starts_with("settings-") {
                remove_folder(&entry.path())?;
            }
        }
        Ok(())
    }
}

impl Drop for Frozen {
    fn drop(&mut self) {
        if let Err(why) = remove_folder(&self.folder) {
            tracing::warn!(%why, folder = %self.folder.display(), "a copy of old settings cannot be removed");
        }
    }
}

/// The configuration in use: the one named, or the one in the present folder, if it is there.
fn in_use(config: Option<&Path>) -> Option<PathBuf> {
    config.map(Path::to_owned).or_else(|| Path::new(FILE).exists().then(|| PathBuf::from(FILE)))
}

/// The configuration, what lies in the catalogue's folders beside it, and the profiles that lie beside it.
fn files(config: Option<&Path>) -> io::Result<Vec<PathBuf>> {
    let config = in_use(config);
    let base = super::base(config.as_deref()).to_owned();
    let mut files: Vec<PathBuf> = config.into_iter().collect();
    let shelves = catalogue::FOLDERS.iter().filter(|shelf| **shelf != catalogue::PROGRAMS);
    for folder in shelves.map(|shelf| base.join(shelf)).filter(|folder| folder.is_dir()) {
        for entry in fs::read_dir(folder)? {
            files.push(entry?.path());
        }
    }
    files.extend(catalogue::program_files(&base.join(catalogue::PROGRAMS))?);
    for entry in fs::read_dir(&base)? {
        let path = entry?.path();
        let ending = path.extension().and_then(OsStr::to_str).unwrap_or_default().to_lowercase();
        files.extend(["icc", "icm"].contains(&ending.as_str()).then_some(path));
    }
    files.retain(|file| file.is_file());
    files.sort();
    Ok(files)
}

fn copy(config: Option<&Path>, to: &Path) -> io::Result<PathBuf> {
    remove_folder(to)?;
    fs::create_dir_all(to)?;
    let (own, goal) = (in_use(config), to.join(FILE));
    // Where there is none, an empty one says the same.
    write_whole(&goal, &own.as_deref().map_or(Ok(Vec::new()), fs::read)?)?;
    let base = super::base(own.as_deref());
    for file in files(config)?.into_iter().filter(|file| Some(file) != own.as_ref()) {
        catalogue::copy_file(&file, base, to)?;
    }
    Ok(goal)
}
