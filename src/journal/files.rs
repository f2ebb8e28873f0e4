//! Moves that never replace and writes that are on the disk when they return.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::Path;

use rustix::fs::{Mode, OFlags, open, rename};
use rustix::io::Errno;

/// Renames without replacing anything, and flushes both parents.
pub(crate) fn move_no_replace(from: &Path, to: &Path) -> io::Result<()> {
    rename_no_replace(from, to)?;
    // Where it goes first: should the power fail in between, it is better in two places than in none.
    let (there, here) = (to.parent(), from.parent());
    for parent in there.into_iter().chain(here.filter(|here| Some(*here) != there)) {
        sync_folder(parent)?;
    }
    Ok(())
}

/// The same, with nothing flushed yet.
pub(super) fn rename_no_replace(from: &Path, to: &Path) -> io::Result<()> {
    match rename_exclusive(from, to) {
        // Some file systems and some systems cannot promise it; there, looking first is the best that can be had.
        Err(Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP) => {
            if to.symlink_metadata().is_ok() {
                return Err(ErrorKind::AlreadyExists.into());
            }
            Ok(rename(from, to)?)
        }
        done => Ok(done?),
    }
}

#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn rename_exclusive(from: &Path, to: &Path) -> rustix::io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE)
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn rename_exclusive(_: &Path, _: &Path) -> rustix::io::Result<()> {
    Err(Errno::NOSYS)
}

/// Copies a folder of ours to another file system: flushed beside its goal, then renamed.
pub(super) fn copy_folder(from: &Path, to: &Path) -> io::Result<()> {
    let name = to.file_name().unwrap_or_default().to_string_lossy();
    let beside = to.with_file_name(format!(".{name}.part"));
    remove_folder(&beside)?;
    copy_contents(from, &beside)?;
    move_no_replace(&beside, to)
}

fn copy_contents(from: &Path, to: &Path) -> io::Result<()> {
    fs::create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let goal = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy_contents(&entry.path(), &goal)?;
        } else {
            fs::copy(entry.path(), goal)?;
        }
    }
    sync_contents(to)
}

/// Gives each file of a folder that bears other names elsewhere a content of its own, before people get to it: what they
/// change of it must not change there.
pub(super) fn unshare(folder: &Path) -> io::Result<()> {
    use std::os::unix::fs::MetadataExt as _;
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let facts = path.symlink_metadata()?;
        if facts.is_file() && facts.nlink() > 1 {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            let beside = path.with_file_name(format!(".{name}.part"));
            fs::copy(&path, &beside)?;
            File::open(&beside)?.sync_all()?;
            rename(&beside, &path)?;
        }
    }
    Ok(())
}

/// Opens a file of the inbox for reading. What stands under its name may be another thing by now: a pipe, which would be
/// waited for without end, or a link to what is not the maker's to give.
pub(crate) fn open_plain(path: &Path) -> io::Result<File> {
    let flags = OFlags::RDONLY | OFlags::NONBLOCK | OFlags::NOFOLLOW | OFlags::CLOEXEC;
    let file = File::from(open(path, flags, Mode::empty())?);
    if file.metadata()?.is_file() { Ok(file) } else { Err(ErrorKind::InvalidInput.into()) }
}

/// Removes a folder of our own and what is in it; one that is not there is removed already.
pub(crate) fn remove_folder(folder: &Path) -> io::Result<()> {
    match fs::remove_dir_all(folder) {
        Err(why) if why.kind() != ErrorKind::NotFound => Err(why),
        _ => Ok(()),
    }
}

/// Writes a file that is there wholly or not at all.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let beside = path.with_file_name(format!(".{name}.part"));
    let mut file = File::create(&beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    rename(&beside, path)?;
    path.parent().map_or(Ok(()), sync_folder)
}

/// Flushes every file in a folder and in the folders in it, then the folder.
pub(crate) fn sync_contents(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let kind = entry.file_type()?;
        if kind.is_file() {
            File::open(entry.path())?.sync_all()?;
        } else if kind.is_dir() {
            sync_contents(&entry.path())?;
        }
    }
    sync_folder(folder)
}

/// Flushes a folder's list of names.
pub(crate) fn sync_folder(folder: &Path) -> io::Result<()> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    File::open(folder)?.sync_all()
}
