//! The star chart: deep sky over the whole of a 36 x 24 in table mat, with made-up figures between the stars.

use crate::canvas::{At, Canvas, Ink, around, away, blend, curve, lit, mix, tone};
use crate::letters::Hand;
use crate::noise::{Clouds, chance, grain};

/// Units, and pixels at full size.
pub(crate) const SIZE: (u32, u32) = (5400, 3600);

const BRASS: Ink = [214, 178, 112];
const CREAM: Ink = [250, 240, 214];
const PALE: Ink = [176, 200, 232];
const NIGHT: Ink = [9, 14, 38];

/// The pole of the sky, about which the grid turns.
const POLE: At = (2700.0, 1560.0);

/// A figure: its name, where the name stands, its stars (place and size) and which of them are joined.
struct Figure {
    name: &'static str,
    label: At,
    stars: &'static [(f64, f64, f64)],
    joined: &'static [(usize, usize)],
}

const FIGURES: [Figure; 8] = [
    Figure {
        name: "THE HERON",
        label: (1050.0, 1330.0),
        stars: &[
            (640.0, 520.0, 13.0),
            (840.0, 470.0, 18.0),
            (960.0, 600.0, 12.0),
            (900.0, 780.0, 13.0),
            (1080.0, 900.0, 20.0),
            (1330.0, 940.0, 13.0),
            (1500.0, 860.0, 10.0),
            (1080.0, 1080.0, 11.0),
            (1010.0, 1240.0, 12.0),
            (1190.0, 1210.0, 10.0),
        ],
        joined: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (4, 7), (7, 8), (7, 9)],
    },
    Figure {
        name: "THE LAMP",
        label: (2690.0, 1100.0),
        stars: &[
            (2540.0, 980.0, 12.0),
            (2840.0, 980.0, 12.0),
            (2600.0, 700.0, 15.0),
            (2780.0, 700.0, 14.0),
            (2690.0, 540.0, 24.0),
            (2690.0, 350.0, 11.0),
        ],
        joined: &[(0, 1), (0, 2), (1, 3), (2, 3), (2, 4), (3, 4), (4, 5)],
    },
    Figure {
        name: "THE FERRY",
        label: (4290.0, 1270.0),
        stars: &[
            (3780.0, 980.0, 13.0),
            (3960.0, 1130.0, 17.0),
            (4500.0, 1130.0, 15.0),
            (4760.0, 940.0, 12.0),
            (4240.0, 1010.0, 11.0),
            (4260.0, 520.0, 21.0),
            (4620.0, 900.0, 12.0),
            (3960.0, 860.0, 11.0),
        ],
        joined: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 0), (4, 5), (5, 6), (5, 7)],
    },
    Figure {
        name: "THE ANCHOR",
        label: (1010.0, 2440.0),
        stars: &[
            (900.0, 1640.0, 12.0),
            (900.0, 1800.0, 18.0),
            (900.0, 2300.0, 16.0),
            (620.0, 2080.0, 12.0),
            (1190.0, 2060.0, 14.0),
            (740.0, 1840.0, 10.0),
            (1060.0, 1820.0, 10.0),
            (690.0, 2230.0, 10.0),
            (1110.0, 2220.0, 10.0),
        ],
        joined: &[(0, 1), (1, 2), (5, 1), (1, 6), (3, 7), (7, 2), (2, 8), (8, 4)],
    },
    Figure {
        name: "THE TIDE GAUGE",
        label: (1900.0, 2545.0),
        stars: &[
            (1860.0, 1900.0, 19.0),
            (1870.0, 2060.0, 10.0),
            (1880.0, 2220.0, 12.0),
            (1890.0, 2400.0, 15.0),
            (2020.0, 2050.0, 9.0),
            (2040.0, 2210.0, 9.0),
            (2060.0, 2380.0, 10.0),
            (1740.0, 1860.0, 9.0),
        ],
        joined: &[(7, 0), (0, 1), (1, 2), (2, 3), (1, 4), (2, 5), (3, 6)],
    },
    Figure {
        name: "THE TWO GULLS",
        label: (3330.0, 2800.0),
        stars: &[
            (2600.0, 2440.0, 11.0),
            (2780.0, 2330.0, 13.0),
            (2880.0, 2460.0, 17.0),
            (3010.0, 2300.0, 13.0),
            (3180.0, 2370.0, 10.0),
            (3060.0, 2600.0, 10.0),
            (3210.0, 2540.0, 12.0),
            (3290.0, 2630.0, 15.0),
            (3400.0, 2510.0, 11.0),
            (3540.0, 2560.0, 10.0),
        ],
        joined: &[(0, 1), (1, 2), (2, 3), (3, 4), (5, 6), (6, 7), (7, 8), (8, 9)],
    },
    Figure {
        name: "THE KETTLE",
        label: (3640.0, 2200.0),
        stars: &[
            (3480.0, 2040.0, 14.0),
            (3830.0, 2050.0, 15.0),
            (3900.0, 1820.0, 12.0),
            (3740.0, 1660.0, 19.0),
            (3540.0, 1670.0, 12.0),
            (3400.0, 1830.0, 13.0),
            (3270.0, 1700.0, 10.0),
            (4040.0, 1700.0, 11.0),
            (3980.0, 1930.0, 10.0),
        ],
        joined: &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (5, 6), (2, 7), (7, 8), (8, 1)],
    },
    Figure {
        name: "THE LOBSTER POT",
        label: (4700.0, 2330.0),
        stars: &[
            (4480.0, 2200.0, 13.0),
            (4920.0, 2190.0, 12.0),
            (4490.0, 1950.0, 10.0),
            (4910.0, 1930.0, 16.0),
            (4600.0, 1740.0, 11.0),
            (4800.0, 1730.0, 10.0),
            (4700.0, 1600.0, 18.0),
        ],
        joined: &[(0, 1), (0, 2), (1, 3), (2, 4), (3, 5), (4, 5), (4, 6), (5, 6), (2, 3)],
    },
];

