//! Every state a kill can leave behind comes back onto its way, and coming back twice changes nothing.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rustix::fs::{FileType, Mode};
use seamwright_contract::Fault;
use tempfile::TempDir;

use super::claim::Signature;
use super::{Claim, Journal, Source, SourceSet, Standing};
use crate::config::yaml::LONGEST_ORDER;
use crate::config::{Folders, Keep};
use crate::history::{End, Line};
use crate::watch::Place;

pub(super) fn is_there(path: &Path) -> bool {
    super::there(path).unwrap()
}

pub(super) struct Studio {
    _folder: TempDir,
    pub(super) folders: Folders,
    pub(super) journal: Journal,
}

pub(super) fn studio() -> Studio {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().to_owned();
    let under = |name: &str| root.join(name);
    let folders = Folders {
        incoming: under("incoming"),
        outgoing: under("outgoing"),
        refused: under("refused"),
        kept: under("kept"),
        root: root.clone(),
    };
    let journal = Journal::open(&folders).unwrap();
    Studio { _folder: folder, folders, journal }
}

impl Studio {
    pub(super) fn put(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.folders.incoming.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        super::write_whole(&path, bytes).unwrap();
        path
    }

    pub(super) fn set(&self, names: &[&str]) -> SourceSet {
        let source = |name: &&str| {
            let path = self.folders.incoming.join(name);
            Source { signature: Signature::of(&path).unwrap(), path }
        };
        let files = names.iter().map(source).collect();
        SourceSet {
            stem: "chart".to_owned(),
            files,
            defaults: None,
            place: Place::Usual,
            first_seen: Instant::now(),
        }
    }

    fn claimed(&self) -> Claim {
        self.put("mats/chart.yaml", b"blank: x");
        self.put("mats/chart.png", b"pixels");
        self.journal.claim(&self.set(&["mats/chart.yaml", "mats/chart.png"])).unwrap()
    }

    fn staged(&self, claim: &Claim) {
        let part = self.journal.stage(claim).unwrap();
        super::write_whole(&part.join("sheets.pdf"), b"a page").unwrap();
    }

    pub(super) fn visible(&self, folder: &Path) -> Vec<String> {
        super::names(folder).unwrap()
    }

    /// The job is finished, its sources kept, and nothing is left between.
    fn is_finished(&self, id: &str) {
        assert!(is_there(&self.folders.outgoing.join(id).join("sheets.pdf")), "published");
        assert_eq!(fs::read(self.folders.kept.join(id).join("chart.png")).unwrap(), b"pixels");
        assert_eq!(super::names(&self.journal.claimed()).unwrap(), Vec::<String>::new());
        assert_eq!(super::names(&self.journal.staging()).unwrap(), Vec::<String>::new());
    }
}

#[test]
fn a_claim_takes_the_files_and_names_the_job() {
    let studio = studio();
    let claim = studio.claimed();
    assert!(claim.id.starts_with("chart-") && claim.id.len() == 12, "{}", claim.id);
    assert!(
        is_there(&claim.folder.join("chart.png")) && is_there(&claim.folder.join("chart.yaml")),
        "both are in"
    );
    assert_eq!(studio.visible(&studio.folders.incoming.join("mats")), Vec::<String>::new());
}

#[test]
fn the_same_again_gets_the_next_number() {
    let studio = studio();
    let first = studio.claimed();
    let second = studio.claimed();
    assert_eq!(second.id, format!("{}-2", first.id));
    studio.staged(&first);
    studio.journal.deliver(&first).unwrap();
    assert_eq!(studio.claimed().id, format!("{}-3", first.id));
}

#[test]
fn a_file_that_changed_meanwhile_is_handed_back_whole() {
    let studio = studio();
    studio.put("chart.yaml", b"blank: x");
    studio.put("chart.png", b"pixels");
    let set = studio.set(&["chart.yaml", "chart.png"]);
    studio.put("chart.png", b"other pixels");
    assert!(studio.journal.claim(&set).is_err(), "it is not what was seen");
    assert_eq!(studio.visible(&studio.folders.incoming), ["chart.png", "chart.yaml"]);
    assert_eq!(fs::read(studio.folders.incoming.join("chart.png")).unwrap(), b"other pixels");
    assert_eq!(super::names(&studio.journal.claimed()).unwrap(), Vec::<String>::new());
}

