//! A picture seen from afar: which cells of an even grid carry ink, how much, and where exactly it ends.
//!
//! Ink is a pixel that differs from bare by at least [`FAINTEST`] in some sample; what differs by less is faint: it
//! prints, but hardly shows. A survey reads every pixel once, so that a single line in a wide bare area is not missed,
//! and keeps the exact ends of the ink across (cell by cell) and down (row of cells by row of cells).

use std::ops::Range;
use std::panic::resume_unwind;
use std::thread;

use crate::fault::Fault;
use crate::num;
use crate::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};

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

    /// Makes a cell bare.
    pub fn clear(&mut self, at: usize) {
        if let Some(cell) = self.cells.get_mut(at) {
            *cell = SurveyCell::default();
        }
        let Format { channels, .. } = self.means.format();
        if let Samples::Eight(means) = &mut self.means.samples
            && let Some(mean) = means.chunks_exact_mut(channels.count()).nth(at)
        {
            mean.fill(channels.bare());
        }
    }
}

/// Surveys a picture by filling it, band by band.
///
/// # Errors
/// As [`Picture::fill`].
pub fn by_filling<P: Picture + ?Sized>(picture: &P, wish: &Wish) -> Result<Survey, Fault> {
    of_window(picture, Window::whole(picture.size()), wish)
}

/// Surveys a window of a picture as if it were a picture of its own, by filling it, band by band.
///
/// # Errors
/// As [`Picture::fill`].
pub fn of_window<P: Picture + ?Sized>(picture: &P, window: Window, wish: &Wish) -> Result<Survey, Fault> {
    const TALLEST: u32 = 64;
    on_all_cores(window.size(), picture.format(), wish, |rows, surveyor| {
        let mut band = Band::empty();
        for top in rows.clone().step_by(num::index(TALLEST)) {
            let tall = TALLEST.min(rows.end - top);
            picture.fill(Window::new(window.x, window.y + top, window.width, tall), &mut band)?;
            match &band.samples {
                Samples::Eight(samples) => surveyor.take(samples),
                Samples::Sixteen(samples) => surveyor.take_fine(samples),
            }
        }
        Ok(())
    })
}

/// Surveys a picture part by part, on all cores: `give` gives all rows of a part, from its first, to the surveyor it is
/// handed. Nothing is decided before a survey is done, so no core has better work.
///
/// # Errors
/// As `give`.
pub fn on_all_cores(
    size: Pixels,
    format: Format,
    wish: &Wish,
    give: impl Fn(Range<u32>, &mut Surveyor) -> Result<(), Fault> + Sync,
) -> Result<Survey, Fault> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let mut parts = Surveyor::parts(size, format, wish, cores);
    if let [(surveyor, rows)] = &mut parts[..] {
        // A single cell, as is asked for often, is not worth a thread.
        give(rows.clone(), surveyor)?;
    } else {
        thread::scope(|scope| {
            let give = &give;
            let begun: Vec<_> = parts
                .iter_mut()
                .map(|(surveyor, rows)| scope.spawn(move || give(rows.clone(), surveyor)))
                .collect();
            begun.into_iter().try_for_each(|part| part.join().unwrap_or_else(|panic| resume_unwind(panic)))
        })?;
    }
    let whole = parts.into_iter().map(|(surveyor, _)| surveyor).reduce(Surveyor::join);
    Ok(whole.unwrap_or_else(|| Surveyor::new(size, format, wish)).finish())
}

/// Takes the rows of a picture, or of a part of it, from the top.
#[derive(Debug)]
pub struct Surveyor {
    format: Format,
    faintest: u8,
    across: Vec<u32>,
    down: Vec<u32>,
    /// The row of cells it began with.
    first: usize,
    /// The next row.
    row: u32,
    tally: Tally,
    cells: Vec<SurveyCell>,
    inked: Vec<[f64; 2]>,
    means: Vec<u8>,
    narrow: Vec<u8>,
}

