//! The promises of a picture: any window, any order, any thread, and the same samples from either depth.

use std::sync::Arc;

use seamwright_contract::colour::{Intent, Source};
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::survey::{FAINTEST, SurveyCell, Wish};

use super::fixture::{Pixmap, bytes, cmyk, convert, dyes, layout, noise, noise_bytes, tag};

const ASSUMED: Source = Source::Srgb { said: false };
const SIZE: Pixels = Pixels { width: 230, height: 170 };

/// Noise above, even areas below: more than one piece of it.
fn picture() -> Arc<dyn Picture> {
    let mut samples = noise_bytes(230 * 170 * 3);
    samples[230 * 90 * 3..].fill(255);
    samples[230 * 130 * 3..230 * 150 * 3].fill(64);
    Arc::new(Pixmap { size: SIZE, channels: Channels::Rgb, samples: Samples::Eight(samples) })
}

fn converted(picture: Arc<dyn Picture>) -> Arc<dyn Picture> {
    let [_, dye] = dyes();
    convert(layout(picture, ASSUMED, Some(dye)), Intent::Relative).unwrap().picture
}

fn part(whole: &[u8], want: Window) -> Vec<u8> {
    let (x, width) = (want.x as usize * 3, want.width as usize * 3);
    let rows = whole.chunks_exact(SIZE.width as usize * 3).skip(want.y as usize).take(want.height as usize);
    rows.flat_map(|row| row[x..x + width].to_vec()).collect()
}

#[test]
fn windows_are_parts_of_the_whole_from_any_thread() {
    let picture = converted(picture());
    assert_eq!((picture.size(), picture.format()), (SIZE, Format::RGB8), "size and form");
    let whole = bytes(picture.as_ref());
    let windows = [
        Window::new(0, 0, 1, 1),
        Window::new(13, 88, 200, 60),
        Window::new(229, 0, 1, 170),
        Window::new(5, 5, 0, 9),
    ];
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut band = Band::empty();
                for want in windows.iter().rev().chain(&windows) {
                    picture.fill(*want, &mut band).unwrap();
                    assert_eq!(band.samples, Samples::Eight(part(&whole, *want)), "{want:?}");
                }
            });
        }
    });
}

#[test]
fn runs_change_no_pixel() {
    let whole = bytes(converted(picture()).as_ref());
    let one = |pixel: Vec<u8>| bytes(converted(Pixmap::row(Channels::Rgb, Samples::Eight(pixel))).as_ref());
    assert!(part(&whole, Window::new(0, 90, 230, 40)).iter().all(|v| *v == 255), "bare stays bare");
    let dark = one(vec![64; 3]);
    let band = part(&whole, Window::new(0, 130, 230, 20));
    assert!(band.as_chunks::<3>().0.iter().all(|pixel| pixel[..] == dark[..]), "even stays even");
}

#[test]
fn a_conversion_of_a_conversion_may_share_a_thread() {
    let twice = converted(converted(picture()));
    assert_eq!(bytes(twice.as_ref()).len(), 230 * 170 * 3, "every sample");
    let recipe = |picture: &dyn Picture| picture.recipe(Window::new(0, 0, 9, 9)).unwrap();
    assert_eq!(recipe(twice.as_ref()).matches("by conversion").count(), 2, "{}", recipe(twice.as_ref()));
    // Other tests that come in between have conversions of their own kept.
    let mut pairs = (0..100).map(|_| [converted(picture()), converted(picture())]);
    let same = pairs.any(|[one, other]| recipe(one.as_ref()) == recipe(other.as_ref()));
    assert!(same, "the same conversion is made once");
}

#[test]
fn the_reduced_picture_is_converted_too() {
    let source = picture();
    let small = source.reduced(Pixels::new(40, 30)).unwrap();
    let same = Pixmap { size: small.size(), channels: Channels::Rgb, samples: small.samples };
    let reduced = converted(source).reduced(Pixels::new(40, 30)).unwrap();
    assert_eq!((reduced.size(), reduced.format()), (Pixels::new(40, 30), Format::RGB8), "size and form");
    assert_eq!(reduced.samples, Samples::Eight(bytes(converted(Arc::new(same)).as_ref())), "colours");
}

