//! Ink on the grid against brute force: every pixel of the artwork laid on the face by itself.

use std::ops::Range;
use std::sync::Arc;

use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert, prop_assert_eq, proptest};
use proptest::sample::select;
use proptest::test_runner::TestCaseError;

use seamwright_contract::ink::InkMap;
use seamwright_contract::order::Fit;
use seamwright_contract::picture::{Format, Picture, Pixels, Samples, Window};
use seamwright_contract::sample::{self, Pixmap};
use seamwright_contract::survey::{self, FAINTEST, Survey, Wish};
use seamwright_contract::{Length, Rect, Size, num};

use super::fixture::{of, sides};
use crate::axis::SAME;
use crate::place::place;

/// Bare RGB pictures with up to eight dots, lines and patches on them, black or faint.
fn pictures() -> impl Strategy<Value = Pixmap> {
    let thing = (any::<(u32, u32)>(), 0_u32..4, select(&[0_u16, 250 * 257][..]));
    (1_u32..70, 1_u32..70, proptest::collection::vec(thing, 0..8)).prop_map(|(width, height, things)| {
        let mut picture = Pixmap::bare(Pixels::new(width, height), Format::RGB8);
        for ((x, y), kind, sample) in things {
            let (x, y) = (x % width, y % height);
            let (right, down) = ([1, width - x][kind as usize & 1], [1, height - y][kind as usize >> 1]);
            picture.paint(Window::new(x, y, right, down), &[sample; 3]);
        }
        picture
    })
}

fn fits() -> impl Strategy<Value = Fit> {
    select(&[Fit::Contain, Fit::Cover, Fit::Stretch][..])
}

/// One row or column of the artwork on the grid.
#[derive(Debug, Clone, Copy)]
struct Strip {
    from: f64,
    to: f64,
}

/// Where each row or column of the artwork lies, clipped to the grid; `None` where it is cut off.
fn strips(start: Length, length: Length, count: u32, pitch: f64, grid: u32) -> Vec<Option<Strip>> {
    let um = |i: u32| num::float(start.um()) + num::float(length.um()) * f64::from(i) / f64::from(count);
    let clipped = |i: u32| (um(i) / pitch).clamp(0.0, f64::from(grid));
    let source = num::float(length.um()) / f64::from(count) / pitch;
    (0..count)
        .map(|i| Strip { from: clipped(i), to: clipped(i + 1) })
        .map(|strip| (strip.to - strip.from > SAME * source.min(1.0)).then_some(strip))
        .collect()
}

/// Which strips lie in a cell, by their middles.
fn within(strips: &[Option<Strip>], cell: &[f64]) -> Vec<usize> {
    let inside = |strip: &Strip| (cell[0]..cell[1]).contains(&f64::midpoint(strip.from, strip.to));
    (0..strips.len()).filter(|i| strips[*i].as_ref().is_some_and(inside)).collect()
}

/// From the first to the last end of some strips.
fn around(strips: &[Option<Strip>], which: &[usize]) -> Range<f64> {
    let of = |end: fn(Strip) -> f64| which.iter().filter_map(move |i| strips[*i].map(end));
    of(|s| s.from).fold(f64::MAX, f64::min)..of(|s| s.to).fold(0.0, f64::max)
}

fn near(found: f64, expected: f64) -> bool {
    (found - expected).abs() < 1e-3
}

fn borders_are_right(borders: &[f64], grid: u32, wished: u32, source: f64) -> Result<(), TestCaseError> {
    prop_assert!(near(borders[0], 0.0) && near(borders[borders.len() - 1], f64::from(grid)), "{borders:?}");
    let widest = f64::from(grid) / f64::from(wished) + source + 1e-6;
    prop_assert!(
        borders.windows(2).all(|pair| pair[0] < pair[1] && pair[1] - pair[0] <= widest),
        "{borders:?}"
    );
    Ok(())
}

