//! From a decoder's raw row to a row of the picture: byte order, depth, and transparency laid over white.
//!
//! Laying over white happens in the encoded values, as picture editors do it: straight `c` with opacity `a`
//! becomes `c·a + white·(1 - a)`; a premultiplied sample already is `c·a`, so only the white part is added.
//! For ink, white is no ink. A wholly opaque row comes out unchanged, so an idle alpha channel costs nothing.

use crate::contract::num;
use crate::contract::picture::{Channels, Depth, Format};
use crate::sink::Row;

/// What a decoder's fourth or last sample is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Alpha {
    /// There is none.
    None,
    /// Opacity, the other samples untouched by it.
    Straight,
    /// Opacity, the other samples multiplied by it.
    Premultiplied,
}

/// How a decoder writes a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Bits {
    /// A byte.
    Eight,
    /// Two bytes, high one first.
    SixteenBig,
    /// Two bytes in the machine's order.
    SixteenNative,
    /// A single-precision float in the machine's order, 0 to 1.
    Float,
}

/// The form of a decoder's rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Raw {
    /// The samples that carry colour.
    pub(crate) channels: Channels,
    /// What follows them.
    pub(crate) alpha: Alpha,
    /// How each is written.
    pub(crate) bits: Bits,
}

impl Raw {
    /// The form its rows have in the picture.
    pub(crate) fn format(self) -> Format {
        let depth = if self.bits == Bits::Eight { Depth::Eight } else { Depth::Sixteen };
        Format { channels: self.channels, depth }
    }

    /// Samples of one pixel, alpha included.
    pub(crate) fn samples(self) -> usize {
        self.channels.count() + usize::from(self.alpha != Alpha::None)
    }

    /// Bytes of one sample.
    pub(crate) fn sample_bytes(self) -> usize {
        match self.bits {
            Bits::Eight => 1,
            Bits::SixteenBig | Bits::SixteenNative => 2,
            Bits::Float => 4,
        }
    }

    /// Whether its rows are the picture's rows byte for byte.
    pub(crate) fn plain(self) -> bool {
        self.bits == Bits::Eight && self.alpha == Alpha::None
    }
}

/// Turns raw rows into picture rows, keeping its working memory.
#[derive(Debug)]
pub(crate) struct Flattener {
    raw: Raw,
    wide: Vec<u16>,
    /// Float samples met that were not between 0 and 1, and so were clipped.
    pub(crate) clipped: u64,
}

impl Flattener {
    /// For rows of this form.
    pub(crate) fn new(raw: Raw) -> Self {
        Self { raw, wide: Vec::new(), clipped: 0 }
    }

    /// One row; `bytes` holds as many pixels as `out`.
    pub(crate) fn row(&mut self, bytes: &[u8], out: Row<'_>) {
        match out {
            Row::Eight(out) => lay(self.raw, bytes, out),
            Row::Sixteen(out) => {
                self.widen(bytes);
                lay(self.raw, &self.wide, out);
            }
        }
    }

    fn widen(&mut self, bytes: &[u8]) {
        self.wide.clear();
        match self.raw.bits {
            Bits::Eight => self.wide.extend(bytes.iter().map(|&byte| num::widen(byte))),
            Bits::SixteenBig => {
                self.wide.extend(bytes.as_chunks().0.iter().map(|&pair| u16::from_be_bytes(pair)));
            }
            Bits::SixteenNative => {
                self.wide.extend(bytes.as_chunks().0.iter().map(|&pair| u16::from_ne_bytes(pair)));
            }
            Bits::Float => {
                let clipped = &mut self.clipped;
                self.wide.extend(bytes.as_chunks().0.iter().map(|&four| {
                    let value = f32::from_ne_bytes(four);
                    // Rounding noise around the ends is not worth a word.
                    if !(-0.001..=1.001).contains(&value) {
                        *clipped += 1;
                    }
                    let whole = num::round(f64::from(value) * 65535.0).clamp(0, 65535);
                    u16::try_from(whole).unwrap_or(u16::MAX)
                }));
            }
        }
    }
}

/// A sample that can be mixed.
trait Sample: Copy {
    const FULL: u32;
    fn wide(self) -> u32;
    fn from_wide(value: u32) -> Self;
}

impl Sample for u8 {
    const FULL: u32 = 255;
    fn wide(self) -> u32 {
        u32::from(self)
    }
    fn from_wide(value: u32) -> Self {
        Self::try_from(value).unwrap_or(Self::MAX)
    }
}

impl Sample for u16 {
    const FULL: u32 = 65535;
    fn wide(self) -> u32 {
        u32::from(self)
    }
    fn from_wide(value: u32) -> Self {
        Self::try_from(value).unwrap_or(Self::MAX)
    }
}

fn lay<T: Sample>(raw: Raw, from: &[T], out: &mut [T]) {
    match (raw.alpha, raw.channels) {
        (Alpha::None, _) => out.copy_from_slice(from),
        (Alpha::Straight, Channels::Gray) => mix::<T, 1, 2>(from, out, over_white),
        (Alpha::Straight, Channels::Rgb) => mix::<T, 3, 4>(from, out, over_white),
        (Alpha::Straight, Channels::Cmyk) => mix::<T, 4, 5>(from, out, times),
        (Alpha::Premultiplied, Channels::Gray) => mix::<T, 1, 2>(from, out, add_white),
        (Alpha::Premultiplied, Channels::Rgb) => mix::<T, 3, 4>(from, out, add_white),
        (Alpha::Premultiplied, Channels::Cmyk) => mix::<T, 4, 5>(from, out, |ink, _, _| ink),
    }
}

fn mix<T: Sample, const N: usize, const M: usize>(
    from: &[T],
    out: &mut [T],
    mixed: impl Fn(u32, u32, u32) -> u32,
) {
    for (out, from) in out.as_chunks_mut::<N>().0.iter_mut().zip(from.as_chunks::<M>().0) {
        let alpha = from.last().map_or(T::FULL, |alpha| alpha.wide());
        for (out, from) in out.iter_mut().zip(from) {
            *out = T::from_wide(mixed(from.wide(), alpha, T::FULL));
        }
    }
}

fn times(value: u32, alpha: u32, full: u32) -> u32 {
    // 65535 · 65535 + 32767 still fits 32 bits.
    (value * alpha + full / 2) / full
}

fn over_white(value: u32, alpha: u32, full: u32) -> u32 {
    full - times(full - value, alpha, full)
}

fn add_white(value: u32, alpha: u32, full: u32) -> u32 {
    (value + full - alpha).min(full)
}
