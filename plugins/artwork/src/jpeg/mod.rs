//! JPEG: gray and colour by one decoder, ink by another, both told what to do by our own walk of the file.
//!
//! Ink (four components): with an APP14 marker the stored samples are inverted ink, without one they are ink.
//! That is common practice; no standard says it. The ink decoder always inverts, so without the marker its
//! result is turned back.

pub(crate) mod scan;

use std::borrow::Cow;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use crate::contract::Fault;
use crate::contract::picture::{Channels, Depth, Format, Pixels};
use crate::contract::turn::Turn;
use crate::decoded::{Decoded, Word};
use crate::sink::{Sink, bytes, room};
use crate::{Limits, described, exif, faults, icc};

use scan::{Frame, Scan};

/// Decodes a JPEG.
pub(crate) fn decode(mut file: File, limits: &Limits) -> Result<Decoded, Fault> {
    let mut content = Vec::new();
    let length = file.seek(SeekFrom::End(0)).map_err(faults::unreadable)?;
    enough_memory(length, limits)?;
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    file.take(length).read_to_end(&mut content).map_err(faults::unreadable)?;
    let scan = Scan::new(&content);
    let frame = scan.frame.as_ref().ok_or_else(|| faults::damaged("it has no picture in it"))?;
    let size = Pixels::new(frame.width.into(), frame.height.into());
    if size.count() == 0 {
        return Err(faults::damaged("its width or height is zero"));
    }
    faults::at_most("pixels", size.count(), limits.pixels)?;
    if frame.precision != 8 {
        return Err(faults::unsupported(format!("JPEG with {} bits a sample", frame.precision)));
    }
    if !scan.end {
        return Err(faults::damaged("the end mark is missing"));
    }
    let channels = match frame.components.len() {
        1 => Channels::Gray,
        3 => Channels::Rgb,
        4 => Channels::Cmyk,
        other => return Err(faults::unsupported(format!("JPEG with {other} components"))),
    };
    let format = Format { channels, depth: Depth::Eight };
    // A progressive one keeps two bytes of coefficients for every sample until the last scan; of the others there is
    // a guarded copy.
    let (decoded, files) = if frame.progressive { (3, 1) } else { (1, 2) };
    let decoded = bytes(size, format).saturating_mul(decoded);
    enough_memory(decoded.saturating_add(length.saturating_mul(files)), limits)?;
    let (word, orientation, notices) = colour(&scan)?;
    // The decoders look for the next scan of a progressive picture right after the last one.
    let guarded = if frame.progressive {
        Cow::Borrowed(content.as_slice())
    } else {
        Cow::Owned(scan.with_dead_ends(&content))
    };
    let rows = if channels == Channels::Cmyk {
        ink(&guarded, &scan, size, format)?
    } else {
        light(&guarded, &scan, frame, size, format)?
    };
    Ok(Decoded {
        rows: Sink::whole(size, format, rows),
        rest: None,
        turn: Turn::from_code(orientation),
        word,
        notices,
    })
}

fn enough_memory(needed: u64, limits: &Limits) -> Result<(), Fault> {
    if needed > limits.memory {
        return Err(faults::too_much_memory("JPEG", needed, limits.memory));
    }
    Ok(())
}

fn colour(scan: &Scan<'_>) -> Result<(Word, u16, Vec<String>), Fault> {
    let exif = scan.exif.map(exif::read).unwrap_or_default();
    let mut notices = Vec::new();
    let word = match scan.profile().map_err(icc::unreadable)? {
        Some(profile) => Word::Profile(profile),
        None => match exif.colour {
            exif::Colour::OpRgb => Word::Described(described::op_rgb()?),
            exif::Colour::Srgb => Word::Srgb,
            exif::Colour::Silent => Word::Silent,
            exif::Colour::Uncalibrated => {
                notices.push(
                    "The camera data in the artwork says that it is not sRGB, but not what it is.".into(),
                );
                Word::Silent
            }
        },
    };
    Ok((word, exif.orientation, notices))
}

/// Gray and RGB.
fn light(
    content: &[u8],
    scan: &Scan<'_>,
    frame: &Frame,
    size: Pixels,
    format: Format,
) -> Result<Vec<u8>, Fault> {
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX));
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(content), options);
    decoder.decode_headers().map_err(faults::damaged)?;
    let output = match (format.channels, stored_as_rgb(scan, frame), decoder.input_colorspace()) {
        (Channels::Gray, _, Some(ColorSpace::Luma)) => ColorSpace::Luma,
        (_, true, Some(ColorSpace::RGB)) | (_, false, Some(ColorSpace::YCbCr)) => ColorSpace::RGB,
        // Left as stored, which is RGB.
        (_, true, Some(ColorSpace::YCbCr)) => ColorSpace::YCbCr,
        _ => return Err(faults::unsupported("JPEG whose markers contradict each other about its colours")),
    };
    decoder.set_options(options.jpeg_set_out_colorspace(output));
    let wanted = usize::try_from(bytes(size, format)).unwrap_or(usize::MAX);
    if decoder.output_buffer_size() != Some(wanted) {
        return Err(faults::damaged("it holds frames of different sizes"));
    }
    let mut rows = room(wanted)?;
    decoder.decode_into(&mut rows).map_err(faults::damaged)?;
    Ok(rows)
}

/// Whether three components are RGB and not YCbCr: JFIF means YCbCr, then APP14 decides, then the names.
fn stored_as_rgb(scan: &Scan<'_>, frame: &Frame) -> bool {
    match (scan.jfif, scan.app14) {
        (true, _) => false,
        (false, Some(transform)) => transform == 0,
        (false, None) => frame.components == *b"RGB",
    }
}

/// CMYK, 0 no ink.
fn ink(content: &[u8], scan: &Scan<'_>, size: Pixels, format: Format) -> Result<Vec<u8>, Fault> {
    use jpeg_decoder::{ColorTransform, Decoder, PixelFormat};
    let transform = match scan.app14 {
        None | Some(0) => ColorTransform::CMYK,
        Some(2) => ColorTransform::YCCK,
        Some(other) => return Err(faults::unsupported(format!("CMYK JPEG with colour transform {other}"))),
    };
    let mut decoder = Decoder::new(content);
    decoder.set_color_transform(transform);
    let wanted = usize::try_from(bytes(size, format)).unwrap_or(usize::MAX);
    decoder.set_max_decoding_buffer_size(wanted);
    let mut rows = decoder.decode().map_err(faults::damaged)?;
    if rows.len() != wanted || decoder.info().is_none_or(|info| info.pixel_format != PixelFormat::CMYK32) {
        return Err(faults::damaged("rows are missing"));
    }
    if scan.app14.is_none() {
        rows.iter_mut().for_each(|sample| *sample = !*sample);
    }
    Ok(rows)
}
