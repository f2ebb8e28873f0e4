//! The files of a new studio, and what is said of them.

use std::path::Path;

use seamwright_contract::units::Units;

use super::Answers;
use crate::config::{Catalogue, FILE};
use crate::journal::visible;

/// The files, the configuration last.
pub(super) const FILES: [&str; 5] = [
    "printers/my-printer.yaml",
    "presses/my-press.yaml",
    "blanks/my-mat.yaml",
    "incoming/my-mat/folder.yaml",
    FILE,
];

/// The folders that work goes through.
pub(super) const FOLDERS: [&str; 4] = ["incoming", "outgoing", "refused", "kept"];

const MAT: &str = include_str!("my-mat.yaml");
const FOLDER: &str = include_str!("folder.yaml");

/// Each file with its text.
pub(super) fn of(answers: &Answers, catalogue: &Catalogue) -> Vec<(&'static str, String)> {
    let [printer, press, mat, folder, studio] = FILES;
    vec![
        (printer, own_printer(answers, catalogue)),
        (press, own_press(answers)),
        (mat, MAT.to_owned()),
        (folder, FOLDER.to_owned()),
        (studio, configuration(answers)),
    ]
}

/// The shipped entry with the paper at its head.
fn own_printer(answers: &Answers, catalogue: &Catalogue) -> String {
    let Answers { paper, printer, .. } = answers;
    let listed = catalogue.printers.get(printer).map(|printer| &printer.papers[..]).unwrap_or_default();
    let others = listed.iter().map(|known| known.name.as_str()).filter(|known| known != paper);
    let papers: Vec<&str> = std::iter::once(paper.as_str()).chain(others).collect();
    let head = format!(
        "# Your printer; so far as the shipped {printer}. Measure it, and its margins, before the first mat:\n\
         #   seamwright calibrate my-printer --paper {paper}\n\
         # The first paper is taken where an order names none.\n"
    );
    let text =
        with(Catalogue::shipped_text("printers", printer), "papers", &format!("[{}]", papers.join(", ")));
    head + &with(&text, "origin", &not_measured(printer))
}

fn own_press(answers: &Answers) -> String {
    let press = &answers.press;
    let head = format!(
        "# Your press; so far as the shipped {press}. Measure the plate. How wide its weak edge is, a flat grey printed over\n\
         # the whole plate shows.\n"
    );
    head + &with(Catalogue::shipped_text("presses", press), "origin", &not_measured(press))
}

fn not_measured(name: &str) -> String {
    format!("\"as the shipped {name}, not measured yet\"")
}

/// The text with another value in the line of a key.
fn with(text: &str, key: &str, value: &str) -> String {
    let is_it = |line: &str| line.strip_prefix(key).is_some_and(|rest| rest.starts_with(':'));
    let lines =
        text.lines().map(|line| if is_it(line) { format!("{key}: {value}\n") } else { format!("{line}\n") });
    lines.collect()
}

fn configuration(answers: &Answers) -> String {
    let units = match answers.units {
        Units::Inch => "inch",
        Units::Metric => "metric",
    };
    format!(
        "# How this studio works. What is not said here is as usual.\n\
         # Save a picture into incoming/my-mat/, or anywhere in incoming/ with a few lines beside it that name its blank\n\
         # (picture.png and picture.yaml: `blank: round-mat-24`), and run: seamwright watch\n\
         units: {units}\n\
         printer: my-printer        # printers/my-printer.yaml: measure yours\n\
         press: my-press            # presses/my-press.yaml: measure yours\n"
    )
}

/// What is there now, and what comes next.
pub(super) fn said(answers: &Answers, folder: &Path) -> Vec<String> {
    let at = |name: &str| visible(&folder.join(name).to_string_lossy());
    let config = at(FILE);
    let paper = &answers.paper;
    vec![
        format!("made    {config}"),
        format!("first   save a picture into {} and run", at("incoming/my-mat")),
        format!("        seamwright once --config {config}"),
        format!("        what came of it is on {}", at("outgoing/index.html")),
        format!(
            "before  the first mat, measure the mat, the press and the printer and say so in {},",
            at("blanks/my-mat.yaml")
        ),
        format!("        {} and by", at("presses/my-press.yaml")),
        format!("        seamwright calibrate my-printer --paper {paper} --config {config}"),
    ]
}
