//! What is said to become of the colours: what the printer lacks, contrast on the blank, ink.

use std::collections::BTreeMap;
use std::sync::Arc;

use seamwright_contract::Lab;
use seamwright_contract::catalogue::{PaperColour, Shape};
use seamwright_contract::colour::{Colour, InkRange, Intent, Source};
use seamwright_contract::geometry::Rect;
use seamwright_contract::layout::{Layout, Weight};
use seamwright_contract::outline::Outline;
use seamwright_contract::picture::{Channels, Depth, Format, Pixels, Samples, Window};
use seamwright_contract::units::Length;

use super::fixture::{Pixmap, convert, display_p3, dyes, layout, tag};

const SAID: Source = Source::Srgb { said: true };

/// A picture of 100 x 50 pixels, its left `columns` of one colour and the rest of another.
fn halves(columns: u32, left: [u8; 3], right: [u8; 3]) -> Arc<Pixmap> {
    let mut picture = Pixmap::bare(Pixels::new(100, 50), Format::RGB8);
    let wide = |rgb: [u8; 3]| rgb.map(|part| u16::from(part) * 257);
    picture.paint(Window::new(0, 0, columns, 50), &wide(left));
    picture.paint(Window::new(columns, 0, 100 - columns, 50), &wide(right));
    Arc::new(picture)
}

fn colour(layout: &Layout) -> &Colour {
    layout.colour.as_ref().unwrap()
}

fn warned(layout: &Layout, words: &str) -> bool {
    layout.notices.iter().any(|n| n.weight == Weight::Warning && n.text.contains(words))
}

#[test]
fn what_the_printer_lacks_is_found_where_it_is() {
    for dye in dyes() {
        for (done, converted) in [
            (
                convert(layout(halves(30, [0, 255, 0], [128; 3]), SAID, Some(dye.clone())), Intent::Relative),
                true,
            ),
            (tag(layout(halves(30, [0, 255, 0], [128; 3]), SAID, Some(dye.clone()))), false),
        ] {
            let done = done.unwrap();
            let range = colour(&done).range.as_ref().expect("the profile tells");
            // sRGB green is far out of the reach of any dye; a middle gray is not.
            assert!((range.share - 0.3).abs() < 0.005 && range.darker == 0.0, "{range:?}");
            let cell = |x: u32| range.map.cells[usize::try_from(range.map.size.width * x / 100).unwrap()];
            assert!(cell(10) > 10.0 && cell(60) < 2.0, "{} and {}", cell(10), cell(60));
            let [worst] = range.worst[..] else { panic!("one colour, one swatch: {:?}", range.worst) };
            assert!(worst.artwork.difference(Lab::of_srgb([0, 255, 0])) < 0.5, "{worst:?}");
            assert!(worst.difference > 10.0 && worst.printed.chroma() < worst.artwork.chroma(), "{worst:?}");
            assert!((worst.share - 0.3).abs() < 0.005, "{worst:?}");
            assert!(worst.at.x < done.order.size.width.share(0.3), "{worst:?}");
            assert!(warned(&done, "30 % of the design"), "{:?}", done.notices);
            assert_eq!(colour(&done).converted.is_some(), converted);
        }
    }
}

#[test]
fn blacks_no_dye_reaches_are_counted_apart() {
    let [dye, _] = dyes();
    let done = convert(layout(halves(40, [0; 3], [255; 3]), SAID, Some(dye)), Intent::Relative).unwrap();
    let range = colour(&done).range.as_ref().unwrap();
    assert!((range.share - 0.4).abs() < 0.005 && (range.darker - range.share).abs() < 1e-9, "{range:?}");
    assert_eq!(range.worst, [], "nothing is less vivid");
    assert!(done.notices.iter().all(|n| n.weight == Weight::Remark), "{:?}", done.notices);
}

