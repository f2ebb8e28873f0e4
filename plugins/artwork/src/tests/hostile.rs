//! Damaged and hostile PNG, JPEG and WebP: clean refusals, quickly, and never a filled-up picture.

use std::time::{Duration, Instant};

use seamwright_contract::{Blame, Fault};

use super::{images, limits};
use crate::{Limits, Opened, open};

pub(super) fn opened(name: &str, bytes: &[u8], limits: &Limits) -> Result<Opened, Fault> {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    std::io::Write::write_all(&mut std::fs::File::create(&path).expect("a file"), bytes).expect("written");
    open(&path, limits)
}

pub(super) fn read(name: &str) -> Vec<u8> {
    std::fs::read(images().join(name)).expect("check data")
}

/// CRC-32 as PNG has it.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| (crc >> 1) ^ (0xEDB8_8320 * (crc & 1)))
    })
}

pub(super) fn chunk(kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
    let named = [kind.as_slice(), content].concat();
    let length = u32::try_from(content.len()).expect("small").to_be_bytes();
    [length.as_slice(), &named, &crc(&named).to_be_bytes()].concat()
}

#[test]
fn absurd_png_heads_are_refused_at_once() {
    for (width, height) in [(65_535, 65_535), (1 << 31, 1 << 31), (i32::MAX as u32, 1), (0, 9), (9, 0)] {
        let mut head = [u32::to_be_bytes(width), u32::to_be_bytes(height)].concat();
        head.extend([16, 6, 0, 0, 0]);
        let file =
            [b"\x89PNG\r\n\x1a\n".to_vec(), chunk(b"IHDR", &head), chunk(b"IDAT", &[]), chunk(b"IEND", &[])]
                .concat();
        let start = Instant::now();
        let fault = opened("a.png", &file, &limits()).expect_err("absurd");
        assert!(fault.blame == Blame::Artwork && !fault.cure.is_empty(), "{width} x {height}: {fault}");
        assert!(start.elapsed() < Duration::from_secs(1), "{width} x {height} took {:?}", start.elapsed());
    }
}

#[test]
fn a_png_with_one_bit_wrong_is_refused() {
    for name in ["png_rgb8_none.png", "png_rgb8_iccp.png", "png_gray16_none.png", "png_pal_iccp.png"] {
        let whole = read(name);
        let step = (whole.len() / 60).max(1);
        for at in (8..whole.len()).step_by(step) {
            let mut hurt = whole.clone();
            hurt[at] ^= 0x10;
            assert!(opened(name, &hurt, &limits()).is_err(), "{name} with byte {at} changed is opened");
        }
    }
}

#[test]
fn a_jpeg_cut_off_and_given_an_end_mark_is_refused() {
    // Progressive pictures are not among them: what their last scans lack is sharpness, and no decoder tells.
    for name in ["jpg_rgb_p3.jpg", "jpg_gray_iccgray.jpg", "jpg_cmyk_app14_inv.jpg", "jpg_ycck_app14_inv.jpg"]
    {
        let whole = read(name);
        let scan = whole.windows(2).rposition(|pair| pair == [0xFF, 0xDA]).expect("a scan");
        // Just after the last scan's head, and within its data.
        let data = scan + 2 + usize::from(whole[scan + 3]) + 2;
        for at in [scan, data - 1] {
            let file = [&whole[..at], &[0xFF, 0xD9]].concat();
            let came = opened(name, &file, &limits());
            assert!(came.is_err(), "{name} cut at {at} of {} is opened", whole.len());
        }
    }
}

#[test]
fn a_large_jpeg_with_missing_rows_and_an_end_mark_is_refused() {
    // Noise does not compress: every part of the file is rows.
    let mut seed = 1_u32;
    let picture = image::RgbImage::from_fn(200, 200, |_, _| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let [_, a, b, c] = seed.to_be_bytes();
        image::Rgb([a, b, c])
    });
    let mut whole = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut whole, 90)
        .encode_image(&picture)
        .expect("a JPEG");
    assert!(opened("a.jpg", &whole, &limits()).is_ok(), "the whole file");
    for part in [30, 50, 70, 90, 95, 99] {
        let file = [&whole[..whole.len() * part / 100], &[0xFF, 0xD9]].concat();
        assert!(opened("a.jpg", &file, &limits()).is_err(), "{part} % and an end mark are opened");
    }
}

