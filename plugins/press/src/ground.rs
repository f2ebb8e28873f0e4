//! What the plate stands on: the inked cells of the design, summed up so that any rectangle is weighed at once.
//!
//! Everything here is in a [`Frame`]: the face itself, or the face with x and y exchanged, so that bands always run
//! along x. Areas are exact, in square micrometres; a platen edge costs by its length over even colour and beside seams,
//! in square micrometres of repeated heat that would be as bad. All are whole numbers, so that every machine plans alike.

use std::ops::Range;

use seamwright_contract::cells::{InkedColumns, Sums, touched};
use seamwright_contract::ink::{BUSY, InkCell, InkMap};
use seamwright_contract::layout::Seam;
use seamwright_contract::{Face, Length, Point, Rect, Size};

/// The design as bands lie in it: along x.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Frame;

/// A platen edge over even colour is as bad as repeated heat of this width along it, and so much worse beside a seam
/// (common practice, no source: keep edges off both).
const PLAIN: u64 = 1_000;
const SEAM: u64 = 4_000;

/// A platen edge this near a seam that runs along it presses the step of the paper in.
const NEAR: Length = Length::from_mm(5);

/// The inked cells of a design, row by row.
#[derive(Debug, Clone)]
pub(crate) struct Cells {
    across: Vec<Length>,
    down: Vec<Length>,
    cells: Vec<Cell>,
    /// The box of the ink in each row of cells, and in each column.
    rows: Vec<Option<Rect<Frame>>>,
    columns: Vec<Option<Rect<Frame>>>,
    /// Lines on which paper lies in two layers.
    seams: Vec<[Point<Frame>; 2]>,
}

/// One cell.
#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    inked: bool,
    /// How even its colour is, in thousandths; 0 where it is bare.
    even: u16,
}

impl Cells {
    /// As the ink map and the seams have them; a design that is bare is to be heated wherever it is.
    pub(crate) fn new(map: &InkMap, size: Size, seams: &[Seam]) -> Self {
        let point = |at: Point<Face>| Point::new(at.x, at.y);
        let seams = seams.iter().map(|seam| seam.line.map(point)).collect();
        if map.extent().is_none() {
            let (across, down) = (vec![Length::ZERO, size.width], vec![Length::ZERO, size.height]);
            let (all, cell) = (vec![Some(Rect::of_size(size))], Cell { inked: true, even: 0 });
            return Self { across, down, cells: vec![cell], rows: all.clone(), columns: all, seams };
        }
        let (mut rows, mut columns) = (Vec::new(), vec![None; map.across().len().saturating_sub(1)]);
        let mut cells = Vec::new();
        for at in 0..map.down().len().saturating_sub(1) {
            let height = map.height(at).unwrap_or_default();
            let mut row = None;
            for (cell, column) in map.row(at).iter().zip(&mut columns) {
                if cell.inked {
                    let ink = Rect::from_edges(cell.left, height.start, cell.right, height.end);
                    row = Some(around(row, ink));
                    *column = Some(around(*column, ink));
                }
                cells.push(Cell::of(cell));
            }
            rows.push(row);
        }
        Self { across: map.across().to_vec(), down: map.down().to_vec(), cells, rows, columns, seams }
    }

    /// With x and y exchanged.
    pub(crate) fn exchanged(&self) -> Self {
        let width = self.columns.len().max(1);
        let exchange = |lines: &[Option<Rect<Frame>>]| {
            let exchange = |ink: Rect<Frame>| Rect::new(ink.y, ink.x, ink.height, ink.width);
            lines.iter().map(|line| line.map(exchange)).collect()
        };
        Self {
            across: self.down.clone(),
            down: self.across.clone(),
            cells: (0..width).flat_map(|x| self.cells.iter().skip(x).step_by(width).copied()).collect(),
            rows: exchange(&self.columns),
            columns: exchange(&self.rows),
            seams: self.seams.iter().map(|line| line.map(|at| Point::new(at.y, at.x))).collect(),
        }
    }
}

impl Cell {
    fn of(cell: &InkCell) -> Self {
        let busy = u16::from(cell.detail.min(BUSY)) * 1_000 / u16::from(BUSY);
        Self { inked: cell.inked, even: if cell.inked { 1_000 - busy } else { 0 } }
    }
}

/// The box around a box, if there is one, and another.
fn around(one: Option<Rect<Frame>>, other: Rect<Frame>) -> Rect<Frame> {
    one.map_or(other, |one| one.around(&other))
}

/// One row of cells with ink.
#[derive(Debug, Clone)]
struct Line {
    ink: Rect<Frame>,
    columns: InkedColumns,
}

