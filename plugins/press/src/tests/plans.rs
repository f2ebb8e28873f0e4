//! Whole plans as the stage gives them: order, clock, overlaps, edges, fixed presses, settings, and how long planning takes.

use std::time::Instant;

use seamwright_contract::catalogue::{Measured, Moves, Press, Shape};
use seamwright_contract::layout::{Edge, PressPlan, Seam, SeamClass};
use seamwright_contract::settings::Range;
use seamwright_contract::units::Seconds;
use seamwright_contract::{Blame, Length, Point, Rect, Size};

use super::fixture::{Art, Pressed as _, heated, inches, length, numbers, planned, press};
use crate::choice::Choice;
use crate::middle;

fn hand() -> Press {
    press(inches("12", "10"), Length::ZERO, length("0.5in"))
}

/// A fixed press of 20 x 16 in.
fn fixed(throat: &str) -> Press {
    let mut press = press(inches("20", "16"), length("0.25in"), length("0.5in"));
    (press.moves, press.throat) = (Moves::Work, Some(length(throat)));
    press
}

fn full(width: &str, height: &str, press: Press) -> PressPlan {
    planned(Art::full(inches(width, height)).order(press)).unwrap_or_else(|why| panic!("{why}")).0
}

#[test]
fn each_placement_is_a_neighbour_of_the_one_before_and_moves_little() {
    let mut number = numbers(3);
    for _ in 0..60 {
        let side = |number: i64| format!("{}", number);
        let (w, h) = (number(10, 80), number(8, 60));
        let plan = full(&side(w), &side(h), hand());
        let plates: Vec<_> = plan.placements.iter().map(|one| one.platen).collect();
        let (mut way, mut by_rows) = (0, 0);
        for pair in plates.windows(2) {
            assert!(pair[0].intersection(&pair[1]).is_some(), "{w} x {h}: {pair:?} are no neighbours");
            way += (pair[0].x - pair[1].x).um().abs() + (pair[0].y - pair[1].y).um().abs();
        }
        let mut sorted = plates.clone();
        sorted.sort_by_key(|plate| (plate.y, plate.x));
        for pair in sorted.windows(2) {
            by_rows += (pair[0].x - pair[1].x).um().abs() + (pair[0].y - pair[1].y).um().abs();
        }
        assert!(way <= by_rows, "{w} x {h}: {way} um, always from the left {by_rows}");
        assert!((1..).zip(&plan.placements).all(|(number, one)| one.number == number), "numbered in order");
    }
}

#[test]
fn the_clock_runs_from_the_closing_of_the_preheat() {
    // 10 s of preheat, six times 30 s to move and 50 s of dwell, 3 min to cool; about nine minutes at 60 s without the
    // cooling: common practice, no source.
    let plan = full("24", "12.5", hand());
    let starts: Vec<u32> = plan.placements.iter().map(|one| one.start.0).collect();
    assert_eq!(starts, [40, 120, 200, 280, 360, 440]);
    assert_eq!((plan.dwell, plan.cool, plan.total), (Seconds(50), Seconds(180), Seconds(440 + 50 + 180)));
    assert!((plan.heat.celsius() - 195.0).abs() < 1e-9 && plan.peel_hot, "as the substrate says");
}

#[test]
fn overlaps_and_new_ink_add_up() {
    let plan = full("36", "24", hand());
    let rects = heated(&plan);
    for (at, one) in plan.placements.iter().enumerate() {
        let found: Vec<u32> = (1..)
            .zip(&rects[..at])
            .filter(|(_, other)| other.intersection(&rects[at]).is_some())
            .map(|(n, _)| n)
            .collect();
        assert_eq!(one.overlaps, found, "placement {}", one.number);
    }
    let new: f64 = plan.placements.iter().map(|one| one.new_mm2).sum();
    let all = inches("36", "24");
    assert!((new - all.width.mm() * all.height.mm()).abs() < 1e-6, "all ink is new once: {new}");
    assert!(plan.heated_twice > 0.0 && plan.heated_twice < 0.12, "{}", plan.heated_twice);
}

fn seam(from: (i64, i64), to: (i64, i64)) -> Seam {
    let point = |(x, y)| Point::new(Length::from_mm(x), Length::from_mm(y));
    Seam { between: [1, 2], upper: 1, line: [point(from), point(to)], score: 0.5, class: SeamClass::Busy }
}

