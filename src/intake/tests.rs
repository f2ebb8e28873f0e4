//! Orders: what they may say, and that each kind of mistake names its place and cure.

use std::fs;
use std::path::Path;

use seamwright_contract::catalogue::Orientation;
use seamwright_contract::order::{Fit, Order};
use seamwright_contract::{Blame, Fault, Length, Size};
use tempfile::TempDir;

use super::{check, named_by, read, read_kept};
use crate::config::tests::{load, put, says, studio};

/// A studio and a claim folder with these files.
fn claim(files: &[(&str, &str)]) -> (TempDir, crate::config::Config) {
    let folder = studio("", &[]);
    fs::create_dir(folder.path().join("claim")).expect("a claim folder");
    for (name, text) in files {
        put(&folder.path().join("claim"), name, text.as_bytes());
    }
    let config = load(folder.path()).unwrap_or_else(|found| panic!("{found:#?}"));
    (folder, config)
}

fn taken(files: &[(&str, &str)]) -> Result<super::Intake, Vec<Fault>> {
    let (folder, config) = claim(files);
    read(&folder.path().join("claim"), &config)
}

fn order(text: &str) -> Order {
    taken(&[("chart.png", ""), ("chart.yaml", text)])
        .unwrap_or_else(|found| panic!("{text}: {found:#?}"))
        .order
}

/// The reasons of a refusal, one a line.
fn refusal(files: &[(&str, &str)]) -> String {
    let found = taken(files).expect_err("it is refused");
    assert!(!found.is_empty(), "for a reason");
    found.iter().map(|fault| format!("{fault}\n")).collect()
}

fn refused(text: &str) -> String {
    refusal(&[("chart.png", ""), ("chart.yaml", text)])
}

#[test]
fn one_line_is_enough() {
    let order = order("blank: table-mat-36x24\n");
    assert_eq!(
        order.size,
        Size::new(Length::from_inches(35), Length::from_inches(23)),
        "the blank less its inset"
    );
    assert_eq!((order.fit, order.copies, order.note, order.orientation), (Fit::Contain, 1, None, None));
    assert_eq!((order.printer.name.as_str(), order.press.name.as_str()), ("desk-letter", "hand-12x10"));
    let papers: Vec<&str> = order.papers.iter().map(|paper| paper.name.as_str()).collect();
    assert_eq!(papers, ["letter"], "the printer's usual one");
    assert!(!order.allow_low_ppi, "not by default");
}

#[test]
fn a_drawing_may_be_as_large_as_drawn() {
    const DRAWING: &str =
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="5in" height="127mm"><path d="M0 0h9v9"/></svg>"#;
    let text = "blank: table-mat-36x24\nsize: as-drawn\n";
    let found = taken(&[("chart.svg", DRAWING), ("chart.yaml", text)]);
    let order = found.unwrap_or_else(|found| panic!("{found:#?}")).order;
    let inches = Length::from_inches(5);
    assert_eq!((order.size, order.page), (Size::new(inches, inches), 1));
    let told = refusal(&[("chart.png", ""), ("chart.yaml", text)]);
    assert!(told.contains("Only a drawing") && told.contains("line 2") && told.contains("width"), "{told}");
    assert_eq!(self::order("blank: table-mat-36x24\npage: 3\n").page, 3);
    assert!(refused("blank: table-mat-36x24\npage: 0\n").contains("counted from 1"));
    let (folder, config) = claim(&[("later.yaml", text)]);
    assert!(check(&folder.path().join("claim/later.yaml"), &config).is_ok(), "whatever will lie beside it");
}

