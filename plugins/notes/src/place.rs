//! The part about placing: where the lay-up, or each of its pieces, goes on the blank.

use std::collections::BTreeSet;

use seamwright_contract::catalogue::Blank;
use seamwright_contract::layout::{LayUp, Layout};
use seamwright_contract::units::Units;
use seamwright_contract::{Fault, Length, OnBlank, Rect, Sides};

use crate::blocks::{BlankMap, Block, Drawing, Fact, Figure};
use crate::content::{fact, points, table};
use crate::plan::{self, Piece, RowPlace};
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
    let (gaps, mut facts) = match placed.as_slice() {
        [one] => (Some(one.gaps(blank, units)), one.facts(blank, units)),
        all => (None, (1..).zip(all).map(|(number, piece)| piece.fact(number, units)).collect()),
    };
    let whole = placed.iter().map(|piece| piece.extent).reduce(|one, other| one.around(&other));
    let whole = whole.unwrap_or_default();
    facts.extend([
        fact("Blank", say::size(units, blank.size)),
        fact("Lay-up", say::size(units, whole.size())),
        fact("Middle", middle(&whole, blank, units)),
    ]);
    let seen = if blank.substrate.seen_through { words::FROM_ITS_FACE } else { words::FACE_UP };
    let figure = Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Blank(BlankMap {
            blank: blank.size,
            shape: blank.shape,
            design,
            lay_up: whole,
            cells,
            gaps,
        })),
        caption: format!("{seen} {}", words::PLACE_CAPTION),
        words: vec![seen.to_owned()],
        facts,
    }));
    blocks.push(Block::Together(vec![
        Block::Heading(words::PLACE.to_owned()),
        points(&[words::DRY_BLANK, words::LINT, words::COATED_SIDE, words::TURN_OVER]),
        figure,
    ]));
    let places = plan::row_places(layout, lay_up, pieces);
    blocks.push(Block::Together(vec![
        points(&[words::ROW_PLACES]),
        table(&words::ROW_HEADS, places.iter().map(|place| row(place, units)).collect()),
    ]));
    let held = lay_up.tape.iter().any(|spot| spot.holds.len() == 1);
    let tape = if held { words::TAPE_OUTSIDE_AT_BOXES } else { words::TAPE_OUTSIDE };
    blocks.push(points(&[tape, words::PLAIN_PAPER]));
    Ok(())
}

/// How the lay-up's middle lies to the blank's.
fn middle(whole: &Rect<OnBlank>, blank: &Blank, units: Units) -> String {
    let off = |start: Length, end: Length, before: &str, after: &str| {
        let off = (start - end).half();
        // An odd micrometre is nothing.
        let said = |way: &str| format!("{} {way}", say::length(units, off.abs()));
        (off.abs() > Length::from_um(1)).then(|| said(if off < Length::ZERO { before } else { after }))
    };
    let across = off(whole.x, blank.size.width - whole.right(), words::LEFT_OF, words::RIGHT_OF);
    let down = off(whole.y, blank.size.height - whole.bottom(), words::ABOVE, words::BELOW);
    let off: Vec<String> = [across, down].into_iter().flatten().collect();
    if off.is_empty() {
        words::ON_MIDDLE.to_owned()
    } else {
        format!("{} {}", say::joined(&off), words::THE_MIDDLE)
    }
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
        let gap = |length: Length| say::inwards(units, length);
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
                format!("{} beyond the {edge} edge", say::length(units, -length))
            } else {
                format!("{} from the {edge}", say::length(units, length))
            }
        };
        let (left, top) = (from(self.extent.x, "left"), from(self.extent.y, "top"));
        fact(&format!("Piece {number}"), format!("{left}{}, {top}", at_panels(self.left.as_deref())))
    }
}

fn at_panels(numbers: Option<&[u32]>) -> String {
    numbers.map_or_else(String::new, |numbers| format!(" at {}", say::numbered("panel", numbers)))
}

fn row(place: &RowPlace, units: Units) -> Vec<String> {
    let all = |lengths: &[Length]| lengths.iter().map(|at| say::inwards(units, *at)).collect::<Vec<_>>();
    let panels: Vec<String> = place.panels.iter().map(ToString::to_string).collect();
    vec![
        place.row.to_string(),
        panels.join(", "),
        all(&place.across).join(", "),
        all(&place.down).join(" to "),
    ]
}