/// The nearest that a platen edge comes to a line beside it, across and down.
fn nearest(choice: &Choice, upright: &[i64], level: &[i64]) -> (Length, Length) {
    let far = Length::from_mm(1_000_000);
    let (mut across, mut down) = (far, far);
    for row in &choice.plan.rows {
        for at in &row.plates {
            let platen = choice.plate.platen(*at, row.top);
            let near = |edges: [Length; 2], lines: &[i64]| {
                edges
                    .iter()
                    .flat_map(|e| lines.iter().map(|l| (*e - Length::from_mm(*l)).abs()))
                    .min()
                    .unwrap_or(far)
            };
            across = across.min(near([platen.x, platen.right()], upright));
            down = down.min(near([platen.y, platen.bottom()], level));
        }
    }
    (across, down)
}

#[test]
fn platen_edges_keep_off_seams_where_the_surplus_allows_it() {
    // 24 x 12.5 in: without seams the inner edges lie 152.4 and 165.1, 444.5 and 457.2 mm across, 152.4 and 165.1 down.
    let art = Art::full(inches("24", "12.5"));
    let bare = art.choice(hand(), &[]).expect("it covers");
    let (upright, level) = ([153, 446], [152]);
    let (near, below) = nearest(&bare, &upright, &level);
    assert!(near < Length::from_mm(5) && below < Length::from_mm(5), "the seams are where edges were");
    let seams: Vec<Seam> = upright
        .iter()
        .map(|x| seam((*x, 0), (*x, 317)))
        .chain(level.iter().map(|y| seam((0, *y), (609, *y))))
        .collect();
    let clear = art.choice(hand(), &seams).expect("it covers");
    let (across, down) = nearest(&clear, &upright, &level);
    assert!(across >= Length::from_mm(4) && down >= Length::from_mm(4), "{across} and {down} from the seams");
    assert_eq!(clear.plan.cost.heat, bare.plan.cost.heat, "for no more heat");
    // Two rows of three plates: a seam that runs up only half the height is no matter for the other row.
    assert_eq!(clear.plan.count(), bare.plan.count());
}

#[test]
fn platen_edges_keep_to_busy_artwork_where_the_surplus_allows_it() {
    // Even colour but for stripes of fine detail, 30 mm wide, 190 mm from the left end and 150 mm from the top.
    let busy = |at: f64, from: f64| (from..from + 30.0).contains(&at);
    let dark = |x: f64, y: f64| {
        let even = !busy(x, 190.0) && !busy(y, 150.0);
        if even || seamwright_contract::num::round(x / 2.0 + y / 2.0) % 2 == 0 { 120 } else { 250 }
    };
    let size = Size::new(Length::from_mm(500), Length::from_mm(380));
    let art = Art { size, shape: Shape::Rectangle, cell: 2.0, dark: &dark };
    let press =
        press(Size::new(Length::from_mm(300), Length::from_mm(250)), Length::ZERO, Length::from_mm(12));
    let choice = art.choice(press, &[]).expect("it covers");
    let rows = &choice.plan.rows;
    let inside = |edge: Length, from: i64| (from..=from + 30).contains(&(edge.um() / 1_000));
    assert_eq!(rows.len(), 2);
    assert!(inside(rows[1].top, 150) && inside(rows[0].top + Length::from_mm(250), 150), "{rows:?}");
    for row in rows {
        assert!(inside(row.plates[1], 190) && inside(row.plates[0] + Length::from_mm(300), 190), "{row:?}");
    }
}

