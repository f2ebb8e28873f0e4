//! The ink map against brute force: which cells are inked, where their ink ends, how dark and how detailed they are.

use std::ops::Range;

use proptest::prelude::{ProptestConfig, prop_assert, prop_assert_eq, proptest};
use proptest::sample::select;
use proptest::test_runner::TestCaseError;

use super::survey::{differences, pictures};
use crate::catalogue::Shape;
use crate::geometry::{Face, Rect, Size};
use crate::ink::{InkCell, InkMap, SMALLEST_MM2};
use crate::layout::Design;
use crate::num;
use crate::outline::Outline;
use crate::picture::{Channels, Depth, Format, Picture, Pixels, Window};
use crate::sample::{self, Pixmap};
use crate::survey::FAINTEST;
use crate::units::Length;

/// A design whose grid a picture of this size is; the last column and row reach beyond it by a part of a pixel.
fn design(pixels: Pixels, ppi: f64, shape: Shape, part: f64) -> Design {
    let um = |count: u32| Length::from_um(num::round((f64::from(count) - part) * 25_400.0 / ppi).max(1));
    let size = Size::new(um(pixels.width), um(pixels.height));
    Design { outline: Outline::new(shape, Rect::of_size(size), Length::ZERO), ..sample::design(size, ppi) }
}

fn map(picture: &Pixmap, design: &Design) -> InkMap {
    InkMap::new(&picture.survey(&InkMap::wish(design)).unwrap(), design)
}

/// What lies in one cell, pixel by pixel.
#[derive(Debug, Default, Clone)]
struct Counted {
    columns: Vec<u32>,
    rows: Vec<u32>,
    pixels: f64,
    faint: f64,
    /// Mean differences from bare.
    means: Vec<f64>,
    mm2: f64,
}

impl Counted {
    fn new(picture: &Pixmap, columns: Range<u32>, rows: Range<u32>, place: &Rect<Face>) -> Self {
        let mut found = Self { means: vec![0.0; picture.channels.count()], ..Self::default() };
        found.mm2 = place.width.mm() * place.height.mm();
        for (y, x) in rows.flat_map(|y| columns.clone().map(move |x| (y, x))) {
            let apart = differences(picture, x, y);
            let most = apart.iter().copied().fold(0.0, f64::max);
            found.pixels += 1.0;
            found.means.iter_mut().zip(apart).for_each(|(mean, apart)| *mean += apart);
            if most >= f64::from(FAINTEST) {
                found.columns.push(x);
                found.rows.push(y);
            } else if most > 0.0 {
                found.faint += 1.0;
            }
        }
        found.means.iter_mut().for_each(|mean| *mean /= found.pixels);
        found
    }

    fn ink_mm2(&self) -> f64 {
        f64::from(num::count(self.columns.len())) / self.pixels * self.mm2
    }
}

/// All cells of a design.
#[derive(Debug)]
struct Truth<'a> {
    design: &'a Design,
    rows: Vec<Vec<Counted>>,
}

impl<'a> Truth<'a> {
    fn new(picture: &Pixmap, design: &'a Design, map: &InkMap) -> Self {
        let survey = picture.survey(&InkMap::wish(design)).unwrap();
        let whole = |ends: &[f64]| num::pixels(ends[0])..num::pixels(ends[1]);
        let row = |(rows, down): (&[f64], &[Length])| {
            let cells = survey.across.windows(2).zip(map.across().windows(2));
            cells
                .map(|(columns, across)| {
                    let place = Rect::from_edges(across[0], down[0], across[1], down[1]);
                    Counted::new(picture, whole(columns), whole(rows), &place)
                })
                .collect()
        };
        Self { design, rows: survey.down.windows(2).zip(map.down().windows(2)).map(row).collect() }
    }

    fn um(&self, pixel: u32, most: Length) -> Length {
        Length::from_um(num::round(f64::from(pixel) * self.design.sheet_ppi.pitch_um())).min(most)
    }

