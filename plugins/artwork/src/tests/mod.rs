//! Every case of the check data, cut-off files of every format, and windows against the whole.

mod drawings;
mod hostile;
mod pictures;
mod png;
mod tiff;

use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_contract::Blame;
use seamwright_contract::colour::Source;
use seamwright_contract::picture::{Band, Picture, Pixels, Samples, Window};
use seamwright_contract::survey::{self, FAINTEST, Wish};

use crate::{Limits, Opened, looks_complete, open};

fn images() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/colour/images")
}

fn limits() -> Limits {
    Limits {
        pixels: 1 << 30,
        bytes: 1 << 30,
        memory: 1 << 28,
        profile_bytes: 16 << 20,
        scratch: std::env::temp_dir(),
        drawing: Duration::from_secs(60),
        fonts: PathBuf::new(),
    }
}

fn first_pixel(picture: &dyn Picture) -> Vec<f64> {
    let mut band = Band::empty();
    picture.fill(Window::new(0, 0, 1, 1), &mut band).expect("a pixel");
    match band.samples {
        Samples::Eight(samples) => samples.into_iter().map(f64::from).collect(),
        Samples::Sixteen(samples) => samples.into_iter().map(f64::from).collect(),
    }
}

/// Files that must be refused: their colours are contradictory, lost, or of a kind not read here.
const REFUSED: &[&str] = &[
    "jpg_rgb_multichunk_missing.jpg",
    "jpg_cmyk_app14_inv_noicc.jpg",
    "png_rgb8_iccp_cmyk_wrong.png",
    "png_rgb8_iccp_garbage.png",
    "png_rgb8_iccp_badzlib.png",
    "tif_cielab8.tif",
];

/// Files that may be opened, if rightly, or refused.
const EITHER: &[&str] = &[
    "tif_cmyk8_planar.tif",
    "tif_rgb16_planar.tif",
    "tif_palette8.tif",
    "tif_jpeg_ycbcr.tif",
    "jpg_ycck_app14_inv.jpg",
    "tif_cmyka8.tif",
];

#[test]
fn every_case_of_the_check_data_is_opened_rightly_or_refused() {
    // tests/data/colour/images/expected.csv: what each file is, and its first pixel as stored.
    let table = std::fs::read_to_string(images().join("expected.csv")).expect("the table");
    let mut opened = 0;
    for row in table.lines().skip(1) {
        let name = row.split(',').next().expect("a name");
        let truth = row.split('"').next().map_or(row, |_| row);
        match open(&images().join(name), &limits()) {
            Err(fault) => {
                assert!(REFUSED.contains(&name) || EITHER.contains(&name), "{name} is refused: {fault}");
                assert!(fault.blame == Blame::Artwork && !fault.cure.is_empty(), "{name}: {fault}");
            }
            Ok(artwork) => {
                assert!(!REFUSED.contains(&name), "{name} is opened");
                colours_are_right(name, truth, &artwork);
                opened += 1;
            }
        }
    }
    assert!(opened >= 40, "only {opened} were opened");
}

/// The first pixel against the stored one, where no transparency was laid over white.
fn colours_are_right(name: &str, row: &str, artwork: &Opened) {
    let stored: Vec<f64> = true_pixel(row);
    let alpha =
        ["_ga8_", "_pal_iccp.png", "trns", "rgba8", "cmyka8", "alpha"].iter().any(|mark| name.contains(mark));
    if alpha && !name.contains("_pal_iccp.png") {
        return;
    }
    let got = first_pixel(artwork.picture.as_ref());
    let scale = if stored.iter().any(|value| value.fract() != 0.0) { 65535.0 } else { 1.0 };
    for (got, stored) in got.iter().zip(&stored) {
        assert!((got - stored * scale).abs() <= scale.max(1.0) * 1.01, "{name}: {got} and not {stored}");
    }
}

/// The third column, in which the figures stand apart by spaces.
fn true_pixel(row: &str) -> Vec<f64> {
    let mut cells = Vec::new();
    let (mut cell, mut quoted) = (String::new(), false);
    for c in row.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(std::mem::take(&mut cell)),
            c => cell.push(c),
        }
    }
    cells[2].split(' ').map(|figure| figure.parse().expect("a figure")).collect()
}

