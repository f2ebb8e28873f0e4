//! Sums and columns against counting by hand.

use crate::Length;
use crate::cells::{InkedColumns, Sums, touched};

#[test]
fn sums_are_those_of_adding_up() {
    let value = |x: usize, y: usize| u64::try_from(x * 7 + y * y * 3 + (x ^ y)).unwrap();
    let (columns, rows) = (9, 6);
    let sums = Sums::of(columns, rows, value);
    for (left, right) in (0..=columns).flat_map(|left| (left..=columns).map(move |right| (left, right))) {
        for (top, bottom) in (0..=rows).flat_map(|top| (top..=rows).map(move |bottom| (top, bottom))) {
            let wanted: u64 = (top..bottom).flat_map(|y| (left..right).map(move |x| value(x, y))).sum();
            assert_eq!(sums.over(&(left..right), &(top..bottom)), wanted);
        }
    }
    assert_eq!(sums.whole(), sums.over(&(0..columns), &(0..rows)));
}

#[test]
fn stretches_are_the_columns_with_ink_in_any_row() {
    let mm = Length::from_mm;
    // Over the border of 64 bits, up to the last column, and a row that adds columns between.
    let row = |inked: &dyn Fn(usize) -> bool, ends| InkedColumns::of((0..130).map(inked), ends);
    let mut all = row(&|at| (60..70).contains(&at), (mm(60), mm(70)));
    assert_eq!((all.stretches().next(), all.stretches().count()), (Some(60..70), 1));
    all.add(&row(&|at| at < 3 || at == 129, (mm(0), mm(130))));
    assert_eq!(all.stretches().collect::<Vec<_>>(), [0..3, 60..70, 129..130]);
    assert_eq!(all.ends(), Some((mm(0), mm(130))));
    let mut none = InkedColumns::default();
    assert_eq!((none.stretches().count(), none.ends()), (0, None));
    none.add(&all);
    assert_eq!(none.stretches().count(), 3);
}

#[test]
fn a_stretch_touches_the_cells_it_reaches_into() {
    let borders: Vec<Length> = (0..=4).map(|at| Length::from_mm(at * 10)).collect();
    let of = |from: i64, to: i64| touched(&borders, Length::from_mm(from), Length::from_mm(to));
    assert_eq!(of(10, 20), 1..2, "border to border");
    assert_eq!(of(9, 21), 0..3);
    assert_eq!(of(-5, 100), 0..4, "kept on the grid");
    assert_eq!(of(15, 15), 1..2, "a line");
}
