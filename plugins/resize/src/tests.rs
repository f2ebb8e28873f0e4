//! Placement by the table, scaling against the textbook's formula, windows against the whole.

use std::sync::Arc;

use seamwright_contract::layout::Design;
use seamwright_contract::order::Fit;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, Length, Ppi, Rect, Size, num};

use crate::place::place;
use crate::scaled::Scaled;

#[test]
fn placement_and_resolution_agree_with_the_table() {
    // tests/data/geometry/fit_ppi.csv: computed.
    for row in include_str!("../../../tests/data/geometry/fit_ppi.csv").lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let inches = |i: usize| format!("{}in", cells[i]).parse::<Length>().unwrap();
        let fit = Fit::WORDS.iter().find(|(word, _)| *word == cells[4]).unwrap().1;
        let pixels = Pixels::new(num::pixels(number(0)), num::pixels(number(1)));
        let design = Size::new(inches(2), inches(3));
        let placed = place(pixels, design, fit);
        assert_eq!((placed.width, placed.height), (inches(5), inches(6)), "{row}");
        let ppi = [Ppi::of(pixels.width, placed.width), Ppi::of(pixels.height, placed.height)]
            .map(|p| p.unwrap().get());
        assert!((ppi[0] - number(7)).abs() < 1e-4 && (ppi[1] - number(8)).abs() < 1e-4, "{row}: {ppi:?}");
        let clipped = placed.intersection(&Rect::of_size(design)).unwrap();
        assert_eq!(placed.width - clipped.width, inches(9), "{row}: cropped");
        assert_eq!(design.height - clipped.height, inches(12), "{row}: bare");
        assert!((placed.x * 2 + placed.width - design.width).abs().um() <= 1, "{row}: centred");
    }
}

/// A picture of waves, different in every channel.
#[derive(Debug)]
struct Waves {
    size: Pixels,
    format: Format,
}

impl Waves {
    fn value(&self, x: u32, y: u32, channel: usize) -> f64 {
        let (x, y, c) = (f64::from(x), f64::from(y), num::float(i64::try_from(channel).unwrap()));
        127.5 + 60.0 * (x / (7.0 + c)).sin() + 60.0 * (y / (9.0 - c) + x / 31.0).cos()
    }
}

impl Picture for Waves {
    fn size(&self) -> Pixels {
        self.size
    }
    fn format(&self) -> Format {
        self.format
    }
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        if !want.within(self.size) {
            return Err(Fault::defect(format!("{want:?} is asked of {:?}", self.size)));
        }
        out.reset(want.size(), self.format);
        let channels = self.format.channels.count();
        let values = (0..want.height).flat_map(|y| {
            (0..want.width)
                .flat_map(move |x| (0..channels).map(move |c| self.value(want.x + x, want.y + y, c)))
        });
        match &mut out.samples {
            Samples::Eight(samples) => {
                samples.iter_mut().zip(values).for_each(|(s, v)| *s = num::byte(num::single(v)));
            }
            Samples::Sixteen(samples) => {
                samples
                    .iter_mut()
                    .zip(values)
                    .for_each(|(s, v)| *s = u16::try_from(num::round(v * 257.0)).unwrap());
            }
        }
        Ok(())
    }
    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        Ok(Band::bare(size, self.format))
    }
    fn recipe(&self) -> String {
        "waves".to_owned()
    }
}

const FORMATS: [Format; 4] = [
    Format::RGB8,
    Format { channels: Channels::Gray, depth: Depth::Eight },
    Format { channels: Channels::Cmyk, depth: Depth::Eight },
    Format { channels: Channels::Rgb, depth: Depth::Sixteen },
];

fn scaled(pixels: Pixels, format: Format, size: Size, fit: Fit, ppi: f64) -> Scaled {
    let whole = place(pixels, size, fit);
    let ppi = Ppi::new(ppi).unwrap();
    let design = Design { size, picture: whole, sheet_ppi: ppi, artwork_ppi: [ppi, ppi] };
    Scaled::new(Arc::new(Waves { size: pixels, format }), &design, &whole)
}

/// Every sample in the reach of 8 bits.
fn bytes(band: &Band) -> Vec<f64> {
    match &band.samples {
        Samples::Eight(samples) => samples.iter().map(|s| f64::from(*s)).collect(),
        Samples::Sixteen(samples) => samples.iter().map(|s| f64::from(*s) / 257.0).collect(),
    }
}

fn filled(picture: &dyn Picture, window: Window) -> Band {
    let mut band = Band::empty();
    picture.fill(window, &mut band).unwrap();
    band
}

