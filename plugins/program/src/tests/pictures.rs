//! Pictures in files (judge: the `image` crate's TIFF, which reads ours and writes others), and windows of them.

use std::fs::{self, File};
use std::sync::Arc;

use image::{DynamicImage, ImageBuffer, ImageDecoder as _, ImageFormat, Luma, Rgb};
use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert, prop_assert_eq, proptest};
use proptest::sample::select;
use seamwright_contract::colour::{IccProfile, Source};
use seamwright_contract::num;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::sample::{self, Pixmap};
use seamwright_contract::survey::{self, Wish};

use super::put;
use crate::raster::{PICTURE, Raster, hand_over};
use crate::scratch::Scratch;
use crate::tiff;

fn pictures() -> impl Strategy<Value = Pixmap> {
    let channels = select(&[Channels::Gray, Channels::Rgb, Channels::Cmyk][..]);
    let depth = select(&[Depth::Eight, Depth::Sixteen][..]);
    let things = proptest::collection::vec((any::<(u32, u32)>(), any::<[u16; 4]>()), 0..30);
    (1_u32..90, 1_u32..150, channels, depth, things).prop_map(|(width, height, channels, depth, things)| {
        let mut picture = Pixmap::bare(Pixels::new(width, height), Format { channels, depth });
        for ((x, y), samples) in things {
            let (x, y) = (x % width, y % height);
            picture.paint(Window::new(x, y, 1 + x % (width - x), 1 + y % (height - y)), &samples);
        }
        picture
    })
}

fn all(picture: &dyn Picture, want: Window) -> Samples {
    let mut band = Band::empty();
    picture.fill(want, &mut band).unwrap();
    band.samples
}

/// A picture through a file and back.
fn through(picture: &Pixmap, scratch: &Scratch) -> Raster {
    let mut layout = sample::layout(sample::order(), Arc::new(picture.clone()));
    layout.design = Some(sample::design(layout.order.size, 300.0));
    hand_over(&layout, scratch).unwrap();
    tiff::open(scratch.open(PICTURE).unwrap(), PICTURE, &(picture.size, picture.channels)).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_window_of_a_file_is_that_of_the_picture(picture in pictures(), at in any::<[u32; 4]>(), cells in (1_u32..20, 1_u32..20)) {
        let folder = tempfile::tempdir().unwrap();
        let raster = through(&picture, &Scratch::new(folder.path()).unwrap());
        let (width, height) = (picture.size.width, picture.size.height);
        let (x, y) = (at[0] % width, at[1] % height);
        let window = Window::new(x, y, 1 + at[2] % (width - x), 1 + at[3] % (height - y));
        prop_assert_eq!(raster.format(), picture.format());
        prop_assert_eq!(all(&raster, window), all(&picture, window));
        prop_assert_eq!(all(&raster, Window::whole(picture.size)), picture.samples.clone());
        prop_assert!(raster.fill(Window::new(x, y, width, height + 1), &mut Band::empty()).is_err());
        prop_assert_eq!(raster.recipe(window), None, "what a program made of a window nobody knows");
        let wish = Wish { cells: Pixels::new(cells.0, cells.1), faintest: 8 };
        prop_assert_eq!(raster.survey(&wish).unwrap(), survey::by_filling(&picture, &wish).unwrap());

        // Reduced, each pixel is the mean of its part of the picture, which whole borders part evenly.
        let size = Pixels::new(cells.0.min(width), cells.1.min(height));
        let reduced = raster.reduced(size).unwrap();
        prop_assert_eq!((reduced.size(), reduced.format()), (size, picture.format()));
        let floats = |samples: &Samples| -> Vec<f64> {
            match samples {
                Samples::Eight(all) => all.iter().map(|v| f64::from(*v)).collect(),
                Samples::Sixteen(all) => all.iter().map(|v| f64::from(*v)).collect(),
            }
        };
        let (full, small, n) = (floats(&picture.samples), floats(&reduced.samples), picture.channels.count());
        let (w, h) = (width as usize, height as usize);
        for (at, mean) in small.chunks(n).enumerate() {
            let (i, j) = (at % size.width as usize, at / size.width as usize);
            let across = w * i / size.width as usize..w * (i + 1) / size.width as usize;
            let down = h * j / size.height as usize..h * (j + 1) / size.height as usize;
            for (c, mean) in mean.iter().enumerate() {
                let part: Vec<f64> = down.clone().flat_map(|y| across.clone().map(move |x| (y * w + x) * n + c)).map(|at| full[at]).collect();
                prop_assert!((part.iter().sum::<f64>() / f64::from(num::count(part.len())) - mean).abs() <= 0.5 + 1e-9, "{} {}", at, c);
            }
        }
    }
}

