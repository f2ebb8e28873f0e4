//! A conversion from RGB to a printer's values as a table of our own: fast enough for a wall cloth, sampled from the
//! engine's exact way.
//!
//! The engine's own fast path does about 50 million pixels a second; interpolating between the nodes of such a table does
//! about four times as many, which counts where a night has hundreds of millions. 33 nodes an axis keep within 0.7 CIEDE2000
//! of the exact way (0.02 in the mean) for all pairs measured; the absolute intent, whose corners at the paper's white are
//! sharp, takes 49, and so do sources that are tables themselves. The nodes stand evenly in lightness, not in the samples'
//! own values, or linear light would have no darks. Between nodes a colour lies in one of six tetrahedra, whose four corners
//! are weighed. The node of white is made bare, as the engine's own fast path does it: else every bare place would get a dot
//! of dye.

use std::thread;

use fearless_simd::prelude::*;
use fearless_simd::{Simd, f32x4};
use seamwright_contract::num;
use seamwright_contract::picture::Samples;

use crate::abreast::{self, ABREAST, Conversion};

/// Nodes an axis, and where corners are sharp.
pub(crate) const NODES: u16 = 33;
pub(crate) const FINE_NODES: u16 = 49;

/// Full scale of a sample.
const FULL: u32 = 65535;

/// Where a sample lies on its axis.
#[derive(Debug, Clone, Copy, Default)]
struct Place {
    /// The node before it, never the last.
    node: u16,
    /// How far it is beyond that, of [`Place::NEXT`].
    beyond: u16,
}

impl Place {
    /// At the next node. With a step of 16 bits behind it, it is still a positive whole number of 32.
    const NEXT: u16 = i16::MAX.cast_unsigned();

    /// On an axis whose nodes lie so many values apart.
    #[inline(always)]
    fn step(self, apart: i32) -> Step {
        Step { before: i32::from(self.node) * apart, onward: i32::from(self.beyond) << 16 | apart }
    }
}

/// The table.
#[derive(Debug)]
pub(crate) struct Link {
    nodes: u16,
    /// What comes out at each node, of 255, red slowest; channels that there are not stay 0. What the target cannot show
    /// reaches beyond that and is cut off after interpolating, so that the bend stays sharp. As floats, for plain
    /// processors multiply four of those at once, but not four whole numbers.
    values: Vec<[f32; 4]>,
    /// Where each 8-bit sample lies on each axis.
    eight: Box<[[Step; 256]; 3]>,
    /// Where each 16-bit sample lies.
    sixteen: Box<[Place; 1 << 16]>,
}

/// Where a sample lies on one axis of the table.
#[derive(Debug, Clone, Copy, Default)]
struct Step {
    /// Among the values, the node before it.
    before: i32,
    /// How far it is beyond that, and in the lower half how many values further the next node is: sorting these needs no
    /// branches.
    onward: i32,
}

/// How samples of the three axes are spread: where samples at equal distances lie between 0 and 1, rising.
#[derive(Debug)]
pub(crate) struct Spread(Vec<f64>);

impl Spread {
    /// By the lightness of grays at equal distances from the darkest sample to the fullest.
    pub(crate) fn by_lightness(lightness: &[f64]) -> Self {
        let last = f64::from(count(lightness.len().max(2) - 1));
        let mut highest = 0.0_f64;
        // A tenth goes by the samples themselves, so that no two lie in one place.
        let mut spread: Vec<f64> = (0..)
            .zip(lightness)
            .map(|(at, l)| {
                highest = highest.max(*l);
                0.9 * highest + 10.0 * f64::from(at) / last
            })
            .collect();
        let (low, high) = (spread.first().copied().unwrap_or(0.0), spread.last().copied().unwrap_or(1.0));
        spread.iter_mut().for_each(|place| *place = (*place - low) / (high - low).max(1e-9));
        Self(spread)
    }

    /// Where a sample from 0 to 1 lies.
    fn of(&self, sample: f64) -> f64 {
        let along = sample * f64::from(count(self.0.len().max(2) - 1));
        let before = num::pixels(along.floor()).min(count(self.0.len().max(2) - 2));
        let at = |step: u32| self.0.get(num::index(step)).copied().unwrap_or(1.0);
        let share = along - f64::from(before);
        at(before) * (1.0 - share) + at(before + 1) * share
    }

