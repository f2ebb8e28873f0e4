//! What the seams run over: the ink map as it lies on paper, summed up so that any strip is weighed at once.
//!
//! Everything here is in paper space, ink side up. A cell costs its darkness and its detail, each of 255; a strip costs
//! all cells that it touches. Costs are whole numbers, so that the least is the least on every machine.

use std::ops::Range;

use seamwright_contract::cells::{InkedColumns, Sums, touched};
use seamwright_contract::geometry::Way;
use seamwright_contract::ink::{BUSY, InkCell, InkMap};
use seamwright_contract::{Face, Length, Outline, Paper, Rect, num};

/// What a cell can cost at most.
pub(crate) const MOST: u32 = 2 * 255;

/// One row of cells with ink.
#[derive(Debug, Clone)]
struct InkRow {
    /// Where its ink begins and ends, across and down.
    ink: Rect<Paper>,
    columns: InkedColumns,
}

/// The design's ink on paper.
#[derive(Debug)]
pub(crate) struct Ground {
    across: Vec<Length>,
    down: Vec<Length>,
    rows: Vec<Option<InkRow>>,
    cost: Sums,
    busy: Sums,
    ink: Sums,
    dark: Sums,
    outline: Outline<Paper>,
    extent: Rect<Paper>,
    /// Parts that no seam may cross.
    pub(crate) keep_clear: Vec<Rect<Paper>>,
}

/// What a strip crosses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Crossed {
    /// Cells it touches.
    pub(crate) cells: u64,
    /// Of them with ink.
    pub(crate) inked: u64,
    /// Of them busy.
    pub(crate) busy: u64,
    /// Their darkness in all, of 255 each.
    pub(crate) dark: u64,
    /// Their cost in all.
    pub(crate) cost: u64,
}

impl Ground {
    /// `None` where the design is bare.
    pub(crate) fn new(
        map: &InkMap,
        outline: &Outline<Face>,
        keep_clear: &[Rect<Face>],
        way: Way,
    ) -> Option<Self> {
        let extent = way.to_paper(&map.extent()?);
        let across = if way.mirrored {
            map.across().iter().rev().map(|x| way.width - *x).collect()
        } else {
            map.across().to_vec()
        };
        let rows = map.down().len().saturating_sub(1);
        let line = |row: usize| -> Vec<InkCell> {
            let cells = map.row(row).iter().copied();
            if way.mirrored { cells.rev().collect() } else { cells.collect() }
        };
        let lines: Vec<Vec<InkCell>> = (0..rows).map(line).collect();
        let cell =
            |x: usize, y: usize| lines.get(y).and_then(|line| line.get(x)).copied().unwrap_or_default();
        let columns = across.len().saturating_sub(1);
        let sums = |of: fn(InkCell) -> u32| Sums::of(columns, rows, |x, y| u64::from(of(cell(x, y))));
        Some(Self {
            across,
            down: map.down().to_vec(),
            rows: lines.iter().enumerate().map(|(row, line)| InkRow::new(map, row, line, way)).collect(),
            cost: sums(|cell| u32::from(cell.coverage) + u32::from(cell.detail)),
            busy: sums(|cell| u32::from(cell.detail >= BUSY)),
            ink: sums(|cell| u32::from(cell.inked)),
            dark: sums(|cell| u32::from(cell.coverage)),
            outline: outline.around(way.to_paper(&outline.bounds)),
            extent,
            keep_clear: keep_clear.iter().map(|zone| way.to_paper(zone)).collect(),
        })
    }

    /// The box around all ink.
    pub(crate) fn extent(&self) -> Rect<Paper> {
        self.extent
    }

    /// Places for seams across (borders of cells), at most about so many.
    pub(crate) fn columns(&self, most: usize) -> impl Iterator<Item = Length> {
        sparse(&self.across, most)
    }

    /// Places for seams down.
    pub(crate) fn levels(&self, most: usize) -> impl Iterator<Item = Length> {
        sparse(&self.down, most)
    }

    /// What lies under a rectangle: every cell that it touches.
    pub(crate) fn crossed(&self, strip: &Rect<Paper>) -> Crossed {
        let (x, y) =
            (touched(&self.across, strip.x, strip.right()), touched(&self.down, strip.y, strip.bottom()));
        let cells = u64::try_from(x.len() * y.len()).unwrap_or(u64::MAX);
        let sum = |sums: &Sums| sums.over(&x, &y);
        Crossed {
            cells,
            inked: sum(&self.ink),
            busy: sum(&self.busy),
            dark: sum(&self.dark),
            cost: sum(&self.cost),
        }
    }

