//! A folder for one run of a program, and what is left in it: nothing there is trusted.

use std::fs::{self, File, Permissions};
use std::io::{self, ErrorKind, Read as _};
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};

use rustix::fs::{Mode, OFlags, open};
use sha2::{Digest as _, Sha256};

/// A folder of its own, gone with this value, whatever was put into it.
#[derive(Debug)]
pub(crate) struct Scratch(PathBuf);

impl Scratch {
    /// In a folder on a disk with room.
    pub(crate) fn new(within: &Path) -> io::Result<Self> {
        let folder = tempfile::Builder::new().prefix(".program-").tempdir_in(within)?.keep();
        Ok(Self(folder.canonicalize()?))
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    /// Opens a file that a program names as its own: a plain one of this folder, which has no other name anywhere.
    pub(crate) fn open(&self, name: &str) -> Result<File, String> {
        if name.is_empty() || name.contains(['/', '\0']) || name.starts_with('.') {
            return Err(format!("{name:?} is not the name of a file in its folder"));
        }
        let flags = OFlags::RDONLY | OFlags::NONBLOCK | OFlags::NOFOLLOW | OFlags::CLOEXEC;
        let file = open(self.0.join(name), flags, Mode::empty()).map_err(|why| format!("{name}: {why}"))?;
        let file = File::from(file);
        let facts = file.metadata().map_err(|why| format!("{name}: {why}"))?;
        if facts.is_file() && facts.nlink() == 1 {
            Ok(file)
        } else {
            Err(format!("{name} is no plain file of its own"))
        }
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // A folder may have been closed to its own owner.
        let cleared = fs::remove_dir_all(&self.0).or_else(|_| {
            unlock(&self.0);
            fs::remove_dir_all(&self.0)
        });
        match cleared {
            Err(why) if why.kind() != ErrorKind::NotFound => {
                tracing::warn!(%why, folder = %self.0.display(), "a program's folder cannot be removed");
            }
            _ => {}
        }
    }
}

/// Opens all folders in one to their owner, as far as that goes.
fn unlock(folder: &Path) {
    if fs::set_permissions(folder, Permissions::from_mode(0o700)).is_err() {
        return;
    }
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            unlock(&entry.path());
        }
    }
}

/// How many bytes lie in a folder and the folders in it.
pub(crate) fn size(folder: &Path) -> u64 {
    let mut total = 0;
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let Ok(facts) = entry.metadata() else { continue };
        total += if facts.is_dir() { size(&entry.path()) } else { facts.blocks() * 512 };
    }
    total
}

/// The SHA-256 of a file's bytes, in hex.
pub(crate) fn sha256(path: &Path) -> io::Result<String> {
    let (mut file, mut hasher, mut block) = (File::open(path)?, Sha256::new(), vec![0; 1 << 18]);
    loop {
        match file.read(&mut block)? {
            0 => break,
            read => hasher.update(block.get(..read).unwrap_or_default()),
        }
    }
    Ok(hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
}
