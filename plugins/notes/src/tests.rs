//! No text runs into another or off the page, nothing is smaller than 8 pt, and the words say what the layout says.

use std::sync::Arc;

use seamwright_contract::catalogue::{Blank, Shape};
use seamwright_contract::colour::Source;
use seamwright_contract::layout::{
    Artwork, Edge, Job, LapPolicy, LayUp, Layout, Panel, Placement, PressPlan, Seam, SeamClass, TrimOrder,
};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::sample;
use seamwright_contract::units::{Seconds, Units};
use seamwright_contract::{Fault, Length, Point, Rect, Sides, Size};
use seamwright_drawing::Item;

use crate::blocks::{Block, Drawing};
use crate::{content, flow, text};

#[derive(Debug)]
struct Plain;

impl Picture for Plain {
    fn size(&self) -> Pixels {
        Pixels::new(600, 400)
    }
    fn format(&self) -> Format {
        Format::RGB8
    }
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), self.format());
        Ok(())
    }
    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        Ok(Band::bare(size, self.format()))
    }
    fn recipe(&self) -> String {
        "plain".to_owned()
    }
}

const CELL: Length = Length::from_mm(180);
const LAP: Length = Length::from_mm(5);

struct Case {
    columns: u32,
    rows: u32,
    shape: Shape,
    units: Units,
    mirrored: bool,
    name: String,
}

fn order(case: &Case, size: Size) -> Order {
    let mut order = sample::order();
    order.blank = Blank {
        name: "table mat".to_owned(),
        shape: case.shape,
        size: size.grown(Length::from_mm(13)),
        reach: Length::from_mm(-13),
        ..order.blank
    };
    order.blank.substrate.seen_through = !case.mirrored;
    Order { size, copies: 2, note: Some("for the reading room ".repeat(8)), units: case.units, ..order }
}

fn panels(case: &Case, layout: &Layout) -> Vec<Panel> {
    let way = layout.way();
    let (columns, rows) = (case.columns, case.rows);
    let number = |r: u32, c: u32| r * columns + c + 1;
    let cells = (0..rows).flat_map(|r| (0..columns).map(move |c| (r, c)));
    cells
        .map(|(r, c)| {
            let cell = way.to_face(&Rect::new(CELL * i64::from(c), CELL * i64::from(r), CELL, CELL));
            let right = (c + 1 < columns).then_some(Edge::Right);
            let bottom = (r + 1 < rows).then_some(Edge::Bottom);
            let below = (c.saturating_sub(1)..=(c + 1).min(columns - 1)).map(|c| number(r + 1, c));
            let on_top_of = right
                .map(|_| number(r, c + 1))
                .into_iter()
                .chain(below.filter(|_| bottom.is_some()))
                .collect();
            Panel {
                number: number(r, c),
                row: r + 1,
                column: c + 1,
                page: number(r, c),
                face: cell,
                cell,
                at: Point::new(LAP, LAP),
                trim: right.into_iter().chain(bottom).collect(),
                outer: Vec::new(),
                on_top_of,
                marks: Vec::new(),
            }
        })
        .collect()
}

