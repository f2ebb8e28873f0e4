//! What is asked, and what comes of the answers.

use std::path::PathBuf;

use seamwright_contract::units::Units;

use super::asked::Asker;
use super::{Answers, Reading, Wanted, texts, write};
use crate::config::{self, Catalogue, FILE};

fn wanted() -> Wanted {
    Wanted { folder: PathBuf::new(), paper: None, printer: None, press: None, units: None }
}

fn shipped() -> Catalogue {
    Catalogue::shipped().expect("what is shipped is in order")
}

/// The answers where this is typed, and what was asked.
fn typed(wanted: &Wanted, lines: &str) -> (Result<Answers, String>, String) {
    let (catalogue, mut output) = (shipped(), Vec::new());
    let mut input = lines.as_bytes();
    let mut asker = Asker { catalogue: &catalogue, input: Some(&mut input), output: &mut output };
    let answers = asker.answers(wanted);
    (answers, String::from_utf8(output).expect("text"))
}

/// The answers where nobody is asked: there is no room for a single letter.
fn silent(wanted: &Wanted) -> Result<Answers, String> {
    let (catalogue, mut nowhere) = (shipped(), [].as_mut_slice());
    Asker::<&[u8]> { catalogue: &catalogue, input: None, output: &mut nowhere }.answers(wanted)
}

fn answers(paper: &str, printer: &str, press: &str, units: Units) -> Answers {
    Answers { paper: paper.to_owned(), printer: printer.to_owned(), press: press.to_owned(), units }
}

#[test]
fn nothing_typed_is_the_usual_and_so_is_nobody_there() {
    let usual = answers("letter", "desk-letter", "hand-12x10", Units::Inch);
    assert_eq!(typed(&wanted(), "\n\n\n\n").0.as_ref(), Ok(&usual));
    assert_eq!(silent(&wanted()).as_ref(), Ok(&usual));
    let config = config::load(None).expect("the defaults");
    assert_eq!((usual.printer, usual.press), (config.printer, config.press), "the same as without a studio");
}

#[test]
fn the_paper_says_what_is_usual_for_the_rest() {
    let a4 = answers("a4", "desk-a4", "hand-12x10", Units::Metric);
    assert_eq!(typed(&wanted(), "a4\n\n\n\n").0.as_ref(), Ok(&a4));
    assert_eq!(silent(&Wanted { paper: Some("a4".into()), ..wanted() }).as_ref(), Ok(&a4));
    let large = answers("a3", "wide-a3", "swing-16x20", Units::Inch);
    let said = Wanted { units: Some(Reading::Inch), press: Some("swing-16x20".into()), ..wanted() };
    assert_eq!(typed(&said, "a3\n\n").0.as_ref(), Ok(&large));
    let by_printer = silent(&Wanted { printer: Some("sheet-17x22".into()), ..wanted() });
    assert_eq!(by_printer.map(|found| found.paper).as_deref(), Ok("17x22"));
}

#[test]
fn what_there_is_not_is_asked_again_with_the_nearest() {
    let (found, asked) = typed(&wanted(), "lettre\nlegal\n\nphoto-a4\nphoto-letter\n\n");
    assert_eq!(found, Ok(answers("legal", "photo-letter", "hand-12x10", Units::Inch)));
    assert!(asked.contains("There is no paper `lettre`. Did you mean `letter`?"), "{asked}");
    assert!(asked.contains("There is no printer `photo-a4`."), "it does not take legal: {asked}");
    assert!(asked.contains("printer [desk-letter]: "), "{asked}");
}

#[test]
fn what_is_said_wrongly_or_not_at_all_ends_it() {
    for (said, why) in [
        (Wanted { paper: Some("a44".into()), ..wanted() }, "There is no paper `a44`. Did you mean `a4`?"),
        (Wanted { press: Some("hand".into()), ..wanted() }, "There is no press `hand`."),
        (
            Wanted { paper: Some("a3".into()), printer: Some("desk-letter".into()), ..wanted() },
            "The printer `desk-letter` takes no paper `a3`. Known: `wide-a3`.",
        ),
    ] {
        let told = silent(&said).expect_err("it cannot be");
        assert!(told.starts_with(why), "{told}");
    }
    assert!(typed(&wanted(), "a4\n").0.is_err(), "the input ended");
}

#[test]
fn every_answer_makes_a_studio_that_is_in_order() {
    let catalogue = shipped();
    for printer in catalogue.printers.entries() {
        for paper in &printer.papers {
            for press in catalogue.presses.names() {
                let folder = tempfile::tempdir().expect("a folder");
                let answers = answers(&paper.name, &printer.name, press, Units::Metric);
                write(folder.path(), &texts::of(&answers, &catalogue)).expect("it is written");
                let config = config::load(Some(&folder.path().join(FILE)))
                    .unwrap_or_else(|found| panic!("{answers:?}: {found:#?}"));
                let own = config.catalogue.printers.get(&config.printer).expect("the printer");
                assert_eq!((own.name.as_str(), &own.papers[0].name), ("my-printer", &paper.name));
                assert_eq!(own.margins, printer.margins, "as the shipped one");
                let own = config.catalogue.presses.get(&config.press).expect("the press");
                let known = catalogue.presses.get(press).expect("shipped");
                assert_eq!(
                    (own.name.as_str(), own.platen, own.moves),
                    ("my-press", known.platen, known.moves)
                );
                assert!(config.catalogue.blanks.get("my-mat").is_some(), "a mat to measure");
                let told = config.catalogue.presses.provenance("my-press").map(|from| from.origin.clone());
                assert_eq!(told, Some(format!("as the shipped {press}, not measured yet")));
            }
        }
    }
}