/// What the rows of the present row of cells have come to.
#[derive(Debug)]
struct Tally {
    /// Differences from bare, sample by sample.
    sums: Vec<u16>,
    /// How many pixels are ink, at each pixel's first sample; what stands at the others is of no meaning.
    ink: Vec<u8>,
    /// How many pixels are not bare, likewise.
    any: Vec<u8>,
    /// The first row with ink and the one after the last.
    inked: Option<[u32; 2]>,
}

/// Most pixel rows in a row of cells, so that sums fit into 16 bits and counts into 8.
const TALLEST_CELL: u32 = 255;

/// Pixels looked at together.
const PART: usize = 1 << 10;

impl Surveyor {
    /// For a picture of this size and format.
    fn new(size: Pixels, format: Format, wish: &Wish) -> Self {
        let columns = wish.cells.width.clamp(1, size.width.max(1));
        let rows = wish.cells.height.clamp(size.height.div_ceil(TALLEST_CELL).max(1), size.height.max(1));
        let samples = num::index(size.width) * format.channels.count();
        let cells = num::index(columns) * num::index(rows);
        Self {
            format: Format { depth: Depth::Eight, ..format },
            faintest: wish.faintest.max(1),
            across: borders(size.width, columns),
            down: borders(size.height, rows),
            first: 0,
            row: 0,
            tally: Tally {
                sums: vec![0; samples],
                ink: vec![0; samples],
                any: vec![0; samples],
                inked: None,
            },
            cells: Vec::with_capacity(cells),
            inked: Vec::with_capacity(num::index(rows)),
            means: Vec::with_capacity(cells * format.channels.count()),
            narrow: Vec::new(),
        }
    }

    /// At most so many surveyors, each for some rows of the picture and what rows these are, from the top; [`Self::join`]ed
    /// they are one for all.
    pub(crate) fn parts(size: Pixels, format: Format, wish: &Wish, count: usize) -> Vec<(Self, Range<u32>)> {
        let whole = Self::new(size, format, wish);
        let cells = whole.down.len() - 1;
        let each = cells.div_ceil(count.max(1)).max(1);
        let down = whole.down;
        let row = |cell: usize| down.get(cell).copied().unwrap_or(size.height);
        let part = |first: usize| {
            let surveyor = Self { first, row: row(first), ..Self::new(size, format, wish) };
            (surveyor, row(first)..row(first + each))
        };
        (0..cells).step_by(each).map(part).collect()
    }

    /// With the rows that another has taken, which are the next ones.
    pub(crate) fn join(mut self, below: Self) -> Self {
        self.row = below.row;
        self.cells.extend(below.cells);
        self.inked.extend(below.inked);
        self.means.extend(below.means);
        self
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
        match self.format.channels {
            Channels::Gray => self.take_pixels::<1>(rows),
            Channels::Rgb => self.take_pixels::<3>(rows),
            Channels::Cmyk => self.take_pixels::<4>(rows),
        }
    }

    /// The same, `EACH` samples a pixel, known when compiling.
    fn take_pixels<const EACH: usize>(&mut self, rows: &[u8]) {
        let bare = self.format.channels.bare();
        for row in rows.chunks_exact(self.tally.sums.len().max(1)) {
            self.tally.add::<EACH>(row, bare, self.faintest, self.row);
            self.row += 1;
            if self.down.get(self.first + self.inked.len() + 1) == Some(&self.row) {
                self.close::<EACH>(bare);
            }
        }
    }

    /// Ends a row of cells.
    fn close<const EACH: usize>(&mut self, bare: u8) {
        let top = self.down.get(self.first + self.inked.len()).copied().unwrap_or_default();
        for columns in self.across.windows(2) {
            let &[left, right] = columns else { continue };
            let pixels = u64::from(right - left) * u64::from(self.row - top);
            let (cell, mean) = self.tally.cell::<EACH>(left, right, pixels);
            self.cells.push(cell);
            self.means.extend(mean.map(|mean| mean ^ bare));
        }
        let [first, last] = self.tally.inked.unwrap_or([self.row; 2]);
        self.inked.push([f64::from(first), f64::from(last)]);
        self.tally.clear();
    }

