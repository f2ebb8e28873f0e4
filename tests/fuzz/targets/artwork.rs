//! Artwork: every decoder, under small limits.

use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_artwork::{FileKind, Limits, Opened, Wanted, begin, looks_complete, open, sniff};
use seamwright_contract::picture::{Band, Picture, Pixels, Place, Samples, Window};
use seamwright_contract::survey::{self, FAINTEST, Wish};
use seamwright_contract::{Blame, Fault};
use tempfile::TempDir;

use super::put;

/// Pictures are small here, so that many are tried.
const PIXELS: u64 = 1 << 18;
const MEMORY: u64 = 1 << 21;
/// What a drawing may take, which is parsed into much more than its text.
const DRAWING_MEMORY: u64 = 1 << 25;
/// So little that all but the smallest pictures stream through a scratch file.
const LITTLE_MEMORY: u64 = 1 << 14;

pub(super) fn png(data: &[u8]) {
    opened(&with_sums(data), FileKind::Png);
}

pub(super) fn jpeg(data: &[u8]) {
    opened(data, FileKind::Jpeg);
}

pub(super) fn tiff(data: &[u8]) {
    opened(data, FileKind::Tiff);
}

pub(super) fn webp(data: &[u8]) {
    opened(data, FileKind::WebP);
}

pub(super) fn svg(data: &[u8]) {
    drawn(data, FileKind::Svg);
}

pub(super) fn pdf(data: &[u8]) {
    drawn(data, FileKind::Pdf);
}

/// A drawing is refused, or drawn alike on a grid in much memory and in little.
fn drawn(data: &[u8], kind: FileKind) {
    if sniff(data) != Some(kind) {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("chart");
    put(&path, data);
    let Some(first) = judged(open(&path, &limits(&folder, DRAWING_MEMORY))) else { return };
    let facts = first.drawing.expect("a drawing");
    assert!(facts.size.width.um() > 0 && facts.size.height.um() > 0, "{facts:?}");
    let place = Place { grid: Pixels::new(97, 61), edges: [7.3, -2.5, 90.0, 63.5] };
    let Some(drawn) = judged(first.picture.drawn(&place)) else { return };
    let drawn = drawn.expect("a drawing");
    let mut whole = Band::empty();
    if judged(drawn.fill(Window::whole(place.grid), &mut whole)).is_none() {
        return;
    }
    let bare =
        rows(&whole).iter().all(|row| row[..7 * 3].iter().chain(&row[90 * 3..]).all(|sample| *sample == 255));
    assert!(bare, "nothing is drawn beside the place");
    assert_eq!(looked_at(drawn.as_ref()), whole, "it is drawn once");
}

fn opened(data: &[u8], kind: FileKind) {
    if sniff(data) != Some(kind) {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("chart");
    put(&path, data);
    let whole =
        looks_complete(std::fs::File::open(&path).expect("a readable file")).expect("a readable file");
    let Some(first) = judged(open(&path, &limits(&folder, MEMORY))) else { return };
    assert_ne!(whole, Some(false), "a file that is opened looks complete");
    let pixels = looked_at(first.picture.as_ref());
    // With less memory it is refused, or gives the same, also to one who does not wait until all of it is there.
    if let Some(second) = judged(begin(&path, &Wanted::default(), &limits(&folder, LITTLE_MEMORY))) {
        assert_eq!(looked_at(second.picture.as_ref()), pixels, "the scratch file changes nothing");
        assert_eq!(
            (second.source, second.notices),
            (first.source, first.notices),
            "and neither is what is said of it"
        );
    }
}

/// Opens a file that a target made itself.
pub(super) fn taken(path: &Path, folder: &TempDir) -> Option<Opened> {
    judged(open(path, &limits(folder, MEMORY)))
}

fn limits(folder: &TempDir, memory: u64) -> Limits {
    let scratch = folder.path().to_owned();
    // What a file may have is as in a studio: none may take that much only by saying that it has it.
    let (drawing, fonts) = (Duration::from_secs(4), PathBuf::new());
    Limits { pixels: PIXELS, bytes: 1 << 30, memory, profile_bytes: 1 << 22, scratch, drawing, fonts }
}

/// Whatever is wrong is wrong with the artwork, and can be mended.
fn judged<T>(opened: Result<T, Fault>) -> Option<T> {
    match opened {
        Ok(opened) => Some(opened),
        Err(fault) => {
            assert!(fault.blame == Blame::Artwork && !fault.cure.is_empty(), "{fault:?}");
            None
        }
    }
}

/// All pixels, and that the other ways to look at the picture agree with them.
fn looked_at(picture: &dyn Picture) -> Band {
    let (size, format) = (picture.size(), picture.format());
    assert!((1..=PIXELS).contains(&size.count()), "{size:?}");
    let whole = filled(picture, Window::whole(size));
    assert_eq!((whole.size(), whole.format()), (size, format), "a band is what was asked for");
    let part = Window::new(size.width / 3, size.height / 2, size.width.div_ceil(2), size.height.div_ceil(2));
    let cut = filled(picture, part);
    for (row, line) in (part.y..).zip(rows(&cut)) {
        let at = row as usize * whole.stride() + part.x as usize * format.channels.count();
        assert_eq!(line, &samples(&whole)[at..at + cut.stride()], "a window is that part of the whole");
    }
    let half = Pixels::new(size.width.div_ceil(2), size.height.div_ceil(2));
    let reduced = picture.reduced(half).expect("a smaller picture");
    assert_eq!((reduced.size(), reduced.format()), (half, format), "a small picture is what was asked for");
    let wish = Wish { cells: Pixels::new(half.width.min(64), half.height.min(64)), faintest: FAINTEST };
    let surveyed = picture.survey(&wish).expect("a survey");
    assert_eq!(surveyed, survey::by_filling(picture, &wish).expect("a survey by filling"), "surveys agree");
    whole
}

fn filled(picture: &dyn Picture, window: Window) -> Band {
    let mut band = Band::empty();
    picture.fill(window, &mut band).expect("pixels");
    band
}

fn samples(band: &Band) -> Vec<u16> {
    match &band.samples {
        Samples::Eight(samples) => samples.iter().map(|sample| u16::from(*sample)).collect(),
        Samples::Sixteen(samples) => samples.clone(),
    }
}

fn rows(band: &Band) -> Vec<Vec<u16>> {
    samples(band).chunks(band.stride()).map(<[u16]>::to_vec).collect()
}

/// A PNG with the check sum of every chunk put right: nobody guesses those.
fn with_sums(data: &[u8]) -> Vec<u8> {
    let mut file = data.to_vec();
    let mut at = 8;
    while let Some(length) = file.get(at..at + 4) {
        let length = u32::from_be_bytes(length.try_into().expect("four bytes")) as usize;
        let (from, to) = (at + 4, at.saturating_add(8).saturating_add(length));
        let Some(sum) = file.get(from..to).map(crc) else { break };
        let Some(place) = file.get_mut(to..to + 4) else { break };
        place.copy_from_slice(&sum.to_be_bytes());
        at = to + 4;
    }
    file
}

/// CRC-32 as PNG has it.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| (crc >> 1) ^ (0xEDB8_8320 * (crc & 1)))
    })
}
