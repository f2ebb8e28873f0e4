//! Lengths, temperatures and times as people write them.

use crate::units::{Bytes, Length, Ppi, Seconds, Temperature, Units};

fn um(text: &str) -> i64 {
    text.parse::<Length>().unwrap_or_else(|e| panic!("{text}: {e}")).um()
}

#[test]
fn lengths_are_read_as_people_write_them() {
    for (text, expected) in [
        ("24in", 609_600),
        ("12.5 in", 317_500),
        ("12 1/2 in", 317_500),
        ("1/4 in", 6_350),
        ("1/16in", 1_588),
        ("61cm", 610_000),
        ("610 mm", 610_000),
        ("0.5 mm", 500),
        ("2 m", 2_000_000),
        ("3 ft", 914_400),
        ("6\"", 152_400),
        (".5in", 12_700),
        ("-3mm", -3_000),
        (" 8.27 in ", 210_058),
    ] {
        assert_eq!(um(text), expected, "{text}");
    }
}

#[test]
fn exact_units_agree_with_the_published_ones() {
    // International yard and pound agreement of 1959: 1 in = 25.4 mm, 1 ft = 304.8 mm, exactly.
    assert_eq!(um("1in"), 25_400);
    assert_eq!(um("1ft"), 304_800);
    // ISO 32000-1, default user space: 1/72 in; Letter is 612 x 792 points.
    assert!((Length::from_um(um("8.5in")).points() - 612.0).abs() < 1e-9);
    assert!((Length::from_um(um("11in")).points() - 792.0).abs() < 1e-9);
}

#[test]
fn what_is_not_a_length_is_refused_with_the_cure() {
    for (text, says) in [
        ("24", "write for example `24in`"),
        ("12 1/2", "has no unit"),
        ("24 inchs", "not a unit of length"),
        ("1/0 in", "not a length"),
        ("1e3 mm", "not a unit"),
        ("in", "not a length"),
        ("", "no unit"),
        ("1 2 in", "not a length"),
        ("1/2 1/2 in", "not a length"),
        ("9999999999 m", "longer than 100 m"),
        ("0.00000000001 mm", "not a length"),
        ("- mm", "not a length"),
    ] {
        let why = text.parse::<Length>().expect_err(text).to_string();
        assert!(why.contains(says), "{text}: {why}");
    }
}

#[test]
fn halves_and_shares_round_as_said() {
    assert_eq!(Length::from_um(5).half().um(), 2);
    assert_eq!(Length::from_um(-5).half().um(), -3);
    assert_eq!((Length::from_um(7) / 2).um(), 3);
    assert_eq!(Length::from_um(1001).share(0.5).um(), 501);
}

#[test]
fn temperatures_follow_the_table() {
    // tests/data/units/temperature.csv: C = (F - 32) x 5 / 9, computed.
    let table = include_str!("../../../../tests/data/units/temperature.csv");
    let mut rows = 0;
    for row in table.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let [from, value, exact, ..] = cells[..] else { continue };
        let Ok(read) = format!("{value}{from}").parse::<Temperature>() else { continue };
        let shown = if from == "F" { read.celsius() } else { read.fahrenheit() };
        let exact: f64 = exact.parse().unwrap();
        assert!((shown - exact).abs() <= 0.1, "{value} {from} is {shown}, not {exact}");
        rows += 1;
    }
    assert!(rows >= 5, "only {rows} rows were read");
    assert!("390".parse::<Temperature>().is_err(), "a bare number says no degrees");
    assert!("900F".parse::<Temperature>().is_err(), "no press does that");
}

#[test]
fn times_are_read_in_seconds() {
    for (text, expected) in [("70s", 70), ("1m10s", 70), ("10m", 600), ("2h", 7200), ("1m 10s", 70)] {
        assert_eq!(text.parse::<Seconds>().map(|s| s.0), Ok(expected), "{text}");
    }
    for text in ["70", "", "1x", "s", "99999999999s", "4000000000m"] {
        assert!(text.parse::<Seconds>().is_err(), "{text}");
    }
}

#[test]
fn resolutions_are_above_zero() {
    assert!(Ppi::new(0.0).is_none() && Ppi::new(f64::NAN).is_none() && Ppi::new(-1.0).is_none());
    let ppi = Ppi::of(7200, Length::from_inches(24)).map(Ppi::get);
    assert_eq!(ppi, Some(300.0));
}

#[test]
fn people_read_their_own_units() {
    let length = Length::from_um(317_500);
    assert_eq!(Units::Inch.show(length), "12.50 in");
    assert_eq!(Units::Metric.show(length), "317.5 mm");
}

#[test]
fn bytes_that_are_shown_read_back() {
    for bytes in [1_u64 << 30, 512 << 20, 3 << 10, 2_000_000_000, 5_000_000, 7_000, 1 << 40] {
        let shown = Bytes(bytes).to_string();
        assert_eq!(shown.parse::<Bytes>(), Ok(Bytes(bytes)), "{shown}");
    }
    assert_eq!("1.5 GiB".parse::<Bytes>(), Ok(Bytes(1_610_612_736)));
}

#[test]
fn amounts_of_memory_that_are_none() {
    for text in ["", "1", "GiB", "-1GiB", "1e30GiB", "infGiB", "nanMB", "1 lot", "1 GiB or so", "9999999TiB"]
    {
        assert!(text.parse::<Bytes>().is_err(), "{text}");
    }
}
