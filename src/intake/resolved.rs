//! An order as text with every value of the catalogue in it, and what was done by it: kept beside the sources of a
//! finished job, so that it can be made again when catalogue and settings have changed.
//!
//! Lengths are millimetres to the micrometre, temperatures degrees Celsius, so that reading them back ([`super::kept`])
//! gives the very same values whatever the catalogue says by then.

use std::collections::BTreeMap;

use seamwright_contract::catalogue::{Blank, PaperColour, PaperSize, Press, Printer, Shape, Substrate};
use seamwright_contract::colour::Intent;
use seamwright_contract::order::{Lies, Order};
use seamwright_contract::settings::Value;
use seamwright_contract::units::{Seconds, Temperature, Units};
use seamwright_contract::{Face, Lab, Length, Rect, Size};

use crate::config::{self, Config, yaml};

/// What of such a text says how a job is made; the version that wrote it does not.
pub(crate) fn essence(text: &str) -> &str {
    text.split_once('\n').map_or(text, |(_, rest)| rest)
}

/// The text.
pub(super) fn text(order: &Order, config: &Config) -> String {
    let units = match order.units {
        Units::Inch => "inch",
        Units::Metric => "metric",
    };
    yaml::write(&map([
        ("version", word(env!("CARGO_PKG_VERSION"))),
        ("order", wanted(order)),
        ("units", word(units)),
        ("stages", config.pipeline.listed.clone()),
        ("catalogue", catalogue(order)),
    ]))
}

/// The order by the names of things, as a sidecar has it.
fn wanted(order: &Order) -> Value {
    let paper = match &order.papers[..] {
        [one] => &one.name,
        _ => "auto",
    };
    let orientation = order.orientation.map_or("auto", |orientation| orientation.word());
    let said = order.said.iter().map(|(stage, said)| (*stage, said.clone()));
    let wanted = [
        ("blank", word(&order.blank.name)),
        ("measured", order.nominal.map_or(Value::Nothing, |_| size(order.blank.size))),
        ("size", wanted_size(order)),
        ("place", place(order.lies)),
        ("fit", word(order.fit.word())),
        ("page", Value::Number(f64::from(order.page))),
        ("paper", word(paper)),
        ("orientation", word(orientation)),
        ("printer", word(&order.printer.name)),
        ("intent", intent(order.intent)),
        ("press", word(&order.press.name)),
        ("keep_clear", Value::List(order.keep_clear.iter().map(|part| zone(part, order)).collect())),
        ("extra_sheets", Value::Number(f64::from(order.extra_sheets))),
        ("copies", Value::Number(f64::from(order.copies))),
        ("note", order.note.as_deref().map_or(Value::Nothing, word)),
        ("fields", named(order.fields.iter().map(|(key, text)| (key, word(text))))),
        ("allow_low_ppi", Value::Bool(order.allow_low_ppi)),
    ];
    // Not said, it is no; so the names of rows made before there was such a key still hold.
    let share = order.share.then_some(("share", Value::Bool(true)));
    Value::Map(
        wanted.into_iter().chain(share).chain(said).map(|(key, value)| (key.to_owned(), value)).collect(),
    )
}

/// The things themselves.
fn catalogue(order: &Order) -> Value {
    let made_of = &order.blank.substrate;
    map([
        ("substrates", named([(&made_of.name, substrate(made_of))])),
        ("papers", named(order.printer.papers.iter().map(|size| (&size.name, paper(size))))),
        ("blanks", named([(&order.blank.name, blank(&order.blank, order.nominal))])),
        ("printers", named([(&order.printer.name, printer(&order.printer))])),
        ("presses", named([(&order.press.name, press(&order.press, &made_of.name))])),
    ])
}

fn named<'n>(entries: impl IntoIterator<Item = (&'n String, Value)>) -> Value {
    Value::Map(entries.into_iter().map(|(name, entry)| (name.clone(), entry)).collect())
}

fn map<const N: usize>(entries: [(&str, Value); N]) -> Value {
    Value::Map(entries.into_iter().map(|(key, value)| (key.to_owned(), value)).collect())
}

