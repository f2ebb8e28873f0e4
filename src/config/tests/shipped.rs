//! What is shipped: every file parses, and the figures are those of the published tables.

use std::collections::BTreeMap;

use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::{Length, num};

use super::{load, studio};
use crate::config::yaml::{Document, LONGEST_SETTINGS};
use crate::config::{Catalogue, DEFAULTS, Home, Keep, Shelf};

/// A table with its first line as the names of the columns. Cells in quotes may hold commas.
fn table(text: &str) -> Vec<BTreeMap<String, String>> {
    let cells = |line: &str| {
        let mut cells = vec![String::new()];
        let mut quoted = false;
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ',' if !quoted => cells.push(String::new()),
                c => cells.last_mut().expect("one cell at least").push(c),
            }
        }
        cells
    };
    let mut lines = text.lines();
    let names = cells(lines.next().expect("a first line"));
    lines.map(|line| names.iter().cloned().zip(cells(line)).collect()).collect()
}

fn row<'t>(table: &'t [BTreeMap<String, String>], column: &str, name: &str) -> &'t BTreeMap<String, String> {
    table.iter().find(|row| row[column] == name).unwrap_or_else(|| panic!("no row `{name}`"))
}

fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|e| panic!("{column}: {e}"))
}

#[test]
fn the_defaults_are_those_of_the_shipped_file() {
    let folder = studio("", &[]);
    let config = load(folder.path()).unwrap_or_else(|found| panic!("{found:#?}"));
    let names: Vec<&str> = config.pipeline.stages.iter().map(|(name, _)| *name).collect();
    assert_eq!(
        names,
        ["frame", "resize", "lettering", "profile", "mirror", "overlap", "tile", "marks", "press"]
    );
    let names: Vec<&str> = config.pipeline.writers.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, ["sheets", "notes", "proof", "record"]);
    assert_eq!((config.printer.as_str(), config.press.as_str()), ("desk-letter", "hand-12x10"));
    assert_eq!((config.memory, config.keep), (1 << 30, Keep::Forever));
    assert_eq!((config.wait.as_secs(), config.quiet.as_secs()), (600, 3));
    assert_eq!((config.limits.pixels, config.limits.bytes), (1_000_000_000, 2 << 30));
    assert_eq!((config.limits.time.as_secs(), config.limits.drawing.as_secs()), (7200, 60));
    assert_eq!(config.orientation, None);
    assert!(config.workers >= 1, "auto is a number");
}

#[test]
fn every_key_of_the_shipped_file_has_a_word_said_on_it() {
    let document = Document::parse("defaults", DEFAULTS.as_bytes(), LONGEST_SETTINGS).expect("it parses");
    let lines: Vec<&str> = DEFAULTS.lines().collect();
    for key in [
        "studio",
        "stages",
        "writers",
        "printer",
        "press",
        "units",
        "orientation",
        "memory",
        "workers",
        "wait",
        "quiet",
        "keep",
        "limits",
    ] {
        let at = lines.iter().position(|line| line.starts_with(&format!("{key}:")));
        let at = at.unwrap_or_else(|| panic!("{key} is missing"));
        assert!(
            lines[..at].iter().rev().take_while(|line| !line.is_empty()).any(|line| line.starts_with('#')),
            "{key}"
        );
    }
    assert!(document.diagnoses().is_empty(), "nothing to complain of");
}

