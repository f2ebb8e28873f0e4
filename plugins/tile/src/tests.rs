//! The counts of the tables, and the laws an even grid keeps.

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::geometry::{Way, pieces_to_cover};
use seamwright_contract::layout::{LapPolicy, LayUp, TrimOrder};
use seamwright_contract::{Length, Sides, Size};

use crate::choice::Sheet;
use crate::grid::{lay_up, spans};

fn rows(table: &str) -> Vec<Vec<&str>> {
    table.lines().skip(1).map(|row| row.split(',').collect()).collect()
}

fn length(value: &str, unit: &str) -> Length {
    format!("{value}{unit}").parse().unwrap_or_else(|e| panic!("{value}{unit}: {e}"))
}

fn policy(lap: Length) -> LapPolicy {
    LapPolicy { lap, cut_at: lap.half(), order: TrimOrder::PanelsFirst }
}

/// A sheet whose live area is all of it.
fn sheet(live: Size, columns: u32, rows: u32) -> Sheet {
    let paper = PaperSize { name: "test".to_owned(), size: live };
    let lying = Sheet::lying(&paper, Orientation::Portrait, Sides::all(Length::ZERO));
    Sheet { columns, rows, ..lying }
}

/// A sheet with margins, and the grid it makes.
fn on_paper(upright: Size, margins: Sides<Length>, size: Size, lap: &LapPolicy) -> LayUp {
    let paper = PaperSize { name: "test".to_owned(), size: upright };
    let sheet =
        Sheet::lying(&paper, Orientation::Portrait, margins).covering(size, lap.lap).expect("it fits");
    lay_up(&sheet, size, lap, Way { mirrored: true, width: size.width })
}

fn grid(size: Size, live: Size, lap: Length, mirrored: bool) -> Option<LayUp> {
    let sheet = sheet(live, 0, 0).covering(size, lap)?;
    Some(lay_up(&sheet, size, &policy(lap), Way { mirrored, width: size.width }))
}

#[test]
fn sheets_for_rectangles_agree_with_the_table() {
    // tests/data/geometry/tiles_rect.csv: computed in two ways; R001 and R002: common practice, no source.
    // The upright sheet's live size and turned margins are part of what is checked.
    for row in rows(include_str!("../../../tests/data/geometry/tiles_rect.csv")) {
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
            "Letter" => Size::new(length("8.5", "in"), length("11", "in")),
            "Legal" => Size::new(length("8.5", "in"), length("14", "in")),
            "Tabloid" => Size::new(length("11", "in"), length("17", "in")),
            "13x19" => Size::new(length("13", "in"), length("19", "in")),
            "A4" => Size::new(length("210", "mm"), length("297", "mm")),
            "A3" => Size::new(length("297", "mm"), length("420", "mm")),
            "A3+ 329x483" => Size::new(length("329", "mm"), length("483", "mm")),
            other => panic!("{case}: paper {other}"),
        };
        let as_lies = [left, top, right, bottom].map(|side| length(side, unit));
        let [left, top, right, bottom] = as_lies;
        // The table gives a turned sheet's margins as it lies; back to upright, anticlockwise.
        let (orientation, margins) = match orientation {
            "portrait" => (Orientation::Portrait, Sides { left, top, right, bottom }),
            _ => (Orientation::Landscape, Sides { bottom: left, left: top, top: right, right: bottom }),
        };
        let paper = PaperSize { name: case.to_owned(), size: upright };
        let sheet = Sheet::lying(&paper, orientation, margins);
        assert_eq!(
            sheet.live.size(),
            Size::new(length(live_w, unit), length(live_h, unit)),
            "{case}: live area"
        );
        assert_eq!((sheet.live.x, sheet.live.y), (left, top), "{case}: live corner");
        let size = Size::new(length(w, unit), length(h, unit));
        let counted =
            sheet.covering(size, length(lap, unit)).unwrap_or_else(|| panic!("{case} does not fit"));
        assert_eq!(
            (counted.columns.to_string(), counted.rows.to_string()),
            (columns.to_owned(), rows.to_owned()),
            "{case}"
        );
    }
}

