//! TIFF forms beyond the check data, written here byte by byte after TIFF 6.0.

use std::path::Path;

use seamwright_contract::picture::{Band, Channels, Samples, Window};
use seamwright_contract::{Blame, Fault};

use super::limits;
use crate::{Limits, Opened, open};

/// A tag, its type (1 byte, 3 short, 4 long) and its values.
type Entry = (u16, u16, Vec<u32>);

/// A little-endian TIFF of one directory, whose strips or tiles are `chunks` and stand last.
pub(super) fn written(entries: Vec<Entry>, tiled: bool, chunks: &[Vec<u8>]) -> Vec<u8> {
    // The head's length does not depend on the offsets in it.
    let start = head(entries.clone(), tiled, chunks, 0).len();
    let mut file = head(entries, tiled, chunks, start);
    file.extend(chunks.iter().flatten());
    file
}

fn head(mut entries: Vec<Entry>, tiled: bool, chunks: &[Vec<u8>], start: usize) -> Vec<u8> {
    let long = |value: usize| u32::try_from(value).expect("small");
    let starts = chunks.iter().scan(start, |at, chunk| {
        *at += chunk.len();
        Some(long(*at - chunk.len()))
    });
    let (offset, length) = if tiled { (324, 325) } else { (273, 279) };
    entries.push((offset, 4, starts.collect()));
    entries.push((length, 4, chunks.iter().map(|chunk| long(chunk.len())).collect()));
    entries.sort();
    let mut file = b"II\x2a\0\x08\0\0\0".to_vec();
    file.extend(u16::try_from(entries.len()).expect("few").to_le_bytes());
    let mut lists = Vec::new();
    let after = file.len() + entries.len() * 12 + 4;
    for (tag, kind, values) in &entries {
        file.extend(tag.to_le_bytes());
        file.extend(kind.to_le_bytes());
        file.extend(long(values.len()).to_le_bytes());
        let width = if *kind == 3 { 2 } else { 4 };
        let mut bytes: Vec<u8> =
            values.iter().flat_map(|value| value.to_le_bytes().into_iter().take(width)).collect();
        if bytes.len() > 4 {
            file.extend(long(after + lists.len()).to_le_bytes());
            lists.append(&mut bytes);
        } else {
            bytes.resize(4, 0);
            file.append(&mut bytes);
        }
    }
    file.extend([0; 4]);
    file.append(&mut lists);
    file
}

fn base(width: u32, height: u32, bits: u32, photometric: u32, samples: u32) -> Vec<Entry> {
    vec![
        (256, 4, vec![width]),
        (257, 4, vec![height]),
        (258, 3, vec![bits; usize::try_from(samples).expect("few")]),
        (262, 3, vec![photometric]),
        (277, 3, vec![samples]),
        (278, 4, vec![height]),
    ]
}

pub(super) fn opened(file: &[u8], limits: &Limits) -> Result<Opened, Fault> {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("made.tif");
    std::io::Write::write_all(&mut std::fs::File::create(&path).expect("a file"), file).expect("written");
    open(Path::new(&path), limits)
}

pub(super) fn all(opened: &Opened) -> Samples {
    let mut band = Band::empty();
    opened.picture.fill(Window::whole(opened.picture.size()), &mut band).expect("pixels");
    band.samples
}

fn eight(entries: Vec<Entry>, chunks: &[Vec<u8>]) -> Vec<u8> {
    let made = opened(&written(entries, false, chunks), &limits()).expect("it opens");
    match all(&made) {
        Samples::Eight(samples) => samples,
        Samples::Sixteen(_) => panic!("8 bits became 16"),
    }
}

fn refused(entries: Vec<Entry>, chunks: &[Vec<u8>], because: &str) {
    let fault = opened(&written(entries, false, chunks), &limits()).expect_err(because);
    assert!(fault.blame == Blame::Artwork && fault.what.contains(because), "{fault}");
}