    /// Where the ink of a row of cells begins and ends downwards; nothing where it has none.
    fn ends(&self, y: usize) -> Range<Length> {
        let rows = || self.rows[y].iter().flat_map(|cell| &cell.rows).copied();
        let um = |at: Option<u32>| at.map_or(Length::ZERO, |at| self.um(at, self.design.size.height));
        um(rows().min())..um(rows().max().map(|last| last + 1))
    }

    /// Where the ink of a cell begins and ends, within the outline of its row; `None` where there is none.
    fn span(&self, x: usize, y: usize, down: &[Length]) -> Option<Range<Length>> {
        let columns = || self.rows[y][x].columns.iter().copied();
        let (left, right) = self.design.outline.reach(down[0], down[1])?;
        let um = |at: u32| self.um(at, self.design.size.width);
        let span = um(columns().min()?).max(left)..um(columns().max()? + 1).min(right);
        (!span.is_empty() && !self.ends(y).is_empty()).then_some(span)
    }

    /// The least and the most ink that a cell and its neighbours have, as far as counting in steps of 255 tells.
    fn around(&self, x: usize, y: usize) -> (f64, f64) {
        let rows = &self.rows[y.saturating_sub(1)..(y + 2).min(self.rows.len())];
        let cells = rows.iter().flat_map(|row| &row[x.saturating_sub(1)..(x + 2).min(row.len())]);
        cells.fold((0.0, 0.0), |(least, most), cell| {
            (least + cell.ink_mm2(), most + cell.ink_mm2() + cell.mm2 / 255.0)
        })
    }

    /// Mean difference from bare, and the largest difference from one of the four neighbours.
    fn tone(&self, x: usize, y: usize) -> (f64, f64) {
        let cell = &self.rows[y][x];
        let apart = |other: &Counted| {
            cell.means.iter().zip(&other.means).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
        };
        let beside = [(0, -1), (0, 1), (-1, 0), (1, 0)]
            .into_iter()
            .filter_map(|(dx, dy)| self.rows.get(y.checked_add_signed(dy)?)?.get(x.checked_add_signed(dx)?));
        let darkness = cell.means.iter().sum::<f64>() / f64::from(num::count(cell.means.len()));
        (darkness, beside.map(apart).fold(0.0, f64::max))
    }

    /// The share of the design in cells that are not inked and of which at least so much is faint.
    fn faint(&self, map: &InkMap, least: f64) -> f64 {
        let rows = self.rows.iter().enumerate().map(|(y, row)| row.iter().zip(map.row(y)));
        let faint = rows.flatten().filter(|(cell, found)| !found.inked && cell.faint / cell.pixels >= least);
        let all = self.design.size.width.mm() * self.design.size.height.mm();
        faint.map(|(cell, _)| cell.mm2).sum::<f64>() / all
    }
}

/// One cell of the map; what it has, if it is inked.
fn cell_is_right(
    truth: &Truth<'_>,
    map: &InkMap,
    x: usize,
    y: usize,
) -> Result<Option<Rect<Face>>, TestCaseError> {
    let found = map.row(y)[x];
    let span = truth.span(x, y, &map.down()[y..]);
    let (least, most) = truth.around(x, y);
    prop_assert!(!found.inked || span.is_some() && most >= SMALLEST_MM2, "no ink in {} {}", x, y);
    prop_assert!(found.inked || span.is_none() || least < SMALLEST_MM2, "ink in {} {}", x, y);
    let Some(span) = span.filter(|_| found.inked) else {
        prop_assert_eq!(found, InkCell::default());
        return Ok(None);
    };
    prop_assert_eq!((found.left, found.right), (span.start, span.end));
    let (darkness, detail) = truth.tone(x, y);
    prop_assert!((f64::from(found.coverage) - darkness).abs() <= 1.0, "{} not {}", found.coverage, darkness);
    prop_assert!((f64::from(found.detail) - detail).abs() <= 1.0, "{} not {}", found.detail, detail);
    let ends = truth.ends(y);
    Ok(Some(Rect::from_edges(span.start, ends.start, span.end, ends.end)))
}