#[test]
fn papers_are_those_of_the_published_table() {
    let sheets = table(include_str!("../../../tests/data/paper/sheets.csv"));
    let config = load(studio("", &[]).path()).expect("the defaults");
    let papers = [
        ("letter", "ANSI A Letter"),
        ("legal", "Legal"),
        ("tabloid", "ANSI B Tabloid"),
        ("17x22", "ANSI C"),
        ("22x34", "ANSI D"),
        ("12x18", "ARCH B"),
        ("12x19", "12x19"),
        ("13x19", "Super B 13x19"),
        ("a5", "A5"),
        ("a4", "A4"),
        ("a3", "A3"),
        ("a2", "A2"),
        ("a1", "A1"),
        ("sra3", "SRA3"),
        ("329x483", "A3+ (metric habit)"),
    ];
    let names: Vec<&str> = config.catalogue.papers.names().collect();
    for name in &names {
        assert!(papers.iter().any(|(paper, _)| paper == name), "{name} is not compared with anything");
    }
    for (name, published) in papers {
        let row = row(&sheets, "name", published);
        let paper = config.catalogue.papers.get(name).unwrap_or_else(|| panic!("no {name}"));
        let um = |column| num::round(number(row, column) * 1000.0);
        for (ours, theirs) in [(paper.size.width, um("width_mm")), (paper.size.height, um("height_mm"))] {
            assert!((ours.um() - theirs).abs() <= 1, "{name}: {ours} is not {theirs} um");
        }
    }
}

#[test]
fn substrates_are_those_of_the_published_table() {
    let classes = table(include_str!("../../../tests/data/press/classes.csv"));
    let config = load(studio("", &[]).path()).expect("the defaults");
    let substrates = [
        ("polyester-mat", "polyester pile or felt-top door/floor mat, rubber back"),
        ("mouse-mat", "mouse mat, neoprene or rubber base with polyester top"),
        ("polyester-cloth", "100 % polyester fabric, woven or knit"),
        ("plush-blanket", "polyester fleece or plush blanket"),
        ("polyester-canvas", "polyester canvas, linen-look table runner"),
        ("coated-aluminium", "coated aluminium sheet or insert"),
        ("coated-hardboard", "coated hardboard or MDF"),
        ("coated-glass", "glass panel or chopping board, coated on the back"),
        ("ceramic-tile", "ceramic tile"),
        ("coated-acrylic", "coated acrylic"),
        ("fibre-panel", "fibre-reinforced plastic panel"),
    ];
    for name in config.catalogue.substrates.names() {
        assert!(
            substrates.iter().any(|(substrate, _)| *substrate == name),
            "{name} is not compared with anything"
        );
    }
    for (name, published) in substrates {
        let row = row(&classes, "substrate_class", published);
        let ours = config.catalogue.substrates.get(name).unwrap_or_else(|| panic!("no {name}"));
        for (ours, column) in [(ours.heat.low, "temp_low_F"), (ours.heat.high, "temp_high_F")] {
            // Tenths of a degree Celsius are kept.
            assert!((ours.fahrenheit() - number(row, column)).abs() <= 0.1, "{name} {column}");
        }
        for (ours, column) in [(ours.dwell.low, "dwell_low_s"), (ours.dwell.high, "dwell_high_s")] {
            assert!((f64::from(ours.0) - number(row, column)).abs() < 0.5, "{name} {column}");
        }
        let said = row["source"].split([':', ',']).next().unwrap_or_default();
        assert!(
            ours.origin.starts_with(said),
            "{name}: the table says `{said}`, the entry `{}`",
            ours.origin
        );
    }
}

#[test]
fn printers_have_margins_of_the_published_table() {
    let classes = table(include_str!("../../../tests/data/paper/margin_classes.csv"));
    let config = load(studio("", &[]).path()).expect("the defaults");
    for (name, class) in [
        ("desk-letter", "safe guess for any office or home printer"),
        ("desk-a4", "safe guess for any office or home printer"),
        ("photo-letter", "photo inkjet, bordered"),
        ("photo-a4", "photo inkjet, bordered"),
        ("wide-13x19", "photo inkjet, bordered"),
        ("wide-a3", "photo inkjet, bordered"),
        ("page-letter", "laser or office page printer, 12 pt"),
        ("sheet-17x22", "wide-format inkjet, cut sheet"),
    ] {
        let row = row(&classes, "printer_class", class);
        let ours = config.catalogue.printers.get(name).unwrap_or_else(|| panic!("no {name}")).margins;
        let sides = [
            (ours.top, "top_mm"),
            (ours.right, "right_mm"),
            (ours.bottom, "bottom_mm"),
            (ours.left, "left_mm"),
        ];
        for (ours, column) in sides {
            assert_eq!(ours, Length::from_um(num::round(number(row, column) * 1000.0)), "{name} {column}");
        }
    }
}