#[test]
fn exact_fits_take_no_sheet_too_many() {
    // tests/data/geometry/float_traps.csv: binary floating point answers one too many at these.
    for row in rows(include_str!("../../../tests/data/geometry/float_traps.csv")) {
        let [unit, side, live, lap, _, design, expected, ..] = row[..] else {
            panic!("a short row: {row:?}")
        };
        let count = pieces_to_cover(length(design, unit), length(live, unit), length(lap, unit));
        assert_eq!(count, expected.parse().ok(), "{side}: {design}");
        let longer = length(design, unit) + Length::from_um(1);
        assert_eq!(
            pieces_to_cover(longer, length(live, unit), length(lap, unit)),
            count.map(|n| n + 1),
            "a micrometre more"
        );
    }
}

#[test]
fn widest_ink_on_letter_agrees_with_the_table() {
    // tests/data/geometry/letter_extents.csv: computed.
    for row in rows(include_str!("../../../tests/data/geometry/letter_extents.csv")) {
        let [_, orientation, _, lap, count, width, height] = row[..] else { panic!("a short row: {row:?}") };
        let (across, down) = if orientation == "landscape" { ("10.5", "8") } else { ("8", "10.5") };
        let lap = length(lap, "in");
        let expected = count.parse().ok();
        assert_eq!(pieces_to_cover(length(width, "in"), length(across, "in"), lap), expected, "{row:?}");
        assert_eq!(pieces_to_cover(length(height, "in"), length(down, "in"), lap), expected, "{row:?}");
    }
}

#[test]
fn trimmed_edges_and_stacking_agree_with_the_table() {
    // tests/data/geometry/trim_rule.csv, the lay-up seen ink side up. 2 x 2: common practice, no source.
    for row in rows(include_str!("../../../tests/data/geometry/trim_rule.csv")) {
        let [layout, r, c, edges, level] = row[..] else { panic!("a short row: {row:?}") };
        let (rows, columns) = layout.split_once('x').expect("rows x columns");
        let (rows, columns): (i64, i64) = (rows.parse().unwrap(), columns.parse().unwrap());
        let unit = Length::from_mm(100);
        let size = Size::new(unit * columns, unit * rows);
        let lay_up = grid(
            size,
            Size::new(unit + Length::from_mm(6), unit + Length::from_mm(6)),
            Length::from_mm(5),
            true,
        )
        .expect("it fits");
        let index = r.parse::<i64>().unwrap() * columns + c.parse::<i64>().unwrap();
        let panel = &lay_up.panels[usize::try_from(index).unwrap()];
        let named: Vec<&str> = panel.trim.iter().map(|edge| edge.word()).collect();
        let named = if named.is_empty() { "none".to_owned() } else { named.join("+") };
        assert_eq!(named, edges, "{row:?}");
        // The longest chain of panels below it is its level in the stack.
        assert_eq!(
            height(&lay_up, panel.number).to_string(),
            stacked(level, &lay_up, panel.number),
            "{row:?}"
        );
    }
}

/// How many panels lie in the longest chain below a panel, by right and lower neighbours alone.
fn height(lay_up: &LayUp, number: u32) -> u32 {
    let below = lay_up.seams.iter().filter(|seam| seam.upper == number);
    below.map(|seam| 1 + height(lay_up, seam.between[1])).max().unwrap_or(0)
}

/// The table's level, after checking that every panel lies only on panels of later numbers.
fn stacked(level: &str, lay_up: &LayUp, number: u32) -> String {
    let panel = lay_up.panels.iter().find(|panel| panel.number == number).expect("the panel");
    assert!(panel.on_top_of.iter().all(|below| *below > number), "no circle: {:?}", panel.on_top_of);
    level.to_owned()
}