fn word(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn length(length: Length) -> Value {
    Value::Text(length.to_string())
}

fn seconds(time: Seconds) -> Value {
    Value::Text(format!("{}s", time.0))
}

fn degrees(heat: Temperature) -> String {
    format!("{}C", heat.celsius())
}

fn size(size: Size) -> Value {
    map([("width", length(size.width)), ("height", length(size.height))])
}

fn place([across, down]: [Lies; 2]) -> Value {
    let from = |lies, start, end| match lies {
        Lies::Centred => None,
        Lies::FromStart(at) => Some((start, length(at))),
        Lies::FromEnd(at) => Some((end, length(at))),
    };
    let entries = [from(across, "left", "right"), from(down, "top", "bottom")];
    Value::Map(entries.into_iter().flatten().map(|(key, at): (&str, _)| (key.to_owned(), at)).collect())
}

/// The design's size as an order has it. Where all of a blank that shrinks is printed, it goes without saying: to the
/// micrometre it could not be said.
fn wanted_size(order: &Order) -> Value {
    match order.blank.shrink {
        Some(_) if order.size == order.blank.design_area() => Value::Nothing,
        Some(shrink) => size(shrink.after(order.size)),
        None => size(order.size),
    }
}

fn zone(zone: &Rect<Face>, order: &Order) -> Value {
    let zone = order.blank.shrink.map_or(*zone, |shrink| {
        let after = shrink.part_after(zone);
        // What reaches to the design's edge is cut off there when it is read; to the micrometre it could not be said.
        let beyond = |at: Length, edge: Length| if at == edge { Length::from_um(1) } else { Length::ZERO };
        let (right, bottom) =
            (beyond(zone.right(), order.size.width), beyond(zone.bottom(), order.size.height));
        Rect::from_edges(after.x, after.y, after.right() + right, after.bottom() + bottom)
    });
    map([
        ("x", length(zone.x)),
        ("y", length(zone.y)),
        ("width", length(zone.width)),
        ("height", length(zone.height)),
    ])
}

fn blank(blank: &Blank, nominal: Option<Size>) -> Value {
    let size = nominal.unwrap_or(blank.size);
    let radius = match blank.shape {
        Shape::Rounded(radius) => length(radius),
        Shape::Rectangle | Shape::Oval | Shape::Round | Shape::HalfMoon => Value::Nothing,
    };
    let reach = if blank.reach < Length::ZERO { "inset" } else { "bleed" };
    let mut entry = map([
        ("width", length(size.width)),
        ("height", length(size.height)),
        ("shape", word(blank.shape.word())),
        ("radius", radius),
        (reach, length(blank.reach.abs())),
        ("substrate", word(&blank.substrate.name)),
        ("ppi_floor", Value::Number(blank.ppi_floor.get())),
        ("ppi_refuse", Value::Number(blank.ppi_refuse.get())),
        ("colour", lab(blank.colour)),
    ]);
    if let (Value::Map(keys), Some(shrink)) = (&mut entry, &blank.shrink) {
        keys.push(("shrink".to_owned(), config::shrink_value(shrink)));
    }
    entry
}

fn lab(colour: Lab) -> Value {
    map([("L", Value::Number(colour.l)), ("a", Value::Number(colour.a)), ("b", Value::Number(colour.b))])
}

fn substrate(substrate: &Substrate) -> Value {
    let (heat, dwell) = (substrate.heat, substrate.dwell);
    map([
        ("heat", Value::Text(format!("{}-{}", degrees(heat.low), degrees(heat.high)))),
        ("dwell", Value::Text(format!("{}s-{}s", dwell.low.0, dwell.high.0))),
        ("preheat", seconds(substrate.preheat)),
        ("pressure", word(&substrate.pressure)),
        ("cool", seconds(substrate.cool)),
        ("peel", word(if substrate.peel_hot { "hot" } else { "cold" })),
        ("seen_through", Value::Bool(substrate.seen_through)),
        ("origin", word(&substrate.origin)),
    ])
}

fn paper(paper: &PaperSize) -> Value {
    size(paper.size)
}

fn printer(printer: &Printer) -> Value {
    let coloured = printer.on_paper.iter().map(|(paper, colour)| {
        let said = [("paper", word(paper)), ("profile", profile(colour)), ("intent", intent(colour.intent))];
        (paper, said.to_vec())
    });
    let mut on_paper: BTreeMap<_, Vec<(&str, Value)>> = coloured.collect();
    for (paper, sides) in &printer.paper_margins {
        let said = on_paper.entry(paper).or_insert_with(|| vec![("paper", word(paper))]);
        said.push(("margins", config::margins_value(*sides)));
    }
    let keyed = |said: Vec<(&str, Value)>| {
        Value::Map(said.into_iter().map(|(key, value)| (key.to_owned(), value)).collect())
    };
    map([
        ("papers", Value::List(printer.papers.iter().map(|paper| word(&paper.name)).collect())),
        ("margins", config::margins_value(printer.margins)),
        ("profile", profile(&printer.colour)),
        ("intent", intent(printer.colour.intent)),
        ("on_paper", Value::List(on_paper.into_values().map(keyed).collect())),
        ("full_ink", printer.full_ink.map_or(Value::Nothing, Value::Number)),
        ("scale", config::scale_value(&printer.scale)),
        ("delivers", printer.delivers.map_or(Value::Nothing, |delivers| word(delivers.word()))),
        ("tag", word(if printer.embed { "embed" } else { "none" })),
    ])
}

fn profile(colour: &PaperColour) -> Value {
    word(colour.profile.as_ref().map_or("none", |profile| profile.name.as_str()))
}

fn intent(intent: Option<Intent>) -> Value {
    intent.map_or(Value::Nothing, |intent| word(intent.word()))
}

/// Of what was measured on it only what concerns this substrate; the others are not kept.
fn press(press: &Press, substrate: &str) -> Value {
    let measured = press.settings.iter().filter(|(name, _)| *name == substrate).map(|(name, found)| {
        let settings = map([
            ("heat", Value::Text(degrees(found.heat))),
            ("dwell", seconds(found.dwell)),
            ("origin", word(&found.origin)),
        ]);
        (name.clone(), settings)
    });
    map([
        ("platen", size(press.platen)),
        ("weak_edge", length(press.weak_edge)),
        ("overlap", length(press.overlap)),
        ("moves", word(press.moves.word())),
        ("turns", Value::Bool(press.turns)),
        ("throat", press.throat.map_or(Value::Nothing, length)),
        ("board", press.board.map_or(Value::Nothing, size)),
        ("settings", Value::Map(measured.collect())),
    ])
}
