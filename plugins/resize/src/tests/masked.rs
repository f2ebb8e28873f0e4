//! Outside the outline the blank stays bare, pixel by pixel; inside it nothing changes, and rectangles are left alone.

use std::sync::Arc;

use seamwright_contract::catalogue::Shape;
use seamwright_contract::layout::Design;
use seamwright_contract::order::Fit;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::survey::{FAINTEST, Wish};
use seamwright_contract::{Face, Length, Outline, Rect, Size, num, sample};

use super::fixture::{FORMATS, Waves, bytes, filled, layout, order, scaled};
use crate::masked::to_outline;

const SHAPES: [Shape; 4] =
    [Shape::Oval, Shape::Round, Shape::HalfMoon, Shape::Rounded(Length::from_um(14_000))];
const SIZE: Size = Size::new(Length::from_um(80_000), Length::from_um(61_000));
const PPI: f64 = 73.7;

/// A design of `SIZE`, beyond whose edges the outline reaches by so much.
fn design(shape: Shape, beyond: i64) -> Design {
    let by = Length::from_um(beyond);
    let bounds = Rect::new(-by, -by, SIZE.width + by * 2, SIZE.height + by * 2);
    Design { outline: Outline::new(shape, bounds, Length::ZERO), ..sample::design(SIZE, PPI) }
}

fn picture(format: Format) -> Arc<dyn Picture> {
    Arc::new(scaled(Pixels::new(300, 200), format, SIZE, Fit::Stretch, PPI))
}

/// Every pixel of a window as it should be; micrometres a pixel across and down.
fn expected(from: &Band, window: Window, pitch: [f64; 2], outline: &Outline<Face>) -> Vec<f64> {
    let each = from.format().channels.count();
    let (bare, mut all) = (f64::from(from.format().channels.bare()), bytes(from));
    for (at, pixel) in (0..).zip(all.chunks_mut(each)) {
        let (x, y) = (window.x + at % window.width, window.y + at / window.width);
        if !outline.covers((f64::from(x) + 0.5) * pitch[0], (f64::from(y) + 0.5) * pitch[1]) {
            pixel.fill(bare);
        }
    }
    all
}

#[test]
fn every_pixel_whose_middle_is_outside_is_bare() {
    for (shape, format, beyond) in SHAPES.into_iter().flat_map(|s| FORMATS.map(|f| (s, f, 0))).chain([
        (Shape::Oval, Format::RGB8, 4_000),
        (Shape::Rectangle, Format::RGB8, -9_000),
        (Shape::Oval, Format::RGB8, -35_000),
    ]) {
        let (design, source) = (design(shape, beyond), picture(format));
        let masked = to_outline(Arc::clone(&source), &design);
        let (size, pitch) = (masked.size(), design.sheet_ppi.pitch_um());
        let part = Window::new(size.width / 2, 3, size.width / 2, size.height / 3);
        for window in
            [Window::whole(size), part, Window::new(0, 0, 4, 4), Window::new(0, size.height - 1, 9, 1)]
        {
            let expected = expected(&filled(source.as_ref(), window), window, [pitch; 2], &design.outline);
            assert_eq!(bytes(&filled(masked.as_ref(), window)), expected, "{shape:?} {format:?} {window:?}");
        }
        let small = Pixels::new(size.width / 3, size.height / 4);
        let per = |own: u32, small: u32| pitch * f64::from(own) / f64::from(small);
        let pitches = [per(size.width, small.width), per(size.height, small.height)];
        let reduced = source.reduced(small).unwrap();
        let expected = expected(&reduced, Window::whole(small), pitches, &design.outline);
        assert_eq!(bytes(&masked.reduced(small).unwrap()), expected, "{shape:?} {format:?} reduced");
        assert!(masked.fill(Window::new(0, 0, size.width + 1, 1), &mut Band::empty()).is_err(), "beyond it");
    }
}