#[test]
fn every_key_is_heard() {
    let order = order(
        "blank: {width: 24in, height: 12 1/2 in, shape: oval, bleed: 1/4 in, substrate: coated-glass, ppi_floor: 40}\n\
         artwork: chart.png\nsize: {width: 20in, height: 10in}\nfit: cover\npaper: auto\ncopies: 12\n\
         note: \"for the reading room\"\norientation: landscape\nprinter: wide-13x19\npress: swing-16x20\nallow_low_ppi: yes\n",
    );
    assert_eq!(order.blank.name, "as written in the order");
    assert_eq!(order.size, Size::new(Length::from_inches(20), Length::from_inches(10)));
    assert_eq!((order.fit, order.copies, order.allow_low_ppi), (Fit::Cover, 12, true));
    assert_eq!(order.orientation, Some(Orientation::Landscape));
    assert_eq!(order.papers, order.printer.papers, "auto: all the printer takes");
    assert_eq!((order.printer.name.as_str(), order.press.name.as_str()), ("wide-13x19", "swing-16x20"));
    assert_eq!(order.note.as_deref(), Some("for the reading room"));
    assert!(order.blank.ppi_refuse <= order.blank.ppi_floor, "the refusal follows a low floor");
}

#[test]
fn a_folder_gives_defaults_key_by_key() {
    let folder = "blank: round-mat-24\nsize: {width: 9in, height: 9in}\nfit: cover\ncopies: 4\n";
    let alone =
        taken(&[("moon.png", ""), ("folder.yaml", folder)]).expect("the folder's defaults are enough").order;
    assert_eq!((alone.blank.name.as_str(), alone.copies), ("round-mat-24", 4));
    let both = [
        ("moon.png", ""),
        ("moon.yaml", "copies: 2\nsize: {width: 5in, height: 4in}\n"),
        ("folder.yaml", folder),
    ];
    let both = taken(&both).expect("both together").order;
    assert_eq!((both.fit, both.copies), (Fit::Cover, 2));
    assert_eq!(both.size, Size::new(Length::from_inches(5), Length::from_inches(4)));
    let split = [("moon.png", ""), ("moon.yaml", "size: {width: 5in}\n"), ("folder.yaml", folder)];
    says(&refusal(&split), &["moon.yaml, line 1", "`height` is missing"]);
}

#[test]
fn an_order_carries_fields_as_they_were_written() {
    let fields = |own: &str, under: &str| {
        let taken = taken(&[("moon.png", ""), ("moon.yaml", own), ("folder.yaml", under)]);
        let order = taken.unwrap_or_else(|found| panic!("{own}: {found:#?}")).order;
        order.fields.into_iter().map(|(key, text)| format!("{key}={text}")).collect::<Vec<_>>()
    };
    let under = "blank: round-mat-24\nfields: {place: the reading room, visit: \"21 June\"}\n";
    assert_eq!(fields("", under), ["place=the reading room", "visit=21 June"]);
    assert_eq!(
        fields("fields: {name: Ada, visit: 7}\n", under),
        ["name=Ada", "place=the reading room", "visit=7"]
    );
    assert_eq!(
        fields(
            "fields: {a: 1.50, b: 007, c: TRUE, d: no, e: 1e3, f: , g-2: 0x10, h_1: \u{e9}t\u{e9}}\n",
            "blank: round-mat-24\n"
        ),
        ["a=1.50", "b=007", "c=TRUE", "d=no", "e=1e3", "f=", "g-2=0x10", "h_1=\u{e9}t\u{e9}"],
        "nothing is made a number of"
    );
}

