//! The colour difference CIEDE2000, written from the steps in Sharma, Wu, Dalal 2005, and held to their pairs.

use std::f64::consts::PI;

/// L*, a*, b*.
pub(super) type Lab = [f64; 3];

fn hue(a: f64, b: f64) -> f64 {
    if a == 0.0 && b == 0.0 { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) }
}

/// How different two colours look; 1 is hardly seen.
pub(super) fn difference([l1, a1, b1]: Lab, [l2, a2, b2]: Lab) -> f64 {
    let seventh = |c: f64| (c.powi(7) / (c.powi(7) + 25.0_f64.powi(7))).sqrt();
    let g = 0.5 * (1.0 - seventh((a1.hypot(b1) + a2.hypot(b2)) / 2.0));
    let (a1, a2) = (a1 * (1.0 + g), a2 * (1.0 + g));
    let (c1, c2) = (a1.hypot(b1), a2.hypot(b2));
    let (h1, h2) = (hue(a1, b1), hue(a2, b2));
    let gray = c1 * c2 == 0.0;
    let turn = match h2 - h1 {
        _ if gray => 0.0,
        d if d > 180.0 => d - 360.0,
        d if d < -180.0 => d + 360.0,
        d => d,
    };
    let mean_h = match h1 + h2 {
        sum if gray => sum,
        sum if (h1 - h2).abs() <= 180.0 => sum / 2.0,
        sum if sum < 360.0 => (sum + 360.0) / 2.0,
        sum => (sum - 360.0) / 2.0,
    };
    let (mean_l, mean_c) = ((l1 + l2) / 2.0, (c1 + c2) / 2.0);
    let cos = |degrees: f64| degrees.to_radians().cos();
    let t = 1.0 - 0.17 * cos(mean_h - 30.0) + 0.24 * cos(2.0 * mean_h) + 0.32 * cos(3.0 * mean_h + 6.0)
        - 0.20 * cos(4.0 * mean_h - 63.0);
    let off = (mean_l - 50.0).powi(2);
    let light = (l2 - l1) / (1.0 + 0.015 * off / (20.0 + off).sqrt());
    let chroma = (c2 - c1) / (1.0 + 0.045 * mean_c);
    let turned = 2.0 * (c1 * c2).sqrt() * (turn * PI / 360.0).sin() / (1.0 + 0.015 * mean_c * t);
    let bend = 30.0 * (-((mean_h - 275.0) / 25.0).powi(2)).exp();
    let rotation = -2.0 * seventh(mean_c) * (2.0 * bend).to_radians().sin();
    (light * light + chroma * chroma + turned * turned + rotation * chroma * turned).sqrt()
}

#[test]
fn published_pairs_are_met_both_ways() {
    let pairs = include_str!("../../../../tests/data/colour/ciede2000-pairs.csv");
    let mut seen = 0;
    for line in pairs.lines().skip(1) {
        let n: Vec<f64> = line.split(',').map(|field| field.parse().unwrap()).collect();
        let (one, other) = ([n[1], n[2], n[3]], [n[4], n[5], n[6]]);
        for found in [difference(one, other), difference(other, one)] {
            assert!((found - n[7]).abs() < 0.000_1, "pair {}: {found} for {}", n[0], n[7]);
        }
        seen += 1;
    }
    assert_eq!(seen, 34, "all pairs of the table");
}