/// Two by two patches of 10 pixels: bare, red, gray and nearly bare.
fn patches(depth: Depth) -> Arc<dyn Picture> {
    let mut picture = Pixmap::bare(Pixels::new(20, 20), Format { channels: Channels::Rgb, depth });
    picture.paint(Window::new(10, 0, 10, 10), &[0xF000, 0x2000, 0x1000]);
    picture.paint(Window::new(0, 10, 10, 10), &[0x8000; 3]);
    picture.paint(Window::new(10, 10, 10, 10), &[250 * 257; 3]);
    Arc::new(picture)
}

const FOUR: Wish = Wish { cells: Pixels::new(2, 2), faintest: FAINTEST };

#[test]
fn ink_is_where_the_artwork_has_it_and_means_are_in_the_printers_colours() {
    let [dye, _] = dyes();
    for (depth, printer) in [(Depth::Eight, &dye), (Depth::Sixteen, &dye), (Depth::Eight, &cmyk())] {
        let source = patches(depth);
        let done =
            convert(layout(Arc::clone(&source), ASSUMED, Some(printer.clone())), Intent::Relative).unwrap();
        let (found, own) = (done.picture.survey(&FOUR).unwrap(), source.survey(&FOUR).unwrap());
        assert_eq!(found.cells.iter().map(|cell| cell.ink).collect::<Vec<_>>(), [0, 255, 255, 0], "ink");
        assert_eq!((found.cells, found.inked), (own.cells, own.inked), "the artwork's");
        // The mean of an even patch is its colour, as any of its pixels is converted.
        let middles = done.picture.reduced(Pixels::new(2, 2)).unwrap();
        assert_eq!(found.means.format(), done.picture.format(), "the printer's channels");
        let (Samples::Eight(means), Samples::Eight(middles)) = (found.means.samples, middles.samples) else {
            panic!("8 bits");
        };
        let apart = means.iter().zip(&middles).map(|(a, b)| a.abs_diff(*b)).max();
        assert!(apart <= Some(1), "{}: {means:?} and not {middles:?}", printer.name);
    }
}

#[test]
fn only_narrowed_it_is_surveyed_as_it_was() {
    let source = patches(Depth::Sixteen);
    let seen = tag(layout(Arc::clone(&source), ASSUMED, None)).unwrap().on_screen.unwrap();
    assert_eq!(seen.survey(&FOUR).unwrap(), source.survey(&FOUR).unwrap(), "the same in 8 bits");
}

#[test]
fn where_white_is_tinted_every_cell_is_inked_to_its_borders() {
    let [dye, _] = dyes();
    let done = convert(layout(patches(Depth::Eight), ASSUMED, Some(dye)), Intent::Absolute).unwrap();
    let white = &bytes(done.picture.as_ref())[..3];
    assert!(white.iter().any(|sample| *sample < 255), "the paper's white is not the blank's: {white:?}");
    let survey = done.picture.survey(&FOUR).unwrap();
    let cell = |left, right| SurveyCell { ink: 255, faint: 0, left, right };
    assert_eq!(
        survey.cells,
        [cell(0.0, 10.0), cell(10.0, 20.0), cell(0.0, 10.0), cell(10.0, 20.0)],
        "all of it"
    );
    assert_eq!(survey.inked, [[0.0, 10.0], [10.0, 20.0]], "from top to bottom");
}

#[test]
fn a_window_beyond_the_picture_is_a_fault() {
    let picture = converted(picture());
    let beyond = picture.fill(Window::new(200, 0, 31, 1), &mut Band::empty());
    assert!(beyond.is_err(), "31 pixels from 200 of 230");
}

#[test]
fn sixteen_bits_of_the_same_colours_give_the_same() {
    let eight = noise_bytes(3 * 500);
    let sixteen = eight.iter().map(|v| u16::from(*v) * 257).collect();
    let of = |samples| bytes(converted(Pixmap::row(Channels::Rgb, samples)).as_ref());
    assert_eq!(of(Samples::Eight(eight)), of(Samples::Sixteen(sixteen)), "either depth");
}

#[test]
fn sixteen_bit_srgb_is_only_narrowed_on_screen() {
    for channels in [Channels::Gray, Channels::Rgb] {
        let samples = noise(300);
        let narrow: Vec<u8> =
            samples.iter().map(|v| u8::try_from((u32::from(*v) + 128) / 257).unwrap()).collect();
        let picture = Pixmap::row(channels, Samples::Sixteen(samples));
        let seen = tag(layout(picture, ASSUMED, None)).unwrap().on_screen.unwrap();
        assert_eq!(bytes(seen.as_ref()), narrow, "{channels:?}");
    }
}
