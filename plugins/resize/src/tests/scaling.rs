//! Scaled pixels against Lanczos written from its formula, where they come from, and where none are computed.

use std::sync::Arc;

use seamwright_contract::layout::Design;
use seamwright_contract::order::Fit;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, Length, Size, num, sample};

use super::fixture::{FORMATS, Waves, bytes, filled, scaled, sides};
use crate::place::place;

/// sinc(x) sinc(x / 3), widened where it reduces, at one place of a line of pixels whose ends are repeated.
fn weights(at: f64, scale: f64, count: u32) -> Vec<(u32, f64)> {
    let sinc = |x: f64| {
        if x.abs() < 1e-9 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) }
    };
    let widen = scale.max(1.0);
    let first = num::round((at - 3.0 * widen).floor());
    let last = num::round((at + 3.0 * widen).ceil());
    let found: Vec<(u32, f64)> = (first..=last)
        .map(|i| {
            let x = (num::float(i) + 0.5 - at) / widen;
            let weight = if x.abs() < 3.0 { sinc(x) * sinc(x / 3.0) } else { 0.0 };
            (u32::try_from(i.clamp(0, i64::from(count) - 1)).unwrap(), weight)
        })
        .collect();
    let sum: f64 = found.iter().map(|(_, weight)| weight).sum();
    found.into_iter().map(|(i, weight)| (i, weight / sum)).collect()
}

/// The whole design in double precision, rows before columns, what overshoots kept in reach after each, straight from
/// micrometres.
fn textbook(source: &dyn Picture, size: Size, fit: Fit, ppi: f64, grid: Pixels) -> Vec<f64> {
    let own = source.size();
    let whole = place(sides(own), size, fit);
    let each = source.format().channels.count();
    let pixels = bytes(&filled(source, Window::whole(own)));
    let pitch = 25_400.0 / ppi;
    let line = |count: u32, start: Length, length: Length, source: u32| -> Vec<Vec<(u32, f64)>> {
        let per_um = f64::from(source) / num::float(length.um());
        (0..count)
            .map(|i| {
                let at = ((f64::from(i) + 0.5) * pitch - num::float(start.um())) * per_um;
                weights(at, pitch * per_um, source)
            })
            .collect()
    };
    let across = line(grid.width, whole.x, whole.width, own.width);
    let down = line(grid.height, whole.y, whole.height, own.height);
    let stride = num::index(own.width) * each;
    let mut wide = Vec::new();
    for row in pixels.chunks(stride) {
        for weights in &across {
            for c in 0..each {
                let sum: f64 = weights.iter().map(|(i, w)| row[num::index(*i) * each + c] * w).sum();
                wide.push(sum.clamp(0.0, 255.0));
            }
        }
    }
    let stride = num::index(grid.width) * each;
    down.iter()
        .flat_map(|weights| {
            let wide = &wide;
            (0..stride).map(move |x| {
                let sum: f64 = weights.iter().map(|(i, w)| wide[num::index(*i) * stride + x] * w).sum();
                sum.clamp(0.0, 255.0)
            })
        })
        .collect()
}

#[test]
fn scaling_agrees_with_the_formula_to_its_edges() {
    // Enlarged, about the same, reduced; across and down at different scales where stretched.
    for (fit, ppi) in [(Fit::Stretch, 250.0), (Fit::Stretch, 97.3), (Fit::Cover, 120.0), (Fit::Cover, 40.0)] {
        for format in FORMATS {
            let source = Waves { size: Pixels::new(300, 163), format };
            let size = Size::new(Length::from_mm(75), Length::from_mm(51));
            let picture = scaled(source.size, format, size, fit, ppi);
            let grid = picture.size();
            let ours = bytes(&filled(&picture, Window::whole(grid)));
            let theirs = textbook(&source, size, fit, ppi, grid);
            assert_eq!(ours.len(), theirs.len(), "as many samples");
            let count = num::float(i64::try_from(ours.len()).unwrap());
            let off = || ours.iter().zip(&theirs).map(|(a, b)| (a - b).abs());
            let (mean, worst) = (off().sum::<f64>() / count, off().fold(0.0, f64::max));
            let psnr = 10.0 * (255.0_f64.powi(2) / (off().map(|d| d * d).sum::<f64>() / count)).log10();
            println!("{fit:?} {ppi} {format:?}: mean {mean:.3}, worst {worst:.2}, {psnr:.1} dB");
            assert!(mean <= 0.5 && worst <= 1.5 && psnr >= 50.0, "{fit:?} {ppi} {format:?}: {mean} {psnr}");
        }
    }
}