/// Draws it, `scale` pixels a unit.
pub(crate) fn draw(scale: f64) -> Canvas {
    let mut canvas = Canvas::new(SIZE.0, SIZE.1, scale, NIGHT);
    sky(&mut canvas);
    grid(&mut canvas);
    dust(&mut canvas);
    for figure in &FIGURES {
        draw_figure(&mut canvas, figure);
    }
    compass(&mut canvas, (4600.0, 2880.0), 310.0);
    title(&mut canvas);
    frame(&mut canvas);
    canvas
}

/// How near a place is to the middle of the band of the Milky Way, from 0 to 1.
fn band(x: f64, y: f64) -> f64 {
    let off = (y - 3050.0 + x * 0.46 - 160.0 * (x / 900.0).sin()) / 620.0;
    (-off * off).exp()
}

fn sky(canvas: &mut Canvas) {
    let (clouds, lanes) = (Clouds::new(240, 7.0, 11), Clouds::new(240, 12.0, 77));
    canvas.shade(|x, y| {
        let (u, v) = (x / 5400.0, y / 5400.0);
        let (cloud, lane) = (clouds.at(u, v), lanes.at(u, v));
        let far = away(((x - POLE.0) / 3300.0, (y - POLE.1) / 2400.0), (0.0, 0.0));
        let ground = mix(tone([26, 45, 98]), tone([7, 11, 32]), far.min(1.0));
        let haze = (band(x, y) * (0.25 + 1.1 * cloud - 1.15 * (lane - 0.45).max(0.0))).clamp(0.0, 1.0);
        let tinted =
            mix(mix(ground, tone([84, 74, 150]), haze * 0.6), tone([226, 206, 216]), haze * haze * 0.42);
        lit(tinted, 0.86 + 0.26 * cloud + 0.07 * grain(x, y))
    });
}

