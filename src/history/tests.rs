//! The log read back, mended from the records, and asked.

use std::fs;

use clap::Parser;
use serde_json::{Value, json};
use tempfile::TempDir;

use super::*;
use crate::config::{self, Config};
use crate::journal::files::write_whole;

fn studio() -> (TempDir, Config) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(config::FILE);
    write_whole(&file, b"units: metric\nrates: {currency: EUR, papers: {letter: 0.5}}\n").unwrap();
    let config = config::load(Some(&file)).unwrap();
    for folder in [&config.studio.kept, &config.studio.refused, &config.studio.outgoing] {
        fs::create_dir_all(folder).unwrap();
    }
    (folder, config)
}

/// As much of a record as is read.
fn record(blank: &str, note: &str) -> Value {
    json!({"artwork": {"file": "chart.png"}, "design": {"width_um": 600_000, "height_um": 300_000, "sheet_ppi": 300.0},
        "copies": 2, "note": note, "printer": "desk-letter", "blank": {"name": blank, "substrate": "polyester-mat"},
        "paper": {"name": "letter"}, "orientation": "landscape", "lap_um": 5_000, "panels": [{}, {}, {}],
        "press": {"name": "hand-12x10", "placements": [{}, {}], "heat_c": 195.0, "dwell_s": 55, "total_s": 400},
        "colour": null, "warnings": ["coarse"], "files": {"sheets.pdf": "application/pdf"}})
}

fn made(blank: &str, note: &str) -> Option<Box<Made>> {
    Made::of_record(record(blank, note).to_string().as_bytes()).map(Box::new)
}

fn line(at: &str, job: &str, end: End) -> Line {
    Line { at: format!("2026-11-{at}:00Z"), ..Line::now(job, end) }
}

fn done(at: &str, job: &str, blank: &str) -> Line {
    Line { made: made(blank, "for the reading room"), ..line(at, job, End::Done) }
}

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

fn asked(typed: &str) -> Asked {
    #[derive(Parser)]
    struct Typed {
        #[command(flatten)]
        asked: Asked,
    }
    Typed::try_parse_from(["history"].into_iter().chain(typed.split_whitespace())).unwrap().asked
}

#[test]
fn a_job_is_what_its_lines_say_together() {
    let (_folder, config) = studio();
    let kept = &config.studio.kept;
    let why = vec![Reason { what: "No.".into(), ..Reason::default() }];
    add(kept, &Line { why: why.clone(), ..line("20T06:00", "chart-1", End::Refused) });
    let mut history = History::read(kept).unwrap();
    assert_eq!((history.jobs().len(), &*history.jobs()[0].why), (1, &*why));
    add(kept, &line("20T06:10", "chart-1", End::Retried));
    add(kept, &done("20T06:20", "chart-1", "mat"));
    add(kept, &Line { words: Some("crisp".to_owned()), ..line("20T09:00", "chart-1", End::Good) });
    add(kept, &Line { panels: vec![3], ..line("20T10:00", "chart-1", End::Again) });
    add(kept, &line("20T10:00", "gulls-2", End::Bad));
    history.catch_up().unwrap();
    let [first, second] = history.jobs() else { panic!("{:?}", history.jobs()) };
    assert_eq!((first.end, second.end, second.again()), (End::Retried, End::Done, 1));
    assert_eq!(second.verdicts()[0].words, "crisp");
    assert_eq!(history.latest("chart-1"), Some(second));
    assert_eq!(history.latest("gulls-2"), None, "a word on a job that never was");
}

#[test]
fn what_cannot_be_read_is_passed_over() {
    let (_folder, config) = studio();
    let kept = &config.studio.kept;
    add(kept, &done("20T06:00", "chart-1", "mat"));
    let mut log = OpenOptions::new().append(true).open(kept.join(FILE)).unwrap();
    log.write_all(b"\xff\xfe\n{\"at\": 5}\n{\"at\":\"cut off").unwrap();
    let mut history = History::read(kept).unwrap();
    assert_eq!((history.jobs().len(), history.unread()), (1, 2), "what has no end is not counted yet");
    add(kept, &done("20T07:00", "chart-2", "mat"));
    history.catch_up().unwrap();
    assert_eq!((history.jobs().len(), history.unread()), (2, 3), "the next line begins anew");
    assert!(!history.has_more(), "all is read");
    fs::remove_file(kept.join(FILE)).unwrap();
    add(kept, &done("20T07:00", "chart-3", "mat"));
    history.catch_up().unwrap();
    assert_eq!(history.jobs().len(), 1, "another log");
}

