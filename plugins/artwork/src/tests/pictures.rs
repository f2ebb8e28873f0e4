//! Pixels against another decoder, orientation against the published table, windows against the whole.

use std::path::Path;

use proptest::prelude::{ProptestConfig, prop_assert_eq, proptest};
use seamwright_contract::picture::{Band, Channels, Depth, Picture as _, Pixels, Samples, Window};
use seamwright_contract::sample::Pixmap;
use seamwright_contract::survey::{self, FAINTEST, Wish};

use super::tiff::{all, opened, written};
use super::{images, limits};
use crate::{Limits, open};

#[test]
fn pixels_are_those_another_decoder_sees() {
    let mut compared = 0;
    for entry in std::fs::read_dir(images()).expect("check data") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        // The other decoder has no ink, and knows nothing of associated alpha and orientation.
        if ["cmyk", "ycck", "assoc", "orient", "32f"].iter().any(|mark| name.contains(mark)) {
            continue;
        }
        let (Ok(ours), Ok(theirs)) = (open(&path, &limits()), image::open(&path)) else { continue };
        let alpha = theirs.color().has_alpha();
        let gray = !theirs.color().has_color();
        let sixteen = ours.picture.format().depth == Depth::Sixteen;
        let wide = if gray { theirs.to_luma_alpha16().into_raw() } else { theirs.to_rgba16().into_raw() };
        let n = if gray { 2 } else { 4 };
        // Laid over white in floats, the way the trade's editors describe it.
        let expected: Vec<f64> = wide
            .chunks_exact(n)
            .flat_map(|pixel| {
                let opacity = if alpha { f64::from(pixel[n - 1]) / 65535.0 } else { 1.0 };
                pixel[..n - 1].iter().map(move |&c| f64::from(c) * opacity + 65535.0 * (1.0 - opacity))
            })
            .collect();
        let (got, slack): (Vec<f64>, f64) = match all(&ours) {
            Samples::Eight(samples) => (samples.iter().map(|&v| f64::from(v) * 257.0).collect(), 129.0),
            Samples::Sixteen(samples) => (samples.iter().map(|&v| f64::from(v)).collect(), 0.51),
        };
        assert_eq!(got.len(), expected.len(), "{name}");
        // Two JPEG and lossy WebP decoders may round each step differently.
        let slack = if name.ends_with(".jpg") || name.contains("lossy") { 3.0 * 257.0 } else { slack };
        for (at, (got, expected)) in got.iter().zip(&expected).enumerate() {
            assert!((got - expected).abs() <= slack, "{name}, sample {at}: {got} and not {expected}");
        }
        assert_eq!(sixteen, name.contains("16"), "{name}: depth");
        compared += 1;
    }
    assert!(compared >= 25, "only {compared} were compared");
}

/// One row of the published table: the code and how stored 1 2 3 / 4 5 6 looks.
fn orientations() -> Vec<(u32, u32, Vec<u8>)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/units/exif_orientation.csv");
    let table = std::fs::read_to_string(path).expect("the table");
    let row = |line: &str| {
        let cells: Vec<_> = line.split(',').collect();
        let rows: Vec<_> = cells[6].split(" / ").collect();
        let pixels =
            cells[6].replace(" /", "").split(' ').map(|cell| cell.parse().expect("a figure")).collect();
        (cells[0].parse().expect("a code"), u32::try_from(rows.len()).expect("few"), pixels)
    };
    table.lines().skip(1).map(row).collect()
}

fn turned(code: u32, width: u32, height: u32, pixels: Vec<u8>) -> Vec<u8> {
    let entries = vec![
        (256, 4, vec![width]),
        (257, 4, vec![height]),
        (258, 3, vec![8]),
        (262, 3, vec![1]),
        (274, 3, vec![code]),
        (277, 3, vec![1]),
        (278, 4, vec![height]),
    ];
    written(entries, false, &[pixels])
}

#[test]
fn all_eight_orientations_are_those_of_the_table() {
    for (code, rows, expected) in orientations() {
        let file = turned(code, 3, 2, vec![1, 2, 3, 4, 5, 6]);
        for memory in [1 << 20, 5] {
            // Five bytes of memory: the strip of six does not fit, but it is refused and not turned wrongly.
            let Ok(made) = opened(&file, &Limits { memory, ..limits() }) else {
                assert_eq!(memory, 5, "orientation {code}");
                continue;
            };
            assert_eq!(made.picture.size(), Pixels::new(6 / rows, rows), "orientation {code}");
            assert_eq!(all(&made), Samples::Eight(expected.clone()), "orientation {code}");
            let same = made.picture.reduced(made.picture.size()).expect("its own size");
            assert_eq!(same.samples, Samples::Eight(expected.clone()), "orientation {code}, reduced");
        }
    }
}