#[test]
fn work_under_a_fixed_plate_is_shifted_and_turned_half_round_once() {
    // 15.5 in of the plate's 16 in heat; two rows on 28 in, the second 15 in further: it goes in too far from the top.
    let plan = full("30", "28", fixed("24in"));
    assert_eq!(plan.placements.len(), 4);
    let backs: Vec<Edge> = plan.placements.iter().filter_map(|one| Some(one.shift?.back)).collect();
    assert_eq!(backs, [Edge::Top, Edge::Top, Edge::Bottom, Edge::Bottom]);
    for one in &plan.placements {
        let behind = match one.shift.expect("it is shifted").back {
            Edge::Top => one.platen.y,
            _ => length("28in") - one.platen.bottom(),
        };
        assert!(behind <= length("8in"), "{behind} behind the plate, of 24 - 16 in");
    }
    // The plate goes 19 in right on the blank, so the work goes 19 in left; half round, it goes back.
    let step = plan.placements[1].platen.x - plan.placements[0].platen.x;
    let shifts: Vec<_> = plan.placements.iter().map(|one| one.shift.expect("it is shifted")).collect();
    assert_eq!(shifts[0].from_before, [Length::ZERO; 2]);
    assert_eq!(shifts[1].from_before, [-step, Length::ZERO]);
    assert_eq!(shifts[2].from_first, [Length::ZERO; 2], "counted anew when turned");
    let back = plan.placements[3].platen.x - plan.placements[2].platen.x;
    assert_eq!(shifts[3].from_before, [back, Length::ZERO]);
    // A deeper throat needs no turning.
    let deep = full("30", "28", fixed("34in"));
    assert!(deep.placements.iter().all(|one| one.shift.expect("it is shifted").back == Edge::Top));
    let shift = deep.placements[2].shift.expect("it is shifted");
    assert_eq!(shift.from_before[1], deep.placements[2].platen.y - deep.placements[1].platen.y, "further in");
}

#[test]
fn shifts_lead_the_work_where_the_plate_is() {
    // A place of the blank under the plate's middle, by turning the blank as it lies and shifting it.
    for (turns, width, height, throat) in [
        (false, "30", "28", "24in"),
        (true, "28", "40", "24in"),
        (false, "50", "20", "40in"),
        (false, "30", "60", "32in"),
        (true, "44", "28", "24in"),
    ] {
        let mut press = fixed(throat);
        press.turns = turns;
        let plan = full(width, height, press);
        // Rightwards and inwards of a blank's point, seen from the front, with an edge at the back.
        let seen = |at: Point<seamwright_contract::OnBlank>, back: Edge| match back {
            Edge::Top => [at.x, -at.y],
            Edge::Bottom => [-at.x, at.y],
            Edge::Left => [-at.y, -at.x],
            Edge::Right => [at.y, at.x],
        };
        let middle = |platen: Rect<seamwright_contract::OnBlank>| {
            Point::new(platen.x + platen.width.half(), platen.y + platen.height.half())
        };
        let mut lies: Option<(Edge, [Length; 2])> = None;
        for one in &plan.placements {
            let shift = one.shift.expect("it is shifted");
            let [right, inwards] = seen(middle(one.platen), shift.back);
            // Where the blank's corner lies if this place is under the plate's middle.
            let corner = [-right, -inwards];
            if let Some((back, [x, y])) = lies.filter(|(back, _)| *back == shift.back) {
                assert_eq!(corner, [x + shift.from_before[0], y + shift.from_before[1]], "{back:?}: {one:?}");
            }
            lies = Some((shift.back, corner));
        }
    }
}

#[test]
fn what_the_throat_cannot_reach_is_refused_with_its_depth() {
    let order = Art::full(inches("30", "60")).order(fixed("24in"));
    let why = planned(order).expect_err("the middle is out of reach");
    assert_eq!(why.blame, Blame::Order, "{why}");
    for part in ["24.00 in", "would do", "deeper throat", "turns: yes"] {
        assert!(why.to_string().contains(part), "{part}: {why}");
    }
    // The depth named does.
    let named = why.what.split("; ").last().and_then(|rest| rest.split(" in would").next()).expect("a depth");
    let deep: f64 = named.parse().expect("inches");
    assert!(planned(Art::full(inches("30", "60")).order(fixed(&format!("{}in", deep + 0.01)))).is_ok());
    // Three rows' middle one is reached if the surplus can be pushed out far enough.
    let pushed = full("20", "32", fixed("26in"));
    assert_eq!(pushed.placements.len(), 6);
    // A quarter turned, 60 in go in sideways.
    let mut turned = fixed("24in");
    turned.turns = true;
    let plan = full("30", "60", turned);
    assert!(plan.placements.iter().all(|one| one.turned), "laid in sideways");
}

