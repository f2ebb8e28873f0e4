//! Which paper is chosen, why, and what is said where none can be.

use seamwright_contract::catalogue::{Delivers, Orientation, PaperSize, Shape};
use seamwright_contract::layout::{LayUp, Panel};
use seamwright_contract::order::Order;
use seamwright_contract::sample;
use seamwright_contract::{Blame, Length, Point, Rect, Sides, Size};

use super::fixture::{Art, OnSheets as _, inches, length};
use crate::choice::best;
use crate::ground::Ground;

fn paper(name: &str) -> PaperSize {
    let size = match name {
        "letter" => inches("8.5", "11"),
        "legal" => inches("8.5", "14"),
        "tabloid" => inches("11", "17"),
        "large" => inches("13", "19"),
        other => panic!("paper {other}"),
    };
    PaperSize { name: name.to_owned(), size }
}

fn panel(number: u32) -> Panel {
    Panel {
        number,
        row: 1,
        column: number,
        page: number,
        face: Rect::default(),
        cell: Rect::default(),
        at: Point::new(Length::ZERO, Length::ZERO),
        trim: Vec::new(),
        outer: Vec::new(),
        on_top_of: Vec::new(),
        marks: Vec::new(),
        piece: None,
    }
}

#[test]
fn the_stack_comes_out_with_the_first_panel_on_top() {
    for (delivers, said) in
        [(Delivers::FaceUp, "page 1 is panel 5"), (Delivers::FaceDown, "turn the whole stack over")]
    {
        let mut lay_up = LayUp { panels: (1..=5).map(panel).collect(), ..sample::lay_up() };
        let told = crate::stacked(&mut lay_up, delivers).expect("several panels");
        assert!(told.contains(said), "{told}");
        // Sheets leave the printer in the order of pages, each laid on those before it.
        let mut printed: Vec<(u32, u32)> =
            lay_up.panels.iter().map(|panel| (panel.page, panel.number)).collect();
        printed.sort_unstable();
        let on_top_last: Vec<u32> = printed.into_iter().map(|(_, number)| number).collect();
        let from_the_top: Vec<u32> = match delivers {
            Delivers::FaceUp => on_top_last.into_iter().rev().collect(),
            // Turned over, what lay lowest lies on top.
            Delivers::FaceDown => on_top_last,
        };
        assert_eq!(from_the_top, [1, 2, 3, 4, 5]);
    }
    let mut one = LayUp { panels: vec![panel(1)], ..sample::lay_up() };
    assert_eq!(crate::stacked(&mut one, Delivers::FaceUp), None);
    assert_eq!(one.panels[0].page, 1);
}

/// An order for 24 x 12.5 in on a printer with margins of 1/4 in.
fn order(papers: &[&str], orientation: Option<Orientation>) -> Order {
    Order { papers: papers.iter().map(|name| paper(name)).collect(), orientation, ..sample::order() }
}

fn lap() -> Length {
    length("0.2in")
}

fn full(size: Size) -> Ground {
    Art::full(size).ground(true).expect("it is inked")
}

/// What is said of the choice for 24 x 12.5 in.
fn chosen(papers: &[&str], orientation: Option<Orientation>) -> String {
    let order = order(papers, orientation);
    best(&order, &full(order.size), lap(), Length::ZERO)
        .map_or_else(|fault| fault.to_string(), |choice| choice.why())
}

#[test]
fn the_common_job_takes_six_landscape_or_eight_portrait() {
    // 24 x 12.5 in on Letter, 0.2 in lap, 1/4 in margins: common practice, no source.
    let auto = chosen(&["letter"], None);
    assert_eq!(
        auto,
        "6 sheets of letter landscape: the fewest sheets; weighed against 8 sheets of letter portrait."
    );
    let portrait = chosen(&["letter"], Some(Orientation::Portrait));
    assert_eq!(
        portrait,
        "8 sheets of letter portrait: the only paper and orientation allowed that can be used."
    );
}

