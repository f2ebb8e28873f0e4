//! What is drawn: the same from every window, in the picture's own colours, and counted as ink.

use std::sync::Arc;

use seamwright_contract::colour::{IccProfile, Source};
use seamwright_contract::ink::InkMap;
use seamwright_contract::picture::{Band, Channels, Picture, Pixels, Samples, Window};
use seamwright_contract::sample::numbers;
use seamwright_contract::survey::by_filling;

use super::{asked, box_of, map, piece, pixels, refusal, set, tagged, text, white};

fn said(colour: &str) -> seamwright_contract::settings::Value {
    let outline = map(&[("width", text("1mm")), ("colour", text("white"))]);
    piece(
        "Tide 7",
        ("box", box_of([10.0, 5.0, 70.0, 40.0])),
        &[("colour", text(colour)), ("outline", outline)],
    )
}

#[test]
fn any_window_shows_what_the_whole_does() {
    let layout = set(asked([100, 50], said("#204080"))).unwrap();
    let (size, whole) = pixels(&layout);
    let mut any = numbers(11);
    for _ in 0..40 {
        let (x, y) = (any(0, 900) as u32, any(0, 400) as u32);
        let window = Window::new(x, y, any(1, 100) as u32, any(1, 100) as u32);
        let mut band = Band::empty();
        layout.picture.fill(window, &mut band).unwrap();
        let Samples::Eight(seen) = &band.samples else { panic!("8 bits") };
        for row in 0..window.height {
            let at = ((y + row) * size.width + x) as usize * 3;
            let (mine, theirs) = (&seen[(row * window.width) as usize * 3..], &whole[at..]);
            for (mine, theirs) in mine.iter().zip(theirs).take(window.width as usize * 3) {
                assert!(mine.abs_diff(*theirs) <= 1, "{window:?} row {row}: {mine} {theirs}");
            }
        }
    }
}

#[test]
fn its_ink_is_counted_as_if_every_pixel_were_read() {
    let layout = set(asked([100, 50], said("#204080"))).unwrap();
    let wish = InkMap::wish(layout.design.as_ref().unwrap());
    let (short, full) =
        (layout.picture.survey(&wish).unwrap(), by_filling(layout.picture.as_ref(), &wish).unwrap());
    assert_eq!((&short.across, &short.down), (&full.across, &full.down));
    assert!(full.cells.iter().any(|cell| cell.ink > 0), "there is ink");
    for (at, (short, full)) in short.cells.iter().zip(&full.cells).enumerate() {
        assert!(
            short.ink.abs_diff(full.ink) <= 1 && short.faint.abs_diff(full.faint) <= 1,
            "{at}: {short:?} {full:?}"
        );
        if full.ink > 0 {
            assert_eq!((short.left, short.right), (full.left, full.right), "{at}");
        }
    }
    let columns = full.across.len() - 1;
    for (row, (short_ends, full_ends)) in short.inked.iter().zip(&full.inked).enumerate() {
        if full.cells[row * columns..][..columns].iter().any(|cell| cell.ink > 0) {
            assert_eq!(short_ends, full_ends, "row {row}");
        }
    }
}

#[test]
fn seen_from_afar_it_looks_alike() {
    let layout = set(asked([100, 50], said("#204080"))).unwrap();
    let small = layout.picture.reduced(Pixels::new(200, 100)).unwrap();
    let (size, whole) = pixels(&layout);
    let Samples::Eight(small) = &small.samples else { panic!("8 bits") };
    let mut off = 0;
    for (at, pixel) in small.chunks_exact(3).enumerate() {
        let (x, y) = (at % 200 * 5, at / 200 * 5);
        let mut sum = 0;
        for row in 0..5 {
            for column in 0..5 {
                sum += u32::from(whole[((y + row) * size.width as usize + x + column) * 3]);
            }
        }
        off += usize::from((sum / 25).abs_diff(u32::from(pixel[0])) > 32);
    }
    assert!(off < 40, "{off} of 20000 pixels differ");
}

#[test]
fn colours_are_the_artworks_own() {
    let (_, samples) = pixels(&set(asked([100, 50], said("#204080"))).unwrap());
    assert!(
        samples.chunks_exact(3).any(|pixel| pixel == [0x20, 0x40, 0x80]),
        "sRGB artwork takes the colour as it is"
    );
}

#[test]
fn on_gray_only_grays_are_set() {
    let gray = |colour: &str| {
        let mut layout = asked([100, 50], said(colour));
        layout.picture = white(layout.picture.size(), Channels::Gray);
        layout
    };
    assert!(refusal(gray("#204080")).what.contains("shades of gray"), "colours cannot be");
    let layout = set(gray("#303030")).unwrap();
    let mut band = Band::empty();
    layout.picture.fill(Window::whole(layout.picture.size()), &mut band).unwrap();
    assert!(matches!(&band.samples, Samples::Eight(samples) if samples.contains(&0x30)), "grays can");
}

#[test]
fn a_profile_that_cannot_be_used_is_told() {
    let profile = IccProfile { name: "broken".to_owned(), bytes: Arc::from(&b"no profile"[..]) };
    let fault = refusal(tagged(asked([100, 50], said("#204080")), Source::Embedded(profile)));
    assert!(fault.what.contains("'broken'"), "{fault:?}");
}

#[test]
fn beside_the_letters_it_is_the_picture_below() {
    let plain = asked([100, 50], said("#204080"));
    let below = Arc::clone(&plain.picture);
    let layout = set(plain).unwrap();
    let (mut shared, mut own) = (0, 0);
    let mut any = numbers(12);
    for _ in 0..200 {
        let (x, y) = (any(0, 900) as u32, any(0, 400) as u32);
        let window = Window::new(x, y, any(1, 100) as u32, any(1, 100) as u32);
        let look = |picture: &dyn Picture| {
            let mut band = Band::empty();
            picture.fill(window, &mut band).unwrap();
            band
        };
        let same = look(layout.picture.as_ref()) == look(below.as_ref());
        match layout.picture.recipe(window) {
            Some(recipe) => {
                assert_eq!((Some(recipe), same), (below.recipe(window), true), "{window:?}");
                shared += 1;
            }
            None => own += 1,
        }
        assert!(same || layout.picture.recipe(window).is_none(), "{window:?}");
    }
    assert!(shared > 40 && own > 40, "{shared} {own}");
}