#[test]
fn an_absurd_jpeg_head_is_refused_by_its_memory() {
    let mut file = read("jpg_rgb_none.jpg");
    let frame = file.windows(2).position(|pair| pair == [0xFF, 0xC0]).expect("a frame");
    file[frame + 5..frame + 9].copy_from_slice(&[0xFF; 4]);
    let start = Instant::now();
    let fault = opened("a.jpg", &file, &limits()).expect_err("absurd");
    assert!(fault.what.contains("4294836225") && start.elapsed() < Duration::from_secs(1), "{fault}");
    let roomy = Limits { pixels: u64::MAX, ..limits() };
    let fault = opened("a.jpg", &file, &roomy).expect_err("absurd");
    assert!(fault.what.contains("memory"), "{fault}");
}

#[test]
fn a_palette_that_ends_within_a_colour_is_refused_and_no_panic() {
    let head = [&[0, 0, 0, 1, 0, 0, 0, 1][..], &[8, 3, 0, 0, 0]].concat();
    let mark = b"\x89PNG\r\n\x1a\n".to_vec();
    let parts = [chunk(b"IHDR", &head), chunk(b"PLTE", &[9; 5]), chunk(b"IDAT", &[]), chunk(b"IEND", &[])];
    let fault = opened("a.png", &[mark, parts.concat()].concat(), &limits()).expect_err("half a colour");
    assert!(fault.what.contains("palette"), "{fault}");
}

#[test]
fn long_rows_of_a_png_count_as_memory_beside_the_picture() {
    let mut file = std::io::Cursor::new(Vec::new());
    let row = image::RgbImage::from_pixel(100_000, 1, image::Rgb([60, 90, 120]));
    row.write_to(&mut file, image::ImageFormat::Png).expect("a PNG");
    let file = file.into_inner();
    assert!(opened("a.png", &file, &limits()).is_ok(), "with room for it");
    let tight = Limits { memory: 700_000, ..limits() };
    let fault = opened("a.png", &file, &tight).expect_err("the decoder holds several rows");
    assert!(fault.what.contains("1.2 MB of memory"), "{fault}");
}

#[test]
fn a_jpeg_is_not_taken_into_memory_without_asking() {
    let mut file = read("jpg_rgb_none.jpg");
    file.resize(1_000_000, 0);
    assert!(opened("a.jpg", &file, &limits()).is_ok(), "what lies behind it does no harm");
    let tight = Limits { memory: 900_000, ..limits() };
    let fault = opened("a.jpg", &file, &tight).expect_err("too long to be read whole");
    assert!(fault.what.contains("1.0 MB of memory"), "{fault}");
    let tight = Limits { memory: 1_500_000, ..limits() };
    assert!(opened("a.jpg", &file, &tight).is_err(), "there is a copy of it besides");
}

#[test]
fn a_file_without_end_is_not_looked_through() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.jpg");
    let mut file = std::fs::File::create(&path).expect("a file");
    std::io::Write::write_all(&mut file, &read("jpg_rgb_none.jpg")).expect("written");
    file.set_len(100 << 20).expect("a hole");
    assert_eq!(
        crate::looks_complete(std::fs::File::open(&path).expect("a file")).expect("it can be read"),
        None,
        "nobody takes that into memory"
    );
}

#[test]
fn a_png_of_nothing_but_heads_is_walked_through_quickly() {
    let heads = chunk(b"tEXt", b"").repeat(1_000_000);
    let file = [b"\x89PNG\r\n\x1a\n".to_vec(), heads, chunk(b"IEND", &[])].concat();
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.png");
    std::io::Write::write_all(&mut std::fs::File::create(&path).expect("a file"), &file).expect("written");
    let began = Instant::now();
    assert_eq!(
        crate::looks_complete(std::fs::File::open(&path).expect("a file")).expect("it can be read"),
        Some(true)
    );
    assert!(began.elapsed() < Duration::from_millis(500), "{:?}", began.elapsed());
}

#[test]
fn random_damage_never_panics_and_is_never_our_mistake() {
    let mut seed = 7_u32;
    let mut random = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        usize::try_from(seed >> 8).expect("small")
    };
    for entry in std::fs::read_dir(images()).expect("check data") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let whole = std::fs::read(&path).expect("a file");
        for _ in 0..6 {
            let mut hurt = whole.clone();
            for _ in 0..1 + random() % 4 {
                let at = random() % hurt.len();
                hurt[at] = random().to_le_bytes()[0];
            }
            if let Err(fault) = opened(&name, &hurt, &limits()) {
                assert!(fault.blame == Blame::Artwork && !fault.cure.is_empty(), "{name}: {fault}");
            }
        }
    }
}