fn layout(case: &Case) -> Layout {
    let size = Size::new(CELL * i64::from(case.columns), CELL * i64::from(case.rows));
    let order = order(case, size);
    let artwork = Artwork {
        file: "chart.png".to_owned(),
        sha256: String::new(),
        size: Pixels::new(600, 400),
        source: Source::Srgb { said: true },
    };
    let mut layout = Layout::new(Job { name: case.name.clone() }, order, artwork, Arc::new(Plain));
    layout.design = Some(sample::design(size, 150.0));
    layout.mirrored = case.mirrored;
    layout.lap = Some(LapPolicy { lap: LAP, cut_at: LAP.half(), order: TrimOrder::PanelsFirst });
    let panels = panels(case, &layout);
    let seams = panels.iter().flat_map(|panel| panel.on_top_of.iter().map(move |below| (panel, *below))).map(
        |(panel, below)| Seam {
            between: [panel.number, below],
            upper: panel.number,
            line: [panel.cell.origin(), Point::new(panel.cell.x, panel.cell.bottom())],
            score: 0.0,
            class: SeamClass::Bare,
        },
    );
    layout.lay_up = Some(LayUp {
        rows: case.rows,
        columns: case.columns,
        seams: seams.collect(),
        final_trim: Sides::all(Length::from_mm(12)),
        panels,
        ..sample::lay_up()
    });
    let plates = (1..=case.columns * case.rows).map(|number| {
        let x = Length::from_mm(i64::from(number % 5) * 280 - 20);
        let platen = Rect::new(
            x,
            Length::from_mm(i64::from(number / 5) * 230 - 10),
            Length::from_mm(305),
            Length::from_mm(254),
        );
        Placement { number, platen, turned: false }
    });
    layout.press = Some(PressPlan {
        placements: plates.collect(),
        heat: "195C".parse().unwrap(),
        dwell: Seconds(50),
        preheat: Seconds(10),
        pressure: "medium to firm".to_owned(),
        origin: "common practice, no source".to_owned(),
    });
    layout.warn(
        "marks",
        "There is no room on panels 1 to 4 for the ruler; measure a panel instead before the first cut.",
    );
    layout
}

fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for (columns, rows) in [(1, 1), (2, 1), (3, 2), (4, 3), (6, 5), (1, 9)] {
        for (shape, mirrored) in [(Shape::Rectangle, true), (Shape::Round, false), (Shape::HalfMoon, true)] {
            for units in [Units::Inch, Units::Metric] {
                for name in ["chart-3f9a21".to_owned(), format!("{}-3f9a21", "observatory".repeat(12))] {
                    cases.push(Case { columns, rows, shape, units, mirrored, name });
                }
            }
        }
    }
    cases
}

#[test]
fn texts_keep_apart_and_on_the_page_and_are_large_enough() {
    for case in cases() {
        let content = content::of(&layout(&case)).unwrap();
        for (n, page) in flow::pages(&content).iter().enumerate() {
            let whole = Rect::of_size(page.size);
            let boxes = page.text_boxes();
            for (i, (one, words)) in boxes.iter().enumerate() {
                assert!(
                    whole.contains(one),
                    "page {n} of {}x{}: '{words}' leaves the page",
                    case.columns,
                    case.rows
                );
                for (other, more) in &boxes[i + 1..] {
                    let shared = one.intersection(other);
                    assert!(
                        shared.is_none(),
                        "page {n} of {}x{}: '{words}' runs into '{more}'",
                        case.columns,
                        case.rows
                    );
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
fn the_panel_map_is_the_mirror_of_the_face() {
    let case = Case {
        columns: 3,
        rows: 2,
        shape: Shape::Rectangle,
        units: Units::Metric,
        mirrored: true,
        name: "x".to_owned(),
    };
    let layout = layout(&case);
    let content = content::of(&layout).unwrap();
    let maps = content.blocks.iter().filter_map(|block| match block {
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
            Drawing::Thumbnail(_) | Drawing::Press(_) => {}
        }
    }
    assert_eq!(found, 2);
}

#[test]
fn the_words_say_what_the_layout_says() {
    let case = Case {
        columns: 2,
        rows: 2,
        shape: Shape::Rectangle,
        units: Units::Metric,
        mirrored: true,
        name: "chart\u{1b}[2J".to_owned(),
    };
    let words = text::of(&content::of(&layout(&case)).unwrap());
    for line in [
        "Panel: 1; Row: 1; Column: 1; Cut off its: right and bottom; Lies on panels: 2, 3 and 4",
        "Panel: 2; Row: 1; Column: 2; Cut off its: bottom; Lies on panels: 3 and 4",
        "Panel: 3; Row: 2; Column: 1; Cut off its: right; Lies on panels: 4",
        "Panel: 4; Row: 2; Column: 2; Cut off its: no edge; Lies on panels: none",
        "1. Row 2: lay panel 4 down, ink side up.",
        "2. Row 2: lay panel 3 on panel 4, and tape it on the back.",
        "WARNING: There is no room on panels 1 to 4 for the ruler",
    ] {
        assert!(words.contains(line), "`{line}` is missing in:\n{words}");
    }
    assert!(!words.contains('\u{1b}'), "nothing plays tricks on a terminal");
}
