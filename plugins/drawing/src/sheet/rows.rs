//! The two loops that every pixel goes through: into place on the paper, and through a PNG filter.
//!
//! Both are written so that the compiler turns them into vector instructions: whole rows, one width a slice,
//! choices as selections rather than branches.

use seamwright_contract::num;
use seamwright_contract::picture::{Band, Samples};

/// Row `at` of a band as bytes, its pixels left to right as they lie on the paper.
pub(super) fn straighten(band: &Band, at: usize, mirrored: bool, row: &mut [u8]) {
    let stride = band.stride();
    let (from, to) = (at * stride, (at + 1) * stride);
    let channels = band.format().channels.count();
    match &band.samples {
        Samples::Eight(samples) => lay(samples.get(from..to), channels, mirrored, row, |sample| sample),
        Samples::Sixteen(samples) => lay(samples.get(from..to), channels, mirrored, row, num::narrow),
    }
}

fn lay<T: Copy>(from: Option<&[T]>, channels: usize, mirrored: bool, row: &mut [u8], byte: impl Fn(T) -> u8) {
    let Some(from) = from else { return };
    if !mirrored {
        row.iter_mut().zip(from).for_each(|(to, from)| *to = byte(*from));
        return;
    }
    match channels {
        1 => flip::<T, 1>(from, row, byte),
        3 => flip::<T, 3>(from, row, byte),
        _ => flip::<T, 4>(from, row, byte),
    }
}

fn flip<T: Copy, const N: usize>(from: &[T], row: &mut [u8], byte: impl Fn(T) -> u8) {
    let (pixels, _) = from.as_chunks::<N>();
    let (places, _) = row.as_chunks_mut::<N>();
    for (place, pixel) in places.iter_mut().zip(pixels.iter().rev()) {
        *place = pixel.map(&byte);
    }
}

/// A PNG filter type (PNG, 9.2) that predicts a sample from its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Filter {
    Sub,
    Up,
    Average,
    Paeth,
}

impl Filter {
    pub(super) const ALL: [Self; 4] = [Self::Paeth, Self::Average, Self::Up, Self::Sub];

    /// Appends a row as this filter leaves it, its number first (PNG, 9.4), given the row above it.
    pub(super) fn append(self, row: &[u8], above: &[u8], pixel: usize, out: &mut Vec<u8>) {
        out.push(self.number());
        match self {
            Self::Sub => append(row, above, pixel, out, |left, _, _| left),
            Self::Up => append(row, above, pixel, out, |_, up, _| up),
            Self::Average => append(row, above, pixel, out, |left, up, _| (left & up) + (left ^ up) / 2),
            Self::Paeth => append(row, above, pixel, out, paeth),
        }
    }

    const fn number(self) -> u8 {
        match self {
            Self::Sub => 1,
            Self::Up => 2,
            Self::Average => 3,
            Self::Paeth => 4,
        }
    }
}

/// Appends what is left of each sample without its prediction from left, up and corner.
fn append(row: &[u8], above: &[u8], pixel: usize, out: &mut Vec<u8>, predicted: impl Fn(u8, u8, u8) -> u8) {
    // The first pixel has nothing to its left.
    let first = row.iter().zip(above).take(pixel);
    out.extend(first.map(|(raw, up)| raw.wrapping_sub(predicted(0, *up, 0))));
    let (Some(raw), Some(up)) = (row.get(pixel..), above.get(pixel..)) else { return };
    let neighbours = row.iter().zip(above).zip(raw.iter().zip(up));
    out.extend(
        neighbours.map(|((left, corner), (raw, up))| raw.wrapping_sub(predicted(*left, *up, *corner))),
    );
}

/// Whichever of left, up and corner is nearest to left + up - corner, the first of them on a tie.
fn paeth(left: u8, up: u8, corner: u8) -> u8 {
    let (to_left, to_up) = (i16::from(up) - i16::from(corner), i16::from(left) - i16::from(corner));
    let to_corner = (to_left + to_up).abs();
    let (to_left, to_up) = (to_left.abs(), to_up.abs());
    let nearer = if to_up <= to_corner { up } else { corner };
    if to_left <= to_up && to_left <= to_corner { left } else { nearer }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes with detail in every one.
    fn noise(length: usize, seed: u32) -> Vec<u8> {
        let spread = |at: u32| at.wrapping_mul(2_654_435_761) ^ seed.wrapping_mul(40_503);
        (0..num::count(length)).map(|at| spread(at).to_be_bytes()[1]).collect()
    }

    /// The filters as PNG words them (9.4), one sample at a time.
    fn as_specified(filter: Filter, row: &[u8], above: &[u8], pixel: usize) -> Vec<u8> {
        (0..row.len())
            .map(|at| {
                let before = |from: &[u8]| at.checked_sub(pixel).map_or(0, |at| i32::from(from[at]));
                let (a, b, c) = (before(row), i32::from(above[at]), before(above));
                let p = a + b - c;
                let (pa, pb, pc) = ((p - a).abs(), (p - b).abs(), (p - c).abs());
                let nearest = if pa <= pb && pa <= pc {
                    a
                } else if pb <= pc {
                    b
                } else {
                    c
                };
                let predicted = match filter {
                    Filter::Sub => a,
                    Filter::Up => b,
                    Filter::Average => i32::midpoint(a, b),
                    Filter::Paeth => nearest,
                };
                row[at].wrapping_sub(u8::try_from(predicted).unwrap())
            })
            .collect()
    }

    #[test]
    fn the_filters_are_the_ones_specified() {
        for (filter, number) in Filter::ALL.into_iter().zip([4, 3, 2, 1]) {
            for pixel in [1, 3, 4] {
                for length in [pixel, pixel * 2, pixel * 7, pixel * 700] {
                    let (row, above) = (noise(length, 1), noise(length, 2));
                    let mut out = Vec::new();
                    filter.append(&row, &above, pixel, &mut out);
                    assert_eq!(out.first(), Some(&number));
                    assert_eq!(
                        &out[1..],
                        as_specified(filter, &row, &above, pixel),
                        "{filter:?}, {pixel} x {length}"
                    );
                }
            }
        }
    }
}
