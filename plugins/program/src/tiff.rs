//! TIFF (TIFF 6.0, baseline, uncompressed): the one form in which pictures go to programs and come back.
//!
//! Its rows lie one after another as they are in memory, so a picture is written by all cores at once, and read from
//! wherever a window of it lies, without being decoded. What programs write may lie in many strips and in either byte
//! order. The library reads the tags, with its limits; what they mean is decided here, and what the file is said to hold is
//! held against its length.

use std::fs::File;
use std::io::BufReader;

use seamwright_contract::num;
use seamwright_contract::picture::{Channels, Depth, Format, Pixels};
use tiff::TiffError;
use tiff::decoder::Decoder;
use tiff::tags::{ByteOrder, Tag};

use crate::answer::Wanted;
use crate::raster::Raster;

/// Field types of TIFF 6.0, with the bytes that each value takes.
const SHORT: (u16, u32) = (3, 2);
const LONG: (u16, u32) = (4, 4);
const RATIONAL: (u16, u32) = (5, 8);
const UNDEFINED: (u16, u32) = (7, 1);

/// Pixels begin at a multiple of this.
const ALIGNED: u32 = 16;

/// One entry of a directory.
struct Entry {
    tag: u16,
    kind: (u16, u32),
    /// The values, little-endian.
    bytes: Vec<u8>,
}

fn shorts(tag: Tag, values: &[u16]) -> Entry {
    Entry { tag: tag.to_u16(), kind: SHORT, bytes: values.iter().flat_map(|v| v.to_le_bytes()).collect() }
}

fn longs(tag: Tag, values: &[u32], kind: (u16, u32)) -> Entry {
    Entry { tag: tag.to_u16(), kind, bytes: values.iter().flat_map(|v| v.to_le_bytes()).collect() }
}

/// All of a file before its pixels, which are one strip; nothing where they are more than a TIFF holds.
pub(crate) fn head(size: Pixels, format: Format, ppi: f64, profile: Option<&[u8]>) -> Option<Vec<u8>> {
    let samples = u16::try_from(format.channels.count()).ok()?;
    let bits = match format.depth {
        Depth::Eight => 8,
        Depth::Sixteen => 16,
    };
    let meaning = match format.channels {
        Channels::Gray => 1,
        Channels::Rgb => 2,
        Channels::Cmyk => 5,
    };
    let bytes = size.count().checked_mul(u64::try_from(format.bytes()).ok()?)?;
    let bytes = u32::try_from(bytes).ok()?;
    let per_inch = [num::pixels(ppi * 1000.0), 1000];
    let mut entries = vec![
        longs(Tag::ImageWidth, &[size.width], LONG),
        longs(Tag::ImageLength, &[size.height], LONG),
        shorts(Tag::BitsPerSample, &vec![bits; usize::from(samples)]),
        shorts(Tag::Compression, &[1]),
        shorts(Tag::PhotometricInterpretation, &[meaning]),
        longs(Tag::StripOffsets, &[0], LONG),
        shorts(Tag::SamplesPerPixel, &[samples]),
        longs(Tag::RowsPerStrip, &[size.height], LONG),
        longs(Tag::StripByteCounts, &[bytes], LONG),
        longs(Tag::XResolution, &per_inch, RATIONAL),
        longs(Tag::YResolution, &per_inch, RATIONAL),
        shorts(Tag::PlanarConfiguration, &[1]),
        shorts(Tag::ResolutionUnit, &[2]),
    ];
    if let Some(profile) = profile {
        entries.push(Entry { tag: Tag::IccProfile.to_u16(), kind: UNDEFINED, bytes: profile.to_vec() });
    }
    // Where the pixels begin is known once all else is laid out, which does not depend on it.
    let begin = u32::try_from(laid_out(&entries)?.len()).ok()?.next_multiple_of(ALIGNED);
    begin.checked_add(bytes)?;
    let strip = entries.iter_mut().find(|entry| entry.tag == Tag::StripOffsets.to_u16())?;
    strip.bytes = begin.to_le_bytes().to_vec();
    let mut head = laid_out(&entries)?;
    head.resize(num::index(begin), 0);
    Some(head)
}

