//! The ink map: what the design prints where, on the face, from one survey of its picture.
//!
//! A cell counts as inked where it has ink and it and its eight neighbours together have at least [`SMALLEST_MM2`] of
//! it, so that a speck of dust or a lone flaw of compression takes no paper. Detail is the largest difference of a
//! cell's mean from a neighbour's: edges, letters and lines, not the grain of a photograph.

use std::ops::Range;
use std::sync::Arc;
use std::thread;

use crate::geometry::{Face, Rect};
use crate::layout::Design;
use crate::num;
use crate::outline::Outline;
use crate::picture::{Picture, Pixels, Samples};
use crate::survey::{FAINTEST, Survey, SurveyCell, Wish};
use crate::units::Length;

/// Less ink than this, alone, is a speck: a dot of about 0.36 mm (common practice, no source).
pub const SMALLEST_MM2: f64 = 0.1;

/// Detail from which on a cell is busy, of 255: an edge of a sixth of the whole range.
pub const BUSY: u8 = 40;

/// Cells are no smaller than this, and no more of them than this lie along a side.
const FINEST_MM: f64 = 1.0;
const MOST_CELLS: f64 = 768.0;

/// One cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct InkCell {
    /// Whether it has ink.
    pub inked: bool,
    /// How dark it is on average, of 255; 0 where it is not inked.
    pub coverage: u8,
    /// How much it differs from its neighbours, of 255; 0 where it is not inked.
    pub detail: u8,
    /// Where its ink begins, from the left.
    pub left: Length,
    /// Where its ink ends.
    pub right: Length,
}

/// The design in cells.
#[derive(Debug, Clone, PartialEq)]
pub struct InkMap {
    across: Vec<Length>,
    down: Vec<Length>,
    cells: Vec<InkCell>,
    inked: Vec<[Length; 2]>,
    /// The share of the design in cells without ink that are mostly not bare: they print, as a tint that hardly shows.
    pub faint: f64,
}

impl InkMap {
    /// What to ask of the picture for a map of this design.
    #[must_use]
    pub fn wish(design: &Design) -> Wish {
        let longer = design.size.width.max(design.size.height).mm();
        let cell = (longer / MOST_CELLS).max(FINEST_MM);
        let count = |length: Length| num::pixels((length.mm() / cell).ceil()).max(1);
        let cells = Pixels::new(count(design.size.width), count(design.size.height));
        Wish { cells, faintest: FAINTEST }
    }

    /// Begins to look at what the design prints where, in a thread of its own: while the artwork is still being decoded a
    /// core is idle. The artwork keeps what is found until it is asked for.
    pub fn look_ahead(picture: &Arc<dyn Picture>, design: &Design) {
        let (picture, wish) = (Arc::clone(picture), Self::wish(design));
        // Where no thread can be had, all is done when it is asked for. A fault is found again then.
        drop(thread::Builder::new().name("survey".to_owned()).spawn(move || drop(picture.survey(&wish))));
    }

    /// From a survey of the design's picture.
    #[must_use]
    pub fn new(survey: &Survey, design: &Design) -> Self {
        let pitch = design.sheet_ppi.pitch_um();
        let um = |pixels: f64| Length::from_um(num::round(pixels * pitch));
        let borders = |pixels: &[f64], most: Length| {
            let mut borders: Vec<Length> = pixels.iter().map(|at| um(*at).min(most)).collect();
            // The grid is rounded outward to whole pixels; the design ends where it ends.
            if let Some(last) = borders.last_mut() {
                *last = most;
            }
            borders
        };
        let (width, height) = (design.size.width, design.size.height);
        let mut map = Self {
            across: borders(&survey.across, width),
            down: borders(&survey.down, height),
            cells: Vec::new(),
            inked: survey.inked.iter().map(|ends| ends.map(|at| um(at).min(height))).collect(),
            faint: 0.0,
        };
        map.cells = map.cells_of(survey, &design.outline, um);
        let faint = survey.cells.iter().zip(&map.cells).zip(map.places());
        let faint = faint.filter(|((found, cell), at)| {
            !cell.inked
                && found.faint > u8::MAX / 2
                && design.outline.covers(middle(at.x, at.right()), middle(at.y, at.bottom()))
        });
        let faint: f64 = faint.map(|(_, at)| mm2(&at)).sum();
        map.faint = faint / mm2(&Rect::of_size(design.size)).max(f64::MIN_POSITIVE);
        map
    }

