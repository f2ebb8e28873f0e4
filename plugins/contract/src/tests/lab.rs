//! Colours against published pairs and standards, and dye on coloured grounds against worked values.

use crate::Lab;
use crate::lab::{Ground, encoded, linear};

type Matrix = [[f64; 3]; 3];

fn rows(table: &'static str) -> impl Iterator<Item = Vec<&'static str>> {
    table.lines().skip(1).map(|line| line.split(',').collect())
}

fn numbers(cells: &[&str]) -> Vec<f64> {
    cells.iter().map(|cell| cell.parse().unwrap()).collect()
}

fn codes(cells: &[&str]) -> [u8; 3] {
    [0, 1, 2].map(|i| cells[i].parse().unwrap())
}

#[test]
fn differences_are_those_of_the_published_pairs_both_ways() {
    // Sharma, Wu, Dalal 2005, table 1.
    let mut seen = 0;
    for cells in rows(include_str!("../../../../tests/data/colour/ciede2000-pairs.csv")) {
        let n = numbers(&cells);
        let (one, other) = (Lab::new(n[1], n[2], n[3]), Lab::new(n[4], n[5], n[6]));
        for found in [one.difference(other), other.difference(one)] {
            assert!((found - n[7]).abs() < 0.000_1, "pair {}: {found} for {}", n[0], n[7]);
        }
        seen += 1;
    }
    assert_eq!(seen, 34, "all pairs of the table");
}

#[test]
fn the_transfer_curve_is_that_of_srgb() {
    for cells in rows(include_str!("../../../../tests/data/colour/srgb-transfer.csv")) {
        let code: u8 = cells[0].parse().unwrap();
        let light: f64 = cells[2].parse().unwrap();
        assert!((linear(code) - light).abs() < 1e-11, "{code}");
        assert_eq!(encoded(light), code, "and back");
    }
}

#[test]
fn srgb_colours_have_the_lab_values_worked_out_beside_the_project() {
    let mut seen = 0;
    for cells in rows(include_str!("../../../../tests/data/colour/rgb-to-lab-d50.csv")) {
        if cells[0] == "sRGB" {
            let (rgb, n) = (codes(&cells[1..]), numbers(&cells[4..]));
            let found = Lab::of_srgb(rgb);
            assert!(found.difference(Lab::new(n[0], n[1], n[2])) < 0.001, "{rgb:?}: {found:?}");
            assert_eq!(found.to_srgb(), rgb, "and back");
            seen += 1;
        }
    }
    assert_eq!(seen, 12);
}

/// Linear RGB to XYZ under the white of ICC.1, from chromaticities: the textbook way, then Bradford.
fn from_primaries(corners: [[f64; 2]; 3]) -> Matrix {
    let xyz = |[x, y]: [f64; 2]| [x / y, 1.0, (1.0 - x - y) / y];
    // D65 as IEC 61966-2-1 and BT.2020 have it; the matrix of Lam 1985.
    let (d65, d50) = (xyz([0.3127, 0.3290]), [0.9642, 1.0, 0.8249]);
    let bradford = [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]];
    let by = |m: &Matrix, v: [f64; 3]| m.map(|row| row.iter().zip(v).map(|(a, b)| a * b).sum::<f64>());
    let ends = corners.map(xyz);
    let primaries: Matrix = std::array::from_fn(|row| [ends[0][row], ends[1][row], ends[2][row]]);
    let shares = by(&inverse(&primaries), d65);
    let (from, to) = (by(&bradford, d65), by(&bradford, d50));
    let columns = [0, 1, 2].map(|i| {
        let cone = by(&bradford, ends[i].map(|part| part * shares[i]));
        by(&inverse(&bradford), std::array::from_fn(|at| cone[at] * to[at] / from[at]))
    });
    std::array::from_fn(|row| [columns[0][row], columns[1][row], columns[2][row]])
}

fn inverse(m: &Matrix) -> Matrix {
    let minor = |r: usize, c: usize| {
        let (r1, r2, c1, c2) = ((r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3);
        m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]
    };
    let whole = (0..3).map(|c| m[0][c] * minor(0, c)).sum::<f64>();
    std::array::from_fn(|r| std::array::from_fn(|c| minor(c, r) / whole))
}

#[test]
fn the_matrices_follow_from_published_primaries_and_bradford() {
    let srgb = from_primaries([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]]);
    let bt2020 = from_primaries([[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]]);
    for (ours, worked) in [
        (crate::lab::FROM_SRGB, srgb),
        (crate::lab::TO_SRGB, inverse(&srgb)),
        (crate::lab::FROM_BT2020, bt2020),
        (crate::lab::TO_BT2020, inverse(&bt2020)),
    ] {
        for (one, other) in ours.iter().flatten().zip(worked.iter().flatten()) {
            assert!((one - other).abs() < 2e-7, "{one} for {other}");
        }
    }
}

#[test]
fn dye_on_a_coloured_ground_is_as_worked_out() {
    let mut seen = 0;
    for cells in rows(include_str!("../../../../tests/data/colour/substrate-multiply.csv")) {
        let n = numbers(&cells);
        let (ground, rgb) = (Lab::new(n[0], n[1], n[2]), codes(&cells[3..]));
        let wanted = Lab::new(n[6], n[7], n[8]);
        let found = Lab::of_srgb(rgb).on(ground);
        assert!(found.difference(wanted) < 0.01, "{rgb:?} on {ground:?}: {found:?} for {wanted:?}");
        // By tables, as sRGB: half a code of rounding is what may differ, where sRGB can show it at all.
        let shown = Ground::new(ground).printed(rgb);
        for (shown, exact) in shown.into_iter().zip(wanted.to_srgb()) {
            assert!(shown.abs_diff(exact) <= 1, "{rgb:?} on {ground:?}: {shown} for {exact}");
        }
        seen += 1;
    }
    assert!(seen >= 20, "{seen} rows");
}

#[test]
fn bare_ground_shows_itself_and_black_stays_black() {
    for l in [20.0, 45.0, 70.0, 92.0, 100.0] {
        for (a, b) in [(0.0, 0.0), (4.0, -6.0), (-3.0, 8.0)] {
            let colour = Lab::new(l, a, b);
            let white = Ground::new(colour).printed([255; 3]);
            let inside = colour.difference(Lab::of_srgb(colour.to_srgb())) < 0.5;
            assert!(!inside || Lab::of_srgb(white).difference(colour) < 0.5, "{colour:?}: {white:?}");
            assert_eq!(Ground::new(colour).printed([0; 3]), [0; 3], "{colour:?}");
        }
    }
}
