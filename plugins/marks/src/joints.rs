//! Ticks that meet across a seam.
//!
//! At a seam's end in strips that are still there when the seam is joined, the lower panel carries a line where the
//! upper one's cut edge must lie, and both carry an arm at the same place of the lay-up: they meet when all is right.
//! Where rows are of different width, or their seams do not line up, an end of a seam lies in no such strips.

use std::collections::BTreeSet;

use seamwright_contract::Length;
use seamwright_contract::layout::{Edge, Ink, MarkRole, Seam, TrimOrder};

use crate::draft::Draft;
use crate::edges::{SHORTEST, TICK, WEIGHT, stroke, tick};
use crate::strips::{Strip, place};

/// Length of the arms that meet across a seam.
const ARM: Length = Length::from_mm(4);

/// An end of a seam in strips of both panels: still there when the seam is joined, and beginning at the same place of
/// the lay-up, or the arms could not meet at the same depth.
#[derive(Debug)]
pub(crate) struct Joint {
    upper: Side,
    lower: Side,
}

/// One panel at the end of a seam.
#[derive(Debug)]
struct Side {
    /// Which of the drafts it is.
    draft: usize,
    /// Its edge on the seam.
    edge: Edge,
    /// The strip in which the seam ends.
    strip: Strip,
}

impl Joint {
    /// Whether a draft's edge runs on into its neighbour's here.
    pub(crate) fn carries_on(&self, draft: usize, edge: Edge) -> bool {
        [&self.upper, &self.lower].iter().any(|side| side.draft == draft && side.strip.edge == edge)
    }
}

/// Where seams end in strips of both panels.
pub(crate) fn joints(drafts: &[Draft], seams: &[Seam], order: TrimOrder) -> Vec<Joint> {
    let mut joints = Vec::new();
    for seam in seams {
        let upright = seam.line[0].x == seam.line[1].x;
        // Panels are numbered by rows, so the first of the two lies left or above.
        let [first, second] = seam.between;
        let (lower, cut, kept) = match (seam.upper == first, upright) {
            (true, true) => (second, Edge::Right, Edge::Left),
            (true, false) => (second, Edge::Bottom, Edge::Top),
            (false, true) => (first, Edge::Left, Edge::Right),
            (false, false) => (first, Edge::Top, Edge::Bottom),
        };
        let joined_before_cut = upright && order == TrimOrder::RowsFirst;
        let ending = |strip: &&Strip| strip.upright() != upright && (strip.outer || joined_before_cut);
        let find = |number| drafts.iter().enumerate().find(|(_, draft)| draft.number == number);
        let Some(((upper, above), (lower, below))) = find(seam.upper).zip(find(lower)) else { continue };
        for &strip in above.strips.iter().filter(ending) {
            let begins = (strip.edge, above.on_lay_up(&strip));
            let same = |other: &&Strip| (other.edge, below.on_lay_up(other)) == begins;
            joints.extend(below.strips.iter().filter(ending).find(same).map(|&other| Joint {
                upper: Side { draft: upper, edge: cut, strip },
                lower: Side { draft: lower, edge: kept, strip: other },
            }));
        }
    }
    joints
}

/// Puts the ticks that meet across seams; gives the panels on which some found no room.
pub(crate) fn align(drafts: &mut [Draft], joints: &[Joint]) -> BTreeSet<u32> {
    let mut dropped = BTreeSet::new();
    for joint in joints {
        let both = [joint.upper.draft, joint.lower.draft];
        let Ok([upper, lower]) = drafts.get_disjoint_mut(both) else { continue };
        match meet(joint, upper, lower) {
            Some((arm, meeting)) => {
                upper.put(MarkRole::Alignment, arm);
                meeting.into_iter().for_each(|ink| lower.put(MarkRole::Alignment, ink));
            }
            None => dropped.extend([upper.number, lower.number]),
        }
    }
    dropped
}

/// The upper panel's arm, and the lower panel's line and arm, if there is room for all of them.
fn meet(joint: &Joint, upper: &Draft, lower: &Draft) -> Option<(Ink, [Ink; 2])> {
    let (above, below) = (&joint.upper.strip, &joint.lower.strip);
    let length = TICK.min(above.depth() - WEIGHT).min(below.depth() - WEIGHT);
    if length < SHORTEST {
        return None;
    }
    let middle = WEIGHT.half() + length.half();
    // Across the seam, from the upper panel to the lower one.
    let onward = if matches!(joint.upper.edge, Edge::Right | Edge::Bottom) { ARM } else { -ARM };
    let (cut, kept) = (place(&upper.cell, joint.upper.edge), place(&lower.cell, joint.lower.edge));
    let upper_arm = stroke(above, (cut - onward, middle), (cut, middle));
    let line = stroke(below, (kept, WEIGHT.half()), (kept, WEIGHT.half() + length));
    let lower_arm = stroke(below, (kept, middle), (kept + onward, middle));
    let fits = upper.fits(above, &upper_arm, tick(above, cut).as_ref())
        && lower.fits(below, &line, None)
        && lower.fits(below, &lower_arm, None);
    fits.then_some((upper_arm, [line, lower_arm]))
}
