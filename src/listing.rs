//! `seamwright catalogue`: what has a name, in tables, with where its figures come from. What the studio has in its own
//! folders stands among what is shipped, as orders find it.

use std::io;

use clap::ValueEnum;
use comfy_table::{ColumnConstraint, ContentArrangement, LineStyle, Table, TableStyle};
use seamwright_contract::catalogue::{Blank, Moves, PaperSize, Press, Printer, Substrate};
use seamwright_contract::units::{Temperature, Units};
use seamwright_contract::{Length, Sides};

use crate::config::{Catalogue, Config, Home, Shelf};
use crate::journal::visible;
use crate::terminal;

/// Where no terminal sets a width, nothing is wrapped, so that other programs find a line an entry.
const UNBOUNDED: u16 = 1_000;

/// Narrower they are no tables.
const NARROWEST: u16 = 60;

/// What there is of, in the words of the folders.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Kind {
    /// What is decorated.
    Blanks,
    /// Sheet sizes.
    Papers,
    /// Printers and their margins.
    Printers,
    /// Heat presses and their plates.
    Presses,
    /// What blanks are made of, with heat and time.
    Substrates,
}

/// The columns after every table's own.
const LAST: [&str; 2] = ["from", "source"];

/// One table, or all of them under their names.
pub(crate) fn tables(kind: Option<Kind>, config: &Config) -> Vec<String> {
    let width = terminal::columns(io::stdout()).unwrap_or(UNBOUNDED).max(NARROWEST);
    let mut lines = Vec::new();
    for kind in Kind::value_variants().iter().filter(|one| kind.is_none_or(|kind| kind == **one)) {
        let name = kind.to_possible_value().map(|word| word.get_name().to_owned()).unwrap_or_default();
        if !lines.is_empty() {
            lines.push(String::new());
        }
        lines.push(name.to_uppercase());
        let (table, sources) = table(*kind, config, width);
        lines.extend(table.lines().map(|line| line.trim_end().to_owned()));
        lines.extend((1..).zip(sources).map(|(number, source)| format!("source {number}: {source}")));
    }
    lines
}

/// A table, and the sources that it has the numbers of.
fn table(kind: Kind, config: &Config, width: u16) -> (Table, Vec<String>) {
    let (catalogue, units) = (&config.catalogue, config.units);
    match kind {
        Kind::Blanks => {
            let heads = ["blank", "size", "shape", "print", "made of", "warns, refuses"];
            of(heads, &catalogue.blanks, width, |blank| (&blank.name, blank_cells(blank, units)))
        }
        Kind::Papers => of(["paper", "size", "taken by"], &catalogue.papers, width, |paper| {
            (&paper.name, paper_cells(paper, catalogue, units))
        }),
        Kind::Printers => {
            of(["printer", "papers", "margins", "profile"], &catalogue.printers, width, |printer| {
                (&printer.name, printer_cells(printer, units))
            })
        }
        Kind::Presses => {
            let heads = ["press", "plate", "weak edge", "overlap", "what moves"];
            of(heads, &catalogue.presses, width, |press| (&press.name, press_cells(press, units)))
        }
        Kind::Substrates => {
            let heads = ["substrate", "heat", "time", "pressure", "mirrored"];
            of(heads, &catalogue.substrates, width, |made| (&made.name, substrate_cells(made, units)))
        }
    }
}

