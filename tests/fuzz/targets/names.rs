//! Names of files in the inbox, as any system may leave them there, on their way through the queue and back.

use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt as _;

use seamwright::queue::{Hand, lay, retry, waiting};

use super::{files, folders, is_plain, put, try_put};

/// The path of an artwork in the inbox, without its ending, and after a zero byte its sidecar's text.
pub(super) fn names(data: &[u8]) {
    let mut parts = data.splitn(2, |byte| *byte == 0);
    let stem = OsStr::from_bytes(parts.next().unwrap_or_default());
    let sidecar = parts.next().unwrap_or_default();
    let folder = tempfile::tempdir().expect("a folder");
    let studio = folders(folder.path());
    put(&studio.incoming.join("notes.txt"), b"");
    let goes_out = stem.as_bytes().split(|byte| *byte == b'/').any(|part| part == b"..");
    if goes_out || stem.as_bytes().first() == Some(&b'/') {
        return;
    }
    let with = |ending: &str| {
        let mut name = stem.to_owned();
        name.push(ending);
        studio.incoming.join(name)
    };
    if try_put(&with(".png"), b"pixels").and_then(|()| try_put(&with(".yaml"), sidecar)).is_err() {
        return;
    }
    let before = files(&studio.incoming);
    let lines = waiting(&studio).expect("a list");
    assert!(lines.iter().all(|line| is_plain(line)), "{lines:?}");
    let name = [stem.to_string_lossy().into_owned()];
    let shown = |hand: Hand| match lay(hand, &name, &studio) {
        Ok(lines) => lines.iter().all(|line| is_plain(line)).then_some(true),
        Err(line) => is_plain(&line).then_some(false),
    };
    for hand in [Hand::Hold, Hand::First, Hand::Release] {
        shown(hand).expect("a plain line");
        assert_eq!(files(&studio.incoming).len(), before.len(), "nothing is lost");
    }
    let waits = files(&studio.incoming);
    if shown(Hand::Cancel).expect("a plain line") {
        let jobs: Vec<_> = std::fs::read_dir(&studio.refused).expect("refused").collect();
        let [Ok(job)] = &jobs[..] else { panic!("one job, not {jobs:?}") };
        let job = job.file_name().into_string().expect("text");
        assert!(is_plain(&job) && job.len() < 128 && !job.starts_with(['.', '-']), "{job:?}");
        retry(&[job], &studio).expect("the job is put back");
    }
    assert_eq!(files(&studio.incoming), waits, "all is where it was");
}
