//! Few colours, exactly: what a profile says of them in Lab, and what a printer makes of them.
//!
//! In double precision and without tables of the engine's own, so slow; for reports, not for pictures. All of it is
//! relative to the paper's white, and black points stay where they are: what a printer cannot print is to be seen.

use std::thread;

use lcms2::{DisallowCache, Flags, Intent, PixelFormat, Profile, ThreadContext, Transform};
use seamwright_contract::picture::Channels;
use seamwright_contract::{Lab, num};

use crate::engine;
use crate::icc::D50;

/// So few colours are not worth a thread.
const FEW: usize = 512;

fn cores() -> usize {
    thread::available_parallelism().map_or(1, usize::from)
}

/// Colours in the channels of a profile, to Lab. `None` where the engine cannot use the profile.
pub(crate) fn labs(profile: &[u8], channels: Channels, samples: &[u16]) -> Option<Vec<Lab>> {
    let context = ThreadContext::new();
    let from = Profile::new_icc_context(&context, profile).ok()?;
    let lab = Profile::new_lab4_context(&context, &D50).ok()?;
    run(
        &context,
        &[&from, &lab],
        engine::format(channels),
        bytemuck::cast_slice(samples),
        channels.count() * 2,
    )
}

/// The colours nearest to these that a printer of this profile has.
pub(crate) fn nearest(printer: &[u8], colours: &[Lab]) -> Option<Vec<Lab>> {
    let context = ThreadContext::new();
    let to = Profile::new_icc_context(&context, printer).ok()?;
    let back = Profile::new_icc_context(&context, printer).ok()?;
    let lab = Profile::new_lab4_context(&context, &D50).ok()?;
    let numbers: Vec<[f64; 3]> = colours.iter().map(|colour| [colour.l, colour.a, colour.b]).collect();
    run(&context, &[&lab, &to, &back, &lab], PixelFormat::Lab_DBL, bytemuck::cast_slice(&numbers), 24)
}

/// How far a dark gray or colour of this profile moves at most where its samples are rounded to 8 bits.
pub(crate) fn lost_to_eight_bits(profile: &[u8], channels: Channels) -> Option<f64> {
    // Half-way between two codes, where rounding moves most, from the darkest ones up.
    let stops = [0, 1, 2, 4, 8, 16, 32].map(|code: u16| code * 257 + 128);
    let samples: Vec<u16> = match channels {
        Channels::Gray => stops.to_vec(),
        Channels::Rgb | Channels::Cmyk => {
            let pairs = stops.iter().flat_map(|r| stops.iter().map(move |g| (*r, *g)));
            let colours = pairs.flat_map(|(r, g)| stops.iter().map(move |b| [r, g, *b]));
            colours.flatten().collect()
        }
    };
    let rounded: Vec<u16> = samples.iter().map(|sample| num::widen(num::narrow(*sample))).collect();
    let (fine, coarse) = (labs(profile, channels, &samples)?, labs(profile, channels, &rounded)?);
    Some(fine.iter().zip(coarse).map(|(one, other)| one.difference(other)).fold(0.0, f64::max))
}

/// Whether sRGB can show all that an RGB profile can.
pub(crate) fn is_within_srgb(profile: &[u8]) -> bool {
    const FULL: u16 = u16::MAX;
    let corners = [FULL, 0, 0, 0, FULL, 0, 0, 0, FULL];
    labs(profile, Channels::Rgb, &corners).is_some_and(|labs| labs.iter().all(|lab| lab.is_in_srgb()))
}

fn run(
    context: &ThreadContext,
    chain: &[&Profile<ThreadContext>],
    format: PixelFormat,
    from: &[u8],
    pixel: usize,
) -> Option<Vec<Lab>> {
    let transform: Transform<u8, u8, ThreadContext, DisallowCache> = Transform::new_multiprofile_context(
        context,
        chain,
        format,
        PixelFormat::Lab_DBL,
        Intent::RelativeColorimetric,
        Flags::NO_OPTIMIZE | Flags::NO_CACHE,
    )
    .ok()?;
    let mut numbers = vec![[0.0_f64; 3]; from.len() / pixel];
    let share = numbers.len().div_ceil(cores()).max(FEW);
    thread::scope(|scope| {
        for (from, to) in from.chunks(share * pixel).zip(numbers.chunks_mut(share)) {
            let transform = &transform;
            scope.spawn(move || transform.transform_pixels(from, bytemuck::cast_slice_mut(to)));
        }
    });
    Some(numbers.into_iter().map(|[l, a, b]| Lab::new(l, a, b)).collect())
}