#[test]
fn files_without_end_are_taken_all_the_same() {
    let studio = studio();
    // Mostly holes, so that they take no room; to read them through would take an hour, to copy them a disk.
    for (name, bytes) in [("mats/chart.png", &b"pixels"[..]), ("mats/folder.yaml", b"blank: x")] {
        let path = studio.put(name, bytes);
        fs::OpenOptions::new().write(true).open(path).unwrap().set_len(1 << 40).unwrap();
    }
    let mut set = studio.set(&["mats/chart.png"]);
    set.defaults = Some(studio.folders.incoming.join("mats/folder.yaml"));
    let began = Instant::now();
    let claim = studio.journal.claim(&set).unwrap();
    assert!(began.elapsed() < Duration::from_secs(60), "{:?}", began.elapsed());
    assert_eq!(claim.folder.join("chart.png").metadata().unwrap().len(), 1 << 40, "as it was saved");
    let copy = claim.folder.join("folder.yaml").metadata().unwrap().len();
    assert!(copy > LONGEST_ORDER && copy < 2 * LONGEST_ORDER, "enough to refuse it by: {copy}");
}

#[test]
fn what_is_no_file_any_more_is_neither_waited_for_nor_followed() {
    let studio = studio();
    let path = studio.folders.incoming.join("chart.png");
    rustix::fs::mknodat(rustix::fs::CWD, &path, FileType::Fifo, Mode::RWXU, 0).unwrap();
    assert!(studio.journal.claim(&studio.set(&["chart.png"])).is_err(), "a pipe has no end");
    fs::remove_file(&path).unwrap();
    studio.put("chart.png", b"pixels");
    std::os::unix::fs::symlink("/etc/passwd", studio.folders.incoming.join("folder.yaml")).unwrap();
    let mut set = studio.set(&["chart.png"]);
    set.defaults = Some(studio.folders.incoming.join("folder.yaml"));
    assert!(studio.journal.claim(&set).is_err(), "a link leads out of the inbox");
    assert_eq!(studio.visible(&studio.folders.incoming), ["chart.png", "folder.yaml"], "they stay");
}

#[test]
fn delivery_publishes_and_keeps() {
    let studio = studio();
    let claim = studio.claimed();
    studio.staged(&claim);
    let at = studio.journal.deliver(&claim).unwrap();
    assert_eq!(at, studio.folders.outgoing.join(&claim.id));
    studio.is_finished(&claim.id);
}

#[test]
fn a_name_taken_in_outgoing_is_never_overwritten() {
    let studio = studio();
    let claim = studio.claimed();
    studio.staged(&claim);
    fs::create_dir(studio.folders.outgoing.join(&claim.id)).unwrap();
    super::write_whole(&studio.folders.outgoing.join(&claim.id).join("mine"), b"mine").unwrap();
    let at = studio.journal.deliver(&claim).unwrap();
    assert_eq!(at, studio.folders.outgoing.join(format!("{}-2", claim.id)));
    assert!(is_there(&studio.folders.outgoing.join(&claim.id).join("mine")), "what was there stays");
}

#[test]
fn folders_that_were_tidied_away_are_made_again() {
    let studio = studio();
    let Folders { outgoing, refused, kept, .. } = &studio.folders;
    for folder in [outgoing, refused, kept] {
        super::remove_folder(folder).unwrap();
    }
    let claim = studio.claimed();
    studio.staged(&claim);
    studio.journal.deliver(&claim).unwrap();
    studio.is_finished(&claim.id);
    let claim = studio.claimed();
    super::remove_folder(refused).unwrap();
    let at = studio.journal.refuse(&claim, &[Fault::order("No.", "Yes.")]).unwrap();
    assert!(is_there(&at.join("why.txt")), "it is said why");
}

