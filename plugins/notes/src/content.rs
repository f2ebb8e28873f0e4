//! What the notes say about one job, from its finished layout.

use std::cmp::Ordering;

use seamwright_contract::catalogue::Moves;
use seamwright_contract::layout::{LayUp, Layout, Placement, PressPlan, Weight};
use seamwright_contract::picture::{Channels, Depth, Pixels};
use seamwright_contract::units::{Seconds, Units};
use seamwright_contract::{Fault, Length, Rect, Size, num};

use crate::blocks::{Block, Content, Drawing, Fact, Figure, PressMap, Table};
use crate::{colours, cut, join, place, plan, tidy, words};

/// The thumbnail's longer side in pixels.
const THUMBNAIL: u32 = 700;

/// Everything, in the order in which it is needed.
pub(crate) fn of(layout: &Layout) -> Result<Content, Fault> {
    let lay_up = layout.lay_up()?;
    let pieces = plan::pieces(lay_up, layout.way());
    let mut blocks = Vec::new();
    let warnings = said(layout, Weight::Warning);
    if !warnings.is_empty() {
        blocks.push(Block::Warnings(warnings));
    }
    job(layout, lay_up, &mut blocks)?;
    cut::panels(layout, lay_up, &mut blocks);
    join::joining(layout, lay_up, &pieces, &mut blocks);
    place::placing(layout, lay_up, &pieces, &mut blocks)?;
    if let Some(press) = &layout.press {
        pressing(layout, press, &mut blocks)?;
    }
    blocks.push(Block::Heading(words::CAUTIONS.to_owned()));
    blocks.push(points(&words::SAFETY));
    blocks.push(Block::Heading(words::RESULT.to_owned()));
    blocks.push(Block::Form(words::FORM.map(str::to_owned).to_vec()));
    let inch = |w, h| Size::new(Length::from_um(w), Length::from_um(h));
    let paper = match layout.order.units {
        Units::Inch => inch(215_900, 279_400),
        Units::Metric => inch(210_000, 297_000),
    };
    Ok(Content { paper, job: tidy::clean(&layout.job.name), blocks })
}

pub(crate) fn points(sentences: &[&str]) -> Block {
    Block::Points(sentences.iter().map(|s| (*s).to_owned()).collect())
}

pub(crate) fn fact(name: &str, value: impl Into<String>) -> Fact {
    Fact { name: name.to_owned(), value: value.into() }
}

pub(crate) fn table(heads: &[&str], rows: Vec<Vec<String>>) -> Block {
    Block::Table(Table { heads: heads.iter().map(|head| (*head).to_owned()).collect(), rows })
}

/// What the stages say of one weight.
fn said(layout: &Layout, weight: Weight) -> Vec<String> {
    layout.notices.iter().filter(|n| n.weight == weight).map(|n| tidy::clean(&n.text)).collect()
}

fn job(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let (order, design, units) = (&layout.order, layout.design()?, layout.order.units);
    let mut facts = vec![
        fact("Blank", tidy::clean(&order.blank.name)),
        fact("Blank's size", units.show_size(order.blank.size.width, order.blank.size.height)),
        fact("Design", units.show_size(design.size.width, design.size.height)),
        fact("Artwork", tidy::clean(&layout.artwork.file)),
        fact("Paper", paper(lay_up)),
        fact("Mirrored", mirroring(layout)),
        fact("Copies", order.copies.to_string()),
    ];
    if let Some(colour) = &layout.colour {
        facts.extend(colours::facts(colour));
    }
    if let Some(note) = &order.note {
        facts.push(fact("Note", tidy::clean(note)));
    }
    blocks.push(Block::Heading(words::JOB.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: thumbnail(layout, design.size)?,
        caption: words::DESIGN_CAPTION.to_owned(),
        words: Vec::new(),
        facts,
    })));
    let mut printing: Vec<String> = words::PRINTING.map(str::to_owned).to_vec();
    if let Some(colour) = &layout.colour {
        printing.insert(0, colour.instruction().to_owned());
    }
    blocks.push(Block::Points(printing));
    let remarks = said(layout, Weight::Remark);
    if !remarks.is_empty() {
        blocks.push(Block::Points(remarks));
    }
    colours::lacking(layout, blocks);
    Ok(())
}

fn paper(lay_up: &LayUp) -> String {
    let count = lay_up.panels.len();
    let word = if count == 1 { "sheet" } else { "sheets" };
    format!("{count} {word} of {}, {}", lay_up.paper.name, lay_up.orientation.word())
}

