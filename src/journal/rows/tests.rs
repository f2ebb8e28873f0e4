//! Wherever the unfolding of a list is cut off, each row ends up once, whole.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::MetadataExt as _;
use std::path::Path;

use super::super::files::{remove_folder, write_whole};
use super::super::tests::{Studio, fs_rename, is_there, studio};
use super::super::{Claim, FACTS, Standing};
use super::{PLAN, Plan, Planned};
use crate::history::Reason;
use crate::watch::Place;

fn planned(line: u32, job: &str) -> Planned {
    Planned {
        line,
        label: job.to_owned(),
        job: job.to_owned(),
        stem: format!("chart-{job}"),
        sidecar: format!("note: {job}\n"),
        before: None,
        why: Vec::new(),
    }
}

/// Four rows: two to be worked, one refused from the start, one made before.
fn plan() -> Plan {
    let why = vec![Reason { what: "No.".into(), ..Reason::default() }];
    let rows = vec![
        planned(2, "ada-11111111"),
        planned(3, "bo-22222222"),
        Planned { why, ..planned(4, "cy-33333333") },
        Planned { before: Some("dee-44444444-2".to_owned()), ..planned(5, "dee-44444444") },
    ];
    Plan { list: "visitors.csv".to_owned(), remark: None, rows }
}

/// A list that is claimed and worked, its summary staged.
fn worked(studio: &Studio) -> Claim {
    for (name, bytes) in
        [("chart.yaml", "list: visitors.csv"), ("visitors.csv", "name"), ("chart.png", "pixels")]
    {
        studio.put(&format!("mats/{name}"), bytes.as_bytes());
    }
    studio.put("mats/folder.yaml", b"blank: x");
    let mut set = studio.set(&["mats/chart.yaml", "mats/visitors.csv", "mats/chart.png"]);
    set.defaults = Some(studio.folders.incoming.join("mats/folder.yaml"));
    let claim = studio.journal.claim(&set).unwrap();
    write_whole(&claim.folder.join(PLAN), &serde_json::to_vec(&plan()).unwrap()).unwrap();
    let part = studio.journal.stage(&claim).unwrap();
    write_whole(&part.join("summary.txt"), b"all wait").unwrap();
    claim
}

/// Takes all rows that wait, and says what became of each.
fn taken(studio: &Studio) -> Vec<(String, Standing)> {
    let rows = studio.journal.waiting_rows().unwrap();
    let claims = rows.iter().map(|row| studio.journal.claim_row(row).unwrap());
    claims.map(|claim| (claim.id.clone(), studio.journal.standing(&claim).unwrap())).collect()
}

fn is_unfolded(studio: &Studio, list: &str) {
    assert_eq!(fs::read(studio.folders.outgoing.join(list).join("summary.txt")).unwrap(), b"all wait");
    let kept = studio.folders.kept.join(list);
    assert_eq!(fs::read(kept.join("visitors.csv")).unwrap(), b"name");
    assert_eq!(Plan::of(&kept).unwrap(), Some(plan()), "what became of the rows is kept");
    assert_eq!(studio.visible(&studio.folders.outgoing), [list], "once");
}

#[test]
fn a_list_becomes_rows_that_wait_in_its_order() {
    let studio = studio();
    let claim = worked(&studio);
    assert_eq!(studio.journal.waiting_rows().unwrap(), [], "not before they are all there");
    studio.journal.deliver(&claim).unwrap();
    is_unfolded(&studio, &claim.id);
    assert_eq!(
        taken(&studio),
        [
            ("ada-11111111".to_owned(), Standing::Claimed),
            ("bo-22222222".to_owned(), Standing::Claimed),
            ("cy-33333333".to_owned(), Standing::Refused),
        ]
    );
    let row = studio.journal.state("ada-11111111", "");
    assert_eq!(studio.visible(&row), ["chart-ada-11111111.png", "chart-ada-11111111.yaml", "folder.yaml"]);
    assert_eq!(fs::read(row.join("chart-ada-11111111.png")).unwrap(), b"pixels");
    assert!(row.join("chart-ada-11111111.png").metadata().unwrap().nlink() >= 3, "the artwork is shared");
    assert!(
        is_there(&row.join(FACTS)) && studio.journal.is_unchanged(&Claim { id: String::new(), folder: row })
    );
    let refused = studio.journal.set_aside("cy-33333333").unwrap();
    assert!(fs::read_to_string(refused.join("why.txt")).unwrap().contains("No."), "with its reason");
    assert_eq!(
        refused.join("chart-cy-33333333.png").metadata().unwrap().nlink(),
        1,
        "what a maker mends there is nobody else's"
    );
    assert_eq!(
        studio.visible(&studio.journal.claimed()),
        ["ada-11111111", "bo-22222222"],
        "no folder of rows"
    );
}

