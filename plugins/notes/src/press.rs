//! The part about pressing: where the plate goes, when it closes and opens, how hot, and by whose word.

use std::cmp::Ordering;

use seamwright_contract::catalogue::Moves;
use seamwright_contract::layout::{Layout, Placement, PressPlan};
use seamwright_contract::units::{Seconds, Units};
use seamwright_contract::{Fault, Length, Rect, Size};

use crate::blocks::{Block, Drawing, Fact, Figure, PressMap};
use crate::content::{fact, points, table};
use crate::{say, tidy, words};

pub(crate) fn pressing(layout: &Layout, press: &PressPlan, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let units = layout.order.units;
    blocks.push(Block::Heading(words::PRESS.to_owned()));
    let seen = if layout.order.blank.substrate.seen_through { words::FROM_ITS_FACE } else { words::FACE_UP };
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(map(layout, press)?),
        caption: format!("{} {seen}", words::PRESS_CAPTION),
        words: vec![seen.to_owned()],
        facts: facts(press, units),
    })));
    blocks.push(points(&words::BEFORE_PRESSING));
    let rows = press.placements.iter().map(|place| row(place, press, units));
    blocks.push(table(&words::PRESS_HEADS, rows.collect()));
    if press.moves == Moves::Work {
        let shifts = press.placements.iter().filter_map(|place| shift(place, units));
        blocks.push(table(&words::SHIFT_HEADS, shifts.collect()));
    }
    let mut after: Vec<String> = words::AFTER_PRESSING.map(str::to_owned).to_vec();
    let peel = if press.peel_hot { words::PEEL_HOT } else { words::PEEL_COLD };
    after.push(format!("{peel} {} {}.", words::COOL_FLAT, press.cool));
    after.push(words::BOTH_SIDES.to_owned());
    blocks.push(Block::Points(after));
    Ok(())
}

/// The places of the plate over the blank.
pub(crate) fn map(layout: &Layout, press: &PressPlan) -> Result<Drawing, Fault> {
    let (blank, size, at) = (&layout.order.blank, layout.design()?.size, layout.placed());
    Ok(Drawing::Press(PressMap {
        blank: blank.size,
        shape: blank.shape,
        design: Rect::new(at.x, at.y, size.width, size.height),
        plates: press.placements.iter().map(|p| (p.number, p.platen)).collect(),
        weak_edge: press.weak_edge,
    }))
}

fn facts(press: &PressPlan, units: Units) -> Vec<Fact> {
    let mut facts = vec![
        fact("Heat", heat(press, units)),
        fact("Each place", dwell(press)),
        fact("Pressure", tidy::clean(&press.pressure)),
        fact("Origin", tidy::clean(&press.origin)),
        fact("Preheat", format!("{}, without paper", press.preheat)),
        fact("Cooling", press.cool.to_string()),
        fact("In all", format!("about {}, an estimate", press.total)),
        fact("Heated again", format!("{:.1} % of the ink", press.heated_twice * 100.0)),
    ];
    if let Some(place) = press.placements.first() {
        let (width, height) = (place.platen.width, place.platen.height);
        let size = if place.turned { Size::new(height, width) } else { Size::new(width, height) };
        facts.push(fact("Plate", say::size(units, size)));
        let weak = say::length(units, press.weak_edge);
        facts.push(fact("Weak edge", format!("{weak} {}", words::WEAK_EDGE)));
    }
    facts
}

fn row(place: &Placement, press: &PressPlan, units: Units) -> Vec<String> {
    let turned = if place.turned { words::PLATE_TURNED } else { words::PLATE_STRAIGHT };
    vec![
        place.number.to_string(),
        say::inwards(units, place.platen.x),
        say::inwards(units, place.platen.y),
        turned.to_owned(),
        clock(place.start),
        clock(Seconds(place.start.0.saturating_add(press.dwell.0))),
        say::list(&place.overlaps),
    ]
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
            Ordering::Greater => Some(format!("{} {on}", say::length(units, by))),
            Ordering::Less => Some(format!("{} {back}", say::length(units, -by))),
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
