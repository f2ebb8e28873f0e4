//! The colour engine: one conversion between two profiles, set up once and used from any thread.
//!
//! RGB, which nearly all artwork is, goes through a table of our own ([`mod@link`]), sampled once from the engine's exact
//! way, or, where both profiles are as simple as that, through one [`matrix`](crate::matrix). Gray and CMYK go through the engine's optimised path: with sixteen bits in and out, whatever the picture has, for
//! with eight it is visibly wrong in the shadows of some printer profiles; with tables at high resolution; and it keeps
//! white exactly white, which the exact path does not.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use lcms2::{DisallowCache, Flags, PixelFormat, Profile, ThreadContext, Transform};
use seamwright_contract::colour::Intent;
use seamwright_contract::num;
use seamwright_contract::picture::{Channels, Samples};
use seamwright_contract::recent::Recent;

use crate::exact;
use crate::link::{self, Link, Spread};
use crate::matrix::Matrix;

/// Tells the engine that a profile is asked about as the one converted to (`LCMS_USED_AS_OUTPUT`).
const AS_OUTPUT: u32 = 1;

/// So many conversions are kept for whoever asks for the same: a job has up to three, and jobs of the same artwork have
/// the same.
const KEPT: usize = 6;

static ENGINES: Recent<Key, Arc<Engine>, KEPT> = Recent::new();
static NUMBERS: AtomicU64 = AtomicU64::new(1);

/// What makes a conversion what it is.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Key {
    from: (Vec<u8>, Channels),
    to: (Vec<u8>, Channels),
    intent: Intent,
    black_point: bool,
}

/// One conversion between two profiles.
#[derive(Debug)]
pub(crate) struct Engine {
    /// No other has the same.
    pub(crate) number: u64,
    way: Way,
    /// Samples of a pixel, in and out.
    pub(crate) samples: [usize; 2],
}

/// How pixels go through.
#[derive(Debug)]
enum Way {
    /// RGB, by a matrix.
    Matrix(Matrix),
    /// RGB, by a table of our own, to so many channels.
    Link(Box<Link>, Channels),
    /// Gray and CMYK, by the engine's.
    Engine {
        transform: Transform<u8, u8, ThreadContext, DisallowCache>,
        /// Must outlive the transform, so it stands after it; the lock is never taken, and makes it shareable.
        _context: Mutex<ThreadContext>,
    },
}

impl Engine {
    /// As [`Self::new`], or the very same where it was asked for lately.
    pub(crate) fn of(
        from: (&[u8], Channels),
        to: (&[u8], Channels),
        intent: Intent,
        black_point: bool,
    ) -> Option<Arc<Self>> {
        let owned = |(bytes, channels): (&[u8], Channels)| (bytes.to_vec(), channels);
        let key = Key { from: owned(from), to: owned(to), intent, black_point };
        ENGINES.get(&key, || Self::new(from, to, intent, black_point).map(Arc::new).ok_or(())).ok()
    }

    /// Black points are matched where that is asked for. `None` where the engine cannot use the profiles; it gives no
    /// reason.
    pub(crate) fn new(
        from: (&[u8], Channels),
        to: (&[u8], Channels),
        intent: Intent,
        black_point: bool,
    ) -> Option<Self> {
        let context = ThreadContext::new();
        let source = Profile::new_icc_context(&context, from.0).ok()?;
        let target = Profile::new_icc_context(&context, to.0).ok()?;
        let transform = |formats: [PixelFormat; 2], quality: Flags| {
            let mut flags = Flags::NO_CACHE | quality;
            if black_point {
                flags = flags | Flags::BLACKPOINT_COMPENSATION;
            }
            let [taken, given] = formats;
            let intent = spoken(intent);
            Transform::new_flags_context(&context, &source, taken, &target, given, intent, flags).ok()
        };
        let way = if from.1 == Channels::Rgb {
            let transform = transform([PixelFormat::RGB_DBL, exact_format(to.1)], Flags::NO_OPTIMIZE)?;
            if let Some(matrix) = matrix(&source, &target, &transform) {
                Way::Matrix(matrix)
            } else {
                let plain = source.is_matrix_shaper() && intent != Intent::Absolute;
                let nodes = if plain { link::NODES } else { link::FINE_NODES };
                let link = link(&transform, &spread(from.0)?, to.1, intent, nodes);
                Way::Link(Box::new(link), to.1)
            }
        } else {
            let transform = transform([from.1, to.1].map(format), Flags::HIGHRES_PRECALC)?;
            Way::Engine { transform, _context: Mutex::new(context) }
        };
        let number = NUMBERS.fetch_add(1, Ordering::Relaxed);
        Some(Self { number, way, samples: [from.1.count(), to.1.count()] })
    }

