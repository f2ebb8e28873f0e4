//! The counts of the table, and that every point is heated.

use seamwright_contract::catalogue::{Moves, Press};
use seamwright_contract::layout::Placement;
use seamwright_contract::settings::Range;
use seamwright_contract::units::Seconds;
use seamwright_contract::{Blame, Length, OnBlank, Point, Rect, Size};

use crate::{Grid, least, middle};

fn length(value: &str, unit: &str) -> Length {
    format!("{value}{unit}").parse().unwrap_or_else(|e| panic!("{value}{unit}: {e}"))
}

#[test]
fn placements_agree_with_the_table() {
    // tests/data/geometry/press_sections.csv: computed; 12 x 10 on 24 x 12.5 in six: common practice, no source.
    for row in include_str!("../../../tests/data/geometry/press_sections.csv").lines().skip(1) {
        let cells: Vec<&str> = row.splitn(12, ',').collect();
        let [case, unit, w, h, platen_w, platen_h, weak, overlap, columns, rows, ..] = cells[..] else {
            panic!("{row}")
        };
        let of = |value| length(value, unit);
        let effective = Size::new(of(platen_w), of(platen_h)).grown(-of(weak));
        let grid = Grid::over(Size::new(of(w), of(h)), effective, of(overlap), false).expect("it covers");
        assert_eq!(
            (grid.columns.to_string(), grid.rows.to_string()),
            (columns.to_owned(), rows.to_owned()),
            "{case}"
        );
    }
}

/// The whole of this press, weak edge and overlap given.
fn press(platen: Size, weak_edge: Length, overlap: Length, turns: bool) -> Press {
    Press { name: "hand".to_owned(), platen, weak_edge, overlap, moves: Moves::Plate, turns }
}

#[test]
fn the_plate_is_turned_only_where_that_saves_placements() {
    let inches = |width: &str, height: &str| Size::new(length(width, "in"), length(height, "in"));
    let half = length("0.5", "in");
    // tests/data/geometry/press_sections.csv: P022 and P023, P025 and P026, P007 and P008.
    for (size, platen, turned, count) in [
        (inches("30", "18"), inches("10", "12"), true, 6),
        (inches("30", "18"), inches("12", "10"), false, 6),
        (inches("30", "18"), inches("20", "16"), true, 2),
        (inches("24", "12.5"), inches("10", "12"), false, 6),
    ] {
        let may = least(size, &press(platen, Length::ZERO, half, true)).expect("it covers");
        assert_eq!((may.turned, may.count()), (turned, count), "{size:?} under {platen:?}");
        let never = least(size, &press(platen, Length::ZERO, half, false)).expect("it covers");
        assert!(!never.turned, "the press cannot be turned");
    }
}

#[test]
fn a_plate_that_cannot_cover_is_refused_and_so_are_thousands_of_placements() {
    let mm = Length::from_mm;
    let (size, platen) = (Size::new(mm(600), mm(400)), Size::new(mm(300), mm(250)));
    for weak in [125, 200] {
        let fault = least(size, &press(platen, mm(weak), mm(10), true)).expect_err("nothing heats well");
        assert_eq!(fault.blame, Blame::Setup, "{fault}");
    }
    let creeping = press(platen, Length::ZERO, mm(250) - Length::from_um(1), false);
    let fault = least(size, &creeping).expect_err("a micrometre a step");
    assert_eq!(fault.blame, Blame::Order, "{fault}");
}

#[test]
fn every_point_lies_in_an_effective_area_and_neighbours_overlap() {
    let mut number = numbers(5);
    for _ in 0..2_000 {
        let mut um = |low, high| Length::from_um(number(low, high));
        let (weak, overlap) = (um(0, 15_001), um(0, 30_001));
        let platen = Size::new(um(100_000, 500_001), um(100_000, 500_001));
        let size = Size::new(um(1_000, 2_000_001), um(1_000, 2_000_001));
        let placed = Point::new(um(-20_000, 50_000), um(-20_000, 50_000));
        let turned = um(0, 1) > Length::ZERO;
        let grid = Grid::over(size, platen.grown(-weak), overlap, turned).expect("it covers");
        let placements = grid.placements(size, platen, placed);
        let whole = if turned { platen.turned() } else { platen };
        assert!(placements.iter().all(|one| one.platen.size() == whole && one.turned == turned));
        assert!((1..).zip(&placements).all(|(number, one)| one.number == number), "numbered in order");
        let columns = usize::try_from(grid.columns).unwrap();
        // What heats well, from the design's corner; the grid is the product of its first row and first column.
        let good = |one: &Placement| {
            let (x, y) = (one.platen.x + weak - placed.x, one.platen.y + weak - placed.y);
            Rect::<OnBlank>::new(x, y, whole.width - weak * 2, whole.height - weak * 2)
        };
        let good: Vec<_> = placements.iter().map(good).collect();
        for (i, one) in good.iter().enumerate() {
            assert_eq!((one.x, one.y), (good[i % columns].x, good[i / columns * columns].y), "row by row");
        }
        let across: Vec<_> = good[..columns].iter().map(|one| (one.x, one.right())).collect();
        let down: Vec<_> = good.iter().step_by(columns).map(|one| (one.y, one.bottom())).collect();
        for (length, strips) in [(size.width, across), (size.height, down)] {
            let (first, last) = (strips[0].0, strips[strips.len() - 1].1);
            assert!(first <= Length::ZERO && last >= length, "{strips:?} over {length}");
            assert!((first + last - length).abs() <= Length::from_um(1), "both ends alike: {strips:?}");
            for pair in strips.windows(2) {
                assert!(pair[0].1 - pair[1].0 >= overlap && pair[0].0 < pair[1].0, "{strips:?}");
            }
        }
    }
}

/// Whole numbers that look random and are the same each time (the multiplier of a well-known linear congruence; from
/// memory).
fn numbers(mut state: u64) -> impl FnMut(i64, i64) -> i64 {
    move |low, high| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + i64::try_from((state >> 33) % u64::try_from(high - low + 1).unwrap()).unwrap()
    }
}

#[test]
fn the_middle_of_a_range_stays_in_it() {
    let range = |low, high| Range { low: Seconds(low), high: Seconds(high) };
    assert_eq!(middle(range(35, 70)), Seconds(50));
    assert_eq!(middle(range(31, 33)), Seconds(32));
    assert_eq!(middle(range(60, 60)), Seconds(60));
    assert_eq!(middle(range(u32::MAX, u32::MAX)), Seconds(u32::MAX));
}
