//! The colours themselves, against the engine's own exact path and against figures worked out without it.

use lcms2::{Flags, PixelFormat, Profile, Transform};
use seamwright_contract::colour::{IccProfile, Intent, Source};
use seamwright_contract::picture::{Channels, Samples};
use seamwright_contract::{Lab, num};

use super::fixture::{Pixmap, bytes, cmyk, convert, display_p3, dyes, layout, noise_bytes, tag};
use crate::engine::Engine;
use crate::{engine, icc};

const ASSUMED: Source = Source::Srgb { said: false };

/// Double precision, no tables, black points matched for the relative intent.
fn exact(from: &IccProfile, to: &IccProfile, intent: Intent, pixels: &[u8]) -> Vec<[f64; 3]> {
    let (source, target) = (Profile::new_icc(&from.bytes).unwrap(), Profile::new_icc(&to.bytes).unwrap());
    let mut flags = Flags::NO_OPTIMIZE;
    if intent == Intent::Relative {
        flags = flags | Flags::BLACKPOINT_COMPENSATION;
    }
    let spoken = engine::spoken(intent);
    let (rgb, transform) = (
        pixels.as_chunks::<3>().0.iter().map(|p| p.map(|v| f64::from(v) / 255.0)).collect::<Vec<_>>(),
        Transform::<[f64; 3], [f64; 3]>::new_flags(
            &source,
            PixelFormat::RGB_DBL,
            &target,
            PixelFormat::RGB_DBL,
            spoken,
            flags,
        )
        .unwrap(),
    );
    let mut out = vec![[0.0; 3]; rgb.len()];
    transform.transform_pixels(&rgb, &mut out);
    out
}

/// What a printer of this profile prints for its own values, relative to its white.
fn printed(profile: &IccProfile, values: &[[f64; 3]]) -> Vec<Lab> {
    let d50 = lcms2::CIExyY { x: 0.3457, y: 0.3585, Y: 1.0 };
    let lab = Profile::new_lab4_context(lcms2::GlobalContext::new(), &d50).unwrap();
    let transform = Transform::<[f64; 3], [f64; 3]>::new_flags(
        &Profile::new_icc(&profile.bytes).unwrap(),
        PixelFormat::RGB_DBL,
        &lab,
        PixelFormat::Lab_DBL,
        lcms2::Intent::RelativeColorimetric,
        Flags::NO_OPTIMIZE,
    )
    .unwrap();
    let mut out = vec![[0.0; 3]; values.len()];
    transform.transform_pixels(values, &mut out);
    out.into_iter().map(|[l, a, b]| Lab::new(l, a, b)).collect()
}

fn mean_and_worst(differences: &[f64]) -> (f64, f64) {
    let count = f64::from(u32::try_from(differences.len()).unwrap());
    (differences.iter().sum::<f64>() / count, differences.iter().copied().fold(0.0, f64::max))
}

#[test]
fn conversion_agrees_with_the_exact_path() {
    let mut pixels = noise_bytes(3 * 20_000);
    pixels.extend((0..=255).flat_map(|level| [level; 3]));
    for dye in dyes() {
        for intent in [Intent::Relative, Intent::Perceptual] {
            let picture = Pixmap::row(Channels::Rgb, Samples::Eight(pixels.clone()));
            let done = convert(layout(picture, ASSUMED, Some(dye.clone())), intent).unwrap();
            let ours: Vec<[f64; 3]> = bytes(done.picture.as_ref())
                .as_chunks::<3>()
                .0
                .iter()
                .map(|p| p.map(|v| f64::from(v) / 255.0))
                .collect();
            let theirs = exact(&icc::srgb().unwrap(), &dye, intent, &pixels);
            let differences: Vec<f64> = printed(&dye, &ours)
                .into_iter()
                .zip(printed(&dye, &theirs))
                .map(|(a, b)| a.difference(b))
                .collect();
            let (mean, worst) = mean_and_worst(&differences);
            println!("{} {}: mean {mean:.3}, worst {worst:.3}", dye.name, intent.word());
            assert!(mean <= 0.1 && worst <= 1.0, "{} {intent:?}: mean {mean}, worst {worst}", dye.name);
        }
    }
}

#[test]
fn profiles_of_a_matrix_each_differ_by_rounding_alone() {
    let (srgb, p3) = (icc::srgb().unwrap(), display_p3());
    for (from, to) in [(&srgb, &p3), (&p3, &srgb), (&srgb, &srgb), (&p3, &p3)] {
        for intent in [Intent::Relative, Intent::Perceptual, Intent::Saturation] {
            let engine =
                Engine::new((&from.bytes, Channels::Rgb), (&to.bytes, Channels::Rgb), intent, false).unwrap();
            assert!(engine.is_matrix(), "{} to {}, {intent:?}", from.name, to.name);
            let grays = (0..=255_u8).flat_map(|gray| [gray; 3]);
            let pixels: Vec<u8> = noise_bytes(30_000).into_iter().chain(grays).collect();
            let mut ours = vec![0; pixels.len()];
            assert!(engine.convert_rgb(&Samples::Eight(pixels.clone()), &mut ours), "RGB is converted");
            let mut fine = vec![0; pixels.len()];
            let widened = pixels.iter().map(|sample| num::widen(*sample)).collect();
            assert!(engine.convert_rgb(&Samples::Sixteen(widened), &mut fine), "of 16 bits too");
            assert_eq!(ours, fine, "either depth is the same colour");
            let theirs = exact(from, to, intent, &pixels);
            let most = ours
                .iter()
                .zip(theirs.as_flattened())
                .map(|(one, other)| (f64::from(*one) - other.clamp(0.0, 1.0) * 255.0).abs());
            let most = most.fold(0.0, f64::max);
            assert!(most < 0.85, "{} to {}, {intent:?}: {most:.2} codes", from.name, to.name);
        }
    }
    let [dye, _] = dyes();
    let engine =
        Engine::new((&srgb.bytes, Channels::Rgb), (&dye.bytes, Channels::Rgb), Intent::Relative, true);
    assert!(!engine.unwrap().is_matrix(), "tables are no matrix");
}

