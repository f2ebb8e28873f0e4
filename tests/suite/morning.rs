//! The morning after, from the outside: the report page, the history, a result noted, and sheets made again.

use std::fs;
use std::process::Output;

use crate::studio::{Studio, name, png, record};

const MAT: &str = "blank: table-mat-24x12.5\n";

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn asked(studio: &Studio, verb: &str, words: &[&str]) -> Output {
    studio.command(verb).args(words).output().expect("the program runs")
}

/// A studio in which one job is finished; gives its name.
fn night(more: &str) -> (Studio, String) {
    let studio = Studio::new(more);
    studio.put("chart.png", &png(1600, 833));
    studio.put("chart.yaml", format!("{MAT}allow_low_ppi: yes\nnote: for the reading room\n").as_bytes());
    assert!(studio.once().status.success(), "it is done");
    let job = name(&studio.finished()[0]);
    (studio, job)
}

#[test]
fn a_finished_job_is_on_the_sheet_until_its_result_is_noted() {
    let (studio, job) = night("");
    let page = || fs::read_to_string(studio.path("outgoing/index.html")).expect("the page");
    assert!(page().contains(&format!("href=\"{job}/sheets.pdf\"")), "it is linked");
    assert!(
        page().contains("for the reading room") && page().contains("data:image/jpeg;base64,"),
        "note and proof"
    );
    let status = said(&asked(&studio, "status", &[]));
    assert!(
        status.contains(&format!("ready      {job}")) && status.contains("of letter, desk-letter"),
        "{status}"
    );
    let bad = asked(&studio, "result", &["chart", "--bad", "edges", "pale"]);
    assert!(bad.status.success(), "{}", said(&bad));
    assert!(
        page().contains("pressed, bad: edges pale") && !page().contains("/sheets.pdf\""),
        "off the sheet"
    );
    let history = said(&asked(&studio, "history", &["reading"]));
    assert!(history.contains("bad: edges pale") && history.contains("desk-letter, letter"), "{history}");
    assert!(!asked(&studio, "result", &["chart"]).status.success(), "good or bad must be said");

    studio.put("other.png", &png(1200, 833));
    studio.put("other.yaml", b"blank: place-mat-18x12\nallow_low_ppi: yes\n");
    studio.put("again.png", &png(1000, 833));
    studio.put("again.yaml", format!("{MAT}allow_low_ppi: yes\n").as_bytes());
    assert!(studio.once().status.success(), "both are done");
    let notes = |stem: &str| {
        let of = |job: &&std::path::PathBuf| name(job).starts_with(stem);
        let finished = studio.finished();
        fs::read_to_string(finished.iter().find(of).expect("the job").join("notes.txt")).expect("its notes")
    };
    let flat = notes("again").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("Last time on this blank") && flat.contains("bad: edges pale"), "{flat}");
    assert!(!notes("other").contains("Last time"), "another blank");
}

#[test]
fn the_history_is_made_again_from_the_records() {
    let (studio, job) = night("");
    asked(&studio, "result", &[&job, "--good", "crisp"]);
    let before = said(&asked(&studio, "history", &[&job]));
    fs::remove_file(studio.path("kept/.history.jsonl")).expect("the log");
    assert!(studio.once().status.success(), "nothing to do");
    let after = said(&asked(&studio, "history", &[&job]));
    // When it was worked is known to the minute by the record's own time.
    assert_eq!(before.lines().skip(1).collect::<Vec<_>>(), after.lines().skip(1).collect::<Vec<_>>());
    assert!(after.contains("good: crisp") && after.contains("for the reading room"), "{after}");
}

#[test]
fn sheets_are_made_again_by_what_is_kept_alone() {
    let (studio, job) = night("");
    let sheets = fs::read(studio.finished()[0].join("sheets.pdf")).expect("the sheets");
    fs::remove_dir_all(&studio.finished()[0]).expect("taken away");
    // The catalogue has another printer by that name now, and the settings are others.
    studio.put("../printers/desk-letter.yaml", b"{papers: [a4], margins: 1in}");
    studio.put(
        "../seamwright.yaml",
        b"units: metric\nstages: [{resize: {ppi: 50}}, {overlap: {lap: 9mm}}, tile]\nwriters: [sheets]\n",
    );
    let made = asked(&studio, "again", &[&job]);
    assert!(made.status.success(), "{}", said(&made));
    assert!(said(&made).contains("the same as before"), "{}", said(&made));
    let again = studio.path("outgoing").join(format!("{job}-again"));
    assert!(fs::read(again.join("sheets.pdf")).expect("the sheets again") == sheets, "to the byte");
    let two = asked(&studio, "again", &["chart", "--panels", "2,3"]);
    assert!(said(&two).contains("2 sheets"), "{}", said(&two));
    let none = asked(&studio, "again", &[&job, "--panels", "99"]);
    assert!(said(&none).contains("no panel 99") && !none.status.success(), "{}", said(&none));
    assert_eq!(studio.finished().len(), 2, "two reprints");
}

#[test]
fn a_record_is_kept_also_where_it_is_not_listed() {
    let (studio, job) = night("writers: [sheets]");
    assert!(!studio.finished()[0].join("record.json").exists(), "it is not listed");
    let kept = studio.path("kept").join(&job);
    assert_eq!(record(&kept)["panels"].as_array().map(Vec::len), Some(6));
    let files = record(&kept)["files"].as_object().expect("files").len();
    assert_eq!(files, 2, "sheets and record");
}