#[test]
fn a_lost_log_is_made_again_from_the_records() {
    let (_folder, config) = studio();
    let folders = &config.studio;
    for (job, blank) in [("chart-1", "mat"), ("tide-2", "cloth")] {
        let kept = folders.kept.join(job);
        fs::create_dir(&kept).unwrap();
        write_whole(&kept.join("record.json"), record(blank, "x").to_string().as_bytes()).unwrap();
    }
    let refused = folders.refused.join("gulls-3");
    fs::create_dir(&refused).unwrap();
    write_whole(&refused.join(crate::journal::FACTS), b"{}").unwrap();
    let why = "This job could not be done.\n\nWhere: gulls.yaml\nWhat:  There is no blank.\nCure:  Name one.\n\nWhat:  And more.\n";
    write_whole(&refused.join("why.txt"), why.as_bytes()).unwrap();
    // Not ours.
    fs::create_dir(folders.kept.join("old things")).unwrap();
    fs::create_dir(folders.refused.join("old things")).unwrap();

    assert_eq!(mend(&mut History::of(&folders.kept), folders).unwrap(), 3);
    note_result("chart", false, &words(&["edges", "pale"]), folders).unwrap();
    let before = History::read(&folders.kept).unwrap();
    assert_eq!(mend(&mut History::of(&folders.kept), folders).unwrap(), 0, "nothing is missing any more");
    fs::remove_file(folders.kept.join(FILE)).unwrap();
    assert_eq!(mend(&mut History::of(&folders.kept), folders).unwrap(), 4);
    let after = History::read(&folders.kept).unwrap();
    for job in before.jobs() {
        assert_eq!(after.latest(&job.name), Some(job));
    }
    let gulls = after.latest("gulls-3").unwrap();
    assert_eq!((gulls.why.len(), &*gulls.why[0].place, &*gulls.why[0].cure), (2, "gulls.yaml", "Name one."));
    assert_eq!(&*gulls.why[1].what, "And more.");
    assert_eq!(after.latest("chart-1").unwrap().verdicts()[0].words, "edges pale");
}

#[test]
fn past_jobs_are_found_by_blank_day_and_words() {
    let (_folder, config) = studio();
    let kept = &config.studio.kept;
    for (day, job, blank) in [("20", "chart-1", "mat"), ("21", "tide-2", "cloth"), ("22", "moon-3", "mat")] {
        add(kept, &done(&format!("{day}T12:00"), job, blank));
    }
    let found = |typed: &str| -> Vec<String> {
        let lines = told(&asked(typed), &config).unwrap();
        let names = ["chart-1", "tide-2", "moon-3"];
        names
            .into_iter()
            .filter(|name| lines.iter().any(|line| line.contains(name)))
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(found(""), ["chart-1", "tide-2", "moon-3"]);
    assert_eq!(found("--blank mat"), ["chart-1", "moon-3"]);
    assert_eq!(found("--since 2026-11-21"), ["tide-2", "moon-3"]);
    assert_eq!(found("--until 2026-11-21 --blank mat"), ["chart-1"]);
    assert_eq!(found("Reading TIDE"), ["tide-2"], "every word, in any case");
    assert_eq!(found("--last 1"), ["moon-3"]);
    assert_eq!(told(&asked("nothing"), &config).unwrap(), ["No job of the past fits that."]);
    let whole = told(&asked("tide"), &config).unwrap().join(
        "
",
    );
    for said in [
        "cloth, polyester-mat",
        "600.0 x 300.0 mm",
        "desk-letter, letter landscape, 300 ppi",
        "5.0 mm",
        "2 placements, 55 s each at 195 C (383 F)",
        "warning   coarse",
        "about 3.00 EUR: 3.00 for 6 letter sheets",
    ] {
        assert!(whole.contains(said), "{said}: {whole}");
    }
}

#[test]
fn a_result_is_told_to_the_next_on_the_same_blank() {
    let (_folder, config) = studio();
    let folders = &config.studio;
    for job in ["chart-1", "chart-2", "tide-3"] {
        add(&folders.kept, &done("20T12:00", job, if job == "tide-3" { "cloth" } else { "mat" }));
    }
    assert_eq!(last_time(&folders.kept, "mat"), None, "nothing was said");
    let why = note_result("chart", true, &[], folders).unwrap_err();
    assert!(why.contains("chart-2 or chart-1"), "{why}");
    assert!(note_result("gulls", true, &[], folders).unwrap_err().contains("no finished job"));
    assert!(note_result("tide", false, &[], folders).unwrap_err().contains("what was wrong"));
    assert!(note_result("tide", true, &words(&["x"; 301]), folders).is_err(), "too long");
    note_result("chart-1", true, &[], folders).unwrap();
    note_result("tide", false, &words(&["a \u{1b}[1m", "\"ghost\""]), folders).unwrap();
    let said = last_time(&folders.kept, "mat").unwrap();
    assert!(said.starts_with("Last time on this blank (chart-1, 20") && said.ends_with("): good."), "{said}");
    note_result("chart-2", false, &words(&["edges", "pale"]), folders).unwrap();
    assert!(last_time(&folders.kept, "mat").unwrap().ends_with("bad: edges pale."), "the latest counts");
    let said = last_time(&folders.kept, "cloth").unwrap();
    assert!(said.ends_with("bad: a \u{fffd}[1m \"ghost\"."), "{said}");
    let history = History::read(&folders.kept).unwrap();
    let last = history.last_on("mat").map(|(job, verdict)| (&*job.name, verdict.good));
    assert_eq!(last, Some(("chart-2", false)));
}