    /// The survey, once every row was taken.
    pub(crate) fn finish(self) -> Survey {
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
    /// Written as plain loops over parts of rows, so that they become vector instructions: a pixel is looked at from
    /// every sample of the row, whether or not one begins there. Bare parts cost a glance.
    fn add<const EACH: usize>(&mut self, row: &[u8], bare: u8, faintest: u8, at: u32) {
        let part = PART * EACH;
        let tallies =
            self.sums.chunks_mut(part).zip(self.ink.chunks_mut(part)).zip(self.any.chunks_mut(part));
        for (row, ((sums, ink), any)) in row.chunks(part).zip(tallies) {
            let most = row.iter().fold(0, |most: u8, sample| most.max(sample ^ bare));
            if most == 0 {
                continue;
            }
            if most >= faintest {
                let [first, _] = self.inked.unwrap_or([at; 2]);
                self.inked = Some([first, at + 1]);
            }
            for (sum, sample) in sums.iter_mut().zip(row) {
                *sum += u16::from(sample ^ bare);
            }
            for ((pixel, ink), any) in row.array_windows::<EACH>().zip(ink).zip(any) {
                let most = pixel.iter().fold(0, |most: u8, sample| most.max(sample ^ bare));
                *ink += u8::from(most >= faintest);
                *any += u8::from(most > 0);
            }
        }
    }

    fn clear(&mut self) {
        self.sums.fill(0);
        self.ink.fill(0);
        self.any.fill(0);
        self.inked = None;
    }

    /// What a cell of so many pixels has, and its mean difference from bare.
    fn cell<const EACH: usize>(&self, left: u32, right: u32, pixels: u64) -> (SurveyCell, [u8; EACH]) {
        let span = num::index(left) * EACH..num::index(right) * EACH;
        let sum = |counts: &[[u8; EACH]]| counts.iter().map(|pixel| u64::from(pixel[0])).sum::<u64>();
        let any = sum(pixels_of(&self.any, &span));
        if any == 0 {
            return (SurveyCell::default(), [0; EACH]);
        }
        let inked = pixels_of(&self.ink, &span);
        let ink = sum(inked);
        let has = |pixel: &[u8; EACH]| pixel[0] > 0;
        let place = |at: Option<usize>| f64::from(left) + f64::from(num::count(at.unwrap_or_default()));
        let of_255 = |part: u64| u8::try_from(part.div_ceil(pixels.max(1))).unwrap_or(u8::MAX);
        let cell = SurveyCell {
            ink: of_255(ink * 255),
            faint: of_255((any - ink) * 255),
            left: num::single(place(inked.iter().position(has))),
            right: num::single(place(inked.iter().rposition(has).map(|at| at + 1))),
        };
        let mut sums = [0_u64; EACH];
        for pixel in pixels_of::<_, EACH>(&self.sums, &span) {
            sums.iter_mut().zip(pixel).for_each(|(sum, sample)| *sum += u64::from(*sample));
        }
        (cell, sums.map(of_255))
    }
}

/// A span of samples, pixel by pixel.
fn pixels_of<'a, T, const EACH: usize>(samples: &'a [T], span: &Range<usize>) -> &'a [[T; EACH]] {
    samples.get(span.clone()).unwrap_or_default().as_chunks().0
}

/// Even whole borders of `count` parts of `length`.
fn borders(length: u32, count: u32) -> Vec<u32> {
    let at = |i: u32| u64::from(length) * u64::from(i) / u64::from(count.max(1));
    (0..=count).map(|i| u32::try_from(at(i)).unwrap_or(length)).collect()
}
