//! Whether the schemas say all that the forms are, and looks no less than what can be read.

use std::str::FromStr;

use seamwright_contract::Length;
use seamwright_contract::settings::heard::Look;
use seamwright_contract::settings::{Complaints, Node, Range, Read, Value as Typed};
use seamwright_contract::units::{Seconds, Temperature};
use serde_json::{Value, json};

use super::{FORMS, Form, Sketch, all, document};
use crate::config::tests::{load, studio};
use crate::config::yaml::{Document, LONGEST_SETTINGS};

/// Every place of a sketch that is not a group of its own.
fn unknown(sketch: &Sketch, way: &str, found: &mut Vec<String>) {
    if sketch.items.is_none() && sketch.kinds.is_empty() && sketch.words.is_empty() {
        found.push(way.to_owned());
    }
    let keys = sketch.keys.iter().map(|(key, place)| (key.as_str(), place));
    let named = sketch.named.iter().map(|(name, place)| (name.as_str(), place.as_ref()));
    let items = sketch.items.iter().map(|place| ("0", place.as_ref()));
    for (step, place) in keys.chain(named).chain(items) {
        unknown(place, &format!("{way}.{step}"), found);
    }
}

#[test]
fn it_is_known_of_every_key_what_may_stand_there() {
    let config = load(studio("", &[]).path()).expect("the shipped settings");
    for form in &FORMS {
        let mut found = Vec::new();
        unknown(&form.sketch(&config), form.name, &mut found);
        assert!(found.is_empty(), "put these into the form's examples, so that they are read: {found:?}");
    }
}

/// The keys of an object that have no words.
fn wordless(schema: &Value) -> Vec<&String> {
    let keys = schema["properties"].as_object().expect("keys");
    keys.iter().filter(|(_, value)| value.get("description").is_none()).map(|(key, _)| key).collect()
}

#[test]
fn every_key_has_a_word_said_on_it() {
    let config = load(studio("", &[]).path()).expect("the shipped settings");
    for (name, schema) in all(&config) {
        let left: Vec<&String> = wordless(&schema);
        // These two are shown in a remark, for they take the place of another key or of nothing; the third the program writes.
        let left: Vec<_> =
            left.into_iter().filter(|key| !["inset", "rates", "row"].contains(&key.as_str())).collect();
        assert!(left.is_empty(), "{name}: nothing is said on {left:?}");
    }
}

#[test]
fn examples_are_whole() {
    for Form { name, example, further, .. } in &FORMS {
        for text in std::iter::once(example).chain(*further) {
            assert!(
                document(text).is_some(),
                "{name}: {:?}",
                Document::parse(name, text.as_bytes(), LONGEST_SETTINGS).err()
            );
        }
    }
}

fn looks(look: Look, text: &str) -> bool {
    jsonschema::is_valid(&json!({"type": "string", "pattern": look.pattern}), &json!(text))
}

/// The look that a type asks for.
fn look_of<T: Read>() -> Look {
    use seamwright_contract::settings::heard::{Asked, Kind};
    let complaints = Complaints::listening();
    let _read = T::read(&Node::root(&Typed::Text(String::new()), &complaints));
    let heard = complaints.into_heard();
    let look = heard.into_iter().find_map(|heard| match heard.asked {
        Asked::Kind(Kind::Like(look)) => Some(look),
        _ => None,
    });
    look.expect("it looks somehow")
}

fn readable<T: Read>(text: &str) -> bool {
    let complaints = Complaints::new();
    T::read(&Node::root(&Typed::Text(text.to_owned()), &complaints)).is_some()
}

#[test]
fn looks_are_those_of_what_can_be_read() {
    let numbers = [
        "0", "1", "12", "12.5", ".5", "1/4", "12 1/2", "1 2", "1/2/3", "", "-1", "+2", "1,5", "1e3", "12.",
        "x",
    ];
    let units = [
        "in", "inch", "\"", "ft", "mm", "cm", "m", "um", "µm", "", "F", "C", "°F", " C", "s", "h", "m10s",
        "MiB", "GB", "zoll", "in x 2in",
    ];
    let check = |text: &str| {
        let same = |reads: bool, look: Look, what: &str| {
            assert_eq!(looks(look, text), reads, "`{text}` as {what}");
        };
        // Far below or above what there is, more looks like it than can be.
        same(Length::from_str(text).is_ok(), look_of::<Length>(), "a length");
        same(Seconds::from_str(text).is_ok(), look_of::<Seconds>(), "a time");
        if Temperature::from_str(text).is_ok() {
            same(true, look_of::<Temperature>(), "a temperature");
        }
        for (reads, look) in [
            (readable::<Range<Seconds>>(text), look_of::<Range<Seconds>>()),
            (readable::<Range<Temperature>>(text), look_of::<Range<Temperature>>()),
        ] {
            assert!(!reads || looks(look, text), "`{text}` can be read as a range");
        }
    };
    for number in numbers {
        for unit in units {
            for between in ["", " "] {
                check(&format!("{number}{between}{unit}"));
                for low in ["1", "10", "5s", "300F", "1m"] {
                    check(&format!("{low}-{number}{between}{unit}"));
                }
            }
        }
    }
    for look in [look_of::<Length>(), look_of::<Seconds>(), look_of::<Temperature>()] {
        assert!(look.examples.iter().all(|example| looks(look, example)), "{look:?}");
    }
}
