//! What every format's decoder hands over, and how it becomes an opened artwork.

use std::sync::Arc;

use crate::contract::Fault;
use crate::contract::colour::{IccProfile, Source};
use crate::contract::picture::Channels;
use crate::sink::Sink;
use crate::stored::Stored;
use crate::turn::Turn;
use crate::{Limits, Opened, icc};

/// What a file says about its colours, strongest word first.
#[derive(Debug)]
pub(crate) enum Word {
    /// An embedded profile, as found.
    Profile(Vec<u8>),
    /// A description from which a profile was built.
    Described(IccProfile),
    /// It says sRGB.
    Srgb,
    /// Nothing.
    Silent,
}

/// A decoded file.
#[derive(Debug)]
pub(crate) struct Decoded {
    /// All its rows, as stored.
    pub(crate) rows: Sink,
    /// How they have to be turned to stand upright.
    pub(crate) turn: Turn,
    /// What it says about its colours.
    pub(crate) word: Word,
    /// What the maker should know.
    pub(crate) notices: Vec<String>,
}

impl Decoded {
    /// Settles the colour and puts the picture together.
    pub(crate) fn opened(self, name: &str, limits: &Limits) -> Result<Opened, Fault> {
        let channels = self.rows.format().channels;
        let source = match self.word {
            Word::Profile(bytes) => Source::Embedded(icc::checked(bytes, channels, limits)?),
            Word::Described(profile) => Source::Described(profile),
            Word::Srgb | Word::Silent if channels == Channels::Cmyk => return Err(nameless_ink()),
            Word::Srgb => Source::Srgb { said: true },
            Word::Silent => Source::Srgb { said: false },
        };
        let picture = Stored::new(self.rows, self.turn, name)?;
        Ok(Opened { picture: Arc::new(picture), source, notices: self.notices })
    }
}

fn nameless_ink() -> Fault {
    Fault::artwork(
        "The picture is CMYK without a profile, so nobody can tell what colours its inks make.",
        "Save it with its CMYK profile embedded, or convert it to RGB.",
    )
}
