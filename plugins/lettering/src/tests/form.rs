//! What an order may say.

use seamwright_contract::settings::{Complaints, Node, Value};

use super::{box_of, map, piece, text};
use crate::form;

fn mistakes(said: &Value) -> Vec<String> {
    let complaints = Complaints::new();
    let read = form::read(&Node::root(said, &complaints));
    let list = complaints.into_list();
    assert!(read.is_some() || !list.is_empty(), "what is not read is complained of");
    list.into_iter().map(|one| format!("{}: {}. {}", one.key, one.what, one.cure)).collect()
}

#[test]
fn a_piece_is_words_in_a_place() {
    let good = piece(
        "{name}",
        ("box", box_of([10.0, 10.0, 80.0, 20.0])),
        &[
            ("colour", text("midnightblue")),
            ("outline", map(&[("width", text("0.5mm"))])),
            ("size", text("largest")),
        ],
    );
    assert_eq!(mistakes(&good), [""; 0], "one alone needs no list");
    let circle =
        map(&[("x", text("50mm")), ("y", text("50mm")), ("radius", text("40mm")), ("height", text("8mm"))]);
    assert_eq!(mistakes(&Value::List(vec![good, piece("round", ("circle", circle), &[])])), [""; 0]);
}

#[test]
fn every_mistake_is_told_with_its_cure() {
    let place = || ("box", box_of([10.0, 10.0, 80.0, 20.0]));
    let circle = |radius: &str, feet: &str| {
        let keys = [("x", "50mm"), ("y", "50mm"), ("radius", radius), ("height", "8mm"), ("feet", feet)];
        map(&keys.map(|(key, value)| (key, text(value))))
    };
    let cases = [
        (map(&[place()]), "Add for example `text: \"{name}\"`."),
        (map(&[("text", text("Ada"))]), "Write for example `box:"),
        (piece("Ada", place(), &[("circle", circle("40mm", "in"))]), "Keep one of the two."),
        (piece("Ada", place(), &[("colour", text("bluish"))]), "'bluish' is not a colour"),
        (piece("Ada", place(), &[("colour", text("rgba(0, 0, 0, 0.5)"))]), "is not a colour"),
        (piece("Ada", place(), &[("size", text("12"))]), "unit"),
        (piece("Ada", place(), &[("size", text("0mm"))]), "above zero"),
        (piece("Ada", place(), &[("algn", text("left"))]), "`align`"),
        (piece("Ada", place(), &[("align", text("center"))]), "`centre`"),
        (piece("Ada", place(), &[("style", text("heavy"))]), "bold-italic"),
        (piece(&"a".repeat(1001), place(), &[]), "Keep it to 1000."),
        (piece("Ada", ("circle", circle("0mm", "in")), &[]), "above zero"),
        (piece("Ada", ("circle", circle("8mm", "out")), &[]), "larger `radius`"),
        (Value::List(vec![Value::Nothing; 51]), "Keep it to 50"),
    ];
    for (said, cure) in cases {
        let told = mistakes(&said);
        assert!(told.iter().any(|line| line.contains(cure)), "{cure}: {told:?}");
    }
}
