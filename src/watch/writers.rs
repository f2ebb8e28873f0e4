//! Which files somebody on this machine has open for writing.
//!
//! Linux shows of every process what it has open and how: to root of all, to others of their own processes. A read lease
//! would tell no more, for it is given on one's own files only, and only unsafe code can ask for it. Where nothing is shown
//! (another system, somebody else's process, a writer on another machine) nobody is known to write, and quiet time and end
//! mark decide alone.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::os::unix::fs::MetadataExt as _;
use std::path::{Path, PathBuf};

/// The inodes among these files that are open for writing.
pub(super) fn writing(files: &BTreeMap<u64, PathBuf>) -> BTreeSet<u64> {
    let mut found = BTreeSet::new();
    for process in entries(Path::new("/proc")) {
        for facts in entries(&process.join("fdinfo")) {
            let written = fs::read_to_string(&facts).ok().and_then(|facts| inode_written_to(&facts));
            let Some((inode, path)) = written.and_then(|inode| files.get_key_value(&inode)) else { continue };
            let handle = process.join("fd").join(facts.file_name().unwrap_or_default());
            // Inodes of different file systems may have the same number.
            if let (Ok(open), Ok(ours)) = (handle.metadata(), path.symlink_metadata())
                && open.dev() == ours.dev()
            {
                found.insert(*inode);
            }
        }
    }
    found
}

/// What is in a folder; nothing where it is not for us.
fn entries(folder: &Path) -> impl Iterator<Item = PathBuf> {
    fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path())
}

/// The inode of an open file, if it is open for writing.
fn inode_written_to(facts: &str) -> Option<u64> {
    let of = |name: &str| facts.lines().find_map(|line| line.strip_prefix(name)).map(str::trim);
    // Read only, write only, both.
    let writes = u32::from_str_radix(of("flags:")?, 8).ok()? & 0o3 != 0;
    of("ino:")?.parse().ok().filter(|_| writes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_kernels_words_are_understood() {
        // As proc(5) shows them.
        assert_eq!(inode_written_to("pos:\t0\nflags:\t0100000\nmnt_id:\t29\nino:\t63\n"), None);
        assert_eq!(inode_written_to("pos:\t0\nflags:\t0100001\nmnt_id:\t29\nino:\t63\n"), Some(63));
        assert_eq!(inode_written_to("pos:\t0\nflags:\t02100002\nmnt_id:\t29\nino:\t63\n"), Some(63));
        assert_eq!(inode_written_to("pos:\t0\nflags:\t0100001\n"), None, "older kernels do not say");
    }
}
