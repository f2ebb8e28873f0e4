//! Cells in rows, asked for many at once: sums over any rectangle of them, and which columns of some rows have ink.

use std::ops::Range;

use crate::units::Length;

/// Sums over rectangles of cells: for each corner what lies above and left of it.
#[derive(Debug, Clone)]
pub struct Sums {
    stride: usize,
    sums: Vec<u64>,
}

impl Sums {
    /// Of so many columns and rows, each cell's value by its column and row.
    #[must_use]
    pub fn of(columns: usize, rows: usize, value: impl Fn(usize, usize) -> u64) -> Self {
        let stride = columns + 1;
        let mut sums = vec![0_u64; stride];
        sums.reserve(rows * stride);
        for y in 0..rows {
            let mut here = 0;
            sums.push(0);
            for x in 0..columns {
                here += value(x, y);
                let above = sums.get(y * stride + x + 1).copied().unwrap_or(0);
                sums.push(above + here);
            }
        }
        Self { stride, sums }
    }

    /// What lies above and left of a corner.
    #[must_use]
    pub fn before(&self, x: usize, y: usize) -> u64 {
        self.sums.get(y * self.stride + x).copied().unwrap_or(0)
    }

    /// What lies in some columns and rows.
    #[must_use]
    pub fn over(&self, x: &Range<usize>, y: &Range<usize>) -> u64 {
        let all = self.before(x.end, y.end) + self.before(x.start, y.start);
        all.saturating_sub(self.before(x.end, y.start) + self.before(x.start, y.end))
    }

    /// All of it.
    #[must_use]
    pub fn whole(&self) -> u64 {
        self.sums.last().copied().unwrap_or(0)
    }
}

/// The ink of a row of cells, or of several: which columns have any, and where it begins and ends.
#[derive(Debug, Clone, Default)]
pub struct InkedColumns {
    /// A bit for each column.
    mask: Vec<u64>,
    ends: Option<(Length, Length)>,
}

impl InkedColumns {
    /// Of one row: whether each of its cells has ink, and where that begins and ends across.
    #[must_use]
    pub fn of(cells: impl IntoIterator<Item = bool>, ends: (Length, Length)) -> Self {
        let mut mask = Vec::new();
        for (at, inked) in cells.into_iter().enumerate() {
            if at % 64 == 0 {
                mask.push(0);
            }
            if let Some(word) = mask.last_mut() {
                *word |= u64::from(inked) << (at % 64);
            }
        }
        Self { mask, ends: Some(ends) }
    }

    /// With the ink of another of as many columns.
    pub fn add(&mut self, other: &Self) {
        self.mask.resize(other.mask.len().max(self.mask.len()), 0);
        self.mask.iter_mut().zip(&other.mask).for_each(|(all, one)| *all |= one);
        self.ends = match (self.ends, other.ends) {
            (Some(one), Some(other)) => Some((one.0.min(other.0), one.1.max(other.1))),
            (one, other) => one.or(other),
        };
    }

    /// Where the ink begins and ends; `None` where there is none.
    #[must_use]
    pub fn ends(&self) -> Option<(Length, Length)> {
        self.ends
    }

    /// The columns with ink, joined where they touch.
    pub fn stretches(&self) -> impl Iterator<Item = Range<usize>> {
        let mut at = 0;
        std::iter::from_fn(move || {
            let start = self.find(at, true)?;
            at = self.find(start, false).unwrap_or(self.mask.len() * 64);
            Some(start..at)
        })
    }

    /// The first column from `at` on that has ink, or has none.
    fn find(&self, at: usize, inked: bool) -> Option<usize> {
        let mut at = at;
        loop {
            let word = self.mask.get(at / 64)?;
            let rest = (if inked { *word } else { !*word }) >> (at % 64);
            if rest != 0 {
                return usize::try_from(rest.trailing_zeros()).ok().map(|more| at + more);
            }
            at = (at / 64 + 1) * 64;
        }
    }
}

/// The cells between rising borders that a stretch touches; at least one where it lies on the grid at all.
#[must_use]
pub fn touched(borders: &[Length], from: Length, to: Length) -> Range<usize> {
    let last = borders.len().saturating_sub(1);
    let first = borders.partition_point(|border| *border <= from).saturating_sub(1);
    let end = borders.partition_point(|border| *border < to).min(last);
    first.min(end)..end
}