#[test]
fn colours_of_the_printer_are_within_its_reach() {
    // tests/data/colour/profile-rgb-to-lab.csv: device colours and their Lab, by another library. What the printer
    // itself prints is in reach but for the coarseness of its tables, which are off by 2 at most.
    let [dye, _] = dyes();
    let table = include_str!("../../../../tests/data/colour/profile-rgb-to-lab.csv");
    let labs: Vec<Lab> = table
        .lines()
        .skip(1)
        .map(|line| {
            let n: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            Lab::new(n[3], n[4], n[5])
        })
        .collect();
    assert_eq!(labs.len(), 40);
    let nearest = crate::exact::nearest(&dye.bytes, &labs).unwrap();
    for (lab, near) in labs.iter().zip(&nearest) {
        assert!(lab.difference(*near) < InkRange::BEYOND * 0.75, "{lab:?} comes back as {near:?}");
    }
    // And the way there: the same table's device values give these Lab values.
    let values: Vec<u16> = table
        .lines()
        .skip(1)
        .flat_map(|line| line.split(',').take(3).collect::<Vec<_>>())
        .map(|cell| {
            u16::try_from(seamwright_contract::num::round(cell.parse::<f64>().unwrap() * 65535.0)).unwrap()
        })
        .collect();
    let found = crate::exact::labs(&dye.bytes, Channels::Rgb, &values).unwrap();
    for (lab, found) in labs.iter().zip(found) {
        assert!(lab.difference(found) < 0.01, "{lab:?} for {found:?}");
    }
}

#[test]
fn a_printer_without_a_profile_says_nothing_of_its_range() {
    let done = tag(layout(halves(50, [0, 255, 0], [255; 3]), SAID, None)).unwrap();
    assert_eq!(colour(&done).range, None);
    let done = tag(layout(halves(50, [0, 255, 0], [255; 3]), SAID, Some(display_p3()))).unwrap();
    assert_eq!(colour(&done).range, None, "a display prints nothing");
}

#[test]
fn contrast_is_what_the_blank_leaves_of_it() {
    let on = |l: f64| {
        let mut layout = layout(halves(50, [0; 3], [255; 3]), SAID, None);
        layout.order.blank.colour = Lab::new(l, 0.0, 0.0);
        tag(layout).unwrap()
    };
    let white = on(100.0);
    assert!(white.notices.is_empty(), "{:?}", white.notices);
    let gray = on(80.0);
    let contrast = colour(&gray).contrast;
    assert!((contrast.on_white[1] - 100.0).abs() < 0.01 && contrast.on_white[0].abs() < 0.01, "{contrast:?}");
    assert!((contrast.on_blank[1] - 80.0).abs() < 0.01 && contrast.on_blank[0].abs() < 0.01, "{contrast:?}");
    assert!(gray.notices.is_empty(), "80 of 100 are left");
    assert!(warned(&on(60.0), "cannot lighten"), "a dark blank");
    assert!(warned(&on(25.0), "within 25"), "too dark to read: {:?}", on(25.0).notices);
}

#[test]
fn beyond_the_outline_nothing_counts() {
    // A round design all black, on a white box: the corners are no part of it.
    let mut asked = layout(halves(100, [0; 3], [0; 3]), SAID, None);
    let size = asked.order.size;
    let round = Outline::new(Shape::Oval, Rect::of_size(size), Length::ZERO);
    asked.design.as_mut().unwrap().outline = round;
    let done = tag(asked).unwrap();
    assert!(colour(&done).contrast.on_white[1] < 1.0, "black to its lightest part");
    // Ink over the box: pi / 4 of it.
    let coverage = colour(&done).ink.coverage;
    assert!((coverage - std::f64::consts::FRAC_PI_4).abs() < 0.01, "{coverage}");
}

#[test]
fn ink_is_the_density_that_comes_back() {
    let cover = |rgb: [u8; 3]| colour(&tag(layout(halves(100, rgb, rgb), SAID, None)).unwrap()).ink.coverage;
    assert!(cover([255; 3]).abs() < 1e-4 && (cover([0; 3]) - 1.0).abs() < 1e-4, "none and all");
    // IEC 61966-2-1: code 128 gives back 0.21586 of the light; density 0.6658 of 1.5229.
    assert!((cover([128; 3]) - 0.6658 / 1.5229).abs() < 0.001, "{}", cover([128; 3]));
    // One part of three blocked: cyan ink alone, of full coverage a third.
    assert!((cover([0, 255, 255]) - 1.0 / 3.0).abs() < 0.001, "{}", cover([0, 255, 255]));
    let mut measured = layout(halves(50, [0; 3], [255; 3]), SAID, None);
    measured.order.printer.full_ink = Some(20.0);
    let size = measured.order.size;
    let done = tag(measured).unwrap();
    let ml = colour(&done).ink.ml.unwrap();
    let wanted = 20.0 * 0.5 * size.width.mm() * size.height.mm() / 1e6;
    assert!((ml - wanted).abs() < 0.001, "{ml} for {wanted}");
}

