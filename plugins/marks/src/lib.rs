//! `marks`: what a maker needs beside the artwork to cut, join and check the sheets.
//!
//! Marks lie only in paper that is cut off before pressing: anywhere else they would be printed onto the blank. Which
//! paper that is, and how much of it the printer reaches, is found first (`strips`); a page being marked keeps
//! account of what is taken (`draft`). Then marks are placed in the order of their worth, so that those worth least
//! are the first to find no room: cut ticks and guide lines (`edges`), alignment across the seams (`joints`), label,
//! arrow, check letter, ruler (`label`), and last the guide lines that only help. What found no room becomes one
//! warning a kind. The number of sheets never changes.

mod block;
mod draft;
mod edges;
mod joints;
mod label;
mod room;
mod strips;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::Fault;
use seamwright_contract::colour::Colour;
use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{LayUp, Layout, MarkRole, TrimOrder};
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_contract::units::Units;

use draft::Draft;
use room::Room;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "marks",
    about: "cut ticks, alignment, labels and a ruler in the paper that is cut off",
    needs: &[Fact::Panels],
    gives: &[Fact::Marks],
    before: &[],
    example: "marks",
    parse,
    order: None,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Marks))
}

#[derive(Debug)]
struct Marks;

impl Stage for Marks {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let order = layout.lap()?.order;
        let mut lay_up = layout.lay_up()?.clone();
        let words = Words {
            job: &layout.job.name,
            colour: layout.colour.as_ref().map_or("", Colour::short_instruction),
            units: layout.order.units,
        };
        let room = if layout.order.share { Room::beside(lay_up.panels.len()) } else { Room::All };
        let dropped = draw(&mut lay_up, &words, layout.way(), order, room);
        layout.lay_up = Some(lay_up);
        for (role, panels) in dropped.into_iter().filter(|(role, _)| room.wants(*role)) {
            layout.warn(ENTRY.name, warning(role, &panels));
        }
        Ok(layout)
    }
}

/// What the marks say of the job as a whole.
struct Words<'a> {
    job: &'a str,
    /// What to set at the printer; empty where nothing was decided about colour.
    colour: &'a str,
    units: Units,
}

/// The panels on which marks of a kind found no room.
type Dropped = BTreeMap<MarkRole, BTreeSet<u32>>;

/// Marks every panel; says what found no room.
fn draw(lay_up: &mut LayUp, words: &Words<'_>, way: Way, order: TrimOrder, room: Room) -> Dropped {
    let mut dropped = Dropped::new();
    let mut drop = |role, panel| {
        dropped.entry(role).or_default().insert(panel);
    };
    let kept: Vec<_> = lay_up.panels.iter().map(|panel| strips::stays(panel, lay_up.page, way)).collect();
    let draft = |panel| Draft::new(panel, &room.of(panel, &lay_up.live), &kept, way);
    let mut drafts: Vec<Draft> = lay_up.panels.iter().map(draft).collect();
    let joints = joints::joints(&drafts, &lay_up.seams, order);
    let cuts: Vec<_> = (0..)
        .zip(&mut drafts)
        .map(|(i, draft)| {
            let runs_on = |edge| joints.iter().filter(|joint| joint.carries_on(i, edge)).count();
            edges::cuts(draft, runs_on, order, words.units)
        })
        .collect();
    for (draft, _) in drafts.iter().zip(&cuts).filter(|(_, cuts)| !cuts.complete) {
        drop(MarkRole::CutTick, draft.number);
    }
    for panel in joints::align(&mut drafts, &joints) {
        drop(MarkRole::Alignment, panel);
    }
    for (draft, panel) in drafts.iter_mut().zip(&lay_up.panels) {
        let label = label::Words::of(words.job, panel, lay_up.panels.len(), room != Room::All);
        for role in label::place(draft, &label, words.units, words.colour) {
            drop(role, draft.number);
        }
    }
    for (draft, cuts) in drafts.iter_mut().zip(&cuts) {
        edges::spare_guides(draft, cuts, words.units);
    }
    for (panel, draft) in lay_up.panels.iter_mut().zip(drafts) {
        panel.marks = draft.marks;
        panel.piece = room.piece(panel);
    }
    dropped
}

/// The warning for marks of one kind that found no room.
fn warning(role: MarkRole, panels: &BTreeSet<u32>) -> String {
    let what = match role {
        MarkRole::CutTick => "some of the cut ticks; measure those cuts from the notes",
        MarkRole::Alignment => "some of the alignment ticks; join by the artwork in the lap",
        MarkRole::Label => "the label; number the sheets by hand as they leave the printer",
        MarkRole::UpArrow => "the arrow to the top; see the notes",
        MarkRole::CheckLetter => "the check letter; compare the sheets with the notes",
        MarkRole::Ruler => "the ruler; measure the artwork instead",
    };
    let word = if panels.len() == 1 { "panel" } else { "panels" };
    format!("There is no room on {word} {} for {what}.", runs(panels))
}

/// Numbers with their runs drawn together: `1 to 4, 7`.
fn runs(numbers: &BTreeSet<u32>) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for &number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let say = |&(first, last): &(u32, u32)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    };
    runs.iter().map(say).collect::<Vec<_>>().join(", ")
}
