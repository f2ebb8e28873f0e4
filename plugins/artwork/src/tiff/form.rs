//! What the tags say about the pixels; anything doubtful is refused by name.

use tiff::tags::Tag;

use crate::contract::Fault;
use crate::contract::picture::Channels;
use crate::faults;
use crate::flatten::{Alpha, Bits, Raw};

use super::{Reader, fault};

/// `InkSet` (TIFF 6.0), which the decoder does not know.
const INK_SET: Tag = Tag::Unknown(332);

/// How the pixels lie in the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Form {
    /// The form of the rows handed on.
    pub(super) raw: Raw,
    /// Bits of a stored sample; below 8 only for gray.
    pub(super) depth: u16,
    /// Whether each channel lies in a plane of its own.
    pub(super) planes: bool,
    /// Samples of a pixel as the decoder hands them over; in planes one at a time.
    pub(super) texel: usize,
}

/// One number, or what it is by default.
pub(super) fn one(reader: &mut Reader, tag: Tag, default: u16) -> Result<u16, Fault> {
    let several = reader.find_tag_unsigned_vec::<u16>(tag).map_err(fault)?;
    Ok(several.and_then(|several| several.first().copied()).unwrap_or(default))
}

/// Reads the form; what is left out of the picture goes into `notices`.
pub(super) fn read(reader: &mut Reader, notices: &mut Vec<String>) -> Result<Form, Fault> {
    plain(reader)?;
    let channels = channels(reader)?;
    let samples = usize::from(one(reader, Tag::SamplesPerPixel, 1)?);
    let extra = reader.find_tag_unsigned_vec::<u16>(Tag::ExtraSamples).map_err(fault)?.unwrap_or_default();
    if samples != channels.count() + extra.len() {
        return Err(faults::unsupported("extra samples of which the file does not say what they are"));
    }
    let alpha = match extra.first() {
        Some(1) => Alpha::Premultiplied,
        Some(2) => Alpha::Straight,
        _ => Alpha::None,
    };
    let planes = one(reader, Tag::PlanarConfiguration, 1)? == 2;
    let (depth, bits) = bits(reader, channels)?;
    let raw = Raw { channels, alpha, bits };
    let left = samples - raw.samples();
    if left > 0 {
        // The decoder undoes the predictor after it has dropped samples, which gives wrong colours.
        if !planes && (one(reader, Tag::Predictor, 1)? != 1 || channels == Channels::Gray) {
            return Err(faults::unsupported("extra channels beside the colours"));
        }
        notices
            .push(format!("The artwork has {left} extra channel(s) beside its colours; they are not used."));
    }
    let texel = if planes { 1 } else { raw.samples() };
    Ok(Form { raw, depth, planes, texel })
}

/// Refuses what would be read wrongly or filled up where it is cut off.
fn plain(reader: &mut Reader) -> Result<(), Fault> {
    if one(reader, Tag::NewSubfileType, 0)? & 1 != 0 {
        return Err(faults::unsupported("a small preview in first place, as raw camera files have"));
    }
    if one(reader, Tag::FillOrder, 1)? != 1 {
        return Err(faults::unsupported("bits in reverse order"));
    }
    match one(reader, Tag::Compression, 1)? {
        // None, LZW, Deflate by both numbers, PackBits.
        1 | 5 | 8 | 32946 | 32773 => Ok(()),
        6 | 7 => Err(faults::unsupported("JPEG compression inside a TIFF")),
        other => Err(faults::unsupported(format!("TIFF compression {other}"))),
    }
}

fn channels(reader: &mut Reader) -> Result<Channels, Fault> {
    match one(reader, Tag::PhotometricInterpretation, u16::MAX)? {
        0 | 1 => Ok(Channels::Gray),
        2 => Ok(Channels::Rgb),
        5 if one(reader, INK_SET, 1)? == 1 => Ok(Channels::Cmyk),
        5 => Err(faults::unsupported("inks other than CMYK")),
        3 => Err(faults::unsupported("a palette inside a TIFF")),
        6 => Err(faults::unsupported("YCbCr pixels inside a TIFF")),
        8..=10 => Err(faults::unsupported("Lab pixels")),
        other => Err(faults::unsupported(format!("TIFF pixels of kind {other}"))),
    }
}

fn bits(reader: &mut Reader, channels: Channels) -> Result<(u16, Bits), Fault> {
    let depth = one(reader, Tag::BitsPerSample, 1)?;
    let kind = one(reader, Tag::SampleFormat, 1)?;
    match (depth, kind) {
        (1 | 2 | 4, 1) if channels == Channels::Gray => Ok((depth, Bits::Eight)),
        (8, 1) => Ok((depth, Bits::Eight)),
        (16, 1) => Ok((depth, Bits::SixteenNative)),
        (32, 3) => Ok((depth, Bits::Float)),
        (_, 1) => Err(faults::unsupported(format!("whole numbers of {depth} bits"))),
        (_, 3) => Err(faults::unsupported(format!("floating-point numbers of {depth} bits"))),
        _ => Err(faults::unsupported("samples that are neither whole numbers from zero nor floats")),
    }
}