#[test]
fn the_worked_example_of_two_by_two() {
    let mm = Length::from_mm;
    let size = Size::new(mm(400), mm(300));
    let lay_up = grid(size, Size::new(mm(204), mm(291)), mm(5), true).expect("it fits");
    let um = |panel: usize| {
        let panel = &lay_up.panels[panel];
        [panel.face, panel.cell].map(|rect| [rect.x.um(), rect.y.um(), rect.width.um(), rect.height.um()])
    };
    assert_eq!(um(0), [[197_500, 0, 202_500, 152_500], [200_000, 0, 200_000, 150_000]]);
    assert_eq!(um(1), [[0, 0, 202_500, 152_500], [0, 0, 200_000, 150_000]]);
    let below: Vec<&[u32]> = lay_up.panels.iter().map(|panel| panel.on_top_of.as_slice()).collect();
    assert_eq!(below, [&[2, 3, 4][..], &[3, 4], &[4], &[]]);
    assert_eq!(lay_up.seams.len(), 4);
    assert_eq!(lay_up.seams[0].line.map(|point| point.x.um()), [200_000, 200_000]);
}

/// Whole numbers that look random and are the same each time.
fn numbers(mut state: u64) -> impl FnMut(i64, i64) -> i64 {
    move |low, high| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + i64::try_from((state >> 33) % u64::try_from(high - low + 1).unwrap()).unwrap()
    }
}

#[test]
fn cells_partition_the_design_and_faces_fit_the_live_area() {
    let mut number = numbers(7);
    for _ in 0..2_000 {
        let lap = Length::from_um(number(0, 20_001));
        let live =
            Size::new(Length::from_um(number(60_000, 500_000)), Length::from_um(number(60_000, 500_000)));
        let size =
            Size::new(Length::from_um(number(1_000, 2_000_003)), Length::from_um(number(1_000, 2_000_003)));
        let lay_up = grid(size, live, lap, number(0, 1) == 1).expect("it fits");
        let area = |width: Length, height: Length| i128::from(width.um()) * i128::from(height.um());
        let cells: i128 = lay_up.panels.iter().map(|panel| area(panel.cell.width, panel.cell.height)).sum();
        assert_eq!(cells, area(size.width, size.height), "cells cover the design's area");
        for panel in &lay_up.panels {
            assert!(live.holds(panel.face.size()), "{:?} in {live:?}", panel.face);
            assert!(panel.face.contains(&panel.cell), "a cell is printed");
            assert!(lay_up.live.contains(&panel.printed()), "{:?} is printable", panel.printed());
        }
        for (i, one) in lay_up.panels.iter().enumerate() {
            for other in &lay_up.panels[i + 1..] {
                assert_eq!(one.cell.intersection(&other.cell), None, "cells do not share area");
                let overlapping = one.face.intersection(&other.face).is_some();
                assert!(
                    !overlapping || one.on_top_of.contains(&other.number),
                    "{} laps {}",
                    one.number,
                    other.number
                );
            }
        }
    }
}

#[test]
fn the_lap_is_printed_on_both_neighbours() {
    let mut number = numbers(11);
    for _ in 0..500 {
        let lap = Length::from_um(number(1, 20_001));
        let cut_at = Length::from_um(number(0, lap.um()));
        let policy = LapPolicy { lap, cut_at, order: TrimOrder::RowsFirst };
        let count = u32::try_from(number(2, 9)).unwrap();
        let length = Length::from_um(number(300_000, 3_000_001));
        let spans = spans(length, count, &policy);
        for pair in spans.windows(2) {
            assert_eq!(pair[0].end - pair[1].start, lap, "one lap wide");
            assert_eq!(pair[0].cell_end, pair[1].cell_start, "one cut line");
            assert_eq!(pair[1].cell_start - pair[1].start, cut_at, "from the upper panel's side");
        }
        let printed = |span: &crate::grid::Span| span.end - span.start;
        let (least, most) = (spans.iter().map(printed).min(), spans.iter().map(printed).max());
        assert!(most.zip(least).is_some_and(|(most, least)| most - least <= Length::from_um(1)), "even");
        let reach: Length = spans.iter().map(printed).sum();
        assert_eq!(reach - lap * i64::from(count - 1), length, "nothing is missing");
    }
}