#[test]
fn the_blank_in_hand_counts() {
    let mat = "blank: table-mat-36x24\n";
    let measured = order(&format!("{mat}measured: {{width: 35 7/8 in, height: 610mm}}\n"));
    let hand = Size::new("35.875in".parse().unwrap(), "610mm".parse().unwrap());
    assert_eq!((measured.blank.size, measured.nominal), (hand, Some(order(mat).blank.size)));
    assert_eq!(measured.size, hand.grown(measured.blank.reach), "the design area follows");
    let sized =
        order(&format!("{mat}measured: {{width: 35in, height: 24in}}\nsize: {{width: 9in, height: 5in}}\n"));
    assert_eq!(sized.size, Size::new(Length::from_inches(9), Length::from_inches(5)), "the order's stands");
    let with = |more: &str| refused(&format!("{mat}measured: {more}\n"));
    says(
        &with("{width: 24in, height: 36in}"),
        &["line 2, `measured`", "24.00 x 36.00 in", "36.00 x 24.00 in", "more than a tenth", "width"],
    );
    says(&with("{width: 35in, height: 24cm}"), &["35.00 x 9.45 in", "36.00 x 24.00 in", "unit"]);
    says(&with("{width: 35in}"), &["`height` is missing"]);
    let round = refused("blank: round-mat-24\nmeasured: {width: 60cm, height: 61cm}\n");
    says(&round, &["as wide as it is high", "smaller of the two"]);
    let rounded =
        "blank: {width: 10in, height: 10in, shape: rounded, radius: 5in, substrate: polyester-mat}\n";
    says(&refused(&format!("{rounded}measured: {{width: 9.5in, height: 10in}}\n")), &["round corners"]);
    let inset = "blank: {width: 10in, height: 10in, inset: 4.9in, substrate: polyester-mat}\n";
    says(&refused(&format!("{inset}measured: {{width: 9.5in, height: 10in}}\n")), &["inset leaves nothing"]);
}

#[test]
fn a_row_says_where_it_comes_from() {
    let row = "row: {list: visitors.csv, line: 7, group: moon-123456}\n";
    let order = order(&format!("blank: round-mat-24\nlist: visitors.csv\n{row}"));
    assert_eq!(
        order.row.map(|row| format!("{row} of {}", row.group)).as_deref(),
        Some("visitors.csv, line 7 of moon-123456")
    );
    let with = |more: &str| refused(&format!("blank: round-mat-24\n{more}\n"));
    for wrong in [
        "row: 7",
        "row: {list: ../x.csv, line: 7, group: a}",
        "row: {list: a.csv, line: 0, group: a}",
        "row: {line: 7}",
    ] {
        says(&with(wrong), &["line 2, `row"]);
    }
    for wrong in ["list: ../visitors.csv", "list: chart.png", "list: [a.csv]"] {
        says(&with(wrong), &["line 2, `list`"]);
    }
}

#[test]
fn fields_that_cannot_be() {
    let with = |more: &str| refused(&format!("blank: round-mat-24\n{more}\n"));
    says(&with("fields: Ada"), &["line 2, `fields`", "keys are expected"]);
    says(
        &with("fields:\n  Name: Ada\n  visit: [1]"),
        &["line 3, `fields.Name`", "small letter", "line 4, `fields.visit`"],
    );
    says(&with("fields: {\"a b\": x}"), &["no name for a field"]);
    says(&with(&format!("fields: {{name: {}}}", "x".repeat(201))), &["`fields.name`", "201", "200"]);
    says(&with("fields: {name: \"Ada\\nLovely\"}"), &["`fields.name`", "in one line"]);
    says(&with("fields: {name: \"Ada\\e[1m\"}"), &["control character"]);
    let many: Vec<String> = (0..101).map(|n| format!("k{n}: x")).collect();
    says(&with(&format!("fields: {{{}}}", many.join(", "))), &["101 fields", "100"]);
}

#[test]
fn mistakes_are_told_in_the_file_they_stand_in() {
    let why = refusal(&[
        ("moon.png", ""),
        ("moon.yaml", "fit: fill\npapr: letter\n"),
        ("folder.yaml", "blank: round-mat-42\nartwork: moon.png\ncopies: 0\n"),
    ]);
    for words in [
        &["moon.yaml, line 1, `fit`", "contain"][..],
        &["moon.yaml, line 2, `papr`", "Did you mean `paper`?"],
        &["folder.yaml, line 1, `blank`", "Did you mean `round-mat-24`?"],
        &["folder.yaml, line 2, `artwork`", "Take the line out"],
        &["folder.yaml, line 3, `copies`", "1 to 999"],
    ] {
        says(&why, words);
    }
    assert_eq!(why.lines().count(), 5, "{why}");
    says(
        &refusal(&[("moon.png", ""), ("folder.yaml", "fit: cover\n")]),
        &["folder.yaml", "what blank", "table-mat-36x24"],
    );
    says(
        &refusal(&[("moon.png", ""), ("moon.yaml", "a: [\n"), ("folder.yaml", "b: {\n")]),
        &["moon.yaml", "folder.yaml"],
    );
}

