//! Pictures as functions: a rectangle of pixels is asked for, and those pixels come back.
//!
//! A stage wraps one picture in another and nothing is computed until a writer asks. A window of a picture
//! equals that part of the whole to within 1 of 255 (vector units round differently), whichever windows are
//! asked for and in whatever order, also from several threads at once.

use std::fmt;
use std::sync::Arc;

use crate::fault::Fault;
use crate::num;
use crate::survey::{self, Survey, Wish};

/// A size in whole pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Pixels {
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
}

impl Pixels {
    /// Columns and rows.
    #[must_use]
    pub const fn new(width: u32, height: u32) -> Self {
        Self { width, height }
    }

    /// Of the same proportions, its longer side at most so long.
    #[must_use]
    pub fn at_most(self, longer: f64) -> Self {
        let share = (longer / f64::from(self.width.max(self.height).max(1))).min(1.0);
        let side = |pixels: u32| num::pixels(f64::from(pixels) * share).clamp(1, pixels.max(1));
        Self::new(side(self.width), side(self.height))
    }

    /// How many pixels there are.
    #[must_use]
    pub fn count(self) -> u64 {
        u64::from(self.width) * u64::from(self.height)
    }
}

/// A rectangle of whole pixels inside a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Window {
    /// First column.
    pub x: u32,
    /// First row.
    pub y: u32,
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
}

impl Window {
    /// From its first column and row and its size.
    #[must_use]
    pub const fn new(x: u32, y: u32, width: u32, height: u32) -> Self {
        Self { x, y, width, height }
    }

    /// All of a picture of this size.
    #[must_use]
    pub const fn whole(size: Pixels) -> Self {
        Self::new(0, 0, size.width, size.height)
    }

    /// Its columns and rows.
    #[must_use]
    pub const fn size(self) -> Pixels {
        Pixels::new(self.width, self.height)
    }

    /// Whether it lies inside a picture of this size.
    #[must_use]
    pub fn within(self, size: Pixels) -> bool {
        u64::from(self.x) + u64::from(self.width) <= u64::from(size.width)
            && u64::from(self.y) + u64::from(self.height) <= u64::from(size.height)
    }

    /// Asks that it lies inside a picture of this size.
    ///
    /// # Errors
    /// A defect, where it does not.
    pub fn lies_in(self, size: Pixels) -> Result<(), Fault> {
        if self.within(size) {
            return Ok(());
        }
        Err(Fault::defect(format!("{self:?} reaches beyond a picture of {size:?}")))
    }

    /// What two windows share.
    #[must_use]
    pub fn shared(self, other: Self) -> Option<Self> {
        let (x, y) = (self.x.max(other.x), self.y.max(other.y));
        let right = (self.x + self.width).min(other.x + other.width);
        let bottom = (self.y + self.height).min(other.y + other.height);
        (x < right && y < bottom).then(|| Self::new(x, y, right - x, bottom - y))
    }
}

/// What the samples of a pixel mean. There is no alpha: artwork is flattened on white when it is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Channels {
    /// One sample, 0 black, full white.
    Gray,
    /// Three samples, 0 black, full white.
    Rgb,
    /// Four samples, 0 no ink, full all of it.
    Cmyk,
}

impl Channels {
    /// How many samples a pixel has.
    #[must_use]
    pub const fn count(self) -> usize {
        match self {
            Self::Gray => 1,
            Self::Rgb => 3,
            Self::Cmyk => 4,
        }
    }

    /// A pixel as RGB to look at. Ink without a profile has no known colour; then this is only its rough look.
    #[must_use]
    pub fn rough_rgb(self, pixel: &[u8]) -> [u8; 3] {
        let byte = |i: usize| pixel.get(i).copied().unwrap_or(self.bare());
        match self {
            Self::Gray => [byte(0); 3],
            Self::Rgb => [byte(0), byte(1), byte(2)],
            Self::Cmyk => [0, 1, 2].map(|i| 255_u8.saturating_sub(byte(i).saturating_add(byte(3)))),
        }
    }

    /// The sample, as a byte, that leaves the blank bare.
    #[must_use]
    pub const fn bare(self) -> u8 {
        match self {
            Self::Gray | Self::Rgb => 255,
            Self::Cmyk => 0,
        }
    }
}

/// Eight or sixteen bits a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Depth {
    /// 0..=255.
    Eight,
    /// 0..=65535, in the machine's own byte order.
    Sixteen,
}

/// The form in which a picture gives its pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Format {
    /// What the samples mean.
    pub channels: Channels,
    /// How fine they are.
    pub depth: Depth,
}

impl Format {
    /// 8-bit RGB, the commonest.
    pub const RGB8: Self = Self { channels: Channels::Rgb, depth: Depth::Eight };