#[test]
fn slack_goes_only_to_paper_that_is_cut_off() {
    let mm = Length::from_mm;
    let margins = Sides { left: mm(3), top: mm(4), right: mm(5), bottom: mm(6) };
    let mut number = numbers(13);
    for _ in 0..500 {
        let upright = Size::new(mm(number(100, 300)), mm(number(300, 500)));
        let size =
            Size::new(Length::from_um(number(50_000, 900_001)), Length::from_um(number(50_000, 900_001)));
        let lay_up = on_paper(upright, margins, size, &policy(mm(5)));
        for panel in &lay_up.panels {
            let (printed, live) = (panel.printed(), lay_up.live);
            let near = [(panel.column, printed.x - live.x), (panel.row, printed.y - live.y)];
            let far = [live.right() - printed.right(), live.bottom() - printed.bottom()];
            for ((index, near), far) in near.into_iter().zip(far) {
                if index == 1 {
                    let uneven = far - near;
                    assert!(
                        (Length::ZERO..=Length::from_um(1)).contains(&uneven),
                        "{near} and {far} are even"
                    );
                } else {
                    assert_eq!(near, Length::ZERO, "paper that stays under a neighbour takes no slack");
                }
            }
        }
        for one in &lay_up.panels {
            for other in &lay_up.panels {
                assert!(one.column != other.column || one.at.x == other.at.x, "a column shares its x");
                assert!(one.row != other.row || one.at.y == other.at.y, "a row shares its y");
            }
        }
        let (first, last) = (&lay_up.panels[0], &lay_up.panels[lay_up.panels.len() - 1]);
        assert_eq!((lay_up.final_trim.left, lay_up.final_trim.top), (first.at.x, first.at.y));
        let beyond = (upright.width - last.printed().right(), upright.height - last.printed().bottom());
        assert_eq!((lay_up.final_trim.right, lay_up.final_trim.bottom), beyond);
    }
}

#[test]
fn every_seam_runs_along_the_border_of_its_two_cells() {
    let mut number = numbers(17);
    for _ in 0..200 {
        let (width, height) = (number(300_000, 900_001), number(300_000, 900_001));
        let size = Size::new(Length::from_um(width), Length::from_um(height));
        let live = Size::new(Length::from_mm(200), Length::from_mm(250));
        let lap = Length::from_um(number(0, 9_999));
        let lay_up = grid(size, live, lap, number(0, 1) == 1).expect("it fits");
        for seam in &lay_up.seams {
            let of = |number: u32| lay_up.panels.iter().find(|panel| panel.number == number).expect("it");
            let (upper, lower) = (of(seam.between[0]), of(seam.between[1]));
            assert_eq!(seam.upper, upper.number);
            assert!(upper.on_top_of.contains(&lower.number), "{seam:?}");
            for point in seam.line {
                for cell in [upper.cell, lower.cell] {
                    let on_x = point.x == cell.x || point.x == cell.right();
                    let on_y = point.y == cell.y || point.y == cell.bottom();
                    assert!(on_x && on_y, "{point:?} is no corner of {cell:?}");
                }
            }
            assert_ne!(seam.line[0], seam.line[1], "a seam has a length");
        }
        let (rows, columns) = (lay_up.rows, lay_up.columns);
        let pairs = rows * (columns - 1) + columns * (rows - 1);
        assert_eq!(lay_up.seams.len(), usize::try_from(pairs).unwrap(), "one a pair of neighbours");
    }
}
