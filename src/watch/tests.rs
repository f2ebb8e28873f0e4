//! What counts as complete, with a clock of the tests' own.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use super::{Inbox, Look, Patience};
use crate::journal::files::write_whole;

const SECOND: Duration = Duration::from_secs(1);

struct Fixture {
    folder: TempDir,
    inbox: Inbox,
    now: Instant,
}

fn inbox() -> Fixture {
    let folder = tempfile::tempdir().unwrap();
    let patience = Patience { quiet: SECOND * 3, wait: SECOND * 600, unfinished: SECOND * 600 };
    let inbox = Inbox::new(folder.path(), patience);
    Fixture { folder, inbox, now: Instant::now() }
}

impl Fixture {
    fn put(&self, name: &str, bytes: &[u8]) {
        let path = self.folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        write_whole(&path, bytes).unwrap();
    }

    fn after(&mut self, pause: Duration) -> Look {
        self.now += pause;
        self.inbox.look(self.now).unwrap()
    }

    /// The names in each set that is ready after a pause.
    fn ready(&mut self, pause: Duration) -> Vec<Vec<String>> {
        let name = |path: &Path| path.file_name().unwrap().to_string_lossy().into_owned();
        self.after(pause)
            .ready
            .iter()
            .map(|set| set.files.iter().map(|source| name(&source.path)).collect())
            .collect()
    }
}

/// The end mark of a PNG file.
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\0IEND\xae\x42\x60\x82";

#[test]
fn a_pair_is_ready_once_both_were_left_alone() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x");
    assert!(fixture.ready(Duration::ZERO).is_empty(), "just seen");
    assert!(fixture.ready(SECOND * 2).is_empty(), "not yet quiet");
    fixture.put("chart.yaml", b"blank: xy");
    assert!(fixture.ready(SECOND * 2).is_empty(), "changed meanwhile");
    assert_eq!(fixture.ready(SECOND * 3), [["chart.yaml", "chart.png"]]);
}

#[test]
fn artwork_waits_for_its_sidecar_and_then_goes_alone() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    assert!(fixture.ready(Duration::ZERO).is_empty(), "just seen");
    assert!(fixture.ready(SECOND * 599).is_empty(), "still waiting");
    assert_eq!(fixture.ready(SECOND), [["chart.png"]]);
}

#[test]
fn a_sidecar_may_come_first() {
    let mut fixture = inbox();
    fixture.put("chart.yaml", b"blank: x");
    assert!(fixture.ready(SECOND * 300).is_empty(), "waiting for artwork");
    fixture.put("chart.png", PNG);
    assert!(fixture.ready(SECOND).is_empty(), "the artwork is new");
    assert_eq!(fixture.ready(SECOND * 3), [["chart.yaml", "chart.png"]]);
}

#[test]
fn defaults_make_a_picture_complete() {
    let mut fixture = inbox();
    fixture.put("mats/folder.yaml", b"blank: x");
    fixture.put("mats/gulls.png", PNG);
    fixture.after(Duration::ZERO);
    let look = fixture.after(SECOND * 3);
    assert_eq!(look.ready.len(), 1);
    assert!(
        look.ready[0].defaults.as_ref().is_some_and(|path| path.ends_with("mats/folder.yaml")),
        "they go with it"
    );
}

#[test]
fn a_sidecar_may_name_other_artwork() {
    let mut fixture = inbox();
    fixture.put("order.yaml", b"blank: x\nartwork: chart.png\n");
    fixture.put("chart.png", PNG);
    fixture.after(Duration::ZERO);
    assert_eq!(fixture.ready(SECOND * 3), [["order.yaml", "chart.png"]]);
}

#[test]
fn two_artworks_of_one_stem_go_together() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("Chart.PNG", PNG);
    fixture.put("chart.yaml", b"blank: x");
    fixture.after(Duration::ZERO);
    assert_eq!(fixture.ready(SECOND * 3), [["chart.yaml", "Chart.PNG", "chart.png"]]);
}

#[test]
fn a_picture_without_its_end_mark_is_waited_for() {
    let mut fixture = inbox();
    fixture.put("chart.png", &PNG[..12]);
    fixture.put("chart.yaml", b"blank: x");
    fixture.after(Duration::ZERO);
    assert!(fixture.ready(SECOND * 500).is_empty(), "somebody may still be writing it");
    assert_eq!(fixture.ready(SECOND * 100).len(), 1, "it is taken in the end, and refused as truncated");
}

