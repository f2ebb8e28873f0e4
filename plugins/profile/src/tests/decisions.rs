//! What is attached, converted, said and refused.

use seamwright_contract::Blame;
use seamwright_contract::colour::{Intent, Source};
use seamwright_contract::layout::{Layout, Weight};
use seamwright_contract::picture::{Channels, Samples, Window};
use seamwright_contract::settings::{Complaints, Node, Value};

use super::fixture::{Pixmap, bytes, cmyk, convert, display_p3, dyes, layout, profile, tag};
use crate::icc;

const ASSUMED: Source = Source::Srgb { said: false };

fn job(channels: Channels, source: Source) -> Layout {
    layout(Pixmap::row(channels, Samples::Eight(vec![90; channels.count() * 2])), source, None)
}

fn for_printer(source: Source, printer: seamwright_contract::colour::IccProfile) -> Layout {
    layout(Pixmap::row(Channels::Rgb, Samples::Eight(vec![90; 6])), source, Some(printer))
}

#[test]
fn the_example_parses_and_a_wrong_word_is_named() {
    for (text, known) in [
        ("{do: convert, intent: perceptual}", true),
        ("{}", true),
        ("{do: converted}", false),
        ("{intents: relative}", false),
    ] {
        let value: Value = serde_yaml::from_str(text).unwrap();
        let complaints = Complaints::new();
        let stage = (crate::ENTRY.parse)(&Node::root(&value, &complaints));
        assert!(stage.is_some(), "{text}: parsing goes on");
        assert_eq!(complaints.is_empty(), known, "{text}");
    }
    let value: Value = serde_yaml::from_str(crate::ENTRY.example).unwrap();
    let complaints = Complaints::new();
    let (word, settings) = Node::root(&value, &complaints).step("stage", &["profile"]).unwrap();
    assert_eq!(word, crate::ENTRY.name, "the example is one of this stage");
    assert!((crate::ENTRY.parse)(&settings).is_some() && complaints.is_empty(), "the example is right");
}

#[test]
fn built_in_profiles_are_the_same_in_every_run() {
    // Digests would change with the engine; a date and an identifier left in would change by the second.
    for made in [icc::srgb, icc::srgb_gray] {
        let one = made().unwrap();
        assert_eq!(&one.bytes[24..36], &[0x07, 0xD0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0], "a fixed date");
        assert_eq!(&one.bytes[84..100], &[0; 16], "no identifier");
        std::thread::sleep(std::time::Duration::from_millis(1_100));
        assert_eq!(one, made().unwrap(), "a second later");
    }
}

#[test]
fn tagging_attaches_what_the_colours_are_and_touches_no_pixel() {
    let done = tag(job(Channels::Rgb, ASSUMED)).unwrap();
    let colour = done.colour.as_ref().unwrap();
    assert_eq!(colour.converted, None, "nothing is converted");
    assert_eq!(colour.attached, Some(icc::srgb().unwrap()), "sRGB by decision");
    assert!(done.notices[0].text.contains("taken as sRGB"), "and that is said: {:?}", done.notices);
    assert!(done.on_screen.is_none(), "it looks as it is");
    assert_eq!(bytes(done.picture.as_ref()), [90; 6], "untouched");

    let gray = tag(job(Channels::Gray, Source::Srgb { said: true })).unwrap();
    assert_eq!(gray.colour.unwrap().attached, Some(icc::srgb_gray().unwrap()), "gray");
    assert_eq!(gray.notices, [], "nothing was assumed");

    for (channels, own) in [(Channels::Rgb, display_p3()), (Channels::Cmyk, cmyk())] {
        let done = tag(job(channels, Source::Embedded(own.clone()))).unwrap();
        assert_eq!(done.colour.unwrap().attached, Some(own), "its own profile");
        assert_eq!(done.on_screen.unwrap().format().channels, Channels::Rgb, "seen in sRGB");
    }
}

#[test]
fn converting_names_the_printer_profile_and_embeds_it_if_wanted() {
    for dye in dyes() {
        for embed in [true, false] {
            let mut asked = for_printer(ASSUMED, dye.clone());
            asked.order.printer.embed = embed;
            let done = convert(asked, Intent::Relative).unwrap();
            let colour = done.colour.unwrap();
            assert_eq!(colour.attached.is_some(), embed, "embedded only if asked for");
            let how = colour.converted.unwrap();
            assert_eq!((how.to, how.black_point), (dye.name.clone(), true), "named");
            let seen = done.on_screen.expect("the picture no longer shows how it looks");
            // As it prints, and a gray of this tone is printed well within reach: nearly as it was, its black lifted.
            let seen = bytes(seen.as_ref());
            assert!(seen.iter().all(|sample| (90..125).contains(sample)), "on screen as printed: {seen:?}");
            let recipe = done.picture.recipe(Window::new(0, 0, 1, 1)).unwrap();
            assert!(recipe.starts_with("by conversion"), "{recipe}");
        }
    }
}

