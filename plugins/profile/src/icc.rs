//! What a profile's header says (ICC.1, clause 7.2), and the profiles made for artwork that has none.
//!
//! The header is read here and not by the engine, which gives no reason when it refuses a profile; with the class
//! and the colour space known, a message can say what is wrong.

use lcms2::{CIExyY, CIExyYTRIPLE, Profile, ThreadContext, ToneCurve};
use seamwright_contract::Fault;
use seamwright_contract::colour::IccProfile;
use seamwright_contract::picture::Channels;

/// Where the header holds the moment of creation: six 16-bit numbers, year to second.
const DATE: std::ops::Range<usize> = 24..36;

/// Where the header holds the profile's identifier, a digest of the rest; zero where none was worked out.
const IDENTIFIER: std::ops::Range<usize> = 84..100;

/// The first of January 2000, midnight: any date does, as long as it is always the same.
const FIXED_DATE: [u8; 12] = [0x07, 0xD0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0];

/// The curve of sRGB (IEC 61966-2-1) as a parametric curve of type 3 in ICC.1, which the engine counts as its fourth.
const SRGB_CURVE: [f64; 5] = [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045];

/// The white of the profile connection space.
pub(crate) const D50: CIExyY = CIExyY { x: 0.3457, y: 0.3585, Y: 1.0 };

/// What kind of device a profile describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Class {
    Input,
    Display,
    Output,
    Space,
    /// Not a description of one device: a link, an abstract or a named-colour profile, or nothing known.
    Other,
}

/// What a profile's header says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Header {
    pub(crate) class: Class,
    /// `None` for a colour space that pictures here do not have.
    pub(crate) channels: Option<Channels>,
    /// Major version of the format.
    pub(crate) version: u8,
}

impl Header {
    /// `None` where the bytes are no ICC profile.
    pub(crate) fn read(bytes: &[u8]) -> Option<Self> {
        if bytes.get(36..40)? != b"acsp" || bytes.len() < 132 {
            return None;
        }
        let class = match bytes.get(12..16)? {
            b"scnr" => Class::Input,
            b"mntr" => Class::Display,
            b"prtr" => Class::Output,
            b"spac" => Class::Space,
            _ => Class::Other,
        };
        let channels = match bytes.get(16..20)? {
            b"RGB " => Some(Channels::Rgb),
            b"GRAY" => Some(Channels::Gray),
            b"CMYK" => Some(Channels::Cmyk),
            _ => None,
        };
        Some(Self { class, channels, version: *bytes.get(8)? })
    }

    /// Whether it is the profile of a device that prints in colour.
    pub(crate) fn prints_colours(self) -> bool {
        self.class == Class::Output && matches!(self.channels, Some(Channels::Rgb | Channels::Cmyk))
    }
}

/// Channels in words, for messages.
pub(crate) fn word(channels: Option<Channels>) -> &'static str {
    match channels {
        Some(Channels::Gray) => "gray",
        Some(Channels::Rgb) => "RGB",
        Some(Channels::Cmyk) => "CMYK",
        None => "another kind of colour",
    }
}

/// sRGB as a profile: the same bytes in every run.
pub(crate) fn srgb() -> Result<IccProfile, Fault> {
    let context = ThreadContext::new();
    let made = Profile::new_srgb_context(&context);
    finished("sRGB", made.icc())
}

/// Gray with the curve of sRGB as a profile: the same bytes in every run.
pub(crate) fn srgb_gray() -> Result<IccProfile, Fault> {
    let context = ThreadContext::new();
    let made = ToneCurve::new_parametric(4, &SRGB_CURVE)
        .and_then(|curve| Profile::new_gray_context(&context, &D50, &curve))
        .and_then(|profile| profile.icc());
    finished("gray with the sRGB curve", made)
}

/// The primaries of ITU-R BT.2020 under D65 with the curve of sRGB as a profile: the same bytes in every run.
pub(crate) fn wide() -> Result<IccProfile, Fault> {
    let context = ThreadContext::new();
    let point = |x, y| CIExyY { x, y, Y: 1.0 };
    let corners =
        CIExyYTRIPLE { Red: point(0.708, 0.292), Green: point(0.170, 0.797), Blue: point(0.131, 0.046) };
    let made = ToneCurve::new_parametric(4, &SRGB_CURVE)
        .and_then(|curve| {
            Profile::new_rgb_context(&context, &point(0.3127, 0.3290), &corners, &[&curve, &curve, &curve])
        })
        .and_then(|profile| profile.icc());
    finished("BT.2020 with the sRGB curve", made)
}

fn finished(name: &str, made: Result<Vec<u8>, lcms2::Error>) -> Result<IccProfile, Fault> {
    let failed =
        |why: &str| Fault::defect(format!("The built-in profile '{name}' could not be made: {why}."));
    let mut bytes = made.map_err(|e| failed(&e.to_string()))?;
    bytes.get_mut(DATE).ok_or_else(|| failed("it is too short"))?.copy_from_slice(&FIXED_DATE);
    bytes.get_mut(IDENTIFIER).ok_or_else(|| failed("it is too short"))?.fill(0);
    Ok(IccProfile { name: name.to_owned(), bytes: bytes.into() })
}