/// The box around two boxes.
fn around(one: Rect<Face>, other: Rect<Face>) -> Rect<Face> {
    let (left, top) = (one.x.min(other.x), one.y.min(other.y));
    Rect::from_edges(left, top, one.right().max(other.right()), one.bottom().max(other.bottom()))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_map_is_what_counting_finds(
        picture in pictures(80), ppi in 40.0..260.0_f64, part in 0.0..0.9_f64,
        shape in select(&[Shape::Rectangle, Shape::Rectangle, Shape::Oval, Shape::HalfMoon][..]),
    ) {
        let design = design(picture.size, ppi, shape, part);
        let map = map(&picture, &design);
        prop_assert_eq!((map.across()[0], map.down()[0]), (Length::ZERO, Length::ZERO));
        prop_assert_eq!(map.across().last(), Some(&design.size.width));
        prop_assert_eq!(map.down().last(), Some(&design.size.height));
        let truth = Truth::new(&picture, &design, &map);
        let mut extent: Option<Rect<Face>> = None;
        for y in 0..truth.rows.len() {
            let mut any = false;
            for x in 0..truth.rows[y].len() {
                if let Some(ink) = cell_is_right(&truth, &map, x, y)? {
                    extent = Some(extent.map_or(ink, |so_far| around(so_far, ink)));
                    any = true;
                }
            }
            prop_assert_eq!(map.height(y), any.then(|| truth.ends(y)));
        }
        prop_assert_eq!(map.extent(), extent);
        if shape == Shape::Rectangle {
            // Counting in steps of 255 may take a cell for half faint that hardly is not.
            let (least, most) = (truth.faint(&map, 128.0 / 255.0), truth.faint(&map, 127.0 / 255.0));
            prop_assert!(map.faint >= least - 1e-9 && map.faint <= most + 1e-9, "{} not {}", map.faint, least);
        }
    }
}

#[test]
fn ink_in_the_part_of_a_pixel_beyond_the_design_is_none() {
    // The grid has 100 pixels of 0.254 mm, and the design ends where the last one begins.
    let size = Pixels::new(100, 100);
    let design = design(size, 100.0, Shape::Rectangle, 1.0);
    for line in [Window::new(0, 99, 100, 1), Window::new(99, 0, 1, 100)] {
        let mut picture = Pixmap::bare(size, Format::RGB8);
        picture.paint(line, &[0; 3]);
        assert_eq!(map(&picture, &design).extent(), None, "{line:?}");
    }
}

#[test]
fn a_speck_takes_no_paper_and_a_dot_does() {
    // At 254 ppi a pixel has 0.01 mm2.
    let size = Pixels::new(200, 150);
    let design = design(size, 254.0, Shape::Rectangle, 0.0);
    for (format, side, inked) in [
        (Format::RGB8, 2, false),
        (Format::RGB8, 4, true),
        (Format { channels: Channels::Cmyk, depth: Depth::Sixteen }, 2, false),
        (Format { channels: Channels::Gray, depth: Depth::Eight }, 4, true),
    ] {
        // Also across the corner of four cells.
        for at in [41, 59] {
            let mut picture = Pixmap::bare(size, format);
            let bare = num::widen(format.channels.bare());
            picture.paint(Window::new(at, at, side, side), &[!bare; 4]);
            let found = map(&picture, &design).extent();
            let um = |pixels: u32| Length::from_um(i64::from(pixels) * 100);
            let place = Rect::new(um(at), um(at), um(side), um(side));
            assert_eq!(found, inked.then_some(place), "{format:?} {side} at {at}");
        }
    }
}

#[test]
fn a_tint_that_hardly_shows_is_no_ink_but_is_reported() {
    let size = Pixels::new(100, 100);
    let design = design(size, 100.0, Shape::Rectangle, 0.0);
    let mut picture = Pixmap::bare(size, Format::RGB8);
    picture.paint(Window::new(0, 0, 100, 50), &[u16::MAX, 250 * 257, 248 * 257]);
    let tinted = map(&picture, &design);
    assert_eq!(tinted.extent(), None, "no paper for it");
    assert!((tinted.faint - 0.5).abs() < 0.005, "half of it: {}", tinted.faint);
}
