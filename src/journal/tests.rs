//! Every state a kill can leave behind comes back onto its way, and coming back twice changes nothing.

use std::fs;
use std::path::{Path, PathBuf};

use seamwright_contract::Fault;
use tempfile::TempDir;

use super::claim::Signature;
use super::{Claim, Journal, Source, SourceSet, there};
use crate::config::Folders;

struct Studio {
    _folder: TempDir,
    folders: Folders,
    journal: Journal,
}

fn studio() -> Studio {
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
    fn put(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.folders.incoming.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        super::write_whole(&path, bytes).unwrap();
        path
    }

    fn set(&self, names: &[&str]) -> SourceSet {
        let source = |name: &&str| {
            let path = self.folders.incoming.join(name);
            Source { signature: Signature::of(&path).unwrap(), path }
        };
        SourceSet { stem: "chart".to_owned(), files: names.iter().map(source).collect(), defaults: None }
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

    fn visible(&self, folder: &Path) -> Vec<String> {
        super::names(folder).unwrap().into_iter().filter(|name| !name.starts_with('.')).collect()
    }

    /// The job is finished, its sources kept, and nothing is left between.
    fn is_finished(&self, id: &str) {
        assert!(there(&self.folders.outgoing.join(id).join("sheets.pdf")), "published");
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
    assert!(there(&claim.folder.join("chart.png")) && there(&claim.folder.join("chart.yaml")), "both are in");
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
    assert!(there(&studio.folders.outgoing.join(&claim.id).join("mine")), "what was there stays");
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
                    journal.publish(&claim.id).unwrap();
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
                    waiting.first().is_none_or(|claim| journal.is_ready(claim)),
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
    let at = studio.journal.publish(&claim.id).unwrap();
    super::remove_folder(&at).unwrap();
    assert!(studio.journal.recover().unwrap().is_empty(), "nothing to work");
    assert_eq!(studio.visible(&studio.folders.outgoing), Vec::<String>::new());
    assert!(there(&studio.folders.kept.join(&claim.id)), "the sources are kept");
}

#[test]
fn one_damaged_claim_does_not_stop_the_others() {
    let studio = studio();
    let claim = studio.claimed();
    super::write_whole(&studio.journal.claimed().join("stray"), b"not a folder").unwrap();
    fs::create_dir(studio.journal.claimed().join("half.tmp")).unwrap();
    super::write_whole(&studio.journal.claimed().join("half.tmp").join(".claim.json"), b"{").unwrap();
    assert_eq!(studio.journal.recover().unwrap(), [claim]);
}

#[test]
fn handing_back_never_replaces_a_newer_file() {
    let studio = studio();
    let claim = studio.claimed();
    studio.put("mats/chart.png", b"newer");
    studio.journal.hand_back(&claim).unwrap();
    let mats = studio.folders.incoming.join("mats");
    assert_eq!(fs::read(mats.join("chart.png")).unwrap(), b"newer");
    assert_eq!(fs::read(mats.join("chart-2.png")).unwrap(), b"pixels");
}

fn fs_rename(from: &Path, to: &Path) {
    super::move_no_replace(from, to).unwrap();
}
