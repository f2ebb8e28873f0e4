//! Where things stand on the page, against figures worked out by hand.

use lopdf::Document;
use lopdf::content::Content;
use seamwright_contract::layout::{Ink, Layout, Mark, MarkRole};
use seamwright_contract::{Length, Point, Size};

use super::fixture::{AT, LETTER, Plan, numbers, picture, read};

const PT_PER_MM: f64 = 72.0 / 25.4;

/// Rounding of six decimals, read through 32-bit floats: a tenth of a micrometre on the page.
const CLOSE: f64 = 2e-4;

/// The operands of the first use of an operator on a page.
fn operands(document: &Document, page: usize, operator: &str) -> Vec<f64> {
    let id = *document.get_pages().values().nth(page).unwrap();
    let content = Content::decode(&document.get_page_content(id)).unwrap();
    let operation = content.operations.iter().find(|operation| operation.operator == operator).unwrap();
    numbers(&operation.operands)
}

fn assert_close(got: &[f64], expected_mm: &[f64], what: &str) {
    let expected: Vec<f64> = expected_mm.iter().map(|mm| mm * PT_PER_MM).collect();
    let apart = got.iter().zip(&expected).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(got.len() == expected.len() && apart < CLOSE, "{what}: {got:?}, expected {expected:?}");
}

/// The matrix as left, bottom, width, height.
fn placed(document: &Document, page: usize) -> Vec<f64> {
    let matrix = operands(document, page, "cm");
    assert!(matrix[1].abs() + matrix[2].abs() < 1e-9, "turned: {matrix:?}");
    vec![matrix[4], matrix[5], matrix[0], matrix[3]]
}

#[test]
fn a_grid_that_fits_lies_exactly_in_the_face() {
    // Panel 1 of the mirrored example prints face x 197.5 to 400, y 0 to 152.5. At 127 pixels per inch a pixel
    // is 0.2 mm, so x is cut in the middle of a pixel: the grid reaches from 197.4 to 400 and 0 to 152.6.
    let plan = Plan { ppi: 127.0, ..Plan::default() };
    let document = read(&plan.layout());
    let top = LETTER.height.mm() - 12.7;
    assert_close(&operands(&document, 0, "re"), &[6.35, top - 152.5, 202.5, 152.5], "clip of panel 1");
    assert_close(&placed(&document, 0), &[6.35, top - 152.6, 202.6, 152.6], "picture of panel 1");
    // Panel 2 prints 0 to 202.5: on paper its left edge is face 202.5, the grid begins 0.1 mm left of it.
    assert_close(&operands(&document, 1, "re"), &[6.35, top - 152.5, 202.5, 152.5], "clip of panel 2");
    assert_close(&placed(&document, 1), &[6.25, top - 152.6, 202.6, 152.6], "picture of panel 2");
    // Panel 3 begins at face y 147.5; the grid at 147.4 and ends at 300.
    assert_close(&placed(&document, 2), &[6.35, top - 152.5, 202.6, 152.6], "picture of panel 3");
}

#[test]
fn the_picture_is_clipped_and_nothing_else_is() {
    let document = read(&marked());
    let id = *document.get_pages().values().next().unwrap();
    let content = Content::decode(&document.get_page_content(id)).unwrap();
    let all: Vec<_> = content.operations.iter().map(|operation| operation.operator.as_str()).collect();
    assert_eq!(&all[..7], ["q", "re", "W", "n", "cm", "Do", "Q"], "the picture");
    assert!(!all[7..].contains(&"W") && all[7..].contains(&"Tj"), "the marks: {all:?}");
}

#[test]
fn unmirrored_the_other_side_is_cut() {
    let plan = Plan { ppi: 127.0, mirrored: false, ..Plan::default() };
    let document = read(&plan.layout());
    let top = LETTER.height.mm() - 12.7;
    assert_close(&placed(&document, 0), &[6.35, top - 152.6, 202.6, 152.6], "face 0 to 202.5, panel 1");
    assert_close(&placed(&document, 1), &[6.25, top - 152.6, 202.6, 152.6], "face 197.5 to 400, panel 2");
}

