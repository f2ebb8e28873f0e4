//! The observatory on its headland and the tide gauge at the pier: a line drawing on bare white, 24 x 12.5 in.

use crate::canvas::{At, Canvas, Ink, around, curve};
use crate::letters::Hand;
use crate::noise::chance;

/// Units, and pixels at full size.
pub(crate) const SIZE: (u32, u32) = (4800, 2500);

const LINE: Ink = [28, 52, 92];
const THIN: Ink = [92, 122, 160];
const ACCENT: Ink = [196, 92, 58];
const WHITE: Ink = [255, 255, 255];

/// Draws it, `scale` pixels a unit.
pub(crate) fn draw(scale: f64) -> Canvas {
    let mut canvas = Canvas::new(SIZE.0, SIZE.1, scale, WHITE);
    sky(&mut canvas);
    sea(&mut canvas);
    headland(&mut canvas);
    building(&mut canvas);
    pier(&mut canvas);
    gauge(&mut canvas);
    let middle = 2400.0;
    Hand { height: 96.0, pen: 13.0, ink: LINE }.write(
        &mut canvas,
        "TIDEMARK OBSERVATORY",
        (middle, 2330.0),
        0.0,
    );
    canvas
}

/// A closed outline, bare inside: what lies behind it is hidden. The outline must be convex.
fn block(canvas: &mut Canvas, corners: &[At], width: f64) {
    canvas.convex(corners, WHITE, 1.0);
    let mut closed = corners.to_vec();
    closed.extend(corners.first());
    canvas.pen(&closed, width, LINE);
}

fn sky(canvas: &mut Canvas) {
    let moon = (3560.0, 430.0);
    // A crescent: two arcs through the same two tips.
    canvas.pen(&curve(moon, (150.0, 150.0), -60.0, 150.0), 9.0, LINE);
    canvas.pen(&curve((moon.0 - 42.4, moon.1 - 42.4), (146.4, 146.4), -36.7, 126.7), 7.0, LINE);
    for star in 0..34_u32 {
        let of = |what: u32| chance(star * 3 + what + 900);
        let at = (300.0 + of(0) * 4200.0, 170.0 + of(1) * 620.0);
        let gulls = at.1 > 420.0 && (2380.0..2960.0).contains(&at.0) || at.1 > 640.0;
        if gulls || (at.0 - 1450.0).abs() < 620.0 || (at.0 - moon.0).hypot(at.1 - moon.1) < 300.0 {
            continue;
        }
        let reach = 12.0 + 20.0 * of(2).powi(3);
        for angle in [0.0, 60.0, 120.0] {
            let (from, to) = (around(at, (reach, reach), angle), around(at, (reach, reach), angle + 180.0));
            canvas.pen(&[from, to], 5.0, THIN);
        }
    }
    for (x, y, span) in
        [(2560.0, 620.0, 95.0), (2800.0, 520.0, 70.0), (2760.0, 730.0, 60.0), (4180.0, 800.0, 80.0)]
    {
        canvas.pen(&curve((x - span, y), (span, span * 0.6), 200.0, 355.0), 8.0, LINE);
        canvas.pen(&curve((x + span, y), (span, span * 0.6), 185.0, 340.0), 8.0, LINE);
    }
}

fn sea(canvas: &mut Canvas) {
    canvas.pen(&[(2330.0, 1500.0), (4560.0, 1500.0)], 6.0, THIN);
    for row in 0..11_u32 {
        let y = 1560.0 + f64::from(row) * (26.0 + f64::from(row) * 3.4);
        for wave in 0..40_u32 {
            let of = |what: u32| chance(row * 400 + wave * 7 + what);
            if of(0) < 0.45 {
                continue;
            }
            let (x, half) = (240.0 + f64::from(wave) * 112.0 + of(1) * 60.0, 24.0 + 5.0 * f64::from(row));
            let shore = 2380.0 - f64::from(row) * 46.0;
            if x - half < shore || x + half > 4580.0 {
                continue;
            }
            canvas.pen(&curve((x - half, y), (half, half * 0.34), 20.0, 170.0), 5.0, THIN);
            canvas.pen(&curve((x + half * 0.9, y), (half * 0.9, half * 0.3), 15.0, 160.0), 5.0, THIN);
        }
    }
}