#[test]
fn refusal_says_why_and_keeps_the_sources() {
    let studio = studio();
    let claim = studio.claimed();
    let faults =
        [Fault::order("24 has no unit.", "Write `24in`.").at("chart.yaml, line 2, `size.width`\u{1b}[2J")];
    let at = studio.journal.refuse(&claim, &faults).unwrap();
    let why = fs::read_to_string(at.join("why.txt")).unwrap();
    assert!(
        why.contains("line 2") && why.contains("24 has no unit") && why.contains("Write `24in`"),
        "{why}"
    );
    assert!(!why.contains('\u{1b}'), "nothing plays tricks on a terminal");
    assert_eq!(fs::read(at.join("chart.png")).unwrap(), b"pixels");
    assert_eq!(studio.visible(&studio.folders.outgoing), Vec::<String>::new());
}

#[test]
fn recovery_comes_back_from_every_state() {
    for state in ["tmp", "plain", "part", "ready", "done", "published", "refused"] {
        let studio = studio();
        let claim = studio.claimed();
        let journal = &studio.journal;
        match state {
            "tmp" => fs_rename(&claim.folder, &journal.state(&claim.id, ".tmp")),
            "part" => studio.staged(&claim),
            "ready" | "done" | "published" => {
                studio.staged(&claim);
                fs_rename(&journal.staged(&claim.id, ".part"), &journal.staged(&claim.id, ".ready"));
                if state != "ready" {
                    fs_rename(&claim.folder, &journal.state(&claim.id, ".done"));
                }
                if state == "published" {
                    fs_rename(&journal.staged(&claim.id, ".ready"), &studio.folders.outgoing.join(&claim.id));
                }
            }
            "refused" => {
                super::write_whole(&claim.folder.join("why.txt"), b"why").unwrap();
                fs_rename(&claim.folder, &journal.state(&claim.id, ".refused"));
            }
            _ => {}
        }
        for _ in 0..2 {
            let waiting = journal.recover().unwrap();
            match state {
                "tmp" => assert_eq!(
                    studio.visible(&studio.folders.incoming.join("mats")),
                    ["chart.png", "chart.yaml"]
                ),
                "plain" | "part" => assert_eq!(waiting, std::slice::from_ref(&claim), "{state}"),
                "ready" => assert!(
                    waiting.first().is_none_or(|claim| journal.standing(claim).unwrap() == Standing::Worked),
                    "it is only to be delivered"
                ),
                "refused" => assert_eq!(
                    fs::read(studio.folders.refused.join(&claim.id).join("why.txt")).unwrap(),
                    b"why"
                ),
                _ => studio.is_finished(&claim.id),
            }
            if state == "ready" && !waiting.is_empty() {
                journal.deliver(&waiting[0]).unwrap();
                studio.is_finished(&claim.id);
            }
        }
    }
}

#[test]
fn what_was_taken_away_meanwhile_is_not_made_again() {
    let studio = studio();
    let claim = studio.claimed();
    studio.staged(&claim);
    fs_rename(&studio.journal.staged(&claim.id, ".part"), &studio.journal.staged(&claim.id, ".ready"));
    fs_rename(&claim.folder, &studio.journal.state(&claim.id, ".done"));
    super::remove_folder(&studio.journal.staged(&claim.id, ".ready")).unwrap();
    assert!(studio.journal.recover().unwrap().is_empty(), "nothing to work");
    assert_eq!(studio.visible(&studio.folders.outgoing), Vec::<String>::new());
    assert!(is_there(&studio.folders.kept.join(&claim.id)), "the sources are kept");
}

#[test]
fn one_damaged_claim_does_not_stop_the_others_and_loses_nothing() {
    let studio = studio();
    let claim = studio.claimed();
    super::write_whole(&studio.journal.claimed().join("stray"), b"not a folder").unwrap();
    let half = studio.journal.claimed().join("half.tmp");
    fs::create_dir(&half).unwrap();
    super::write_whole(&half.join(".claim.json"), b"{").unwrap();
    super::write_whole(&half.join("gulls.png"), b"pixels").unwrap();
    super::write_whole(&half.join("folder.yaml"), b"a copy").unwrap();
    assert_eq!(studio.journal.recover().unwrap(), [claim]);
    assert_eq!(studio.visible(&studio.folders.incoming), ["gulls.png", "mats"]);
}

