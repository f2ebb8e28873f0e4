//! Surveys against brute force over pictures of dots, lines and patches, in every format and at odd sizes.
#![expect(clippy::float_cmp, reason = "whole numbers of pixels are exact")]

use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert, prop_assert_eq, prop_oneof, proptest};
use proptest::sample::select;
use proptest::test_runner::TestCaseError;

use crate::num;
use crate::picture::{Channels, Depth, Format, Picture, Pixels, Samples, Window};
use crate::sample::Pixmap;
use crate::survey::{self, FAINTEST, Survey, Surveyor, Wish};

/// Bare pictures with up to a dozen things painted on them, each of one colour.
pub(super) fn pictures(longest: u32) -> impl Strategy<Value = Pixmap> {
    let channels = select(&[Channels::Gray, Channels::Rgb, Channels::Cmyk][..]);
    let depth = select(&[Depth::Eight, Depth::Sixteen][..]);
    // Colours around the borders of bare, faint and ink, as differences from bare; and any.
    let sample = prop_oneof![0_u16..300, 1_600_u16..2_400, any::<u16>()];
    let thing = (any::<(u32, u32)>(), 0_u32..4, proptest::array::uniform4(sample));
    let things = proptest::collection::vec(thing, 0..12);
    (1..=longest, 1..=longest, channels, depth, things).prop_map(
        |(width, height, channels, depth, things)| {
            let size = Pixels::new(width, height);
            let mut picture = Pixmap::bare(size, Format { channels, depth });
            for ((x, y), kind, colour) in things {
                let (x, y) = (x % width, y % height);
                let (right, down) = (width - x, height - y);
                let at = match kind {
                    0 => Window::new(x, y, 1, 1),
                    1 => Window::new(x, y, right, 1),
                    2 => Window::new(x, y, 1, down),
                    _ => Window::new(x, y, right.min(1 + x), down.min(1 + y)),
                };
                let paper = num::widen(channels.bare());
                picture.paint(at, &colour.map(|difference| paper ^ difference));
            }
            picture
        },
    )
}

/// How far a pixel is from bare at each sample, in whole steps of 255.
pub(super) fn differences(picture: &Pixmap, x: u32, y: u32) -> Vec<f64> {
    let each = picture.channels.count();
    let at = (y as usize * picture.size.width as usize + x as usize) * each;
    let paper = if picture.channels == Channels::Cmyk { 0.0 } else { 255.0 };
    let apart = |sample: f64| (paper - sample.round()).abs();
    match &picture.samples {
        Samples::Eight(all) => all[at..at + each].iter().map(|v| apart(f64::from(*v))).collect(),
        Samples::Sixteen(all) => all[at..at + each].iter().map(|v| apart(f64::from(*v) / 257.0)).collect(),
    }
}

/// Borders are whole, even, rise from nothing to all, and there are as many as were wished.
fn borders_are_right(borders: &[f64], wished: u32, length: u32) -> Result<(), TestCaseError> {
    prop_assert_eq!(borders.len(), wished.clamp(1, length) as usize + 1);
    prop_assert_eq!((borders[0], borders[borders.len() - 1]), (0.0, f64::from(length)));
    let widths: Vec<f64> = borders.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let (least, most) =
        (widths.iter().copied().fold(f64::MAX, f64::min), widths.iter().copied().fold(0.0, f64::max));
    prop_assert!(least >= 1.0 && most - least <= 1.0 && borders.iter().all(|at| at.fract() == 0.0));
    Ok(())
}

fn whole(range: &[f64]) -> std::ops::Range<u32> {
    num::pixels(range[0])..num::pixels(range[1])
}

