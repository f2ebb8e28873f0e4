//! The demo draws the same every time, what it says it is, and never over a maker's file.

use std::fs;
use std::path::Path;

use seamwright_contract::num::count;
use serde_yaml::Value;

use crate::canvas::Canvas;
use crate::noise::chance;
use crate::{
    ORDERS, PROGRAMS, Program, coaster, draw_all, moon_phases, observatory, star_chart, tide_calendar,
};

/// An eighth of full size: every drawing in a blink.
const SMALL: f64 = 0.125;

fn share(canvas: Canvas, is: impl Fn(&[u8]) -> bool) -> f64 {
    let samples = canvas.into_rgb();
    let pixels = samples.chunks_exact(3);
    let all = pixels.len();
    f64::from(count(pixels.filter(|pixel| is(pixel)).count())) / f64::from(count(all))
}

fn white(pixel: &[u8]) -> bool {
    pixel.iter().all(|sample| *sample > 250)
}

#[test]
fn the_chart_covers_all_of_its_mat() {
    assert!(share(star_chart::draw(SMALL), white) < 0.01, "white in the sky beyond the stars");
    assert!(share(star_chart::draw(SMALL), |p| p.iter().all(|s| *s < 140)) > 0.6, "the sky is not dark");
}

#[test]
fn the_line_drawing_is_mostly_white() {
    let bare = share(observatory::draw(SMALL), white);
    assert!((0.8..0.97).contains(&bare), "{bare} of the drawing is white");
}

#[test]
fn the_round_mat_is_clear_outside_and_solid_inside() {
    let canvas = moon_phases::draw(SMALL);
    let (width, height) = canvas.size();
    let samples = canvas.into_rgba(moon_phases::alpha);
    let alpha = |x: u32, y: u32| samples[((y * width + x) * 4 + 3) as usize];
    for (x, y) in [(0, 0), (width - 1, 0), (0, height - 1), (width - 1, height - 1), (width / 8, height / 8)]
    {
        assert_eq!(alpha(x, y), 0, "the corner {x}, {y} is not clear");
    }
    for (x, y) in [(width / 2, 4), (4, height / 2), (width / 2, height / 2), (width / 6, height / 5)] {
        assert_eq!(alpha(x, y), 255, "the mat at {x}, {y} is not solid");
    }
}

#[test]
fn drawings_are_the_same_every_time_and_have_their_size() {
    type Draw = fn(f64) -> Canvas;
    let drawings: [(Draw, (u32, u32)); 6] = [
        (coaster::crescent, coaster::SIZE),
        (coaster::full, coaster::SIZE),
        (star_chart::draw, star_chart::SIZE),
        (observatory::draw, observatory::SIZE),
        (moon_phases::draw, moon_phases::SIZE),
        (tide_calendar::draw, tide_calendar::SIZE),
    ];
    for (draw, (width, height)) in drawings {
        let (one, two) = (draw(SMALL), draw(SMALL));
        assert_eq!(one.size(), (width.div_ceil(8), height.div_ceil(8)));
        assert!(one.into_rgb() == two.into_rgb(), "two drawings differ");
    }
}

#[test]
fn a_straight_edge_covers_what_geometry_says() {
    // A convex shape of 20 x 10 units at half a pixel a unit covers 50 pixels, wherever it starts.
    for shift in [0.0, 0.3, 0.5, 1.1] {
        let mut canvas = Canvas::new(60, 60, 0.5, [0; 3]);
        let (l, t) = (10.0 + shift, 20.0 + shift);
        canvas.convex(&[(l, t), (l + 20.0, t), (l + 20.0, t + 10.0), (l, t + 10.0)], [255; 3], 1.0);
        let ink: u32 = canvas.into_rgb().chunks_exact(3).map(|pixel| u32::from(pixel[0])).sum();
        let area = f64::from(ink) / 255.0;
        assert!((area - 50.0).abs() < 1.0, "{area} pixels at shift {shift}");
    }
}

#[test]
fn chance_is_even_and_repeats() {
    let mean = (0..10_000).map(chance).sum::<f64>() / 10_000.0;
    assert!((mean - 0.5).abs() < 0.01, "the mean is {mean}");
    assert!(
        chance(7).to_bits() == chance(7).to_bits() && chance(7).to_bits() != chance(8).to_bits(),
        "not a hash"
    );
}

#[test]
fn every_picture_has_its_order_and_nothing_else_is_written() {
    let studio = tempfile::tempdir().unwrap();
    draw_all(studio.path(), SMALL).unwrap();
    let mut found = list(studio.path(), studio.path());
    found.sort();
    let wanted = [
        "incoming/coasters/first-light.png",
        "incoming/coasters/folder.yaml",
        "incoming/coasters/full-moon.png",
        "incoming/moon-phases.png",
        "incoming/moon-phases.yaml",
        "incoming/observatory.png",
        "incoming/observatory.yaml",
        "incoming/place-mats/folder.yaml",
        "incoming/place-mats/tide-calendar.png",
        "incoming/star-chart.jpg",
        "incoming/star-chart.yaml",
        "programs/deepen.py",
        "programs/deepen.yaml",
        "programs/slip.sh",
        "programs/slip.yaml",
    ];
    assert_eq!(found, wanted);
    let shipped = include_str!("../../../config/seamwright.yaml");
    for Program { listed: (without, with), .. } in PROGRAMS {
        assert_eq!(shipped.matches(without).count(), 1, "{without:?} stands once in the shipped settings");
        assert!(!shipped.contains(with), "{with:?} does not yet");
    }
    for (name, text) in ORDERS {
        let order: Value = serde_yaml::from_str(text).unwrap();
        assert!(order.get("blank").is_some(), "{name} names no blank");
    }
    let chart = image::open(studio.path().join("incoming/star-chart.jpg")).unwrap();
    assert_eq!((chart.width(), chart.height()), (675, 450));
    let mat = image::open(studio.path().join("incoming/moon-phases.png")).unwrap();
    assert!(mat.color().has_alpha(), "the round mat has lost its clear corners");
}

#[test]
fn a_file_of_the_maker_is_not_overwritten() {
    let studio = tempfile::tempdir().unwrap();
    draw_all(studio.path(), SMALL).unwrap();
    let fault = draw_all(studio.path(), SMALL).unwrap_err();
    assert!(fault.place.ends_with(".yaml") && fault.what.contains("overwrite"), "{fault}");
}

fn list(folder: &Path, root: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .flat_map(|path| {
            if path.is_dir() {
                list(&path, root)
            } else {
                vec![path.strip_prefix(root).unwrap().display().to_string()]
            }
        })
        .collect()
}