#[test]
fn pixels_beyond_the_design_are_clipped_on_both_sides() {
    // 100 pixels per inch are 0.254 mm: 400 mm are 1574.8 of them, 197.5 mm are 777.56.
    let plan = Plan { ppi: 100.0, ..Plan::default() };
    let document = read(&plan.layout());
    let first = *document.get_pages().values().next().unwrap();
    assert_eq!(picture(&document, first).dict.get(b"Width").unwrap().as_i64().unwrap(), 1575 - 777);
    let [left, .., width, _] = placed(&document, 0)[..] else { panic!("four numbers") };
    assert_close(&[left], &[6.35 + 400.0 - 1575.0 * 0.254], "the left edge, outside the clip");
    assert_close(&[left + width], &[6.35 + 400.0 - 777.0 * 0.254], "the right edge, outside the clip");
    let [clip_left, .., clip_width, _] = operands(&document, 0, "re")[..] else { panic!("four numbers") };
    assert!(left < clip_left && left + width > clip_left + clip_width, "the picture covers the clip");
}

#[test]
fn boxes_are_paper_and_face() {
    for (plan, count) in [
        (Plan { columns: 1, rows: 1, ..Plan::default() }, 1),
        (Plan { columns: 2, rows: 1, ..Plan::default() }, 2),
        (Plan { columns: 3, rows: 2, mirrored: false, ..Plan::default() }, 6),
        (Plan { columns: 5, rows: 6, ..Plan::default() }, 30),
    ] {
        let layout = plan.layout();
        let document = read(&layout);
        let pages = document.get_pages();
        assert_eq!(pages.len(), count);
        let panels = &layout.lay_up.as_ref().unwrap().panels;
        for (id, panel) in pages.values().zip(panels) {
            let page = document.get_dictionary(*id).unwrap();
            let sides = |key: &[u8]| numbers(page.get(key).unwrap().as_array().unwrap());
            assert_eq!(sides(b"MediaBox"), [0.0, 0.0, 612.0, 792.0]);
            let (left, top) = (panel.at.x.mm(), LETTER.height.mm() - panel.at.y.mm());
            let (right, bottom) = (left + panel.face.width.mm(), top - panel.face.height.mm());
            assert_close(&sides(b"TrimBox"), &[left, bottom, right, top], "trim box");
            assert_eq!(sides(b"TrimBox"), sides(b"BleedBox"));
            assert!(!page.has(b"Rotate") && !page.has(b"CropBox"), "no other box, no turn");
        }
    }
}

#[test]
fn pages_follow_their_numbers() {
    let plan = Plan { ppi: 127.0, ..Plan::default() };
    let mut layout = plan.layout();
    let panels = &mut layout.lay_up.as_mut().unwrap().panels;
    panels.iter_mut().zip([4, 3, 2, 1]).for_each(|(panel, page)| panel.page = page);
    let document = read(&layout);
    let top = LETTER.height.mm() - 12.7;
    assert_close(&placed(&document, 3), &[6.35, top - 152.6, 202.6, 152.6], "panel 1 on page 4");
}

/// A page with every kind of mark.
fn marked() -> Layout {
    let mut layout = Plan { columns: 1, rows: 1, design: small(), ..Plan::default() }.layout();
    let p = |x, y| Point::new(Length::from_mm(x), Length::from_mm(y));
    let panel = layout.lay_up.as_mut().unwrap().panels.first_mut().unwrap();
    let mark = |ink| Mark { role: MarkRole::Label, ink };
    panel.marks = vec![
        mark(Ink::Line { from: p(100, 100), to: p(120, 100), weight: Length::from_um(250) }),
        mark(Ink::Polygon(vec![p(150, 150), p(160, 150), p(155, 140)])),
        mark(Ink::Text {
            at: p(100, 200),
            size: Length::from_mm(5),
            upwards: false,
            text: "row 1 of 2".to_owned(),
        }),
        mark(Ink::Text {
            at: p(50, 200),
            size: Length::from_mm(5),
            upwards: true,
            text: "upwards".to_owned(),
        }),
    ];
    layout
}

fn small() -> Size {
    Size::new(Length::from_mm(80), Length::from_mm(60))
}

#[test]
fn marks_lie_where_they_were_put() {
    let document = read(&marked());
    let height = LETTER.height.mm();
    assert_close(&operands(&document, 0, "w"), &[0.25], "line weight");
    assert_close(&operands(&document, 0, "m"), &[100.0, height - 100.0], "line from");
    assert_close(&operands(&document, 0, "l"), &[120.0, height - 100.0], "line to");
    let matrix = operands(&document, 0, "Tm");
    assert_close(&matrix[4..], &[100.0, height - 200.0], "text");
    let words = document.extract_text(&[1]).unwrap();
    assert!(words.contains("row 1 of 2") && words.contains("upwards"), "{words:?}");
}

#[test]
fn the_design_begins_at_its_place() {
    let document = read(&marked());
    let clip = operands(&document, 0, "re");
    assert_close(&clip, &[AT.x.mm(), LETTER.height.mm() - AT.y.mm() - 60.0, 80.0, 60.0], "clip");
}
