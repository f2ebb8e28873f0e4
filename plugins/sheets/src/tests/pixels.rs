//! Every pixel of every page, against the formula.

use std::collections::BTreeSet;

use lopdf::{Document, Object};
use seamwright_contract::colour::IccProfile;
use seamwright_contract::layout::Layout;
use seamwright_contract::num;
use seamwright_contract::picture::{Channels, Depth};
use seamwright_contract::plugin::Means;

use super::fixture::{Formula, MEANS, Plan, format, picture, read, samples, write};

/// Compares all pages with the formula.
fn assert_pixels(layout: &Layout, document: &Document) {
    let (design, lay_up) = (layout.design.as_ref().unwrap(), layout.lay_up.as_ref().unwrap());
    let channels = layout.picture.format().channels;
    for (id, panel) in document.get_pages().into_values().zip(&lay_up.panels) {
        let window = design.window(&panel.face);
        let (size, got) = samples(document, id, channels);
        assert_eq!(size, window.size(), "panel {}", panel.number);
        let mut wanted = Vec::with_capacity(got.len());
        for y in 0..size.height {
            for x in 0..size.width {
                let x = if layout.mirrored { size.width - 1 - x } else { x };
                let sample = |c| num::narrow(Formula::sample(window.x + x, window.y + y, c));
                wanted.extend((0..channels.count()).map(sample));
            }
        }
        assert!(got == wanted, "panel {} differs", panel.number);
    }
}

#[test]
fn every_format_comes_back() {
    for channels in [Channels::Gray, Channels::Rgb, Channels::Cmyk] {
        for depth in [Depth::Eight, Depth::Sixteen] {
            for mirrored in [true, false] {
                let layout =
                    Plan { format: format(channels, depth), mirrored, ppi: 31.0, ..Plan::default() }.layout();
                let document = read(&layout);
                assert_pixels(&layout, &document);
                let page = *document.get_pages().values().next().unwrap();
                let space = picture(&document, page).dict.get(b"ColorSpace").unwrap().as_name().unwrap();
                let device: &[u8] = match channels {
                    Channels::Gray => b"DeviceGray",
                    Channels::Rgb => b"DeviceRGB",
                    Channels::Cmyk => b"DeviceCMYK",
                };
                assert_eq!(space, device);
            }
        }
    }
}

#[test]
fn any_number_of_panels_threads_and_bands() {
    for (columns, rows) in [(1, 1), (2, 1), (3, 2), (5, 6)] {
        let layout = Plan { columns, rows, ppi: 40.0, ..Plan::default() }.layout();
        let usual = write(&layout, &MEANS, usize::MAX).unwrap();
        assert_pixels(&layout, &Document::load_mem(&usual).unwrap());
        for threads in [1, 2, 3, 8] {
            // From less than one row to plenty.
            for memory in [0, 20_000, 1 << 20, 1 << 40] {
                let same = write(&layout, &Means { memory, threads, keep: 0 }, usize::MAX).unwrap();
                assert!(same == usual, "{columns} x {rows}, {threads} threads, {memory} bytes");
            }
        }
    }
}

#[test]
fn one_profile_is_shared_by_all_pages() {
    // The head of a profile: the colour space stands in bytes 16 to 19.
    let mut bytes = vec![7; 400];
    bytes.splice(16..20, *b"RGB ");
    let profile = IccProfile { name: "a printer".to_owned(), bytes: bytes.clone().into() };
    let layout = Plan { attached: Some(profile), ..Plan::default() }.layout();
    let document = read(&layout);
    assert_pixels(&layout, &document);
    let mut ids = BTreeSet::new();
    for page in document.get_pages().into_values() {
        let space = picture(&document, page).dict.get(b"ColorSpace").unwrap().as_array().unwrap();
        assert_eq!(space.first().and_then(|name| name.as_name().ok()), Some(b"ICCBased".as_slice()));
        ids.insert(space[1].as_reference().unwrap());
    }
    assert_eq!(ids.len(), 1, "one stream");
    let stream = document.get_object(*ids.first().unwrap()).unwrap().as_stream().unwrap();
    assert_eq!(stream.decompressed_content().unwrap(), bytes);
    assert!(matches!(stream.dict.get(b"N"), Ok(Object::Integer(3))), "three components");
}
