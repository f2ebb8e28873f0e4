//! What the seams run over: the ink map as it lies on paper, summed up so that any strip is weighed at once.
//!
//! Everything here is in paper space, ink side up. A cell costs its darkness and its detail, each of 255; a strip costs
//! all cells that it touches. Costs are whole numbers, so that the least is the least on every machine.

use std::ops::Range;

use seamwright_contract::geometry::Way;
use seamwright_contract::ink::{InkCell, InkMap};
use seamwright_contract::{Face, Length, Outline, Paper, Rect, num};

/// What a cell can cost at most.
pub(crate) const MOST: u32 = 2 * 255;

/// Detail from which on a cell counts as busy, of 255: an edge of a sixth of the whole range.
const BUSY: u8 = 40;

/// One row of cells with ink.
#[derive(Debug, Clone)]
struct InkRow {
    /// Where its ink begins and ends, across and down.
    ink: Rect<Paper>,
    /// A bit for each of its cells that has ink.
    mask: Vec<u64>,
}

/// The ink of a band of rows: one bit a column, and the exact ends.
#[derive(Debug, Clone, Default)]
pub(crate) struct Band {
    mask: Vec<u64>,
    ends: Option<(Length, Length)>,
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
        let sums =
            |of: fn(&InkCell) -> u32| Sums::of((0..rows).map(|row| line(row).iter().map(of).collect()));
        Some(Self {
            across,
            down: map.down().to_vec(),
            rows: (0..rows).map(|row| InkRow::new(map, row, &line(row), way)).collect(),
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
    pub(crate) fn band(&self, top: Length, bottom: Length) -> Band {
        let mut band = Band::default();
        let mut from = top;
        self.widen(&mut band, &mut from, top, bottom);
        band
    }

    /// Adds to the ink between `top` and `done` what lies down to `bottom`, and moves `done` there.
    pub(crate) fn widen(&self, band: &mut Band, done: &mut Length, top: Length, bottom: Length) {
        // A row of cells counts as soon as any of its ink lies in the band, so the row cut at `done` was taken whole.
        for at in touched(&self.down, *done, bottom) {
            let Some(Some(row)) = self.rows.get(at) else { continue };
            if row.ink.y < bottom && top < row.ink.bottom() {
                band.add(row);
            }
        }
        *done = bottom.max(*done);
    }

    /// The stretches of ink in a band between two heights, from the left: exact at the outermost ends, whole cells inside.
    pub(crate) fn runs(&self, band: &Band, top: Length, bottom: Length) -> Vec<Range<Length>> {
        let Some((left, right)) = band.ends else { return Vec::new() };
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
        let mut mask = vec![0; cells.len().div_ceil(64)];
        for (at, cell) in cells.iter().enumerate() {
            if let Some(word) = mask.get_mut(at / 64) {
                *word |= u64::from(cell.inked) << (at % 64);
            }
        }
        Some(Self { ink: way.to_paper(&ink), mask })
    }
}

impl Band {
    fn add(&mut self, row: &InkRow) {
        self.mask.resize(row.mask.len(), 0);
        self.mask.iter_mut().zip(&row.mask).for_each(|(all, one)| *all |= one);
        let (left, right) = self.ends.unwrap_or((row.ink.x, row.ink.right()));
        self.ends = Some((left.min(row.ink.x), right.max(row.ink.right())));
    }

    /// Its inked columns, joined where they touch.
    fn stretches(&self) -> impl Iterator<Item = Range<usize>> {
        let mut at = 0;
        std::iter::from_fn(move || {
            let start = self.find(at, true)?;
            let end = self.find(start, false).unwrap_or(self.mask.len() * 64);
            at = end;
            Some(start..end)
        })
    }

    /// The first column from `at` on that has ink, or has none.
    fn find(&self, at: usize, inked: bool) -> Option<usize> {
        let mut at = at;
        loop {
            let word = self.mask.get(at / 64)?;
            let word = if inked { *word } else { !*word };
            let rest = word >> (at % 64);
            if rest != 0 {
                return usize::try_from(rest.trailing_zeros()).ok().map(|more| at + more);
            }
            at = (at / 64 + 1) * 64;
        }
    }
}

/// Every so many-th of the borders inside, so that there are at most about `most`.
fn sparse(borders: &[Length], most: usize) -> impl Iterator<Item = Length> {
    let step = borders.len().div_ceil(most.max(1)).max(1);
    borders.iter().copied().step_by(step).skip(1)
}

/// The cells that a stretch touches; at least one where it lies on the grid at all.
fn touched(borders: &[Length], from: Length, to: Length) -> Range<usize> {
    let last = borders.len().saturating_sub(1);
    let first = borders.partition_point(|border| *border <= from).saturating_sub(1);
    let end = borders.partition_point(|border| *border < to).min(last);
    first.min(end)..end
}

/// Sums over rectangles of cells: for each corner what lies above and left of it.
#[derive(Debug)]
struct Sums {
    stride: usize,
    sums: Vec<u64>,
}

impl Sums {
    fn of(rows: impl Iterator<Item = Vec<u32>>) -> Self {
        let mut all = Self { stride: 1, sums: Vec::new() };
        for row in rows {
            if all.sums.is_empty() {
                all.stride = row.len() + 1;
                all.sums.resize(all.stride, 0);
            }
            let above = all.sums.len() - all.stride;
            let mut here = 0;
            all.sums.push(0);
            for (i, value) in row.iter().enumerate() {
                here += u64::from(*value);
                let up = all.sums.get(above + i + 1).copied().unwrap_or(0);
                all.sums.push(up + here);
            }
        }
        all
    }

    fn over(&self, x: &Range<usize>, y: &Range<usize>) -> u64 {
        let at = |row: usize, column: usize| self.sums.get(row * self.stride + column).copied().unwrap_or(0);
        (at(y.end, x.end) + at(y.start, x.start)).saturating_sub(at(y.start, x.end) + at(y.end, x.start))
    }
}
