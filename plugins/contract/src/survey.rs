//! A picture seen from afar: which cells of an even grid carry ink, how much, and where exactly it ends.
//!
//! Ink is a pixel that differs from bare by at least [`FAINTEST`] in some sample; what differs by less is faint: it
//! prints, but hardly shows. A survey reads every pixel once, so that a single line in a wide bare area is not missed,
//! and keeps the exact ends of the ink across (cell by cell) and down (row of cells by row of cells).

use crate::fault::Fault;
use crate::num;
use crate::picture::{Band, Depth, Format, Picture, Pixels, Samples, Window};

/// The least difference from bare, of 255, that counts as ink: about 3 %, the least that shows on cloth (common
/// practice, no source).
pub const FAINTEST: u8 = 8;

/// What is asked of a survey.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wish {
    /// About how many cells, at most the picture's pixels.
    pub cells: Pixels,
    /// The least difference from bare, of 255, that counts as ink.
    pub faintest: u8,
}

/// One cell of a survey.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SurveyCell {
    /// How much of it is ink, of 255, rounded up: 0 only where there is none.
    pub ink: u8,
    /// How much of it is faint, of 255, rounded up.
    pub faint: u8,
    /// Where its ink begins, in pixels of the picture from the left; only of meaning where there is ink.
    pub left: f32,
    /// Where its ink ends.
    pub right: f32,
}

/// A picture in cells, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// Borders of the columns of cells, in pixels of the picture, rising; one more than there are columns.
    pub across: Vec<f64>,
    /// Borders of the rows of cells.
    pub down: Vec<f64>,
    /// The cells.
    pub cells: Vec<SurveyCell>,
    /// For each row of cells, where its ink begins and ends downwards; only of meaning where it has ink.
    pub inked: Vec<[f64; 2]>,
    /// The cells' mean colours, 8 bits a sample, a pixel a cell.
    pub means: Band,
}

impl Survey {
    /// How many columns and rows of cells there are.
    #[must_use]
    pub fn size(&self) -> Pixels {
        self.means.size()
    }
}

/// Surveys a picture by filling it, band by band.
///
/// # Errors
/// As [`Picture::fill`].
pub fn by_filling<P: Picture + ?Sized>(picture: &P, wish: &Wish) -> Result<Survey, Fault> {
    const TALLEST: u32 = 64;
    let size = picture.size();
    let mut surveyor = Surveyor::new(size, picture.format(), wish);
    let mut band = Band::empty();
    let mut top = 0;
    while top < size.height {
        let rows = TALLEST.min(size.height - top);
        picture.fill(Window::new(0, top, size.width, rows), &mut band)?;
        match &band.samples {
            Samples::Eight(samples) => surveyor.take(samples),
            Samples::Sixteen(samples) => surveyor.take_fine(samples),
        }
        top += rows;
    }
    Ok(surveyor.finish())
}

/// Takes a picture's rows from the top and gives its survey.
#[derive(Debug)]
pub struct Surveyor {
    format: Format,
    faintest: u8,
    across: Vec<u32>,
    down: Vec<u32>,
    /// Rows taken.
    row: u32,
    tally: Tally,
    cells: Vec<SurveyCell>,
    inked: Vec<[f64; 2]>,
    means: Vec<u8>,
    narrow: Vec<u8>,
}

/// What the rows of the present row of cells have come to, sample by sample.
#[derive(Debug)]
struct Tally {
    /// Differences from bare.
    sums: Vec<u16>,
    ink: Vec<u8>,
    any: Vec<u8>,
    /// The first row with ink and the one after the last.
    inked: Option<(u32, u32)>,
}

/// Most pixel rows in a row of cells, so that sums fit into 16 bits and counts into 8.
const TALLEST_CELL: u32 = 255;

impl Surveyor {
    /// For a picture of this size and format.
    #[must_use]
    pub fn new(size: Pixels, format: Format, wish: &Wish) -> Self {
        let columns = wish.cells.width.clamp(1, size.width.max(1));
        let rows = wish.cells.height.clamp(size.height.div_ceil(TALLEST_CELL).max(1), size.height.max(1));
        let samples = num::index(size.width) * format.channels.count();
        Self {
            format: Format { depth: Depth::Eight, ..format },
            faintest: wish.faintest.max(1),
            across: borders(size.width, columns),
            down: borders(size.height, rows),
            row: 0,
            tally: Tally {
                sums: vec![0; samples],
                ink: vec![0; samples],
                any: vec![0; samples],
                inked: None,
            },
            cells: Vec::new(),
            inked: Vec::new(),
            means: Vec::new(),
            narrow: Vec::new(),
        }
    }