/// Squares of black on white, aslant to each other, so that the filter overshoots both ways at once.
#[derive(Debug)]
struct Squares;

impl Picture for Squares {
    fn size(&self) -> Pixels {
        Pixels::new(96, 80)
    }

    fn format(&self) -> Format {
        Format::RGB8
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), Format::RGB8);
        let Samples::Eight(samples) = &mut out.samples else { return Err(Fault::defect("not 8 bits")) };
        for (at, pixel) in (0..).zip(samples.as_chunks_mut::<3>().0) {
            let (x, y) = (want.x + at % want.width, want.y + at / want.width);
            *pixel = [if (x + y / 3) % 11 < 4 && y % 7 < 4 { 0 } else { 255 }; 3];
        }
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        Ok(Band::bare(size, Format::RGB8))
    }
}

#[test]
fn what_overshoots_at_hard_edges_is_kept_in_reach_between_the_passes() {
    // As other programs have it whose passes give whole samples; else white shows in the corners of dark things.
    let size = Size::new(Length::from_mm(96), Length::from_mm(80));
    for ppi in [76.2, 60.0, 20.0] {
        let picture = super::fixture::of(Arc::new(Squares), size, Fit::Stretch, ppi);
        let ours = bytes(&filled(&picture, Window::whole(picture.size())));
        let theirs = textbook(&Squares, size, Fit::Stretch, ppi, picture.size());
        let worst = ours.iter().zip(&theirs).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(ours.len() == theirs.len() && worst <= 0.51, "{ppi}: {worst}");
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
fn however_thin_a_picture_is_it_leaves_ink() {
    let size = Size::new(Length::from_mm(100), Length::from_mm(100));
    let picture = scaled(Pixels::new(5_000, 1), Format::RGB8, size, Fit::Contain, 100.0);
    let band = filled(&picture, Window::whole(picture.size()));
    assert!(bytes(&band).iter().any(|sample| *sample < 250.0), "a hair's breadth of it");
}

#[test]
fn the_reduced_design_is_the_design_in_small() {
    for fit in [Fit::Contain, Fit::Cover, Fit::Stretch] {
        let size = Size::new(Length::from_mm(100), Length::from_mm(70));
        let picture = scaled(Pixels::new(900, 500), Format::RGB8, size, fit, 254.0);
        let (whole, small) = (picture.size(), Pixels::new(200, 140));
        let (all, got) = (filled(&picture, Window::whole(whole)), picture.reduced(small).unwrap());
        assert_eq!((got.size(), got.format()), (small, picture.format()), "as asked");
        let (stride, all, got) = (all.stride(), bytes(&all), bytes(&got));
        let mut sum = 0.0;
        for (i, sample) in got.iter().enumerate() {
            let (x, y, c) = (i / 3 % 200, i / 600, i % 3);
            sum += (sample - all[(y * 5 + 2) * stride + (x * 5 + 2) * 3 + c]).abs();
        }
        let mean = sum / num::float(i64::try_from(got.len()).unwrap());
        // Half a reduced pixel aside is allowed, which on these waves is up to 8; one pixel aside gives twice that.
        assert!(mean < 10.0, "{fit:?}: {mean}");
    }
}

#[test]
fn a_picture_scaled_twice_may_share_a_thread() {
    let size = Size::new(Length::from_inches(2), Length::from_inches(1));
    let once = scaled(Pixels::new(500, 250), Format::RGB8, size, Fit::Stretch, 100.0);
    let whole = place(sides(once.size()), size, Fit::Stretch);
    let design = Design { picture: whole, ..sample::design(size, 170.0) };
    let twice = crate::scaled::Scaled::new(Arc::new(once), &design, &whole);
    assert_eq!(filled(&twice, Window::whole(twice.size())).size(), Pixels::new(340, 170), "it comes");
}
