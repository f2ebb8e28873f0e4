//! The design-wide pixel grid: windows are whole pixels rounded outward.

use crate::geometry::{Rect, Size};
use crate::layout::Design;
use crate::picture::{Band, Channels, Depth, Format, Pixels, Samples, Window};
use crate::sample;
use crate::units::{Length, Ppi};

fn design(width: i64, height: i64, ppi: f64) -> Design {
    let size = Size::new(Length::from_um(width), Length::from_um(height));
    sample::design(size, ppi)
}

#[test]
fn whole_inches_are_whole_pixels() {
    assert_eq!(design(609_600, 317_500, 300.0).grid(), Pixels::new(7200, 3750));
    assert_eq!(design(609_601, 317_500, 300.0).grid(), Pixels::new(7201, 3750));
}

#[test]
fn a_fractional_resolution_does_not_add_a_pixel() {
    // 3600 px over 34.56 in (tests/data/geometry/fit_ppi.csv, cover) is 104.1667 ppi.
    let width = Length::from_um(877_824);
    let ppi = Ppi::of(3600, width).unwrap();
    assert_eq!(design(width.um(), width.um(), ppi.get()).grid().width, 3600);
}

#[test]
fn windows_cover_their_rectangle_and_stay_in_the_grid() {
    let design = design(609_600, 317_500, 300.0);
    let um = Length::from_um;
    for (x, width) in [(0, 609_600), (101_600, 206_586), (1, 1), (609_599, 1), (84, 85)] {
        let window = design.window(&Rect::new(um(x), um(0), um(width), um(317_500)));
        let pitch = design.sheet_ppi.pitch_um();
        let (left, right) = (f64::from(window.x) * pitch, f64::from(window.x + window.width) * pitch);
        assert!(
            left <= crate::num::float(x) + 0.01 && right >= crate::num::float(x + width) - 0.01,
            "{x} {width}: {window:?}"
        );
        assert!(
            left > crate::num::float(x) - pitch && right < crate::num::float(x + width) + pitch,
            "{x} {width}: {window:?}"
        );
        assert!(window.within(design.grid()), "{window:?}");
    }
}

#[test]
fn a_bare_band_leaves_the_blank_bare() {
    let mut band = Band::bare(Pixels::new(3, 2), Format::RGB8);
    assert_eq!(band.samples, Samples::Eight(vec![255; 18]));
    band.reset(Pixels::new(1, 1), Format { channels: Channels::Cmyk, depth: Depth::Sixteen });
    assert_eq!(band.samples, Samples::Sixteen(vec![0; 4]));
    assert_eq!(band.stride(), 4);
    band.samples = Samples::Sixteen(vec![7; 4]);
    band.reset(Pixels::new(2, 1), band.format());
    assert_eq!(band.samples, Samples::Sixteen(vec![0; 8]), "whatever was in it");
}

#[test]
fn a_reshaped_band_has_the_size_and_form_asked_for() {
    let mut band = Band::empty();
    for (width, height, channels, depth) in [
        (5, 4, Channels::Rgb, Depth::Eight),
        (2, 2, Channels::Gray, Depth::Eight),
        (3, 1, Channels::Cmyk, Depth::Sixteen),
        (4, 4, Channels::Cmyk, Depth::Sixteen),
        (1, 1, Channels::Rgb, Depth::Eight),
    ] {
        let (size, format) = (Pixels::new(width, height), Format { channels, depth });
        band.reshape(size, format);
        assert_eq!((band.size(), band.format()), (size, format));
        assert_eq!(band.samples.len(), (width * height) as usize * channels.count());
        assert_eq!(matches!(band.samples, Samples::Sixteen(_)), depth == Depth::Sixteen);
    }
}

#[test]
fn windows_know_their_bounds() {
    let size = Pixels::new(10, 10);
    assert!(Window::whole(size).within(size) && !Window::new(1, 0, 10, 1).within(size));
    assert!(!Window::new(u32::MAX, 0, u32::MAX, 1).within(size), "no overflow");
}
