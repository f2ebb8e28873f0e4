//! Designs without pixels: a function says how dark each place is.

use seamwright_contract::catalogue::{Orientation, PaperSize, Shape};
use seamwright_contract::geometry::Way;
use seamwright_contract::ink::InkMap;
use seamwright_contract::layout::{Design, LapPolicy, LayUp, TrimOrder};
use seamwright_contract::picture::{Band, Channels, Depth, Format, Pixels, Samples};
use seamwright_contract::survey::{Survey, SurveyCell};
use seamwright_contract::{Length, Outline, Rect, Sides, Size, num, sample};

use crate::choice::Sheet;
use crate::ground::Ground;
use crate::lay::lay_up;
use crate::rows::{Bands, Places};
use crate::tape::spots;

/// A length as written, with its unit.
pub(super) fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
}

pub(super) fn inches(width: &str, height: &str) -> Size {
    Size::new(length(&format!("{width}in")), length(&format!("{height}in")))
}

pub(super) fn policy(lap: Length) -> LapPolicy {
    LapPolicy { lap, cut_at: lap.half(), order: TrimOrder::PanelsFirst }
}

/// A sheet whose live area is all of it.
pub(super) fn sheet(live: Size) -> Sheet {
    let paper = PaperSize { name: "test".to_owned(), size: live };
    Sheet::lying(&paper, Orientation::Portrait, Sides::all(Length::ZERO), Length::ZERO)
}

/// A design of an outline and how dark it is, of 255, at places given in mm, in cells of about `cell` mm.
#[derive(Clone, Copy)]
pub(super) struct Art<'a> {
    pub(super) size: Size,
    pub(super) shape: Shape,
    pub(super) cell: f64,
    pub(super) dark: &'a dyn Fn(f64, f64) -> u8,
}

impl Art<'_> {
    /// Evenly inked all over.
    pub(super) const fn full(size: Size) -> Self {
        Art { size, shape: Shape::Rectangle, cell: 2.0, dark: &|_, _| 200 }
    }

    pub(super) fn outline(&self) -> Outline<seamwright_contract::Face> {
        Outline::new(self.shape, Rect::of_size(self.size), Length::ZERO)
    }

    fn design(&self) -> Design {
        // One pixel is 1 mm.
        Design { outline: self.outline(), ..sample::design(self.size, 25.4) }
    }

    pub(super) fn map(&self) -> InkMap {
        let borders = |length: Length| -> Vec<f64> {
            let count = (length.mm() / self.cell).ceil().max(1.0);
            (0..=num::pixels(count)).map(|i| f64::from(i) * length.mm() / count).collect()
        };
        let (across, down) = (borders(self.size.width), borders(self.size.height));
        let mut cells = Vec::new();
        let mut means = Vec::new();
        for rows in down.windows(2) {
            for columns in across.windows(2) {
                let dark =
                    (self.dark)(f64::midpoint(columns[0], columns[1]), f64::midpoint(rows[0], rows[1]));
                let ink = if dark > 0 { 255 } else { 0 };
                let (left, right) = (num::single(columns[0]), num::single(columns[1]));
                cells.push(SurveyCell { ink, faint: 0, left, right });
                means.push(255 - dark);
            }
        }
        let count = |borders: &[f64]| num::count(borders.len() - 1);
        let format = Format { channels: Channels::Gray, depth: Depth::Eight };
        let mut band = Band::bare(Pixels::new(count(&across), count(&down)), format);
        band.samples = Samples::Eight(means);
        let inked = down.windows(2).map(|rows| [rows[0], rows[1]]).collect();
        InkMap::new(&Survey { across, down, cells, inked, means: band }, &self.design())
    }

    pub(super) fn way(&self, mirrored: bool) -> Way {
        Way { mirrored, width: self.size.width }
    }

    pub(super) fn ground(&self, mirrored: bool) -> Option<Ground> {
        Ground::new(&self.map(), &self.outline(), &[], self.way(mirrored))
    }

    /// The best lay-up on a sheet.
    pub(super) fn laid(&self, sheet: &Sheet, lap: &LapPolicy, mirrored: bool) -> Option<LayUp> {
        let ground = self.ground(mirrored)?;
        let bands = Bands::new(&ground, sheet.live.size(), lap.lap, &Places::all_over(&ground));
        let plan = bands.best(bands.least()?)?;
        let mut lay_up = lay_up(sheet, &plan, &ground, lap, self.way(mirrored), self.size);
        lay_up.tape = spots(&lay_up, &ground, &self.outline(), self.way(mirrored));
        Some(lay_up)
    }
}

/// Rounded down.
pub(super) fn whole(value: f64) -> i64 {
    num::round(value.floor())
}

/// Whole numbers that look random and are the same each time.
pub(super) fn numbers(mut state: u64) -> impl FnMut(i64, i64) -> i64 {
    move |low, high| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + i64::try_from((state >> 33) % u64::try_from(high - low + 1).unwrap()).unwrap()
    }
}

/// The rows of a table without its head.
pub(super) fn rows(table: &str) -> Vec<Vec<&str>> {
    table.lines().skip(1).map(|row| row.split(',').collect()).collect()
}
