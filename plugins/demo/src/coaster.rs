//! A Moon over the sea, once waxing and once full, for a round coaster that is printed over its edge: 3 3/4 in.

use crate::canvas::{At, Canvas, Ink, around, away, lit, mix, tone};
use crate::letters::Hand;
use crate::noise::{Clouds, chance, grain};

/// Units, and pixels at full size.
pub(crate) const SIZE: (u32, u32) = (1125, 1125);

const CENTRE: At = (562.5, 562.5);
const BRASS: Ink = [214, 178, 112];
/// Where the sky ends.
const SEA: f64 = 760.0;
/// The waxing crescent, and the full Moon: part of a month since the new Moon.
const CRESCENT: f64 = 0.14;
const FULL: f64 = 0.5;

/// The crescent, `scale` pixels a unit.
pub(crate) fn crescent(scale: f64) -> Canvas {
    draw(scale, CRESCENT, "FIRST LIGHT")
}

/// The full Moon.
pub(crate) fn full(scale: f64) -> Canvas {
    draw(scale, FULL, "FULL MOON")
}

fn draw(scale: f64, phase: f64, words: &str) -> Canvas {
    let mut canvas = Canvas::new(SIZE.0, SIZE.1, scale, [10, 18, 44]);
    let clouds = Clouds::new(120, 5.0, 11);
    canvas.shade(|x, y| {
        let cloud = 0.9 + 0.3 * (clouds.at(x / 1125.0, y / 1125.0) - 0.5) + 0.03 * grain(x, y);
        if y < SEA {
            return lit(mix(tone([16, 26, 62]), tone([66, 96, 150]), (y / SEA).powi(2)), cloud);
        }
        // Ripples come closer together towards the horizon, and the Moon's path shines on them.
        let near = (y - SEA) / (1125.0 - SEA);
        let ripple = ((near.sqrt() * 90.0).sin() + (x * 0.05 + near * 40.0).sin()) * 0.5;
        let path = (-((x - CENTRE.0) / (60.0 + 160.0 * near)).powi(2)).exp() * (0.6 + 0.4 * ripple);
        mix(
            lit(tone([20, 40, 78]), cloud + 0.12 * ripple),
            tone([214, 218, 228]),
            (path * 0.7).clamp(0.0, 1.0),
        )
    });
    for star in 0..160_u32 {
        let of = |what: u32| chance(star * 4 + what + 12_000);
        let at = (of(0) * 1125.0, of(1) * (SEA - 60.0));
        if away(at, (CENTRE.0, 400.0)) > 260.0 {
            canvas.disc(at, 1.2 + 2.4 * of(2).powi(3), [240, 240, 255], 0.9);
        }
    }
    let moon = (CENTRE.0, 400.0);
    canvas.glow(moon, 420.0, [200, 214, 255], 0.5);
    let seas = Clouds::new(100, 3.2, 29);
    canvas.moon(moon, 215.0, phase, |u, v| {
        ((seas.at(u * 0.5 + 0.5, v * 0.5 + 0.5) - 0.47) * 4.0).clamp(0.0, 0.6)
    });
    for (radius, width) in [(478.0, 6.0), (464.0, 2.0)] {
        canvas.arc(CENTRE, radius, (0.0, 360.0), width, BRASS, 0.9);
    }
    let month = |day: u32| f64::from(day) / 29.53 * 360.0 - 90.0;
    for day in 0..30 {
        canvas.line(
            around(CENTRE, (446.0, 446.0), month(day)),
            around(CENTRE, (464.0, 464.0), month(day)),
            3.0,
            BRASS,
            0.9,
        );
    }
    Hand { height: 42.0, pen: 6.0, ink: BRASS }.write_around(&mut canvas, words, CENTRE, 400.0, 0.0);
    canvas
}