#[test]
fn the_board_takes_room_and_must_hold_the_blank() {
    let with = |board: Size, throat: &str| {
        let mut press = fixed(throat);
        press.board = Some(board);
        planned(Art::full(inches("30", "28")).order(press))
    };
    assert!(with(inches("34", "32"), "24in").is_ok());
    let small = with(inches("29", "29"), "24in").expect_err("30 in do not lie on 29 in");
    assert!(small.blame == Blame::Order && small.to_string().contains("does not hold"), "{small}");
    // Without a board the second row lies 4.5 to 6.25 in behind the plate; 10 in of board more do not go in.
    assert!(with(inches("30", "28"), "18in").is_ok());
    assert!(with(inches("50", "48"), "18in").is_err());
}

#[test]
fn measured_settings_come_first_and_are_warned_of_outside_the_range() {
    let with = |name: &str, heat: &str, dwell: u32| {
        let mut press = hand();
        let found =
            Measured { heat: heat.parse().unwrap(), dwell: Seconds(dwell), origin: "dwell wedge".to_owned() };
        press.settings.insert(name.to_owned(), found);
        planned(Art::full(inches("24", "12.5")).order(press)).expect("it covers")
    };
    let (plan, warned) = with("polyester-mat", "192C", 60);
    assert_eq!((plan.dwell, plan.origin.as_str()), (Seconds(60), "dwell wedge"));
    assert!((plan.heat.celsius() - 192.0).abs() < 1e-9 && warned.is_empty(), "{warned:?}");
    let (plan, warned) = with("polyester-mat", "205C", 60);
    assert!((plan.heat.celsius() - 205.0).abs() < 1e-9, "used all the same");
    assert!(warned[0].contains("outside what the substrate takes"), "{warned:?}");
    let (plan, _) = with("mouse-mat", "205C", 60);
    assert_eq!((plan.dwell, plan.origin.as_str()), (Seconds(50), "common practice, no source"), "another's");
}

#[test]
fn a_plate_that_cannot_cover_is_refused_and_so_are_thousands_of_placements() {
    let mm = Length::from_mm;
    let (size, platen) = (Size::new(mm(600), mm(400)), Size::new(mm(300), mm(250)));
    let refused = |press| planned(Art::full(size).order(press)).expect_err("it is refused");
    for weak in [125, 200] {
        let fault = refused(press(platen, mm(weak), mm(10)));
        assert_eq!(fault.blame, Blame::Setup, "{fault}");
    }
    let creeping = press(platen, Length::ZERO, mm(250) - Length::from_um(1));
    let fault = refused(creeping);
    assert_eq!(fault.blame, Blame::Order, "{fault}");
}

#[test]
fn the_middle_of_a_range_stays_in_it() {
    let range = |low, high| Range { low: Seconds(low), high: Seconds(high) };
    assert_eq!(middle(range(35, 70)), Seconds(50));
    assert_eq!(middle(range(31, 33)), Seconds(32));
    assert_eq!(middle(range(60, 60)), Seconds(60));
    assert_eq!(middle(range(u32::MAX, u32::MAX)), Seconds(u32::MAX));
}

#[test]
fn the_largest_designs_are_planned_at_once() {
    // A tenth of a second on the release build; tests are not optimised as far and share the machine, so only a mistake in
    // how it grows is seen here.
    let seams: Vec<Seam> = (1..9).map(|i| seam((i * 170, 0), (i * 170, 2_000))).collect();
    let text = |x: f64, y: f64| if y % 60.0 < 25.0 && x % 97.0 < 60.0 { 90 } else { 0 };
    for (name, shape, dark) in [
        ("full", Shape::Rectangle, &(|_, _| 200_u8) as &dyn Fn(f64, f64) -> u8),
        ("oval", Shape::Oval, &|_, _| 200),
        ("text", Shape::Rectangle, &text),
        ("text in an oval", Shape::Oval, &text),
        ("chequered", Shape::Rectangle, &|x, y| {
            if (x / 150.0).floor() + (y / 150.0).floor() > 8.0 { 9 } else { 0 }
        }),
    ] {
        let art = Art { size: inches("60", "80"), shape, cell: 2.65, dark };
        let mut press = hand();
        press.turns = true;
        let (map, order) = (art.map(), art.order(press));
        let begun = Instant::now();
        let cells = crate::ground::Cells::new(&map, art.size, &seams);
        let choice = crate::choice::best(&order, &cells, Point::default()).expect("it covers");
        let took = begun.elapsed();
        println!("{name}: {} placements in {took:?}", choice.plan.count());
        assert!(took.as_secs() < 15, "{name}: {took:?}");
    }
}