#[test]
fn sets_with_something_missing_or_too_much() {
    let good = "blank: round-mat-24\n";
    says(&refusal(&[("chart.png", "")]), &["chart.png", "chart.yaml", "folder.yaml"]);
    says(&refusal(&[("chart.yaml", good)]), &["sidecar chart.yaml came without artwork", "chart.png"]);
    says(
        &refusal(&[("chart.png", ""), ("chart.jpg", ""), ("chart.yaml", good)]),
        &["chart.jpg and chart.png"],
    );
    says(
        &refusal(&[("chart.png", ""), ("chart.yml", good), ("chart.yaml", good)]),
        &["chart.yaml and chart.yml"],
    );
    says(&refusal(&[("folder.yaml", good)]), &["folder.yaml came without artwork"]);
    let found = taken(&[]).expect_err("nothing there");
    assert_eq!(found[0].blame, Blame::Defect);
    // What the journal or a system keeps there is no part of it.
    assert!(
        taken(&[("chart.png", ""), ("chart.yaml", good), (".state", ""), ("Thumbs.db", "")]).is_ok(),
        "only two count"
    );
}

#[test]
fn the_artwork_named_is_the_one_beside_it() {
    let sidecar = |artwork: &str| format!("blank: round-mat-24\nartwork: {artwork}\n");
    for name in [
        "../chart.png",
        "/etc/passwd",
        "a\\\\chart.png",
        "\"..\"",
        "\"\"",
        "[chart.png]",
        "\"a\\nb.png\"",
        "12",
    ] {
        says(&refused(&sidecar(name)), &["chart.yaml, line 2, `artwork`"]);
    }
    says(&refused(&sidecar("tide.png")), &["no 'tide.png' beside the sidecar", "`artwork: chart.png`"]);
    let text = sidecar("tide.png");
    let (folder, config) = claim(&[("tide.png", ""), ("chart.yaml", &text)]);
    let taken = read(&folder.path().join("claim"), &config).expect("the one it names");
    assert!(taken.artwork.ends_with("claim/tide.png"), "{:?}", taken.artwork);
    let named = |text: &str| {
        put(folder.path(), "x.yaml", text.as_bytes());
        named_by(&folder.path().join("x.yaml")).artwork
    };
    assert_eq!(named("artwork: tide.png\n").as_deref(), Some("tide.png"));
    for text in ["artwork: ../tide.png\n", "blank: x\n", "artwork: [\n", "", "just words\n"] {
        assert_eq!(named(text), None, "{text}");
    }
}

#[test]
fn orders_that_cannot_be() {
    let with = |more: &str| refused(&format!("blank: round-mat-24\n{more}\n"));
    says(
        &refused("blank: tabel-mat-36x24\n"),
        &["chart.yaml, line 1, `blank`", "Did you mean `table-mat-36x24`?"],
    );
    says(&refused("fit: cover\n"), &["what blank", "table-mat-36x24"]);
    says(&refused(""), &["chart.yaml", "what blank"]);
    says(
        &refused("blank:\n  width: 24\n  height: 9in\n  colr: red\n"),
        &["line 2, `blank.width`", "`24in`", "line 4, `blank.colr`", "colour", "`substrate`"],
    );
    says(
        &with("size: {width: 24, height: 0in}"),
        &["line 2, `size.width`", "`24in`", "`size.height`", "above zero"],
    );
    says(&with("size:\n  width: 900000in\n  height: 25m"), &["line 3", "100 m", "line 4", "25 m is larger"]);
    says(&with("size: 24in"), &["line 2, `size`", "keys are expected"]);
    says(&with("place: {left: 1in, right: 2in}"), &["line 2, `place.right`", "Keep one of the two"]);
    says(&with("place: {top: -1in}"), &["line 2, `place.top`", "below zero"]);
    says(&with("place: middle"), &["line 2, `place`", "keys are expected"]);
    says(&with("paper: a4"), &["line 2, `paper`", "desk-letter", "`letter`", "`legal`", "`auto`"]);
    says(&with("printer: wide\npaper: a4"), &["line 2, `printer`", "wide-13x19"]);
    says(&with("press: hand-12x11"), &["line 2, `press`", "Did you mean `hand-12x10`?"]);
    says(&with("copies: many"), &["line 2, `copies`", "whole number"]);
    says(&with("copies: 1000"), &["1 to 999"]);
    says(&with("orientation: sideways"), &["line 2", "landscape"]);
    says(&with("allow_low_ppi: perhaps"), &["line 2", "`yes`"]);
    says(&with(&format!("note: {}", "x".repeat(501))), &["line 2, `note`", "501", "500"]);
    says(&with("note: {a: b}"), &["line 2", "quoted sentence"]);
}

