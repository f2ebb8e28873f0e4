//! The drawing loses no panel, and the words are those of the record.

use serde_json::{Value, json};

use super::drawing::{Cell, Signs, lines};
use super::record::Record;
use super::{design, lay_up, seams, sheets};
use seamwright_contract::units::Units;

/// The mirrored lay-up of two rows that the design states: 400 x 300 mm, seams at x = 200 and y = 150 mm of the face.
fn record() -> Value {
    let panel = |number: u32, row: u32, cell: [i64; 4]| json!({"panel": number, "row": row, "cell_um": cell});
    json!({
        "job": "chart-3f9a21",
        "artwork": {"file": "chart.png", "width_px": 4000, "height_px": 3000, "profile": null},
        "design": {"width_um": 400_000, "height_um": 300_000, "sheet_ppi": 300.0, "artwork_ppi": [254.0, 254.0]},
        "fit": "contain", "copies": 2, "printer": "desk-a4", "mirrored": true,
        "blank": {"name": "mat", "substrate": "polyester-mat", "shape": "rectangle", "width_um": 420_000,
            "height_um": 320_000, "placed_um": [10_000, 10_000]},
        "paper": {"name": "a4"}, "orientation": "landscape",
        "one_more": {"sheets": 5, "busy": [1, 0], "taken": false},
        "lap_um": 5_000,
        "panels": [
            panel(1, 1, [200_000, 0, 200_000, 150_000]), panel(2, 1, [0, 0, 200_000, 150_000]),
            panel(3, 2, [300_000, 150_000, 100_000, 150_000]), panel(4, 2, [0, 150_000, 300_000, 150_000]),
        ],
        "seams": [{"between": [1, 2], "class": "quiet"}, {"between": [3, 4], "class": "busy"}],
        "left_out": [], "press": null, "colour": null, "warnings": [], "remarks": []
    })
}

fn read(value: Value) -> Record {
    serde_json::from_value(value).expect("a record")
}

#[test]
fn the_lay_up_is_drawn_as_it_lies_ink_side_up() {
    let drawn = lay_up(&read(record()), 21, Signs::Boxes);
    let expected = [
        "",
        "The lay-up, INK SIDE UP; on the blank left and right are exchanged:",
        "",
        "┌─────────┬─────────┐",
        "│         │         │",
        "│    1    │    2    │",
        "│         │         │",
        "├────┬────┴─────────┤",
        "│    │              │",
        "│ 3  │      4       │",
        "│    │              │",
        "└────┴──────────────┘",
    ];
    // Panel 3 is the narrow one and lies on the left: at the right of the face.
    let boxes: Vec<&str> = drawn.iter().map(String::as_str).collect();
    assert_eq!(boxes, expected);
    let ascii = lay_up(&read(record()), 21, Signs::Ascii);
    assert!(ascii.iter().all(|line| line.is_ascii()), "{ascii:?}");
    for (one, other) in boxes.iter().zip(&ascii).skip(2) {
        let plain: String = one
            .chars()
            .map(|sign| match sign {
                '│' => '|',
                '─' => '-',
                sign if sign.is_ascii() => sign,
                _ => '+',
            })
            .collect();
        assert_eq!(&plain, other, "the same drawing");
    }
}

#[test]
fn a_lay_up_that_is_not_mirrored_lies_as_it_is_seen() {
    let mut said = record();
    said["mirrored"] = json!(false);
    let drawn = lay_up(&read(said), 21, Signs::Boxes);
    assert_eq!(drawn[1], "The lay-up, INK SIDE UP:");
    assert_eq!(drawn[9], "│      4       │ 3  │");
}

#[test]
fn no_panel_is_lost_however_many_and_small_they_are() {
    // A small generator (Knuth's MMIX constants): the same lay-ups each time.
    let mut state: u64 = 1;
    let mut dice = |sides: i64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from(state >> 33).unwrap_or_default() % sides
    };
    for _ in 0..300 {
        let (rows, mut cells, mut top) = (1 + dice(9), Vec::new(), 0);
        for row in 0..rows {
            let (height, mut x) = (1 + dice(400_000), dice(50_000));
            for _ in 0..=dice(11) {
                let width = 1 + dice(500_000);
                let number = u32::try_from(cells.len()).expect("few") + 1;
                cells.push(Cell {
                    number,
                    row: u32::try_from(row).expect("few"),
                    at: [x, top, width, height],
                });
                x += width + if dice(4) == 0 { dice(30_000) } else { 0 };
            }
            top += height;
        }
        for width in [10, 40, 72] {
            let drawn = lines(&cells, width, Signs::Ascii).join("\n");
            let numbers: Vec<u32> = drawn
                .split(|sign: char| !sign.is_ascii_digit())
                .filter_map(|word| word.parse().ok())
                .collect();
            let wanted: Vec<u32> = cells.iter().map(|cell| cell.number).collect();
            assert_eq!(numbers, wanted, "by rows, each once, in order:\n{drawn}");
        }
    }
}

#[test]
fn nothing_is_drawn_of_nothing() {
    assert!(lines(&[], 72, Signs::Boxes).is_empty(), "no panels");
}

#[test]
fn figures_and_their_reasons_are_told() {
    let record = read(record());
    let mut said = Vec::new();
    let mut add = |word: &str, text: String| said.push(format!("{word}: {text}"));
    design(&record, Units::Metric, &mut add);
    sheets(&record, Units::Metric, &mut add);
    seams(&record, &mut add);
    for line in [
        "design: 400.0 mm x 300.0 mm, contain, from the blank's left 10.0 mm and top 10.0 mm, face up",
        "ppi: 254 of the picture's own, 4000 x 3000 px at this size; the sheets carry 300",
        "sheets: 4 a4 sheets, 2 times, landscape, by desk-a4, lapping by 5.0 mm",
        "mirrored: yes: the paper lies ink side down on the blank",
        "seams: 2: 0 across nothing printed, 1 that artwork hides, 1 across detail",
        ": across detail: between panels 3-4",
        ": with 5 sheets it would be 0 across detail in place of 1: `extra_sheets` in the order allows it",
    ] {
        assert!(said.iter().any(|one| one == line), "`{line}` in {said:#?}");
    }
}
