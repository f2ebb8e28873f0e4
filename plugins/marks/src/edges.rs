//! Ticks on cut lines, and guide lines beside them.
//!
//! A cut line is an edge of the cell. It is ticked where one of its ends lies in paper that is cut off, unless a seam
//! is joined in between. Where an end of a trimmed edge stays under a neighbour, or an outer edge ends at a step of the
//! lay-up, a guide line runs beside the cut line instead, in the strip that the cut takes off, at a distance that is
//! written next to it; where an earlier cut of the same panel takes a tick, too, if there is room.

use seamwright_contract::Length;
use seamwright_contract::layout::{Edge, Ink, MarkRole, TrimOrder};
use seamwright_contract::units::Units;

use crate::block::{Block, SMALL};
use crate::draft::{Draft, around};
use crate::strips::{Strip, place};

/// Weight of every line: 0.25 pt, rounded to an even number of micrometres (common practice, no source).
pub(crate) const WEIGHT: Length = Length::from_um(88);

/// Length of a tick where there is room (common practice, no source), and the least that is of use.
pub(crate) const TICK: Length = Length::from_mm(6);
pub(crate) const SHORTEST: Length = Length::from_mm(2);

/// How far guide lines keep from the ends of the cell or of the room beside it, where ticks and arms stand.
const ENDS: Length = Length::from_mm(6);

/// Distances of a guide line from its cut line as people measure them, the preferred first; the long ones are for
/// wide laps. All are whole micrometres, so what is written is exact.
const MILLIMETRES: [(Length, &str); 6] = [
    (Length::from_mm(10), "10 mm"),
    (Length::from_mm(5), "5 mm"),
    (Length::from_mm(15), "15 mm"),
    (Length::from_mm(20), "20 mm"),
    (Length::from_mm(30), "30 mm"),
    (Length::from_mm(50), "50 mm"),
];
const INCHES: [(Length, &str); 6] = [
    (Length::from_um(12_700), "1/2 in"),
    (Length::from_um(6_350), "1/4 in"),
    (Length::from_um(19_050), "3/4 in"),
    (Length::from_inches(1), "1 in"),
    (Length::from_um(31_750), "1 1/4 in"),
    (Length::from_inches(2), "2 in"),
];

/// How the cuts of a panel are marked.
#[derive(Debug)]
pub(crate) struct Cuts {
    /// Whether each trimmed edge is ticked at both ends or guided, and each outer one ticked at each end in a corner of
    /// the lay-up and guided if an end is at a step.
    pub(crate) complete: bool,
    /// Strips whose cut is ticked at both ends, but loses a tick to an earlier cut: a guide line helps there.
    wanting: Vec<Strip>,
}

/// Puts ticks, and guide lines where an end of a cut has none. `runs_on` says how many ends of an outer edge run on
/// into a neighbour's.
pub(crate) fn cuts(
    draft: &mut Draft,
    runs_on: impl Fn(Edge) -> usize,
    order: TrimOrder,
    units: Units,
) -> Cuts {
    let mut cuts = Cuts { complete: true, wanting: Vec::new() };
    let mut stepped = Vec::new();
    for strip in draft.strips.clone() {
        let line = place(&draft.cell, strip.edge);
        let ends = ends(&draft.strips, &strip, order);
        if strip.outer && ends.len() + runs_on(strip.edge) < 2 {
            stepped.push(strip);
        }
        let (mut ticks, mut lasting) = (0, 0);
        for (end, lasts) in ends {
            match tick(&end, line).filter(|ink| draft.fits(&end, ink, None)) {
                Some(ink) => {
                    draft.put(MarkRole::CutTick, ink);
                    ticks += 1;
                    lasting += i32::from(lasts);
                }
                None => cuts.complete &= !strip.outer,
            }
        }
        if !strip.outer && ticks < 2 {
            cuts.complete &= guide(draft, &strip, units);
        } else if !strip.outer && lasting < 2 {
            cuts.wanting.push(strip);
        }
    }
    for strip in &stepped {
        cuts.complete &= guide(draft, strip, units);
    }
    cuts
}

/// Puts the guide lines that help but are not needed, where all else has left room.
pub(crate) fn spare_guides(draft: &mut Draft, cuts: &Cuts, units: Units) {
    for strip in &cuts.wanting {
        // Without room the two ticks must do: mark the line between them before the first cut.
        guide(draft, strip, units);
    }
}

/// The strips that hold the ends of a strip's cut line when its turn to be cut comes or at least when cutting begins,
/// and whether they are still there at its turn: trimmed edges are cut in the order in which the label names them.
fn ends(strips: &[Strip], cut: &Strip, order: TrimOrder) -> Vec<(Strip, bool)> {
    let turn = |strip: &Strip| strips.iter().position(|other| other == strip);
    let begun = |end: &Strip| {
        let cut_before_joining = order == TrimOrder::RowsFirst && !cut.upright();
        end.outer || (!cut.outer && !cut_before_joining)
    };
    strips
        .iter()
        .filter(|end| end.upright() != cut.upright() && begun(end))
        .map(|end| (*end, end.outer || turn(end) > turn(cut)))
        .collect()
}

/// A tick across a strip, in line with a cut line.
pub(crate) fn tick(strip: &Strip, line: Length) -> Option<Ink> {
    let length = TICK.min(strip.depth() - WEIGHT);
    (length >= SHORTEST).then(|| stroke(strip, (line, WEIGHT.half()), (line, WEIGHT.half() + length)))
}

/// A line between two places of a strip, each given along and away from the artwork.
pub(crate) fn stroke(strip: &Strip, from: (Length, Length), to: (Length, Length)) -> Ink {
    Ink::Line { from: strip.at(from.0, from.1), to: strip.at(to.0, to.1), weight: WEIGHT }
}

/// Puts a guide line with its words in the strip that a cut takes off; whether one fits.
fn guide(draft: &mut Draft, strip: &Strip, units: Units) -> bool {
    let beside = strip.beside(&draft.cell);
    let (first, last) =
        if strip.upright() { (beside.y, beside.bottom()) } else { (beside.x, beside.right()) };
    let (first, last) = (first + ENDS, last - ENDS);
    let side = match strip.edge {
        Edge::Left => "right of",
        Edge::Right => "left of",
        Edge::Top => "below",
        Edge::Bottom => "above",
    };
    let lost = (strip.begins() - place(&draft.cell, strip.edge)).abs();
    let distances = match units {
        Units::Metric => MILLIMETRES,
        Units::Inch => INCHES,
    };
    for (distance, said) in distances {
        let depth = distance - lost;
        let line = stroke(strip, (first, depth), (last, depth));
        let words = Block::line(SMALL, &format!("cut {said} {side} this line"));
        let beside = depth + WEIGHT * 8;
        let (near, far) =
            (strip.at(first, beside), strip.at(first + words.size.width, beside + words.size.height));
        let words = words.laid(around(&[near, far]).origin(), strip.upright());
        let long_enough = last - first >= Length::from_mm(20);
        if long_enough && [&line].into_iter().chain(&words).all(|ink| draft.fits(strip, ink, None)) {
            draft.put(MarkRole::CutTick, line);
            words.into_iter().for_each(|ink| draft.put(MarkRole::CutTick, ink));
            return true;
        }
    }
    false
}