#[test]
fn what_cannot_be_looked_at_is_not_taken_for_gone() {
    let studio = studio();
    let claim = studio.claimed();
    studio.staged(&claim);
    studio.journal.deliver(&claim).unwrap();
    let kept = studio.folders.kept.join(&claim.id);
    let done = studio.journal.state(&claim.id, ".done");
    fs_rename(&kept, &done);
    // A file in place of a folder gives "not a directory" as a failing disk gives "input/output error".
    let staging = studio.journal.staging();
    fs::remove_dir(&staging).unwrap();
    super::write_whole(&staging, b"no folder").unwrap();
    assert!(studio.journal.finish(&claim.id).is_err(), "nobody can tell whether it is published");
    assert!(is_there(&done), "so it is not kept either");

    // Facts that cannot be read, as on a failing disk, say nothing of where the files belong.
    let tmp = studio.journal.state("tide-123456", ".tmp");
    fs::create_dir_all(tmp.join(super::claim::FACTS)).unwrap();
    assert!(
        super::claim::put_back(&tmp, &studio.folders.incoming).is_err(),
        "nobody can tell where it belongs"
    );
    assert!(is_there(&tmp), "so it is not removed");
}

#[test]
fn an_inbox_that_was_taken_away_is_not_made_anew() {
    let studio = studio();
    studio.put("chart.png", b"pixels");
    let set = studio.set(&["chart.png"]);
    fs_rename(&studio.folders.incoming, &studio.folders.root.join("away"));
    assert!(studio.journal.claim(&set).is_err(), "there is nothing to take");
    assert!(!is_there(&studio.folders.incoming), "its way back is free");
}

#[test]
fn handing_back_never_replaces_a_newer_file_and_keeps_pairs_together() {
    let studio = studio();
    let claim = studio.claimed();
    studio.put("mats/chart.png", b"newer");
    studio.journal.hand_back(&claim).unwrap();
    let mats = studio.folders.incoming.join("mats");
    assert_eq!(fs::read(mats.join("chart.png")).unwrap(), b"newer");
    assert_eq!(fs::read(mats.join("chart-2.png")).unwrap(), b"pixels");
    assert_eq!(fs::read(mats.join("chart-2.yaml")).unwrap(), b"blank: x");
    assert_eq!(studio.visible(&mats), ["chart-2.png", "chart-2.yaml", "chart.png"]);
}

#[test]
fn a_name_as_long_as_can_be_comes_back_beside_a_newer_file() {
    let studio = studio();
    let long = format!("{}.png", "é".repeat(125));
    studio.put("x", b"pixels");
    let path = studio.folders.incoming.join(&long);
    fs_rename(&studio.folders.incoming.join("x"), &path);
    let claim = studio.journal.claim(&studio.set(&[&long])).unwrap();
    fs::File::create(&path).unwrap();
    studio.journal.hand_back(&claim).unwrap();
    let beside = studio.folders.incoming.join(format!("{}-2.png", "é".repeat(124)));
    assert_eq!(fs::read(beside).unwrap(), b"pixels");
}

#[test]
fn a_retry_that_is_cut_short_loses_nothing_laid_beside() {
    let studio = studio();
    let claim = studio.claimed();
    studio.journal.refuse(&claim, &[]).unwrap();
    let refused = studio.folders.refused.join(&claim.id);
    super::write_whole(&refused.join("chart.jpg"), b"better pixels").unwrap();
    fs::remove_file(refused.join("chart.png")).unwrap();
    // A kill comes when the folder is moved, but no file of it yet.
    fs_rename(&refused, &studio.journal.state(&claim.id, ".tmp"));
    studio.journal.recover().unwrap();
    let mats = studio.folders.incoming.join("mats");
    assert_eq!(studio.visible(&mats), ["chart.jpg", "chart.yaml"]);
}