#[test]
fn fewest_sheets_then_the_least_crossed_then_the_least_paper() {
    // Counts: tests/data/geometry/tiles_rect.csv R001, R002 and R023 to R028. Even ink: shorter seams cross less.
    let all = chosen(&["letter", "legal", "tabloid", "large"], None);
    assert!(all.starts_with("2 sheets of large portrait: no other takes fewer sheets"), "{all}");
    assert!(all.ends_with("3 sheets of tabloid portrait, 4 sheets of legal portrait and 4 more."), "{all}");
    // One seam across a bare middle costs nothing on either paper: then the smaller paper is taken.
    let dark = |x: f64, _: f64| if (x - 200.0).abs() < 30.0 { 0 } else { 100 };
    let size = Size::new(Length::from_mm(400), Length::from_mm(180));
    let art = Art { size, shape: Shape::Rectangle, cell: 5.0, dark: &dark };
    let order = order(&["tabloid", "letter"], Some(Orientation::Landscape));
    let choice = best(&order, &art.ground(true).expect("it is inked"), lap(), Length::ZERO).expect("it fits");
    assert_eq!(choice.sheet.paper.name, "tabloid", "one sheet is fewer than two");
    let two = Order { papers: vec![paper("legal"), paper("letter")], ..order };
    let choice = best(&two, &art.ground(true).expect("it is inked"), lap(), Length::ZERO).expect("it fits");
    assert_eq!((choice.sheet.paper.name.as_str(), choice.plan.cost.crossed), ("letter", 0));
    assert!(choice.why().contains("it is the least paper"), "{}", choice.why());
    // The same paper under two names: the first stays first.
    let mut twice = two;
    twice.papers = vec![paper("letter"), PaperSize { name: "also letter".to_owned(), ..paper("letter") }];
    let choice = best(&twice, &full(twice.size), lap(), Length::ZERO).expect("it fits");
    assert_eq!(choice.sheet.paper.name, "letter");
}

#[test]
fn what_was_weighed_is_told_in_figures() {
    let order = order(&["letter"], None);
    let ground = full(order.size);
    let weighed = best(&order, &ground, lap(), Length::ZERO).expect("it fits").weighed(&ground);
    assert_eq!(weighed.iter().map(|one| one.sheets).collect::<Vec<_>>(), [6, 8]);
    // Letter is 215.9 x 279.4 mm.
    assert!((weighed[0].paper_m2 - 6.0 * 0.2159 * 0.2794).abs() < 1e-9, "{weighed:?}");
    assert!(
        weighed[0].crossed.is_some_and(|crossed| crossed > 0.0) && weighed[1].crossed.is_none(),
        "{weighed:?}"
    );
}

#[test]
fn where_no_paper_can_be_used_the_side_the_lap_and_the_cure_are_said() {
    let order = order(&["letter", "legal"], None);
    let fault = best(&order, &full(order.size), Length::from_inches(8), Length::ZERO)
        .expect_err("8 in of lap on 8 in of paper");
    assert_eq!(fault.blame, Blame::Setup);
    assert!(
        fault.what.contains("printable side of 8.00 in") && fault.what.contains("lap of 8.00 in"),
        "{fault}"
    );
    assert!(fault.cure.contains("smaller `lap`"), "{fault}");
}

#[test]
fn margins_that_leave_nothing_are_said_so() {
    let mut order = order(&["letter"], None);
    order.printer.margins = Sides::all(Length::from_inches(5));
    let fault =
        best(&order, &full(order.size), lap(), Length::ZERO).expect_err("nothing is left to print on");
    assert!(fault.what.contains("margins leave nothing to print on"), "{fault}");
}

#[test]
fn a_size_that_takes_thousands_of_sheets_is_questioned() {
    let order = order(&["letter"], None);
    let size = Size::new(Length::from_mm(50_000), Length::from_mm(50_000));
    let ground = Art { cell: 500.0, ..Art::full(size) }.ground(true).expect("it is inked");
    let fault = best(&order, &ground, lap(), Length::ZERO).expect_err("tens of thousands of sheets");
    assert_eq!(fault.blame, Blame::Order);
    assert!(fault.cure.contains("unit"), "{fault}");
}

#[test]
fn seams_keep_out_of_what_shall_be_clear_or_the_order_is_refused() {
    let order = order(&["letter"], Some(Orientation::Landscape));
    let zone = |left: &str, width: &str| {
        let [x, y, w, h] = [left, "3in", width, "3in"].map(length);
        vec![Rect::new(x, y, w, h)]
    };
    let art = Art::full(order.size);
    let ground = |zones: &[Rect<seamwright_contract::Face>]| {
        Ground::new(&art.map(), &art.outline(), zones, art.way(true)).expect("it is inked")
    };
    let clear = zone("7in", "5in");
    let choice = best(&order, &ground(&clear), lap(), Length::ZERO).expect("it fits");
    assert_eq!(choice.plan.sheets(), 6);
    for row in choice.plan.rows.iter().filter(|row| row.start.at() < length("6in")) {
        // Mirrored: the part lies from 24 - 12 = 12 to 17 in on paper.
        let strips = row.cut.starts.iter().skip(1).map(|start| start.at());
        assert!(strips.into_iter().all(|at| at >= length("17in") || at + lap() <= length("12in")), "{row:?}");
    }
    let wide = Order { keep_clear: zone("5in", "11in"), ..order };
    let fault =
        best(&wide, &ground(&wide.keep_clear), lap(), Length::ZERO).expect_err("11 in on 10.5 in of paper");
    assert_eq!(fault.blame, Blame::Order);
    assert!(fault.what.contains("keep_clear") && fault.what.contains("11.00 x 3.00 in"), "{fault}");
}
