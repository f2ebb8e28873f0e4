//! In which order placements are pressed, and the clock that runs with them.
//!
//! Bands are pressed one after the other from one end, each from one of its ends to the other, so that the plate always
//! goes on to a neighbour and no hot paper is lifted; a band is taken backwards where that moves less. Work under a fixed
//! plate that must be turned half round is turned once, between two bands.

use seamwright_contract::layout::{Edge, Shift};
use seamwright_contract::units::Seconds;
use seamwright_contract::{Length, OnBlank, Point, Rect};

use crate::bands::Row;

/// Opening, moving on and closing, and laying the paper on before the first: 20 to 40 s (common practice, no source).
const MOVE: u32 = 30;

/// Each band's plates in the order of pressing.
pub(crate) fn ordered(rows: &[Row]) -> Vec<Row> {
    // For the present band, taken forwards and backwards: the way so far and which bands were taken backwards.
    let mut ways: [(u64, Vec<bool>); 2] = [(0, vec![false]), (0, vec![true])];
    for pair in rows.windows(2) {
        let [before, row] = pair else { continue };
        let ends = |row: &Row, backwards: bool| {
            let (first, last) = (row.plates.first().copied(), row.plates.last().copied());
            let ends = (first.unwrap_or_default(), last.unwrap_or_default());
            if backwards { (ends.1, ends.0) } else { ends }
        };
        ways = [false, true].map(|backwards| {
            let (begins, _) = ends(row, backwards);
            let from = |(way, taken): &(u64, Vec<bool>)| {
                let (_, left) = ends(before, taken.last() == Some(&true));
                way + (begins - left).um().unsigned_abs() + (row.top - before.top).um().unsigned_abs()
            };
            let [one, other] = &ways;
            let (way, taken) =
                if from(one) <= from(other) { (from(one), &one.1) } else { (from(other), &other.1) };
            (way, taken.iter().copied().chain([backwards]).collect())
        });
    }
    let [forwards, backwards] = &ways;
    let (_, taken) = forwards.min(backwards);
    let take = |(row, backwards): (&Row, &bool)| {
        let mut row = row.clone();
        if *backwards {
            row.plates.reverse();
        }
        row
    };
    rows.iter().zip(taken).map(take).collect()
}

/// When the `index`th placement closes, from the closing of the preheat.
pub(crate) fn start(index: u32, preheat: Seconds, dwell: Seconds) -> Seconds {
    let moves = MOVE.saturating_mul(index.saturating_add(1));
    Seconds(preheat.0.saturating_add(moves).saturating_add(dwell.0.saturating_mul(index)))
}

/// The work under a fixed plate so far.
#[derive(Debug, Default)]
pub(crate) struct Shifts {
    back: Option<Edge>,
    first: Point<OnBlank>,
    before: Point<OnBlank>,
}

impl Shifts {
    /// How the work goes on to the next place.
    pub(crate) fn next(&mut self, platen: &Rect<OnBlank>, back: Edge) -> Shift {
        let at = platen.origin();
        if self.back != Some(back) {
            *self = Self { back: Some(back), first: at, before: at };
        }
        let shift = Shift {
            back,
            from_first: seen_from_the_front(self.first, at, back),
            from_before: seen_from_the_front(self.before, at, back),
        };
        self.before = at;
        shift
    }
}

/// Rightwards and inwards. The plate stands still, so the work goes against the plate's way over the blank: right of a
/// maker who looks from the front to the column, and on to the column where the plate comes nearer the front.
fn seen_from_the_front(from: Point<OnBlank>, to: Point<OnBlank>, back: Edge) -> [Length; 2] {
    let (x, y) = (to.x - from.x, to.y - from.y);
    match back {
        Edge::Top => [-x, y],
        Edge::Bottom => [x, -y],
        Edge::Left => [y, x],
        Edge::Right => [-y, -x],
    }
}