#[test]
fn unfolding_goes_on_from_wherever_it_was_interrupted() {
    let states =
        ["part", "ready", "unfolding", "rows", "done", "published", "kept", "one taken", "first and hold"];
    for (step, state) in states.into_iter().enumerate() {
        let studio = studio();
        let (claim, journal) = (worked(&studio), &studio.journal);
        // As far as it got, by the very steps.
        if step >= 1 {
            fs_rename(&journal.staged(&claim.id, ".part"), &journal.staged(&claim.id, ".ready"));
        }
        if step == 2 {
            let half = journal.state(&claim.id, ".unfolding").join("00002.ada-11111111");
            fs::create_dir_all(&half).unwrap();
            write_whole(&half.join("chart-ada-11111111.png"), b"pix").unwrap();
        }
        if step >= 3 {
            journal.unfold(&claim).unwrap();
        }
        if step >= 4 {
            fs_rename(&claim.folder, &journal.state(&claim.id, ".done"));
        }
        if step == 5 {
            fs_rename(&journal.staged(&claim.id, ".ready"), &studio.folders.outgoing.join(&claim.id));
        }
        if step >= 6 {
            journal.finish(&claim.id).unwrap();
        }
        let mut ended = Vec::new();
        if step == 7 {
            let row = journal.waiting_rows().unwrap().remove(0);
            ended.push(journal.claim_row(&row).unwrap().id);
        }
        if step == 8 {
            let rows = journal.waiting_rows().unwrap();
            rows[1].move_to(Place::First).unwrap();
            rows[0].move_to(Place::Held).unwrap();
        }
        if step < 4 {
            assert_eq!(
                journal.waiting_rows().unwrap(),
                [],
                "{state}: no row is taken before the list is done"
            );
        }
        let mut waiting = BTreeSet::new();
        for _ in 0..2 {
            waiting = journal.recover().unwrap().into_iter().map(|claim| claim.id).collect();
        }
        if waiting.remove(&claim.id) {
            if step == 0 {
                // It is worked again.
                let part = journal.stage(&claim).unwrap();
                write_whole(&part.join("summary.txt"), b"all wait").unwrap();
            } else {
                assert_eq!(journal.standing(&claim).unwrap(), Standing::Worked, "{state}");
            }
            journal.deliver(&claim).unwrap();
        }
        assert_eq!(waiting.into_iter().collect::<Vec<_>>(), ended, "{state}");
        is_unfolded(&studio, &claim.id);
        ended.extend(taken(&studio).into_iter().map(|(job, _)| job));
        ended.sort();
        assert_eq!(ended, ["ada-11111111", "bo-22222222", "cy-33333333"], "{state}: each once");
        journal.set_aside("cy-33333333").unwrap();
        assert_eq!(studio.visible(&journal.claimed()), ["ada-11111111", "bo-22222222"], "{state}");
        assert_eq!(studio.visible(&journal.staging()), Vec::<String>::new(), "{state}");
    }
}

#[test]
fn a_list_whose_summary_was_taken_away_is_not_unfolded_twice() {
    let studio = studio();
    let (claim, journal) = (worked(&studio), &studio.journal);
    fs_rename(&journal.staged(&claim.id, ".part"), &journal.staged(&claim.id, ".ready"));
    journal.unfold(&claim).unwrap();
    remove_folder(&journal.staged(&claim.id, ".ready")).unwrap();
    journal.recover().unwrap();
    assert_eq!(journal.standing(&claim).unwrap(), Standing::Worked, "its rows are there");
    journal.deliver(&claim).unwrap();
    assert_eq!(taken(&studio).len(), 3);
    assert_eq!(studio.visible(&studio.folders.outgoing), Vec::<String>::new(), "and no summary is made up");
}

