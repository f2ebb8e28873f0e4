//! Bare places for heat tape: on ink it would block dye, under the plate it would leave its mark.
//!
//! At a seam a place is bare where a strip as wide as the tape, along the cut line, has no ink. At an outer edge the
//! tape holds the paper on the blank: what lies under it inside the edge must be bare, and outside it must be blank.

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, LayUp, TapeSpot};
use seamwright_contract::{Face, Length, Outline, Paper, Point, Rect};

use crate::ground::Ground;

/// Heat tape is commonly 10 mm wide (common practice, no source).
const WIDE: Length = Length::from_mm(10);

/// A spot is so long where it can be, and at least so long.
const LONG: Length = Length::from_mm(40);
const SHORT: Length = Length::from_mm(15);

/// The spots of all seams, in their order, then those of the outer edges where they lie on the blank.
pub(crate) fn spots(lay_up: &LayUp, ground: &Ground, blank: &Outline<Face>, way: Way) -> Vec<TapeSpot> {
    let mut spots = Vec::new();
    for seam in &lay_up.seams {
        let [from, to] =
            seam.line.map(|point| way.to_paper(&Rect::new(point.x, point.y, Length::ZERO, Length::ZERO)));
        let line = Line::between(from.origin(), to.origin());
        let bare = line.stretches(ground.step(), |start, end| ground.is_bare(&line.tape(start, end)));
        // The middle first, then the ends, as it is taped.
        let wanted = [line.length.half(), Length::ZERO, line.length];
        spots.extend(line.spots(&bare, &wanted, &seam.between, way));
    }
    for panel in &lay_up.panels {
        let cell = way.to_paper(&panel.cell);
        for edge in &panel.outer {
            let (line, inside) = Line::of(&cell, *edge);
            let bare = line.stretches(ground.step(), |start, end| {
                let (near, far) =
                    if inside { (Length::ZERO, WIDE.half()) } else { (WIDE.half(), Length::ZERO) };
                let tape = line.tape(start, end);
                ground.is_bare(&line.strip(start, end, near, far)) && blank.contains(&way.to_face(&tape))
            });
            spots.extend(line.spots(&bare, &[line.length.half()], &[panel.number], way));
        }
    }
    spots
}

/// A level or upright line on paper.
#[derive(Debug, Clone, Copy)]
struct Line {
    from: Point<Paper>,
    upright: bool,
    length: Length,
}

impl Line {
    fn between(one: Point<Paper>, other: Point<Paper>) -> Self {
        let from = Point::new(one.x.min(other.x), one.y.min(other.y));
        let upright = one.x == other.x;
        let length = if upright { (one.y - other.y).abs() } else { (one.x - other.x).abs() };
        Self { from, upright, length }
    }

    /// An edge of a cell, and whether the cell lies behind it (right or below).
    fn of(cell: &Rect<Paper>, edge: Edge) -> (Self, bool) {
        let corner = |x, y| Point::new(x, y);
        match edge {
            Edge::Left => (Self { from: cell.origin(), upright: true, length: cell.height }, true),
            Edge::Top => (Self { from: cell.origin(), upright: false, length: cell.width }, true),
            Edge::Right => {
                (Self { from: corner(cell.right(), cell.y), upright: true, length: cell.height }, false)
            }
            Edge::Bottom => {
                (Self { from: corner(cell.x, cell.bottom()), upright: false, length: cell.width }, false)
            }
        }
    }

    /// A stretch of it, so far to either side.
    fn strip(&self, start: Length, end: Length, near: Length, far: Length) -> Rect<Paper> {
        let (x, y) = (self.from.x, self.from.y);
        if self.upright {
            Rect::from_edges(x - near, y + start, x + far, y + end)
        } else {
            Rect::from_edges(x + start, y - near, x + end, y + far)
        }
    }

    /// What tape covers along a stretch of it.
    fn tape(&self, start: Length, end: Length) -> Rect<Paper> {
        self.strip(start, end, WIDE.half(), WIDE.half())
    }

    /// The stretches long enough for tape whose every step is good.
    fn stretches(&self, step: Length, good: impl Fn(Length, Length) -> bool) -> Vec<(Length, Length)> {
        let mut stretches: Vec<(Length, Length)> = Vec::new();
        let mut start = Length::ZERO;
        while start < self.length {
            let end = (start + step).min(self.length);
            if good(start, end) {
                match stretches.last_mut() {
                    Some(last) if last.1 == start => last.1 = end,
                    _ => stretches.push((start, end)),
                }
            }
            start = end;
        }
        stretches.retain(|(start, end)| *end - *start >= SHORT);
        stretches
    }

    /// For each wanted place the nearest spot on a bare stretch, none twice and none on another.
    fn spots(&self, bare: &[(Length, Length)], wanted: &[Length], holds: &[u32], way: Way) -> Vec<TapeSpot> {
        let mut taken: Vec<(Length, Length)> = Vec::new();
        for place in wanted {
            let spot = |(start, end): &(Length, Length)| {
                let long = LONG.min(*end - *start);
                let from = (*place - long.half()).clamp(*start, *end - long);
                (from, from + long)
            };
            let away = |(from, to): &(Length, Length)| ((*from + *to).half() - *place).abs();
            let free = |(from, to): &(Length, Length)| taken.iter().all(|(a, b)| *to <= *a || *b <= *from);
            if let Some(found) = bare.iter().map(spot).filter(free).min_by_key(away) {
                taken.push(found);
            }
        }
        taken.sort_unstable();
        let on_face = |at: Length| {
            let strip = self.strip(at, at, Length::ZERO, Length::ZERO);
            way.point_to_face(strip.origin())
        };
        taken
            .into_iter()
            .map(|(from, to)| TapeSpot { holds: holds.to_vec(), line: [on_face(from), on_face(to)] })
            .collect()
    }
}
