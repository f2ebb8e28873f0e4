//! The laws of the proof.

use std::sync::Arc;

use seamwright_contract::catalogue::Shape;
use seamwright_contract::layout::{LayUp, Layout, Seam, SeamClass};
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, Length, Point, Size, sample};

use crate::paint::{multiplied, paint};

#[test]
fn bare_places_show_the_blank_and_black_stays_black() {
    for ground in 0..=255 {
        assert_eq!((multiplied(ground, 255), multiplied(ground, 0)), (ground, 0));
    }
    // IEC 61966-2-1: code 128 is 0.21586 of full light; on a ground of the same code the light is its square.
    assert_eq!(multiplied(128, 128), 61);
}

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
    fn recipe(&self) -> String {
        "even".to_owned()
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

/// How much a seam changes the proof: the sum of all differences from the proof without it.
fn shown(tone: u8, class: SeamClass, x: i64) -> u64 {
    let (with, without) =
        (paint(&with_seam(tone, Some(class), x)).unwrap(), paint(&with_seam(tone, None, x)).unwrap());
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
