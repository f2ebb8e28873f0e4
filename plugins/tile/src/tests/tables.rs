//! The counts and rules of the tables in `tests/data/geometry/`.

use seamwright_contract::catalogue::{Orientation, PaperSize, Shape};
use seamwright_contract::layout::LayUp;
use seamwright_contract::scale::Scale;
use seamwright_contract::{Length, Sides, Size};

use super::fixture::{Art, OnSheets as _, inches, length, policy, rows, sheet};
use crate::choice::Sheet;

fn laid(size: Size, sheet: &Sheet, lap: Length) -> LayUp {
    Art::full(size).laid(sheet, &policy(lap), true).expect("it fits")
}

#[test]
fn sheets_for_rectangles_agree_with_the_table() {
    // tiles_rect.csv: computed in two ways; R001 and R002: common practice, no source.
    // The upright sheet's live size and turned margins are part of what is checked.
    for row in rows(include_str!("../../../../tests/data/geometry/tiles_rect.csv")) {
        let [
            case,
            unit,
            w,
            h,
            paper,
            orientation,
            top,
            right,
            bottom,
            left,
            lap,
            live_w,
            live_h,
            columns,
            rows,
            ..,
        ] = row[..]
        else {
            panic!("a short row: {row:?}")
        };
        let upright = match paper {
            "Letter" => inches("8.5", "11"),
            "Legal" => inches("8.5", "14"),
            "Tabloid" => inches("11", "17"),
            "13x19" => inches("13", "19"),
            "A4" => Size::new(length("210mm"), length("297mm")),
            "A3" => Size::new(length("297mm"), length("420mm")),
            "A3+ 329x483" => Size::new(length("329mm"), length("483mm")),
            other => panic!("{case}: paper {other}"),
        };
        let in_unit = |value: &str| length(&format!("{value}{unit}"));
        let [left, top, right, bottom] = [left, top, right, bottom].map(in_unit);
        // The table gives a turned sheet's margins as it lies; back to upright, anticlockwise.
        let (orientation, margins) = match orientation {
            "portrait" => (Orientation::Portrait, Sides { left, top, right, bottom }),
            _ => (Orientation::Landscape, Sides { bottom: left, left: top, top: right, right: bottom }),
        };
        let sheet = Sheet::lying(
            &PaperSize { name: case.to_owned(), size: upright },
            orientation,
            margins,
            Scale::default(),
            Length::ZERO,
        );
        assert_eq!(sheet.live.size(), Size::new(in_unit(live_w), in_unit(live_h)), "{case}: live area");
        assert_eq!((sheet.live.x, sheet.live.y), (left, top), "{case}: live corner");
        let lay_up = laid(Size::new(in_unit(w), in_unit(h)), &sheet, in_unit(lap));
        let found = (lay_up.columns.to_string(), lay_up.rows.to_string(), lay_up.panels.len());
        let (columns, rows): (u32, u32) = (columns.parse().unwrap(), rows.parse().unwrap());
        let panels = usize::try_from(columns * rows).unwrap();
        assert_eq!(found, (columns.to_string(), rows.to_string(), panels), "{case}");
    }
}

#[test]
fn exact_fits_take_no_sheet_too_many() {
    // float_traps.csv: binary floating point answers one too many at these.
    for row in rows(include_str!("../../../../tests/data/geometry/float_traps.csv")) {
        let [unit, side, live, lap, _, design, expected, ..] = row[..] else {
            panic!("a short row: {row:?}")
        };
        let in_unit = |value: &str| length(&format!("{value}{unit}"));
        let (design, expected): (_, usize) = (in_unit(design), expected.parse().unwrap());
        let short = Length::from_mm(60);
        let sheet = sheet(Size::new(in_unit(live), in_unit(live)));
        let count = |long| {
            let across = laid(Size::new(long, short), &sheet, in_unit(lap)).panels.len();
            let down = laid(Size::new(short, long), &sheet, in_unit(lap)).panels.len();
            assert_eq!(across, down, "{side}: across and down");
            across
        };
        assert_eq!(count(design), expected, "{side}: {design}");
        assert_eq!(count(design + Length::from_um(1)), expected + 1, "{side}: a micrometre more");
    }
}

#[test]
fn widest_ink_on_letter_agrees_with_the_table() {
    // letter_extents.csv: computed.
    for row in rows(include_str!("../../../../tests/data/geometry/letter_extents.csv")) {
        let [_, orientation, _, lap, count, width, height] = row[..] else { panic!("a short row: {row:?}") };
        let (across, down) = if orientation == "landscape" { ("10.5", "8") } else { ("8", "10.5") };
        let lay_up = laid(inches(width, height), &sheet(inches(across, down)), length(&format!("{lap}in")));
        let count: u32 = count.parse().unwrap();
        assert_eq!((lay_up.columns, lay_up.rows), (count, count), "{row:?}");
    }
}

