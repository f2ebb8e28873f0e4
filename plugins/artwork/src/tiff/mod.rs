//! TIFF: gray, RGB and CMYK of 1 to 16 bits and floats, in strips or tiles, chunky or in planes.
//!
//! What a TIFF means is decided here from its tags, because the decoder passes over several of them without a
//! word: an extra sample of unstated meaning, ink that is not CMYK, a preview in first place, bits in reverse
//! order. The pixels come band by band (a row of tiles, or a strip), so a large picture never is in memory whole.

mod bands;
mod form;

use std::fs::File;
use std::io::{BufReader, Seek, SeekFrom};

use tiff::decoder::{Decoder, Limits as DecoderLimits};
use tiff::tags::Tag;
use tiff::{TiffError, TiffFormatError};

use crate::contract::Fault;
use crate::contract::picture::Pixels;
use crate::contract::turn::Turn;
use crate::decoded::{Decoded, Word};
use crate::flatten::{Bits, Flattener};
use crate::sink::Sink;
use crate::{Limits, faults, icc};

type Reader = Decoder<BufReader<File>>;

/// Decodes a TIFF.
pub(crate) fn decode(mut file: File, limits: &Limits) -> Result<Decoded, Fault> {
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    let mut reader = Decoder::new(BufReader::with_capacity(1 << 18, file)).map_err(fault)?;
    let (width, height) = reader.dimensions().map_err(fault)?;
    let size = Pixels::new(width, height);
    faults::at_most("pixels", size.count(), limits.pixels)?;
    let word = word(&mut reader, limits)?;
    let orientation = form::one(&mut reader, Tag::Orientation, 1)?;
    let mut notices = Vec::new();
    let form = form::read(&mut reader, &mut notices)?;
    if form.raw.bits == Bits::Float && matches!(word, Word::Silent) {
        return Err(nameless_floats());
    }
    let mut allowed = DecoderLimits::default();
    allowed.decoding_buffer_size = usize::try_from(limits.memory).unwrap_or(usize::MAX);
    allowed.intermediate_buffer_size = usize::try_from(limits.bytes).unwrap_or(usize::MAX);
    let mut reader = reader.with_limits(allowed);
    let grid = bands::Grid::new(&reader, form, size, limits)?;
    let mut rows = Sink::streaming(size, form.raw.format(), &limits.beside(grid.held))?;
    let mut flattener = Flattener::new(form.raw);
    bands::read(&mut reader, &grid, form, size, limits, |line| {
        rows.row(|out| {
            flattener.row(line, out);
            Ok(())
        })
    })?;
    if reader.more_images() {
        notices.push("The artwork has several pages; the first is used.".to_owned());
    }
    if flattener.clipped > 0 {
        let clipped = flattener.clipped;
        notices.push(format!("{clipped} samples of the artwork lie outside 0 to 1 and are clipped."));
    }
    Ok(Decoded { rows, rest: None, turn: Turn::from_code(orientation), word, notices })
}

/// The embedded profile, read as bytes: as a list of values the decoder would count it 32 times over.
fn word(reader: &mut Reader, limits: &Limits) -> Result<Word, Fault> {
    let mut directory = reader.image_ifd();
    let Some(entry) = directory.find_entry(Tag::IccProfile) else { return Ok(Word::Silent) };
    faults::profile_at_most(entry.count(), limits.profile_bytes)?;
    let mut profile = crate::sink::room(usize::try_from(entry.count()).unwrap_or(usize::MAX))?;
    match directory.find_tag_bytes(Tag::IccProfile, &mut profile, 0) {
        Ok(Some(length)) if length == profile.len() => Ok(Word::Profile(profile)),
        _ => Err(icc::unreadable("it is cut off")),
    }
}

fn nameless_floats() -> Fault {
    Fault::artwork(
        "The picture has floating-point samples and no profile, so nobody can tell whether they are light or encoded values.",
        "Save it with 16 bits a channel, or with its profile embedded.",
    )
}

/// A decoder's error as a refusal.
fn fault(error: TiffError) -> Fault {
    match error {
        TiffError::IoError(error) => faults::reading(error),
        TiffError::UnsupportedError(what) => faults::unsupported(what),
        TiffError::LimitsExceeded => {
            faults::unsupported("one strip or list that is larger than the limits allow")
        }
        TiffError::FormatError(TiffFormatError::InvalidDimensions(width, height)) => {
            faults::damaged(format!("its size is said to be {width} x {height} pixels"))
        }
        other => faults::damaged(other),
    }
}