    /// Bytes a pixel takes.
    #[must_use]
    pub const fn bytes(self) -> usize {
        match self.depth {
            Depth::Eight => self.channels.count(),
            Depth::Sixteen => self.channels.count() * 2,
        }
    }
}

/// Samples in rows, pixel by pixel, without padding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Samples {
    /// One byte a sample.
    Eight(Vec<u8>),
    /// Two bytes a sample, in the machine's own byte order.
    Sixteen(Vec<u16>),
}

impl Samples {
    /// How many samples there are.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Eight(samples) => samples.len(),
            Self::Sixteen(samples) => samples.len(),
        }
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Pixels in memory: what a picture fills, in its format and for the window asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Band {
    size: Pixels,
    format: Format,
    /// `size.width * size.height * channels` samples, row by row.
    pub samples: Samples,
}

impl Band {
    /// An empty band to be filled.
    #[must_use]
    pub fn empty() -> Self {
        Self { size: Pixels::default(), format: Format::RGB8, samples: Samples::Eight(Vec::new()) }
    }

    /// A bare band: every pixel leaves the blank bare.
    #[must_use]
    pub fn bare(size: Pixels, format: Format) -> Self {
        let mut band = Self::empty();
        band.reset(size, format);
        band
    }

    /// Makes it bare, in this size and format, keeping its memory where it can.
    pub fn reset(&mut self, size: Pixels, format: Format) {
        match &mut self.samples {
            Samples::Eight(samples) => samples.clear(),
            Samples::Sixteen(samples) => samples.clear(),
        }
        self.reshape(size, format);
    }

    /// Gives it this size and format, keeping its memory where it can, for whoever writes each of its samples: what stands
    /// in them until then is of no meaning.
    pub fn reshape(&mut self, size: Pixels, format: Format) {
        let wanted = num::index(size.width) * num::index(size.height) * format.channels.count();
        let bare = format.channels.bare();
        match (format.depth, &mut self.samples) {
            (Depth::Eight, Samples::Eight(samples)) => samples.resize(wanted, bare),
            (Depth::Sixteen, Samples::Sixteen(samples)) => samples.resize(wanted, num::widen(bare)),
            (Depth::Eight, other) => *other = Samples::Eight(vec![bare; wanted]),
            (Depth::Sixteen, other) => *other = Samples::Sixteen(vec![num::widen(bare); wanted]),
        }
        self.size = size;
        self.format = format;
    }

    /// Its columns and rows.
    #[must_use]
    pub const fn size(&self) -> Pixels {
        self.size
    }

    /// The form of its samples.
    #[must_use]
    pub const fn format(&self) -> Format {
        self.format
    }

    /// Samples in one row.
    #[must_use]
    pub fn stride(&self) -> usize {
        num::index(self.size.width) * self.format.channels.count()
    }
}

/// Where a drawing shall lie on a grid of pixels; the rest of the grid is bare.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// The grid: the size of the picture that is drawn.
    pub grid: Pixels,
    /// Left, top, right and bottom of all of the drawing, in pixels of the grid, with fractions; it may reach beyond.
    pub edges: [f64; 4],
}

/// A picture: a function from a window to pixels.
pub trait Picture: fmt::Debug + Send + Sync {
    /// Its size in pixels.
    fn size(&self) -> Pixels;

    /// The form in which it gives pixels.
    fn format(&self) -> Format;

    /// Fills `out` with the pixels of `want`, which lies within [`Picture::size`].
    ///
    /// # Errors
    /// [`Fault`] where the source cannot be read on, or `want` reaches beyond the picture.
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault>;

    /// The whole picture scaled down to `size` (at most its own), area-averaged, in its own format: for
    /// thumbnails and surveys, far cheaper than filling everything.
    ///
    /// # Errors
    /// As [`Picture::fill`].
    fn reduced(&self, size: Pixels) -> Result<Band, Fault>;

    /// Which parts of it carry ink, from every one of its pixels.
    ///
    /// # Errors
    /// As [`Picture::fill`].
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        survey::by_filling(self, wish)
    }

    /// What has no pixels of its own, a drawing, anew in the very pixels of a grid: all of it on `place`. Nothing for a
    /// picture that has pixels, which is scaled; until it is drawn anew, a drawing gives a small view of itself.
    ///
    /// # Errors
    /// [`Fault`] where that many pixels are more than may be drawn.
    fn drawn(&self, _place: &Place) -> Result<Option<Arc<dyn Picture>>, Fault> {
        Ok(None)
    }

    /// What the pixels of a window are made of and how: pictures that say the same of it have the same pixels there, as
    /// long as the process lives. So what was made of them for one job may serve another. Nothing where that cannot be
    /// said; then nothing is shared.
    fn recipe(&self, _of: Window) -> Option<String> {
        None
    }
}
