//! A small canvas: shaded backgrounds, convex shapes, lines and discs, all with smooth edges.
//!
//! Drawings are laid out in units that are pixels at full size; the canvas may be smaller, so that tests draw fast.
//! x runs right and y down from the top left.

use std::thread;

use seamwright_contract::num;

/// A colour, 8 bits a channel, sRGB.
pub(crate) type Ink = [u8; 3];

/// A colour still being worked out, in the same units, not yet rounded.
pub(crate) type Tone = [f64; 3];

/// A place in units.
pub(crate) type At = (f64, f64);

/// Pixels and how large a unit is.
#[derive(Debug)]
pub(crate) struct Canvas {
    width: u32,
    height: u32,
    scale: f64,
    pixels: Vec<Ink>,
}

impl Canvas {
    /// A canvas of `width` x `height` units, `scale` pixels each, all of one colour.
    pub(crate) fn new(width: u32, height: u32, scale: f64, ground: Ink) -> Self {
        let whole = |units: u32| num::pixels(f64::from(units) * scale).max(1);
        let (width, height) = (whole(width), whole(height));
        let count = num::index(width) * num::index(height);
        Self { width, height, scale, pixels: vec![ground; count] }
    }

    /// Pixels across and down.
    pub(crate) const fn size(&self) -> (u32, u32) {
        (self.width, self.height)
    }

    /// The samples, row by row.
    pub(crate) fn into_rgb(self) -> Vec<u8> {
        self.pixels.into_flattened()
    }

    /// The samples with an opacity, `alpha(x, y)` in units, from 0 to 1.
    pub(crate) fn into_rgba(self, alpha: impl Fn(f64, f64) -> f64) -> Vec<u8> {
        let (width, scale) = (num::index(self.width), self.scale);
        let mut samples = Vec::with_capacity(self.pixels.len() * 4);
        for (y, row) in (0_u32..).zip(self.pixels.chunks(width)) {
            for (x, [r, g, b]) in (0_u32..).zip(row) {
                let opacity = alpha((f64::from(x) + 0.5) / scale, (f64::from(y) + 0.5) / scale);
                samples.extend([*r, *g, *b, byte(opacity * 255.0)]);
            }
        }
        samples
    }

    /// Gives every pixel the colour `shade(x, y)` of its middle, in units; on all threads.
    pub(crate) fn shade(&mut self, shade: impl Fn(f64, f64) -> Tone + Sync) {
        let threads = thread::available_parallelism().map_or(1, usize::from);
        let (width, scale) = (num::index(self.width), self.scale);
        let rows = num::index(self.height).div_ceil(threads).max(1);
        thread::scope(|scope| {
            for (part, pixels) in self.pixels.chunks_mut(rows * width).enumerate() {
                let shade = &shade;
                scope.spawn(move || {
                    let top = num::count(part * rows);
                    for (y, row) in (top..).zip(pixels.chunks_mut(width)) {
                        for (x, pixel) in (0_u32..).zip(row) {
                            *pixel =
                                shade((f64::from(x) + 0.5) / scale, (f64::from(y) + 0.5) / scale).map(byte);
                        }
                    }
                });
            }
        });
    }

    /// Lays `ink` over each pixel near a box in units, as opaque as `cover(x, y)` (in pixels) says.
    fn lay(&mut self, from: At, to: At, ink: Ink, cover: impl Fn(f64, f64) -> f64) {
        let (width, scale) = (num::index(self.width), self.scale);
        let (left, top) =
            (num::pixels((from.0 * scale - 1.0).floor()), num::pixels((from.1 * scale - 1.0).floor()));
        let right = num::pixels((to.0 * scale + 1.0).ceil()).min(self.width);
        let bottom = num::pixels((to.1 * scale + 1.0).ceil()).min(self.height);
        for y in top..bottom {
            let start = num::index(y) * width;
            let row = self.pixels.get_mut(start..start + width).unwrap_or_default();
            for (x, pixel) in (left..right).zip(row.iter_mut().skip(num::index(left))) {
                let share = cover(f64::from(x) + 0.5, f64::from(y) + 0.5);
                if share > 0.0 {
                    mix_into(pixel, ink, share.min(1.0));
                }
            }
        }
    }

