//! The filter along one direction: which source pixels count for each grid pixel, and how much.
//!
//! Lanczos with three lobes, sinc(x) sinc(x/3), widened where it reduces so that nothing aliases. A weight depends on the
//! grid pixel's exact place alone, never on the window that was asked for, so every window comes out as that part of the
//! whole, to the bit. Beyond its edges the source's outermost pixels are repeated: their weights are laid together.

use std::f64::consts::PI;
use std::ops::Range;

use seamwright_contract::num;

use crate::axis::{Axis, REACH};

/// Weights of all grid pixels that the picture covers.
#[derive(Debug)]
pub(crate) struct Taps {
    /// The grid pixel whose weights come first.
    start: u32,
    /// How many source pixels count for each.
    pub(crate) count: usize,
    /// The first of them, for each grid pixel.
    first: Vec<u32>,
    /// Their weights, so many for each grid pixel.
    weights: Vec<f32>,
    each: usize,
}

/// Those of some grid pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part<'a> {
    /// How many source pixels count for each.
    pub(crate) count: usize,
    /// The first of them, for each grid pixel.
    first: &'a [u32],
    weights: &'a [f32],
    each: usize,
}

impl Taps {
    /// One weight for each source pixel that counts.
    pub(crate) fn new(axis: &Axis) -> Self {
        let widen = axis.scale.max(1.0);
        let reach = REACH * widen;
        let source = i64::from(axis.source.max(1));
        let raw = num::round((2.0 * reach).ceil());
        let count = raw.min(source);
        let mut taps = Self {
            start: axis.covered.start,
            count: usize::try_from(count).unwrap_or(1),
            first: Vec::new(),
            weights: Vec::new(),
            each: usize::try_from(count).unwrap_or(1),
        };
        let mut weights = vec![0.0_f64; taps.count];
        for grid in axis.covered.clone() {
            let middle = axis.from(grid) + axis.scale / 2.0;
            let leftmost = num::round((middle - reach - 0.5).floor()) + 1;
            let first = leftmost.clamp(0, source - count);
            weights.fill(0.0);
            for at in leftmost..leftmost + raw {
                let place = usize::try_from(at.clamp(0, source - 1) - first).unwrap_or(0);
                if let Some(weight) = weights.get_mut(place) {
                    *weight += lanczos((num::float(at) + 0.5 - middle) / widen);
                }
            }
            let sum: f64 = weights.iter().sum();
            taps.first.push(u32::try_from(first).unwrap_or(0));
            taps.weights.extend(weights.iter().map(|weight| num::single(weight / sum)));
        }
        taps
    }

    /// The same for pixels of so many samples, laid out for vectors of `LANES` samples, each of whole pixels that follow
    /// one another: every weight once for each sample, and none for the lanes that are left.
    pub(crate) fn spread<const LANES: usize>(self, samples: usize) -> Self {
        let together = LANES / samples;
        let mut weights = Vec::with_capacity(self.first.len() * self.count.div_ceil(together) * LANES);
        for own in self.weights.chunks_exact(self.count) {
            for some in own.chunks(together) {
                let lanes = some.iter().flat_map(|weight| std::iter::repeat_n(*weight, samples));
                weights.extend(lanes.chain(std::iter::repeat(0.0)).take(LANES));
            }
        }
        Self { weights, each: self.count.div_ceil(together) * LANES, ..self }
    }

    /// Those of some grid pixels, all of which the picture covers.
    pub(crate) fn part(&self, grid: &Range<u32>) -> Part<'_> {
        let at = |grid: u32| num::index(grid.saturating_sub(self.start)).min(self.first.len());
        let (start, end) = (at(grid.start), at(grid.end));
        Part {
            count: self.count,
            first: self.first.get(start..end).unwrap_or_default(),
            weights: self.weights.get(start * self.each..end * self.each).unwrap_or_default(),
            each: self.each,
        }
    }
}

impl<'a> Part<'a> {
    /// The first source pixel that counts for each grid pixel, and the weights from it on.
    pub(crate) fn each(self) -> impl Iterator<Item = (u32, &'a [f32])> {
        self.first.iter().copied().zip(self.weights.chunks_exact(self.each.max(1)))
    }

    /// How many grid pixels.
    pub(crate) const fn length(self) -> usize {
        self.first.len()
    }

    /// All source pixels that count; none for no grid pixel.
    pub(crate) fn needed(self) -> Range<u32> {
        match self.first {
            [first, .., last] | [first @ last] => *first..last + num::count(self.count),
            [] => 0..0,
        }
    }

    /// In pieces of so many grid pixels.
    pub(crate) fn pieces(self, length: usize) -> impl Iterator<Item = Self> {
        let length = length.max(1);
        let weights = self.weights.chunks(length * self.each.max(1));
        self.first.chunks(length).zip(weights).map(move |(first, weights)| Self { first, weights, ..self })
    }
}

/// sinc(x) sinc(x / 3) within three lobes.
fn lanczos(x: f64) -> f64 {
    let sinc = |x: f64| if x.abs() < 1e-9 { 1.0 } else { (PI * x).sin() / (PI * x) };
    if x.abs() < REACH { sinc(x) * sinc(x / REACH) } else { 0.0 }
}