#[test]
fn others_read_what_is_handed_over() {
    let folder = tempfile::tempdir().unwrap();
    let scratch = Scratch::new(folder.path()).unwrap();
    let mut picture =
        Pixmap::bare(Pixels::new(7, 5), Format { channels: Channels::Rgb, depth: Depth::Sixteen });
    picture.paint(Window::new(1, 2, 3, 2), &[1, 500, 65_000]);
    let mut layout = sample::layout(sample::order(), Arc::new(picture.clone()));
    layout.design = Some(sample::design(layout.order.size, 300.0));
    let profile =
        IccProfile { name: "workshop".to_owned(), bytes: Arc::from(&b"not read by anybody here"[..]) };
    layout.artwork.source = Source::Embedded(profile.clone());
    let given = hand_over(&layout, &scratch).unwrap();
    assert_eq!(given.profile.as_deref(), Some("workshop"));

    let path = scratch.path().join(PICTURE);
    let reader = std::io::BufReader::new(File::open(&path).unwrap());
    let mut decoder = image::codecs::tiff::TiffDecoder::new(reader).unwrap();
    assert_eq!(decoder.icc_profile().unwrap().as_deref(), Some(&*profile.bytes));
    let DynamicImage::ImageRgb16(read) = DynamicImage::from_decoder(decoder).unwrap() else {
        panic!("RGB in 16 bits")
    };
    assert_eq!(Samples::Sixteen(read.into_raw()), picture.samples);
}

#[test]
fn what_others_write_is_read_and_what_cannot_be_meant_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let scratch = Scratch::new(folder.path()).unwrap();
    let path = scratch.path().join("out.tif");
    let open = |size: (u32, u32), channels| {
        tiff::open(scratch.open("out.tif")?, "out.tif", &(Pixels::new(size.0, size.1), channels))
    };
    // Many strips, as this library writes them.
    let tall = ImageBuffer::from_fn(300, 900, |x, y| {
        Rgb([x % 256, y % 256, x * y % 251].map(|v| u8::try_from(v).unwrap()))
    });
    tall.save_with_format(&path, ImageFormat::Tiff).unwrap();
    let raster = open((300, 900), Channels::Rgb).unwrap();
    assert_eq!(all(&raster, Window::whole(Pixels::new(300, 900))), Samples::Eight(tall.into_raw()));
    assert!(open((300, 901), Channels::Rgb).unwrap_err().contains("300 x 900"));
    assert!(open((300, 900), Channels::Gray).is_err() && open((300, 900), Channels::Cmyk).is_err());

    let whole = fs::read(&path).unwrap();
    put(&path, &whole[..whole.len() / 2]);
    assert!(open((300, 900), Channels::Rgb).is_err(), "cut off");
    for length in 0..64 {
        put(&path, &whole[..length]);
        assert!(open((300, 900), Channels::Rgb).is_err(), "of {length} bytes");
    }
    ImageBuffer::from_pixel(9, 9, image::Rgba([1_u8, 2, 3, 4]))
        .save_with_format(&path, ImageFormat::Tiff)
        .unwrap();
    assert!(open((9, 9), Channels::Rgb).unwrap_err().contains("channels"), "transparent");
    ImageBuffer::from_pixel(9, 9, Luma([7_u16])).save_with_format(&path, ImageFormat::Tiff).unwrap();
    let gray = open((9, 9), Channels::Gray).unwrap();
    assert_eq!(all(&gray, Window::new(3, 3, 1, 1)), Samples::Sixteen(vec![7]));
}

#[test]
fn either_byte_order_is_read() {
    // By hand after TIFF 6.0: one gray pixel of 16 bits, big-endian, its strip after the directory.
    let entry = |tag: u16, kind: u16, value: u32| {
        let short = kind == 3;
        let value = if short { value << 16 } else { value };
        [&tag.to_be_bytes()[..], &kind.to_be_bytes(), &1_u32.to_be_bytes(), &value.to_be_bytes()].concat()
    };
    let entries = [
        entry(256, 4, 1),
        entry(257, 4, 1),
        entry(258, 3, 16),
        entry(259, 3, 1),
        entry(262, 3, 1),
        entry(273, 4, 8 + 2 + 8 * 12 + 4),
        entry(277, 3, 1),
        entry(279, 4, 2),
    ];
    let file = [
        &b"MM\0\x2a\0\0\0\x08"[..],
        &8_u16.to_be_bytes(),
        &entries.concat(),
        &[0; 4],
        &0x1234_u16.to_be_bytes(),
    ];
    let folder = tempfile::tempdir().unwrap();
    let scratch = Scratch::new(folder.path()).unwrap();
    put(scratch.path().join("out.tif"), file.concat());
    let wanted = (Pixels::new(1, 1), Channels::Gray);
    let raster = tiff::open(scratch.open("out.tif").unwrap(), "out.tif", &wanted).unwrap();
    assert_eq!(all(&raster, Window::new(0, 0, 1, 1)), Samples::Sixteen(vec![0x1234]));
}