#[test]
fn what_is_said_to_a_stage_is_looked_over_by_it() {
    let text = |more: &str| {
        format!(
            "blank: table-mat-36x24\nlettering:\n  - text: Ada\n    box: {{x: 1in, y: 1in, width: 3in, height: 1in}}\n{more}"
        )
    };
    let order = order(&text("  - {text: Bo, circle: {x: 1in, y: 1in, radius: 5in, height: 1in}}\n"));
    assert_eq!(order.said.iter().map(|(stage, _)| *stage).collect::<Vec<_>>(), ["lettering"]);
    says(&refused(&text("    sise: 3in\n")), &["line 5, `lettering.0.sise`", "Did you mean `size`?"]);
    says(&refused(&text("    colour: blueish\n")), &["line 5, `lettering.0.colour`", "not a colour"]);
    let folder = studio("stages: [resize, profile, mirror, overlap, tile, marks, press]\n", &[]);
    let config = load(folder.path()).unwrap_or_else(|found| panic!("{found:#?}"));
    fs::create_dir(folder.path().join("claim")).expect("a claim folder");
    put(folder.path(), "claim/chart.png", b"");
    put(folder.path(), "claim/chart.yaml", text("").as_bytes());
    let found = read(&folder.path().join("claim"), &config).expect_err("nobody would set it");
    says(&format!("{}", found[0]), &["line 2, `lettering`", "do not list `lettering`", "Add it to `stages`"]);
}

/// Keeps an order as a worker does, and reads it by settings that know nothing of it.
fn kept_and_read(folder: &Path, taken: &super::Intake) -> Result<super::Kept, Vec<Fault>> {
    let kept = folder.join("kept/chart-1");
    fs::create_dir_all(&kept).expect("a kept folder");
    put(&kept, "chart.png", b"");
    put(&kept, ".order.yaml", taken.resolved.as_bytes());
    // SHA-256 of nothing (value from coreutils' sha256sum).
    let sum = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    let record = serde_json::json!({"artwork": {"file": "chart.png", "sha256": sum}});
    put(&kept, ".record.json", record.to_string().as_bytes());
    read_kept(&kept, load(studio("units: metric\n", &[]).path()).expect("other settings"))
}

