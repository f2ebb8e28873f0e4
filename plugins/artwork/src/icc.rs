//! Embedded profiles: whether they parse, fit the pixels, and can be used.

use lcms2::{Flags, Intent, PixelFormat, Profile, Transform};

use crate::contract::Fault;
use crate::contract::colour::IccProfile;
use crate::contract::picture::Channels;
use crate::{Limits, faults};

/// Checks an embedded profile against the pixels it is for.
pub(crate) fn checked(bytes: Vec<u8>, channels: Channels, limits: &Limits) -> Result<IccProfile, Fault> {
    let length = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    faults::profile_at_most(length, limits.profile_bytes)?;
    // The header is read here and not through the engine, whose closed lists cannot hold a hostile value.
    let space = field(&bytes, 16).ok_or_else(|| unreadable("it is shorter than its header"))?;
    if number(&bytes, 0).is_none_or(|stated| stated > bytes.len()) {
        return Err(unreadable("it was cut off, for it states more bytes than there are"));
    }
    if field(&bytes, 36) != Some(*b"acsp") {
        return Err(unreadable("it does not carry a profile's mark"));
    }
    let class = field(&bytes, 12).unwrap_or_default();
    if !matches!(&class, b"scnr" | b"mntr" | b"prtr" | b"spac") {
        return Err(unreadable("it is of a kind that does not describe pictures"));
    }
    let (wanted, pixels) = match channels {
        Channels::Gray => (*b"GRAY", PixelFormat::GRAY_8),
        Channels::Rgb => (*b"RGB ", PixelFormat::RGB_8),
        Channels::Cmyk => (*b"CMYK", PixelFormat::CMYK_8),
    };
    if space != wanted {
        return Err(misfit(&space, &wanted));
    }
    let profile = Profile::new_icc(&bytes).map_err(|_| unreadable("it does not parse"))?;
    usable(&profile, pixels).ok_or_else(|| unreadable("its tables cannot be used"))?;
    let name = description(&bytes).unwrap_or_else(|| "unnamed profile".to_owned());
    Ok(IccProfile { name, bytes: bytes.into() })
}

/// The refusal of a file whose profile is there but of no use.
pub(crate) fn unreadable(why: &str) -> Fault {
    Fault::artwork(
        format!(
            "The colour profile inside the file is unreadable: {why}. Its colours would have to be guessed."
        ),
        "Save the picture again with a working profile embedded, or convert it to sRGB and save it without one.",
    )
}

fn misfit(space: &[u8; 4], wanted: &[u8; 4]) -> Fault {
    let word = |four: &[u8; 4]| String::from_utf8_lossy(four).trim_end().escape_default().to_string();
    Fault::artwork(
        format!("The pixels are {}, but the profile inside the file is for {}.", word(wanted), word(space)),
        "Save the picture again with the profile of its own colour space, or convert it to sRGB.",
    )
}

/// Whether the engine can make colours of it: the transformation is built and thrown away.
fn usable(profile: &Profile, pixels: PixelFormat) -> Option<()> {
    let srgb = Profile::new_srgb();
    Transform::<u8, u8>::new_flags(
        profile,
        pixels,
        &srgb,
        PixelFormat::RGB_8,
        Intent::RelativeColorimetric,
        Flags::NO_OPTIMIZE,
    )
    .ok()
    .map(drop)
}

fn field(bytes: &[u8], at: usize) -> Option<[u8; 4]> {
    bytes.get(at..)?.first_chunk().copied()
}

fn number(bytes: &[u8], at: usize) -> Option<usize> {
    usize::try_from(u32::from_be_bytes(field(bytes, at)?)).ok()
}

/// What a profile calls itself: its `desc` tag, in the form of version 2 (ASCII) or 4 (the first UTF-16 text).
fn description(bytes: &[u8]) -> Option<String> {
    let tags = number(bytes, 128)?.min(100);
    let entry = (0..tags).map(|tag| 132 + tag * 12).find(|&at| field(bytes, at) == Some(*b"desc"))?;
    let tag = bytes.get(number(bytes, entry + 4)?..)?;
    let text = match &field(tag, 0)? {
        b"desc" => {
            let length = number(tag, 8)?.min(200);
            String::from_utf8_lossy(tag.get(12..12 + length)?).into_owned()
        }
        b"mluc" => {
            let length = number(tag, 20)?.min(400);
            let start = number(tag, 24)?;
            let text = tag.get(start..start.checked_add(length)?)?;
            let units = text.as_chunks().0.iter().map(|&pair| u16::from_be_bytes(pair));
            char::decode_utf16(units).map(|unit| unit.unwrap_or('?')).collect()
        }
        _ => return None,
    };
    let text: String = text.trim_end_matches('\0').chars().filter(|char| !char.is_control()).collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}