#[test]
fn artwork_in_the_printers_own_profile_is_left_alone() {
    let [dye, _] = dyes();
    let done = convert(for_printer(Source::Embedded(dye.clone()), dye), Intent::Relative).unwrap();
    assert_eq!(bytes(done.picture.as_ref()), [90; 6], "untouched");
    assert!(done.notices.iter().any(|n| n.text.contains("nothing was converted")), "said");
    assert!(done.colour.unwrap().converted.is_some(), "the sheets hold the printer's values");
}

#[test]
fn black_points_are_reported_as_the_engine_matches_them() {
    let [v2, v4] = dyes();
    for (dye, intent, matched) in [
        (&v2, Intent::Perceptual, false),
        (&v4, Intent::Perceptual, true),
        (&v2, Intent::Saturation, false),
        (&v2, Intent::Absolute, false),
        (&v4, Intent::Absolute, false),
    ] {
        let done = convert(for_printer(ASSUMED, dye.clone()), intent).unwrap();
        assert_eq!(
            done.colour.unwrap().converted.unwrap().black_point,
            matched,
            "{} {}",
            dye.name,
            intent.word()
        );
        let warned = done.notices.iter().any(|n| n.weight == Weight::Warning);
        assert_eq!(warned, intent == Intent::Absolute, "only absolute prints a tint");
    }
}

#[test]
fn a_display_profile_as_printer_is_warned_about() {
    let done = convert(for_printer(ASSUMED, display_p3()), Intent::Relative).unwrap();
    assert!(
        done.notices.iter().any(|n| n.weight == Weight::Warning && n.text.contains("desk-letter")),
        "{:?}",
        done.notices
    );
}

#[test]
fn printer_profiles_that_cannot_be_used_are_the_studios_to_mend() {
    let [dye, _] = dyes();
    let with = |at: usize, word: &[u8]| {
        let mut bytes = dye.bytes.to_vec();
        bytes[at..at + word.len()].copy_from_slice(word);
        profile("altered", &bytes)
    };
    let without_relative = {
        let table = dye.bytes.windows(4).position(|word| word == b"B2A1").unwrap();
        with(table, b"none")
    };
    let wrong = [
        (profile("garbage", &[0x5A; 400]), "damaged"),
        (profile("empty", &[]), "damaged"),
        (profile("cut short", &dye.bytes[..140]), "desk-letter"),
        (with(12, b"link"), "not one of a printer"),
        (with(12, b"scnr"), "not one of a printer"),
        (with(16, b"Lab "), "neither RGB"),
        (without_relative, "no table for the intent 'relative'"),
    ];
    for (wrong, says) in wrong {
        let name = wrong.name.clone();
        let fault = convert(for_printer(ASSUMED, wrong), Intent::Relative).unwrap_err();
        assert_eq!(fault.blame, Blame::Setup, "{name}: {fault}");
        assert!(fault.to_string().contains(says) && !fault.cure.is_empty(), "{name}: {fault}");
    }
    let none = convert(job(Channels::Rgb, ASSUMED), Intent::Relative).unwrap_err();
    assert!(none.blame == Blame::Setup && none.what.contains("desk-letter"), "{none}");
}

#[test]
fn artwork_whose_colours_cannot_be_known_is_refused() {
    let [dye, _] = dyes();
    let link = {
        let mut bytes = dye.bytes.to_vec();
        bytes[12..16].copy_from_slice(b"link");
        profile("link", &bytes)
    };
    let wrong = [
        (Channels::Cmyk, ASSUMED, "without a profile"),
        (Channels::Rgb, Source::Embedded(cmyk()), "is for CMYK"),
        (Channels::Gray, Source::Embedded(display_p3()), "is for RGB"),
        (Channels::Rgb, Source::Embedded(icc::srgb_gray().unwrap()), "is for gray"),
        (Channels::Rgb, Source::Embedded(profile("garbage", &[7; 500])), "damaged"),
        (Channels::Rgb, Source::Described(profile("cut short", &dye.bytes[..200])), "damaged"),
        (Channels::Rgb, Source::Embedded(link), "does not describe"),
    ];
    for (channels, source, says) in wrong {
        let fault = tag(job(channels, source)).unwrap_err();
        assert_eq!(fault.blame, Blame::Artwork, "{fault}");
        assert_eq!(fault.place, "chart.png", "{fault}");
        assert!(fault.what.contains(says) && !fault.cure.is_empty(), "{says}: {fault}");
    }
}

#[test]
fn bytes_changed_anywhere_never_panic() {
    let [dye, _] = dyes();
    for (n, at) in super::fixture::noise(24).into_iter().enumerate() {
        let mut bytes = display_p3().bytes.to_vec();
        let place = usize::from(at) % bytes.len();
        bytes[place] ^= 1 << (n % 8);
        let changed = profile("changed", &bytes);
        let outcomes = [
            tag(job(Channels::Rgb, Source::Embedded(changed.clone()))),
            convert(for_printer(Source::Embedded(changed), dye.clone()), Intent::Perceptual),
        ];
        for done in outcomes.into_iter().flatten() {
            assert_eq!(bytes_of(&done), 6, "pixels still come");
        }
    }
}

fn bytes_of(layout: &Layout) -> usize {
    bytes(layout.picture.as_ref()).len()
}
