//! The tables in `tests/data/geometry/press_*.csv`, all computed beside the project; 24 x 12.5 in under 12 x 10 in,
//! overlapping, in six placements: common practice, no source.

use seamwright_contract::catalogue::{Moves, Shape};
use seamwright_contract::{Face, Length, Rect, Size};

use super::fixture::{Art, Pressed as _, heated, inches, length, planned, press, rows};

#[test]
fn placements_agree_with_the_table() {
    for row in rows(include_str!("../../../../tests/data/geometry/press_sections.csv")) {
        let [case, unit, w, h, platen_w, platen_h, weak, overlap, _, _, count, ..] = &row[..] else {
            panic!("{row:?}")
        };
        let of = |value: &str| length(&format!("{value}{unit}"));
        let art = Art::full(Size::new(of(w), of(h)));
        let choice = art.choice(press(Size::new(of(platen_w), of(platen_h)), of(weak), of(overlap)), &[]);
        let plan = choice.unwrap_or_else(|why| panic!("{case}: {why}")).plan;
        assert_eq!(plan.count().to_string(), *count, "{case}");
        assert!(
            plan.rows.windows(2).all(|pair| pair[0].plates.len() == pair[1].plates.len()),
            "{case}: a grid"
        );
    }
}

#[test]
fn the_plate_is_turned_only_where_that_saves_placements() {
    let half = length("0.5in");
    // P022 and P023, P025 and P026, P007 and P008.
    for (size, platen, turned, count) in [
        (inches("30", "18"), inches("10", "12"), true, 6),
        (inches("30", "18"), inches("12", "10"), false, 6),
        (inches("30", "18"), inches("20", "16"), true, 2),
        (inches("24", "12.5"), inches("10", "12"), false, 6),
    ] {
        for moves in [Moves::Plate, Moves::Work] {
            let mut press = press(platen, Length::ZERO, half);
            (press.turns, press.moves) = (true, moves);
            let may = Art::full(size).choice(press.clone(), &[]).expect("it covers");
            assert_eq!((may.way.turned, may.plan.count()), (turned, count), "{size:?} under {platen:?}");
            press.turns = false;
            let never = Art::full(size).choice(press, &[]).expect("it covers");
            assert!(!never.way.turned, "the press cannot be turned");
        }
    }
}

#[test]
fn outlines_take_no_more_than_the_better_grid() {
    let table = rows(include_str!("../../../../tests/data/geometry/press_shape_skip.csv"));
    let mut better = 0;
    for pair in table.chunks(2) {
        let [shape, w, h, overlap, .., needed] = &pair[0][..] else { panic!("{pair:?}") };
        let (word, size) = shape.split_once(' ').expect("a word and a size");
        let (width, height) = size.split_once('x').unwrap_or((size, size));
        let shape = match word {
            "circle" => Shape::Round,
            "ellipse" => Shape::Oval,
            "half-moon" => Shape::HalfMoon,
            other => panic!("{other}"),
        };
        let art = Art::shaped(inches(width, height), shape);
        let overlap = length(&format!("{overlap}in"));
        let plan = art.choice(press(inches(w, h), Length::ZERO, overlap), &[]).expect("it covers").plan;
        let least: usize = [needed, &pair[1][7]].iter().map(|count| count.parse().unwrap()).min().unwrap();
        assert!(plan.count() <= least, "{pair:?}: {} placements", plan.count());
        better += least - plan.count();
    }
    assert!(better >= 8, "bands of their own save placements: {better}");
}

/// How much of a rectangle is heated once, twice and so on, by coordinates alone.
fn dwells(size: Size, heated: &[Rect<Face>]) -> Vec<f64> {
    let mut x: Vec<Length> = heated.iter().flat_map(|one| [one.x, one.right()]).collect();
    let mut y: Vec<Length> = heated.iter().flat_map(|one| [one.y, one.bottom()]).collect();
    for (places, most) in [(&mut x, size.width), (&mut y, size.height)] {
        places.extend([Length::ZERO, most]);
        places.retain(|at| (Length::ZERO..=most).contains(at));
        places.sort_unstable();
        places.dedup();
    }
    let mut areas = vec![0.0; heated.len() + 1];
    for across in x.windows(2) {
        for down in y.windows(2) {
            let cell = Rect::from_edges(across[0], down[0], across[1], down[1]);
            let count = heated.iter().filter(|one| one.contains(&cell)).count();
            areas[count] += cell.width.mm() * cell.height.mm();
        }
    }
    let all = size.width.mm() * size.height.mm();
    areas.iter().map(|area| area / all).collect()
}

#[test]
fn repeated_heat_is_that_of_the_overhanging_rows_of_the_table() {
    let table = rows(include_str!("../../../../tests/data/geometry/press_dwell_share.csv"));
    let size = inches("24", "12.5");
    let half = length("0.5in");
    let order = Art::full(size).order(press(inches("12", "10"), Length::ZERO, half));
    let (plan, _) = planned(order).expect("it covers");
    assert_eq!(plan.placements.len(), 6, "common practice, no source");
    let on_face: Vec<Rect<Face>> =
        heated(&plan).iter().map(|one| Rect::new(one.x, one.y, one.width, one.height)).collect();
    let shares = dwells(size, &on_face);
    let mean: f64 = (0_u32..).zip(&shares).map(|(count, share)| f64::from(count) * share).sum();
    let bar = &table[2];
    assert!(bar[1].contains("shared by both ends"), "{bar:?}");
    let percent = |column: usize| bar[column].parse::<f64>().unwrap() / 100.0;
    assert!(shares[0] < 1e-12, "all is heated");
    assert!(mean <= bar[7].parse::<f64>().unwrap() + 5e-5, "mean dwells {mean}");
    assert!(shares[1] >= percent(4) - 5e-5 && shares[4] <= percent(6) + 5e-6, "{shares:?}");
    let twice: f64 = shares[2..].iter().sum();
    assert!((plan.heated_twice - twice).abs() < 1e-9, "{} said, {twice} found", plan.heated_twice);
    // The surplus hangs over both ends alike where nothing speaks for one: 5.5 in across, 3.5 in down.
    let first = heated(&plan)[0];
    assert_eq!((first.x, first.y), (length("-5.5in"), length("-3.5in")));
}