#[test]
fn papers_have_profiles_and_intents_of_their_own_and_the_order_has_the_last_word() {
    let [usual, other] = dyes();
    let mut asked = layout(halves(50, [20, 90, 140], [255; 3]), SAID, Some(usual.clone()));
    let legal = {
        let mut paper = asked.order.papers[0].clone();
        paper.name = "legal".into();
        paper
    };
    let own = PaperColour { profile: Some(other.clone()), intent: Some(Intent::Saturation) };
    asked.order.printer.on_paper = BTreeMap::from([("legal".to_owned(), own)]);
    asked.order.papers.push(legal.clone());
    let how = |layout: Layout| {
        let done = convert(layout, Intent::Perceptual).unwrap();
        let how = colour(&done).converted.clone().unwrap();
        (how.to, how.intent, done)
    };
    let (to, intent, done) = how(asked.clone());
    assert_eq!((to, intent), (usual.name.clone(), Intent::Perceptual), "the stage's, on the usual paper");
    assert_eq!(done.order.papers.len(), 1, "papers of another profile are not weighed against it");
    assert!(
        done.notices.iter().any(|n| n.text.contains("legal not weighed")),
        "and that is said: {:?}",
        done.notices
    );

    asked.order.papers = vec![legal];
    let (to, intent, _) = how(asked.clone());
    assert_eq!((to, intent), (other.name.clone(), Intent::Saturation), "the paper's own");
    asked.order.intent = Some(Intent::Relative);
    assert_eq!(how(asked).1, Intent::Relative, "the order's");
}

#[test]
fn sixteen_bits_of_linear_light_do_not_fall_together_on_the_sheets() {
    // Darks in linear light: in 8 bits all of this ramp would be three codes, each over 2 from the next in CIEDE2000.
    let linear = linear_light();
    let ramp: Vec<u16> = (0..60_u16).flat_map(|n| [n * 12, n * 10, n * 11]).collect();
    let picture = Pixmap::row(Channels::Rgb, Samples::Sixteen(ramp.clone()));
    let done = tag(layout(picture, Source::Described(linear.clone()), None)).unwrap();
    let attached = colour(&done).attached.clone().unwrap();
    assert_eq!(attached, crate::icc::srgb().unwrap(), "sRGB holds them");
    let wide: Vec<u16> = super::fixture::bytes(done.picture.as_ref())
        .into_iter()
        .map(seamwright_contract::num::widen)
        .collect();
    let wanted = crate::exact::labs(&linear.bytes, Channels::Rgb, &ramp).unwrap();
    let found = crate::exact::labs(&attached.bytes, Channels::Rgb, &wide).unwrap();
    for (wanted, found) in wanted.iter().zip(found) {
        assert!(wanted.difference(found) < 1.0, "{found:?} for {wanted:?}");
    }
    // A curve made for eyes loses nothing worth a word.
    let usual = tag(layout(Pixmap::row(Channels::Rgb, Samples::Sixteen(ramp)), SAID, None)).unwrap();
    assert_eq!(usual.picture.format().depth, Depth::Sixteen, "left as it is");
}

/// The primaries of sRGB in linear light.
fn linear_light() -> seamwright_contract::colour::IccProfile {
    let point = |x, y| lcms2::CIExyY { x, y, Y: 1.0 };
    let corners =
        lcms2::CIExyYTRIPLE { Red: point(0.64, 0.33), Green: point(0.30, 0.60), Blue: point(0.15, 0.06) };
    let curve = lcms2::ToneCurve::new(1.0);
    let made = lcms2::Profile::new_rgb(&point(0.3127, 0.3290), &corners, &[&curve, &curve, &curve]).unwrap();
    super::fixture::profile("linear light", &made.icc().unwrap())
}
