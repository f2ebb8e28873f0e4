//! PNG: all colour types, read row by row, with all that the format can say about colour.
//!
//! Precedence of colour chunks as in PNG's third edition: cICP, iCCP, sRGB, then gAMA with cHRM.

pub(crate) mod chunks;

use std::fs::File;
use std::io::{BufReader, Seek, SeekFrom};

use png::{BitDepth, ColorType, DecodeOptions, Decoder, DecodingError, Info, Reader, Transformations};

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Channels, Pixels};
use crate::contract::turn::Turn;
use crate::decoded::{Decoded, Rest, Word};
use crate::described::{self, Curve, Primaries, SRGB};
use crate::flatten::{Alpha, Bits, Flattener, Raw};
use crate::sink::{Row, Sink, bytes, room};
use crate::{Limits, exif, faults, icc};

type Rows = Reader<BufReader<File>>;

/// So many rows are in memory at once: the decoder's, and one of ours.
const ROWS_HELD: u64 = 4;

/// Decodes a PNG.
pub(crate) fn decode(file: File, limits: &Limits) -> Result<Decoded, Fault> {
    let mut file = BufReader::with_capacity(1 << 18, file);
    let heads = chunks::walk(&mut file).map_err(faults::unreadable)?;
    if !heads.end {
        return Err(faults::damaged("the end mark is missing"));
    }
    // The decoder falls over it.
    if heads.odd_palette {
        return Err(faults::damaged("its palette ends within a colour"));
    }
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    let mut reader = start(file, limits)?;
    let raw = form(&reader);
    let size = Pixels::new(reader.info().width, reader.info().height);
    let word = word(reader.info(), heads.profile, raw.channels)?;
    let orientation = reader.info().exif_metadata.as_deref().map_or(0, |block| exif::read(block).orientation);
    let notices = animation(&reader)?;
    let (rows, rest): (Sink, Option<Rest>) = if reader.info().interlaced {
        let rows = interlaced(&mut reader, raw, size, limits)?;
        finish(&mut reader)?;
        (rows, None)
    } else {
        let rest =
            move |sink: &mut Sink| straight(&mut reader, raw, size, sink).and_then(|()| finish(&mut reader));
        (room_for_rows(raw, size, limits)?, Some(Box::new(rest)))
    };
    Ok(Decoded { rows, rest, turn: Turn::from_code(orientation), word, notices })
}

/// Reads on to the end mark, so that what follows the pixels is checked too.
fn finish(reader: &mut Rows) -> Result<(), Fault> {
    reader.finish().map_err(fault)
}

fn start(file: BufReader<File>, limits: &Limits) -> Result<Rows, Fault> {
    let mut options = DecodeOptions::default();
    options.set_skip_ancillary_crc_failures(false);
    let mut decoder = Decoder::new_with_options(file, options);
    decoder.set_ignore_text_chunk(true);
    decoder.set_transformations(Transformations::EXPAND);
    let header = decoder.read_header_info().map_err(fault)?;
    let size = Pixels::new(header.width, header.height);
    faults::at_most("pixels", size.count(), limits.pixels)?;
    // Beside the rows, the decoder holds the profile packed and unpacked, and a few rows of at most 8 bytes a pixel.
    let spare = limits.profile_bytes.saturating_mul(2).saturating_add(u64::from(size.width) * 64);
    let spare = usize::try_from(spare.saturating_add(1 << 20)).unwrap_or(usize::MAX);
    decoder.set_limits(png::Limits { bytes: spare });
    decoder.read_info().map_err(fault)
}

fn form(reader: &Rows) -> Raw {
    let (colour, depth) = reader.output_color_type();
    let channels = match colour {
        ColorType::Grayscale | ColorType::GrayscaleAlpha => Channels::Gray,
        ColorType::Rgb | ColorType::Rgba | ColorType::Indexed => Channels::Rgb,
    };
    let alpha = match colour {
        ColorType::GrayscaleAlpha | ColorType::Rgba => Alpha::Straight,
        ColorType::Grayscale | ColorType::Rgb | ColorType::Indexed => Alpha::None,
    };
    let bits = if depth == BitDepth::Sixteen { Bits::SixteenBig } else { Bits::Eight };
    Raw { channels, alpha, bits }
}

/// Where the rows go, in what memory the decoder leaves.
fn room_for_rows(raw: Raw, size: Pixels, limits: &Limits) -> Result<Sink, Fault> {
    let length = num::index(size.width) * raw.samples() * raw.sample_bytes();
    let held = u64::try_from(length).unwrap_or(u64::MAX).saturating_mul(ROWS_HELD);
    if held > limits.memory {
        return Err(faults::too_much_memory("PNG of such long rows", held, limits.memory));
    }
    Sink::streaming(size, raw.format(), &limits.beside(held))
}

