//! Profiles built from what a file says in other words: PNG's cICP, gAMA and cHRM, and Exif's opRGB.
//!
//! Code points are those of ITU-T H.273; the sRGB and BT.709 curves and the primaries are as published there.

use lcms2::{CIExyY, CIExyYTRIPLE, Locale, MLU, Profile, Tag, TagSignature, ToneCurve};

use crate::contract::Fault;
use crate::contract::colour::IccProfile;
use crate::contract::picture::Channels;

/// White, red, green and blue as CIE 1931 x and y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Primaries(pub(crate) [[f64; 2]; 4]);

const D65: [f64; 2] = [0.3127, 0.3290];

/// Those of sRGB and BT.709.
pub(crate) const SRGB: Primaries = Primaries([D65, [0.64, 0.33], [0.30, 0.60], [0.15, 0.06]]);
/// Those of opRGB (IEC 61966-2-5).
const OP_RGB: Primaries = Primaries([D65, [0.64, 0.33], [0.21, 0.71], [0.15, 0.06]]);

/// How encoded values become light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Curve {
    /// A power.
    Power(f64),
    /// IEC 61966-2-1.
    Srgb,
    /// The inverse of BT.709's camera curve, shared by several code points.
    Bt709,
}

impl Curve {
    fn built(self) -> Result<ToneCurve, Fault> {
        let parameters: [f64; 5] = match self {
            Self::Power(gamma) => return Ok(ToneCurve::new(gamma)),
            Self::Srgb => [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045],
            Self::Bt709 => [1.0 / 0.45, 1.0 / 1.099, 0.099 / 1.099, 1.0 / 4.5, 0.081],
        };
        ToneCurve::new_parametric(4, &parameters).map_err(|_| impossible())
    }
}

impl Primaries {
    /// Whether they are the same to within the rounding that files use.
    pub(crate) fn near(self, other: Self) -> bool {
        self.0.iter().flatten().zip(other.0.iter().flatten()).all(|(a, b)| (a - b).abs() < 0.001)
    }

    /// Whether they can span colours: all inside the chart, and the triangle not flat.
    fn sound(self) -> bool {
        let [_, r, g, b] = self.0;
        let area = ((g[0] - r[0]) * (b[1] - r[1]) - (b[0] - r[0]) * (g[1] - r[1])).abs();
        area > 0.001
            && self.0.iter().flatten().all(|part| part.is_finite())
            && self.0[0].iter().all(|part| *part > 0.0)
    }
}

/// A profile for these primaries and this curve; gray takes the curve alone.
pub(crate) fn build(
    name: &str,
    primaries: Primaries,
    curve: Curve,
    channels: Channels,
) -> Result<IccProfile, Fault> {
    let tone = curve.built()?;
    let mut profile = if channels == Channels::Gray {
        Profile::new_gray(&point(D65), &tone)
    } else if primaries.sound() {
        let [white, red, green, blue] = primaries.0;
        let corners = CIExyYTRIPLE { Red: point(red), Green: point(green), Blue: point(blue) };
        Profile::new_rgb(&point(white), &corners, &[&tone, &tone, &tone])
    } else {
        return Err(impossible());
    }
    .map_err(|_| impossible())?;
    let mut text = MLU::new(1);
    if text.set_text(name, Locale::none()) {
        profile.write_tag(TagSignature::ProfileDescriptionTag, Tag::MLU(&text));
    }
    let mut bytes = profile.icc().map_err(|_| impossible())?;
    // The date of making would give the same artwork another profile each day.
    if let Some(date) = bytes.get_mut(24..36) {
        date.copy_from_slice(&[7, 208, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0]);
    }
    Ok(IccProfile { name: name.to_owned(), bytes: bytes.into() })
}

/// opRGB, as cameras mean it.
pub(crate) fn op_rgb() -> Result<IccProfile, Fault> {
    build("opRGB", OP_RGB, Curve::Power(563.0 / 256.0), Channels::Rgb)
}

/// The profile of a PNG's cICP chunk; `None` where it says plain sRGB.
pub(crate) fn code_points(
    primaries: u8,
    transfer: u8,
    matrix: u8,
    full_range: bool,
    channels: Channels,
) -> Result<Option<IccProfile>, Fault> {
    if matrix != 0 || !full_range {
        return Err(unknown("it says that the samples are not full-range RGB"));
    }
    let corners = match primaries {
        1 => SRGB,
        4 => Primaries([[0.310, 0.316], [0.67, 0.33], [0.21, 0.71], [0.14, 0.08]]),
        5 => Primaries([D65, [0.64, 0.33], [0.29, 0.60], [0.15, 0.06]]),
        6 | 7 => Primaries([D65, [0.630, 0.340], [0.310, 0.595], [0.155, 0.070]]),
        9 => Primaries([D65, [0.708, 0.292], [0.170, 0.797], [0.131, 0.046]]),
        11 => Primaries([[0.314, 0.351], [0.680, 0.320], [0.265, 0.690], [0.150, 0.060]]),
        12 => Primaries([D65, [0.680, 0.320], [0.265, 0.690], [0.150, 0.060]]),
        22 => Primaries([D65, [0.630, 0.340], [0.295, 0.605], [0.155, 0.077]]),
        other => return Err(unknown(&format!("primaries {other} are not known here"))),
    };
    let curve = match transfer {
        1 | 6 | 14 | 15 => Curve::Bt709,
        4 => Curve::Power(2.2),
        5 => Curve::Power(2.8),
        8 => Curve::Power(1.0),
        13 => Curve::Srgb,
        16 | 18 => return Err(unknown("it is a high-dynamic-range picture, which paper cannot show")),
        other => return Err(unknown(&format!("transfer curve {other} is not known here"))),
    };
    if (primaries, transfer) == (1, 13) {
        return Ok(None);
    }
    let name = match (primaries, transfer) {
        (12, 13) => "Display P3".to_owned(),
        _ => format!("code points {primaries}/{transfer}"),
    };
    build(&name, corners, curve, channels).map(Some)
}

fn point([x, y]: [f64; 2]) -> CIExyY {
    CIExyY { x, y, Y: 1.0 }
}

fn unknown(why: &str) -> Fault {
    Fault::artwork(
        format!("The file's colour description (cICP) cannot be followed: {why}."),
        "Convert the picture to sRGB and save it again.",
    )
}

fn impossible() -> Fault {
    Fault::artwork(
        "The file describes its colours in a way that no screen could show.",
        "Convert the picture to sRGB and save it again.",
    )
}
