//! No text runs into another or off the page, nothing is smaller than 8 pt, and the words say what the layout says.

mod fixture;
mod laws;

use seamwright_contract::layout::TrimOrder;
use seamwright_contract::{Length, Rect};
use seamwright_drawing::{Canvas, Item};

use crate::blocks::{Block, Drawing};
use crate::{content, flow, text, words};
use fixture::{Case, cases, grid, layout, mixed, pieces, ring, stepped};

/// All blocks, those that stand together one by one.
fn blocks_of(case: &Case) -> Vec<Block> {
    let blocks = content::of(&layout(case)).unwrap().blocks;
    let apart = |block| match block {
        Block::Together(blocks) => blocks,
        other => vec![other],
    };
    blocks.into_iter().flat_map(apart).collect()
}

fn words_of(case: &Case) -> String {
    text::of(&content::of(&layout(case)).unwrap())
}

fn pages_of(case: &Case) -> Vec<Canvas> {
    flow::pages(&content::of(&layout(case)).unwrap())
}

/// The lines that begin with a number: the steps of joining.
fn steps_of(case: &Case) -> Vec<String> {
    let step = |line: &str| {
        let (number, step) = line.split_once(". ")?;
        let heading = step.to_uppercase() == step;
        (number.parse::<u32>().is_ok() && !heading).then(|| step.to_owned())
    };
    words_of(case).lines().filter_map(step).collect()
}

#[test]
fn texts_keep_apart_and_on_the_page_and_are_large_enough() {
    for case in cases() {
        for (n, page) in pages_of(&case).iter().enumerate() {
            let whole = Rect::of_size(page.size);
            let boxes = page.text_boxes();
            for (i, (one, words)) in boxes.iter().enumerate() {
                assert!(whole.contains(one), "page {n} of {}: '{words}' leaves the page", case.what);
                for (other, more) in &boxes[i + 1..] {
                    let shared = one.intersection(other);
                    assert!(shared.is_none(), "page {n} of {}: '{words}' runs into '{more}'", case.what);
                }
            }
            for item in &page.items {
                if let Item::Text { size, text, .. } = item {
                    assert!(size.points() >= 8.0, "'{text}' is {} pt", size.points());
                }
            }
        }
    }
}

#[test]
fn the_result_stands_with_the_cautions_and_the_first_page_has_both_maps() {
    for case in cases() {
        let pages = pages_of(&case);
        let said = |page: &Canvas, words: &str| page.text_boxes().iter().any(|(_, text)| *text == words);
        let last = pages.last().unwrap();
        assert!(said(last, words::CAUTIONS) && said(last, words::RESULT), "{}", case.what);
        assert!(said(&pages[0], words::TOP) && said(&pages[0], words::IN_ALL), "{}", case.what);
    }
}

#[test]
fn nothing_is_left_out_of_the_pages_for_want_of_room() {
    for case in cases().into_iter().filter(|case| case.name.len() < 20) {
        for page in pages_of(&case) {
            let cut = page.text_boxes().into_iter().find(|(_, words)| words.contains('\u{2026}'));
            assert!(cut.is_none(), "{}: {cut:?} was cut short", case.what);
        }
    }
}

#[test]
fn the_panel_map_is_the_mirror_of_the_face() {
    let blocks = blocks_of(&grid(3, 2));
    let maps = blocks.iter().filter_map(|block| match block {
        Block::Overview(overview) => Some(&overview.panels.0),
        Block::Figure(figure) => figure.drawing.as_ref(),
        _ => None,
    });
    let mut found = 0;
    for map in maps {
        match map {
            Drawing::Panels(map) => {
                assert_eq!(map.cells[0].cell.x, Length::ZERO, "panel 1 lies at the left, ink side up");
                found += 1;
            }
            Drawing::Blank(map) => {
                let (_, first) = map.cells[0];
                assert_eq!(
                    first.right(),
                    map.design.right(),
                    "panel 1 comes to lie at the right of the blank"
                );
                found += 1;
            }
            Drawing::Image(_) | Drawing::Press(_) | Drawing::Step(_) => {}
        }
    }
    assert_eq!(found, 3, "overview, tape and blank");
}

#[test]
fn the_words_say_what_the_layout_says() {
    let words = words_of(&Case { name: "chart\u{1b}[2J".to_owned(), ..grid(2, 2) });
    for line in [
        // Cut lines run 2 mm from the upper panel's side of laps of 6 mm.
        "Panel: 1; Row, column: 1, 1; Lies on: 2, 3 and 4; Left: last ",
        "Panel: 4; Row, column: 2, 2; Lies on: none; Left: under ",
        "CUT: before joining, right edges first, then bottom. The line runs 4 mm inside the picture's edge",
        "1. In row 2, lay panel 4 down, ink side up, then 3 on 4. Tape on the back.",
        "2. In row 1, lay panel 2 down, ink side up, then 1 on 2. Tape on the back.",
        "3. Lay row 1 on row 2. Tape on the back.",
        // 360 mm each way: 360 times the root of 2.
        "4. Check both diagonals between the corners of the outer cut lines: 509 mm (509.12) each.",
        "WARNING: There is no room on panels 1 to 4 for the ruler",
        "- The fewest sheets of the papers allowed.",
        "Row: 1; Panels from the left: 2, 1; Edges and seams from the blank's left: 13 mm, 193 mm, 373 mm; From its top: 13 mm to 193 mm",
    ] {
        assert!(words.contains(line), "`{line}` is missing in:\n{words}");
    }
    assert!(!words.contains('\u{1b}'), "nothing plays tricks on a terminal");
}

