//! Factors against the table, and what is drawn by them.

use crate::scale::{Shrink, comes_out, drawn, factor};
use crate::{Length, Rect, Size, num};

/// `tests/data/geometry/scale_compensation.csv`: what was measured on printers and fabrics, with the factor each needs.
const CASES: &str = include_str!("../../../../tests/data/geometry/scale_compensation.csv");

#[test]
fn factors_are_those_of_the_table() {
    let mut seen = 0;
    for line in CASES.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let length = |text: &str| format!("{text} mm").parse::<Length>().expect("a length");
        let found = factor(length(cells[1]), length(cells[2])).expect("a factor");
        let stated: f64 = cells[3].parse().expect("a number");
        assert!((found - stated).abs() < 5.1e-7, "{line}: {found}");
        let error: f64 = cells[4].parse().expect("a number");
        assert!(((1.0 / found - 1.0) * 100.0 - error).abs() < 5.1e-3, "{line}");
        seen += 1;
    }
    assert_eq!(seen, 7);
    assert_eq!(
        (factor(Length::ZERO, Length::from_mm(1)), factor(Length::from_mm(1), Length::ZERO)),
        (None, None)
    );
}

#[test]
fn what_is_drawn_comes_out_at_true_size() {
    let page = Size::new(Length::from_um(215_900), Length::from_um(279_400));
    let scale = [1.0, 250.0 / 248.9];
    let [left, top, width, height] = drawn([10_000.0, 20_000.0, 150_000.0, 240_000.0], page, scale);
    let printed = |length: f64| length * 248.9 / 250.0;
    assert!((printed(height) - 240_000.0).abs() < 1e-6, "{height}");
    assert!((width, left) == (150_000.0, 10_000.0), "across nothing changes");
    assert!((printed(top - 139_700.0) - (20_000.0 - 139_700.0)).abs() < 1e-6, "from the middle of the page");
    let plain = [1.0, 2.0, 3.0, 4.0];
    assert_eq!(drawn(plain, page, [1.0, 1.0]).map(f64::to_bits), plain.map(f64::to_bits));
}

#[test]
fn what_can_be_drawn_on_is_never_left() {
    let page = Size::new(Length::from_um(215_900), Length::from_um(279_400));
    let live = Rect::from_edges(
        Length::from_um(6_350),
        Length::from_um(5_000),
        Length::from_um(209_550),
        Length::from_um(270_001),
    );
    for scale in [[1.0, 1.0], [1.0044, 0.9976], [0.998, 1.02], [1.0041, 1.0044]] {
        let out = comes_out(&live, page, scale);
        let [left, top, width, height] =
            drawn([out.x, out.y, out.width, out.height].map(|side| num::float(side.um())), page, scale);
        assert!(left >= 6_350.0 - 1e-6 && top >= 5_000.0 - 1e-6, "{scale:?}: {left} {top}");
        assert!(left + width <= 209_550.0 + 1e-6 && top + height <= 270_001.0 + 1e-6, "{scale:?}");
        assert!(left < 6_352.0 && top + height > 269_999.0, "{scale:?}: hardly anything is given away");
    }
    assert_eq!(comes_out(&live, page, [1.0, 1.0]), live, "to the micrometre");
}

/// What a 600 mm line became across and down, from cloth that shrinks much to goods that grow a little.
const PRESSED: [[i64; 2]; 5] =
    [[588_000, 594_000], [600_000, 600_000], [523_456, 599_999], [612_000, 604_321], [600_001, 590_000]];

#[test]
fn what_shrinks_is_printed_larger_by_before_and_after() {
    for line in CASES.lines().filter(|line| line.starts_with("fabric")) {
        let cells: Vec<&str> = line.split(',').collect();
        let length = |text: &str| format!("{text} mm").parse::<Length>().expect("a length");
        let shrink =
            Shrink { marked: length(cells[1]), pressed: Size::new(length(cells[2]), length(cells[1])) };
        let stated: f64 = cells[3].parse().expect("a number");
        let [across, down] = shrink.factors();
        assert!((across - stated).abs() < 5.1e-7 && down.to_bits() == 1.0_f64.to_bits(), "{line}: {across}");
        let asked = Size::new(Length::from_mm(1000), Length::from_mm(1000));
        let printed = shrink.before(asked);
        assert!((num::float(printed.width.um()) / 1e6 - stated).abs() < 1.1e-6, "{line}: {printed:?}");
        assert_eq!(printed.height, asked.height);
    }
}

#[test]
fn what_lies_before_pressing_is_found_again_from_what_it_becomes() {
    for [width, height] in PRESSED.map(|sides| sides.map(Length::from_um)) {
        let shrink = Shrink { marked: Length::from_mm(600), pressed: Size::new(width, height) };
        for um in (0..2000).chain((7..3_000_000).step_by(997)) {
            let asked = Size::new(Length::from_um(um), Length::from_um(3_000_000 - um));
            let printed = shrink.before(asked);
            assert_eq!(shrink.before(shrink.after(printed)), printed, "{asked:?} on {shrink:?}");
            let off = shrink.after(printed);
            assert!((off.width - asked.width).abs().um() <= 1 && (off.height - asked.height).abs().um() <= 1);
        }
    }
}

#[test]
fn a_square_picture_is_square_after_pressing() {
    for [width, height] in PRESSED.map(|sides| sides.map(Length::from_um)) {
        let shrink = Shrink { marked: Length::from_mm(600), pressed: Size::new(width, height) };
        let [wide, high] = shrink.proportions([3000, 3000]).map(num::float);
        let [across, down] = shrink.factors();
        assert!((wide / across / (high / down) - 1.0).abs() < 1e-12, "{shrink:?}");
    }
}