/// Circles of equal height and lines of equal hour about the pole, and the Sun's way across them.
fn grid(canvas: &mut Canvas) {
    for ring in 1..=9_u32 {
        let radius = 380.0 * f64::from(ring);
        let width = if ring % 3 == 0 { 7.0 } else { 4.0 };
        canvas.arc(POLE, radius, (0.0, 360.0), width, PALE, 0.33);
    }
    for hour in 0..24_u32 {
        let angle = f64::from(hour) * 15.0;
        let start = if hour % 6 == 0 { 0.0 } else { 380.0 };
        canvas.line(
            around(POLE, (start, start), angle),
            around(POLE, (3600.0, 3600.0), angle),
            4.0,
            PALE,
            0.3,
        );
        let hand = Hand { height: 44.0, pen: 6.0, ink: PALE };
        hand.write_around(canvas, &hour.to_string(), POLE, 1152.0, angle + 3.0);
    }
    for tick in 0..360_u32 {
        let length = if tick % 5 == 0 { 34.0 } else { 18.0 };
        let angle = f64::from(tick);
        canvas.line(
            around(POLE, (1140.0, 1140.0), angle),
            around(POLE, (1140.0 - length, 1140.0 - length), angle),
            4.0,
            PALE,
            0.5,
        );
    }
    let way = curve((2860.0, 1830.0), (1290.0, 1290.0), 0.0, 360.0);
    for pair in way.chunks(3) {
        if let [from, to, ..] = pair {
            canvas.line(*from, *to, 8.0, BRASS, 0.8);
        }
    }
}

/// Some thousands of nameless stars, denser in the Milky Way.
fn dust(canvas: &mut Canvas) {
    for star in 0..9000_u32 {
        let of = |what: u32| chance(star * 5 + what);
        let (x, y) = (of(0) * 5400.0, of(1) * 3600.0);
        if of(2) > 0.28 + 0.72 * band(x, y) {
            continue;
        }
        let radius = 1.4 + 4.6 * of(3).powi(5);
        let ink = blend(blend([190, 212, 255], [255, 246, 226], of(4)), [255, 190, 150], of(4).powi(8));
        if radius > 3.4 {
            canvas.glow((x, y), radius * 5.0, ink, 0.35);
        }
        canvas.disc((x, y), radius, ink, 0.92);
    }
}

fn draw_figure(canvas: &mut Canvas, figure: &Figure) {
    for (from, to) in figure.joined {
        if let (Some(a), Some(b)) = (figure.stars.get(*from), figure.stars.get(*to)) {
            // Lines stop short of the stars, as on old charts.
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let (near, far) = ((a.2 + 24.0) / dx.hypot(dy), 1.0 - (b.2 + 24.0) / dx.hypot(dy));
            canvas.line(
                (a.0 + dx * near, a.1 + dy * near),
                (a.0 + dx * far, a.1 + dy * far),
                7.0,
                BRASS,
                0.9,
            );
        }
    }
    for (x, y, size) in figure.stars {
        canvas.glow((*x, *y), size * 5.5, PALE, 0.6);
        star(canvas, (*x, *y), size * 1.75, CREAM);
        canvas.disc((*x, *y), size * 0.72, [255, 255, 255], 1.0);
    }
    let hand = Hand { height: 56.0, pen: 7.5, ink: CREAM };
    let ((x, y), half) = (figure.label, hand.width(figure.name) / 2.0 + 26.0);
    canvas.convex(
        &[(x - half, y - 78.0), (x + half, y - 78.0), (x + half, y + 22.0), (x - half, y + 22.0)],
        NIGHT,
        0.62,
    );
    hand.write(canvas, figure.name, figure.label, 0.0);
}

/// A star of four long and four short points.
fn star(canvas: &mut Canvas, at: At, reach: f64, ink: Ink) {
    for (turn, reach) in [(45.0, reach * 0.62), (0.0, reach)] {
        for quarter in 0..4_u32 {
            let angle = turn + 90.0 * f64::from(quarter);
            let waist = (reach * 0.2, reach * 0.2);
            let corners = [
                at,
                around(at, waist, angle - 45.0),
                around(at, (reach, reach), angle),
                around(at, waist, angle + 45.0),
            ];
            canvas.convex(&corners, ink, 1.0);
        }
    }
}