    /// Takes whole rows of 16-bit samples.
    pub fn take_fine(&mut self, rows: &[u16]) {
        let mut narrow = std::mem::take(&mut self.narrow);
        for row in rows.chunks_exact(self.tally.sums.len().max(1)) {
            narrow.clear();
            narrow.extend(row.iter().map(|sample| num::narrow(*sample)));
            self.take(&narrow);
        }
        self.narrow = narrow;
    }

    /// Takes whole rows of 8-bit samples.
    pub fn take(&mut self, rows: &[u8]) {
        let bare = self.format.channels.bare();
        for row in rows.chunks_exact(self.tally.sums.len().max(1)) {
            self.tally.add(row, bare, self.faintest, self.row);
            self.row += 1;
            if self.down.get(self.inked.len() + 1) == Some(&self.row) {
                self.close();
            }
        }
    }

    /// Ends a row of cells.
    fn close(&mut self) {
        let n = self.format.channels.count();
        let (bare, rows) = (self.format.channels.bare(), self.inked.len());
        let height = self.down.get(rows).map_or(1, |top| (self.row - top).max(1));
        for cell in self.across.windows(2) {
            let &[left, right] = cell else { continue };
            self.cells.push(self.tally.cell(left, right, height, n));
            let pixels = u64::from(right - left) * u64::from(height);
            for channel in 0..n {
                let mean = self.tally.sum(left, right, n, channel).div_ceil(pixels.max(1));
                self.means.push(u8::try_from(mean).unwrap_or(u8::MAX) ^ bare);
            }
        }
        let (first, last) = self.tally.inked.unwrap_or((self.row, self.row));
        self.inked.push([f64::from(first), f64::from(last)]);
        self.tally.clear();
    }

    /// The survey, once every row was taken.
    #[must_use]
    pub fn finish(self) -> Survey {
        let count = |borders: &[u32]| num::count(borders.len().saturating_sub(1));
        let mut means = Band::bare(Pixels::new(count(&self.across), count(&self.down)), self.format);
        means.samples = Samples::Eight(self.means);
        let floats = |borders: Vec<u32>| borders.into_iter().map(f64::from).collect();
        Survey {
            across: floats(self.across),
            down: floats(self.down),
            cells: self.cells,
            inked: self.inked,
            means,
        }
    }
}

impl Tally {
    /// Written as plain loops over whole rows, so that they become vector instructions.
    fn add(&mut self, row: &[u8], bare: u8, faintest: u8, at: u32) {
        for (sum, sample) in self.sums.iter_mut().zip(row) {
            *sum += u16::from(sample ^ bare);
        }
        for (ink, sample) in self.ink.iter_mut().zip(row) {
            *ink += u8::from((sample ^ bare) >= faintest);
        }
        for (any, sample) in self.any.iter_mut().zip(row) {
            *any += u8::from(*sample != bare);
        }
        let inked = |part: &[u8]| part.iter().fold(false, |ink, sample| ink | ((sample ^ bare) >= faintest));
        if row.chunks(256).any(inked) {
            let first = self.inked.map_or(at, |(first, _)| first);
            self.inked = Some((first, at + 1));
        }
    }

    fn clear(&mut self) {
        self.sums.fill(0);
        self.ink.fill(0);
        self.any.fill(0);
        self.inked = None;
    }

    /// The darkest channel's counts stand for all of them.
    fn cell(&self, left: u32, right: u32, height: u32, n: usize) -> SurveyCell {
        let most = |counts: &[u8]| u32::from(counts.iter().copied().max().unwrap_or(0));
        let (mut ink, mut any) = (0, 0);
        let (mut first, mut last) = (right, left);
        for x in left..right {
            let at = num::index(x) * n;
            let of = |counts: &[u8]| counts.get(at..at + n).map_or(0, most);
            let here = of(&self.ink);
            ink += here;
            any += of(&self.any);
            if here > 0 {
                first = first.min(x);
                last = x + 1;
            }
        }
        let share = |count: u32| {
            let pixels = u64::from(right - left) * u64::from(height);
            u8::try_from((u64::from(count) * 255).div_ceil(pixels.max(1))).unwrap_or(u8::MAX)
        };
        SurveyCell {
            ink: share(ink),
            faint: share(any.saturating_sub(ink)),
            left: num::single(f64::from(first)),
            right: num::single(f64::from(last)),
        }
    }

    fn sum(&self, left: u32, right: u32, n: usize, channel: usize) -> u64 {
        let samples = self.sums.get(num::index(left) * n..num::index(right) * n).unwrap_or_default();
        samples.iter().skip(channel).step_by(n.max(1)).map(|sum| u64::from(*sum)).sum()
    }
}

/// Even whole borders of `count` parts of `length`.
fn borders(length: u32, count: u32) -> Vec<u32> {
    let at = |i: u32| u64::from(length) * u64::from(i) / u64::from(count.max(1));
    (0..=count).map(|i| u32::try_from(at(i)).unwrap_or(length)).collect()
}