#[test]
fn a_file_of_nothing_yet_is_waited_for() {
    for nothing in [&b""[..], &[0; 4096]] {
        let mut fixture = inbox();
        fixture.put("chart.png", nothing);
        fixture.put("chart.yaml", b"blank: x");
        fixture.after(Duration::ZERO);
        assert!(fixture.ready(SECOND * 500).is_empty(), "a copier made it beforehand");
        fixture.put("chart.png", PNG);
        fixture.after(Duration::ZERO);
        assert_eq!(fixture.ready(SECOND * 3).len(), 1, "now it is there");
    }
}

#[test]
fn a_file_open_for_writing_is_waited_for() {
    if !Path::new("/proc/self/fdinfo").exists() {
        eprintln!("not tested: this system does not show who has what open");
        return;
    }
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x");
    fixture.put("gulls.png", PNG);
    fixture.put("gulls.yaml", b"blank: x");
    let writer = fs::OpenOptions::new().append(true).open(fixture.folder.path().join("chart.png")).unwrap();
    let reader = fs::File::open(fixture.folder.path().join("gulls.png")).unwrap();
    fixture.after(Duration::ZERO);
    assert_eq!(fixture.ready(SECOND * 3), [["gulls.yaml", "gulls.png"]], "who only reads does not matter");
    assert_eq!(fixture.after(Duration::ZERO).waiting, 2, "the other is counted");
    drop((writer, reader));
    assert_eq!(fixture.ready(Duration::ZERO).len(), 2, "it is closed");
}

#[test]
fn a_file_held_open_for_ever_is_taken_in_the_end() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x");
    let _writer = fs::OpenOptions::new().append(true).open(fixture.folder.path().join("chart.png")).unwrap();
    fixture.after(Duration::ZERO);
    assert_eq!(fixture.ready(SECOND * 600).len(), 1, "somebody forgot it");
}

#[test]
fn hidden_temporary_and_unknown_files_are_left_alone() {
    let mut fixture = inbox();
    for name in
        [".chart.png", "chart.png.part", "~$chart.png", "Thumbs.db", "notes.txt", ".claimed/x-123456/a.png"]
    {
        fixture.put(name, PNG);
    }
    std::os::unix::fs::symlink("/etc/passwd", fixture.folder.path().join("link.png")).unwrap();
    fixture.after(Duration::ZERO);
    let look = fixture.after(SECOND * 700);
    assert!(look.ready.is_empty() && look.waiting == 0, "{look:?}");
}

#[test]
fn a_missing_inbox_is_said_and_no_panic() {
    let mut fixture = inbox();
    fs::remove_dir(fixture.folder.path()).unwrap();
    assert!(fixture.inbox.look(fixture.now).is_err(), "the caller waits for it");
}

#[test]
fn what_was_left_alone_long_before_is_ready_at_once() {
    let mut fixture = inbox();
    fixture.inbox.patience.quiet = Duration::from_millis(300);
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x");
    std::thread::sleep(Duration::from_millis(400));
    assert_eq!(fixture.ready(Duration::ZERO), [["chart.yaml", "chart.png"]]);
}

#[test]
fn a_restored_date_makes_no_file_old() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x");
    for name in ["chart.png", "chart.yaml"] {
        let file = fs::File::open(fixture.folder.path().join(name)).unwrap();
        file.set_modified(std::time::UNIX_EPOCH + SECOND * 1_000_000_000).unwrap();
    }
    assert!(fixture.ready(Duration::ZERO).is_empty(), "a copier restores modification times");
}

#[test]
fn defaults_that_are_being_written_are_waited_for() {
    let mut fixture = inbox();
    fixture.inbox.patience.wait = Duration::ZERO;
    fixture.put("mats/gulls.png", PNG);
    fixture.after(Duration::ZERO);
    fixture.now += SECOND * 3;
    fixture.put("mats/folder.yaml", b"blank: x");
    assert!(fixture.ready(Duration::ZERO).is_empty(), "the picture waits for them");
    let look = fixture.after(SECOND * 3);
    assert!(look.ready[0].defaults.is_some(), "and goes with them");
}

#[test]
fn a_partner_that_is_being_written_is_waited_for() {
    let mut fixture = inbox();
    fixture.inbox.patience.wait = Duration::ZERO;
    fixture.put("chart.png", PNG);
    fixture.after(Duration::ZERO);
    fixture.now += SECOND * 3;
    // It names the picture, which nobody knows before it is complete.
    fixture.put("order.yaml", b"blank: x\nartwork: chart.png\n");
    assert!(fixture.ready(Duration::ZERO).is_empty(), "something is being written beside it");
    assert_eq!(fixture.ready(SECOND * 3), [["order.yaml", "chart.png"]]);
}

