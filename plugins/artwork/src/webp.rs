//! WebP: lossy and lossless; always decoded as a whole.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};

use image_webp::{DecodingError, WebPDecoder};

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Channels, Pixels};
use crate::contract::turn::Turn;
use crate::decoded::{Decoded, Word};
use crate::flatten::{Alpha, Bits, Flattener, Raw};
use crate::sink::{Sink, room};
use crate::{Limits, exif, faults, icc};

/// Whether a file is as long as its head says; 8 bytes of head follow the length.
pub(crate) fn complete(file: &mut File) -> std::io::Result<bool> {
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(4))?;
    let mut said = [0; 4];
    file.read_exact(&mut said)?;
    Ok(u64::from(u32::from_le_bytes(said)).saturating_add(8) <= length)
}

/// Decodes a WebP.
pub(crate) fn decode(mut file: File, limits: &Limits) -> Result<Decoded, Fault> {
    if !complete(&mut file).map_err(faults::reading)? {
        return Err(faults::damaged("it is shorter than its head says"));
    }
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    let mut decoder = WebPDecoder::new(BufReader::with_capacity(1 << 18, file)).map_err(fault)?;
    let (width, height) = decoder.dimensions();
    let size = Pixels::new(width, height);
    faults::at_most("pixels", size.count(), limits.pixels)?;
    // The decoder's own planes or pixels, its output, and ours.
    let needed = size.count().saturating_mul(11);
    if needed > limits.memory {
        return Err(faults::too_much_memory("WebP", needed, limits.memory));
    }
    let allowed = usize::try_from(limits.profile_bytes).unwrap_or(usize::MAX);
    decoder.set_memory_limit(allowed);
    let word = match decoder.icc_profile() {
        Ok(Some(profile)) => Word::Profile(profile),
        Ok(None) => Word::Silent,
        Err(_) => return Err(icc::unreadable("it is cut off or too large")),
    };
    let orientation = match decoder.exif_metadata() {
        Ok(Some(block)) => exif::read(&block).orientation,
        _ => 0,
    };
    decoder.set_memory_limit(usize::try_from(limits.memory).unwrap_or(usize::MAX));
    let mut notices = Vec::new();
    if decoder.is_animated() {
        notices.push(format!(
            "The artwork is an animation of {} frames; the first is used.",
            decoder.num_frames()
        ));
    }
    let rows = pixels(&mut decoder, size)?;
    Ok(Decoded { rows, rest: None, turn: Turn::from_code(orientation), word, notices })
}

fn pixels(decoder: &mut WebPDecoder<BufReader<File>>, size: Pixels) -> Result<Sink, Fault> {
    let alpha = if decoder.has_alpha() { Alpha::Straight } else { Alpha::None };
    let raw = Raw { channels: Channels::Rgb, alpha, bits: Bits::Eight };
    let length = decoder.output_buffer_size().unwrap_or(usize::MAX);
    let mut rows = room(length)?;
    decoder.read_image(&mut rows).map_err(fault)?;
    if raw.plain() {
        return Ok(Sink::whole(size, raw.format(), rows));
    }
    let mut sink = Sink::in_memory(size, raw.format());
    let mut flattener = Flattener::new(raw);
    for line in rows.chunks_exact(num::index(size.width) * raw.samples()) {
        sink.row(|out| {
            flattener.row(line, out);
            Ok(())
        })?;
    }
    Ok(sink)
}

fn fault(error: DecodingError) -> Fault {
    match error {
        DecodingError::IoError(error) => faults::reading(error),
        other => faults::damaged(other),
    }
}