#[test]
fn cells_wholly_outside_are_bare_and_no_others() {
    let wish = Wish { cells: Pixels::new(40, 31), faintest: FAINTEST };
    for shape in SHAPES {
        let (design, source) = (design(shape, 0), picture(Format::RGB8));
        let (before, after) =
            (source.survey(&wish).unwrap(), to_outline(source, &design).survey(&wish).unwrap());
        assert_eq!((&before.across, &before.down), (&after.across, &after.down), "the same cells");
        let pitch = design.sheet_ppi.pitch_um();
        // A lattice over a cell, drawn in or grown a little, so that its edges do not decide.
        let touched = |columns: &[f64], rows: &[f64], by: f64| {
            let at = |ends: &[f64], i: u32| {
                (ends[0] - by + (ends[1] - ends[0] + 2.0 * by) * f64::from(i) / 24.0) * pitch
            };
            (0..=24).any(|i| (0..=24).any(|j| design.outline.covers(at(columns, i), at(rows, j))))
        };
        let mut outside = 0;
        let places = before.down.windows(2).flat_map(|rows| before.across.windows(2).map(move |c| (c, rows)));
        for (at, (columns, rows)) in places.enumerate() {
            let mean =
                |survey: &seamwright_contract::survey::Survey| bytes(&survey.means)[at * 3..][..3].to_vec();
            let bare = after.cells[at] == Default::default() && mean(&after) == [255.0; 3];
            assert!(
                bare || after.cells[at] == before.cells[at] && mean(&after) == mean(&before),
                "{shape:?} {at}"
            );
            assert!(!(bare && touched(columns, rows, -0.05)), "{shape:?}: cell {at} is not outside");
            assert!(bare || touched(columns, rows, 0.2), "{shape:?}: cell {at} is outside");
            outside += usize::from(bare);
        }
        assert!(outside > 4, "{shape:?} has corners: {outside}");
    }
}

#[test]
fn a_design_that_the_outline_covers_costs_nothing() {
    let source: Arc<dyn Picture> = Arc::new(Waves { size: Pixels::new(30, 20), format: Format::RGB8 });
    for (shape, beyond, wrapped) in [
        (Shape::Rectangle, 0, false),
        (Shape::Rectangle, 3_000, false),
        (Shape::Rounded(Length::from_um(14_000)), 5_000, false),
        (Shape::Rounded(Length::from_um(14_000)), 1_000, true),
        (Shape::Oval, 40_000, false),
    ] {
        let same = Arc::ptr_eq(&to_outline(Arc::clone(&source), &design(shape, beyond)), &source);
        assert_eq!(!same, wrapped, "{shape:?} {beyond}");
    }
}

#[test]
fn the_stage_masks_what_is_printed_and_what_is_seen() {
    for (shape, says) in [(Shape::Rectangle, false), (Shape::Oval, true)] {
        let mut order = order(Size::new(Length::from_um(609_600), Length::from_um(317_500)));
        order.blank.shape = shape;
        let mut job = layout(Pixels::new(3_600, 1_875), order);
        job.on_screen = Some(Arc::clone(&job.picture));
        let complaints = seamwright_contract::settings::Complaints::new();
        let settings = seamwright_contract::settings::Value::Nothing;
        let node = seamwright_contract::settings::Node::root(&settings, &complaints);
        let done = (crate::ENTRY.parse)(&node).unwrap().apply(job).unwrap();
        for picture in [&done.picture, done.on_screen.as_ref().unwrap()] {
            let corner = bytes(&filled(picture.as_ref(), Window::new(0, 0, 1, 1)));
            let recipe = picture.recipe(Window::new(0, 0, 1, 1)).unwrap();
            assert_eq!(recipe.contains("within"), says, "{recipe}");
            assert_eq!(corner.iter().all(|v| (v - 255.0).abs() < f64::EPSILON), says, "{corner:?}");
            let middle = bytes(&filled(picture.as_ref(), Window::new(3_600, 1_875, 1, 1)));
            assert!(middle.iter().any(|v| *v < 250.0), "{:?}", num::round(middle[0]));
        }
    }
}
