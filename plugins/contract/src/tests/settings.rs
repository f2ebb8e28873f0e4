//! Reading settings: all mistakes at once, each with its key and a cure.

use crate::settings::{Complaint, Complaints, Fields, Node, Part, Range, Value, nearest, one_of};
use crate::units::{Length, Seconds, Temperature};

fn text(value: &str) -> Value {
    Value::Text(value.to_owned())
}

fn map(entries: &[(&str, Value)]) -> Value {
    Value::Map(entries.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect())
}

fn complaints(value: &Value, read: impl Fn(&mut Fields<'_>)) -> Vec<Complaint> {
    let complaints = Complaints::new();
    if let Some(mut fields) = Node::root(value, &complaints).fields() {
        read(&mut fields);
        fields.finish();
    }
    complaints.into_list()
}

#[test]
fn every_mistake_is_found_in_one_reading() {
    let value = map(&[("lap", Value::Number(5.0)), ("cut", text("wide")), ("lpa", text("5mm"))]);
    let found = complaints(&value, |fields| {
        let _: Option<Length> = fields.optional("lap");
        let _: Option<f64> = fields.optional("cut");
        let _: Option<String> = fields.required("trim", "panels-first");
    });
    let keys: Vec<&str> = found.iter().map(|complaint| complaint.key.as_str()).collect();
    assert_eq!(keys, ["lap", "cut", "", "lpa"]);
    assert!(found[0].what.contains("has no unit"), "{}", found[0].what);
    assert!(found[2].cure.contains("trim: panels-first"), "{}", found[2].cure);
    assert!(found[3].cure.contains("Did you mean `lap`?"), "{}", found[3].cure);
}

#[test]
fn ranges_take_their_unit_from_the_end() {
    let value = map(&[
        ("heat", text("375-390F")),
        ("dwell", text("35-70s")),
        ("one", text("60s")),
        ("down", text("70-35s")),
    ]);
    let found = complaints(&value, |fields| {
        let heat: Option<Range<Temperature>> = fields.optional("heat");
        assert!(heat.is_some_and(|range| (range.high.fahrenheit() - 390.0).abs() < 0.1));
        assert_eq!(fields.optional("dwell"), Some(Range { low: Seconds(35), high: Seconds(70) }));
        assert_eq!(fields.optional("one"), Some(Range { low: Seconds(60), high: Seconds(60) }));
        assert_eq!(fields.optional::<Range<Seconds>>("down"), None);
    });
    assert_eq!(found.len(), 1);
    assert!(found[0].what.contains("runs downwards"), "{}", found[0].what);
}

#[test]
fn the_nearest_word_is_named_and_nonsense_is_not() {
    assert_eq!(nearest(&["contain", "cover", "stretch"], "contian"), Some("contain"));
    assert_eq!(nearest(&["contain", "cover", "stretch"], "xyzzy"), None);
    assert!(one_of(&["letter"], Some("leter")).starts_with("Did you mean `letter`?"));
}

#[test]
fn no_more_mistakes_are_told_than_anybody_reads() {
    let complaints = Complaints::new();
    for n in 0..5000 {
        complaints.add(format!("k{n}"), Part::Key, "there is no such key", "Take it out.");
    }
    assert_eq!(complaints.into_list().len(), 40);
}