    #[cfg(test)]
    pub(crate) fn is_matrix(&self) -> bool {
        matches!(self.way, Way::Matrix(_))
    }

    /// Converts whole pixels of RGB to 8 bits a sample; false where pixels do not go this way.
    pub(crate) fn convert_rgb(&self, from: &Samples, to: &mut [u8]) -> bool {
        match &self.way {
            Way::Matrix(matrix) => matrix.convert(from, to),
            Way::Link(link, Channels::Gray) => link.convert::<1>(from, to),
            Way::Link(link, Channels::Rgb) => link.convert::<3>(from, to),
            Way::Link(link, Channels::Cmyk) => link.convert::<4>(from, to),
            Way::Engine { .. } => return false,
        }
        true
    }

    /// Converts whole pixels of gray or CMYK; both slices hold the same number of them.
    pub(crate) fn convert(&self, from: &[u16], to: &mut [u16]) {
        if let Way::Engine { transform, .. } = &self.way {
            transform.transform_pixels(bytemuck::cast_slice(from), bytemuck::cast_slice_mut(to));
        }
    }
}

/// The matrix of an exact conversion, where it is one.
fn matrix(
    source: &Profile<ThreadContext>,
    target: &Profile<ThreadContext>,
    transform: &Transform<u8, u8, ThreadContext, DisallowCache>,
) -> Option<Matrix> {
    Matrix::new(source, target, |pixels| {
        let mut out = vec![[0.0_f64; 3]; pixels.len()];
        transform.transform_pixels(bytemuck::cast_slice(pixels), bytemuck::cast_slice_mut(&mut out));
        out
    })
}

/// The table of an exact conversion from RGB.
fn link(
    transform: &Transform<u8, u8, ThreadContext, DisallowCache>,
    spread: &Spread,
    to: Channels,
    intent: Intent,
    nodes: u16,
) -> Link {
    let each = to.count();
    // The engine gives ink in per cent.
    let full = if to == Channels::Cmyk { 100.0 } else { 1.0 };
    let exact = |pixels: &[[f64; 3]]| {
        let mut out = vec![0.0_f64; pixels.len() * each];
        transform.transform_pixels(bytemuck::cast_slice(pixels), bytemuck::cast_slice_mut(&mut out));
        let of_255 = |value: &f64| num::single((value / full).clamp(-4.0, 4.0) * 255.0);
        let mut room = [0.0; 4];
        out.chunks_exact(each)
            .map(|pixel| {
                room.iter_mut().zip(pixel).for_each(|(to, from)| *to = of_255(from));
                room
            })
            .collect()
    };
    let bare = (intent != Intent::Absolute).then(|| [f32::from(to.bare()); 4]);
    Link::new(nodes, spread, bare, exact)
}

/// How the grays of a profile go from dark to light.
fn spread(profile: &[u8]) -> Option<Spread> {
    let grays: Vec<u16> =
        (0..=1024_u32).flat_map(|step| [u16::try_from(step * 65535 / 1024).unwrap_or(u16::MAX); 3]).collect();
    let labs = exact::labs(profile, Channels::Rgb, &grays)?;
    Some(Spread::by_lightness(&labs.iter().map(|lab| lab.l).collect::<Vec<_>>()))
}

fn exact_format(channels: Channels) -> PixelFormat {
    match channels {
        Channels::Gray => PixelFormat::GRAY_DBL,
        Channels::Rgb => PixelFormat::RGB_DBL,
        Channels::Cmyk => PixelFormat::CMYK_DBL,
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
