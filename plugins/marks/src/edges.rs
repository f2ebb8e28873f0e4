//! Ticks on cut lines, guide lines beside them, and the ticks that meet across a seam.
//!
//! A cut line is an edge of the cell. It is ticked where one of its ends lies in paper that is cut off, unless a seam
//! is joined in between. Where an end stays under a neighbour, a guide line runs beside the cut line instead, in the
//! strip that the cut takes off, at a distance that is written next to it; where an earlier cut of the same panel takes
//! a tick, too, if there is room.
//!
//! At a seam's end in a strip that is still there when the seam is joined, the lower panel carries a line where the
//! upper one's cut edge must lie, and both carry an arm at the same place of the lay-up: they meet when all is right.

use std::collections::BTreeSet;

use seamwright_contract::Length;
use seamwright_contract::layout::{Edge, Ink, MarkRole, Seam, TrimOrder};
use seamwright_contract::units::Units;

use crate::block::{Block, SMALL};
use crate::draft::{Draft, around};
use crate::strips::{Strip, place};

/// Weight of every line: 0.25 pt, rounded to an even number of micrometres (common practice, no source).
pub(crate) const WEIGHT: Length = Length::from_um(88);

/// Length of a tick where there is room (common practice, no source), and the least that is of use.
const TICK: Length = Length::from_mm(6);
const SHORTEST: Length = Length::from_mm(2);

/// Length of the arms that meet across a seam.
const ARM: Length = Length::from_mm(4);

/// How far guide lines keep from the ends of the cell, where ticks and arms stand.
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
    /// Whether each is marked at both ends.
    pub(crate) complete: bool,
    /// Strips whose cut is ticked at both ends, but loses a tick to an earlier cut: a guide line helps there.
    wanting: Vec<Strip>,
}

/// Puts ticks, and guide lines where an end of a cut has none.
pub(crate) fn cuts(draft: &mut Draft, order: TrimOrder, units: Units) -> Cuts {
    let mut cuts = Cuts { complete: true, wanting: Vec::new() };
    for strip in draft.strips.clone() {
        let line = place(&draft.cell, strip.edge);
        let (mut ticks, mut lasting) = (0, 0);
        for (end, lasts) in ends(&draft.strips, &strip, order) {
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
        let cut_before = order == TrimOrder::RowsFirst && cut.edge == Edge::Bottom;
        end.outer || (!cut.outer && !cut_before)
    };
    strips
        .iter()
        .filter(|end| end.upright() != cut.upright() && begun(end))
        .map(|end| (*end, end.outer || turn(end) > turn(cut)))
        .collect()
}

/// A tick across a strip, in line with a cut line.
fn tick(strip: &Strip, line: Length) -> Option<Ink> {
    let length = TICK.min(strip.depth() - WEIGHT);
    (length >= SHORTEST).then(|| stroke(strip, (line, WEIGHT.half()), (line, WEIGHT.half() + length)))
}

/// A line between two places of a strip, each given along and away from the artwork.
fn stroke(strip: &Strip, from: (Length, Length), to: (Length, Length)) -> Ink {
    Ink::Line { from: strip.at(from.0, from.1), to: strip.at(to.0, to.1), weight: WEIGHT }
}

/// Puts a guide line with its words in the strip that a cut takes off; whether one fits.
fn guide(draft: &mut Draft, strip: &Strip, units: Units) -> bool {
    let (first, last, side) = match strip.edge {
        Edge::Left => (Edge::Top, Edge::Bottom, "right of"),
        Edge::Right => (Edge::Top, Edge::Bottom, "left of"),
        Edge::Top => (Edge::Left, Edge::Right, "below"),
        Edge::Bottom => (Edge::Left, Edge::Right, "above"),
    };
    let (first, last) = (place(&draft.cell, first) + ENDS, place(&draft.cell, last) - ENDS);
    let begins = strip.at(first, Length::ZERO);
    let begins = if strip.upright() { begins.x } else { begins.y };
    let lost = (begins - place(&draft.cell, strip.edge)).abs();
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

/// Puts the ticks that meet across seams; gives the panels on which some found no room.
pub(crate) fn align(drafts: &mut [Draft], seams: &[Seam], order: TrimOrder) -> BTreeSet<u32> {
    let mut dropped = BTreeSet::new();
    for seam in seams {
        let find = |number| drafts.iter().position(|draft| draft.number == number);
        let [low, high] = seam.between;
        let Some((upper, lower)) = find(seam.upper).zip(find(if seam.upper == low { high } else { low }))
        else {
            continue;
        };
        let upright = seam.line[0].x == seam.line[1].x;
        let Ok([upper, lower]) = drafts.get_disjoint_mut([upper, lower]) else { continue };
        for (above, below) in shared(upper, lower, upright, order) {
            let Some((arm, meeting)) = meet(upper, &above, lower, &below) else {
                dropped.extend(seam.between);
                continue;
            };
            upper.put(MarkRole::Alignment, arm);
            meeting.into_iter().for_each(|ink| lower.put(MarkRole::Alignment, ink));
        }
    }
    dropped
}

/// The strips of two panels, upper and lower, in which their seam ends and which are still there when it is joined.
fn shared(upper: &Draft, lower: &Draft, upright: bool, order: TrimOrder) -> Vec<(Strip, Strip)> {
    let stays = |strip: &Strip| {
        strip.outer || (upright && order == TrimOrder::RowsFirst && strip.edge == Edge::Bottom)
    };
    let ending = |strip: &&Strip| strip.upright() != upright && stays(strip);
    let partner =
        |strip: &Strip| lower.strips.iter().filter(ending).find(|other| other.edge == strip.edge).copied();
    upper.strips.iter().filter(ending).filter_map(|strip| Some((*strip, partner(strip)?))).collect()
}

/// The upper panel's arm, and the lower panel's line and arm, if there is room for all of them.
fn meet(upper: &Draft, above: &Strip, lower: &Draft, below: &Strip) -> Option<(Ink, [Ink; 2])> {
    // Strips of neighbours begin at the same place of the lay-up, or the arms could not meet at the same depth.
    if upper.on_lay_up(above) != lower.on_lay_up(below) {
        return None;
    }
    let length = TICK.min(above.depth() - WEIGHT).min(below.depth() - WEIGHT);
    if length < SHORTEST {
        return None;
    }
    let middle = WEIGHT.half() + length.half();
    // Level strips hold the ends of seams between left and right, where the upper panel is cut on its right.
    let (cut, kept) = if above.upright() { (Edge::Bottom, Edge::Top) } else { (Edge::Right, Edge::Left) };
    let (cut, kept) = (place(&upper.cell, cut), place(&lower.cell, kept));
    let upper_arm = stroke(above, (cut - ARM, middle), (cut, middle));
    let line = stroke(below, (kept, WEIGHT.half()), (kept, WEIGHT.half() + length));
    let lower_arm = stroke(below, (kept, middle), (kept + ARM, middle));
    let fits = upper.fits(above, &upper_arm, tick(above, cut).as_ref())
        && lower.fits(below, &line, None)
        && lower.fits(below, &lower_arm, None);
    fits.then_some((upper_arm, [line, lower_arm]))
}