    fn cells_of(&self, survey: &Survey, outline: &Outline<Face>, um: impl Fn(f64) -> Length) -> Vec<InkCell> {
        let amounts: Vec<f64> = survey
            .cells
            .iter()
            .zip(self.places())
            .map(|(cell, at)| f64::from(cell.ink) / 255.0 * mm2(&at))
            .collect();
        let size = survey.size();
        let grid = Grid { columns: num::index(size.width), rows: num::index(size.height) };
        let tones = Tones::of(survey);
        let reaches: Vec<Option<(Length, Length)>> = self
            .down
            .windows(2)
            .map(|rows| rows.first().zip(rows.last()).and_then(|(top, bottom)| outline.reach(*top, *bottom)))
            .collect();
        let amount = |at: usize| amounts.get(at).copied().unwrap_or(0.0);
        let cell = |(at, (found, place)): (usize, (&SurveyCell, Rect<Face>))| {
            // Ink may lie wholly in the part of the last row of pixels that is beyond the design.
            let row = at / grid.columns.max(1);
            let high = self.inked.get(row).is_some_and(|[top, bottom]| top < bottom);
            let enough =
                || amount(at) >= SMALLEST_MM2 || grid.around(at).map(amount).sum::<f64>() >= SMALLEST_MM2;
            if found.ink == 0 || !high || !enough() {
                return None;
            }
            let ends = (*reaches.get(row)?)?;
            let left = um(f64::from(found.left)).max(ends.0).max(place.x);
            let right = um(f64::from(found.right)).min(ends.1).min(place.right());
            (left < right).then(|| InkCell {
                inked: true,
                coverage: tones.darkness(at).max(1),
                detail: grid.beside(at).map(|other| tones.difference(at, other)).max().unwrap_or(0),
                left,
                right,
            })
        };
        survey.cells.iter().zip(self.places()).enumerate().map(|one| cell(one).unwrap_or_default()).collect()
    }

    /// The places of the cells, row by row.
    fn places(&self) -> impl Iterator<Item = Rect<Face>> {
        self.down.windows(2).flat_map(|rows| {
            self.across.windows(2).filter_map(move |columns| match (columns, rows) {
                (&[left, right], &[top, bottom]) => Some(Rect::from_edges(left, top, right, bottom)),
                _ => None,
            })
        })
    }

    /// Borders of the columns of cells, rising from 0 to the design's width.
    #[must_use]
    pub fn across(&self) -> &[Length] {
        &self.across
    }

    /// Borders of the rows of cells, rising from 0 to the design's height.
    #[must_use]
    pub fn down(&self) -> &[Length] {
        &self.down
    }

    /// A row of cells, from the left.
    #[must_use]
    pub fn row(&self, row: usize) -> &[InkCell] {
        let columns = self.across.len().saturating_sub(1);
        self.cells.get(row * columns..(row + 1) * columns).unwrap_or_default()
    }

    /// Where the ink of a row of cells begins and ends downwards; `None` where it has none.
    #[must_use]
    pub fn height(&self, row: usize) -> Option<Range<Length>> {
        let [top, bottom] = *self.inked.get(row)?;
        self.row(row).iter().any(|cell| cell.inked).then_some(top..bottom)
    }

    /// The box around all ink; `None` where the design is bare.
    #[must_use]
    pub fn extent(&self) -> Option<Rect<Face>> {
        let inked = || self.cells.iter().filter(|cell| cell.inked);
        let rows = || (0..self.inked.len()).filter_map(|row| self.height(row));
        Some(Rect::from_edges(
            inked().map(|cell| cell.left).min()?,
            rows().map(|ends| ends.start).min()?,
            inked().map(|cell| cell.right).max()?,
            rows().map(|ends| ends.end).max()?,
        ))
    }
}

/// Cells in rows.
#[derive(Debug, Clone, Copy)]
struct Grid {
    columns: usize,
    rows: usize,
}

impl Grid {
    /// A cell and its neighbours, diagonal ones too.
    fn around(self, at: usize) -> impl Iterator<Item = usize> {
        let (x, y) = (at % self.columns.max(1), at / self.columns.max(1));
        let span = |at: usize, most: usize| at.saturating_sub(1)..=(at + 1).min(most.saturating_sub(1));
        span(y, self.rows).flat_map(move |y| span(x, self.columns).map(move |x| y * self.columns + x))
    }

    /// The four neighbours.
    fn beside(self, at: usize) -> impl Iterator<Item = usize> {
        let x = at % self.columns.max(1);
        let left = (x > 0).then(|| at - 1);
        let right = (x + 1 < self.columns).then_some(at + 1);
        let below = Some(at + self.columns).filter(|below| *below < self.columns * self.rows);
        [left, right, at.checked_sub(self.columns), below].into_iter().flatten()
    }
}

/// The mean colours of the cells.
struct Tones<'a> {
    samples: &'a [u8],
    each: usize,
    bare: u8,
}

impl<'a> Tones<'a> {
    fn of(survey: &'a Survey) -> Self {
        let channels = survey.means.format().channels;
        let samples = match &survey.means.samples {
            Samples::Eight(samples) => samples.as_slice(),
            Samples::Sixteen(_) => &[],
        };
        Self { samples, each: channels.count(), bare: channels.bare() }
    }

    fn pixel(&self, at: usize) -> &[u8] {
        self.samples.get(at * self.each..(at + 1) * self.each).unwrap_or_default()
    }

    /// How far its samples are from bare on average.
    fn darkness(&self, at: usize) -> u8 {
        let pixel = self.pixel(at);
        let sum: usize = pixel.iter().map(|sample| usize::from(sample ^ self.bare)).sum();
        u8::try_from(sum / pixel.len().max(1)).unwrap_or(u8::MAX)
    }

    /// The largest difference of a sample.
    fn difference(&self, one: usize, other: usize) -> u8 {
        self.pixel(one).iter().zip(self.pixel(other)).map(|(a, b)| a.abs_diff(*b)).max().unwrap_or(0)
    }
}

fn middle(from: Length, to: Length) -> f64 {
    num::float((from + to).um()) / 2.0
}

fn mm2(rect: &Rect<Face>) -> f64 {
    rect.width.mm() * rect.height.mm()
}
