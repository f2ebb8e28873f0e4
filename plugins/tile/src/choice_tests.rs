//! Which paper is chosen, why, and what is said where none can be.

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::order::Order;
use seamwright_contract::sample;
use seamwright_contract::{Blame, Length, Sides, Size};

use crate::choice::best;

fn inches(width: &str, height: &str) -> Size {
    let length = |text: &str| format!("{text}in").parse::<Length>().expect("a length");
    Size::new(length(width), length(height))
}

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

/// An order for 24 x 12.5 in on a printer with margins of 1/4 in.
fn order(papers: &[&str], orientation: Option<Orientation>) -> Order {
    Order { papers: papers.iter().map(|name| paper(name)).collect(), orientation, ..sample::order() }
}

fn lap() -> Length {
    "0.2in".parse().expect("a lap")
}

/// What is said of the choice for 24 x 12.5 in.
fn chosen(papers: &[&str], orientation: Option<Orientation>) -> String {
    let order = order(papers, orientation);
    best(&order, order.size, lap()).map_or_else(|fault| fault.to_string(), |choice| choice.why())
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
fn fewest_sheets_then_least_paper_then_the_first_named_then_portrait() {
    // Counts: tests/data/geometry/tiles_rect.csv R001, R002 and R023 to R028.
    let all = chosen(&["letter", "legal", "tabloid", "large"], None);
    assert!(
        all.starts_with("2 sheets of large portrait: no other takes fewer sheets or less paper;"),
        "{all}"
    );
    assert!(all.ends_with("3 sheets of tabloid portrait, 4 sheets of legal portrait and 4 more."), "{all}");
    // Four of either: legal is less paper, though named second.
    let four = chosen(&["tabloid", "legal"], Some(Orientation::Landscape));
    assert!(
        four.starts_with("4 sheets of legal landscape: no other takes fewer sheets, nor as few"),
        "{four}"
    );
    // The same paper under two names: the first stays first.
    let mut twice = order(&["letter", "letter"], Some(Orientation::Landscape));
    twice.papers[1].name = "also letter".to_owned();
    let choice = best(&twice, twice.size, lap()).expect("it fits");
    assert_eq!(choice.sheet.paper.name, "letter");
}

#[test]
fn where_no_paper_can_be_used_the_side_the_lap_and_the_cure_are_said() {
    let order = order(&["letter", "legal"], None);
    let fault = best(&order, order.size, Length::from_inches(8)).expect_err("8 in of lap on 8 in of paper");
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
    let fault = best(&order, order.size, lap()).expect_err("nothing is left to print on");
    assert!(fault.what.contains("margins leave nothing to print on"), "{fault}");
}

#[test]
fn a_size_that_takes_thousands_of_sheets_is_questioned() {
    let order = order(&["letter"], None);
    let fault = best(&order, Size::new(Length::from_mm(50_000), Length::from_mm(50_000)), lap());
    let fault = fault.expect_err("tens of thousands of sheets");
    assert_eq!(fault.blame, Blame::Order);
    assert!(fault.cure.contains("unit"), "{fault}");
}
