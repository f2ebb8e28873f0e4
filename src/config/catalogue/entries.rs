//! One catalogue entry of each kind, from its keys. Every key is read before anything is given up.

use std::collections::BTreeMap;

use seamwright_contract::catalogue::{
    Blank, Measured, Moves, PaperSize, Press, Shape, Substrate, leaves_room,
};
use seamwright_contract::settings::heard::Look;
use seamwright_contract::settings::{DISTANCE, Fields, Node, Range, Read, Value, one_of};
use seamwright_contract::units::{Seconds, Temperature, two_lengths};
use seamwright_contract::{Lab, Length, Ppi, Size};

use super::shrinking::Shrunk;
use super::{NOT_STATED, ORIGIN, Shelf};

/// Nothing a press studio handles is larger: 20 m.
const LARGEST: Length = Length::from_mm(20_000);

/// Below so many pixels per inch the notes warn, and below so many the job is refused, if the blank says nothing.
const PPI_FLOOR: f64 = 100.0;
const PPI_REFUSE: f64 = 60.0;

/// How long a piece cools if its substrate says nothing (common practice, no source).
const COOL: Seconds = Seconds(180);

/// Colours of blanks by plain words, sRGB (CSS Color Module Level 4, named colours).
const COLOURS: [(&str, [u8; 3]); 8] = [
    ("white", [255, 255, 255]),
    ("ivory", [255, 255, 240]),
    ("linen", [250, 240, 230]),
    ("beige", [245, 245, 220]),
    ("silver", [192, 192, 192]),
    ("grey", [128, 128, 128]),
    ("gray", [128, 128, 128]),
    ("black", [0, 0, 0]),
];

/// How a colour looks that is no word.
const HEX: Look = Look { pattern: "^#[0-9A-Fa-f]{6}$", examples: &["#f5f5dc"] };

/// A length that something has: above zero and not absurd.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Measure(pub(crate) Length);

impl Read for Measure {
    fn read(node: &Node<'_>) -> Option<Self> {
        let Distance(length) = Distance::read(node)?;
        if length == Length::ZERO {
            node.complain("nothing is 0 wide or high", "Write a length above zero.");
            return None;
        }
        Some(Self(length))
    }
}

/// A length that may be zero, but not below and not absurd.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Distance(pub(crate) Length);

impl Read for Distance {
    fn read(node: &Node<'_>) -> Option<Self> {
        node.looks(DISTANCE);
        let length = Length::read(node)?;
        if length < Length::ZERO {
            node.complain("a length cannot be below zero", "Write it without the minus sign.");
        } else if length > LARGEST {
            let metres = length.mm() / 1000.0;
            node.complain(format!("{metres} m is larger than anything made here"), "Look at the unit.");
        } else {
            return Some(Self(length));
        }
        None
    }
}

/// A width and a height; `width` and `height` show how they are written.
fn size(fields: &mut Fields<'_>, width: &str, height: &str) -> Option<Size> {
    let (width, height) = (fields.required("width", width), fields.required("height", height));
    let (Measure(width), Measure(height)) = (width?, height?);
    Some(Size::new(width, height))
}

/// A blank from its keys, in its own file or written in an order.
pub(crate) fn blank(name: &str, fields: &mut Fields<'_>, substrates: &Shelf<Substrate>) -> Option<Blank> {
    let size = size(fields, "36in", "24in");
    let shape = shape(fields, size);
    let reach = reach(fields, size);
    let known: Vec<&str> = substrates.names().collect();
    let cure = || format!("Add `substrate: …`. {}", one_of(&known, None));
    let substrate = fields.must("substrate", cure).and_then(|node| substrates.find(&node).cloned());
    let floor = fields.optional::<Ppi>("ppi_floor").map_or(PPI_FLOOR, Ppi::get);
    let refuse = fields.optional::<Ppi>("ppi_refuse").map_or(PPI_REFUSE.min(floor), Ppi::get);
    if refuse > floor {
        fields.complain(
            format!("`ppi_refuse` ({refuse}) is above `ppi_floor` ({floor})"),
            "The job is warned about below the floor and refused further down: exchange the two.",
        );
    }
    let colour = fields.get("colour").map_or(Some(Lab::WHITE), |node| colour(&node));
    let shrink = fields.optional("shrink").map(|Shrunk(shrink)| shrink);
    Some(Blank {
        name: name.to_owned(),
        shape: shape?,
        size: size?,
        reach: reach?,
        substrate: substrate?,
        ppi_floor: Ppi::new(floor)?,
        ppi_refuse: Ppi::new(refuse)?,
        colour: colour?,
        shrink,
    })
}