fn mirroring(layout: &Layout) -> &'static str {
    match (layout.mirrored, layout.order.blank.substrate.seen_through) {
        (true, _) => words::MIRRORED,
        (false, true) => words::NOT_MIRRORED,
        (false, false) => words::WRONGLY_NOT_MIRRORED,
    }
}

fn thumbnail(layout: &Layout, size: Size) -> Result<Option<Drawing>, Fault> {
    let format = layout.seen().format();
    if format.depth != Depth::Eight || format.channels == Channels::Cmyk {
        return Ok(None);
    }
    let longer = size.width.max(size.height).mm();
    let pixels = |length: Length| num::pixels(length.mm() / longer * f64::from(THUMBNAIL)).max(1);
    let band = layout.seen().reduced(Pixels::new(pixels(size.width), pixels(size.height)))?;
    Ok(Some(Drawing::Image(band)))
}

fn pressing(layout: &Layout, press: &PressPlan, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let (units, blank, size, at) =
        (layout.order.units, &layout.order.blank, layout.design()?.size, layout.placed());
    let peel = if press.peel_hot { words::PEEL_HOT } else { words::PEEL_COLD };
    let facts = vec![
        fact("Heat", heat(press, units)),
        fact("Each place", dwell(press)),
        fact("Preheat", format!("{}, without paper", press.preheat)),
        fact("Pressure", tidy::clean(&press.pressure)),
        fact("Heated again", format!("{:.1} % of the ink", press.heated_twice * 100.0)),
        fact("Cooling", format!("{}, flat; {peel}", press.cool)),
        fact("In all", format!("about {}, an estimate", press.total)),
        fact("Origin", tidy::clean(&press.origin)),
    ];
    blocks.push(Block::Heading(words::PRESS.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Press(PressMap {
            blank: blank.size,
            shape: blank.shape,
            design: Rect::new(at.x, at.y, size.width, size.height),
            plates: press.placements.iter().map(|p| (p.number, p.platen)).collect(),
        })),
        caption: words::PRESS_CAPTION.to_owned(),
        words: Vec::new(),
        facts,
    })));
    let from = |length: Length| {
        if length < Length::ZERO {
            format!("hangs over by {}", units.show(-length))
        } else {
            units.show(length)
        }
    };
    let rows = press.placements.iter().map(|place| {
        let turned = if place.turned { words::PLATE_TURNED } else { words::PLATE_STRAIGHT };
        vec![
            place.number.to_string(),
            from(place.platen.x),
            from(place.platen.y),
            turned.to_owned(),
            clock(place.start),
            clock(Seconds(place.start.0.saturating_add(press.dwell.0))),
        ]
    });
    blocks.push(table(&words::PRESS_HEADS, rows.collect()));
    if press.moves == Moves::Work {
        blocks.push(table(
            &words::SHIFT_HEADS,
            press.placements.iter().filter_map(|place| shift(place, units)).collect(),
        ));
    }
    blocks.push(points(&words::AFTER_PRESSING));
    Ok(())
}

/// The heat, and the range it was chosen from.
fn heat(press: &PressPlan, units: Units) -> String {
    let range = press.heat_range;
    format!(
        "{} of {} to {}",
        units.show_heat(press.heat),
        units.show_heat(range.low),
        units.show_heat(range.high)
    )
}

/// The time, and the range it was chosen from.
fn dwell(press: &PressPlan) -> String {
    format!("{} of {} to {}", press.dwell, press.dwell_range.low, press.dwell_range.high)
}

/// A running clock: minutes and seconds.
fn clock(at: Seconds) -> String {
    format!("{}:{:02}", at.0 / 60, at.0 % 60)
}

/// How the work is moved to a place under a fixed plate.
fn shift(place: &Placement, units: Units) -> Option<Vec<String>> {
    let shift = place.shift?;
    let way = |[right, inwards]: [Length; 2]| {
        let say = |by: Length, on: &str, back: &str| match by.cmp(&Length::ZERO) {
            Ordering::Equal => None,
            Ordering::Greater => Some(format!("{} {on}", units.show(by))),
            Ordering::Less => Some(format!("{} {back}", units.show(-by))),
        };
        let said: Vec<String> =
            [say(right, "right", "left"), say(inwards, "in", "out")].into_iter().flatten().collect();
        if said.is_empty() { words::STAYS.to_owned() } else { said.join(", ") }
    };
    Some(vec![
        place.number.to_string(),
        shift.back.word().to_owned(),
        way(shift.from_before),
        way(shift.from_first),
    ])
}