#[test]
fn few_bits_are_spread_and_white_is_zero_turned_round() {
    // 10 pixels of one bit: 1010 0000 11, rows padded to whole bytes.
    let bits = vec![vec![0b1010_0000, 0b1100_0000]];
    let black = [255, 0, 255, 0, 0, 0, 0, 0, 255, 255];
    assert_eq!(eight(base(10, 1, 1, 1, 1), &bits), black);
    assert_eq!(eight(base(10, 1, 1, 0, 1), &bits), black.map(|sample: u8| !sample));
    assert_eq!(eight(base(3, 1, 4, 1, 1), &[vec![0x0F, 0x30]]), [0, 255, 51]);
    assert_eq!(eight(base(4, 1, 2, 1, 1), &[vec![0b0001_1011]]), [0, 85, 170, 255]);
}

#[test]
fn alpha_is_laid_over_white_by_its_kind() {
    let with = |kind, photometric, samples| {
        let mut entries = base(2, 1, 8, photometric, samples);
        entries.push((338, 3, vec![kind]));
        entries
    };
    // Straight: c·a + white·(1-a); premultiplied: the white part is added; opaque pixels stay.
    let pixels = vec![vec![100, 50, 25, 128, 9, 8, 7, 255]];
    assert_eq!(eight(with(2, 2, 4), &pixels), [177, 152, 140, 9, 8, 7]);
    assert_eq!(eight(with(1, 2, 4), &pixels), [227, 177, 152, 9, 8, 7]);
    let gray = vec![vec![100, 128, 9, 255]];
    assert_eq!(eight(with(2, 1, 2), &gray), [177, 9]);
    assert_eq!(eight(with(1, 1, 2), &gray), [227, 9]);
    // A channel of no stated meaning is not opacity, and is mentioned.
    assert_eq!(eight(with(0, 2, 4), &pixels), [100, 50, 25, 9, 8, 7]);
    let made = opened(&written(with(0, 2, 4), false, &pixels), &limits()).expect("it opens");
    assert!(made.notices.iter().any(|notice| notice.contains("extra channel")), "{:?}", made.notices);
}

#[test]
fn planes_tiles_and_strips_of_the_same_pixels_are_the_same_picture() {
    let (width, height) = (19_u32, 37_u32);
    let sample = |x: u32, y: u32, c: u32| u8::try_from((x * 3 + y * 7 + c * 50) % 256).expect("a byte");
    let rows = |from: u32, to: u32, channels: &[u32]| -> Vec<u8> {
        (from..to.min(height))
            .flat_map(|y| (0..width).flat_map(move |x| channels.iter().map(move |&c| sample(x, y, c))))
            .collect()
    };
    let expected = rows(0, height, &[0, 1, 2]);
    let mut strips = base(width, height, 8, 2, 3);
    strips.retain(|entry| entry.0 != 278);
    strips.push((278, 4, vec![10]));
    let chunks: Vec<_> = (0..4).map(|strip| rows(strip * 10, strip * 10 + 10, &[0, 1, 2])).collect();
    assert_eq!(eight(strips.clone(), &chunks), expected);
    strips.push((284, 3, vec![2]));
    let planes: Vec<_> =
        (0..3).flat_map(|c| (0..4).map(move |strip| rows(strip * 10, strip * 10 + 10, &[c]))).collect();
    assert_eq!(eight(strips, &planes), expected);
    let tile = |column: u32, row: u32, channels: &[u32]| -> Vec<u8> {
        (row * 16..row * 16 + 16)
            .flat_map(|y| {
                (column * 16..column * 16 + 16)
                    .flat_map(move |x| channels.iter().map(move |&c| sample(x, y, c)))
            })
            .collect()
    };
    let mut tiled = base(width, height, 8, 2, 3);
    tiled.retain(|entry| entry.0 != 278);
    tiled.extend([(322, 4, vec![16]), (323, 4, vec![16])]);
    let grid = || (0..3).flat_map(|row| (0..2).map(move |column| (column, row)));
    let chunky: Vec<_> = grid().map(|(column, row)| tile(column, row, &[0, 1, 2])).collect();
    for memory in [1 << 28, 2000] {
        let limits = Limits { memory, ..limits() };
        let made = opened(&written(tiled.clone(), true, &chunky), &limits).expect("tiles");
        assert_eq!(all(&made), Samples::Eight(expected.clone()), "tiles with {memory} bytes of memory");
    }
    tiled.push((284, 3, vec![2]));
    let planar: Vec<_> =
        (0..3).flat_map(|c| grid().map(move |(column, row)| tile(column, row, &[c]))).collect();
    let made = opened(&written(tiled, true, &planar), &limits()).expect("tiles in planes");
    assert_eq!(all(&made), Samples::Eight(expected));
}

