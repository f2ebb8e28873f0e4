//! PNG forms that no encoder at hand writes: interlaced rows and animations, put together here.

use seamwright_contract::Blame;
use seamwright_contract::picture::{Band, Pixels, Samples, Window};

use super::hostile::{chunk, opened, read};
use super::limits;
use super::tiff::all;
use crate::Limits;

/// First column, first row, steps across and down of the seven passes (PNG, "Adam7").
const PASSES: [[u32; 4]; 7] =
    [[0, 0, 8, 8], [4, 0, 8, 8], [0, 4, 4, 8], [2, 0, 4, 4], [0, 2, 2, 4], [1, 0, 2, 2], [0, 1, 1, 2]];

/// A zlib stream of stored blocks.
fn stored(bytes: &[u8]) -> Vec<u8> {
    let mut stream = vec![0x78, 0x01];
    let blocks: Vec<_> = bytes.chunks(60_000).collect();
    for (at, block) in blocks.iter().enumerate() {
        let length = u16::try_from(block.len()).expect("small");
        stream.push(u8::from(at + 1 == blocks.len()));
        stream.extend(length.to_le_bytes());
        stream.extend((!length).to_le_bytes());
        stream.extend_from_slice(block);
    }
    let (a, b) = bytes.iter().fold((1_u32, 0_u32), |(a, b), &byte| {
        let a = (a + u32::from(byte)) % 65_521;
        (a, (b + a) % 65_521)
    });
    stream.extend((b << 16 | a).to_be_bytes());
    stream
}

/// An interlaced PNG without filters.
fn interlaced(
    width: u32,
    height: u32,
    depth: u8,
    colour: u8,
    pixel: impl Fn(u32, u32) -> Vec<u8>,
) -> Vec<u8> {
    let mut rows = Vec::new();
    for [left, top, across, down] in PASSES {
        for y in (top..height).step_by(usize::try_from(down).expect("small")) {
            let columns: Vec<_> = (left..width).step_by(usize::try_from(across).expect("small")).collect();
            if !columns.is_empty() {
                rows.push(0);
                rows.extend(columns.into_iter().flat_map(|x| pixel(x, y)));
            }
        }
    }
    let mut head = [width.to_be_bytes(), height.to_be_bytes()].concat();
    head.extend([depth, colour, 0, 0, 1]);
    let signature = b"\x89PNG\r\n\x1a\n".to_vec();
    [signature, chunk(b"IHDR", &head), chunk(b"IDAT", &stored(&rows)), chunk(b"IEND", &[])].concat()
}

#[test]
fn interlaced_rows_come_in_their_order() {
    let byte = |x: u32, y: u32, c: u32| u8::try_from((x * 11 + y * 5 + c * 80) % 256).expect("a byte");
    for (width, height) in [(1, 1), (3, 2), (19, 23)] {
        let places = || (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let rgb = |x, y| vec![byte(x, y, 0), byte(x, y, 1), byte(x, y, 2)];
        let made = opened("a.png", &interlaced(width, height, 8, 2, rgb), &limits()).expect("it opens");
        let expected = places().flat_map(|(x, y)| rgb(x, y)).collect();
        assert_eq!(all(&made), Samples::Eight(expected), "{width} x {height}, RGB");
        // 16-bit gray with an opaque alpha channel.
        let gray = |x, y| vec![byte(x, y, 0), byte(x, y, 1), 255, 255];
        let made = opened("a.png", &interlaced(width, height, 16, 4, gray), &limits()).expect("it opens");
        let expected = places().map(|(x, y)| u16::from_be_bytes([byte(x, y, 0), byte(x, y, 1)])).collect();
        assert_eq!(all(&made), Samples::Sixteen(expected), "{width} x {height}, gray");
    }
    let file = interlaced(100, 100, 8, 2, |_, _| vec![1, 2, 3]);
    let fault = opened("a.png", &file, &Limits { memory: 29_999, ..limits() }).expect_err("too large");
    assert!(fault.what.contains("interlaced"), "{fault}");
}

#[test]
fn an_animation_gives_its_first_frame_and_says_so() {
    let still = read("png_rgb8_none.png");
    let (head, rest) = still.split_at(8 + 25);
    let size = &head[16..24];
    let frame = [&[0; 4], size, &[0; 8], &[0, 1, 0, 10, 0, 0]].concat();
    let count = [2_u32.to_be_bytes(), [0; 4]].concat();
    let (body, end) = rest.split_at(rest.len() - 12);
    let second = [&1_u32.to_be_bytes(), size, &[0; 8], &[0, 1, 0, 10, 0, 0]].concat();
    let file = [head, &chunk(b"acTL", &count), &chunk(b"fcTL", &frame), body, &chunk(b"fcTL", &second), end];
    let made = opened("a.png", &file.concat(), &limits()).expect("it opens");
    assert!(made.notices.iter().any(|notice| notice.contains("2 frames")), "{:?}", made.notices);
    assert_eq!(all(&made), all(&opened("b.png", &still, &limits()).expect("the still")));
}

/// Rows enough for several bands, of which the last are missing: what is there can be read, what is not is one fault.
#[test]
fn upper_rows_are_there_before_the_lower_ones_fail() {
    const SIDE: u32 = 2_000;
    let rows: Vec<u8> = (0..SIDE - 100)
        .flat_map(|y| [vec![0], vec![y.to_le_bytes()[0]; 3 * SIDE as usize]].concat())
        .collect();
    let mut head = [SIDE.to_be_bytes(), SIDE.to_be_bytes()].concat();
    head.extend([8, 2, 0, 0, 0]);
    let parts = [chunk(b"IHDR", &head), chunk(b"IDAT", &stored(&rows)), chunk(b"IEND", &[])];
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("short.png");
    let file = [b"\x89PNG\r\n\x1a\n".to_vec(), parts.concat()].concat();
    std::io::Write::write_all(&mut std::fs::File::create(&path).expect("a file"), &file).expect("written");

    for memory in [1 << 28, 100_000] {
        let limits = Limits { memory, scratch: folder.path().to_owned(), ..limits() };
        let begun = crate::begin(&path, &crate::Wanted::default(), &limits).expect("its head is well");
        let mut band = Band::empty();
        // Either they are read, or the end has failed already.
        if begun.picture.fill(Window::new(0, 7, SIDE, 1), &mut band).is_ok() {
            assert_eq!(band.samples, Samples::Eight(vec![7; 3 * SIDE as usize]));
        }
        let fault = begun.whole.wait().expect_err("rows are missing");
        assert!(fault.blame == Blame::Artwork && fault.place == "short.png", "{fault}");
        assert_eq!(begun.picture.fill(Window::new(0, SIDE - 1, SIDE, 1), &mut band), Err(fault.clone()));
        assert_eq!(begun.picture.reduced(Pixels::new(9, 9)).expect_err("rows are missing"), fault);
        assert_eq!(crate::open(&path, &limits).expect_err("rows are missing"), fault);
    }
}