#[test]
fn what_is_kept_is_read_back_as_it_was() {
    let press =
        b"platen: {width: 16in, height: 12in}\nmoves: work\nthroat: 20in\nboard: {width: 1m, height: 1m}\n\
        settings: {coated-glass: {heat: 385F, dwell: 300s, origin: \"wedge: third\"}}\n";
    let blank = b"{width: 333.3mm, height: 12 1/3 in, shape: rounded, radius: 7mm, bleed: 0.1in, \
        substrate: coated-glass, colour: {L: 84.5, a: 2.25, b: 14}}";
    let stages = "press: mine\nstages: [{resize: {ppi: 123}}, lettering, profile, mirror, {overlap: {lap: 4mm}}, tile, marks, press]\n";
    let cloth = b"{width: 31in, height: 27.77in, inset: 3.3mm, substrate: polyester-cloth, \
        shrink: {marked: 600mm, width: 588mm, height: 594.5mm}}";
    let grows = b"{width: 31in, height: 27.77in, substrate: polyester-cloth, \
        shrink: {marked: 2ft, width: 24.05in, height: 24.3in}}";
    let own: [(&str, &[u8]); 4] = [
        ("presses/mine.yaml", press),
        ("blanks/odd.yaml", blank),
        ("blanks/cloth.yaml", cloth),
        ("blanks/grows.yaml", grows),
    ];
    let folder = studio(stages, &own);
    let config = load(folder.path()).unwrap_or_else(|found| panic!("{found:#?}"));
    fs::create_dir(folder.path().join("claim")).expect("a claim folder");
    put(folder.path(), "claim/chart.png", b"");
    let wanted = [
        "paper: auto\norientation: landscape",
        "size: {width: 5in, height: 4in}\nfit: cover\ncopies: 3",
        "note: \"a: #1\\n  'two' - \\\"three\\\"\\n\"\nextra_sheets: 2\nallow_low_ppi: yes\nintent: absolute",
        "fields: {name: \"Ada #2: 'a'\", visit: 1.50, empty: , code: \"007\", yes: no}",
        "lettering: [{text: \"{name}: 1.50\", box: {x: 1in, y: 12.5mm, width: 3in, height: 1in}, shrink: yes}]",
        "size: {width: 3in, height: 2in}\nplace: {left: 3.5mm, bottom: 1in}",
        "size: {width: 3in, height: 2in}\nplace: {right: 0.25in}",
        "keep_clear: [{x: 1in, y: 1in, width: 20m, height: 20m}]",
        "printer: wide-a3\nkeep_clear: [{x: 1in, y: 1in, width: 3.3mm, height: 2in}]\nnote: \"yes\"",
    ];
    for blank in config.catalogue.blanks.names() {
        let hand = config
            .catalogue
            .blanks
            .get(blank)
            .map(|blank| blank.size.grown("-1mm".parse().unwrap()))
            .unwrap();
        let measured = format!("measured: {{width: {}, height: {}}}", hand.width, hand.height);
        for more in wanted.into_iter().chain([&*measured]) {
            put(folder.path(), "claim/chart.yaml", format!("blank: {blank}\n{more}\n").as_bytes());
            let taken =
                read(&folder.path().join("claim"), &config).unwrap_or_else(|found| panic!("{found:#?}"));
            let kept = kept_and_read(folder.path(), &taken)
                .unwrap_or_else(|found| panic!("{found:#?}\n{}", taken.resolved));
            let mut order = taken.order;
            // What was measured for other substrates is not kept.
            order.press.settings.retain(|name, _| *name == order.blank.substrate.name);
            assert_eq!(kept.intake.order, order, "{}", taken.resolved);
            assert_eq!(kept.config.pipeline.listed, config.pipeline.listed);
            let names = |config: &crate::config::Config| -> Vec<&str> {
                config.pipeline.stages.iter().map(|(name, _)| *name).collect()
            };
            assert_eq!(names(&kept.config), names(&config));
        }
    }
}