fn straight(reader: &mut Rows, raw: Raw, size: Pixels, sink: &mut Sink) -> Result<(), Fault> {
    let mut flattener = Flattener::new(raw);
    let mut line = room(num::index(size.width) * raw.samples() * raw.sample_bytes())?;
    for _ in 0..size.height {
        sink.row(|out| match out {
            Row::Eight(out) if raw.plain() => read_row(reader, out),
            out => {
                read_row(reader, &mut line)?;
                flattener.row(&line, out);
                Ok(())
            }
        })?;
    }
    Ok(())
}

fn read_row(reader: &mut Rows, out: &mut [u8]) -> Result<(), Fault> {
    match reader.read_row(out).map_err(fault)? {
        Some(_) => Ok(()),
        None => Err(faults::damaged("rows are missing")),
    }
}

fn interlaced(reader: &mut Rows, raw: Raw, size: Pixels, limits: &Limits) -> Result<Sink, Fault> {
    let length = reader.output_buffer_size().unwrap_or(usize::MAX);
    let whole = u64::try_from(length).unwrap_or(u64::MAX);
    let needed = if raw.plain() { whole } else { whole.saturating_add(bytes(size, raw.format())) };
    if needed > limits.memory {
        return Err(faults::too_much_memory("interlaced PNG", needed, limits.memory));
    }
    let mut rows = room(length)?;
    reader.next_frame(&mut rows).map_err(fault)?;
    if raw.plain() {
        return Ok(Sink::whole(size, raw.format(), rows));
    }
    let mut sink = Sink::in_memory(size, raw.format());
    let mut flattener = Flattener::new(raw);
    for line in rows.chunks_exact(num::index(size.width) * raw.samples() * raw.sample_bytes()) {
        sink.row(|out| {
            flattener.row(line, out);
            Ok(())
        })?;
    }
    Ok(sink)
}

/// What to say about an animation. Its first frame has the picture's size, or it is none we understand.
fn animation(reader: &Rows) -> Result<Vec<String>, Fault> {
    let info = reader.info();
    if let Some(frame) = &info.frame_control
        && (frame.width, frame.height) != (info.width, info.height)
    {
        return Err(faults::unsupported("an animation whose first frame is smaller than the picture"));
    }
    Ok(match info.animation_control {
        Some(animation) if animation.num_frames > 1 => {
            vec![format!(
                "The artwork is an animation of {} frames; the first is used.",
                animation.num_frames
            )]
        }
        _ => Vec::new(),
    })
}

fn word(info: &Info<'_>, profile: bool, channels: Channels) -> Result<Word, Fault> {
    if let Some(points) = info.coding_independent_code_points {
        let (primaries, transfer) = (points.color_primaries, points.transfer_function);
        let full = points.is_video_full_range_image;
        let built = described::code_points(primaries, transfer, points.matrix_coefficients, full, channels)?;
        return Ok(built.map_or(Word::Srgb, Word::Described));
    }
    if profile {
        let bytes = info.icc_profile.as_deref();
        let bytes =
            bytes.ok_or_else(|| icc::unreadable("it is damaged, packed wrongly, or far too large"))?;
        return Ok(Word::Profile(bytes.to_vec()));
    }
    if info.srgb.is_some() {
        return Ok(Word::Srgb);
    }
    let gamma = info.gama_chunk.map(|gamma| f64::from(gamma.into_value()));
    let primaries = info.chrm_chunk.map(|chroma| {
        let point =
            |(x, y): (png::ScaledFloat, png::ScaledFloat)| [x.into_value().into(), y.into_value().into()];
        Primaries([point(chroma.white), point(chroma.red), point(chroma.green), point(chroma.blue)])
    });
    let like_srgb = primaries.is_none_or(|primaries| primaries.near(SRGB));
    let curve = match gamma {
        None if primaries.is_none() => return Ok(Word::Silent),
        // The value that stands in for the sRGB curve, by the format's own rule for the sRGB chunk.
        Some(gamma) if like_srgb && (gamma - 0.45455).abs() < 0.0001 => return Ok(Word::Srgb),
        None if like_srgb => return Ok(Word::Srgb),
        None => Curve::Srgb,
        Some(gamma) if gamma > 0.01 => Curve::Power(1.0 / gamma),
        Some(_) => return Err(icc::unreadable("its gamma is zero")),
    };
    let name = gamma.map_or_else(
        || "primaries of the file".to_owned(),
        |gamma| {
            format!("gamma {:.2}{}", 1.0 / gamma, if like_srgb { "" } else { " and primaries of the file" })
        },
    );
    described::build(&name, primaries.unwrap_or(SRGB), curve, channels).map(Word::Described)
}

fn fault(error: DecodingError) -> Fault {
    match error {
        DecodingError::IoError(error) => faults::reading(error),
        DecodingError::LimitsExceeded => {
            Fault::artwork("The PNG carries more side data than is allowed.", "Save it again without extras.")
        }
        DecodingError::Format(error) => faults::damaged(error),
        DecodingError::Parameter(error) => Fault::defect(format!("PNG decoder: {error}")),
    }
}
