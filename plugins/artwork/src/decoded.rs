//! What every format's decoder hands over, and how it becomes an opened artwork.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use crate::contract::Fault;
use crate::contract::colour::{IccProfile, Source};
use crate::contract::picture::Channels;
use crate::contract::turn::Turn;
use crate::sink::Sink;
use crate::stored::Stored;
use crate::{Limits, Opened, Whole, faults, icc, patience};

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

/// Decodes the rows of a picture to the end of its file.
pub(crate) type Rest = Box<dyn FnOnce(&mut Sink) -> Result<(), Fault> + Send>;

/// A file that is decoded, or whose rows can be as soon as all else is known.
pub(crate) struct Decoded {
    /// Its rows, as stored.
    pub(crate) rows: Sink,
    /// What gives the rows that are not there yet.
    pub(crate) rest: Option<Rest>,
    /// How they have to be turned to stand upright.
    pub(crate) turn: Turn,
    /// What it says about its colours.
    pub(crate) word: Word,
    /// What the maker should know.
    pub(crate) notices: Vec<String>,
}

impl Decoded {
    /// Settles the colour, puts the picture together, and goes on decoding in a thread of its own.
    pub(crate) fn opened(self, name: &str, limits: &Limits) -> Result<Opened, Fault> {
        let channels = self.rows.rows.format.channels;
        let source = match self.word {
            Word::Profile(bytes) => Source::Embedded(icc::checked(bytes, channels, limits)?),
            Word::Described(profile) => Source::Described(profile),
            Word::Srgb | Word::Silent if channels == Channels::Cmyk => return Err(nameless_ink()),
            Word::Srgb => Source::Srgb { said: true },
            Word::Silent => Source::Srgb { said: false },
        };
        let rows = Arc::clone(&self.rows.rows);
        match self.rest {
            Some(rest) => go_on(self.rows, rest, name.to_owned())?,
            None => self.rows.end(Ok(())),
        }
        let picture = Stored::new(Arc::clone(&rows), self.turn, name.to_owned());
        Ok(Opened {
            picture: Arc::new(picture),
            source,
            drawing: None,
            notices: self.notices,
            filled: false,
            whole: Whole(Some(rows)),
        })
    }
}

fn go_on(mut sink: Sink, rest: Rest, name: String) -> Result<(), Fault> {
    patience::thread(move || {
        // As for the file's head: a panic in a decoder is a damaged file.
        let ended = catch_unwind(AssertUnwindSafe(|| rest(&mut sink)));
        let ended = ended.unwrap_or_else(|_| Err(faults::damaged("the decoder gave up on it")));
        sink.end(ended.map_err(|fault| fault.at(name)));
    })
}

fn nameless_ink() -> Fault {
    Fault::artwork(
        "The picture is CMYK without a profile, so nobody can tell what colours its inks make.",
        "Save it with its CMYK profile embedded, or convert it to RGB.",
    )
}
