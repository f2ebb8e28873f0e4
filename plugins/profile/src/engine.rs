//! The colour engine: one conversion between two profiles, set up once and used from any thread.
//!
//! Sixteen bits go in and come out, whatever the picture has: with eight bits in, the engine's fast path is visibly
//! wrong in the shadows of some printer profiles. Its tables are built at high resolution. Its optimised path is
//! also the one that keeps white exactly white, which the exact path does not.

use std::sync::Mutex;

use lcms2::{DisallowCache, Flags, PixelFormat, Profile, ThreadContext, Transform};
use seamwright_contract::colour::Intent;
use seamwright_contract::picture::Channels;

/// Tells the engine that a profile is asked about as the one converted to (`LCMS_USED_AS_OUTPUT`).
const AS_OUTPUT: u32 = 1;

/// One conversion between two profiles.
#[derive(Debug)]
pub(crate) struct Engine {
    transform: Transform<u8, u8, ThreadContext, DisallowCache>,
    /// Samples of a pixel, in and out.
    pub(crate) samples: [usize; 2],
    /// Must outlive the transform, so it stands after it; the lock is never taken, and makes it shareable.
    _context: Mutex<ThreadContext>,
}

impl Engine {
    /// Black points are matched where that is asked for. `None` where the engine cannot use the profiles; it gives no
    /// reason.
    pub(crate) fn new(
        from: (&[u8], Channels),
        to: (&[u8], Channels),
        intent: Intent,
        black_point: bool,
    ) -> Option<Self> {
        let context = ThreadContext::new();
        let transform = {
            let source = Profile::new_icc_context(&context, from.0).ok()?;
            let target = Profile::new_icc_context(&context, to.0).ok()?;
            let mut flags = Flags::NO_CACHE | Flags::HIGHRES_PRECALC;
            if black_point {
                flags = flags | Flags::BLACKPOINT_COMPENSATION;
            }
            Transform::new_flags_context(
                &context,
                &source,
                format(from.1),
                &target,
                format(to.1),
                spoken(intent),
                flags,
            )
            .ok()?
        };
        Some(Self { transform, samples: [from.1.count(), to.1.count()], _context: Mutex::new(context) })
    }

    /// Converts whole pixels; both slices hold the same number of them.
    pub(crate) fn convert(&self, from: &[u16], to: &mut [u16]) {
        self.transform.transform_pixels(bytemuck::cast_slice(from), bytemuck::cast_slice_mut(to));
    }
}

/// Whether a profile can be converted to with this intent; `None` where it cannot be read.
pub(crate) fn supports(bytes: &[u8], intent: Intent) -> Option<bool> {
    let context = ThreadContext::new();
    let profile = Profile::new_icc_context(&context, bytes).ok()?;
    Some(profile.is_intent_supported(spoken(intent), AS_OUTPUT))
}

/// Whether black points are matched: asked for with the relative intent, and always done by the engine for the
/// perceptual and saturation intents of a profile of version 4 or later.
pub(crate) fn matches_black(intent: Intent, target_version: u8) -> bool {
    match intent {
        Intent::Relative => true,
        Intent::Perceptual | Intent::Saturation => target_version >= 4,
        Intent::Absolute => false,
    }
}

pub(crate) fn spoken(intent: Intent) -> lcms2::Intent {
    match intent {
        Intent::Perceptual => lcms2::Intent::Perceptual,
        Intent::Relative => lcms2::Intent::RelativeColorimetric,
        Intent::Saturation => lcms2::Intent::Saturation,
        Intent::Absolute => lcms2::Intent::AbsoluteColorimetric,
    }
}

pub(crate) fn format(channels: Channels) -> PixelFormat {
    match channels {
        Channels::Gray => PixelFormat::GRAY_16,
        Channels::Rgb => PixelFormat::RGB_16,
        Channels::Cmyk => PixelFormat::CMYK_16,
    }
}
