//! Facts about colour that stages decide and writers show.

use std::sync::Arc;

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

/// What was decided about colour.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Colour {
    /// Set where the sheets hold the printer's own values: the printer profile's name and how it was reached.
    pub converted: Option<Conversion>,
    /// The profile the sheet images carry; `None` leaves them untagged.
    pub attached: Option<IccProfile>,
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
}
