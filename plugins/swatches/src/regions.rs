//! Which parts of the design say most about its colours.
//!
//! Each measure is a field of cells over the whole design, in whole hundredths so that sums are exact and every machine
//! finds the same. Every place of a crop that begins at a cell is tried; a table of running sums gives the mean of each
//! from four numbers.

use seamwright_contract::cells::Sums;
use seamwright_contract::colour::DifferenceMap;
use seamwright_contract::picture::{Picture, Pixels, Samples};
use seamwright_contract::{Face, Fault, Lab, Length, Rect, Size, num};

/// Cells along the design's longer side, where the picture has as many pixels.
const CELLS: f64 = 512.0;

/// A side of a crop cell that is darker than this L* is a dark.
const DARK: f64 = 40.0;

/// The design measured cell by cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Field {
    /// Columns and rows, evenly over the design.
    pub(crate) size: Pixels,
    /// Hundredths, row by row.
    pub(crate) cells: Vec<u32>,
}

/// A part of the design.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Region {
    /// Where it lies.
    pub(crate) face: Rect<Face>,
    /// The mean of the measure over it.
    pub(crate) mean: f64,
}

/// The design's colours seen from afar.
#[derive(Debug)]
pub(crate) struct Afar {
    pub(crate) size: Pixels,
    /// In sRGB, row by row.
    pub(crate) pixels: Vec<[u8; 3]>,
}

impl Afar {
    /// Of the picture as it is seen.
    pub(crate) fn of(seen: &dyn Picture) -> Result<Self, Fault> {
        let band = seen.reduced(seen.size().at_most(CELLS))?;
        let channels = band.format().channels;
        let bytes = match &band.samples {
            Samples::Eight(samples) => samples.clone(),
            Samples::Sixteen(samples) => samples.iter().map(|sample| num::narrow(*sample)).collect(),
        };
        let pixels = bytes.chunks_exact(channels.count()).map(|pixel| channels.rough_rgb(pixel)).collect();
        Ok(Self { size: band.size(), pixels })
    }

    /// How colourful each cell is: its chroma C*.
    pub(crate) fn colourfulness(&self) -> Field {
        let cells = self.pixels.iter().map(|pixel| hundredths(Lab::of_srgb(*pixel).chroma())).collect();
        Field { size: self.size, cells }
    }

    /// How much the lightness L* of each cell differs from that of its right and lower neighbours, where the darker of
    /// the two is dark.
    pub(crate) fn dark_detail(&self) -> Field {
        let lightness: Vec<f64> = self.pixels.iter().map(|pixel| Lab::of_srgb(*pixel).l).collect();
        let width = num::index(self.size.width);
        let step = |at: usize, to: usize| {
            let (one, other) = (lightness.get(at)?, lightness.get(to)?);
            (one.min(*other) < DARK).then(|| (one - other).abs())
        };
        let cells = (0..lightness.len()).map(|at| {
            let last = (at + 1) % width.max(1) == 0;
            let right = if last { None } else { step(at, at + 1) };
            hundredths(right.unwrap_or(0.0).max(step(at, at + width).unwrap_or(0.0)))
        });
        Field { size: self.size, cells: cells.collect() }
    }
}

fn hundredths(value: f64) -> u32 {
    num::pixels(value * 100.0)
}

impl Field {
    /// How far each cell is out of the printer's reach.
    pub(crate) fn out_of_reach(map: &DifferenceMap) -> Self {
        Self { size: map.size, cells: map.cells.iter().map(|off| hundredths(f64::from(*off))).collect() }
    }

    /// The place of a crop with the greatest mean that shares less than a quarter of itself with each of those taken;
    /// the first in reading order on a tie.
    pub(crate) fn best(&self, design: Size, crop: Size, taken: &[Rect<Face>]) -> Option<Region> {
        let places = Places::new(self.size, design, crop);
        let width = num::index(self.size.width);
        let cell = |x: usize, y: usize| u64::from(self.cells.get(y * width + x).copied().unwrap_or(0));
        let sums = Sums::of(width, num::index(self.size.height), cell);
        let span = |from: u32, count: u32| num::index(from)..num::index(from + count);
        let mut best: Option<(u64, Rect<Face>)> = None;
        for y in 0..places.down() {
            for x in 0..places.across() {
                let sum = sums.over(&span(x, places.crop.width), &span(y, places.crop.height));
                if best.is_some_and(|(most, _)| sum <= most) {
                    continue;
                }
                let face = places.face(x, y);
                if taken.iter().all(|other| !crowds(&face, other)) {
                    best = Some((sum, face));
                }
            }
        }
        let (sum, face) = best?;
        let mean = sum_as_float(sum) / sum_as_float(places.crop.count()) / 100.0;
        Some(Region { face, mean })
    }
}

/// Exact below 2^53, which sums of hundredths over a few hundred thousand cells never reach.
fn sum_as_float(sum: u64) -> f64 {
    num::float(i64::try_from(sum).unwrap_or(i64::MAX))
}

/// Whether a crop shares a quarter of itself or more with another.
pub(crate) fn crowds(face: &Rect<Face>, other: &Rect<Face>) -> bool {
    let area = |rect: &Rect<Face>| i128::from(rect.width.um()) * i128::from(rect.height.um());
    face.intersection(other).is_some_and(|shared| area(&shared) * 4 >= area(face))
}

/// The places a crop may have.
#[derive(Debug)]
pub(crate) struct Places {
    cells: Pixels,
    design: Size,
    /// Its size.
    size: Size,
    /// Its size in whole cells.
    pub(crate) crop: Pixels,
}

impl Places {
    pub(crate) fn new(cells: Pixels, design: Size, size: Size) -> Self {
        let whole = |crop: Length, design: Length, cells: u32| {
            let share = num::float(crop.um()) / num::float(design.um().max(1));
            num::pixels(share * f64::from(cells)).clamp(1, cells.max(1))
        };
        let crop = Pixels::new(
            whole(size.width, design.width, cells.width),
            whole(size.height, design.height, cells.height),
        );
        Self { cells, design, size, crop }
    }

    /// How many there are beside each other.
    pub(crate) fn across(&self) -> u32 {
        (self.cells.width + 1).saturating_sub(self.crop.width)
    }

    /// How many there are below each other.
    pub(crate) fn down(&self) -> u32 {
        (self.cells.height + 1).saturating_sub(self.crop.height)
    }

    /// The crop whose middle is that of its cells, kept within the design.
    pub(crate) fn face(&self, x: u32, y: u32) -> Rect<Face> {
        let along = |first: u32, crop: u32, cells: u32, design: Length, size: Length| {
            let middle = (f64::from(first) + f64::from(crop) / 2.0) / f64::from(cells.max(1));
            (design.share(middle) - size.half()).clamp(Length::ZERO, (design - size).max(Length::ZERO))
        };
        let left = along(x, self.crop.width, self.cells.width, self.design.width, self.size.width);
        let top = along(y, self.crop.height, self.cells.height, self.design.height, self.size.height);
        Rect::new(left, top, self.size.width, self.size.height)
    }
}
