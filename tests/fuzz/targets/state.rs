//! What the daemon reads back of its own: the facts of claims, and its status.

use seamwright::ask_health;
use seamwright::journal::Journal;
use seamwright::queue::retry;

use super::{files, folders, put};

/// A name as jobs have it.
const JOB: &str = "chart-3f9a21";

/// The first byte chooses where the text lies; whatever it says, no file is lost and none leaves the studio.
pub(super) fn state(data: &[u8]) {
    let Some((choice, text)) = data.split_first() else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let studio = folders(&folder.path().join("studio"));
    put(&folder.path().join("outside"), b"outside");
    let (refused, claimed) = (studio.refused.join(JOB), studio.incoming.join(".claimed"));
    let claim = |state: &str| claimed.join(format!("{JOB}{state}"));
    let place = match choice % 6 {
        0 => refused,
        1 => claim(".tmp"),
        2 => claim(""),
        3 => claim(".refused"),
        4 => claim(".done"),
        _ => {
            put(&studio.root.join(".seamwright/status.json"), text);
            let (words, _) = ask_health(&studio);
            assert!(!words.is_empty(), "it says something");
            return;
        }
    };
    put(&place.join(".claim.json"), text);
    put(&place.join("chart.png"), b"pixels");
    put(&place.join("chart.yaml"), b"order");
    if choice % 6 == 0 {
        put(&studio.incoming.join("chart.png"), b"another");
        // Said in words where it cannot be done.
        drop(retry(&[JOB.to_owned()], &studio));
    } else {
        put(&studio.incoming.join("mats/chart.png"), b"another");
        Journal::open(&studio).and_then(|journal| journal.recover()).expect("the others go on");
    }
    let found = files(folder.path());
    for content in [&b"pixels"[..], b"order", b"another", b"outside"] {
        let times = found.values().filter(|bytes| *bytes == content).count();
        assert_eq!(times, 1, "{:?} is there once: {found:?}", String::from_utf8_lossy(content));
    }
    for path in found.keys() {
        let inside = path.starts_with(&studio.root) || path.ends_with("outside");
        assert!(inside, "{} left the studio", path.display());
    }
    for entry in std::fs::read_dir(folder.path()).expect("a folder") {
        let name = entry.expect("an entry").file_name();
        assert!(name == "studio" || name == "outside", "{name:?} is beside the studio");
    }
}