fn headland(canvas: &mut Canvas) {
    let ridge = [
        (220.0, 1540.0),
        (420.0, 1475.0),
        (640.0, 1452.0),
        (860.0, 1420.0),
        (1500.0, 1412.0),
        (2060.0, 1424.0),
        (2230.0, 1470.0),
        (2310.0, 1560.0),
        (2290.0, 1660.0),
        (2180.0, 1770.0),
        (2060.0, 1880.0),
        (1930.0, 1985.0),
        (1800.0, 2090.0),
    ];
    canvas.pen(&ridge, 11.0, LINE);
    for stroke in 0..60_u32 {
        let of = |what: u32| chance(stroke * 5 + what + 4000);
        let (x, y) = (320.0 + of(0) * 1880.0, 1540.0 + of(1) * 480.0);
        if x + (y - 1540.0) * 1.05 > 2230.0 || y > 1500.0 + x * 0.5 {
            continue;
        }
        let length = 40.0 + 110.0 * of(2);
        canvas.pen(&[(x, y), (x + length * 0.9, y + length * (0.1 + 0.3 * of(3)))], 5.0, THIN);
    }
    for tuft in 0..30_u32 {
        let x = 260.0 + f64::from(tuft) * 62.0 + 30.0 * chance(tuft + 33);
        let y = if x < 860.0 { 1540.0 - (x - 220.0) * 0.185 } else { 1430.0 };
        for lean in [-18.0, 0.0, 16.0] {
            canvas.pen(&[(x, y + 14.0), (x + lean, y - 22.0 - 14.0 * chance(tuft + 99))], 4.0, THIN);
        }
    }
}

fn building(canvas: &mut Canvas) {
    // The long house, then the drum and the dome before it.
    block(canvas, &[(560.0, 1130.0), (1180.0, 1130.0), (1180.0, 1424.0), (560.0, 1440.0)], 9.0);
    block(canvas, &[(510.0, 1130.0), (640.0, 960.0), (1180.0, 960.0), (1180.0, 1130.0)], 9.0);
    for course in 1..5_u32 {
        let y = 960.0 + 34.0 * f64::from(course);
        canvas.pen(&[(640.0 - 26.0 * f64::from(course), y), (1150.0, y)], 4.0, THIN);
    }
    for x in [650.0, 800.0, 950.0] {
        block(canvas, &[(x, 1200.0), (x + 84.0, 1200.0), (x + 84.0, 1320.0), (x, 1320.0)], 7.0);
        canvas.pen(&[(x + 42.0, 1200.0), (x + 42.0, 1320.0)], 4.0, LINE);
        canvas.pen(&[(x, 1260.0), (x + 84.0, 1260.0)], 4.0, LINE);
    }
    block(canvas, &[(720.0, 985.0), (720.0, 860.0), (790.0, 860.0), (790.0, 985.0)], 8.0);

    let (middle, foot) = (1450.0, 1412.0);
    block(canvas, &[(1120.0, 800.0), (1780.0, 800.0), (1780.0, foot), (1120.0, foot)], 10.0);
    for course in 0..8_u32 {
        let y = 850.0 + 70.0 * f64::from(course);
        for stone in 0..9_u32 {
            let x = 1130.0 + 74.0 * f64::from(stone) + if course.is_multiple_of(2) { 37.0 } else { 0.0 };
            if chance(course * 20 + stone + 61) > 0.45 && x < 1740.0 {
                canvas.pen(&[(x, y), (x + 30.0, y)], 4.0, THIN);
            }
        }
    }
    block(
        canvas,
        &[(1380.0, foot), (1380.0, 1190.0), (1450.0, 1150.0), (1520.0, 1190.0), (1520.0, foot)],
        9.0,
    );
    canvas.disc((1500.0, 1310.0), 8.0, ACCENT, 1.0);
    for x in [1215.0, 1605.0] {
        let arch = curve((x + 40.0, 960.0), (40.0, 40.0), 180.0, 360.0);
        let mut window = arch;
        window.extend([(x + 80.0, 1080.0), (x, 1080.0)]);
        block(canvas, &window, 7.0);
        canvas.pen(&[(x + 40.0, 920.0), (x + 40.0, 1080.0)], 4.0, LINE);
    }

    let dome = curve((middle, 770.0), (390.0, 400.0), 180.0, 360.0);
    block(canvas, &dome, 11.0);
    block(canvas, &[(1040.0, 770.0), (1860.0, 770.0), (1860.0, 822.0), (1040.0, 822.0)], 10.0);
    for rib in [-300.0, -200.0, -80.0_f64] {
        canvas.pen(&curve((middle, 770.0), (rib.abs(), 398.0), 180.0, 268.0), 5.0, THIN);
    }
    for rib in [320.0, 250.0] {
        canvas.pen(&curve((middle, 770.0), (rib, 398.0), 274.0, 360.0), 5.0, THIN);
    }
    // The open slit, and the tube looking out of it.
    block(
        canvas,
        &[
            (1490.0, 770.0),
            (1510.0, 560.0),
            (1540.0, 372.0),
            (1640.0, 410.0),
            (1700.0, 560.0),
            (1720.0, 770.0),
        ],
        8.0,
    );
    block(canvas, &[(1560.0, 680.0), (1850.0, 300.0), (1930.0, 360.0), (1640.0, 744.0)], 10.0);
    block(canvas, &[(1838.0, 284.0), (1862.0, 254.0), (1974.0, 338.0), (1950.0, 370.0)], 9.0);
    canvas.pen(&[(1650.0, 562.0), (1730.0, 622.0)], 7.0, LINE);
    canvas.pen(&[(1450.0, 370.0), (1450.0, 300.0)], 8.0, LINE);
    canvas.convex(&[(1450.0, 238.0), (1560.0, 268.0), (1450.0, 300.0)], ACCENT, 1.0);
}

