//! Exact area averaging, one row at a time.
//!
//! Every target pixel is the mean of the source area it covers, pixels on its border counted by the part that
//! lies inside. Rows are summed first (whole rows have weight one, so 8-bit sums of up to 65 000 rows are exact
//! in single precision), columns when a target row is complete.

use crate::contract::num;
use crate::contract::picture::Pixels;

/// A sample that can be averaged.
pub(crate) trait Averaged: Copy {
    /// As a float.
    fn float(self) -> f32;
    /// Rounded to nearest.
    fn rounded(value: f32) -> Self;
}

impl Averaged for u8 {
    fn float(self) -> f32 {
        f32::from(self)
    }
    fn rounded(value: f32) -> Self {
        num::byte(value)
    }
}

impl Averaged for u16 {
    fn float(self) -> f32 {
        f32::from(self)
    }
    fn rounded(value: f32) -> Self {
        Self::try_from(num::round(f64::from(value))).unwrap_or(Self::MAX)
    }
}

/// The averaging of one picture.
#[derive(Debug)]
pub(crate) struct Reducer<T> {
    from: Pixels,
    to: Pixels,
    samples: usize,
    sums: Vec<f32>,
    row: u64,
    made: Vec<T>,
}

impl<T: Averaged> Reducer<T> {
    /// From one size to a smaller one, `samples` a pixel; neither side of `to` is zero or above `from`'s.
    pub(crate) fn new(from: Pixels, to: Pixels, samples: usize) -> Self {
        let sums = vec![0.0; num::index(from.width) * samples];
        let made = Vec::with_capacity(num::index(to.width) * num::index(to.height) * samples);
        Self { from, to, samples, sums, row: 0, made }
    }

    /// Takes the next source row.
    pub(crate) fn push(&mut self, row: &[T]) {
        // In units of which a source row is `to` and a target row `from` high, every border is a whole number.
        let (source, target) = (u64::from(self.to.height), u64::from(self.from.height));
        let (top, bottom) = (self.row * source, (self.row + 1) * source);
        let border = (top / target + 1) * target;
        self.row += 1;
        if bottom < border {
            self.add(row, 1.0);
            return;
        }
        self.add(row, part(border - top, source));
        self.emit();
        if bottom > border {
            self.add(row, part(bottom - border, source));
        }
    }

    /// The target's rows, once every source row was taken.
    pub(crate) fn finish(self) -> Vec<T> {
        self.made
    }

    fn add(&mut self, row: &[T], weight: f32) {
        if weight < 1.0 {
            for (sum, &sample) in self.sums.iter_mut().zip(row) {
                *sum += weight * sample.float();
            }
        } else {
            for (sum, &sample) in self.sums.iter_mut().zip(row) {
                *sum += sample.float();
            }
        }
    }

    /// Sums the columns of a complete target row.
    fn emit(&mut self) {
        let (source, target) = (u64::from(self.to.width), u64::from(self.from.width));
        let scale = share(self.to.width, self.from.width) * share(self.to.height, self.from.height);
        for column in 0..source {
            let (left, right) = (column * target, (column + 1) * target);
            let (first, last) = (left / source, right.div_ceil(source));
            let mut means = [0.0_f32; 4];
            for x in first..last {
                let inside = ((x + 1) * source).min(right) - (x * source).max(left);
                let weight = part(inside, source);
                let at = usize::try_from(x).unwrap_or(usize::MAX).saturating_mul(self.samples);
                if let Some(pixel) = self.sums.get(at..at.saturating_add(self.samples)) {
                    for (mean, sum) in means.iter_mut().zip(pixel) {
                        *mean += weight * sum;
                    }
                }
            }
            self.made.extend(means.iter().take(self.samples).map(|&mean| T::rounded(mean * scale)));
        }
        self.sums.fill(0.0);
    }
}

/// A part of a whole; both lie far below the exact range of single precision's 24 bits or lose nothing visible.
fn part(inside: u64, whole: u64) -> f32 {
    if inside >= whole {
        return 1.0;
    }
    let float = |value| num::float(i64::try_from(value).unwrap_or(i64::MAX));
    num::single(float(inside) / float(whole))
}

fn share(of: u32, whole: u32) -> f32 {
    num::single(f64::from(of) / f64::from(whole))
}
