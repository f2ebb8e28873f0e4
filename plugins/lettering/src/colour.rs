//! A colour of sRGB in the samples of the artwork, so that it comes out as if it had been part of it.

use lcms2::{Flags, Intent, PixelFormat, Profile, Transform};
use seamwright_contract::colour::{IccProfile, Source};
use seamwright_contract::picture::Channels;
use seamwright_contract::{Fault, num};

/// The samples, 16 bits each. By a profile it is the nearest colour it has, black points matched.
pub(crate) fn in_space(colour: [u8; 3], source: &Source, channels: Channels) -> Result<Vec<u16>, Fault> {
    if channels == Channels::Gray && colour.iter().any(|sample| *sample != colour[0]) {
        return Err(no_colours(colour));
    }
    match (source, channels) {
        (Source::Srgb { .. }, Channels::Rgb) => Ok(colour.map(num::widen).to_vec()),
        (Source::Srgb { .. }, Channels::Gray) => Ok(vec![num::widen(colour[0])]),
        (Source::Srgb { .. }, Channels::Cmyk) => {
            Err(Fault::defect("ink without a profile came to lettering"))
        }
        (Source::Embedded(profile) | Source::Described(profile), channels) => by(profile, colour, channels),
    }
}

fn by(profile: &IccProfile, colour: [u8; 3], channels: Channels) -> Result<Vec<u16>, Fault> {
    let unfit = |why| {
        Fault::artwork(
            format!(
                "The lettering cannot be set in the picture's colours, by the profile '{}': {why}.",
                profile.name
            ),
            "Save the picture in sRGB.",
        )
    };
    let format = match channels {
        Channels::Gray => PixelFormat::GRAY_16,
        Channels::Rgb => PixelFormat::RGB_16,
        Channels::Cmyk => PixelFormat::CMYK_16,
    };
    let (from, to) = (Profile::new_srgb(), Profile::new_icc(&profile.bytes).map_err(unfit)?);
    let (intent, flags) = (Intent::RelativeColorimetric, Flags::BLACKPOINT_COMPENSATION);
    let transform: Transform<u8, u8> =
        Transform::new_flags(&from, PixelFormat::RGB_8, &to, format, intent, flags).map_err(unfit)?;
    let mut out = vec![0; channels.count() * 2];
    transform.transform_pixels(&colour, &mut out);
    Ok(out.as_chunks().0.iter().map(|sample| u16::from_ne_bytes(*sample)).collect())
}

fn no_colours([red, green, blue]: [u8; 3]) -> Fault {
    Fault::order(
        format!(
            "The picture is in shades of gray, and lettering in #{red:02x}{green:02x}{blue:02x} cannot be set on it."
        ),
        "Write a black, gray or white `colour`, or save the picture in RGB.",
    )
}