#[test]
fn sixteen_bits_and_ink_stay_and_the_orientation_is_followed() {
    let mut entries = base(2, 1, 16, 1, 1);
    entries.push((274, 3, vec![3]));
    let made = opened(&written(entries, false, &[vec![1, 2, 3, 4]]), &limits()).expect("it opens");
    assert_eq!(all(&made), Samples::Sixteen(vec![0x0403, 0x0201]));
    assert_eq!(made.picture.format().channels, Channels::Gray);
}

#[test]
fn what_would_come_out_wrong_is_refused_by_name() {
    let with = |mut entries: Vec<Entry>, entry: Entry| {
        entries.retain(|old| old.0 != entry.0);
        entries.push(entry);
        entries
    };
    let rgb = || base(2, 1, 8, 2, 3);
    let pixels = vec![vec![9; 8]];
    refused(with(rgb(), (254, 4, vec![1])), &pixels, "preview");
    refused(with(rgb(), (266, 3, vec![2])), &pixels, "reverse order");
    refused(with(rgb(), (259, 3, vec![7])), &pixels, "JPEG");
    refused(base(2, 1, 8, 2, 4), &pixels, "extra samples");
    refused(base(2, 1, 8, 6, 3), &pixels, "YCbCr");
    refused(base(2, 1, 8, 8, 3), &pixels, "Lab");
    refused(with(base(2, 1, 8, 5, 4), (332, 3, vec![2])), &pixels, "inks other than CMYK");
    refused(base(2, 1, 8, 5, 4), &pixels, "without a profile");
    refused(with(base(2, 1, 32, 1, 1), (339, 3, vec![3])), &pixels, "floating-point");
    let extra = with(with(base(2, 1, 8, 2, 4), (338, 3, vec![0])), (317, 3, vec![2]));
    refused(extra, &pixels, "extra channels");
}

#[test]
fn a_strip_that_is_cut_off_is_refused_wherever_it_ends() {
    let whole = written(base(40, 40, 8, 2, 3), false, &[vec![7; 4800]]);
    assert!(opened(&whole, &limits()).is_ok(), "the whole file");
    for missing in [1, 120, 2400, 4799, 4800, 4810, 4900] {
        let fault = opened(&whole[..whole.len() - missing], &limits()).expect_err("cut off");
        assert!(fault.blame == Blame::Artwork, "{fault}");
    }
}

#[test]
fn hostile_sizes_are_refused_at_once() {
    for (width, height) in [(65_535, 65_535), (1 << 31, 1 << 31), (1 << 31, 1), (1, 1 << 31), (0, 5), (5, 0)]
    {
        let fault = opened(&written(base(width, height, 8, 2, 3), false, &[vec![7; 9]]), &limits())
            .expect_err("hostile");
        assert!(fault.blame == Blame::Artwork, "{width} x {height}: {fault}");
        let mut tiled = base(20, 20, 8, 2, 3);
        tiled.retain(|entry| entry.0 != 278);
        tiled.extend([(322, 4, vec![width]), (323, 4, vec![height])]);
        let fault = opened(&written(tiled, true, &[vec![7; 9]]), &limits()).expect_err("hostile tiles");
        assert!(fault.blame == Blame::Artwork, "tiles of {width} x {height}: {fault}");
    }
}

#[test]
fn a_strip_being_decoded_counts_as_memory_beside_the_picture() {
    let file = written(base(100, 100, 8, 1, 1), false, &[vec![90; 10_000]]);
    let nowhere = Limits { memory: 40_000, scratch: "/no/such/folder".into(), ..limits() };
    assert!(opened(&file, &nowhere).is_ok(), "strip, band and picture fit");
    let fault = opened(&file, &Limits { memory: 25_000, ..nowhere.clone() }).expect_err("not all three");
    assert!(fault.what.contains("scratch"), "the picture goes to the disk: {fault}");
    let fault = opened(&file, &Limits { memory: 19_000, ..nowhere }).expect_err("not even the first two");
    assert!(fault.what.contains("memory at once"), "{fault}");
}