/// Every cell, counted pixel by pixel.
fn cells_are_right(survey: &Survey, picture: &Pixmap, faintest: u8) -> Result<(), TestCaseError> {
    let up = |part: f64, pixels: f64| (part / pixels - 1e-9).ceil();
    let mut places = survey.cells.iter().enumerate();
    let means = match &survey.means.samples {
        Samples::Eight(means) => means.as_slice(),
        Samples::Sixteen(_) => &[],
    };
    let each = picture.channels.count();
    for (row, rows) in survey.down.windows(2).enumerate() {
        let mut inked_rows = Vec::new();
        for columns in survey.across.windows(2) {
            let (at, cell) = places.next().expect("a cell for every place");
            let (mut ink, mut faint, mut pixels) = (0.0, 0.0, 0.0);
            let (mut inked_columns, mut sums) = (Vec::new(), vec![0.0; each]);
            for (y, x) in whole(rows).flat_map(|y| whole(columns).map(move |x| (y, x))) {
                let apart = differences(picture, x, y);
                let most = apart.iter().copied().fold(0.0, f64::max);
                pixels += 1.0;
                sums.iter_mut().zip(&apart).for_each(|(sum, apart)| *sum += apart);
                if most >= f64::from(faintest) {
                    ink += 1.0;
                    inked_columns.push(f64::from(x));
                    inked_rows.push(f64::from(y));
                } else if most > 0.0 {
                    faint += 1.0;
                }
            }
            prop_assert_eq!(f64::from(cell.ink), up(ink * 255.0, pixels), "ink of cell {}", at);
            prop_assert_eq!(f64::from(cell.faint), up(faint * 255.0, pixels), "faint of cell {}", at);
            if ink > 0.0 {
                let (first, last) = (
                    inked_columns.iter().copied().fold(f64::MAX, f64::min),
                    inked_columns.iter().copied().fold(0.0, f64::max),
                );
                prop_assert_eq!(
                    (f64::from(cell.left), f64::from(cell.right)),
                    (first, last + 1.0),
                    "cell {}",
                    at
                );
            }
            for (mean, sum) in means[at * each..][..each].iter().zip(sums) {
                let apart = f64::from(mean ^ picture.channels.bare());
                prop_assert_eq!(apart, up(sum, pixels), "mean of cell {}", at);
            }
        }
        if !inked_rows.is_empty() {
            let (first, last) = (
                inked_rows.iter().copied().fold(f64::MAX, f64::min),
                inked_rows.iter().copied().fold(0.0, f64::max),
            );
            prop_assert_eq!(survey.inked[row], [first, last + 1.0], "row {}", row);
        }
    }
    prop_assert!(places.next().is_none() && survey.inked.len() + 1 == survey.down.len(), "no cell too many");
    prop_assert_eq!(means.len(), survey.cells.len() * each);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_survey_is_what_counting_finds(picture in pictures(90), wished in (0_u32..120, 0_u32..120), faintest in select(&[0_u8, 1, 4, FAINTEST, 255][..])) {
        let wish = Wish { cells: Pixels::new(wished.0, wished.1), faintest };
        let survey = picture.survey(&wish).unwrap();
        borders_are_right(&survey.across, wished.0, picture.size.width)?;
        borders_are_right(&survey.down, wished.1, picture.size.height)?;
        prop_assert_eq!(survey.size(), Pixels::new(num::count(survey.across.len()) - 1, num::count(survey.down.len()) - 1));
        cells_are_right(&survey, &picture, faintest.max(1))?;
    }

    #[test]
    fn a_window_is_surveyed_as_a_picture_of_its_own(picture in pictures(50), cells in 1_u32..20, at in any::<(u32, u32)>()) {
        let (x, y) = (at.0 % picture.size.width, at.1 % picture.size.height);
        let window = Window::new(x, y, picture.size.width - x, picture.size.height - y);
        let mut band = crate::picture::Band::empty();
        picture.fill(window, &mut band).unwrap();
        let cut = Pixmap { size: window.size(), channels: picture.channels, samples: band.samples };
        let wish = Wish { cells: Pixels::new(cells, cells), faintest: FAINTEST };
        prop_assert_eq!(survey::of_window(&picture, window, &wish).unwrap(), cut.survey(&wish).unwrap());
    }

    #[test]
    fn parts_joined_are_the_whole(picture in pictures(90), cells in (1_u32..40, 1_u32..40), count in 1_usize..9) {
        let wish = Wish { cells: Pixels::new(cells.0, cells.1), faintest: FAINTEST };
        let format = picture.format();
        let parts = Surveyor::parts(picture.size, format, &wish, count);
        prop_assert!(parts.len() <= count, "{} parts of {count}", parts.len());
        let surveyed = parts.into_iter().map(|(mut part, rows)| {
            let mut band = crate::picture::Band::empty();
            picture.fill(Window::new(0, rows.start, picture.size.width, rows.end - rows.start), &mut band).unwrap();
            match &band.samples {
                Samples::Eight(samples) => part.take(samples),
                Samples::Sixteen(samples) => part.take_fine(samples),
            }
            part
        });
        let joined = surveyed.reduce(Surveyor::join).expect("a part").finish();
        prop_assert_eq!(joined, picture.survey(&wish).unwrap());
    }
}

#[test]
fn a_tall_picture_in_one_row_of_cells_does_not_overflow() {
    // 255 rows are what the counts hold; beyond that there are more rows of cells than wished.
    for (height, rows) in [(255, 1), (256, 2), (1_000, 4)] {
        let mut picture = Pixmap::bare(Pixels::new(3, height), Format::RGB8);
        picture.paint(Window::whole(picture.size), &[0, 0, 0]);
        let survey = picture.survey(&Wish { cells: Pixels::new(1, 1), faintest: FAINTEST }).unwrap();
        assert_eq!(survey.size(), Pixels::new(1, rows), "{height} rows of pixels");
        assert!(survey.cells.iter().all(|cell| cell.ink == 255 && cell.faint == 0), "all of it is ink");
        assert_eq!(survey.means.samples, Samples::Eight(vec![0; 3 * rows as usize]), "and black");
    }
}

#[test]
fn a_single_dot_in_a_wide_bare_area_is_not_missed() {
    let size = Pixels::new(2_501, 1_203);
    for (x, y) in [(0, 0), (1_023, 600), (1_024, 601), (2_500, 1_202)] {
        let mut picture = Pixmap::bare(size, Format::RGB8);
        picture.paint(Window::new(x, y, 1, 1), &[u16::MAX, u16::MAX, 247 * 257]);
        let survey = picture.survey(&Wish { cells: Pixels::new(7, 5), faintest: FAINTEST }).unwrap();
        let found: Vec<_> = survey.cells.iter().filter(|cell| cell.ink > 0).collect();
        assert_eq!(found.len(), 1, "one cell has it");
        assert_eq!(
            (f64::from(found[0].left), f64::from(found[0].right)),
            (f64::from(x), f64::from(x + 1)),
            "where it is"
        );
        let rows = survey.cells.iter().position(|cell| cell.ink > 0).unwrap() / 7;
        assert_eq!(survey.inked[rows], [f64::from(y), f64::from(y + 1)], "and how high");
    }
}