#[test]
fn a_row_whose_name_is_taken_gets_a_number_and_is_claimed_once() {
    let studio = studio();
    let claim = worked(&studio);
    studio.journal.deliver(&claim).unwrap();
    fs::create_dir(studio.folders.outgoing.join("ada-11111111")).unwrap();
    let rows = studio.journal.waiting_rows().unwrap();
    assert_eq!(studio.journal.claim_row(&rows[0]).unwrap().id, "ada-11111111-2");
    assert!(studio.journal.claim_row(&rows[0]).is_err(), "whoever comes second finds it gone");
    assert!(rows[0].move_to(Place::Held).is_err(), "also by hand");
    let known = studio.journal.known_jobs().unwrap();
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    assert_eq!(
        known,
        ["ada-11111111-2", "bo-22222222", &claim.id],
        "those that are refused may be made again"
    );
}

#[test]
fn rows_move_in_the_queue_and_back() {
    let studio = studio();
    let claim = worked(&studio);
    studio.journal.deliver(&claim).unwrap();
    let places = || -> Vec<(String, Place)> {
        studio.journal.waiting_rows().unwrap().into_iter().map(|row| (row.job, row.place)).collect()
    };
    let row =
        |job: &str| studio.journal.waiting_rows().unwrap().into_iter().find(|row| row.job == job).unwrap();
    row("bo-22222222").move_to(Place::First).unwrap();
    row("ada-11111111").move_to(Place::Held).unwrap();
    assert_eq!(
        places(),
        [
            ("bo-22222222".to_owned(), Place::First),
            ("cy-33333333".to_owned(), Place::Usual),
            ("ada-11111111".to_owned(), Place::Held),
        ]
    );
    row("ada-11111111").move_to(Place::First).unwrap();
    row("ada-11111111").move_to(Place::Usual).unwrap();
    row("bo-22222222").move_to(Place::Usual).unwrap();
    assert!(places().iter().all(|(_, place)| *place == Place::Usual), "{:?}", places());
    assert_eq!(taken(&studio).len(), 3);
    assert!(!is_there(&studio.journal.state(&claim.id, ".rows")), "also its empty folders are gone");
}

#[test]
fn a_row_that_is_put_back_is_an_order_of_its_own() {
    let studio = studio();
    let claim = worked(&studio);
    studio.journal.deliver(&claim).unwrap();
    let row = studio.journal.waiting_rows().unwrap().remove(0);
    let row = studio.journal.claim_row(&row).unwrap();
    studio.journal.refuse(&row, &[]).unwrap();
    studio.journal.retry(&row.id).unwrap();
    let mats = studio.folders.incoming.join("mats");
    assert_eq!(
        studio.visible(&mats),
        ["chart-ada-11111111.png", "chart-ada-11111111.yaml", "folder.yaml"],
        "where the list came from"
    );
    let kept = studio.folders.kept.join(&claim.id).join("chart.png");
    assert_ne!(inode(&kept), inode(&mats.join("chart-ada-11111111.png")), "a picture of its own");
}

fn inode(path: &Path) -> u64 {
    path.metadata().unwrap().ino()
}

#[test]
fn a_plan_that_leads_elsewhere_makes_nothing() {
    let studio = studio();
    let claim = worked(&studio);
    let mut plan = plan();
    plan.rows[1].stem = "../../out".to_owned();
    write_whole(&claim.folder.join(PLAN), &serde_json::to_vec(&plan).unwrap()).unwrap();
    assert!(studio.journal.deliver(&claim).is_err(), "it is not ours");
    assert_eq!(studio.journal.waiting_rows().unwrap(), []);
}

#[test]
fn rows_are_taken_by_several_at_once() {
    for _ in 0..20 {
        let studio = studio();
        let claim = worked(&studio);
        let rows = (2..10).map(|line| planned(line, &format!("row-{line:08}"))).collect();
        let plan = Plan { rows, ..plan() };
        write_whole(&claim.folder.join(PLAN), &serde_json::to_vec(&plan).unwrap()).unwrap();
        studio.journal.deliver(&claim).unwrap();
        let (rows, journal) = (studio.journal.waiting_rows().unwrap(), &studio.journal);
        std::thread::scope(|scope| {
            for row in &rows {
                scope.spawn(move || journal.claim_row(row).unwrap());
            }
        });
        assert_eq!(studio.visible(&journal.claimed()).len(), 8, "each is claimed, and its folder gone");
    }
}
