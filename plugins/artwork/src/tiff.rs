//! TIFF: gray, RGB and CMYK of 8 and 16 bits and floats, in strips or tiles; decoded as a whole.

use std::fs::File;
use std::io::{BufReader, Seek, SeekFrom};

use tiff::decoder::{Decoder, DecodingResult, Limits as DecoderLimits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Channels, Pixels};
use crate::decoded::{Decoded, Word};
use crate::flatten::{Alpha, Bits, Flattener, Raw};
use crate::sink::{Sink, bytes};
use crate::turn::Turn;
use crate::{Limits, faults, icc};

type Reader = Decoder<BufReader<File>>;

/// `ExtraSamples` (TIFF 6.0): associated alpha, the colours multiplied by it.
const ASSOCIATED: u16 = 1;

/// `PlanarConfiguration` (TIFF 6.0): each channel in a plane of its own.
const PLANES: u16 = 2;

/// Decodes a TIFF.
pub(crate) fn decode(mut file: File, limits: &Limits) -> Result<Decoded, Fault> {
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    let mut reader = Decoder::new(BufReader::with_capacity(1 << 18, file)).map_err(fault)?;
    let (width, height) = reader.dimensions().map_err(fault)?;
    let size = Pixels::new(width, height);
    faults::at_most("pixels", size.count(), limits.pixels)?;
    // The profile first: the decoder's limits would hide it.
    let word = word(&mut reader)?;
    let orientation: Option<u16> = reader.find_tag_unsigned(Tag::Orientation).map_err(fault)?;
    let raw = form(&mut reader)?;
    let pixel = u64::try_from(raw.samples() * raw.sample_bytes()).unwrap_or(u64::MAX);
    let needed = size.count().saturating_mul(pixel).saturating_add(bytes(size, raw.format()));
    if needed > limits.memory {
        return Err(faults::too_much_memory("TIFF", needed, limits.memory));
    }
    let mut reader = reader.with_limits(allowed(limits));
    let pixels = reader.read_image().map_err(fault)?;
    let mut flattener = Flattener::new(raw);
    let rows = rows(pixels, raw, size, &mut flattener)?;
    let mut notices = Vec::new();
    if reader.more_images() {
        notices.push("The artwork has several pages; the first is used.".to_owned());
    }
    if flattener.clipped > 0 {
        notices.push(format!(
            "{} samples of the artwork lie outside 0 to 1 and are clipped.",
            flattener.clipped
        ));
    }
    Ok(Decoded { rows, turn: Turn::from_code(orientation.unwrap_or(0)), word, notices })
}

fn allowed(limits: &Limits) -> DecoderLimits {
    let mut allowed = DecoderLimits::default();
    let memory = usize::try_from(limits.memory).unwrap_or(usize::MAX);
    allowed.decoding_buffer_size = memory;
    allowed.intermediate_buffer_size = memory;
    allowed
}

fn word(reader: &mut Reader) -> Result<Word, Fault> {
    match reader.find_tag(Tag::IccProfile) {
        Ok(Some(profile)) => {
            profile.into_u8_vec().map(Word::Profile).map_err(|_| icc::unreadable("it is not made of bytes"))
        }
        Ok(None) => Ok(Word::Silent),
        Err(_) => Err(icc::unreadable("it is cut off or too large")),
    }
}

fn form(reader: &mut Reader) -> Result<Raw, Fault> {
    let colour = reader.colortype().map_err(fault)?;
    let (channels, alpha, bits) = match colour {
        ColorType::Gray(bits) => (Channels::Gray, false, bits),
        ColorType::GrayA(bits) => (Channels::Gray, true, bits),
        ColorType::RGB(bits) => (Channels::Rgb, false, bits),
        ColorType::RGBA(bits) => (Channels::Rgb, true, bits),
        ColorType::CMYK(bits) => (Channels::Cmyk, false, bits),
        ColorType::CMYKA(bits) => (Channels::Cmyk, true, bits),
        other => return Err(faults::unsupported(format!("{other:?} pixels"))),
    };
    if reader.find_tag_unsigned::<u16>(Tag::PlanarConfiguration).map_err(fault)? == Some(PLANES) {
        return Err(faults::unsupported("the colours stored in separate planes"));
    }
    let float = reader
        .find_tag_unsigned_vec::<u16>(Tag::SampleFormat)
        .map_err(fault)?
        .is_some_and(|formats| formats.contains(&3));
    let bits = match (bits, float) {
        (8, false) => Bits::Eight,
        (16, false) => Bits::SixteenNative,
        (32, true) => Bits::Float,
        _ => return Err(faults::unsupported(format!("{bits} bits a sample"))),
    };
    let extra = reader.find_tag_unsigned_vec::<u16>(Tag::ExtraSamples).map_err(fault)?.unwrap_or_default();
    let alpha = match (alpha, extra.first()) {
        (false, _) => Alpha::None,
        (true, Some(&ASSOCIATED)) => Alpha::Premultiplied,
        (true, _) => Alpha::Straight,
    };
    Ok(Raw { channels, alpha, bits })
}

fn rows(pixels: DecodingResult, raw: Raw, size: Pixels, flattener: &mut Flattener) -> Result<Sink, Fault> {
    let wanted = num::index(size.width).saturating_mul(num::index(size.height)) * raw.samples();
    let native: Vec<u8> = match (pixels, raw.bits) {
        (DecodingResult::U8(samples), Bits::Eight) => samples,
        (DecodingResult::U16(samples), Bits::SixteenNative) => {
            samples.into_iter().flat_map(u16::to_ne_bytes).collect()
        }
        (DecodingResult::F32(samples), Bits::Float) => {
            samples.into_iter().flat_map(f32::to_ne_bytes).collect()
        }
        _ => return Err(faults::unsupported("samples of an unusual kind")),
    };
    if native.len() != wanted * raw.sample_bytes() {
        return Err(faults::damaged("rows are missing"));
    }
    if raw.plain() {
        return Ok(Sink::whole(size, raw.format(), native));
    }
    let mut sink = Sink::in_memory(size, raw.format())?;
    let stride = num::index(size.width) * raw.samples() * raw.sample_bytes();
    for line in native.chunks_exact(stride.max(1)) {
        sink.row(|out| {
            flattener.row(line, out);
            Ok(())
        })?;
    }
    Ok(sink)
}

fn fault(error: TiffError) -> Fault {
    match error {
        TiffError::IoError(error) => faults::reading(error),
        TiffError::UnsupportedError(what) => faults::unsupported(what),
        TiffError::LimitsExceeded => faults::unsupported("more side data than is allowed"),
        other => faults::damaged(other),
    }
}