#[test]
fn what_a_file_says_of_its_colours_is_not_lost() {
    for (name, embedded) in [
        ("tif_rgb8.tif", true),
        ("jpg_rgb_multichunk_outoforder.jpg", true),
        ("webp_lossy_p3.webp", true),
        ("png_rgb8_gama1.png", false),
        ("png_rgb8_gama_chrm_oprgb.png", false),
        ("png_rgb8_cicp_p3.png", false),
        ("png_rgb8_cicp_p3_iccp_srgb.png", false),
        ("jpg_exif_oprgb_noicc.jpg", false),
    ] {
        let artwork = open(&images().join(name), &limits()).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        let rightly = if embedded {
            matches!(artwork.source, Source::Embedded(_))
        } else {
            matches!(artwork.source, Source::Described(_))
        };
        assert!(rightly, "{name}: {:?}", artwork.source);
    }
}

#[test]
fn a_cut_off_file_is_refused_and_never_filled_up() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in [
        "png_rgb8_iccp.png",
        "png_rgb16_iccp.png",
        "jpg_rgb_p3.jpg",
        "jpg_rgb_prog_multichunk.jpg",
        "tif_rgb8.tif",
        "webp_lossless_p3.webp",
    ] {
        let whole = std::fs::read(images().join(name)).expect("the file");
        for part in [1, 20, 50, 80, 95, 99] {
            let cut = folder.path().join(name);
            let length = whole.len() * part / 100;
            File::create(&cut).and_then(|mut file| file.write_all(&whole[..length])).expect("a cut file");
            let came = open(&cut, &limits());
            // A TIFF may keep its pixels first and carry nothing after them that matters.
            assert!(came.is_err() || name.ends_with(".tif"), "{name} cut to {part} % is opened");
            if !name.ends_with(".tif") && length > 16 {
                assert_eq!(
                    looks_complete(File::open(&cut).expect("a file")).expect("it can be read"),
                    Some(false),
                    "{name} cut to {part} %"
                );
            }
        }
        assert_ne!(
            looks_complete(File::open(images().join(name)).expect("a file")).expect("it can be read"),
            Some(false),
            "{name} is whole"
        );
    }
}

#[test]
fn what_is_no_picture_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, bytes) in [
        ("empty.png", &b""[..]),
        ("words.png", b"just some words"),
        ("head.png", b"\x89PNG\r\n\x1a\n"),
        ("head.jpg", b"\xff\xd8\xff\xe0"),
    ] {
        let path = folder.path().join(name);
        File::create(&path).and_then(|mut file| file.write_all(bytes)).expect("a file");
        let fault = open(&path, &limits()).expect_err(name);
        assert!(fault.blame == Blame::Artwork && fault.place == name && !fault.cure.is_empty(), "{fault}");
    }
}

/// A picture whose every sample tells its place, saved as PNG.
fn places(path: &Path, width: u32, height: u32) {
    let byte = |value: u32| u8::try_from(value % 251).expect("below 251");
    image::RgbImage::from_fn(width, height, |x, y| image::Rgb([byte(x), byte(y), byte(x * 7 + y * 3)]))
        .save(path)
        .expect("a PNG");
}

#[test]
fn a_window_is_that_part_of_the_whole_in_memory_and_from_scratch() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("places.png");
    places(&path, 301, 203);
    let reference = image::open(&path).expect("another decoder").to_rgb8();
    for memory in [1 << 28, 10_000] {
        let limits = Limits { memory, scratch: folder.path().to_owned(), ..limits() };
        let picture = open(&path, &limits).expect("it opens").picture;
        assert_eq!(picture.size(), Pixels::new(301, 203));
        for window in
            [Window::whole(picture.size()), Window::new(17, 30, 5, 100), Window::new(300, 202, 1, 1)]
        {
            let mut band = Band::empty();
            picture.fill(window, &mut band).expect("a window");
            let expected =
                image::imageops::crop_imm(&reference, window.x, window.y, window.width, window.height)
                    .to_image();
            assert_eq!(band.samples, Samples::Eight(expected.into_raw()), "{window:?}");
        }
        let wish = Wish { cells: Pixels::new(30, 20), faintest: FAINTEST };
        let filled = survey::by_filling(picture.as_ref(), &wish).expect("a survey by filling");
        assert_eq!(picture.survey(&wish).expect("a survey"), filled);
        assert!(picture.fill(Window::new(301, 0, 1, 1), &mut Band::empty()).is_err(), "beyond the picture");
        let small = picture.reduced(Pixels::new(30, 20)).expect("a small one");
        assert_eq!(small.size(), Pixels::new(30, 20));
    }
}

#[test]
fn limits_are_said_with_their_figures() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("places.png");
    places(&path, 300, 200);
    let fault = open(&path, &Limits { pixels: 59_999, ..limits() }).expect_err("too many pixels");
    assert!(fault.what.contains("60000") && fault.what.contains("59999"), "{fault}");
}