    /// Which sample lies there.
    fn sample(&self, place: f64) -> f64 {
        let steps = f64::from(count(self.0.len().max(2) - 1));
        let after = self.0.partition_point(|at| *at <= place).clamp(1, self.0.len().max(2) - 1);
        let at = |step: usize| self.0.get(step).copied().unwrap_or(1.0);
        let (low, high) = (at(after - 1), at(after));
        ((f64::from(count(after - 1)) + (place - low) / (high - low).max(1e-12)) / steps).clamp(0.0, 1.0)
    }
}

impl Link {
    /// Sampled from an exact conversion, which takes RGB and gives up to four values a pixel, all from 0 to 1; `bare` is
    /// what white becomes, where that is not left to the conversion.
    pub(crate) fn new(
        nodes: u16,
        spread: &Spread,
        bare: Option<[f32; 4]>,
        exact: impl Fn(&[[f64; 3]]) -> Vec<[f32; 4]> + Sync,
    ) -> Self {
        let steps = f64::from(nodes - 1);
        let stops: Vec<f64> = (0..nodes).map(|at| spread.sample(f64::from(at) / steps)).collect();
        let places = |at: u16| place(spread.of(f64::from(at) / f64::from(FULL)), nodes);
        let mut sixteen = Box::new([Place::default(); 1 << 16]);
        (0..=u16::MAX).zip(sixteen.iter_mut()).for_each(|(sample, to)| *to = places(sample));
        let mut eight = Box::new([[Step::default(); 256]; 3]);
        for (steps, apart) in eight.iter_mut().zip(apart(nodes)) {
            (0..=u8::MAX).zip(steps).for_each(|(sample, to)| *to = places(num::widen(sample)).step(apart));
        }
        let each = usize::from(nodes);
        let step = |at: usize| stops.get(at).copied().unwrap_or(1.0);
        let plane = |red: usize| {
            let grid: Vec<[f64; 3]> =
                (0..each * each).map(|at| [step(red), step(at / each), step(at % each)]).collect();
            exact(&grid)
        };
        // Each thread takes every so-manieth plane.
        let threads = thread::available_parallelism().map_or(1, usize::from).min(each);
        let mut planes: Vec<Vec<[f32; 4]>> = vec![Vec::new(); each];
        thread::scope(|scope| {
            let plane = &plane;
            let parts: Vec<_> = (0..threads)
                .map(|first| {
                    scope.spawn(move || (first..each).step_by(threads).map(plane).collect::<Vec<_>>())
                })
                .collect();
            for (first, part) in parts.into_iter().enumerate() {
                // A thread that panicked leaves its planes empty, and they are worked here.
                let part = part.join().unwrap_or_default();
                for (at, values) in (first..each).step_by(threads).zip(part) {
                    planes[at] = values;
                }
            }
        });
        let mut values: Vec<[f32; 4]> = (0..each)
            .zip(planes)
            .flat_map(|(red, values)| if values.is_empty() { plane(red) } else { values })
            .collect();
        if let (Some(bare), Some(white)) = (bare, values.last_mut()) {
            *white = bare;
        }
        Self { nodes, values, eight, sixteen }
    }

    /// What RGB becomes; both hold the same number of pixels.
    pub(crate) fn convert<const GIVEN: usize>(&self, from: &Samples, to: &mut [u8]) {
        let to = to.as_chunks_mut::<GIVEN>().0;
        match from {
            Samples::Eight(from) => abreast::convert(self, from.as_chunks().0, to),
            Samples::Sixteen(from) => abreast::convert(self, from.as_chunks().0, to),
        }
    }

