//! The counts of the table, and that every point is heated.

use seamwright_contract::settings::Range;
use seamwright_contract::units::Seconds;
use seamwright_contract::{Length, Point, Size};

use crate::{Grid, middle};

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

#[test]
fn every_point_lies_in_an_effective_area_and_neighbours_overlap() {
    let mm = Length::from_mm;
    for (w, h) in [(610, 318), (305, 254), (100, 100), (1524, 2032), (611, 1)] {
        for turned in [false, true] {
            let (size, platen, weak, overlap) =
                (Size::new(mm(w), mm(h)), Size::new(mm(305), mm(254)), mm(6), mm(13));
            let grid = Grid::over(size, platen.grown(-weak), overlap, turned).expect("it covers");
            let placements = grid.placements(size, platen, Point::new(mm(20), mm(30)));
            assert_eq!(u64::try_from(placements.len()).unwrap(), grid.count());
            let good: Vec<_> = placements
                .iter()
                .map(|p| {
                    (
                        p.platen.x + weak - mm(20),
                        p.platen.right() - weak - mm(20),
                        p.platen.y + weak - mm(30),
                        p.platen.bottom() - weak - mm(30),
                    )
                })
                .collect();
            let across: Vec<_> = good.iter().take(usize::try_from(grid.columns).unwrap()).collect();
            assert!(
                across[0].0 <= Length::ZERO && across[across.len() - 1].1 >= size.width,
                "{w} x {h} is covered across"
            );
            assert!(across.windows(2).all(|pair| pair[0].1 - pair[1].0 >= overlap), "{w} x {h} overlaps");
            assert!(
                good[0].2 <= Length::ZERO && good[good.len() - 1].3 >= size.height,
                "{w} x {h} is covered down"
            );
        }
    }
}

#[test]
fn the_middle_of_a_range_stays_in_it() {
    let range = |low, high| Range { low: Seconds(low), high: Seconds(high) };
    assert_eq!(middle(range(35, 70)), Seconds(50));
    assert_eq!(middle(range(31, 33)), Seconds(32));
    assert_eq!(middle(range(60, 60)), Seconds(60));
}
