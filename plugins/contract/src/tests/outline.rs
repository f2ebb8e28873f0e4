//! Outlines cover their areas, and a strip of one reaches as far as its widest chord.

use crate::catalogue::Shape;
use crate::geometry::{Face, Rect};
use crate::outline::Outline;
use crate::units::Length;

fn outline(shape: Shape, width: i64, height: i64, reach: i64) -> Outline<Face> {
    let (grown, reach) = (2 * reach, Length::from_mm(reach));
    let bounds = Rect::new(-reach, -reach, Length::from_mm(width + grown), Length::from_mm(height + grown));
    Outline::new(shape, bounds, reach)
}

const SHAPES: [Shape; 5] =
    [Shape::Rectangle, Shape::Oval, Shape::Round, Shape::HalfMoon, Shape::Rounded(Length::from_mm(50))];

/// The share of its box that an outline covers, by sampling.
fn share(outline: &Outline<Face>) -> f64 {
    let steps = 500_u32;
    let at = |i: u32, from: Length, length: Length| {
        (from.mm() + (f64::from(i) + 0.5) / f64::from(steps) * length.mm()) * 1000.0
    };
    let b = outline.bounds;
    let hits = (0..steps)
        .flat_map(|y| (0..steps).map(move |x| (x, y)))
        .filter(|(x, y)| outline.covers(at(*x, b.x, b.width), at(*y, b.y, b.height)))
        .count();
    f64::from(u32::try_from(hits).unwrap()) / f64::from(steps * steps)
}

#[test]
fn shapes_cover_their_areas() {
    // Area of an ellipse over its box: pi / 4; of a box with corners of radius r: 1 - (4 - pi) r^2 / (w h).
    let quarter = std::f64::consts::FRAC_PI_4;
    let corner = |w: f64, h: f64, r: f64| 1.0 - (4.0 - std::f64::consts::PI) * r * r / (w * h);
    for (shape, reach, expected) in [
        (Shape::Rectangle, 0, 1.0),
        (Shape::Oval, 0, quarter),
        (Shape::Round, 0, quarter),
        (Shape::HalfMoon, 0, quarter),
        (Shape::Rounded(Length::from_mm(50)), 0, corner(300.0, 200.0, 50.0)),
        (Shape::Rounded(Length::from_mm(50)), 10, corner(320.0, 220.0, 60.0)),
        (Shape::Rounded(Length::from_mm(50)), -20, corner(260.0, 160.0, 30.0)),
        (Shape::Oval, 10, quarter),
        // Grown: half an ellipse of half-axes 160 and 210 mm, and 10 mm straight down below it.
        (Shape::HalfMoon, 10, (quarter * 320.0 * 210.0 + 320.0 * 10.0) / (320.0 * 220.0)),
    ] {
        let found = share(&outline(shape, 300, 200, reach));
        assert!((found - expected).abs() < 0.003, "{shape:?} {reach}: {found} and not {expected}");
    }
}

#[test]
fn a_half_moon_stands_on_its_flat_edge() {
    let moon = outline(Shape::HalfMoon, 900, 600, 0);
    assert!(moon.covers(1_000.0, 599_000.0) && !moon.covers(1_000.0, 1_000.0), "flat edge at the bottom");
    // Shrunk, the flat edge moves up and the centre stays on the blank's own edge.
    let inner = outline(Shape::HalfMoon, 900, 600, -10);
    assert!(!inner.covers(450_000.0, 591_000.0) && inner.covers(450_000.0, 589_000.0));
    assert!(!inner.covers(10_010.0, 589_900.0), "at its flat edge it is a little narrower than its box");
}

#[test]
fn a_rectangle_is_contained_where_all_of_it_is_covered() {
    for shape in SHAPES {
        for reach in [0, 12, -12] {
            let outline = outline(shape, 300, 200, reach);
            let steps = || (-20_000_i64..320_000).step_by(34_300);
            for (x, y, width, height) in steps().flat_map(|x| {
                steps().flat_map(move |y| {
                    [(20, 17), (170, 90), (1, 190)].map(|(w, h)| (x, y, w * 1_000, h * 1_000))
                })
            }) {
                let um = Length::from_um;
                let rect = Rect::new(um(x), um(y), um(width), um(height));
                let at =
                    |part: i64, from: i64, length: i64| crate::num::float(from * 20 + length * part) / 20.0;
                // The right edge itself belongs to what lies right of it.
                let covered =
                    (0..=20).all(|i| (0..=20).all(|j| outline.covers(at(i, x, width - 1), at(j, y, height))));
                assert_eq!(outline.contains(&rect), covered, "{shape:?} {reach} {rect:?}");
            }
        }
    }
}

#[test]
fn a_strip_reaches_as_far_as_its_widest_place() {
    for shape in SHAPES {
        for reach in [0, 12, -12] {
            let outline = outline(shape, 300, 200, reach);
            for top in (-30_000..220_000).step_by(7_100) {
                for height in [1_000, 9_000, 60_000, 300_000] {
                    let (top, bottom) = (Length::from_um(top), Length::from_um(top + height));
                    let steps = (top.um()..=bottom.um()).step_by(500);
                    let inset = steps.filter_map(|y| outline.inset(crate::num::float(y))).reduce(f64::min);
                    let Some((left, right)) = outline.reach(top, bottom) else {
                        let b = outline.bounds;
                        assert!(
                            bottom <= b.y
                                || top >= b.bottom()
                                || inset.is_some_and(|i| i * 2.0 >= b.width.mm() * 1000.0 - 1.0),
                            "{shape:?}"
                        );
                        continue;
                    };
                    let found = crate::num::float((left - outline.bounds.x).um());
                    let sampled = inset.expect("a strip with a reach meets the box");
                    assert!(found <= sampled + 1.0, "{shape:?} {top} {bottom}: {found} beyond {sampled}");
                    assert!(
                        found >= sampled - 3_000.0,
                        "{shape:?} {top} {bottom}: {found} short of {sampled}"
                    );
                    assert_eq!(
                        left - outline.bounds.x,
                        outline.bounds.right() - right,
                        "the same on both sides"
                    );
                }
            }
        }
    }
}

#[test]
fn no_shipped_oval_strays_from_the_parallel_curve_by_more_than_a_quarter_millimetre() {
    // Support functions: of an ellipse (a, b) at an angle, sqrt((a cos)^2 + (b sin)^2); of the parallel curve, that plus d.
    for (a, b, d) in [(381.0_f64, 254.0_f64, -12.7_f64), (381.0, 254.0, 6.35)] {
        let support = |a: f64, b: f64, angle: f64| (a * angle.cos()).hypot(b * angle.sin());
        let angles = (0..=90).map(|degree| f64::from(degree).to_radians());
        let off = angles.map(|at| support(a, b, at) + d - support(a + d, b + d, at));
        let worst = off.map(f64::abs).fold(0.0, f64::max);
        assert!(worst < 0.27, "{worst} mm");
    }
}