fn cells_are_right(
    survey: &Survey,
    picture: &Pixmap,
    [across, down]: [&[Option<Strip>]; 2],
) -> Result<(), TestCaseError> {
    let Samples::Eight(samples) = &picture.samples else { return Ok(()) };
    let sample = |x: usize, y: usize| samples[(y * num::index(picture.size.width) + x) * 3];
    let Samples::Eight(means) = &survey.means.samples else { return Ok(()) };
    let share = |part: usize, of: usize| u8::try_from((part * 255).div_ceil(of.max(1))).unwrap();
    let mut cells = survey.cells.iter().zip(means.as_chunks::<3>().0);
    for (row, rows) in survey.down.windows(2).enumerate() {
        let rows = within(down, rows);
        let mut inked_rows = Vec::new();
        for columns in survey.across.windows(2) {
            let columns = within(across, columns);
            let (cell, mean) = cells.next().unwrap();
            let pixels = || rows.iter().flat_map(|y| columns.iter().map(move |x| (*x, *y)));
            let inked: Vec<_> = pixels().filter(|(x, y)| sample(*x, *y) == 0).collect();
            let faint = pixels().filter(|(x, y)| sample(*x, *y) == 250).count();
            let count = pixels().count();
            prop_assert_eq!((cell.ink, cell.faint), (share(inked.len(), count), share(faint, count)));
            let darkness = u8::try_from((inked.len() * 255 + faint * 5).div_ceil(count.max(1))).unwrap();
            prop_assert_eq!(mean, &[255 - darkness; 3]);
            if !inked.is_empty() {
                let ends = around(across, &inked.iter().map(|(x, _)| *x).collect::<Vec<_>>());
                let found = [f64::from(cell.left), f64::from(cell.right)];
                prop_assert!(near(found[0], ends.start) && near(found[1], ends.end), "{found:?} {ends:?}");
                inked_rows.extend(inked.iter().map(|(_, y)| *y));
            }
        }
        if !inked_rows.is_empty() {
            let (found, ends) = (survey.inked[row], around(down, &inked_rows));
            prop_assert!(near(found[0], ends.start) && near(found[1], ends.end), "{found:?} {ends:?}");
        }
    }
    prop_assert!(cells.next().is_none(), "no cell too many");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn ink_lies_where_the_artworks_pixels_lie(
        picture in pictures(), fit in fits(), size in (300_i64..90_000, 300_i64..90_000),
        ppi in 20.0..400.0_f64, wished in (1_u32..60, 1_u32..60),
    ) {
        let size = Size::new(Length::from_um(size.0), Length::from_um(size.1));
        let scaled = of(Arc::new(picture.clone()), size, fit, ppi);
        let (grid, whole, pitch) = (scaled.size(), place(sides(picture.size), size, fit), 25_400.0 / ppi);
        let wished = Pixels::new(wished.0.min(grid.width), wished.1.min(grid.height));
        let survey = scaled.survey(&Wish { cells: wished, faintest: FAINTEST }).unwrap();
        let across = strips(whole.x, whole.width, picture.size.width, pitch, grid.width);
        let down = strips(whole.y, whole.height, picture.size.height, pitch, grid.height);
        let pixel = |length: Length, count: u32| num::float(length.um()) / f64::from(count) / pitch;
        borders_are_right(&survey.across, grid.width, wished.width, pixel(whole.width, picture.size.width))?;
        borders_are_right(&survey.down, grid.height, wished.height, pixel(whole.height, picture.size.height))?;
        cells_are_right(&survey, &picture, [&across, &down])?;
    }

    #[test]
    fn scaled_pixels_have_their_ink_there_too(
        block in (0_u32..60, 20_u32..50, 4_u32..40, 4_u32..30), fit in fits(), ppi in 40.0..300.0_f64,
    ) {
        // Lanczos blurs and rings over three source pixels at most, so that far the ends may stand apart.
        let mut picture = Pixmap::bare(Pixels::new(100, 100), Format::RGB8);
        picture.paint(Window::new(block.0, block.1, block.2, block.3), &[0; 3]);
        let size = Size::new(Length::from_mm(52), Length::from_mm(40));
        let scaled = of(Arc::new(picture), size, fit, ppi);
        let design = sample::design(size, ppi);
        let wish = Wish { cells: Pixels::new(13, 10), faintest: FAINTEST };
        let extent = |survey: &Survey| InkMap::new(survey, &design).extent();
        let (ours, pixels) = (extent(&scaled.survey(&wish).unwrap()), extent(&survey::by_filling(&scaled, &wish).unwrap()));
        let (Some(ours), Some(pixels)) = (ours, pixels) else {
            prop_assert_eq!(ours, pixels);
            return Ok(());
        };
        let slack = Length::from_um(3 * 520 + 3 * num::round(25_400.0 / ppi));
        for (one, other) in [(ours.x, pixels.x), (ours.y, pixels.y), (ours.right(), pixels.right()), (ours.bottom(), pixels.bottom())] {
            prop_assert!((one - other).abs() <= slack, "{:?} {:?}", ours, pixels);
        }
    }
}

#[test]
fn a_star_chart_with_bare_margins_has_its_extent_to_the_micrometre() {
    // 3120 of 3600 columns over 24 in are 528 320 um, 1500 of 1875 rows over 12.5 in 254 000.
    let mut picture = Pixmap::bare(Pixels::new(3_600, 1_875), Format::RGB8);
    picture.paint(Window::new(240, 300, 3_120, 1_500), &[0x3000, 0x2000, 0x6000]);
    let um = Length::from_um;
    let size = Size::new(um(609_600), um(317_500));
    for (fit, ppi) in [(Fit::Contain, 300.0), (Fit::Stretch, 150.0), (Fit::Cover, 97.3)] {
        let scaled = of(Arc::new(picture.clone()), size, fit, ppi);
        let design = sample::design(size, ppi);
        let survey = scaled.survey(&InkMap::wish(&design)).unwrap();
        let extent = InkMap::new(&survey, &design).extent();
        assert_eq!(
            extent,
            Some(Rect::new(um(40_640), um(50_800), um(528_320), um(254_000))),
            "{fit:?} {ppi}"
        );
    }
}

#[test]
fn what_cover_cuts_off_is_not_looked_at() {
    // 200 x 100 pixels cover 50 x 50 mm: 50 columns on either side are cut off.
    let mut picture = Pixmap::bare(Pixels::new(200, 100), Format::RGB8);
    picture.paint(Window::new(0, 0, 50, 100), &[0; 3]);
    picture.paint(Window::new(150, 40, 50, 1), &[0; 3]);
    let size = Size::new(Length::from_mm(50), Length::from_mm(50));
    let design = sample::design(size, 101.6);
    let extent = |picture: &Pixmap| {
        let scaled = of(Arc::new(picture.clone()), size, Fit::Cover, 101.6);
        InkMap::new(&scaled.survey(&InkMap::wish(&design)).unwrap(), &design).extent()
    };
    assert_eq!(extent(&picture), None, "all of it is beside the design");
    picture.paint(Window::new(149, 99, 1, 1), &[0; 3]);
    let (half, end) = (Length::from_um(49_500), Length::from_um(500));
    assert_eq!(extent(&picture), Some(Rect::new(half, half, end, end)), "the last pixel, down in the corner");
}
