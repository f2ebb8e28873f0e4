//! The laws of the proof.

use seamwright_contract::catalogue::{Blank, Shape};
use seamwright_contract::sample;
use seamwright_contract::{Length, Size};

use crate::paint::multiplied;
use crate::shape::covers;

fn blank(shape: Shape, width: i64, height: i64) -> Blank {
    Blank { shape, size: Size::new(Length::from_mm(width), Length::from_mm(height)), ..sample::order().blank }
}

/// The share of the bounding box that a shape covers, by sampling.
fn share(blank: &Blank) -> f64 {
    let steps = 500_u32;
    let at = |i: u32, length: Length| (f64::from(i) + 0.5) / f64::from(steps) * length.mm() * 1000.0;
    let hits = (0..steps)
        .flat_map(|y| (0..steps).map(move |x| (x, y)))
        .filter(|(x, y)| covers(blank, at(*x, blank.size.width), at(*y, blank.size.height)))
        .count();
    f64::from(u32::try_from(hits).unwrap()) / f64::from(steps * steps)
}

#[test]
fn shapes_cover_their_areas() {
    // Area of an ellipse over its box: pi / 4; of a box with corners of radius r: 1 - (4 - pi) r^2 / (w h).
    let quarter = std::f64::consts::FRAC_PI_4;
    let corner = 1.0 - (4.0 - std::f64::consts::PI) * 50.0 * 50.0 / (300.0 * 200.0);
    for (shape, expected) in [
        (Shape::Rectangle, 1.0),
        (Shape::Oval, quarter),
        (Shape::Round, quarter),
        (Shape::HalfMoon, quarter),
        (Shape::Rounded(Length::from_mm(50)), corner),
    ] {
        let found = share(&blank(shape, 300, 200));
        assert!((found - expected).abs() < 0.003, "{shape:?}: {found} and not {expected}");
    }
}

#[test]
fn a_half_moon_stands_on_its_flat_edge() {
    let moon = blank(Shape::HalfMoon, 900, 600);
    assert!(covers(&moon, 1_000.0, 599_000.0) && !covers(&moon, 1_000.0, 1_000.0), "flat edge at the bottom");
}

#[test]
fn bare_places_show_the_blank_and_black_stays_black() {
    for ground in 0..=255 {
        assert_eq!((multiplied(ground, 255), multiplied(ground, 0)), (ground, 0));
    }
    // IEC 61966-2-1: code 128 is 0.21586 of full light; on a ground of the same code the light is its square.
    assert_eq!(multiplied(128, 128), 61);
}