/// A table of one kind: the name, its own columns, and where it comes from.
fn of<T, const HEADS: usize>(
    heads: [&str; HEADS],
    shelf: &Shelf<T>,
    width: u16,
    cells: impl Fn(&T) -> (&String, Vec<String>),
) -> (Table, Vec<String>) {
    let mut sources: Vec<String> = Vec::new();
    let line = LineStyle::none().fill('-').junction(' ');
    let mut table = Table::new();
    table
        .load_style(TableStyle::new().header_separator(line))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(width)
        .set_header(heads.into_iter().chain(LAST));
    for entry in shelf.entries() {
        let (name, own) = cells(entry);
        let (home, origin) =
            shelf.provenance(name).map_or((Home::Shipped, ""), |from| (from.home, &*from.origin));
        let home = match home {
            Home::Shipped => "shipped",
            Home::Studio => "studio",
            Home::InPlace => "studio, over shipped",
        };
        let source = sources.iter().position(|known| known == origin).unwrap_or_else(|| {
            sources.push(origin.to_owned());
            sources.len() - 1
        });
        let all = [name.clone()].into_iter().chain(own).chain([home.to_owned(), (source + 1).to_string()]);
        table.add_row(all.map(|cell| visible(&cell)));
    }
    for (number, column) in table.column_iter_mut().enumerate() {
        column.set_padding((0, 1));
        // Names are typed as they stand here.
        if number == 0 {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    (table, sources.iter().map(|source| visible(source)).collect())
}

fn blank_cells(blank: &Blank, units: Units) -> Vec<String> {
    let reach = blank.reach;
    let print = match reach {
        Length::ZERO => "to the edge".to_owned(),
        _ if reach > Length::ZERO => format!("{} over", units.show(reach)),
        _ => format!("{} inside", units.show(-reach)),
    };
    vec![
        units.show_size(blank.size.width, blank.size.height),
        blank.shape.word().to_owned(),
        print,
        blank.substrate.name.clone(),
        format!("{:.0}, {:.0} ppi", blank.ppi_floor.get(), blank.ppi_refuse.get()),
    ]
}

fn paper_cells(paper: &PaperSize, catalogue: &Catalogue, units: Units) -> Vec<String> {
    let takes = |printer: &&Printer| printer.papers.iter().any(|known| known.name == paper.name);
    let printers: Vec<&str> =
        catalogue.printers.entries().filter(takes).map(|one| one.name.as_str()).collect();
    let printers = if printers.is_empty() { "no printer yet".to_owned() } else { printers.join(", ") };
    vec![units.show_size(paper.size.width, paper.size.height), printers]
}

fn printer_cells(printer: &Printer, units: Units) -> Vec<String> {
    let Sides { left, top, right, bottom } = printer.margins;
    let margins = if [left, right, bottom] == [top; 3] {
        format!("{} all round", units.show(top))
    } else {
        let side = |word: &str, length| format!("{word} {}", units.show(length));
        [side("top", top), side("right", right), side("bottom", bottom), side("left", left)].join(", ")
    };
    let papers: Vec<&str> = printer.papers.iter().map(|paper| paper.name.as_str()).collect();
    let profile = printer.colour.profile.as_ref().map_or("none", |profile| &profile.name);
    vec![papers.join(", "), margins, profile.to_owned()]
}

fn press_cells(press: &Press, units: Units) -> Vec<String> {
    let moves = match press.moves {
        Moves::Plate => "the plate",
        Moves::Work => "the work",
    };
    vec![
        units.show_size(press.platen.width, press.platen.height),
        units.show(press.weak_edge),
        units.show(press.overlap),
        moves.to_owned(),
    ]
}

fn substrate_cells(substrate: &Substrate, units: Units) -> Vec<String> {
    let degrees = |heat: Temperature| match units {
        Units::Inch => heat.fahrenheit(),
        Units::Metric => heat.celsius(),
    };
    let sign = if units == Units::Inch { "F" } else { "C" };
    let (heat, dwell) = (&substrate.heat, &substrate.dwell);
    vec![
        range(degrees(heat.low), degrees(heat.high), sign),
        range(f64::from(dwell.low.0), f64::from(dwell.high.0), "s"),
        substrate.pressure.clone(),
        if substrate.seen_through { "no, seen through" } else { "yes" }.to_owned(),
    ]
}

fn range(low: f64, high: f64, unit: &str) -> String {
    let (low, high) = (format!("{low:.0}"), format!("{high:.0}"));
    if low == high { format!("{low} {unit}") } else { format!("{low} to {high} {unit}") }
}
