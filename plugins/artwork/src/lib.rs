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
//!
//! Drawings (`svg`, a page of a `pdf`) have no pixels: they are looked over and parsed, and drawn later in the very pixels
//! the layout asks for (`drawn`). What they would leave out in silence (a picture that lies elsewhere, a glyph that no font
//! has) is refused or warned of: a hole costs a blank.

mod complete;
mod decoded;
mod described;
mod drawn;
mod exif;
mod faults;
mod flatten;
mod icc;
mod jpeg;
mod kind;
mod patience;
mod pdf;
mod png;
mod progress;
mod reduce;
mod rows;
mod sink;
mod stored;
mod svg;
mod tiff;
mod webp;

#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use seamwright_contract as contract;

use contract::colour::Source;
use contract::layout::Drawing;
use contract::order::fields_in;
use contract::picture::Picture;
use contract::{Fault, Size};

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
    /// The longest that reading a drawing may take, and again drawing it.
    pub drawing: Duration,
    /// The folder with the studio's own fonts, for the words of drawings; it need not be there.
    pub fonts: PathBuf,
}

/// What is wanted of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    /// The page, from 1.
    pub page: u32,
    /// What `{name}` and the like in the words of an SVG stand for.
    pub fields: BTreeMap<String, String>,
}

impl Default for Wanted {
    fn default() -> Self {
        Self { page: 1, fields: BTreeMap::new() }
    }
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
    /// What it is if it has no pixels of its own.
    pub drawing: Option<Drawing>,
    /// What the maker should know about the file, one sentence or two each.
    pub notices: Vec<String>,
    /// Whether words in it were filled in from the fields that were wanted.
    pub filled: bool,
    /// Whether all of it can be decoded, once that is known.
    pub whole: Whole,
}

/// Tells when every row of an artwork is there; until then its picture gives those that are, and waits for the others. A
/// drawing is whole as soon as it is read.
#[derive(Debug)]
pub struct Whole(Option<Arc<rows::Rows>>);

impl Whole {
    /// Waits until every row is there.
    ///
    /// # Errors
    /// As [`begin`], for what is wrong among the rows; the picture's own methods give the same fault.
    pub fn wait(&self) -> Result<(), Fault> {
        self.0.as_ref().map_or(Ok(()), |rows| rows.progress.wait())
    }
}

/// Opens an artwork file, all of it, at its first page.
///
/// # Errors
/// As [`begin`].
pub fn open(path: &Path, limits: &Limits) -> Result<Opened, Fault> {
    let opened = begin(path, &Wanted::default(), limits)?;
    opened.whole.wait()?;
    Ok(opened)
}

/// Opens an artwork file as soon as all but its pixels is known; these go on being decoded where the format allows it.
/// Whether they can be is known once [`Whole::wait`] says so.
///
/// # Errors
/// [`contract::Blame::Artwork`] where the file cannot be used, [`contract::Blame::Machine`] where it, or the
/// scratch folder, cannot be read or written. Its place is the file's name.
pub fn begin(path: &Path, wanted: &Wanted, limits: &Limits) -> Result<Opened, Fault> {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    // The decoders are other people's code on hostile input: a panic in one of them is a damaged file.
    catch_unwind(AssertUnwindSafe(|| open_named(path, &name, wanted, limits)))
        .unwrap_or_else(|_| Err(faults::damaged("the decoder gave up on it")))
        .map_err(|fault| fault.at(name.as_str()))
}

/// The size that a drawing has of its own.
///
/// # Errors
/// As [`begin`], and where the file is no drawing.
pub fn drawn_size(path: &Path, wanted: &Wanted, limits: &Limits) -> Result<Size, Fault> {
    let mut head = Vec::new();
    let file = File::open(path).map_err(faults::unreadable)?;
    file.take(kind::HEAD).read_to_end(&mut head).map_err(faults::unreadable)?;
    if !matches!(sniff(&head), Some(FileKind::Svg | FileKind::Pdf)) {
        return Err(no_own_size());
    }
    begin(path, wanted, limits)?.drawing.map(|drawing| drawing.size).ok_or_else(no_own_size)
}

/// The fields that the words of an artwork may ask for: all that stand in the text of an SVG. Others ask for none.
///
/// # Errors
/// As [`begin`], where the file cannot be read.
pub fn fields_asked(path: &Path, limits: &Limits) -> Result<BTreeSet<String>, Fault> {
    let mut file = File::open(path).map_err(faults::unreadable)?;
    let mut head = Vec::new();
    file.by_ref().take(kind::HEAD).read_to_end(&mut head).map_err(faults::unreadable)?;
    if sniff(&head) != Some(FileKind::Svg) {
        return Ok(BTreeSet::new());
    }
    Ok(fields_in(&svg::text(file, limits)?).map(str::to_owned).collect())
}

fn no_own_size() -> Fault {
    Fault::order(
        "Only a drawing (SVG, PDF) has a size of its own.",
        "Write `size: {width: …, height: …}`, or leave `size` out to fill the design area.",
    )
}

fn open_named(path: &Path, name: &str, wanted: &Wanted, limits: &Limits) -> Result<Opened, Fault> {
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
    file.by_ref().take(kind::HEAD).read_to_end(&mut head).map_err(faults::unreadable)?;
    let kind = sniff(&head);
    if wanted.page > 1 && kind != Some(FileKind::Pdf) {
        return Err(no_pages(wanted.page));
    }
    let decoded = match kind {
        Some(FileKind::Svg) => {
            return svg::open(file, wanted, limits).map(|sheet| sheet.opened(name, limits));
        }
        Some(FileKind::Pdf) => {
            return pdf::open(file, wanted, limits).map(|sheet| sheet.opened(name, limits));
        }
        Some(FileKind::Png) => png::decode(file, limits),
        Some(FileKind::Jpeg) => jpeg::decode(file, limits),
        Some(FileKind::Tiff) => tiff::decode(file, limits),
        Some(FileKind::WebP) => webp::decode(file, limits),
        None => Err(Fault::artwork(
            "The file's content is not a picture of a kind that is read here, whatever its name says.",
            "Save it as PNG, TIFF, JPEG, WebP, SVG or PDF.",
        )),
    }?;
    decoded.opened(name, limits)
}

fn no_pages(page: u32) -> Fault {
    Fault::order(
        format!("The order asks for page {page}, but only a PDF has pages."),
        "Take the line `page: …` out of the order.",
    )
}