    /// A filled convex shape; its corners in units, in either turning direction.
    pub(crate) fn convex(&mut self, corners: &[At], ink: Ink, opacity: f64) {
        let scale = self.scale;
        let points: Vec<At> = corners.iter().map(|(x, y)| (x * scale, y * scale)).collect();
        let pairs = || points.iter().zip(points.iter().cycle().skip(1));
        let area: f64 = pairs().map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum();
        let sign = if area < 0.0 { -1.0 } else { 1.0 };
        // Each side as (a, b, c): a x + b y + c is how far inside it a point lies.
        let sides: Vec<(f64, f64, f64)> = pairs()
            .filter(|(p, q)| p != q)
            .map(|(p, q)| {
                let (dx, dy) = (q.0 - p.0, q.1 - p.1);
                let length = dx.hypot(dy) * sign;
                (-dy / length, dx / length, (dy * p.0 - dx * p.1) / length)
            })
            .collect();
        let low = points.iter().fold((f64::MAX, f64::MAX), |m, p| (m.0.min(p.0), m.1.min(p.1)));
        let high = points.iter().fold((f64::MIN, f64::MIN), |m, p| (m.0.max(p.0), m.1.max(p.1)));
        // Row by row, and only where all sides let the row in: long thin lines stay cheap.
        let (top, bottom) =
            (num::pixels((low.1 - 1.0).floor()), num::pixels((high.1 + 1.0).ceil()).min(self.height));
        for y in top..bottom {
            let middle = f64::from(y) + 0.5;
            let (mut from, mut to) = (low.0 - 1.0, high.0 + 1.0);
            for (a, b, c) in &sides {
                let reach = -(b * middle + c + 0.5) / a;
                if *a > 1e-9 {
                    from = from.max(reach);
                } else if *a < -1e-9 {
                    to = to.min(reach);
                }
            }
            let (from, to) =
                (num::pixels((from - 1.0).floor()), num::pixels((to + 1.0).ceil()).min(self.width));
            let start = num::index(y) * num::index(self.width);
            for x in from..to {
                let at = f64::from(x) + 0.5;
                let inside = sides.iter().fold(1.0, |m: f64, (a, b, c)| m.min(a * at + b * middle + c + 0.5));
                if let Some(pixel) = self.pixels.get_mut(start + num::index(x)).filter(|_| inside > 0.0) {
                    mix_into(pixel, ink, inside * opacity);
                }
            }
        }
    }

