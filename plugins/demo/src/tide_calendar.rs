//! A month of tides for a place mat of 18 x 12 in: the curve, its days, and the Moon over each.

use crate::canvas::{Canvas, Ink, lit, mix, tone};
use crate::letters::Hand;
use crate::noise::{Clouds, grain};

/// Units, and pixels at full size.
pub(crate) const SIZE: (u32, u32) = (2700, 1800);

const LEFT: f64 = 200.0;
const RIGHT: f64 = 2500.0;
const MEAN: f64 = 1060.0;
/// The lower right of the inner frame; its upper left is 92 units from both edges.
const FRAME: (f64, f64) = (2608.0, 1708.0);
const SAND: Ink = [250, 241, 222];
const INK: Ink = [24, 62, 96];

/// The height of the tide on a day: the Moon's half-day wave and the Sun's, which beat once a fortnight.
/// Their periods are 12.4206 h and 12 h (published constants of the M2 and S2 tides).
fn tide(day: f64) -> f64 {
    let wave = |hours: f64| (day * 24.0 / hours * std::f64::consts::TAU).cos();
    210.0 * wave(12.4206) + 82.0 * wave(12.0)
}

/// Draws it, `scale` pixels a unit.
pub(crate) fn draw(scale: f64) -> Canvas {
    let mut canvas = Canvas::new(SIZE.0, SIZE.1, scale, SAND);
    let clouds = Clouds::new(120, 5.0, 3);
    canvas.shade(|x, y| {
        let day = (x - LEFT) / (RIGHT - LEFT) * 29.53;
        let level = MEAN - tide(day);
        let paper =
            lit(mix(tone(SAND), tone([204, 226, 234]), (y / 1500.0).min(1.0)), 1.0 + 0.012 * grain(x, y));
        if y < level || y > FRAME.1 || !(92.0..FRAME.0).contains(&x) {
            return paper;
        }
        let depth = ((y - 700.0) / 900.0).clamp(0.0, 1.0);
        let water = mix(tone([116, 190, 206]), tone([20, 66, 110]), depth);
        let sea = lit(water, 0.94 + 0.16 * clouds.at(x / 2700.0, y / 2700.0));
        // The edge is as soft as the canvas is fine.
        mix(paper, sea, (y - level).min(1.0))
    });
    curve(&mut canvas);
    scale_of_days(&mut canvas);
    let hand = Hand { height: 104.0, pen: 15.0, ink: INK };
    hand.write(&mut canvas, "A MONTH OF TIDES", (1350.0, 300.0), 0.0);
    let small = Hand { height: 44.0, pen: 6.5, ink: [150, 104, 52] };
    small.write(&mut canvas, "TIDEMARK OBSERVATORY", (1350.0, 392.0), 0.0);
    canvas
}

fn curve(canvas: &mut Canvas) {
    let points: Vec<_> = (0..=2516_u32)
        .map(|step| {
            let x = 92.0 + f64::from(step);
            (x, MEAN - tide((x - LEFT) / (RIGHT - LEFT) * 29.53))
        })
        .collect();
    canvas.pen(&points, 5.0, [250, 252, 250]);
    canvas.line((92.0, MEAN), (FRAME.0, MEAN), 3.0, [250, 252, 250], 0.6);
}

fn scale_of_days(canvas: &mut Canvas) {
    let seas = Clouds::new(40, 3.0, 29);
    let number = Hand { height: 34.0, pen: 5.0, ink: [244, 248, 250] };
    for day in 0..=29_u32 {
        let x = LEFT + f64::from(day) / 29.53 * (RIGHT - LEFT);
        canvas.line((x, 1500.0), (x, 1530.0), 4.0, [244, 248, 250], 0.9);
        if day > 0 {
            number.write(canvas, &day.to_string(), (x, 1590.0), 0.0);
        }
        if day.is_multiple_of(2) {
            canvas.moon((x, 560.0), 44.0, f64::from(day) / 29.53, |u, v| {
                ((seas.at(u * 0.5 + 0.5, v * 0.5 + 0.5) - 0.5) * 3.0).clamp(0.0, 0.4)
            });
        }
    }
    for inset in [70.0, 92.0] {
        let (l, t, r, b) = (inset, inset, 2700.0 - inset, 1800.0 - inset);
        let width = if inset > 80.0 { 4.0 } else { 9.0 };
        canvas.pen(&[(l, t), (r, t), (r, b), (l, b), (l, t)], width, INK);
    }
}
