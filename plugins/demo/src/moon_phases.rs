//! The Moon's phases around a full Moon: a round mat of 24 in, clear outside the circle.

use crate::canvas::{At, Canvas, Ink, around, away, lit, mix, tone};
use crate::letters::Hand;
use crate::noise::{Clouds, chance, grain};

/// Units, and pixels at full size.
pub(crate) const SIZE: (u32, u32) = (3600, 3600);

const CENTRE: At = (1800.0, 1800.0);
const EDGE: f64 = 1790.0;
const SILVER: Ink = [214, 218, 228];
const BRASS: Ink = [214, 178, 112];

/// How opaque a place is: the mat is round.
pub(crate) fn alpha(x: f64, y: f64) -> f64 {
    (EDGE - away((x, y), CENTRE) + 0.5).clamp(0.0, 1.0)
}

/// Draws it, `scale` pixels a unit.
pub(crate) fn draw(scale: f64) -> Canvas {
    let mut canvas = Canvas::new(SIZE.0, SIZE.1, scale, [10, 18, 44]);
    let clouds = Clouds::new(200, 6.0, 5);
    canvas.shade(|x, y| {
        let far = away((x, y), CENTRE) / EDGE;
        let ground = mix(tone([44, 70, 124]), tone([8, 14, 36]), far.min(1.0).powf(0.8));
        lit(ground, 0.88 + 0.3 * (clouds.at(x / 3600.0, y / 3600.0) - 0.5) + 0.03 * grain(x, y))
    });
    stars(&mut canvas);
    full_moon(&mut canvas);
    days(&mut canvas);
    rim(&mut canvas);
    canvas
}

fn stars(canvas: &mut Canvas) {
    for star in 0..1400_u32 {
        let of = |what: u32| chance(star * 4 + what + 70_000);
        let (angle, away) = (of(0) * 360.0, of(1).sqrt() * 1560.0);
        let at = around(CENTRE, (away, away), angle);
        let radius = 1.6 + 4.0 * of(2).powi(4);
        canvas.glow(at, radius * 4.0, SILVER, 0.3);
        canvas.disc(at, radius, [240, 240, 255], 0.9);
    }
}

fn full_moon(canvas: &mut Canvas) {
    canvas.glow(CENTRE, 1150.0, [200, 214, 255], 0.55);
    let seas = Clouds::new(160, 3.2, 29);
    canvas.moon(CENTRE, 640.0, 0.5, |u, v| {
        let sea = ((seas.at(u * 0.5 + 0.5, v * 0.5 + 0.5) - 0.47) * 5.0).clamp(0.0, 1.0);
        let rim = (u * u + v * v).powi(3) * 0.35;
        (sea * 0.62 + rim).min(1.0)
    });
    for crater in 0..26_u32 {
        let of = |what: u32| chance(crater * 4 + what + 5_000);
        let away = of(1).sqrt() * 560.0;
        let (at, radius) = (around(CENTRE, (away, away), of(0) * 360.0), 9.0 + 34.0 * of(2).powi(3));
        canvas.arc(at, radius, (150.0, 330.0), radius * 0.22, [150, 146, 140], 0.5);
        canvas.arc(at, radius, (-30.0, 150.0), radius * 0.22, [255, 253, 244], 0.7);
    }
}

/// A Moon for every other day of the month, new Moon at the top, the light waxing clockwise.
fn days(canvas: &mut Canvas) {
    for (radius, width) in [(870.0, 5.0), (1385.0, 5.0)] {
        canvas.arc(CENTRE, radius, (0.0, 360.0), width, BRASS, 0.9);
    }
    let seas = Clouds::new(100, 3.0, 29);
    for step in 0..16_u32 {
        let phase = f64::from(step) / 16.0;
        let angle = phase * 360.0 - 90.0;
        let at = around(CENTRE, (1128.0, 1128.0), angle);
        let radius = if step.is_multiple_of(4) { 186.0 } else { 138.0 };
        canvas.glow(at, radius * 1.7, [170, 190, 240], 0.4 * (0.5 - (phase - 0.5).abs()));
        canvas.moon(at, radius, phase, |u, v| {
            ((seas.at(u * 0.5 + 0.5, v * 0.5 + 0.5) - 0.5) * 4.0).clamp(0.0, 0.55)
        });
        canvas.arc(at, radius + 8.0, (0.0, 360.0), 4.0, BRASS, 0.8);
    }
}

/// The scale of days and the words around the edge.
fn rim(canvas: &mut Canvas) {
    for (radius, width) in [(1668.0, 12.0), (1640.0, 4.0), (1420.0, 4.0)] {
        canvas.arc(CENTRE, radius, (0.0, 360.0), width, BRASS, 1.0);
    }
    // A month from new Moon to new Moon has 29.53 days; four ticks a day.
    for tick in 0..118_u32 {
        let angle = f64::from(tick) / 118.12 * 360.0 - 90.0;
        let inner = if tick.is_multiple_of(4) { 1385.0 } else { 1402.0 };
        canvas.line(
            around(CENTRE, (inner, inner), angle),
            around(CENTRE, (1420.0, 1420.0), angle),
            5.0,
            BRASS,
            1.0,
        );
    }
    let large = Hand { height: 92.0, pen: 13.0, ink: SILVER };
    for (words, degrees) in
        [("NEW MOON", 0.0), ("FIRST QUARTER", 90.0), ("FULL MOON", 180.0), ("LAST QUARTER", 270.0)]
    {
        large.write_around(canvas, words, CENTRE, 1486.0, degrees);
    }
    let small = Hand { height: 62.0, pen: 9.0, ink: BRASS };
    for (words, degrees) in
        [("SPRING TIDE", 34.0), ("NEAP TIDE", 126.0), ("SPRING TIDE", 214.0), ("NEAP TIDE", 306.0)]
    {
        // Springs follow new and full Moon by a day or two, neaps the quarters.
        small.write_around(canvas, words, CENTRE, 1500.0, degrees);
    }
}