#[test]
fn one_sheet_is_neither_cut_nor_joined() {
    let words = words_of(&grid(1, 1));
    for word in ["CUT:", "under:", "Seams across", "eam 1", "diagonals"] {
        assert!(!words.contains(word), "{word} in:\n{words}");
    }
    assert!(words.contains("1. In row 1, lay panel 1 down, ink side up.\n"));
}

#[test]
fn any_stacking_is_said_as_it_is() {
    // Row 2 lies on rows 1 and 3; 2 lies on 1, 5 on 4 and 6 on 5, row 3 is as ever.
    assert_eq!(
        steps_of(&mixed())[..6],
        [
            "In row 3, lay panel 9 down, ink side up, then 8 on 9, 7 on 8. Tape on the back.",
            "In row 1, lay panels 1 and 3 down, ink side up, then 2 on 1 and 3. Tape on the back.",
            "In row 2, lay panel 4 down, ink side up, then 5 on 4, 6 on 5. Tape on the back.",
            "Lay row 2 on rows 1 and 3. Tape on the back.",
            "Check both diagonals between the corners of the outer cut lines: 731 mm (731.1) each.",
            "Final trim: cut off all strips called last, along the outer ticks, ink side up.",
        ]
    );
    let words = words_of(&mixed());
    assert!(words.contains("CUT: before joining, left and right edges first, then top and bottom"));
    let words = words_of(&Case { order: TrimOrder::RowsFirst, ..mixed() });
    for line in [
        "CUT: left and right edges before joining, top and bottom edges when the row is joined",
        "4. Cut the top edge of row 2 and the bottom edge of row 2, each in one long cut.",
    ] {
        assert!(words.contains(line), "`{line}` is missing in:\n{words}");
    }
    assert_eq!(words.matches("in one long cut").count(), 1, "{words}");
}

#[test]
fn pieces_are_joined_and_placed_each_by_itself() {
    let words = words_of(&pieces());
    for line in [
        "- The lay-up is in 3 pieces that do not touch: piece 1 is panels 1 and 4, piece 2 is panels 2, 3 and 5 and piece 3 is panels 6, 7 and 8.",
        "1. Piece 1: in row 2, lay panel 4 down, ink side up.",
        "2. Piece 1: lay row 1 (panel 1) on row 2. Tape on the back.",
        "3. Piece 2: in row 2, lay panel 5 down, ink side up.",
        "4. Piece 2: in row 1, lay panel 3 down, ink side up, then 2 on 3. Tape on the back.",
        "5. Piece 2: lay row 1 on row 2. Tape on the back.",
        "6. Piece 3: in row 3, lay panel 8 down, ink side up, then 7 on 8, 6 on 7. Tape on the back.",
        // The blank is 13 mm larger all round than the design of 720 mm; the face is the paper mirrored.
        "Piece 1: 513 mm from the left at panel 1, 43 mm from the top",
        "Piece 2: 53 mm from the left at panel 3, 43 mm from the top",
        "Piece 3: 73 mm from the left, 413 mm from the top",
    ] {
        assert!(words.contains(line), "`{line}` is missing in:\n{words}");
    }
    // Only the line of text is a plain rectangle.
    assert_eq!(words.matches("heck both diagonals").count(), 1, "{words}");
}

#[test]
fn a_row_in_two_parts_is_named_by_its_panels() {
    assert_eq!(
        steps_of(&ring())[..6],
        [
            "In row 3, lay panel 8 down, ink side up, then 7 on 8, 6 on 7. Tape on the back.",
            "Lay panel 5 of row 2 on row 3. Tape on the back.",
            "Lay panel 4 of row 2 on row 3. Tape on the back.",
            "In row 1, lay panel 3 down, ink side up, then 2 on 3, 1 on 2. Tape on the back.",
            "Lay row 1 on panel 4 of row 2 and panel 5 of row 2. Tape on the back.",
            "Check both diagonals between the corners of the outer cut lines: 785 mm (785.17) each.",
        ]
    );
}

#[test]
fn a_stepped_lay_up_is_placed_by_its_widest_row_and_has_no_diagonals() {
    let words = words_of(&stepped());
    // The design is 640 mm wide on a blank of 666 mm; row 2 reaches from 20 to 620 mm.
    for line in [
        "From the left: 33 mm at panel 5",
        "From the right: 33 mm at panel 3",
        "From the top: 23 mm",
        "From the bottom: 23 mm",
    ] {
        assert!(words.contains(line), "`{line}` is missing in:\n{words}");
    }
    assert!(!words.contains("diagonals"), "{words}");
}

#[test]
fn care_and_tape_are_told_by_seams() {
    let words = words_of(&grid(2, 2));
    for line in [
        "- Seams across detail: 2-4. Take care: what crosses them must meet exactly before it is taped.",
        "- Seams across nothing printed: 1-2 and 3-4.",
        "- The other seams run through artwork that hides them.",
        "- Seams without a bare place for tape: 1-3 and 2-4. Tape their middle first,",
        // Seams of 180 mm, taped from three to five eighths.
        "Tape: seam 1-2; From its end at the: top; At: 68 mm (67.5) to 113 mm (112.5)",
        "Tape: panel 1 on the blank, top edge; From its end at the: left; At: 68 mm (67.5) to 113 mm (112.5)",
    ] {
        assert!(words.contains(line), "`{line}` is missing in:\n{words}");
    }
}
