//! A layout, all pixels of a picture, and profiles to try.

use std::sync::Arc;

use seamwright_contract::Fault;
use seamwright_contract::colour::{IccProfile, Intent, Source};
use seamwright_contract::layout::Layout;
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Band, Picture, Samples, Window};
use seamwright_contract::plugin::Stage;
use seamwright_contract::sample;
pub(super) use seamwright_contract::sample::Pixmap;
use seamwright_contract::units::Units;

use crate::stage::{Action, Profile};

/// All of a picture, 8 bits a sample.
pub(super) fn bytes(picture: &dyn Picture) -> Vec<u8> {
    let mut out = Band::empty();
    picture.fill(Window::whole(picture.size()), &mut out).unwrap();
    let Samples::Eight(samples) = out.samples else { panic!("16-bit samples") };
    samples
}

pub(super) fn profile(name: &str, bytes: &[u8]) -> IccProfile {
    IccProfile { name: name.to_owned(), bytes: bytes.into() }
}

const V2: &[u8] = include_bytes!("../../../../tests/data/colour/test-profiles/dye-rgb-v2.icc");
const V4: &[u8] = include_bytes!("../../../../tests/data/colour/test-profiles/dye-rgb-v4.icc");

/// The two profiles of an invented dye printer.
pub(super) fn dyes() -> [IccProfile; 2] {
    [profile("dye v2", V2), profile("dye v4", V4)]
}

/// A Display P3 profile, from a picture that carries it.
pub(super) fn display_p3() -> IccProfile {
    let file = include_bytes!("../../../../tests/data/colour/images/jpg_rgb_p3.jpg");
    profile("Display P3", &from_jpeg(file))
}

/// A CMYK profile, from a picture that carries it.
pub(super) fn cmyk() -> IccProfile {
    let file = include_bytes!("../../../../tests/data/colour/images/jpg_cmyk_app14_inv.jpg");
    profile("press CMYK", &from_jpeg(file))
}

/// The profile in a JPEG file's APP2 segments, which must stand in order (ICC.1, annex B.4).
fn from_jpeg(file: &[u8]) -> Vec<u8> {
    let mark = b"ICC_PROFILE\0";
    let mut found = Vec::new();
    for at in 4..file.len() - mark.len() {
        if file[at..].starts_with(mark) {
            let length = usize::from(u16::from_be_bytes([file[at - 2], file[at - 1]]));
            found.extend_from_slice(&file[at + 14..at - 2 + length]);
        }
    }
    found
}

/// A job about this picture, for a printer with this profile.
pub(super) fn layout(picture: Arc<dyn Picture>, source: Source, printer: Option<IccProfile>) -> Layout {
    let mut layout = sample::layout(Order { units: Units::Metric, ..sample::order() }, picture);
    layout.order.printer.colour.profile = printer;
    layout.design = Some(sample::design(layout.order.size, 10.0));
    layout.artwork.source = source;
    layout
}

pub(super) fn tag(layout: Layout) -> Result<Layout, Fault> {
    Profile { action: Action::Tag, intent: Intent::Relative }.apply(layout)
}

pub(super) fn convert(layout: Layout, intent: Intent) -> Result<Layout, Fault> {
    Profile { action: Action::Convert, intent }.apply(layout)
}

/// Sample values that look random and are the same every time (Knuth's MMIX multiplier).
pub(super) fn noise(count: usize) -> Vec<u16> {
    let mut state = 7_u64;
    (0..count)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            u16::try_from(state >> 48).unwrap()
        })
        .collect()
}

pub(super) fn noise_bytes(count: usize) -> Vec<u8> {
    noise(count).into_iter().map(|sample| sample.to_be_bytes()[0]).collect()
}
