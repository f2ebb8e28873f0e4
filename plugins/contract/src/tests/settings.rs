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
    assert_eq!(
        one_of(&["letter", "legal"], Some("leter")),
        "Did you mean `letter`? Known: `letter`, `legal`."
    );
    assert_eq!(one_of(&[], Some("leter")), "Leave it out.");
}

#[test]
fn many_words_are_listed_only_where_none_is_near() {
    let known = ["a4", "a3", "letter", "legal", "tabloid", "sra3", "letter-cut", "letter-cat", "letter-cot"];
    assert_eq!(one_of(&known, Some("tabloyd")), "Did you mean `tabloid`?");
    let several = one_of(&known, Some("letter-ct"));
    let (first, others) = several.split_once("? Or ").expect("others are near too");
    assert!(first.starts_with("Did you mean `letter-c") && others.matches('`').count() == 4, "{several}");
    let begun = one_of(&["wide-a3", "wide-13x19", "a", "b", "c", "d", "e"], Some("wide"));
    assert_eq!(begun, "Did you mean `wide-a3`? Or `wide-13x19`?");
    let none = one_of(&known, Some("xyzzy"));
    assert!(known.iter().all(|word| none.contains(&format!("`{word}`"))), "{none}");
}

#[test]
fn a_key_that_is_not_indented_is_told_whose_it_may_be() {
    let value = map(&[("size", Value::Nothing), ("width", text("3in")), ("heigth", text("2in"))]);
    let found = complaints(&value, |fields| {
        let _group = fields.get("size");
        let _: Option<String> = fields.optional("note");
    });
    let cures: Vec<&str> = found.iter().map(|complaint| complaint.cure.as_str()).collect();
    assert!(cures[1].contains("belongs to `size`"), "{cures:?}");
    let found = complaints(&map(&[("size", text("3in")), ("width", text("3in"))]), |fields| {
        let _group = fields.get("size");
    });
    assert_eq!(found[0].cure, "Known: `size`.", "what says something holds no keys");
}

#[test]
fn the_programs_own_keys_are_read_and_not_offered() {
    let value = map(&[("row", text("x")), ("rwo", text("y"))]);
    let found = complaints(&value, |fields| {
        assert!(fields.get_unlisted("row").is_some(), "it is read");
        let _: Option<String> = fields.optional("note");
    });
    let cures: Vec<&str> = found.iter().map(|complaint| complaint.cure.as_str()).collect();
    assert_eq!(cures, ["Known: `note`."]);
}

#[test]
fn no_more_mistakes_are_told_than_anybody_reads() {
    let complaints = Complaints::new();
    for n in 0..5000 {
        complaints.add(format!("k{n}"), Part::Key, "there is no such key", "Take it out.");
    }
    assert_eq!(complaints.into_list().len(), 40);
}
