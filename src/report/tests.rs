//! What the morning has, in which order, and that the page holds texts as texts.

use std::fs;

use jiff::tz::TimeZone;
use tempfile::TempDir;

use super::*;
use crate::config;
use crate::history::{self, End, Line, Made, Pressing, Reason};
use crate::journal::clock::Zoned;
use morning::Settled;

const NASTY: &str = "</title><script>alert(\"1\")</script> & 'so' \u{202e}";

fn studio(more: &str) -> (TempDir, Config) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(config::FILE);
    write_whole(&file, more.as_bytes()).unwrap();
    let config = config::load(Some(&file)).unwrap();
    for folder in [&config.studio.kept, &config.studio.refused, &config.studio.outgoing] {
        fs::create_dir_all(folder).unwrap();
    }
    (folder, config)
}

fn at(stamp: &str) -> Zoned {
    clock::local(stamp).unwrap().with_time_zone(TimeZone::UTC)
}

fn job(config: &Config, name: &str, heat: f64, paper: &str) -> Made {
    let made = Made {
        artwork: format!("{name}.png"),
        blank: "table-mat-36x24".to_owned(),
        paper: paper.to_owned(),
        printer: "desk-letter".to_owned(),
        sheets: 6,
        copies: 1,
        pressing: Some(Pressing {
            press: "hand".to_owned(),
            heat_c: heat,
            total_s: 600,
            ..Pressing::default()
        }),
        files: ["notes.pdf", "record.json", "sheets.pdf"].map(str::to_owned).to_vec(),
        ..Made::default()
    };
    tell(config, name, "2026-11-27T04:00:00Z", &made);
    made
}

fn tell(config: &Config, name: &str, when: &str, made: &Made) {
    fs::create_dir_all(config.studio.outgoing.join(name)).unwrap();
    let line = Line { at: when.to_owned(), made: Some(Box::new(made.clone())), ..Line::now(name, End::Done) };
    history::add(&config.studio.kept, &line);
}

#[test]
fn a_night_is_from_noon_and_begins_anew_in_the_evening() {
    for (now, since) in [
        ("2026-11-27T07:00:00Z", "2026-11-26T12:00:00Z"),
        ("2026-11-27T17:59:59Z", "2026-11-26T12:00:00Z"),
        ("2026-11-27T18:00:00Z", "2026-11-27T12:00:00Z"),
        ("2026-11-27T23:59:59Z", "2026-11-27T12:00:00Z"),
        ("2027-01-01T00:00:00Z", "2026-12-31T12:00:00Z"),
    ] {
        assert_eq!(night_of(&at(now)), at(since), "{now}");
    }
}

#[test]
fn heat_rises_and_is_changed_least() {
    let (_folder, config) = studio("");
    for (name, heat, paper) in [
        ("a", 200.0, "letter"),
        ("b", 185.0, "letter"),
        ("c", 200.0, "legal"),
        ("d", 185.0, "letter"),
        ("e", 200.0, "letter"),
    ] {
        job(&config, name, heat, paper);
    }
    let plain = Made { pressing: None, ..job(&config, "g", 1.0, "letter") };
    tell(&config, "f", "2026-11-27T05:00:00Z", &plain);
    fs::remove_dir(config.studio.outgoing.join("g")).unwrap();
    let history = History::read(&config.studio.kept).unwrap();
    let morning = Morning::of(&history, &config.studio, &at("2026-11-27T07:00:00Z"));
    let order: Vec<(Option<f64>, Vec<&str>)> = morning
        .groups
        .iter()
        .map(|group| {
            (group.press.map(|(_, heat)| heat), group.jobs.iter().map(|ready| &*ready.job.name).collect())
        })
        .collect();
    let expected = [
        (Some(185.0), vec!["b", "d"]),
        (Some(200.0), vec!["c"]),
        (Some(200.0), vec!["a", "e"]),
        (None, vec!["f"]),
    ];
    assert_eq!(order, expected);
    assert_eq!((morning.changes_of_heat(), morning.seconds), (1, 3_000));
    assert_eq!(morning.load[&("letter", "desk-letter")], 30);
    assert!(matches!(morning.settled[..], [(job, Settled::TakenAway)] if &*job.name == "g"));
}

#[test]
fn what_is_settled_or_old_is_no_work_any_more() {
    let (_folder, config) = studio("");
    let made = job(&config, "new-1", 190.0, "letter");
    tell(&config, "old-2", "2026-11-26T11:59:59Z", &made);
    let refused = |name: &str| Line {
        at: "2026-11-27T03:00:00Z".to_owned(),
        why: vec![Reason { what: "No.".into(), ..Reason::default() }],
        ..Line::now(name, End::Refused)
    };
    history::add(&config.studio.kept, &refused("gone-3"));
    history::add(&config.studio.kept, &refused("there-4"));
    fs::create_dir(config.studio.refused.join("there-4")).unwrap();
    let read = || History::read(&config.studio.kept).unwrap();
    let now = at("2026-11-27T07:00:00Z");
    let history = read();
    let morning = Morning::of(&history, &config.studio, &now);
    let names = |jobs: &[&history::Job]| jobs.iter().map(|job| job.name.to_string()).collect::<Vec<_>>();
    assert_eq!(names(&morning.refused), ["there-4"], "the other was tried again or thrown away");
    assert_eq!(names(&morning.earlier), ["old-2"]);
    assert_eq!(morning.ready().count(), 1);
    history::note_result("new-1", true, &[], &config.studio).unwrap();
    let history = read();
    let morning = Morning::of(&history, &config.studio, &now);
    assert_eq!((morning.ready().count(), morning.load.len(), morning.seconds), (0, 0, 0));
    assert!(matches!(morning.settled[..], [(_, Settled::Pressed(verdict))] if verdict.good));
}

