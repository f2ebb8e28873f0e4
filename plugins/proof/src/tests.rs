//! The laws of the proof.

use std::sync::Arc;

use seamwright_contract::catalogue::Shape;
use seamwright_contract::colour::{Colour, DifferenceMap, InkRange};
use seamwright_contract::layout::{LayUp, Layout, Seam, SeamClass};
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, Lab, Length, Point, Size, sample};

use crate::paint::{Scene, View};
use crate::raster::Raster;
use crate::{painted, together, views};

/// An even tone.
#[derive(Debug)]
struct Even(u8);

impl Picture for Even {
    fn size(&self) -> Pixels {
        Pixels::new(400, 400)
    }
    fn format(&self) -> Format {
        Format::RGB8
    }
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), self.format());
        if let Samples::Eight(samples) = &mut out.samples {
            samples.fill(self.0);
        }
        Ok(())
    }
    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let mut band = Band::bare(size, self.format());
        if let Samples::Eight(samples) = &mut band.samples {
            samples.fill(self.0);
        }
        Ok(band)
    }
}

/// A round blank of 400 mm, all of it one tone, with a seam of a class from top to bottom at a place.
fn with_seam(tone: u8, class: Option<SeamClass>, x: i64) -> Layout {
    let mut order = sample::order();
    order.size = Size::new(Length::from_mm(400), Length::from_mm(400));
    order.blank.size = order.size;
    order.blank.shape = Shape::Round;
    let size = order.size;
    let mut layout = sample::layout(order, Arc::new(Even(tone)));
    layout.design = Some(sample::design(size, 100.0));
    let end = |y| Point::new(Length::from_mm(x), Length::from_mm(y));
    let seams =
        class.map(|class| Seam { between: [1, 2], upper: 1, line: [end(0), end(400)], score: 0.0, class });
    layout.lay_up = Some(LayUp { seams: seams.into_iter().collect(), ..sample::lay_up() });
    layout
}

/// The blank as it comes out.
fn paint(layout: &Layout) -> Raster {
    Scene::new(layout).unwrap().paint(View::Printed(layout.order.blank.colour))
}

/// How much a seam changes the proof: the sum of all differences from the proof without it.
fn shown(tone: u8, class: SeamClass, x: i64) -> u64 {
    let (with, without) = (paint(&with_seam(tone, Some(class), x)), paint(&with_seam(tone, None, x)));
    with.pixels.iter().zip(&without.pixels).map(|(a, b)| u64::from(a.abs_diff(*b))).sum()
}

#[test]
fn the_more_a_seam_crosses_the_plainer_it_is_drawn_on_dark_and_light() {
    for tone in [0, 127, 128, 255] {
        let [bare, quiet, busy] =
            [SeamClass::Bare, SeamClass::Quiet, SeamClass::Busy].map(|class| shown(tone, class, 200));
        assert!(bare > 0 && bare * 3 < quiet && quiet * 3 < busy, "{tone}: {bare}, {quiet}, {busy}");
    }
}

#[test]
fn seams_are_drawn_on_the_blank_and_not_beside_it() {
    // 40 mm from the left the chord of a circle of 400 mm is 2 sqrt(200^2 - 160^2) = 240 mm, in its middle 400 mm.
    for class in [SeamClass::Bare, SeamClass::Quiet, SeamClass::Busy] {
        let [near, middle] = [40, 200].map(|x| u32::try_from(shown(200, class, x)).map(f64::from).unwrap());
        assert!((near / middle - 0.6).abs() < 0.01, "{class:?}: {near} of {middle}");
    }
}

/// The colour of a pixel in the middle of a view.
fn middle(raster: &Raster) -> [u8; 3] {
    let (width, height) = (raster.size.width, raster.size.height);
    let at = usize::try_from((height / 2 * width + width / 2) * 3).unwrap();
    raster.pixels[at..at + 3].try_into().unwrap()
}

#[test]
fn bare_places_show_the_blank_and_black_stays_black() {
    for colour in
        [Lab::WHITE, Lab::new(92.0, 0.0, 2.0), Lab::new(70.0, 4.0, 12.0), Lab::new(40.0, -5.0, -5.0)]
    {
        let on = |tone| {
            let mut layout = with_seam(tone, None, 200);
            layout.order.blank.colour = colour;
            middle(&paint(&layout))
        };
        let bare = Lab::of_srgb(on(255));
        assert!(bare.difference(colour) < 0.5, "{bare:?} for {colour:?}");
        assert_eq!(on(0), [0; 3], "black");
        // The gray of code 128 gives back 0.21586 of the light (IEC 61966-2-1), so that much of the blank's Y is left.
        let gray = Lab::of_srgb(on(128)).to_xyz()[1] / colour.to_xyz()[1];
        assert!((gray - 0.21586).abs() < 0.004, "{gray}");
    }
}

/// A range of which the left half of the design is out.
fn half_lost() -> InkRange {
    let map = DifferenceMap { size: Pixels::new(2, 1), cells: vec![12.0, 0.0] };
    InkRange { share: 0.75, darker: 0.25, worst: Vec::new(), map }
}

#[test]
fn each_view_is_there_where_it_tells_something() {
    let mut layout = with_seam(128, None, 200);
    assert_eq!(views(&layout).len(), 1, "white goods, no profile");
    layout.order.blank.colour = Lab::new(80.0, 0.0, 10.0);
    assert_eq!(views(&layout).len(), 2, "and on white");
    layout.colour = Some(Colour { range: Some(half_lost()), ..sample::colour() });
    let all = views(&layout);
    assert_eq!(all.len(), 3, "and what is lost");
    assert!(all[2].1.contains("50.0 %"), "{}", all[2].1);
    let one = Scene::new(&layout).unwrap().size;
    let whole = together(&painted(&layout).unwrap());
    assert_eq!((whole.size.width, whole.size.height > one.height), (one.width * 3, true), "side by side");
    // Words stand under each view, and only there: the last rows are the ground with some black.
    let stride = usize::try_from(one.width).unwrap() * 3;
    let row = usize::try_from(whole.size.width).unwrap() * 3;
    for view in 0..3 {
        let under = whole.pixels.chunks_exact(row).skip(usize::try_from(one.height).unwrap());
        let dark =
            under.flat_map(|row| &row[view * stride..(view + 1) * stride]).filter(|v| **v < 60).count();
        assert!(dark > 500, "view {view}: {dark} dark samples");
    }
}

#[test]
fn what_is_lost_is_red_where_it_is_and_the_rest_is_pale() {
    let mut layout = with_seam(128, None, 200);
    layout.order.blank.shape = Shape::Rectangle;
    layout.colour = Some(Colour { range: Some(half_lost()), ..sample::colour() });
    let scene = Scene::new(&layout).unwrap();
    let view = scene.paint(View::OutOfReach(&layout.colour.as_ref().unwrap().range.as_ref().unwrap().map));
    let row = usize::try_from(scene.size.width).unwrap() * 3;
    let line = &view.pixels[row * usize::try_from(scene.size.height / 2).unwrap()..][..row];
    let (left, right) = (&line[row / 4 / 3 * 3..][..3], &line[row * 3 / 4 / 3 * 3..][..3]);
    assert!(left[0] > left[1] + 80 && left[0] > left[2] + 80, "{left:?}");
    assert!(right.iter().all(|part| *part > 170 && *part == right[0]), "{right:?}");
}