#[derive(Clone, Copy, PartialEq)]
enum Outline {
    Rectangle,
    Rounded,
    Oval,
    Round,
    HalfMoon,
}

fn shape(fields: &mut Fields<'_>, size: Option<Size>) -> Option<Shape> {
    let words = [
        ("rectangle", Outline::Rectangle),
        ("rounded", Outline::Rounded),
        ("oval", Outline::Oval),
        ("round", Outline::Round),
        ("half-moon", Outline::HalfMoon),
    ];
    let outline = fields.get("shape").map_or(Some(Outline::Rectangle), |node| node.choice(&words))?;
    let radius = fields.get("radius");
    if let Some(node) = &radius
        && outline != Outline::Rounded
    {
        node.complain("only the shape `rounded` has a radius", "Take it out, or write `shape: rounded`.");
    }
    match outline {
        Outline::Rectangle => Some(Shape::Rectangle),
        Outline::Oval => Some(Shape::Oval),
        Outline::HalfMoon => Some(Shape::HalfMoon),
        Outline::Round => {
            if !Shape::Round.fits(size?) {
                let cure = "Write the same width and height, or `shape: oval`.";
                fields.complain("a round blank is as wide as it is high", cure);
            }
            Some(Shape::Round)
        }
        Outline::Rounded => {
            let Some(node) = radius else {
                fields.complain(
                    "the radius of the round corners is missing",
                    "Add for example `radius: 1/2 in`.",
                );
                return None;
            };
            let Measure(radius) = Measure::read(&node)?;
            let size = size?;
            if !Shape::Rounded(radius).fits(size) {
                let most = size.width.min(size.height).half();
                let cure = format!("Half the shorter side is the most: {most}.");
                node.complain("the corners are larger than the blank", cure);
            }
            Some(Shape::Rounded(radius))
        }
    }
}

/// Bleed or inset: how far the design area reaches beyond the outline.
fn reach(fields: &mut Fields<'_>, size: Option<Size>) -> Option<Length> {
    let (bleed, inset) = (fields.get("bleed"), fields.get("inset"));
    match (bleed, inset) {
        (None, None) => Some(Length::ZERO),
        (Some(bleed), None) => Distance::read(&bleed).map(|Distance(bleed)| bleed),
        (None, Some(node)) => {
            let Distance(inset) = Distance::read(&node)?;
            if !leaves_room(-inset, size?) {
                node.complain("the inset leaves nothing to print on", "Write a smaller one.");
                return None;
            }
            Some(-inset)
        }
        (Some(_), Some(inset)) => {
            inset.complain(
                "a blank has a bleed or an inset, not both",
                "Keep `bleed` where the print runs over the edge, `inset` where it stays inside.",
            );
            None
        }
    }
}

/// A colour by word, as six hex digits of sRGB, or as measured: L*, a*, b* under D50.
fn colour(node: &Node<'_>) -> Option<Lab> {
    if matches!(node.value(), Value::Map(_)) {
        return lab(node);
    }
    if let Some((_, colour)) = COLOURS.iter().find(|(word, _)| node.says(word)) {
        return Some(Lab::of_srgb(*colour));
    }
    node.looks(HEX);
    let typed = String::read(node)?;
    let digits = typed.strip_prefix('#').filter(|digits| digits.len() == 6 && !digits.starts_with('+'));
    let number = digits.and_then(|digits| u32::from_str_radix(digits, 16).ok());
    if number.is_none() {
        let words: Vec<&str> = COLOURS.iter().map(|(word, _)| *word).collect();
        let words =
            if typed.starts_with('#') { String::new() } else { format!(" {}", one_of(&words, Some(&typed))) };
        node.complain(
            format!("'{typed}' is no colour"),
            format!(
                "Write six hex digits in quotes, such as `\"#f5f5dc\"`, or a measured `{{L: 94, a: -1, b: 6}}`, or a word.{words}"
            ),
        );
    }
    let [_, red, green, blue] = number?.to_be_bytes();
    Some(Lab::of_srgb([red, green, blue]))
}

fn lab(node: &Node<'_>) -> Option<Lab> {
    let mut fields = node.fields()?;
    let [l, a, b] = ["L", "a", "b"].map(|key| fields.required::<f64>(key, "94"));
    fields.finish();
    let lab = Lab::new(l?, a?, b?);
    let sound = (0.0..=100.0).contains(&lab.l) && lab.chroma() <= 180.0;
    if !sound {
        node.complain(
            format!("L {}, a {}, b {} is no colour", lab.l, lab.a, lab.b),
            "L* goes from 0 to 100, a* and b* about from -128 to 127.",
        );
    }
    sound.then_some(lab)
}