    /// Each pixel from the corners of the tetrahedron in which it lies: from the node before it along the axis on which it
    /// has come furthest, then the next, then the last.
    #[inline(always)]
    fn between<S: Simd>(
        &self,
        simd: S,
        before: [i32; ABREAST],
        axes: &[[i32; ABREAST]; 3],
    ) -> [[u8; 4]; ABREAST] {
        let mut corners = [before, [0; ABREAST], [0; ABREAST], [0; ABREAST]];
        let mut weights = [[0.0; ABREAST]; 4];
        for at in 0..ABREAST {
            let (high, low) = sorted(axes[0][at], axes[1][at]);
            let (first, rest) = sorted(high, axes[2][at]);
            let (second, third) = sorted(rest, low);
            corners[1][at] = before[at] + (first & 0xFFFF);
            corners[2][at] = corners[1][at] + (second & 0xFFFF);
            corners[3][at] = corners[2][at] + (third & 0xFFFF);
            let (one, two, three) = (share(first), share(second), share(third));
            weights[0][at] = 1.0 - one;
            weights[1][at] = one - two;
            weights[2][at] = two - three;
            weights[3][at] = three;
        }
        let weighed = |corner: usize, at: usize| -> f32x4<S> {
            let node = self.values.get(num::index(corners[corner][at].cast_unsigned()));
            let node: f32x4<S> = node.copied().unwrap_or([0.0; 4]).simd_into(simd);
            node * f32x4::splat(simd, weights[corner][at])
        };
        let mut sums = [[0.0; 4]; ABREAST];
        for (at, sum) in sums.iter_mut().enumerate() {
            *sum = ((weighed(0, at) + weighed(1, at)) + (weighed(2, at) + weighed(3, at))).into();
        }
        let mut values = [[0; 4]; ABREAST];
        for (to, sum) in values.as_flattened_mut().iter_mut().zip(sums.as_flattened()) {
            *to = num::eight(*sum);
        }
        values
    }
}

/// A sample that has a place on the axes of a table.
trait Placed: Copy {
    fn on(self, axis: usize, of: &Link) -> Step;
}

impl Placed for u8 {
    #[inline(always)]
    fn on(self, axis: usize, of: &Link) -> Step {
        of.eight[axis][usize::from(self)]
    }
}

impl Placed for u16 {
    #[inline(always)]
    fn on(self, axis: usize, of: &Link) -> Step {
        of.sixteen[usize::from(self)].step(apart(of.nodes)[axis])
    }
}

impl<T: Placed, const GIVEN: usize> Conversion<T, GIVEN> for Link {
    #[inline(always)]
    fn converted<S: Simd>(&self, simd: S, pixels: &[[T; 3]; ABREAST]) -> [[u8; GIVEN]; ABREAST] {
        let mut before = [0; ABREAST];
        let mut axes = [[0; ABREAST]; 3];
        for (at, pixel) in pixels.iter().enumerate() {
            for (axis, sample) in pixel.iter().enumerate() {
                let step = sample.on(axis, self);
                before[at] += step.before;
                axes[axis][at] = step.onward;
            }
        }
        let mut given = [[0; GIVEN]; ABREAST];
        for (to, value) in given.iter_mut().zip(&self.between(simd, before, &axes)) {
            to.iter_mut().zip(value).for_each(|(to, sample)| *to = *sample);
        }
        given
    }
}

/// How many values lie between a node and the next on each axis, red first.
#[inline(always)]
fn apart(nodes: u16) -> [i32; 3] {
    let row = i32::from(nodes);
    [row * row, row, 1]
}

/// The higher of two, then the lower.
#[inline(always)]
const fn sorted(one: i32, other: i32) -> (i32, i32) {
    if one > other { (one, other) } else { (other, one) }
}

/// Which part of the way to the next node a pixel has come on an axis.
#[inline(always)]
fn share(axis: i32) -> f32 {
    num::small(axis >> 16) * (1.0 / f32::from(Place::NEXT))
}

/// The node before a place from 0 to 1, and how far beyond it that is.
fn place(at: f64, nodes: u16) -> Place {
    let steps = u32::from(nodes) - 1;
    let along = at.clamp(0.0, 1.0) * f64::from(steps);
    let node = num::pixels(along.floor()).min(steps - 1);
    let next = f64::from(Place::NEXT);
    let beyond = num::pixels(((along - f64::from(node)) * next).min(next));
    let [node, beyond] = [node, beyond].map(|part| u16::try_from(part).unwrap_or(Place::NEXT));
    Place { node, beyond }
}

fn count(value: usize) -> u32 {
    num::count(value)
}
