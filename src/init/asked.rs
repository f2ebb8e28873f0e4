//! The answers: said at the command line, typed at a question, or the usual ones.

use std::io::{BufRead, Write};

use seamwright_contract::catalogue::{Moves, PaperSize, Press, Printer};
use seamwright_contract::settings::one_of;
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Sides};

use super::{Answers, Reading, Wanted};
use crate::config::Catalogue;
use crate::journal::visible;

/// What is taken where nothing else is said; the shipped configuration's.
const PAPER: &str = "letter";
const PRESS: &str = "hand-12x10";

/// The kind of printer whose margins are safe with any.
const SAFE: &str = "desk-";

/// Who asks, if there is anybody to ask.
pub(super) struct Asker<'a, Input> {
    pub(super) catalogue: &'a Catalogue,
    pub(super) input: Option<&'a mut Input>,
    pub(super) output: &'a mut dyn Write,
}

/// What may be answered: a word, and a few more on it.
type Choice = (String, String);

impl<Input: BufRead> Asker<'_, Input> {
    /// All answers.
    ///
    /// # Errors
    /// In words, what the command line says that cannot be, or that nobody answers.
    pub(super) fn answers(&mut self, wanted: &Wanted) -> Result<Answers, String> {
        let Wanted { paper, printer, press, units, folder: _ } = wanted;
        let papers: Vec<PaperSize> = self.papers();
        let usual = match printer {
            Some(printer) => self.printer(printer)?.papers.first().map(|paper| paper.name.clone()),
            None => None,
        };
        let choices = papers.iter().map(|paper| (paper.name.clone(), String::new())).collect();
        let usual = usual.unwrap_or_else(|| PAPER.to_owned());
        let paper = self.one("Which paper do you print on?", "paper", choices, &usual, paper.as_deref())?;

        let choices = vec![
            ("inch".to_owned(), "inches and degrees F".to_owned()),
            ("metric".to_owned(), "millimetres and degrees C".to_owned()),
        ];
        let usual = usual_units(papers.iter().find(|known| known.name == paper));
        let said = units.map(|units| if units == Reading::Inch { "inch" } else { "metric" });
        let units = self.one("Which units do you read?", "units", choices, usual, said)?;
        let units = if units == "inch" { Reading::Inch } else { Reading::Metric }.units();

        let choices: Vec<Choice> =
            self.taking(&paper).map(|one| (one.name.clone(), margins(one, units))).collect();
        let safe = choices.iter().find(|(name, _)| name.starts_with(SAFE)).or(choices.first());
        let usual = safe.map(|(name, _)| name.clone()).unwrap_or_default();
        if let Some(printer) = printer {
            self.takes(printer, &paper)?;
        }
        let question = "Which printer is yours most like? Its margins count until you measure yours.";
        let printer = self.one(question, "printer", choices, &usual, printer.as_deref())?;

        let presses = &self.catalogue.presses;
        let choices = presses
            .names()
            .filter_map(|name| presses.get(name))
            .map(|one| (one.name.clone(), plate(one, units)));
        let choices = choices.collect();
        let question = "Which press is yours most like? Its plate counts until you measure yours.";
        let press = self.one(question, "press", choices, PRESS, press.as_deref())?;
        Ok(Answers { paper, printer, press, units })
    }

    /// One of the choices: as said, as typed, or the usual one.
    fn one(
        &mut self,
        question: &str,
        what: &str,
        choices: Vec<Choice>,
        usual: &str,
        said: Option<&str>,
    ) -> Result<String, String> {
        let known: Vec<&str> = choices.iter().map(|(name, _)| name.as_str()).collect();
        let unknown = |typed: &str| {
            let cure = one_of(&known, Some(typed));
            format!("There is no {what} `{}`. {cure}", visible(typed))
        };
        if let Some(said) = said {
            return if known.contains(&said) { Ok(said.to_owned()) } else { Err(unknown(said)) };
        }
        let Some(input) = self.input.as_deref_mut() else { return Ok(usual.to_owned()) };
        let lost = |why: std::io::Error| format!("Nothing was written, for nobody could be asked: {why}.");
        let widest = known.iter().map(|name| name.len()).max().unwrap_or_default();
        writeln!(self.output, "{question}").map_err(lost)?;
        if choices.iter().all(|(_, more)| more.is_empty()) {
            writeln!(self.output, "  {}", known.join("  ")).map_err(lost)?;
        } else {
            for (name, more) in &choices {
                writeln!(self.output, "  {name:widest$}  {more}").map_err(lost)?;
            }
        }
        loop {
            write!(self.output, "{what} [{usual}]: ").and_then(|()| self.output.flush()).map_err(lost)?;
            let mut typed = String::new();
            if input.read_line(&mut typed).map_err(lost)? == 0 {
                return Err("Nothing was written, for not all was answered.".to_owned());
            }
            match typed.trim() {
                "" => return Ok(usual.to_owned()),
                typed if known.contains(&typed) => return Ok(typed.to_owned()),
                typed => writeln!(self.output, "{}", unknown(typed)).map_err(lost)?,
            }
        }
    }

    /// The papers that some printer takes, in the order in which printers list them.
    fn papers(&self) -> Vec<PaperSize> {
        let mut papers: Vec<PaperSize> = Vec::new();
        for paper in self.printers().flat_map(|printer| &printer.papers) {
            if !papers.iter().any(|known| known.name == paper.name) {
                papers.push(paper.clone());
            }
        }
        papers
    }

    fn printers(&self) -> impl Iterator<Item = &Printer> {
        let printers = &self.catalogue.printers;
        printers.names().filter_map(|name| printers.get(name))
    }

    fn taking(&self, paper: &str) -> impl Iterator<Item = &Printer> {
        self.printers().filter(move |printer| printer.papers.iter().any(|known| known.name == paper))
    }

    fn printer(&self, name: &str) -> Result<&Printer, String> {
        self.catalogue.printers.get(name).ok_or_else(|| {
            let known: Vec<&str> = self.catalogue.printers.names().collect();
            format!("There is no printer `{}`. {}", visible(name), one_of(&known, Some(name)))
        })
    }

    fn takes(&self, printer: &str, paper: &str) -> Result<(), String> {
        let printer = self.printer(printer)?;
        if printer.papers.iter().any(|known| known.name == paper) {
            return Ok(());
        }
        let others: Vec<&str> = self.taking(paper).map(|other| other.name.as_str()).collect();
        Err(format!("The printer `{}` takes no paper `{paper}`. {}", printer.name, one_of(&others, None)))
    }
}

/// Metric for papers that are whole millimetres wide, as those of ISO 216 are.
fn usual_units(paper: Option<&PaperSize>) -> &'static str {
    let whole = paper.is_some_and(|paper| paper.size.width.um() % Length::from_mm(1).um() == 0);
    if whole { "metric" } else { "inch" }
}

fn margins(printer: &Printer, units: Units) -> String {
    let Sides { left, top, right, bottom } = printer.margins;
    let show = |length| units.show(length);
    if [left, right, bottom] == [top; 3] {
        format!("margins of {} all round", show(top))
    } else {
        format!("margins of {}, {} where the sheet leaves last", show(top), show(bottom))
    }
}

fn plate(press: &Press, units: Units) -> String {
    let moves = match press.moves {
        Moves::Plate => "is carried to the work",
        Moves::Work => "stands, and the work is moved under it",
    };
    format!("a plate of {} that {moves}", units.show_size(press.platen.width, press.platen.height))
}
