//! Facts about colour that stages decide and writers show.

use std::sync::Arc;

use crate::geometry::{Face, Point};
use crate::lab::Lab;
use crate::picture::Pixels;

/// The bytes of an ICC profile and what it calls itself.
#[derive(Clone, PartialEq, Eq)]
pub struct IccProfile {
    /// Its description, or a name for it.
    pub name: String,
    /// The profile itself (ICC.1).
    pub bytes: Arc<[u8]>,
}

impl std::fmt::Debug for IccProfile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "IccProfile({}, {} bytes)", self.name, self.bytes.len())
    }
}

/// Where the meaning of the artwork's colours comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// The file carries a profile.
    Embedded(IccProfile),
    /// The file describes its colours otherwise (gAMA, cHRM, cICP, Exif); the profile was built from that.
    Described(IccProfile),
    /// The file says nothing, or says sRGB: taken as sRGB (gray with the sRGB curve).
    Srgb {
        /// Whether the file itself says so; otherwise it is our decision.
        said: bool,
    },
}

/// The four rendering intents of ICC.1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Intent {
    /// For photographs.
    Perceptual,
    /// Media-relative colorimetric, with black-point compensation.
    Relative,
    /// For charts.
    Saturation,
    /// ICC-absolute colorimetric, for proofs: prints a tint in the white.
    Absolute,
}

impl Intent {
    /// The words used in settings.
    pub const WORDS: [(&'static str, Self); 4] = [
        ("perceptual", Self::Perceptual),
        ("relative", Self::Relative),
        ("saturation", Self::Saturation),
        ("absolute", Self::Absolute),
    ];

    /// The word used in settings and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Perceptual => "perceptual",
            Self::Relative => "relative",
            Self::Saturation => "saturation",
            Self::Absolute => "absolute",
        }
    }
}

/// What was decided about colour, and what comes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Colour {
    /// Set where the sheets hold the printer's own values: the printer profile's name and how it was reached.
    pub converted: Option<Conversion>,
    /// The profile the sheet images carry; `None` leaves them untagged.
    pub attached: Option<IccProfile>,
    /// What the printer's profile says of the design; `None` where the printer has none.
    pub range: Option<InkRange>,
    /// How light and dark the design is.
    pub contrast: Contrast,
    /// How much ink it takes.
    pub ink: InkUse,
}

/// How much of the design the printer cannot reach.
#[derive(Debug, Clone, PartialEq)]
pub struct InkRange {
    /// Share of the design that differs from the nearest colour the printer has by more than [`InkRange::BEYOND`].
    pub share: f64,
    /// The part of that share which is only darker than the printer's black.
    pub darker: f64,
    /// The colours that suffer most beside those that are only darker, the worst first.
    pub worst: Vec<Swatch>,
    /// Where in the design they are.
    pub map: DifferenceMap,
}

impl InkRange {
    /// The difference, as CIEDE2000, beyond which a colour counts as out of reach. Twice what the tables of printer
    /// profiles are off by on colours within reach, and about what is seen side by side.
    pub const BEYOND: f64 = 4.0;
}

/// A colour of the artwork and what becomes of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swatch {
    /// In the artwork.
    pub artwork: Lab,
    /// As it comes out on white.
    pub printed: Lab,
    /// How different the two look, as CIEDE2000.
    pub difference: f64,
    /// Share of the design that has about this colour.
    pub share: f64,
    /// One place where it is, on the face.
    pub at: Point<Face>,
}

/// The design seen from afar: how far each cell is from the nearest colour the printer has, as CIEDE2000, darkness below
/// the printer's black not counted.
#[derive(Debug, Clone, PartialEq)]
pub struct DifferenceMap {
    /// Columns and rows, evenly over the design.
    pub size: Pixels,
    /// Row by row.
    pub cells: Vec<f32>,
}

/// The lightness of the design's darkest and lightest hundredth, as L* from 0 to 100.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    /// Printed on white.
    pub on_white: [f64; 2],
    /// Printed on the blank.
    pub on_blank: [f64; 2],
}

/// How much ink a design takes, laps not counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InkUse {
    /// Share of what full coverage of all colours over the whole design would take.
    pub coverage: f64,
    /// The same in millilitres, where the printer's full coverage was measured.
    pub ml: Option<f64>,
}

/// One conversion to a printer's profile.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conversion {
    /// Name of the printer's profile.
    pub to: String,
    /// Which rendering intent.
    pub intent: Intent,
    /// Whether black-point compensation was applied.
    pub black_point: bool,
}

impl Colour {
    /// What the maker must set at the printer, in one sentence.
    #[must_use]
    pub fn instruction(&self) -> &'static str {
        if self.converted.is_some() {
            "Colour is already converted: printer colour management off."
        } else {
            "Colour is not converted: let the printer driver manage colour, once."
        }
    }

    /// The same in a few words, for the sheets.
    #[must_use]
    pub fn short_instruction(&self) -> &'static str {
        if self.converted.is_some() {
            "colour is converted: printer colour management off"
        } else {
            "colour is not converted: printer colour management on"
        }
    }
}