#[test]
fn nothing_from_outside_becomes_markup() {
    let (_folder, config) = studio("rates: {currency: \"<b>\", papers: {letter: 1}}");
    let made = job(&config, "nasty-1", 190.0, "letter");
    let made = Made {
        note: Some(NASTY.to_owned()),
        artwork: NASTY.to_owned(),
        blank: NASTY.to_owned(),
        printer: NASTY.to_owned(),
        warnings: vec![NASTY.to_owned()],
        files: vec![NASTY.to_owned(), "sheets.pdf".to_owned()],
        ..made
    };
    tell(&config, "nasty-1", "2026-11-27T04:10:00Z", &made);
    history::note_result("nasty", false, &[NASTY.to_owned()], &config.studio).unwrap();
    tell(&config, "nasty-2", "2026-11-27T04:20:00Z", &made);
    let why =
        vec![Reason { what: NASTY.into(), place: NASTY.into(), cure: NASTY.into(), shown: NASTY.into() }];
    let line = Line { why, at: "2026-11-27T04:20:00Z".to_owned(), ..Line::now("<i>", End::Refused) };
    history::add(&config.studio.kept, &line);
    fs::create_dir(config.studio.refused.join("<i>")).unwrap();
    let history = History::read(&config.studio.kept).unwrap();
    let now = at("2026-11-27T07:00:00Z");
    let morning = Morning::of(&history, &config.studio, &now);
    let slip = serde_json::json!({"job": NASTY, "printer": NASTY, "paper": "letter", "width_um": 1, "height_um": 1, "sheets": 1,
        "copies": 1, "sha256": "", "asked": "", "round": 1, "state": {"stopped": {"cure": NASTY}}, "why": NASTY});
    let slips = [serde_json::from_value(slip).unwrap()];
    for live in [false, true] {
        let page = page(&Sources { morning: &morning, slips: &slips, config: &config, now: &now }, live);
        assert_eq!(page.matches("<script").count(), usize::from(live), "{page}");
        for markup in ["<b>", "<i>", "</title><script", "&amp;amp;", "\u{202e}"] {
            assert!(!page.contains(markup), "{markup}");
        }
        assert!(
            page.matches("&lt;/title&gt;&lt;script&gt;alert(&quot;1&quot;)").count() >= 8,
            "it is all there"
        );
        assert!(page.contains("href=\"nasty-2/sheets.pdf\""), "links lead into the folder");
        let policy = page.split("Content-Security-Policy").nth(1).unwrap().split('>').next().unwrap();
        assert!(policy.contains("default-src &#39;none&#39;") && !policy.contains("unsafe"), "{policy}");
    }
}

#[test]
fn the_page_is_written_when_something_has_changed() {
    let (_folder, config) = studio("");
    let mut report = Report::new(History::of(&config.studio.kept));
    let file = config.studio.outgoing.join(FILE);
    report.renew(&config, false);
    assert!(fs::read_to_string(&file).unwrap().contains("Nothing waits."), "at the start");
    tell(&config, "chart-1", &clock::stamp(std::time::Instant::now()), &job(&config, "x", 190.0, "letter"));
    report.renew(&config, true);
    assert!(!fs::read_to_string(&file).unwrap().contains("chart-1"), "nobody said that something ended");
    report.changed();
    report.renew(&config, false);
    assert!(!fs::read_to_string(&file).unwrap().contains("chart-1"), "more is about to end");
    report.renew(&config, true);
    assert!(fs::read_to_string(&file).unwrap().contains("chart-1"));
}

#[test]
fn what_many_jobs_are_told_is_told_once() {
    let (_folder, config) = studio("");
    let why = |row: usize, what: &str| {
        vec![Reason {
            what: what.into(),
            place: format!("names.csv, line {row}").into(),
            cure: "Mend it.".into(),
            ..Reason::default()
        }]
    };
    for row in 2..130 {
        let name = format!("mat-{row}");
        let what = if row == 7 { "No such paper." } else { "No such blank." };
        let line = Line {
            why: why(row, what),
            at: "2026-11-27T04:20:00Z".to_owned(),
            ..Line::now(&name, End::Refused)
        };
        history::add(&config.studio.kept, &line);
        fs::create_dir(config.studio.refused.join(&name)).unwrap();
    }
    let made = job(&config, "first", 190.0, "letter");
    for row in 0..120 {
        let name = format!("moon-{row}");
        let made = Made { warnings: vec!["Edges will look soft.".to_owned()], ..made.clone() };
        tell(&config, &name, "2026-11-27T04:10:00Z", &made);
    }
    let history = History::read(&config.studio.kept).unwrap();
    let now = at("2026-11-27T07:00:00Z");
    let morning = Morning::of(&history, &config.studio, &now);
    let page = page(&Sources { morning: &morning, slips: &[], config: &config, now: &now }, false);
    let count = |text: &str| page.matches(text).count();
    assert_eq!((count("No such blank."), count("No such paper."), count("Edges will look soft.")), (1, 1, 1));
    assert_eq!((count("Refused: 127 jobs"), count("seamwright retry mat-7<")), (1, 1));
    assert_eq!(count("names.csv, line 9<"), 1, "each with its place");
    assert!(count("And 77 jobs more, in refused/.") == 1 && count("And 70 jobs more, below.") == 1, "{page}");
    assert_eq!(count("<article"), 100, "beyond that they are named");
    assert!((0..120).all(|row| count(&format!("id=\"moon-{row}\"")) == 1), "each can be linked to");
}