fn compass(canvas: &mut Canvas, at: At, reach: f64) {
    canvas.disc(at, reach * 1.04, NIGHT, 0.72);
    for (radius, width) in [(1.0, 9.0), (0.93, 4.0), (0.55, 4.0)] {
        canvas.arc(at, reach * radius, (0.0, 360.0), width, BRASS, 1.0);
    }
    for tick in 0..72_u32 {
        let (angle, inner) = (f64::from(tick) * 5.0, reach * if tick.is_multiple_of(6) { 0.87 } else { 0.9 });
        canvas.line(
            around(at, (inner, inner), angle),
            around(at, (reach * 0.93, reach * 0.93), angle),
            5.0,
            BRASS,
            1.0,
        );
    }
    for (turn, long, points) in [(22.5, 0.52, 8_u32), (45.0, 0.66, 4), (0.0, 0.84, 4)] {
        for point in 0..points {
            let angle = turn + 360.0 / f64::from(points) * f64::from(point);
            let tip = around(at, (reach * long, reach * long), angle);
            let waist = reach * 0.13;
            canvas.convex(&[at, tip, around(at, (waist, waist), angle - 360.0 / 16.0)], CREAM, 1.0);
            canvas.convex(&[at, tip, around(at, (waist, waist), angle + 360.0 / 16.0)], [150, 112, 58], 1.0);
        }
    }
    canvas.disc(at, reach * 0.05, BRASS, 1.0);
    let hand = Hand { height: 92.0, pen: 14.0, ink: CREAM };
    for (name, x, y) in [
        ("N", 0.0, -reach - 34.0),
        ("S", 0.0, reach + 126.0),
        ("W", -reach - 78.0, 46.0),
        ("E", reach + 74.0, 46.0),
    ] {
        hand.write(canvas, name, (at.0 + x, at.1 + y), 0.0);
    }
}

fn title(canvas: &mut Canvas) {
    let (left, right, top, bottom) = (330.0, 1850.0, 2720.0, 3250.0);
    let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
    canvas.convex(&corners, NIGHT, 0.74);
    for inset in [0.0, 26.0] {
        let (l, r, t, b) = (left + inset, right - inset, top + inset, bottom - inset);
        let width = if inset > 0.0 { 4.0 } else { 10.0 };
        canvas.pen(&[(l, t), (r, t), (r, b), (l, b), (l, t)], width, BRASS);
    }
    let middle = f64::midpoint(left, right);
    Hand { height: 112.0, pen: 15.0, ink: CREAM }.write(canvas, "THE NIGHT SKY", (middle, 2940.0), 0.0);
    Hand { height: 52.0, pen: 7.0, ink: PALE }.write(canvas, "AS SEEN FROM THE", (middle, 3044.0), 0.0);
    Hand { height: 70.0, pen: 10.0, ink: BRASS }.write(canvas, "TIDEMARK OBSERVATORY", (middle, 3160.0), 0.0);
}

/// A brass frame with a scale of degrees, the sky going on to the edge outside it.
fn frame(canvas: &mut Canvas) {
    let (left, top, right, bottom) = (170.0, 170.0, 5230.0, 3430.0);
    for (inset, width) in [(0.0, 16.0), (64.0, 6.0)] {
        let (l, t, r, b) = (left + inset, top + inset, right - inset, bottom - inset);
        canvas.pen(&[(l, t), (r, t), (r, b), (l, b), (l, t)], width, BRASS);
    }
    for step in 0..=164_u32 {
        let x = left + 64.0 + f64::from(step) * (right - left - 128.0) / 164.0;
        let long = if step.is_multiple_of(5) { 56.0 } else { 30.0 };
        for (from, to) in [(top + 64.0, top + 64.0 - long), (bottom - 64.0, bottom - 64.0 + long)] {
            canvas.line((x, from), (x, to), 5.0, BRASS, 1.0);
        }
    }
    for step in 0..=104_u32 {
        let y = top + 64.0 + f64::from(step) * (bottom - top - 128.0) / 104.0;
        let long = if step.is_multiple_of(5) { 56.0 } else { 30.0 };
        for (from, to) in [(left + 64.0, left + 64.0 - long), (right - 64.0, right - 64.0 + long)] {
            canvas.line((from, y), (to, y), 5.0, BRASS, 1.0);
        }
    }
    for (x, y) in [(left, top), (right, top), (left, bottom), (right, bottom)] {
        canvas.disc((x, y), 74.0, NIGHT, 1.0);
        canvas.arc((x, y), 74.0, (0.0, 360.0), 10.0, BRASS, 1.0);
        star(canvas, (x, y), 60.0, CREAM);
    }
}