fn pier(canvas: &mut Canvas) {
    for post in 0..9_u32 {
        let x = 2420.0 + 205.0 * f64::from(post);
        block(canvas, &[(x, 1450.0), (x + 38.0, 1450.0), (x + 38.0, 1830.0), (x, 1830.0)], 7.0);
        canvas.pen(&curve((x + 19.0, 1836.0), (52.0, 13.0), 10.0, 170.0), 5.0, THIN);
        if post < 8 {
            canvas.pen(&[(x + 38.0, 1500.0), (x + 205.0, 1650.0)], 5.0, LINE);
        }
    }
    block(canvas, &[(2210.0, 1396.0), (4170.0, 1396.0), (4170.0, 1450.0), (2210.0, 1450.0)], 10.0);
    for plank in 0..48_u32 {
        let x = 2240.0 + 40.0 * f64::from(plank);
        canvas.pen(&[(x, 1400.0), (x, 1446.0)], 4.0, THIN);
    }
    for post in 0..7_u32 {
        let x = 2300.0 + 215.0 * f64::from(post);
        canvas.pen(&[(x, 1396.0), (x, 1270.0)], 8.0, LINE);
    }
    for y in [1276.0, 1330.0] {
        canvas.pen(&[(2300.0, y), (3590.0, y)], 6.0, LINE);
    }
}

/// The little house at the pier's end with its float's pipe, and the staff that shows the tide.
fn gauge(canvas: &mut Canvas) {
    block(canvas, &[(3650.0, 1080.0), (3990.0, 1080.0), (3990.0, 1396.0), (3650.0, 1396.0)], 10.0);
    block(canvas, &[(3600.0, 1080.0), (3820.0, 900.0), (4040.0, 1080.0)], 10.0);
    block(canvas, &[(3700.0, 1170.0), (3790.0, 1170.0), (3790.0, 1396.0), (3700.0, 1396.0)], 8.0);
    canvas.disc((3890.0, 1210.0), 62.0, WHITE, 1.0);
    canvas.pen(&curve((3890.0, 1210.0), (62.0, 62.0), 0.0, 360.0), 8.0, LINE);
    canvas.pen(&[(3890.0, 1210.0), (3930.0, 1180.0)], 8.0, ACCENT);
    block(canvas, &[(3850.0, 1450.0), (3930.0, 1450.0), (3930.0, 1860.0), (3850.0, 1860.0)], 8.0);
    canvas.pen(&[(3820.0, 900.0), (3820.0, 800.0)], 7.0, LINE);
    canvas.pen(&[(3770.0, 830.0), (3872.0, 812.0)], 6.0, LINE);
    canvas.convex(&[(3872.0, 796.0), (3910.0, 806.0), (3872.0, 830.0)], ACCENT, 1.0);

    block(canvas, &[(4230.0, 1000.0), (4350.0, 1000.0), (4350.0, 1900.0), (4230.0, 1900.0)], 10.0);
    let hand = Hand { height: 54.0, pen: 8.0, ink: LINE };
    for metre in 0..8_u32 {
        let y = 1860.0 - f64::from(metre) * 112.0;
        hand.write(canvas, &metre.to_string(), (4322.0, y + 10.0), 0.0);
        for tenth in [0.0, 28.0, 56.0, 84.0] {
            if y - tenth < 1030.0 {
                continue;
            }
            let (mark, ink) = if tenth < 1.0 { (46.0, LINE) } else { (28.0, ACCENT) };
            canvas.convex(
                &[
                    (4236.0, y - tenth),
                    (4236.0 + mark, y - tenth),
                    (4236.0 + mark, y - tenth - 14.0),
                    (4236.0, y - tenth - 14.0),
                ],
                ink,
                1.0,
            );
        }
    }
}