    /// The cost alone.
    pub(crate) fn cost(&self, strip: &Rect<Paper>) -> u64 {
        let (x, y) =
            (touched(&self.across, strip.x, strip.right()), touched(&self.down, strip.y, strip.bottom()));
        self.cost.over(&x, &y)
    }

    /// Whether a rectangle touches no cell with ink.
    pub(crate) fn is_bare(&self, strip: &Rect<Paper>) -> bool {
        self.crossed(strip).inked == 0
    }

    /// A cell's size, for stepping along a strip.
    pub(crate) fn step(&self) -> Length {
        let first = |borders: &[Length]| match borders {
            [first, second, ..] => *second - *first,
            _ => Length::from_mm(1),
        };
        first(&self.across).min(first(&self.down)).max(Length::from_um(100))
    }

    /// What a cost stands for, in mm2 of full ink and detail.
    pub(crate) fn mm2(&self, cost: u64) -> f64 {
        let [wide, high] = [&self.across, &self.down].map(|borders| {
            let length = borders.last().copied().unwrap_or_default().mm();
            length / f64::from(num::count(borders.len().saturating_sub(1)).max(1))
        });
        wide * high / f64::from(MOST) * num::float(i64::try_from(cost).unwrap_or(i64::MAX))
    }

    /// The heights at which ink begins and ends, from the top: bare levels of at least a row of cells between them.
    pub(crate) fn levels_of_ink(&self) -> Vec<Range<Length>> {
        let mut runs: Vec<Range<Length>> = Vec::new();
        let mut last = None;
        for (at, row) in self.rows.iter().enumerate() {
            let Some(row) = row else { continue };
            match runs.last_mut() {
                Some(run) if last == at.checked_sub(1) => run.end = row.ink.bottom().max(run.end),
                _ => runs.push(row.ink.y..row.ink.bottom()),
            }
            last = Some(at);
        }
        runs
    }

    /// The ink between two heights.
    pub(crate) fn band(&self, top: Length, bottom: Length) -> InkedColumns {
        let mut band = InkedColumns::default();
        let mut from = top;
        self.widen(&mut band, &mut from, top, bottom);
        band
    }

    /// Adds to the ink between `top` and `done` what lies down to `bottom`, and moves `done` there.
    pub(crate) fn widen(&self, band: &mut InkedColumns, done: &mut Length, top: Length, bottom: Length) {
        // A row of cells counts as soon as any of its ink lies in the band, so the row cut at `done` was taken whole.
        for at in touched(&self.down, *done, bottom) {
            let Some(Some(row)) = self.rows.get(at) else { continue };
            if row.ink.y < bottom && top < row.ink.bottom() {
                band.add(&row.columns);
            }
        }
        *done = bottom.max(*done);
    }

    /// The stretches of ink in a band between two heights, from the left: exact at the outermost ends, whole cells inside.
    pub(crate) fn runs(&self, band: &InkedColumns, top: Length, bottom: Length) -> Vec<Range<Length>> {
        let Some((left, right)) = band.ends() else { return Vec::new() };
        let Some(reach) = self.outline.reach(top, bottom) else { return Vec::new() };
        let (left, right) = (left.max(reach.0), right.min(reach.1));
        let border = |at: usize| self.across.get(at).copied().unwrap_or(right);
        band.stretches()
            .map(|columns| border(columns.start).max(left)..border(columns.end).min(right))
            .filter(|run| run.start < run.end)
            .collect()
    }
}

impl InkRow {
    fn new(map: &InkMap, row: usize, cells: &[InkCell], way: Way) -> Option<Self> {
        let height = map.height(row)?;
        let inked = || cells.iter().filter(|cell| cell.inked);
        let (left, right) = (inked().map(|cell| cell.left).min()?, inked().map(|cell| cell.right).max()?);
        let ink: Rect<Face> = Rect::from_edges(left, height.start, right, height.end);
        let ink = way.to_paper(&ink);
        let columns = InkedColumns::of(cells.iter().map(|cell| cell.inked), (ink.x, ink.right()));
        Some(Self { ink, columns })
    }
}

/// Every so many-th of the borders inside, so that there are at most about `most`.
fn sparse(borders: &[Length], most: usize) -> impl Iterator<Item = Length> {
    let step = borders.len().div_ceil(most.max(1)).max(1);
    borders.iter().copied().step_by(step).skip(1)
}
