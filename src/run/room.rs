//! Whether there is room on the disk to work another job.

use std::path::Path;

/// Less than this is not begun with: the sheets of a large job alone take as much.
const LEAST_BYTES: u64 = 128 << 20;

/// A job takes a few files and folders.
const LEAST_FILES: u64 = 64;

/// In words, what is short; nothing where there is room or it cannot be told.
pub(super) fn short_of_room(folder: &Path) -> Option<String> {
    let facts = rustix::fs::statvfs(folder).ok()?;
    // Some file systems count no files, and say nought.
    let counted = facts.f_files > 0;
    verdict(facts.f_bavail.saturating_mul(facts.f_frsize), counted.then_some(facts.f_favail))
}

fn verdict(bytes: u64, files: Option<u64>) -> Option<String> {
    if bytes < LEAST_BYTES {
        return Some(format!("only {} MiB are free, {} MiB are wanted", bytes >> 20, LEAST_BYTES >> 20));
    }
    files.filter(|files| *files < LEAST_FILES).map(|files| format!("only {files} more files can be made"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_and_files_may_run_short() {
        assert_eq!(verdict(LEAST_BYTES, None), None);
        assert_eq!(verdict(LEAST_BYTES, Some(LEAST_FILES)), None);
        assert!(verdict(LEAST_BYTES - 1, None).is_some(), "bytes");
        assert!(verdict(u64::MAX, Some(3)).is_some(), "files");
        assert_eq!(short_of_room(Path::new("/no/such/folder")), None);
    }
}