/// Lanczos with three lobes straight from its formula, sinc(x) sinc(x / 3), at one place of one row.
fn lanczos(row: &[f64], at: f64, scale: f64) -> f64 {
    let widen = scale.max(1.0);
    let sinc = |x: f64| {
        if x.abs() < 1e-9 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) }
    };
    let (mut sum, mut weights) = (0.0, 0.0);
    for (i, value) in row.iter().enumerate() {
        let x = (num::float(i64::try_from(i).unwrap()) + 0.5 - at) / widen;
        if x.abs() < 3.0 {
            let weight = sinc(x) * sinc(x / 3.0);
            sum += weight * value;
            weights += weight;
        }
    }
    sum / weights
}

#[test]
fn scaling_agrees_with_the_formula() {
    for (width, ppi) in [(300, 250.0), (300, 60.0), (500, 100.0)] {
        // A strip of equal rows, so that one dimension says all.
        let pixels = Pixels::new(width, 40);
        let size = Size::new(Length::from_inches(3), Length::from_um(3 * 25_400 * 40 / i64::from(width)));
        let picture = scaled(pixels, FORMATS[1], size, Fit::Stretch, ppi);
        let source = Waves { size: pixels, format: FORMATS[1] };
        let got = bytes(&filled(&picture, Window::whole(picture.size())));
        let row: Vec<f64> =
            (0..width).map(|x| (0..40).map(|y| source.value(x, y, 0).round()).sum::<f64>() / 40.0).collect();
        let scale = f64::from(width) / (3.0 * ppi);
        let columns = picture.size().width;
        let mut worst: f64 = 0.0;
        for x in 12..columns - 12 {
            let mine: f64 = (0..picture.size().height).map(|y| got[num::index(y * columns + x)]).sum::<f64>()
                / f64::from(picture.size().height);
            worst = worst.max((mine - lanczos(&row, (f64::from(x) + 0.5) * scale, scale)).abs());
        }
        assert!(worst < 2.5, "{width} at {ppi}: {worst}");
    }
}

#[test]
fn a_window_is_that_part_of_the_whole() {
    let mut state = 3_u32;
    let mut random = move |below: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) % below.max(1)
    };
    for format in FORMATS {
        for fit in [Fit::Contain, Fit::Cover, Fit::Stretch] {
            for ppi in [40.0, 97.3, 150.0] {
                let size = Size::new(Length::from_mm(100), Length::from_mm(61));
                let picture = scaled(Pixels::new(371, 263), format, size, fit, ppi);
                let whole = picture.size();
                let all = filled(&picture, Window::whole(whole));
                let (stride, all) = (all.stride(), bytes(&all));
                for _ in 0..12 {
                    let (x, y) = (random(whole.width), random(whole.height));
                    let window = Window::new(x, y, 1 + random(whole.width - x), 1 + random(whole.height - y));
                    let part = filled(&picture, window);
                    let each = format.channels.count();
                    for (row, line) in bytes(&part).chunks(part.stride()).enumerate() {
                        let start = (num::index(y) + row) * stride + num::index(x) * each;
                        let worst =
                            line.iter().zip(&all[start..]).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                        assert!(worst <= 1.0, "{format:?} {fit:?} {ppi} {window:?} row {row}: {worst}");
                    }
                }
            }
        }
    }
}

#[test]
fn same_size_artwork_is_passed_through_untouched() {
    let size = Size::new(Length::from_inches(2), Length::from_inches(1));
    let picture = scaled(Pixels::new(600, 300), Format::RGB8, size, Fit::Contain, 300.0);
    let source = Waves { size: Pixels::new(600, 300), format: Format::RGB8 };
    let window = Window::new(17, 5, 200, 100);
    assert_eq!(filled(&picture, window), filled(&source, window));
}

#[test]
fn beside_a_contained_picture_the_blank_stays_bare() {
    let size = Size::new(Length::from_mm(100), Length::from_mm(100));
    let picture = scaled(Pixels::new(200, 100), Format::RGB8, size, Fit::Contain, 101.6);
    let band = filled(&picture, Window::whole(picture.size()));
    let stride = band.stride();
    let rows: Vec<bool> =
        bytes(&band).chunks(stride).map(|row| row.iter().all(|s| (*s - 255.0).abs() < 0.5)).collect();
    assert_eq!(picture.size(), Pixels::new(400, 400));
    assert!(rows[..100].iter().all(|bare| *bare) && rows[300..].iter().all(|bare| *bare), "above and below");
    assert!(rows[100..300].iter().all(|bare| !bare), "the picture is where it belongs");
}

#[test]
fn a_window_beyond_the_picture_is_refused() {
    let size = Size::new(Length::from_mm(10), Length::from_mm(10));
    let picture = scaled(Pixels::new(10, 10), Format::RGB8, size, Fit::Stretch, 100.0);
    assert!(
        picture.fill(Window::new(0, 0, 1_000, 1), &mut Band::empty()).is_err(),
        "it is a defect, not a panic"
    );
}
