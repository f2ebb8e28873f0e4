//! The third part of the work: where the lay-up, or each of its pieces, goes on the blank.

use std::collections::BTreeSet;

use seamwright_contract::catalogue::Blank;
use seamwright_contract::layout::{LayUp, Layout};
use seamwright_contract::units::Units;
use seamwright_contract::{Fault, Length, OnBlank, Rect, Sides};

use crate::blocks::{BlankMap, Block, Drawing, Fact, Figure};
use crate::content::{fact, points, table};
use crate::plan::{self, Piece, SeamPlaces};
use crate::{say, words};

pub(crate) fn placing(
    layout: &Layout,
    lay_up: &LayUp,
    pieces: &[Piece],
    blocks: &mut Vec<Block>,
) -> Result<(), Fault> {
    let (units, blank, size) = (layout.order.units, &layout.order.blank, layout.design()?.size);
    let at = layout.placed();
    let design = Rect::new(at.x, at.y, size.width, size.height);
    let cells: Vec<(u32, Rect<OnBlank>)> = lay_up
        .panels
        .iter()
        .map(|panel| (panel.number, plan::on_blank(layout, &layout.way().to_paper(&panel.cell))))
        .collect();
    let placed: Vec<Placed> = pieces.iter().map(|piece| Placed::of(piece, layout, &cells)).collect();
    let (gaps, facts) = match placed.as_slice() {
        [one] => (Some(one.gaps(blank, units)), one.facts(blank, units)),
        all => (None, (1..).zip(all).map(|(number, piece)| piece.fact(number, units)).collect()),
    };
    let seen = if blank.substrate.seen_through { words::FROM_ITS_FACE } else { words::FACE_UP };
    let is_whole = placed.iter().all(|piece| piece.extent == design);
    blocks.push(Block::Heading(words::PLACE.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Blank(BlankMap {
            blank: blank.size,
            shape: blank.shape,
            design,
            cells,
            gaps,
        })),
        caption: if is_whole { seen.to_owned() } else { format!("{seen} {}", words::OUTER_EDGES) },
        words: vec![seen.to_owned()],
        facts,
    })));
    let places = plan::seam_places(layout, lay_up);
    if !places.is_empty() {
        blocks.push(table(&words::SEAM_HEADS, places.iter().map(|places| seams(places, units)).collect()));
    }
    let held = lay_up.tape.iter().any(|spot| spot.holds.len() == 1);
    let tape = if held { words::TAPE_OUTSIDE_AT_BOXES } else { words::TAPE_OUTSIDE };
    blocks.push(points(&[words::LINT, words::TURN_OVER, tape, words::PLAIN_PAPER]));
    Ok(())
}

/// A piece on the blank.
struct Placed {
    extent: Rect<OnBlank>,
    /// The panels at its left and right end, where not every row reaches as far.
    left: Option<Vec<u32>>,
    right: Option<Vec<u32>>,
}

impl Placed {
    fn of(piece: &Piece, layout: &Layout, cells: &[(u32, Rect<OnBlank>)]) -> Self {
        let extent = plan::on_blank(layout, &piece.extent);
        let rows: BTreeSet<u32> = piece.parts.iter().map(|part| part.row).collect();
        let ends = |reaches: &dyn Fn(&Rect<OnBlank>) -> bool| -> Option<Vec<u32>> {
            let at_end = cells.iter().filter(|(number, cell)| piece.panels.contains(number) && reaches(cell));
            let numbers: Vec<u32> = at_end.map(|(number, _)| *number).collect();
            (numbers.len() < rows.len()).then_some(numbers)
        };
        Self {
            extent,
            left: ends(&|cell| cell.x == extent.x),
            right: ends(&|cell| cell.right() == extent.right()),
        }
    }

    fn gaps(&self, blank: &Blank, units: Units) -> Sides<String> {
        let gap = |length: Length| {
            if length < Length::ZERO {
                format!("over by {}", units.show(-length))
            } else {
                units.show(length)
            }
        };
        Sides {
            left: gap(self.extent.x),
            top: gap(self.extent.y),
            right: gap(blank.size.width - self.extent.right()),
            bottom: gap(blank.size.height - self.extent.bottom()),
        }
    }

    /// Of the only piece.
    fn facts(&self, blank: &Blank, units: Units) -> Vec<Fact> {
        let gaps = self.gaps(blank, units);
        vec![
            fact("From the left", gaps.left + &at_panels(self.left.as_deref())),
            fact("From the top", gaps.top),
            fact("From the right", gaps.right + &at_panels(self.right.as_deref())),
            fact("From the bottom", gaps.bottom),
        ]
    }

    /// Of one of several.
    fn fact(&self, number: u32, units: Units) -> Fact {
        let from = |length: Length, edge: &str| {
            if length < Length::ZERO {
                format!("{} beyond the {edge} edge", units.show(-length))
            } else {
                format!("{} from the {edge}", units.show(length))
            }
        };
        let (left, top) = (from(self.extent.x, "left"), from(self.extent.y, "top"));
        fact(&format!("Piece {number}"), format!("{left}{}, {top}", at_panels(self.left.as_deref())))
    }
}

fn at_panels(numbers: Option<&[u32]>) -> String {
    numbers.map_or_else(String::new, |numbers| format!(" at {}", say::numbered("panel", numbers)))
}

fn seams(places: &SeamPlaces, units: Units) -> Vec<String> {
    let at: Vec<String> = places.at.iter().map(|at| units.show(*at)).collect();
    let (way, edge) = if places.upright { ("upright", "left") } else { ("level", "top") };
    vec![way.to_owned(), say::list(&places.rows), format!("{} from the {edge}", say::joined(&at))]
}