/// The design's ink in a frame.
#[derive(Debug)]
pub(crate) struct Ground {
    across: Vec<Length>,
    down: Vec<Length>,
    lines: Vec<Option<Line>>,
    extent: Rect<Frame>,
    ink: Sums,
    /// What edges along x cost in each row of cells, and edges along y in each column.
    level: Along,
    upright: Along,
}

impl Ground {
    /// `None` where nothing is to be heated.
    pub(crate) fn new(cells: &Cells) -> Option<Self> {
        let extent = cells.rows.iter().flatten().fold(None, |all, ink| Some(around(all, *ink)))?;
        let columns = cells.columns.len().max(1);
        let lengths = |borders: &[Length]| -> Vec<u64> {
            borders.windows(2).map(|pair| pair.iter().copied().map(um).fold(0, u64::abs_diff)).collect()
        };
        let (widths, heights) = (lengths(&cells.across), lengths(&cells.down));
        let (level, upright) = (near_seams(cells, false), near_seams(cells, true));
        let width = |x: usize| widths.get(x).copied().unwrap_or(0);
        let height = |y: usize| heights.get(y).copied().unwrap_or(0);
        let cell = |x: usize, y: usize| cells.cells.get(y * columns + x).copied().unwrap_or_default();
        let weight = |near: &[bool], x: usize, y: usize| match near.get(y * columns + x) {
            Some(true) => SEAM,
            _ => u64::from(cell(x, y).even) * PLAIN / 1_000,
        };
        let inked = |x, y| if cell(x, y).inked { width(x) * height(y) } else { 0 };
        let lines = cells.rows.iter().zip(cells.cells.chunks(columns));
        Some(Self {
            across: cells.across.clone(),
            down: cells.down.clone(),
            lines: lines.map(|(ink, cells)| Some(Line::new((*ink)?, cells))).collect(),
            extent,
            ink: Sums::of(columns, heights.len(), inked),
            level: Along::of(heights.len(), columns, |y, x| weight(&level, x, y) * width(x)),
            upright: Along::of(columns, heights.len(), |x, y| weight(&upright, x, y) * height(y)),
        })
    }

    /// The box around all ink.
    pub(crate) fn extent(&self) -> Rect<Frame> {
        self.extent
    }

    /// How much of a rectangle is inked, in square micrometres: whole cells.
    pub(crate) fn ink(&self, rect: &Rect<Frame>) -> u64 {
        let [left, right] = [rect.x, rect.right()].map(|x| Place::of(&self.across, x));
        let [top, bottom] = [rect.y, rect.bottom()].map(|y| Place::of(&self.down, y));
        let up_to = |x: &Place, y: &Place| up_to(&self.ink, x, y);
        (up_to(&right, &bottom) + up_to(&left, &top))
            .saturating_sub(up_to(&left, &bottom) + up_to(&right, &top))
    }

    /// All ink, in square micrometres.
    pub(crate) fn all_ink(&self) -> u64 {
        self.ink.whole()
    }

    /// What the edges of a platen cost.
    pub(crate) fn edges(&self, platen: &Rect<Frame>) -> u64 {
        let x = [platen.x, platen.right()].map(|x| Place::of(&self.across, x));
        let y = [platen.y, platen.bottom()].map(|y| Place::of(&self.down, y));
        let level = [platen.y, platen.bottom()].map(|at| self.level.over(line(&self.down, at), &x));
        let upright = [platen.x, platen.right()].map(|at| self.upright.over(line(&self.across, at), &y));
        level.into_iter().chain(upright).sum()
    }

    /// The heights that are inked, from the top, those less than `apart` from each other as one.
    pub(crate) fn levels(&self, apart: Length) -> Vec<Range<Length>> {
        joined(self.lines.iter().flatten().map(|line| line.ink.y..line.ink.bottom()), apart)
    }

    /// Adds to a strip the lines from `next` on that begin above `bottom` and end below `top`; `next` goes on.
    pub(crate) fn widen(&self, strip: &mut InkedColumns, next: &mut usize, top: Length, bottom: Length) {
        while let Some(line) = self.lines.get(*next) {
            if let Some(line) = line {
                if line.ink.y >= bottom {
                    break;
                }
                if line.ink.bottom() > top {
                    strip.add(&line.columns);
                }
            }
            *next += 1;
        }
    }

    /// The stretches of a strip that are inked, from the left, those less than `apart` from each other as one: exact at the
    /// outermost ends, whole cells inside.
    pub(crate) fn runs(&self, strip: &InkedColumns, apart: Length) -> Vec<Range<Length>> {
        let Some((left, right)) = strip.ends() else { return Vec::new() };
        let border = |at: usize| self.across.get(at).copied().unwrap_or(right).clamp(left, right);
        joined(strip.stretches().map(|columns| border(columns.start)..border(columns.end)), apart)
    }
}

