//! One direction of the mapping: which grid pixels the picture covers, and which source pixels they come from.
//!
//! Places are exact, with fractions of a pixel; only the border of the covered part falls on whole grid pixels.

use std::ops::Range;

use seamwright_contract::{Length, num};

/// How far the kernel reaches, in source pixels where it enlarges.
pub(crate) const REACH: f64 = 3.0;

/// Deviations below this part of a pixel, over the whole picture, are left alone: about 2 µm at 300 ppi.
pub(crate) const SAME: f64 = 0.02;

/// One direction: which grid pixels the picture covers, and where they come from.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    /// Grid pixels covered by the picture.
    pub(crate) covered: Range<u32>,
    /// Source pixels a grid pixel.
    pub(crate) scale: f64,
    /// Where grid pixel 0 begins, in source pixels.
    origin: f64,
    /// Source pixels there are.
    pub(crate) source: u32,
}

impl Axis {
    /// `grid` pixels of `pitch_um` over the `design`, on which the `source` pixels lie from `start` for `length`.
    pub(crate) fn new(
        grid: u32,
        design: Length,
        start: Length,
        length: Length,
        pitch_um: f64,
        source: u32,
    ) -> Self {
        let per_um = f64::from(source) / num::float(length.um());
        let at = |edge: Length| num::pixels(num::float(edge.um()) / pitch_um).min(grid);
        // However thin the picture, it covers one pixel.
        let first = if start <= Length::ZERO { 0 } else { at(start).min(grid.saturating_sub(1)) };
        let last = if start + length >= design { grid } else { at(start + length).max(first + 1) };
        Self {
            covered: first..last,
            scale: pitch_um * per_um,
            origin: -num::float(start.um()) * per_um,
            source,
        }
    }

    /// The source's own pixels, this many further on, if nothing need be computed.
    pub(crate) fn shift(&self) -> Option<i64> {
        let whole = self.origin.round();
        let drift = (self.scale - 1.0).abs() * f64::from(self.covered.end);
        ((self.origin - whole).abs() + drift < SAME).then(|| num::round(whole))
    }

    /// Where a grid pixel begins in the source.
    pub(crate) fn from(&self, grid: u32) -> f64 {
        self.origin + self.scale * f64::from(grid)
    }

    /// Where a place in the source lies on the grid.
    pub(crate) fn to(&self, source: f64) -> f64 {
        (source - self.origin) / self.scale
    }

    /// The source pixels that show on `grid` pixels, each for more than a hair; at least one.
    pub(crate) fn shown(&self, grid: u32) -> Range<u32> {
        let hair = SAME * self.scale.min(1.0);
        let first = num::pixels((self.from(0) + hair).floor().max(0.0)).min(self.source.saturating_sub(1));
        let last = num::pixels((self.from(grid) - hair).ceil().max(0.0)).min(self.source);
        first..last.max(first + 1)
    }

    /// Those of `count` grid pixels from `start` that the picture covers.
    pub(crate) fn shared(&self, start: u32, count: u32) -> Range<u32> {
        let first = self.covered.start.max(start);
        first..self.covered.end.min(start.saturating_add(count)).max(first)
    }

    /// Grid pixels as source pixels `shift` further on, kept within the source.
    pub(crate) fn shifted(&self, grid: &Range<u32>, shift: i64) -> Range<u32> {
        let last = i64::from(self.source);
        let at = |pixel: u32| u32::try_from((i64::from(pixel) + shift).clamp(0, last)).unwrap_or(0);
        at(grid.start)..at(grid.end)
    }

    /// For each of `count` pixels, `per` grid pixels wide, of a reduced design: the one of `small` pixels of a
    /// reduced source that lies there, if the picture does.
    pub(crate) fn nearest(&self, count: u32, per: f64, small: u32) -> Vec<Option<u32>> {
        (0..count)
            .map(|pixel| {
                let grid = (f64::from(pixel) + 0.5) * per;
                let covered = grid >= f64::from(self.covered.start) && grid < f64::from(self.covered.end);
                let part = (self.origin + self.scale * grid) / f64::from(self.source);
                covered.then(|| {
                    num::pixels((part * f64::from(small)).floor().max(0.0)).min(small.saturating_sub(1))
                })
            })
            .collect()
    }
}

/// How many pixels a range has.
pub(crate) fn length(range: &Range<u32>) -> u32 {
    range.end.saturating_sub(range.start)
}
