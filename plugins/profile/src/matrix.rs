//! From one RGB profile that is three curves and a matrix to another: each pixel is made linear, turned by one matrix,
//! and given the curves of the other (ICC.1:2022, F.3). Half as fast again as a table of colours, and as exact as 8 bits are.
//!
//! What the curves leave is looked up rather than worked out: the bits of a float, cut short, are places that stand evenly
//! in its logarithm, close enough together that rounding is off by less than a third of a code. What the engine makes of the
//! same profiles is the measure: where the two disagree by more than rounding, this way is not taken.

use std::array;

use fearless_simd::Simd;
use lcms2::{CIEXYZ, Profile, Tag, TagSignature, ThreadContext, ToneCurveRef};
use seamwright_contract::num;
use seamwright_contract::picture::Samples;

use crate::abreast::{self, ABREAST, Conversion};

/// The least light that is told from none, 2^-20: with a gamma of 2.4 it rounds to no code.
const LEAST: f32 = 1.0 / 1_048_576.0;
/// Bits of the fraction that are kept: 512 places an octave.
const KEPT: u32 = 9;
const CUT: u32 = f32::MANTISSA_DIGITS - 1 - KEPT;
/// From the least light to full light.
const PLACES: usize = (20 << KEPT) + 1;
/// Room for their codes: a power of two, so that no place need be asked whether it is within.
const CODES: usize = PLACES.next_power_of_two();

/// Colours looked at to see whether the engine agrees, on each axis.
const TRIED: u16 = 9;
/// By how much its codes may differ: rounding, and what cutting places short adds.
const APART: f64 = 0.85;

/// The conversion.
#[derive(Debug)]
pub(crate) struct Matrix {
    /// The light of each 8-bit sample, by channel.
    eight: Box<[[f32; 256]; 3]>,
    /// The light of each 16-bit sample.
    sixteen: [Box<[f32; 1 << 16]>; 3],
    /// Light of the target from light of the source, row by row.
    turn: [[f32; 3]; 3],
    /// The code of each place of light, by channel.
    codes: [Box<[u8; CODES]>; 3],
}

impl Matrix {
    /// `None` where one of the profiles is no such profile, or where `exact`, which takes and gives RGB from 0 to 1, comes to
    /// something else.
    pub(crate) fn new(
        from: &Profile<ThreadContext>,
        to: &Profile<ThreadContext>,
        exact: impl Fn(&[[f64; 3]]) -> Vec<[f64; 3]>,
    ) -> Option<Self> {
        if !from.is_matrix_shaper() || !to.is_matrix_shaper() {
            return None;
        }
        let turn = product(inverse(colourants(to)?)?, colourants(from)?);
        let (of_samples, of_light) = (curves(from)?, curves(to)?);
        let light = |curve: &ToneCurveRef, sample: u16| curve.eval(f32::from(sample) / f32::from(u16::MAX));
        let narrow = |at: usize| num::widen(u8::try_from(at).unwrap_or(u8::MAX));
        let matrix = Self {
            eight: Box::new(of_samples.map(|curve| array::from_fn(|at| light(curve, narrow(at))))),
            sixteen: of_samples.map(|curve| {
                let mut lights = Box::new([0.0; 1 << 16]);
                (0..=u16::MAX).zip(lights.iter_mut()).for_each(|(sample, to)| *to = light(curve, sample));
                lights
            }),
            turn: turn.map(|row| row.map(num::single)),
            codes: of_light.map(codes),
        };
        matrix.agrees(exact).then_some(matrix)
    }

    /// Converts whole pixels; both hold the same number of them.
    pub(crate) fn convert(&self, from: &Samples, to: &mut [u8]) {
        let to = to.as_chunks_mut().0;
        match from {
            Samples::Eight(from) => abreast::convert(self, from.as_chunks().0, to),
            Samples::Sixteen(from) => abreast::convert(self, from.as_chunks().0, to),
        }
    }

    /// Whether the engine comes to the same on an even grid of colours.
    fn agrees(&self, exact: impl Fn(&[[f64; 3]]) -> Vec<[f64; 3]>) -> bool {
        let step = |at: u16| u8::try_from(at * u16::from(u8::MAX) / (TRIED - 1)).unwrap_or(u8::MAX);
        let colours: Vec<[u8; 3]> = (0..TRIED.pow(3))
            .map(|at| [at / (TRIED * TRIED), at / TRIED % TRIED, at % TRIED].map(step))
            .collect();
        let mut ours = vec![0; colours.len() * 3];
        self.convert(&Samples::Eight(colours.concat()), &mut ours);
        let theirs = exact(&colours.iter().map(|rgb| rgb.map(|v| f64::from(v) / 255.0)).collect::<Vec<_>>());
        let theirs = theirs.as_flattened();
        theirs.len() == ours.len()
            && ours
                .iter()
                .zip(theirs)
                .all(|(one, other)| (f64::from(*one) - other.clamp(0.0, 1.0) * 255.0).abs() < APART)
    }
}