#[test]
fn the_common_job_takes_four_sheets_when_its_ink_allows() {
    // 24 x 12.5 in on Letter, 0.2 in lap, 1/4 in margins: common practice, no source; the figures computed.
    let lap = policy(length("0.2in"));
    for (width, landscape, portrait) in [("24", 6, 8), ("20.81", 6, 6), ("20.8", 4, 6), ("10.5", 2, 4)] {
        // Ink as wide as said, from 1 in on, over the whole height, in cells of 1/100 in.
        let ink = length(&format!("{width}in")).mm();
        let (size, cell) = (inches("24", "12.5"), 0.254);
        let left = if width == "24" { 0.0 } else { 25.4 };
        let dark = |x: f64, _: f64| if x > left && x < left + ink { 200 } else { 0 };
        let art = Art {
            size: Size::new(size.width, Length::from_mm(8)),
            shape: Shape::Rectangle,
            cell,
            dark: &dark,
        };
        // Two rows in either orientation: so count the columns of one and double them, but portrait fits two of 10.5.
        let columns = |live: Size| art.laid(&sheet(live), &lap, true).expect("it fits").columns;
        assert_eq!(columns(inches("10.5", "8")) * 2, landscape, "{width} landscape");
        assert_eq!(columns(inches("8", "10.5")) * 2, portrait, "{width} portrait");
    }
}

#[test]
fn shapes_take_no_more_sheets_than_rows_shifted_one_by_one() {
    // shape_skip.csv: the best found with every row sliding by itself.
    for row in rows(include_str!("../../../../tests/data/geometry/shape_skip.csv")) {
        let (case, shape, w, h, live_w, live_h, lap, wanted) =
            (row[0], row[1], row[2], row[3], row[5], row[6], row[7], row[16]);
        let shape = match shape {
            "ellipse" => Shape::Oval,
            "half" => Shape::HalfMoon,
            rounded => Shape::Rounded(length(&format!("{}in", rounded.rsplit('=').next().unwrap()))),
        };
        let art = Art { shape, ..Art::full(inches(w, h)) };
        let lay_up = art.laid(&sheet(inches(live_w, live_h)), &policy(length(&format!("{lap}in"))), true);
        let found = lay_up.expect("it fits").panels.len();
        assert!(found <= wanted.parse().unwrap(), "{case}: {found} sheets and not {wanted}");
    }
}

#[test]
fn trimmed_edges_and_stacking_agree_with_the_table() {
    // trim_rule.csv, the lay-up seen ink side up. 2 x 2: common practice, no source.
    for row in rows(include_str!("../../../../tests/data/geometry/trim_rule.csv")) {
        let [layout, r, c, edges, level] = row[..] else { panic!("a short row: {row:?}") };
        let (rows, columns) = layout.split_once('x').expect("rows x columns");
        let (rows, columns): (i64, i64) = (rows.parse().unwrap(), columns.parse().unwrap());
        let (unit, live) = (Length::from_mm(100), Length::from_mm(106));
        let size = Size::new(unit * columns, unit * rows);
        let lay_up = laid(size, &sheet(Size::new(live, live)), Length::from_mm(5));
        let (r, c): (u32, u32) = (r.parse().unwrap(), c.parse().unwrap());
        let panel = lay_up.panels.iter().find(|p| (p.row, p.column) == (r + 1, c + 1)).expect("the panel");
        let named: Vec<&str> = panel.trim.iter().map(|edge| edge.word()).collect();
        let named = if named.is_empty() { "none".to_owned() } else { named.join("+") };
        assert_eq!(named, edges, "{row:?}");
        // The longest chain of panels below it, by neighbours that share an edge, is its level in the stack.
        let below = |number: u32| -> Vec<u32> {
            let of = |p: &&seamwright_contract::layout::Panel| p.number == number;
            let on = &lay_up.panels.iter().find(of).expect("the panel").on_top_of;
            let place =
                |n: u32| lay_up.panels.iter().find(|p| p.number == n).map(|p| (p.row, p.column)).expect("it");
            on.iter()
                .copied()
                .filter(|other| place(*other).0 == place(number).0 || place(*other).1 == place(number).1)
                .collect()
        };
        assert_eq!(height(&below, panel.number), level.parse().unwrap(), "{row:?}");
    }
}

fn height(below: &dyn Fn(u32) -> Vec<u32>, number: u32) -> u32 {
    below(number).into_iter().map(|other| 1 + height(below, other)).max().unwrap_or(0)
}

#[test]
fn the_worked_example_of_two_by_two() {
    let mm = Length::from_mm;
    let lay_up = laid(Size::new(mm(400), mm(300)), &sheet(Size::new(mm(204), mm(291))), mm(5));
    let um = |panel: usize| {
        let panel = &lay_up.panels[panel];
        [panel.face, panel.cell].map(|rect| [rect.x.um(), rect.y.um(), rect.width.um(), rect.height.um()])
    };
    // Even ink: the seams lie nearest to an even grid's, on the borders of cells of 2 mm.
    let near = |found: [[i64; 4]; 2], wanted: [[i64; 4]; 2]| {
        found.iter().flatten().zip(wanted.iter().flatten()).all(|(a, b)| (a - b).abs() <= 2_000)
    };
    assert!(near(um(0), [[197_500, 0, 202_500, 152_500], [200_000, 0, 200_000, 150_000]]), "{:?}", um(0));
    assert!(near(um(1), [[0, 0, 202_500, 152_500], [0, 0, 200_000, 150_000]]), "{:?}", um(1));
    let below: Vec<&[u32]> = lay_up.panels.iter().map(|panel| panel.on_top_of.as_slice()).collect();
    assert!(
        below[0].starts_with(&[2, 3]) && below[1].ends_with(&[4]) && below[2] == [4] && below[3].is_empty(),
        "{below:?}"
    );
}
