//! How far work reaches in under a fixed plate.
//!
//! The maker stands at the open front; a column stands behind the plate, `throat` behind its front edge. What of the work
//! lies behind the plate's front edge must not be deeper than that: the plate's own depth, and what of blank or board lies
//! beyond the plate towards the column. Either end of the work may point to the column, so the work is turned half round
//! once where the one end does not reach and the other does. In the frame of the bands, y runs along the plate's depth.

use seamwright_contract::catalogue::Moves;
use seamwright_contract::layout::Edge;
use seamwright_contract::order::Order;
use seamwright_contract::{Fault, Length, OnBlank, Point};

use crate::band::Plate;
use crate::bands::{Plan, Row};
use crate::choice::Way;

/// What a fixed press leaves room for, in the frame of the bands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Throat {
    /// From the plate's front edge to the column; `None` where nothing stands behind.
    depth: Option<Length>,
    /// Where the work, with its board, begins and ends.
    first: Length,
    last: Length,
    /// Which edges of the blank those are.
    edges: [Edge; 2],
}

impl Throat {
    /// `None` for a press that is carried.
    pub(crate) fn of(order: &Order, way: Way, placed: Point<OnBlank>) -> Result<Option<Self>, Fault> {
        let (press, blank) = (&order.press, order.blank.size);
        if press.moves == Moves::Plate {
            return Ok(None);
        }
        let board = match press.board {
            None => blank,
            Some(board) if board.holds(blank) => board,
            Some(board) if board.turned().holds(blank) => board.turned(),
            Some(board) => return Err(too_small(order, order.units.show_size(board.width, board.height))),
        };
        let (around, size) = (way.size(board), way.size(blank));
        let beyond = (around.height - size.height).half();
        let start = if way.down { placed.x } else { placed.y };
        Ok(Some(Self {
            depth: press.throat,
            first: -start - beyond,
            last: size.height - start + beyond,
            edges: if way.down { [Edge::Left, Edge::Right] } else { [Edge::Top, Edge::Bottom] },
        }))
    }

    /// How deep the work lies in for plates at a height, with its first or its last edge at the column.
    fn deep(&self, plate: &Plate, at: Length) -> [Length; 2] {
        let platen = plate.platen(Length::ZERO, at);
        [platen.bottom() - self.first, self.last - platen.y].map(|deep| deep.max(platen.height))
    }

    /// Whether plates can be set at a height at all.
    pub(crate) fn reaches(&self, plate: &Plate, at: Length) -> bool {
        self.depth.is_none_or(|depth| self.deep(plate, at).into_iter().any(|deep| deep <= depth))
    }

    /// Which edge of the blank points to the column at each of these heights: the first for all if it can, or the last, or
    /// the first for as many as it can.
    pub(crate) fn backs(&self, plate: &Plate, heights: &[Length]) -> Vec<Edge> {
        let [first, last] = self.edges;
        let fits = |at: &Length, end: usize| {
            self.depth.is_none_or(|depth| self.deep(plate, *at).get(end).is_some_and(|deep| *deep <= depth))
        };
        let all_last = heights.iter().all(|at| fits(at, 1)) && !heights.iter().all(|at| fits(at, 0));
        heights.iter().map(|at| if !all_last && fits(at, 0) { first } else { last }).collect()
    }

    /// How deep a throat would do for a plan.
    pub(crate) fn wanted(&self, plate: &Plate, plan: &Plan) -> Length {
        let deep = |row: &Row| self.deep(plate, row.top).into_iter().min();
        plan.rows.iter().filter_map(deep).max().unwrap_or_default()
    }
}

fn too_small(order: &Order, board: String) -> Fault {
    let blank = order.blank.size;
    Fault::order(
        format!(
            "The carrier board of press {}, {board}, does not hold a blank of {}.",
            order.press.name,
            order.units.show_size(blank.width, blank.height)
        ),
        "Use a larger board and write its size into the press's `board`, or choose another press.",
    )
}

/// No way of laying the work in reaches all of it.
pub(crate) fn too_shallow(order: &Order, would_do: Option<Length>) -> Fault {
    let (units, press) = (order.units, &order.press);
    let deep = press.throat.map_or_else(String::new, |throat| units.show(throat));
    let would_do =
        would_do.map_or_else(String::new, |would_do| format!("; {} would do", units.show(would_do)));
    let turn =
        if press.turns { "" } else { " If the work can be laid in a quarter turned, write `turns: yes`." };
    Fault::order(
        format!(
            "The middle of the work does not come under the plate of press {}: it goes in {deep} from the plate's front edge to the column, whichever edge of the work points there{would_do}.",
            press.name
        ),
        format!("Choose a press with a deeper throat, or one whose plate is carried to the work.{turn}"),
    )
}