/// Header, directory, and the values that do not fit into it.
fn laid_out(entries: &[Entry]) -> Option<Vec<u8>> {
    let count = u16::try_from(entries.len()).ok()?;
    let mut head = b"II\x2a\0\x08\0\0\0".to_vec();
    head.extend(count.to_le_bytes());
    let mut beyond = 8 + 2 + 12 * u32::from(count) + 4;
    let mut values = Vec::new();
    for Entry { tag, kind: (kind, each), bytes } in entries {
        head.extend(tag.to_le_bytes());
        head.extend(kind.to_le_bytes());
        let length = u32::try_from(bytes.len()).ok()?;
        head.extend((length / each).to_le_bytes());
        if bytes.len() <= 4 {
            head.extend(padded(bytes, 4));
        } else {
            head.extend(beyond.to_le_bytes());
            values.extend(padded(bytes, bytes.len().next_multiple_of(2)));
            beyond = beyond.checked_add(length.next_multiple_of(2))?;
        }
    }
    head.extend([0; 4]);
    head.extend(values);
    Some(head)
}

/// With zeros up to a length, if it is shorter.
fn padded(bytes: &[u8], length: usize) -> Vec<u8> {
    let mut padded = bytes.to_vec();
    padded.resize(length.max(bytes.len()), 0);
    padded
}

/// A picture that came back, of the size and kind it must have.
pub(crate) fn open(file: File, name: &str, (size, channels): &Wanted) -> Result<Raster, String> {
    let said = |why: TiffError| format!("{name} is no TIFF that can be read ({why})");
    let end = file.metadata().map_err(|why| format!("{name}: {why}"))?.len();
    let mut tags = Decoder::new(BufReader::new(file.try_clone().map_err(|why| format!("{name}: {why}"))?))
        .map_err(said)?;
    let (width, height) = tags.dimensions().map_err(said)?;
    if (width, height) != (size.width, size.height) {
        return Err(format!(
            "{name} is {width} x {height} pixels, and the picture it was given {} x {}",
            size.width, size.height
        ));
    }
    let mut list = |tag: Tag, default: &[u64]| -> Result<Vec<u64>, String> {
        Ok(tags.find_tag_unsigned_vec(tag).map_err(said)?.unwrap_or_else(|| default.to_vec()))
    };
    let samples = u64::try_from(channels.count()).unwrap_or(1);
    let meaning = match channels {
        Channels::Gray => 1,
        Channels::Rgb => 2,
        Channels::Cmyk => 5,
    };
    let plain = [
        (Tag::Compression, 1, "is compressed; write it without"),
        (Tag::PhotometricInterpretation, meaning, "has other colours than the picture it was given"),
        (Tag::SamplesPerPixel, samples, "has more or fewer channels than the picture it was given"),
        (Tag::PlanarConfiguration, 1, "has each channel for itself; write pixel by pixel"),
        (Tag::SampleFormat, 1, "has samples that are no whole numbers"),
        (Tag::Orientation, 1, "is turned by a tag; turn its pixels"),
        (Tag::FillOrder, 1, "has its bits in reverse order"),
    ];
    for (tag, wanted, wrong) in plain {
        let default = if tag == Tag::SamplesPerPixel { 1 } else { wanted };
        if list(tag, &[default])?.iter().any(|value| *value != wanted) {
            return Err(format!("{name} {wrong}"));
        }
    }
    let bits = list(Tag::BitsPerSample, &[1])?;
    let depth = match bits.first() {
        Some(8) if bits.iter().all(|bits| *bits == 8) => Depth::Eight,
        Some(16) if bits.iter().all(|bits| *bits == 16) => Depth::Sixteen,
        _ => return Err(format!("{name} has neither 8 nor 16 bits a sample")),
    };
    let rows = list(Tag::RowsPerStrip, &[u64::from(height)])?.first().copied().unwrap_or_default();
    let rows = u32::try_from(rows.clamp(1, u64::from(height))).unwrap_or(height);
    let strips = list(Tag::StripOffsets, &[])?;
    let format = Format { channels: *channels, depth };
    if strips.len() != num::index(height.div_ceil(rows)) {
        return Err(format!("{name} is not made of strips that hold all of its rows"));
    }
    let row = u64::from(width).saturating_mul(u64::try_from(format.bytes()).unwrap_or(8));
    for (at, begin) in (0_u32..).zip(&strips) {
        let tall = rows.min(height - (at * rows).min(height));
        if begin.saturating_add(row.saturating_mul(u64::from(tall))) > end {
            return Err(format!("{name} is cut off"));
        }
    }
    let big = matches!(tags.byte_order(), ByteOrder::BigEndian);
    Ok(Raster::new(file, *size, format, rows, strips, big))
}
