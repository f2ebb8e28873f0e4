//! Opens the artwork: from an untrusted file to a picture whose colours are known, or to a clear refusal.
//!
//! What is refused and what is done, in this order: the type is told from the content ([`sniff`]), never from
//! the name; sizes are checked against [`Limits`] before anything is allocated; all the rows and the format's
//! end mark must be there, a cut-off file is never filled up; transparency is laid over white, which is the
//! bare blank, in the encoded values; the file's own orientation is applied. Gray stays gray, CMYK stays CMYK,
//! 16 bits stay 16 bits.
//!
//! The meaning of the colours ([`Source`]) is either known (an embedded profile that
//! parses and fits the pixels, a description in the file, or sRGB), or the file is refused: a colour that has
//! to be guessed costs a blank. A file that says nothing at all is taken as sRGB, and the notes say so.
//!
//! Pictures that fit into [`Limits::memory`] are decoded into memory. Larger ones stream band by band into an
//! unlinked file in [`Limits::scratch`] and are read back where a window is asked for. PNG, the commonest, is decoded while
//! others already look at its upper rows; formats that can only be decoded as a
//! whole (JPEG, WebP, interlaced PNG, a TIFF in one tall strip) are refused instead, with the figure.

mod complete;
mod decoded;
mod described;
mod exif;
mod faults;
mod flatten;
mod icc;
mod jpeg;
mod kind;
mod png;
mod progress;
mod reduce;
mod rows;
mod sink;
mod stored;
mod tiff;
mod turn;
mod webp;

#[cfg(test)]
mod tests;

use std::fs::File;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use seamwright_contract as contract;

use contract::Fault;
use contract::colour::Source;
use contract::picture::Picture;

pub use complete::looks_complete;
pub use kind::{FileKind, sniff};

/// What an artwork file may cost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Most pixels a picture may have.
    pub pixels: u64,
    /// Most bytes a file may have.
    pub bytes: u64,
    /// Most bytes of memory the decoded picture may take; larger ones go through [`Limits::scratch`].
    pub memory: u64,
    /// Most bytes an embedded profile may have.
    pub profile_bytes: u64,
    /// The folder for pictures that do not fit into memory.
    pub scratch: PathBuf,
}

impl Limits {
    /// What is left where a decoder takes so many bytes of the memory for itself.
    fn beside(&self, bytes: u64) -> Self {
        Self { memory: self.memory.saturating_sub(bytes), ..self.clone() }
    }
}

/// An opened artwork.
#[derive(Debug)]
pub struct Opened {
    /// Its pixels, upright, without transparency.
    pub picture: Arc<dyn Picture>,
    /// What its colours mean.
    pub source: Source,
    /// What the maker should know about the file, one sentence or two each.
    pub notices: Vec<String>,
    /// Whether all of it can be decoded, once that is known.
    pub whole: Whole,
}

/// Tells when every row of an artwork is there; until then its picture gives those that are, and waits for the others.
#[derive(Debug)]
pub struct Whole(Arc<rows::Rows>);

impl Whole {
    /// Waits until every row is there.
    ///
    /// # Errors
    /// As [`begin`], for what is wrong among the rows; the picture's own methods give the same fault.
    pub fn wait(&self) -> Result<(), Fault> {
        self.0.progress.wait()
    }
}

/// Opens an artwork file, all of it.
///
/// # Errors
/// As [`begin`].
pub fn open(path: &Path, limits: &Limits) -> Result<Opened, Fault> {
    let opened = begin(path, limits)?;
    opened.whole.wait()?;
    Ok(opened)
}

/// Opens an artwork file as soon as all but its pixels is known; these go on being decoded where the format allows it.
/// Whether they can be is known once [`Whole::wait`] says so.
///
/// # Errors
/// [`contract::Blame::Artwork`] where the file cannot be used, [`contract::Blame::Machine`] where it, or the
/// scratch folder, cannot be read or written. Its place is the file's name.
pub fn begin(path: &Path, limits: &Limits) -> Result<Opened, Fault> {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    // The decoders are other people's code on hostile input: a panic in one of them is a damaged file.
    catch_unwind(AssertUnwindSafe(|| open_named(path, &name, limits)))
        .unwrap_or_else(|_| Err(faults::damaged("the decoder gave up on it")))
        .map_err(|fault| fault.at(name.as_str()))
}

fn open_named(path: &Path, name: &str, limits: &Limits) -> Result<Opened, Fault> {
    let described = std::fs::metadata(path).map_err(faults::unreadable)?;
    if !described.is_file() {
        return Err(Fault::artwork(
            "This is not a regular file.",
            "Save the picture itself into the folder.",
        ));
    }
    if described.len() == 0 {
        return Err(Fault::artwork("The file is empty.", "Save the picture again."));
    }
    faults::at_most("bytes of file", described.len(), limits.bytes)?;
    let mut file = File::open(path).map_err(faults::unreadable)?;
    let mut head = Vec::new();
    file.by_ref().take(16).read_to_end(&mut head).map_err(faults::unreadable)?;
    let decoded = match sniff(&head) {
        Some(FileKind::Png) => png::decode(file, limits),
        Some(FileKind::Jpeg) => jpeg::decode(file, limits),
        Some(FileKind::Tiff) => tiff::decode(file, limits),
        Some(FileKind::WebP) => webp::decode(file, limits),
        None => Err(Fault::artwork(
            "The file's content is not a picture of a kind that is read here, whatever its name says.",
            "Save it as PNG, TIFF, JPEG or WebP.",
        )),
    }?;
    decoded.opened(name, limits)
}