impl Line {
    fn new(ink: Rect<Frame>, cells: &[Cell]) -> Self {
        let columns = InkedColumns::of(cells.iter().map(|cell| cell.inked), (ink.x, ink.right()));
        Self { ink, columns }
    }
}

/// Rising stretches, those less than `apart` from each other as one.
fn joined(stretches: impl Iterator<Item = Range<Length>>, apart: Length) -> Vec<Range<Length>> {
    let mut runs: Vec<Range<Length>> = Vec::new();
    for one in stretches {
        match runs.last_mut() {
            Some(run) if one.start - run.end < apart => run.end = run.end.max(one.end),
            _ => runs.push(one),
        }
    }
    runs
}

/// Which cells lie near a seam along x, or along y.
fn near_seams(cells: &Cells, upright: bool) -> Vec<bool> {
    let columns = cells.across.len().saturating_sub(1).max(1);
    let mut near = vec![false; cells.cells.len()];
    let (aside, along) = if upright { (NEAR, Length::ZERO) } else { (Length::ZERO, NEAR) };
    for [from, to] in cells.seams.iter().filter(|[from, to]| (from.x == to.x) == upright) {
        let x = touched(&cells.across, from.x.min(to.x) - aside, from.x.max(to.x) + aside);
        let y = touched(&cells.down, from.y.min(to.y) - along, from.y.max(to.y) + along);
        for row in y {
            for cell in near.get_mut(row * columns + x.start..row * columns + x.end).into_iter().flatten() {
                *cell = true;
            }
        }
    }
    near
}

fn um(length: Length) -> u64 {
    u64::try_from(length.um()).unwrap_or(0)
}

/// The row or column of cells in which a line runs; none where it runs beside the design or along its edge.
fn line(borders: &[Length], at: Length) -> Option<usize> {
    let after = borders.partition_point(|border| *border < at);
    after.checked_sub(1).filter(|_| after < borders.len())
}

/// A place along a side: how many whole cells lie before it, and how far into the next it lies, of how much.
#[derive(Debug)]
struct Place {
    cell: usize,
    into: u64,
    of: u64,
}

impl Place {
    fn of(borders: &[Length], at: Length) -> Self {
        let cell = borders.partition_point(|border| *border <= at);
        match (cell.checked_sub(1).and_then(|before| borders.get(before)), borders.get(cell)) {
            (Some(before), Some(after)) => {
                Self { cell: cell - 1, into: um(at - *before), of: um(*after - *before) }
            }
            (None, _) => Self { cell: 0, into: 0, of: 1 },
            (_, None) => Self { cell: borders.len().saturating_sub(1), into: 0, of: 1 },
        }
    }
}

/// What lies above and left of a place, cells cut by it in part. Exact where each cell's value is its width times its
/// height, or nothing: sums along a column of cells are then multiples of its width.
fn up_to(sums: &Sums, x: &Place, y: &Place) -> u64 {
    let whole = sums.before(x.cell, y.cell);
    let beside = if x.into > 0 { sums.before(x.cell + 1, y.cell) - whole } else { 0 };
    let below = if y.into > 0 { sums.before(x.cell, y.cell + 1) - whole } else { 0 };
    let corner = if x.into > 0 && y.into > 0 {
        let cell = sums.before(x.cell + 1, y.cell + 1) - whole - beside - below;
        cell / (x.of * y.of) * (x.into * y.into)
    } else {
        0
    };
    whole + beside / x.of * x.into + below / y.of * y.into + corner
}

/// Sums along lines of cells: for each border what lies before it in its line.
#[derive(Debug)]
struct Along {
    stride: usize,
    sums: Vec<u64>,
}

impl Along {
    fn of(lines: usize, cells: usize, of: impl Fn(usize, usize) -> u64) -> Self {
        let mut sums = Vec::with_capacity(lines * (cells + 1));
        for line in 0..lines {
            let mut here = 0;
            sums.push(0);
            for cell in 0..cells {
                here += of(line, cell);
                sums.push(here);
            }
        }
        Self { stride: cells + 1, sums }
    }

    /// What lies between two places of a line, cells cut by them in part. Exact where each cell's value is a multiple of its
    /// length.
    fn over(&self, line: Option<usize>, ends: &[Place; 2]) -> u64 {
        let Some(line) = line else { return 0 };
        let at = |cell: usize| self.sums.get(line * self.stride + cell).copied().unwrap_or(0);
        let up_to = |place: &Place| {
            let whole = at(place.cell);
            whole + if place.into > 0 { (at(place.cell + 1) - whole) / place.of * place.into } else { 0 }
        };
        let [from, to] = ends;
        up_to(to).saturating_sub(up_to(from))
    }
}
