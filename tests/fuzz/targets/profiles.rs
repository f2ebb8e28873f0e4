//! Colour profiles: of the artwork and of the printer, each used for a small conversion.

use std::sync::Arc;

use seamwright_contract::Size;
use seamwright_contract::colour::{Colour, IccProfile};
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Band, Channels, Picture, Samples, Window};
use seamwright_contract::plugin::Stage;
use seamwright_contract::sample::{self, Pixmap};
use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::{Blame, Length};

use super::{artwork, put};

/// The intents a stage may be told.
const INTENTS: [&str; 4] = ["perceptual", "relative", "saturation", "absolute"];

/// The profile of an invented dye printer.
const PRINTER: &[u8] = include_bytes!("../../data/colour/test-profiles/dye-rgb-v4.icc");

/// A profile in a picture; the first byte chooses the picture's channels and depth, and what is done with it: mostly it
/// is only opened, for a conversion takes a hundred times as long.
pub(super) fn source(data: &[u8]) {
    let Some((&choice, profile)) = data.split_first() else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("chart.tif");
    put(&path, &tiff(channels(choice), choice & 4 != 0, &with_head(profile)));
    let Some(opened) = artwork::taken(&path, &folder) else { return };
    if choice < 192 {
        return;
    }
    let mut layout = job(opened.picture);
    layout.artwork.source = opened.source;
    if choice & 8 != 0 {
        layout.order.printer.colour.profile = Some(of_printer(PRINTER));
    }
    worked(layout, choice & 8 != 0, INTENTS[usize::from(choice >> 4) % 4]);
}

/// A printer's profile; the first byte chooses the picture's channels and the intent.
pub(super) fn printer(data: &[u8]) {
    let Some((&choice, profile)) = data.split_first() else { return };
    // Of CMYK artwork only the profile says what it means; that is the other target's.
    let channels = if choice & 1 == 0 { Channels::Rgb } else { Channels::Gray };
    let samples = (0..48).map(|sample| sample * 5).collect();
    let mut layout = job(Pixmap::row(channels, Samples::Eight(samples)));
    layout.order.printer.colour.profile = Some(of_printer(&with_head(profile)));
    worked(layout, choice & 8 == 0, INTENTS[usize::from(choice >> 4) % 4]);
}

fn channels(choice: u8) -> Channels {
    match choice % 4 {
        0 | 3 => Channels::Rgb,
        1 => Channels::Gray,
        _ => Channels::Cmyk,
    }
}

fn of_printer(bytes: &[u8]) -> IccProfile {
    IccProfile { name: "printer".to_owned(), bytes: bytes.into() }
}

fn job(picture: Arc<dyn Picture>) -> Layout {
    let mut layout = sample::layout(sample::order(), picture);
    let inch = Length::from_um(25_400);
    layout.order.size = Size::new(inch, inch);
    layout.design = Some(sample::design(layout.order.size, 10.0));
    layout
}

/// The stage at work; what it gives can be looked at.
fn worked(layout: Layout, convert: bool, intent: &str) {
    match stage(convert, intent).apply(layout) {
        Ok(layout) => {
            looked_at(layout.picture.as_ref());
            looked_at(layout.seen());
            told(layout.colour().expect("colours are decided"));
        }
        Err(fault) => {
            assert!(matches!(fault.blame, Blame::Artwork | Blame::Setup), "{fault:?}");
            assert!(!fault.cure.is_empty(), "{fault:?}");
        }
    }
}

/// Figures that can be written down.
fn told(colour: &Colour) {
    let contrast = colour.contrast.on_white.iter().chain(&colour.contrast.on_blank);
    let range = colour.range.iter().flat_map(|range| [&range.share, &range.darker]);
    let mut figures = contrast.chain([&colour.ink.coverage]).chain(range);
    assert!(figures.all(|figure| figure.is_finite()), "{:?} {:?}", colour.contrast, colour.ink);
}

fn looked_at(picture: &dyn Picture) {
    let mut band = Band::empty();
    picture.fill(Window::whole(picture.size()), &mut band).expect("pixels");
    assert_eq!(band.samples.len(), band.stride() * band.size().height as usize, "a band is full");
}

fn stage(convert: bool, intent: &str) -> Box<dyn Stage> {
    let text = |word: &str| Value::Text(word.to_owned());
    let action = text(if convert { "convert" } else { "tag" });
    let settings = Value::Map(vec![("do".to_owned(), action), ("intent".to_owned(), text(intent))]);
    let complaints = Complaints::new();
    (seamwright_profile::ENTRY.parse)(&Node::root(&settings, &complaints)).expect("a stage")
}

/// A profile whose length and mark are right: nobody guesses those.
fn with_head(profile: &[u8]) -> Vec<u8> {
    let mut profile = profile.to_vec();
    let length = u32::try_from(profile.len()).expect("small").to_be_bytes();
    if let Some(place) = profile.get_mut(..4) {
        place.copy_from_slice(&length);
    }
    if let Some(place) = profile.get_mut(36..40) {
        place.copy_from_slice(b"acsp");
    }
    profile
}

/// A TIFF of 4 x 4 pixels with this profile: head, directory, bits, pixels, profile.
fn tiff(channels: Channels, deep: bool, profile: &[u8]) -> Vec<u8> {
    let count = u32::try_from(channels.count()).expect("few");
    let bits = if deep { 16 } else { 8 };
    let pixels: Vec<u8> =
        (0..16 * count * bits / 8).map(|at| u8::try_from(at * 37 % 256).expect("a byte")).collect();
    let kind = match channels {
        Channels::Gray => 1,
        Channels::Rgb => 2,
        Channels::Cmyk => 5,
    };
    let long = |value: usize| u32::try_from(value).expect("small");
    let (bits_at, pixels_at) = (8 + 2 + 10 * 12 + 4, 8 + 2 + 10 * 12 + 4 + 8);
    let profile_at = pixels_at + long(pixels.len());
    // Values of up to four bytes stand in the entry itself; two bits of 16 fit, of one channel there is one.
    let bits_entry = if count == 1 { bits } else { bits_at };
    let entries: [[u32; 4]; 10] = [
        [256, 4, 1, 4],
        [257, 4, 1, 4],
        [258, 3, count, bits_entry],
        [259, 4, 1, 1],
        [262, 4, 1, kind],
        [273, 4, 1, pixels_at],
        [277, 4, 1, count],
        [278, 4, 1, 4],
        [279, 4, 1, long(pixels.len())],
        [34675, 7, long(profile.len()), profile_at],
    ];
    let mut file = b"II*\0\x08\0\0\0\x0a\0".to_vec();
    for [tag, form, number, value] in entries {
        for short in [tag, form] {
            file.extend(u16::try_from(short).expect("a short").to_le_bytes());
        }
        file.extend(number.to_le_bytes());
        file.extend(value.to_le_bytes());
    }
    file.extend([0; 4]);
    file.extend([u8::try_from(bits).expect("a byte"), 0].repeat(4));
    file.extend(pixels);
    file.extend(profile);
    file
}