/// A substrate from its keys.
pub(super) fn substrate(name: &str, fields: &mut Fields<'_>) -> Option<Substrate> {
    let heat = fields.required::<Range<Temperature>>("heat", "375-390F");
    let dwell = fields.required::<Range<Seconds>>("dwell", "35-70s");
    if dwell.is_some_and(|range| range.high == Seconds(0)) {
        fields.complain("a dwell of nothing prints nothing", "Write for example `35-70s`.");
    }
    Some(Substrate {
        name: name.to_owned(),
        preheat: fields.or("preheat", Seconds(0)),
        pressure: fields.or("pressure", "medium".to_owned()),
        cool: fields.or("cool", COOL),
        peel_hot: fields.choice_or("peel", &[("hot", true), ("cold", false)], true),
        seen_through: fields.or("seen_through", false),
        origin: fields.or(ORIGIN, NOT_STATED.to_owned()),
        heat: heat?,
        dwell: dwell?,
    })
}

/// A paper from its keys.
pub(super) fn paper(name: &str, fields: &mut Fields<'_>) -> Option<PaperSize> {
    let size = size(fields, "8.5in", "11in")?;
    if size.width > size.height {
        let cure = "Exchange the two: paper is listed upright, and turned as the job needs it.";
        fields.complain("the paper is wider than it is high", cure);
    }
    Some(PaperSize { name: name.to_owned(), size })
}

/// A press from its keys.
pub(super) fn press(name: &str, fields: &mut Fields<'_>, substrates: &Shelf<Substrate>) -> Option<Press> {
    let platen = fields
        .must("platen", || "Add for example `platen: {width: 12in, height: 10in}`.".to_owned())
        .and_then(|node| sides(&node, "12in", "10in"));
    let Distance(weak_edge) = fields.or("weak_edge", Distance(Length::ZERO));
    let Distance(overlap) = fields.or("overlap", Distance(Length::ZERO));
    let moves = fields.choice_or("moves", &[("plate", Moves::Plate), ("work", Moves::Work)], Moves::Plate);
    let turns = fields.or("turns", false);
    let throat = fields.optional("throat").map(|Measure(throat)| throat);
    let board = fields.get("board").and_then(|node| sides(&node, "12in", "10in"));
    let settings = fields.get("settings").map(|node| measured(&node, substrates)).unwrap_or_default();
    let platen = platen?;
    let press =
        Press { name: name.to_owned(), platen, weak_edge, overlap, moves, turns, throat, board, settings };
    let effective = press.effective();
    if effective.width.min(effective.height) <= press.overlap {
        fields.complain(
            "weak edge and overlap leave nothing of the plate to move on by",
            "Write a smaller `weak_edge` or `overlap`.",
        );
    }
    if throat.is_some_and(|throat| throat < platen.height) {
        fields.complain(
            "the throat is not as deep as the plate",
            "Measure it from the plate's front edge back to the column.",
        );
    }
    if moves == Moves::Plate && (throat.is_some() || board.is_some()) {
        let cure = "Write `moves: work`, or take out `throat` and `board`.";
        fields.complain("only work that is moved under a fixed plate has a throat and a board", cure);
    }
    Some(press)
}

/// A width and a height under one key.
pub(crate) fn sides(node: &Node<'_>, width: &str, height: &str) -> Option<Size> {
    if let Value::Text(typed) = node.value()
        && let Some((width, height)) = two_lengths(typed)
    {
        node.complain(
            format!("'{typed}' stands where keys are expected"),
            format!("Write `{{width: {width}, height: {height}}}`."),
        );
        return None;
    }
    let mut sides = node.fields()?;
    let size = size(&mut sides, width, height);
    sides.finish();
    size
}

/// The studio's own heat and time by substrate.
fn measured(node: &Node<'_>, substrates: &Shelf<Substrate>) -> BTreeMap<String, Measured> {
    let of = |(name, node): (&str, Node<'_>)| {
        substrates.known(name, &node)?;
        let mut fields = node.fields()?;
        let heat = fields.required("heat", "385F");
        let dwell = fields.required("dwell", "55s");
        if dwell == Some(Seconds(0)) {
            node.complain("a dwell of nothing prints nothing", "Write for example `55s`.");
        }
        let origin = fields.or(ORIGIN, "measured in this studio".to_owned());
        fields.finish();
        Some((name.to_owned(), Measured { heat: heat?, dwell: dwell?, origin }))
    };
    node.named().into_iter().filter_map(of).collect()
}