#[test]
fn case_and_the_way_accents_are_stored_make_no_other_stem() {
    let mut fixture = inbox();
    fixture.put("Caf\u{e9}.png", PNG);
    fixture.put("cafe\u{301}.yaml", b"blank: x");
    fixture.after(Duration::ZERO);
    assert_eq!(fixture.ready(SECOND * 3), [["cafe\u{301}.yaml", "Caf\u{e9}.png"]]);
}

#[test]
fn the_oldest_goes_first() {
    let mut fixture = inbox();
    for (name, age) in [("a.png", 10), ("b.png", 30), ("c.png", 20)] {
        fixture.put(name, PNG);
        let file = fs::File::open(fixture.folder.path().join(name)).unwrap();
        file.set_modified(std::time::UNIX_EPOCH + SECOND * (1_000_000_000 - age)).unwrap();
    }
    fixture.after(Duration::ZERO);
    assert_eq!(fixture.ready(SECOND * 600), [["b.png"], ["c.png"], ["a.png"]]);
}

#[test]
fn thousands_are_looked_through_in_no_time() {
    let mut fixture = inbox();
    for n in 0..3000 {
        // Not flushed: that is not what is measured.
        fs::File::create(fixture.folder.path().join(format!("{n}.png"))).unwrap();
    }
    fixture.after(Duration::ZERO);
    let began = Instant::now();
    let look = fixture.after(SECOND);
    assert_eq!(look.waiting, 3000);
    assert!(began.elapsed() < SECOND, "{:?}", began.elapsed());
}

#[test]
fn a_list_is_waited_for_and_goes_with_its_order() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x\nlist: visitors.csv\n");
    fixture.after(Duration::ZERO);
    assert!(fixture.ready(SECOND * 300).is_empty(), "waiting for the list");
    fixture.put("visitors.csv", b"name\nAda\n");
    assert!(fixture.ready(SECOND).is_empty(), "the list is new");
    assert_eq!(fixture.ready(SECOND * 3), [["chart.yaml", "visitors.csv", "chart.png"]]);
}

#[test]
fn a_list_that_never_comes_is_not_waited_for_without_end() {
    let mut fixture = inbox();
    fixture.put("chart.png", PNG);
    fixture.put("chart.yaml", b"blank: x\nlist: visitors.csv\n");
    fixture.put("visitors.txt", b"name\nAda\n");
    fixture.after(Duration::ZERO);
    assert!(fixture.ready(SECOND * 599).is_empty(), "still waiting");
    assert_eq!(fixture.ready(SECOND), [["chart.yaml", "chart.png"]], "and is refused then");
}

#[test]
fn a_list_goes_to_one_order_and_one_that_nobody_names_is_left_alone() {
    let mut fixture = inbox();
    fixture.inbox.patience.wait = Duration::ZERO;
    fixture.put("mats/folder.yaml", b"blank: x\nlist: visitors.csv\n");
    for name in ["mats/gulls.png", "mats/moon.png", "mats/tide.png"] {
        fixture.put(name, PNG);
    }
    fixture.put("mats/tide.yaml", b"row: {list: visitors.csv, line: 2, group: a}\n");
    fixture.put("mats/visitors.csv", b"name\nAda\n");
    fixture.put("takings.csv", b"day,sum\n");
    fixture.after(Duration::ZERO);
    let mut ready = fixture.ready(SECOND * 3);
    ready.sort();
    assert_eq!(ready, [vec!["moon.png"], vec!["tide.yaml", "tide.png"], vec!["visitors.csv", "gulls.png"]]);
    fixture.put("mats/moon.yaml", b"list: visitors.csv\n");
    fixture.after(Duration::ZERO);
    let ready = fixture.ready(SECOND * 3);
    assert!(
        ready.contains(&vec!["moon.yaml".into(), "visitors.csv".into(), "moon.png".into()]),
        "its own word counts more: {ready:?}"
    );
    for name in ["gulls.png", "moon.png", "tide.png", "moon.yaml", "tide.yaml", "visitors.csv"] {
        fs::remove_file(fixture.folder.path().join("mats").join(name)).unwrap();
    }
    let look = fixture.after(SECOND * 700);
    assert!(look.ready.is_empty() && look.waiting == 0, "nobody names the other: {look:?}");
}