#[test]
fn a_camera_picture_on_its_side_stands_up() {
    let made = open(&images().join("jpg_exif_orient6.jpg"), &limits()).expect("it opens");
    assert_eq!(made.picture.size(), Pixels::new(32, 64));
}

#[test]
fn reducing_keeps_the_mean_and_averages_areas() {
    // 3 columns to 2: each takes one pixel and half of the middle one.
    let made = opened(&turned(1, 3, 1, vec![0, 90, 240]), &limits()).expect("it opens");
    let small = made.picture.reduced(Pixels::new(2, 1)).expect("a small one");
    assert_eq!(small.samples, Samples::Eight(vec![30, 190]));
    let white = opened(&turned(1, 251, 113, vec![255; 251 * 113]), &limits()).expect("it opens");
    let small = white.picture.reduced(Pixels::new(7, 5)).expect("a small one");
    assert_eq!(small.samples, Samples::Eight(vec![255; 35]));
    assert!(white.picture.reduced(Pixels::new(252, 5)).is_err(), "larger than it is");
}

fn window_of(whole: &[u8], width: u32, window: Window) -> Vec<u8> {
    let at = |x: u32, y: u32| whole[usize::try_from(y * width + x).expect("small")];
    (window.y..window.y + window.height)
        .flat_map(|y| (window.x..window.x + window.width).map(move |x| at(x, y)))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_window_of_any_turned_picture_is_that_part_of_it(
        code in 1_u32..=8, width in 1_u32..40, height in 1_u32..40,
        from in (0.0..1.0_f64, 0.0..1.0_f64), to in (0.0..1.0_f64, 0.0..1.0_f64), scratch: bool,
    ) {
        let pixels: Vec<u8> = (0..width * height).map(|at| u8::try_from(at * 31 % 256).expect("a byte")).collect();
        let file = turned(code, width, height, pixels);
        // Strips of one row, so that a scratch file is used as soon as memory is short.
        let memory = if scratch { u64::from(width * height) - 1 } else { 1 << 20 };
        let Ok(made) = opened(&file, &Limits { memory, ..limits() }) else { return Ok(()) };
        let size = made.picture.size();
        let Samples::Eight(whole) = all(&made) else { return Ok(()) };
        let cut = |share: f64, of: u32| seamwright_contract::num::pixels(share * f64::from(of - 1));
        let (x, y) = (cut(from.0, size.width), cut(from.1, size.height));
        let window = Window::new(x, y, 1 + cut(to.0, size.width - x), 1 + cut(to.1, size.height - y));
        let mut band = Band::empty();
        made.picture.fill(window, &mut band).expect("a window");
        prop_assert_eq!(&band.samples, &Samples::Eight(window_of(&whole, size.width, window)));
        let wish = Wish { cells: window.size(), faintest: FAINTEST };
        let same = Pixmap { size, channels: Channels::Gray, samples: Samples::Eight(whole) };
        prop_assert_eq!(made.picture.survey(&wish).expect("a survey"), same.survey(&wish).expect("its own"));
    }
}

/// A PNG in memory and the same one in a scratch file, 16 bits a sample, turned by its Exif block.
#[test]
fn scratch_and_memory_give_the_same_bytes() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("wide.png");
    let sample =
        |x: u32, y: u32, c: u32| u16::try_from((x * 977 + y * 331 + c * 7919) % 65536).expect("16 bits");
    image::ImageBuffer::<image::Rgb<u16>, _>::from_fn(97, 61, |x, y| {
        image::Rgb([sample(x, y, 0), sample(x, y, 1), sample(x, y, 2)])
    })
    .save(&path)
    .expect("a PNG");
    let memory = open(&path, &limits()).expect("in memory").picture;
    let scratch = Limits { memory: 10_000, scratch: folder.path().to_owned(), ..limits() };
    let scratch = open(&path, &scratch).expect("in scratch").picture;
    let same = |window: Window| {
        let (mut one, mut other) = (Band::empty(), Band::empty());
        memory.fill(window, &mut one).expect("from memory");
        scratch.fill(window, &mut other).expect("from scratch");
        assert_eq!(one, other, "{window:?}");
    };
    std::thread::scope(|scope| {
        for row in 0..61 {
            scope.spawn(move || same(Window::new(row, row, 97 - row, 1)));
        }
    });
    let wish = Wish { cells: Pixels::new(13, 11), faintest: FAINTEST };
    let survey = memory.survey(&wish).expect("a survey");
    assert_eq!(survey, scratch.survey(&wish).expect("from scratch"));
    assert_eq!(survey, survey::by_filling(memory.as_ref(), &wish).expect("by filling"));
    let small = Pixels::new(13, 11);
    assert_eq!(memory.reduced(small).expect("small"), scratch.reduced(small).expect("small"));
    assert_eq!(
        std::fs::read_dir(folder.path()).expect("the folder").count(),
        1,
        "the scratch file has no name"
    );
}
