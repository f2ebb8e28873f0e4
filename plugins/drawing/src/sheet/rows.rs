//! The two loops that every pixel goes through: into place on the paper, and through the PNG predictor.
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

/// The number of the Paeth filter in a PNG row's first byte (PNG, 9.2).
const PAETH: u8 = 4;

/// Appends a row as the Paeth predictor leaves it (PNG, 9.4), given the row above it.
pub(super) fn paeth(row: &[u8], above: &[u8], pixel: usize, out: &mut Vec<u8>) {
    out.push(PAETH);
    // The first pixel has nothing to its left: its prediction is the one above.
    out.extend(row.iter().zip(above).take(pixel).map(|(raw, up)| raw.wrapping_sub(*up)));
    let (Some(raw), Some(up)) = (row.get(pixel..), above.get(pixel..)) else { return };
    let neighbours = row.iter().zip(above).zip(raw.iter().zip(up));
    out.extend(
        neighbours.map(|((left, corner), (raw, up))| raw.wrapping_sub(predicted(*left, *up, *corner))),
    );
}

/// Whichever of left, up and corner is nearest to left + up - corner, the first of them on a tie.
fn predicted(left: u8, up: u8, corner: u8) -> u8 {
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

    /// The predictor as PNG words it (9.4), one sample at a time.
    fn paeth_as_specified(row: &[u8], above: &[u8], pixel: usize) -> Vec<u8> {
        (0..row.len())
            .map(|at| {
                let before = |from: &[u8]| at.checked_sub(pixel).map_or(0, |at| i32::from(from[at]));
                let (a, b, c) = (before(row), i32::from(above[at]), before(above));
                let p = a + b - c;
                let (pa, pb, pc) = ((p - a).abs(), (p - b).abs(), (p - c).abs());
                let predicted = if pa <= pb && pa <= pc {
                    a
                } else if pb <= pc {
                    b
                } else {
                    c
                };
                row[at].wrapping_sub(u8::try_from(predicted).unwrap())
            })
            .collect()
    }

    #[test]
    fn the_predictor_is_the_one_specified() {
        for pixel in [1, 3, 4] {
            for length in [pixel, pixel * 2, pixel * 7, pixel * 700] {
                let (row, above) = (noise(length, 1), noise(length, 2));
                let mut out = Vec::new();
                paeth(&row, &above, pixel, &mut out);
                assert_eq!(out.first(), Some(&4));
                assert_eq!(&out[1..], paeth_as_specified(&row, &above, pixel), "{pixel} x {length}");
            }
        }
    }
}
