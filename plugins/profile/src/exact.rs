//! Few colours, exactly: what a profile says of them in Lab, and what a printer makes of them.
//!
//! In double precision and without tables of the engine's own, so slow; for reports, not for pictures. All of it is
//! relative to the paper's white, and black points stay where they are: what a printer cannot print is to be seen.

use lcms2::{CIExyY, DisallowCache, Flags, Intent, PixelFormat, Profile, ThreadContext, Transform};
use seamwright_contract::Lab;
use seamwright_contract::picture::Channels;

use crate::engine;

/// The white of the profile connection space.
const D50: CIExyY = CIExyY { x: 0.3457, y: 0.3585, Y: 1.0 };

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
    transform.transform_pixels(from, bytemuck::cast_slice_mut(&mut numbers));
    Some(numbers.into_iter().map(|[l, a, b]| Lab::new(l, a, b)).collect())
}