#[test]
fn facts_that_somebody_wrote_lead_nowhere_but_into_the_inbox() {
    let studio = studio();
    let outside = studio.folders.root.join("outside");
    let absolute = outside.join("absolute").to_string_lossy().into_owned();
    for from in ["../outside", "mats/../../outside", &absolute, "mats\\u0000", ".claimed/tide-123456.tmp"] {
        let tmp = studio.journal.state("tide-123456", ".tmp");
        fs::create_dir(&tmp).unwrap();
        let facts = format!(r#"{{"first_seen":"","from":"{from}","files":[]}}"#);
        super::write_whole(&tmp.join(super::claim::FACTS), facts.as_ref()).unwrap();
        super::write_whole(&tmp.join("tide.png"), b"pixels").unwrap();
        studio.journal.recover().unwrap();
        assert!(!is_there(&outside), "{from} leads out");
        let back = studio.folders.incoming.join("tide.png");
        assert!(is_there(&back), "{from}: its file comes back");
        fs::remove_file(back).unwrap();
    }
}

#[test]
fn names_that_are_no_text_come_back_as_they_were() {
    use std::os::unix::ffi::OsStrExt as _;
    let studio = studio();
    let path = studio.folders.incoming.join(std::ffi::OsStr::from_bytes(b"ch\xffart\n.png"));
    super::write_whole(&studio.folders.incoming.join("x"), b"pixels").unwrap();
    fs_rename(&studio.folders.incoming.join("x"), &path);
    let source = Source { signature: Signature::of(&path).unwrap(), path: path.clone() };
    let set = SourceSet {
        stem: "ch\u{fffd}art\n".to_owned(),
        files: vec![source],
        defaults: None,
        place: Place::Usual,
        first_seen: Instant::now(),
    };
    let claim = studio.journal.claim(&set).unwrap();
    assert!(claim.id.starts_with("ch-art--"), "{}", claim.id);
    studio.journal.hand_back(&claim).unwrap();
    assert_eq!(fs::read(path).unwrap(), b"pixels");
}

#[test]
fn a_writer_that_goes_on_is_noticed() {
    let studio = studio();
    let claim = studio.claimed();
    assert!(studio.journal.is_unchanged(&claim), "nobody touched it");
    let mut file = fs::OpenOptions::new().append(true).open(claim.folder.join("chart.png")).unwrap();
    std::io::Write::write_all(&mut file, b" and more").unwrap();
    assert!(!studio.journal.is_unchanged(&claim), "it grew");
}

#[test]
fn delivery_goes_on_from_wherever_it_was_interrupted() {
    for state in ["part", "ready", "done", "published"] {
        let studio = studio();
        let claim = studio.claimed();
        let journal = &studio.journal;
        studio.staged(&claim);
        if state != "part" {
            fs_rename(&journal.staged(&claim.id, ".part"), &journal.staged(&claim.id, ".ready"));
        }
        if ["done", "published"].contains(&state) {
            fs_rename(&claim.folder, &journal.state(&claim.id, ".done"));
        }
        if state == "published" {
            fs_rename(&journal.staged(&claim.id, ".ready"), &studio.folders.outgoing.join(&claim.id));
        }
        let standing = if state == "part" { Standing::Claimed } else { Standing::Worked };
        assert_eq!(journal.standing(&claim).unwrap(), standing, "{state}");
        assert_eq!(journal.deliver(&claim).unwrap(), studio.folders.outgoing.join(&claim.id));
        studio.is_finished(&claim.id);
        assert_eq!(journal.standing(&claim).unwrap(), Standing::Gone);
    }
}

#[test]
fn jobs_are_taken_up_in_the_order_they_were_seen() {
    let studio = studio();
    for (name, first_seen) in [("b", "2026-11-25T01:00:00Z"), ("a", "2026-11-25T02:00:00Z")] {
        let folder = studio.journal.state(name, "");
        fs::create_dir(&folder).unwrap();
        let facts = format!(r#"{{"first_seen":"{first_seen}","from":"","files":[]}}"#);
        super::write_whole(&folder.join(".claim.json"), facts.as_bytes()).unwrap();
    }
    let order: Vec<String> = studio.journal.recover().unwrap().into_iter().map(|claim| claim.id).collect();
    assert_eq!(order, ["b", "a"]);
}

#[test]
fn two_at_once_never_choose_the_same_name() {
    let studio = studio();
    let sets: Vec<SourceSet> = (0..16)
        .map(|n| {
            studio.put(&format!("{n}/chart.png"), b"pixels");
            studio.set(&[&format!("{n}/chart.png")])
        })
        .collect();
    let mut ids: Vec<String> = std::thread::scope(|scope| {
        let journal = &studio.journal;
        let claims: Vec<_> =
            sets.iter().map(|set| scope.spawn(move || journal.claim(set).unwrap().id)).collect();
        claims.into_iter().map(|claim| claim.join().unwrap()).collect()
    });
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), 16, "{ids:?}");
}