#[test]
fn what_was_kept_and_has_changed_is_said() {
    let (folder, config) = claim(&[("chart.png", ""), ("chart.yaml", "blank: table-mat-36x24\n")]);
    let taken = read(&folder.path().join("claim"), &config).expect("an order");
    kept_and_read(folder.path(), &taken).expect("as it was");
    let kept = folder.path().join("kept/chart-1");
    let why = |name: &str, bytes: &[u8]| {
        let before = fs::read(kept.join(name)).expect("a kept file");
        put(&kept, name, bytes);
        let faults =
            read_kept(&kept, load(studio("", &[]).path()).expect("settings")).expect_err("it changed");
        put(&kept, name, &before);
        faults.iter().map(|fault| format!("{fault}\n")).collect::<String>()
    };
    says(&why("chart.png", b"x"), &["chart.png is not the picture it was"]);
    says(&why(".record.json", b"{}"), &["names no artwork"]);
    says(&why(".record.json", b"["), &["record.json is none"]);
    says(
        &why(".record.json", br#"{"artwork": {"file": "../x.png", "sha256": ""}}"#),
        &["not there any more"],
    );
    says(&why(".order.yaml", b""), &["lacks a part"]);
    let less = taken.resolved.replace("blank: table-mat-36x24", "blank: table-mat");
    says(&why(".order.yaml", less.as_bytes()), &["order.yaml", "no blank `table-mat`"]);
}

#[test]
fn texts_are_checked_without_artwork() {
    let (folder, config) = claim(&[]);
    let looked = |name: &str, text: &str| {
        put(folder.path(), name, text.as_bytes());
        check(&folder.path().join(name), &config)
            .map_err(|found| found.iter().map(|diagnosis| format!("{diagnosis}\n")).collect::<String>())
    };
    assert_eq!(looked("orders/chart.yaml", "blank: round-mat-24\nartwork: tide.png\n"), Ok(()));
    says(&looked("orders/chart.yaml", "fit: cover\n").expect_err("no blank"), &["chart.yaml", "what blank"]);
    assert_eq!(looked("orders/folder.yaml", "blank: round-mat-24\n"), Ok(()));
    assert_eq!(looked("orders/chart.yaml", "fit: cover\n"), Ok(()), "the folder says the blank");
    assert_eq!(looked("other/folder.yaml", "fit: cover\n"), Ok(()), "defaults need not be whole");
    says(
        &looked("other/folder.yaml", "fit: covr\n").expect_err("a mistake"),
        &["folder.yaml, line 1", "`cover`"],
    );
    assert!(check(Path::new("/nowhere/chart.yaml"), &config).is_err(), "a file that is not there");
}

#[test]
fn odd_orders_never_upset_it() {
    let odd = [
        "blank: {}\n",
        "blank: []\n",
        "blank: 1\n",
        "blank: yes\n",
        "blank: ''\n",
        "blank: {width: {width: 1in}}\n",
        "size: []\n",
        "size: {width: [], height: {}}\n",
        "copies: -1\n",
        "copies: 1.5\n",
        "copies: .nan\n",
        "copies: 1e300\n",
        "paper: []\n",
        "paper: {a: b}\n",
        "note: []\n",
        "fit: [contain]\n",
        "- blank\n",
        "[]\n",
        "12\n",
        "~\n",
        "printer: {}\npress: []\n",
        "orientation: 90\n",
        "size: {width: 1/0 in, height: 1e9in}\n",
        "size: {width: nan in, height: inf in}\n",
        "1: 2\n",
        "blank: {width: 9in, height: 9in, radius: [], shape: {}, inset: no, bleed: yes, substrate: 1, colour: [1]}\n",
    ];
    for text in odd {
        refused(text);
    }
}

#[test]
fn sheets_go_to_the_printer_only_where_that_is_said() {
    use seamwright_contract::sending::Print;
    let entry = "{papers: [letter], margins: 5mm, send_to: {uri: \"ipp://localhost/\", print: hold}}";
    let print = |line: &str| {
        let folder = studio("", &[("printers/sent.yaml", entry.as_bytes()), ("claim/chart.png", b"")]);
        let config = load(folder.path()).unwrap_or_else(|found| panic!("{found:#?}"));
        let text = format!("blank: table-mat-36x24\n{line}\n");
        put(&folder.path().join("claim"), "chart.yaml", text.as_bytes());
        read(&folder.path().join("claim"), &config).map(|intake| intake.order.print)
    };
    assert_eq!(print("").ok(), Some(Print::No), "the usual printer goes nowhere");
    assert_eq!(print("printer: sent").ok(), Some(Print::Hold), "the printer's own");
    for (word, said) in [("no", Print::No), ("hold", Print::Hold), ("yes", Print::Yes)] {
        assert_eq!(print(&format!("printer: sent\nprint: {word}")).ok(), Some(said));
    }
    let refused = print("print: yes").expect_err("nowhere to go");
    assert!(refused[0].what.contains("where the sheets of desk-letter go"), "{refused:?}");
}