#[test]
fn white_stays_bare() {
    let whites = [
        (Channels::Rgb, Samples::Eight(vec![255; 3]), ASSUMED),
        (Channels::Rgb, Samples::Sixteen(vec![65_535; 3]), ASSUMED),
        (Channels::Gray, Samples::Eight(vec![255]), ASSUMED),
        (Channels::Rgb, Samples::Eight(vec![255; 3]), Source::Embedded(display_p3())),
        (Channels::Cmyk, Samples::Eight(vec![0; 4]), Source::Embedded(cmyk())),
    ];
    for (channels, samples, source) in whites {
        for printer in dyes().into_iter().chain([cmyk(), display_p3()]) {
            if matches!(&source, Source::Embedded(own) if *own == printer) {
                continue;
            }
            for intent in [Intent::Relative, Intent::Perceptual, Intent::Saturation] {
                let picture = Pixmap::row(channels, samples.clone());
                let done = convert(layout(picture, source.clone(), Some(printer.clone())), intent).unwrap();
                let case = format!("{channels:?} {source:?} to {} {intent:?}", printer.name);
                let format = done.picture.format();
                let bare = vec![format.channels.bare(); format.channels.count()];
                assert_eq!(bytes(done.picture.as_ref()), bare, "{case}");
                let seen = bytes(done.on_screen.expect("it was converted").as_ref());
                assert!(seen.iter().all(|sample| *sample == 255), "{case}, on screen: {seen:?}");
            }
        }
    }
}

#[test]
fn a_cmyk_printer_gets_four_inks_and_none_on_white() {
    let samples = Samples::Sixteen(vec![65_535, 65_535, 65_535, 0, 0, 0]);
    let asked = layout(Pixmap::row(Channels::Rgb, samples), ASSUMED, Some(cmyk()));
    let done = convert(asked, Intent::Relative).unwrap();
    assert_eq!(done.picture.format().channels, Channels::Cmyk, "four samples a pixel");
    let found = bytes(done.picture.as_ref());
    assert_eq!(found[..4], [0; 4], "white takes no ink");
    assert!(found[4..].iter().map(|ink| u32::from(*ink)).sum::<u32>() > 510, "black takes much: {found:?}");
}

#[test]
fn grays_do_not_fall_together_in_the_shadows() {
    for dye in dyes() {
        let ramp: Vec<u8> = (0..=255).flat_map(|level| [level; 3]).collect();
        let picture = Pixmap::row(Channels::Rgb, Samples::Eight(ramp));
        let done = convert(layout(picture, ASSUMED, Some(dye.clone())), Intent::Relative).unwrap();
        let found = bytes(done.picture.as_ref());
        let same = found.as_chunks::<3>().0.windows(2).filter(|pair| pair[0] == pair[1]).count();
        assert!(same <= 16, "{}: {same} of 255 steps are lost", dye.name);
    }
}

#[test]
fn colours_on_screen_are_those_of_the_artwork() {
    // Display P3 colours that sRGB can show, and their Lab worked out from published figures.
    let table = include_str!("../../../../tests/data/colour/rgb-to-lab-d50.csv");
    let mut seen = 0;
    for line in table.lines().filter(|line| line.starts_with("Display P3")) {
        let n: Vec<f64> = line.split(',').skip(1).map(|field| field.parse().unwrap()).collect();
        let pixel: Vec<u8> = line.split(',').skip(1).take(3).map(|field| field.parse().unwrap()).collect();
        if pixel.contains(&0) {
            continue;
        }
        let wide: Vec<u16> = pixel.iter().map(|v| u16::from(*v) * 257).collect();
        for samples in [Samples::Eight(pixel.clone()), Samples::Sixteen(wide)] {
            let picture = Pixmap::row(Channels::Rgb, samples);
            let source = Source::Embedded(display_p3());
            let done = tag(layout(picture, source, None)).unwrap();
            let found = bytes(done.on_screen.unwrap().as_ref());
            let off = Lab::of_srgb([found[0], found[1], found[2]]).difference(Lab::new(n[3], n[4], n[5]));
            assert!(off < 1.0, "{line}: seen as {found:?}, {off} away");
        }
        seen += 1;
    }
    assert_eq!(seen, 6, "white, three grays, two colours");
}