#[test]
fn every_entry_says_where_its_figures_come_from() {
    let catalogue = Catalogue::shipped().expect("what is shipped is in order");
    fn origins<T>(shelf: &Shelf<T>) -> Vec<(String, String)> {
        let origin = |name: &str| shelf.provenance(name).map_or_else(String::new, |from| from.origin.clone());
        shelf.names().map(|name| (name.to_owned(), origin(name))).collect()
    }
    let all = [
        origins(&catalogue.blanks),
        origins(&catalogue.papers),
        origins(&catalogue.printers),
        origins(&catalogue.presses),
        origins(&catalogue.substrates),
    ];
    assert!(all.iter().all(|kind| !kind.is_empty()), "{all:?}");
    for (name, origin) in all.into_iter().flatten() {
        let known = ["published: ", "common practice, no source", "from memory"];
        assert!(known.iter().any(|begin| origin.starts_with(begin)), "{name}: `{origin}`");
    }
}

#[test]
fn a_studios_own_entry_says_what_it_is_in_place_of() {
    let own = b"width: 210mm\nheight: 297mm\norigin: my ruler\n";
    let folder = studio("", &[("papers/a4.yaml", own), ("papers/mine.yaml", b"width: 1in\nheight: 2in\n")]);
    let papers = load(folder.path()).expect("in order").catalogue.papers;
    let from = |name: &str| papers.provenance(name).map(|from| (from.home, from.origin.as_str()));
    assert_eq!(from("a4"), Some((Home::InPlace, "my ruler")));
    assert_eq!(from("mine"), Some((Home::Studio, "not stated")));
    assert_eq!(from("a3"), Some((Home::Shipped, "published: ISO 216")));
}

#[test]
fn there_is_a_blank_of_every_shape() {
    let config = load(studio("", &[]).path()).expect("the defaults");
    let blanks = &config.catalogue.blanks;
    let words: Vec<&str> =
        blanks.names().filter_map(|name| blanks.get(name)).map(|blank| blank.shape.word()).collect();
    for word in ["rectangle", "rounded", "oval", "round", "half-moon"] {
        assert!(words.contains(&word), "{word}");
    }
    let through: Vec<&str> = config
        .catalogue
        .substrates
        .names()
        .filter(|name| config.catalogue.substrates.get(name).is_some_and(|substrate| substrate.seen_through))
        .collect();
    assert_eq!(through, ["coated-glass"]);
}

#[test]
fn every_example_of_the_registry_parses() {
    let parse = |name: &str, example: &str, read: &dyn Fn(&Node<'_>) -> bool| {
        let document = Document::parse(name, example.as_bytes(), LONGEST_SETTINGS);
        let document = document.unwrap_or_else(|found| panic!("{name}: {found:?}"));
        // An example is the list item as it could stand in the config, or its settings alone.
        let complaints = Complaints::new();
        let value = document.root().value().clone();
        let root = Node::root(&value, &complaints);
        let settings = match &value {
            Value::Text(word) if word == name => Node::root(&Value::Nothing, &complaints),
            Value::Map(entries) if entries.len() == 1 && entries[0].0 == name => root.named().remove(0).1,
            _ => root,
        };
        let read = read(&settings);
        let found = complaints.into_list();
        assert!(read && found.is_empty(), "{name}: `{example}`: {found:?}");
    };
    for entry in crate::registry::STAGES {
        parse(entry.name, entry.example, &|node| (entry.parse)(node).is_some());
    }
    for entry in crate::registry::WRITERS {
        parse(entry.name, entry.example, &|node| (entry.parse)(node).is_some());
    }
}