/// A sample that stands for some light.
trait Lit: Copy {
    fn light(self, by: &Matrix, channel: usize) -> f32;
}

impl Lit for u8 {
    #[inline(always)]
    fn light(self, by: &Matrix, channel: usize) -> f32 {
        by.eight[channel][usize::from(self)]
    }
}

impl Lit for u16 {
    #[inline(always)]
    fn light(self, by: &Matrix, channel: usize) -> f32 {
        by.sixteen[channel][usize::from(self)]
    }
}

impl<T: Lit> Conversion<T, 3> for Matrix {
    #[inline(always)]
    fn converted<S: Simd>(&self, _: S, pixels: &[[T; 3]; ABREAST]) -> [[u8; 3]; ABREAST] {
        let mut lights = [[0.0; ABREAST]; 3];
        for (at, pixel) in pixels.iter().enumerate() {
            for (channel, sample) in pixel.iter().enumerate() {
                lights[channel][at] = sample.light(self, channel);
            }
        }
        let [red, green, blue] = &lights;
        let mut out = [[0; 3]; ABREAST];
        for (channel, (row, codes)) in self.turn.iter().zip(&self.codes).enumerate() {
            let mut places = [0; ABREAST];
            for (((to, red), green), blue) in places.iter_mut().zip(red).zip(green).zip(blue) {
                *to = place(row[0] * red + row[1] * green + row[2] * blue);
            }
            for (to, place) in out.iter_mut().zip(places) {
                to[channel] = codes[num::index(place) % CODES];
            }
        }
        out
    }
}

/// Where light stands among the codes.
#[inline(always)]
fn place(light: f32) -> u32 {
    let above = if light > LEAST { light } else { LEAST };
    let within = if above < 1.0 { above } else { 1.0 };
    (within.to_bits() - LEAST.to_bits()) >> CUT
}

/// The codes of all places of light, for samples that this curve makes light of.
fn codes(curve: &ToneCurveRef) -> Box<[u8; CODES]> {
    let mut code = 0_u8;
    let mut next = code_ends(curve).into_iter().peekable();
    let mut codes = Box::new([u8::MAX; CODES]);
    for (place, to) in (0..).zip(codes.iter_mut().take(PLACES)) {
        let middle = (place << CUT) + (1 << (CUT - 1));
        let light = f32::from_bits(LEAST.to_bits() + middle).min(1.0);
        while next.next_if(|end| *end <= light).is_some() {
            code = code.saturating_add(1);
        }
        *to = code;
    }
    codes
}

/// The light at which each code but the last ends.
fn code_ends(curve: &ToneCurveRef) -> Vec<f32> {
    (0..u8::MAX).map(|code| curve.eval((f32::from(code) + 0.5) / f32::from(u8::MAX))).collect()
}

fn curves(profile: &Profile<ThreadContext>) -> Option<[&ToneCurveRef; 3]> {
    let curve = |tag| match profile.read_tag(tag) {
        Tag::ToneCurve(curve) => Some(curve),
        _ => None,
    };
    Some([
        curve(TagSignature::RedTRCTag)?,
        curve(TagSignature::GreenTRCTag)?,
        curve(TagSignature::BlueTRCTag)?,
    ])
}

/// The colours of full red, green and blue, in the columns.
fn colourants(profile: &Profile<ThreadContext>) -> Option<[[f64; 3]; 3]> {
    let column = |tag| match profile.read_tag(tag) {
        Tag::CIEXYZ(CIEXYZ { X, Y, Z }) => Some([*X, *Y, *Z]),
        _ => None,
    };
    let columns = [
        column(TagSignature::RedColorantTag)?,
        column(TagSignature::GreenColorantTag)?,
        column(TagSignature::BlueColorantTag)?,
    ];
    Some(array::from_fn(|row| columns.map(|column| column[row])))
}

fn product(one: [[f64; 3]; 3], other: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    one.map(|row| array::from_fn(|column| (0..3).map(|i| row[i] * other[i][column]).sum()))
}

/// By cofactors; `None` where there is none.
fn inverse(of: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let minor = |row: usize, column: usize| {
        let at = |down: usize, right: usize| of[(row + down) % 3][(column + right) % 3];
        at(1, 1) * at(2, 2) - at(1, 2) * at(2, 1)
    };
    let whole: f64 = (0..3).map(|column| of[0][column] * minor(0, column)).sum();
    let inverse: [[f64; 3]; 3] = array::from_fn(|row| array::from_fn(|column| minor(column, row) / whole));
    inverse.as_flattened().iter().all(|part| part.is_finite()).then_some(inverse)
}