    /// A straight line with square ends.
    pub(crate) fn line(&mut self, from: At, to: At, width: f64, ink: Ink, opacity: f64) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        if length > 0.0 {
            let (nx, ny) = (-dy / length * width / 2.0, dx / length * width / 2.0);
            let corners = [
                (from.0 + nx, from.1 + ny),
                (to.0 + nx, to.1 + ny),
                (to.0 - nx, to.1 - ny),
                (from.0 - nx, from.1 - ny),
            ];
            self.convex(&corners, ink, opacity);
        }
    }

    /// A chain of lines with round ends and joints.
    pub(crate) fn pen(&mut self, points: &[At], width: f64, ink: Ink) {
        for (from, to) in points.iter().zip(points.iter().skip(1)) {
            self.line(*from, *to, width, ink, 1.0);
        }
        for point in points {
            self.disc(*point, width / 2.0, ink, 1.0);
        }
    }

    /// A circle's line over a span of angles, in degrees clockwise from the right.
    pub(crate) fn arc(
        &mut self,
        centre: At,
        radius: f64,
        span: (f64, f64),
        width: f64,
        ink: Ink,
        opacity: f64,
    ) {
        let points = curve(centre, (radius, radius), span.0, span.1);
        for (from, to) in points.iter().zip(points.iter().skip(1)) {
            self.line(*from, *to, width, ink, opacity);
        }
    }

    /// A filled circle.
    pub(crate) fn disc(&mut self, centre: At, radius: f64, ink: Ink, opacity: f64) {
        let scale = self.scale;
        let (x, y, r) = (centre.0 * scale, centre.1 * scale, radius * scale);
        self.lay(
            (centre.0 - radius, centre.1 - radius),
            (centre.0 + radius, centre.1 + radius),
            ink,
            |px, py| (r + 0.5 - away((px, py), (x, y))).clamp(0.0, 1.0) * opacity,
        );
    }

    /// Light that fades away from a point, to nothing at `radius`.
    pub(crate) fn glow(&mut self, centre: At, radius: f64, ink: Ink, opacity: f64) {
        let scale = self.scale;
        let (x, y, r) = (centre.0 * scale, centre.1 * scale, radius * scale);
        self.lay(
            (centre.0 - radius, centre.1 - radius),
            (centre.0 + radius, centre.1 + radius),
            ink,
            |px, py| {
                let near = 1.0 - away((px, py), (x, y)) / r;
                if near > 0.0 { near * near * near * opacity } else { 0.0 }
            },
        );
    }

    /// A ball lit from the side: the Moon at `phase` (0 new, 0.5 full, 1 new again), its face's spots from `spots`.
    pub(crate) fn moon(&mut self, centre: At, radius: f64, phase: f64, spots: impl Fn(f64, f64) -> f64) {
        let (bright, dark) = ([246, 240, 220], [38, 48, 80]);
        self.disc(centre, radius, dark, 1.0);
        let (sin, cos) = (phase * std::f64::consts::TAU).sin_cos();
        let scale = self.scale;
        let (x, y, r) = (centre.0 * scale, centre.1 * scale, radius * scale);
        let light = move |px: f64, py: f64| {
            let (u, v) = ((px - x) / r, (py - y) / r);
            let depth = 1.0 - u * u - v * v;
            if depth <= 0.0 {
                return (0.0, 0.0);
            }
            // North up, waxing light on the right, as seen from the northern half of the Earth.
            let lit = u * sin - depth.sqrt() * cos;
            let rim = ((1.0 - away((u, v), (0.0, 0.0))) * r + 0.5).clamp(0.0, 1.0);
            ((lit * 6.0 + 0.15).clamp(0.0, 1.0) * rim, spots(u, v))
        };
        let low = (centre.0 - radius, centre.1 - radius);
        let high = (centre.0 + radius, centre.1 + radius);
        self.lay(low, high, bright, |px, py| light(px, py).0);
        self.lay(low, high, [150, 148, 150], |px, py| {
            let (lit, spot) = light(px, py);
            lit * spot
        });
    }
}

/// Points along an ellipse, close enough together to look round.
pub(crate) fn curve(centre: At, radii: At, from: f64, to: f64) -> Vec<At> {
    let steps = num::pixels((radii.0.max(radii.1).sqrt() * (to - from).abs() / 90.0).ceil()).max(4);
    (0..=steps)
        .map(|step| {
            let angle = from + (to - from) * f64::from(step) / f64::from(steps);
            around(centre, radii, angle)
        })
        .collect()
}

/// The point of an ellipse at an angle in degrees, clockwise from the right.
pub(crate) fn around(centre: At, radii: At, angle: f64) -> At {
    let (sin, cos) = angle.to_radians().sin_cos();
    (centre.0 + radii.0 * cos, centre.1 + radii.1 * sin)
}

/// How far apart two places are; quicker than `hypot`, whose care for huge numbers nobody needs here.
pub(crate) fn away(a: At, b: At) -> f64 {
    ((a.0 - b.0) * (a.0 - b.0) + (a.1 - b.1) * (a.1 - b.1)).sqrt()
}

/// A colour ready to be worked on.
pub(crate) fn tone(ink: Ink) -> Tone {
    ink.map(f64::from)
}

/// A colour between two.
pub(crate) fn mix(from: Tone, to: Tone, share: f64) -> Tone {
    let ([r, g, b], [to_r, to_g, to_b]) = (from, to);
    [r + (to_r - r) * share, g + (to_g - g) * share, b + (to_b - b) * share]
}

/// A colour made lighter (above 1) or darker.
pub(crate) fn lit(tone: Tone, by: f64) -> Tone {
    tone.map(|sample| sample * by)
}

/// A colour between two, rounded.
pub(crate) fn blend(from: Ink, to: Ink, share: f64) -> Ink {
    mix(tone(from), tone(to), share).map(byte)
}

fn mix_into(pixel: &mut Ink, ink: Ink, share: f64) {
    *pixel = if share >= 1.0 { ink } else { blend(*pixel, ink, share) };
}

fn byte(value: f64) -> u8 {
    u8::try_from(num::pixels(value)).unwrap_or(u8::MAX)
}