#[test]
fn only_our_own_old_folders_are_removed_from_kept() {
    let studio = studio();
    let claim = studio.claimed();
    studio.staged(&claim);
    studio.journal.deliver(&claim).unwrap();
    let (ours, theirs) = (studio.folders.kept.join(&claim.id), studio.folders.kept.join("photographs"));
    fs::create_dir(&theirs).unwrap();
    studio.journal.prune(Keep::Days(1)).unwrap();
    assert!(is_there(&ours) && is_there(&theirs), "both are young");
    let old = std::time::UNIX_EPOCH + Duration::from_secs(1_000_000_000);
    for folder in [&ours, &theirs] {
        fs::File::open(folder).unwrap().set_modified(old).unwrap();
    }
    studio.journal.prune(Keep::Forever).unwrap();
    assert!(is_there(&ours), "nothing is removed unasked");
    studio.journal.prune(Keep::Days(1)).unwrap();
    assert!(!is_there(&ours) && is_there(&theirs), "only what we kept");
}

#[test]
fn the_history_has_a_line_for_each_end() {
    let studio = studio();
    studio.journal.tell(&Line { seconds: Some(6), ..Line::now("chart-123456", End::Done) });
    studio.journal.tell(&Line::now("chart-123456-2", End::Refused));
    let text = fs::read_to_string(studio.folders.kept.join(".history.jsonl")).unwrap();
    let lines: Vec<serde_json::Value> =
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!((&lines[0]["job"], &lines[0]["seconds"]), (&"chart-123456".into(), &6.into()));
    assert_eq!((lines.len(), &lines[1]["end"]), (2, &"refused".into()));
}

/// `/dev/shm` and the folder for temporary files are two file systems on most machines.
#[test]
fn another_file_system_gets_a_copy_once() {
    let far = Path::new("/dev/shm");
    let studio = studio();
    let device = |path: &Path| path.metadata().map(|facts| std::os::unix::fs::MetadataExt::dev(&facts)).ok();
    if device(far).is_none() || device(far) == device(&studio.folders.root) {
        eprintln!("not tested: this machine has no second file system at /dev/shm");
        return;
    }
    let far = tempfile::tempdir_in(far).unwrap();
    let folders = Folders {
        kept: far.path().join("kept"),
        refused: far.path().join("refused"),
        ..studio.folders.clone()
    };
    let studio = Studio { journal: Journal::open(&folders).unwrap(), folders, ..studio };
    let claim = studio.claimed();
    studio.staged(&claim);
    studio.journal.deliver(&claim).unwrap();
    studio.is_finished(&claim.id);

    // Killed after the copy and before the original was removed.
    let claim = studio.claimed();
    studio.staged(&claim);
    let done = studio.journal.state(&claim.id, ".done");
    fs_rename(&claim.folder, &done);
    super::copy_folder(&done, &studio.folders.kept.join(&claim.id)).unwrap();
    let before = studio.visible(&studio.folders.kept);
    for _ in 0..2 {
        studio.journal.recover().unwrap();
    }
    assert_eq!(studio.visible(&studio.folders.kept), before, "no second copy");
    assert_eq!(studio.visible(&studio.journal.claimed()), Vec::<String>::new());
}

pub(super) fn fs_rename(from: &Path, to: &Path) {
    super::move_no_replace(from, to).unwrap();
}
