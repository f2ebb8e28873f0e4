//! Chance that is the same every time: a hash of a number, and soft clouds made from it.

use seamwright_contract::num;

/// A number from 0 up to 1 that looks random and depends on `seed` alone.
pub(crate) fn chance(seed: u32) -> f64 {
    let mut h = seed.wrapping_mul(0x9e37_79b9).wrapping_add(0x85eb_ca6b);
    h = (h ^ (h >> 16)).wrapping_mul(0x7feb_352d);
    h = (h ^ (h >> 15)).wrapping_mul(0x846c_a68b);
    f64::from(h ^ (h >> 16)) / 4_294_967_296.0
}

/// One of the grains on a pixel, around zero.
pub(crate) fn grain(x: f64, y: f64) -> f64 {
    chance(num::pixels(x).wrapping_mul(73_856_093) ^ num::pixels(y).wrapping_mul(19_349_663)) - 0.5
}

/// Soft clouds from 0 to 1, worked out on a coarse grid once and read smoothly between its points.
#[derive(Debug)]
pub(crate) struct Clouds {
    side: u32,
    values: Vec<f64>,
}

impl Clouds {
    /// Clouds on a square of `side` x `side` points, the largest lumps `side / lumps` wide.
    pub(crate) fn new(side: u32, lumps: f64, seed: u32) -> Self {
        let at = |x: u32, y: u32| {
            let (u, v) = (f64::from(x) / f64::from(side), f64::from(y) / f64::from(side));
            let octaves = (0..5_u32).map(|octave| {
                let finer = f64::from(1_u32 << octave);
                lump(u * lumps * finer, v * lumps * finer, seed.wrapping_add(octave * 101)) / finer
            });
            octaves.sum::<f64>() / 1.9375
        };
        let values = (0..side).flat_map(|y| (0..side).map(move |x| (x, y))).map(|(x, y)| at(x, y)).collect();
        Self { side, values }
    }

    /// The value at a place of the unit square.
    pub(crate) fn at(&self, u: f64, v: f64) -> f64 {
        let most = f64::from(self.side) - 1.001;
        let (x, y) = ((u * most).clamp(0.0, most), (v * most).clamp(0.0, most));
        let (left, top) = (x.floor(), y.floor());
        let first = num::index(num::pixels(top) * self.side + num::pixels(left));
        let pair = |from: usize| match self.values.get(from..from + 2) {
            Some([left_value, right_value]) => between(*left_value, *right_value, x - left),
            _ => 0.0,
        };
        between(pair(first), pair(first + num::index(self.side)), y - top)
    }
}

fn lump(x: f64, y: f64, seed: u32) -> f64 {
    let (left, top) = (x.floor(), y.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let corner = |dx: u32, dy: u32| {
        let (x, y) = (num::pixels(left) + dx, num::pixels(top) + dy);
        chance(x.wrapping_mul(374_761_393) ^ y.wrapping_mul(668_265_263) ^ seed.wrapping_mul(2_246_822_519))
    };
    let (across, down) = (ease(x - left), ease(y - top));
    between(between(corner(0, 0), corner(1, 0), across), between(corner(0, 1), corner(1, 1), across), down)
}

fn between(from: f64, to: f64, share: f64) -> f64 {
    from + (to - from) * share
}
