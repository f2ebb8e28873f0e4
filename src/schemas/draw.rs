//! A sketch as JSON Schema, draft 7: the one that editors know best.

use std::collections::BTreeMap;

use seamwright_contract::settings::heard::Kind;
use serde_json::{Map, Value, json};

use super::sketch::Sketch;

/// What is said of keys, by their ways.
pub(super) type Words = BTreeMap<String, String>;

/// The schema of a whole text.
pub(super) fn whole(sketch: &Sketch, words: &Words) -> Value {
    let schema = schema(sketch, "", words);
    // An empty text says as much as one that has none of its keys.
    if sketch.needed.is_empty() { or_nothing(schema) } else { schema }
}

/// The schema of a place and all below it.
fn schema(sketch: &Sketch, way: &str, words: &Words) -> Value {
    if let Some(items) = &sketch.items {
        let item = schema(items, way, words);
        return json!({"anyOf": [{"type": "array", "items": item.clone()}, item]});
    }
    let mut ways: Vec<Value> = Vec::new();
    if !sketch.words.is_empty() {
        ways.push(one_of(&sketch.words));
    }
    ways.extend(sketch.kinds.iter().map(|kind| of_kind(kind, sketch, way, words)));
    match ways.len() {
        1 => ways.remove(0),
        _ => json!({"anyOf": ways}),
    }
}

fn of_kind(kind: &Kind, sketch: &Sketch, way: &str, words: &Words) -> Value {
    match kind {
        Kind::Group => group(sketch, way, words),
        Kind::Named => {
            let value = sketch.named.as_ref().map(|(name, named)| schema(named, &below(way, name), words));
            json!({"type": "object", "additionalProperties": value.unwrap_or(Value::Bool(true))})
        }
        // Told by what each item is.
        Kind::Items => json!({"type": "array"}),
        Kind::Step(known) => step(known, sketch, way, words),
        Kind::Words(known) => one_of(known),
        // A studio may have more.
        Kind::Known(known) => json!({"anyOf": [one_of(known), {"type": ["string", "number"]}]}),
        Kind::Whole => json!({"type": "integer", "minimum": 0}),
        Kind::Number => json!({"type": "number"}),
        Kind::Text => json!({"type": ["string", "number", "boolean"]}),
        Kind::Like(look) => json!({"type": "string", "pattern": look.pattern, "examples": look.examples}),
    }
}

fn below(way: &str, word: &str) -> String {
    if way.is_empty() { word.to_owned() } else { format!("{way}.{word}") }
}

fn group(sketch: &Sketch, way: &str, words: &Words) -> Value {
    let mut properties = Map::new();
    for (key, place) in &sketch.keys {
        let way = below(way, key);
        let value = schema(place, &way, words);
        let value = if sketch.needed.contains(key.as_str()) { value } else { or_nothing(value) };
        properties.insert(key.clone(), with_words(value, &way, words));
    }
    let mut group = json!({"type": "object", "properties": properties, "additionalProperties": false});
    if let (false, Some(group)) = (sketch.needed.is_empty(), group.as_object_mut()) {
        group.insert("required".to_owned(), json!(sketch.needed));
    }
    group
}

fn with_words(mut schema: Value, way: &str, words: &Words) -> Value {
    if let (Some(said), Some(entries)) = (words.get(way), schema.as_object_mut()) {
        entries.insert("description".to_owned(), said.as_str().into());
    }
    schema
}

/// Where nothing stands behind the colon, the key counts as not there.
fn or_nothing(schema: Value) -> Value {
    match schema {
        Value::Object(mut entries) => {
            if let Some(Value::Array(ways)) = entries.get_mut("anyOf") {
                ways.push(json!({"type": "null"}));
            } else if let Some(Value::Array(words)) = entries.get_mut("enum") {
                words.push(Value::Null);
            } else if let Some(kind) = entries.get_mut("type") {
                let kinds = kind.take();
                let mut kinds = match kinds {
                    Value::Array(kinds) => kinds,
                    one => vec![one],
                };
                kinds.push("null".into());
                *kind = Value::Array(kinds);
            }
            Value::Object(entries)
        }
        other => other,
    }
}

/// A word alone, or the word with its settings.
fn step(known: &[String], sketch: &Sketch, way: &str, words: &Words) -> Value {
    let settings = sketch.keys.iter().map(|(word, place)| {
        let way = below(way, word);
        (word.clone(), with_words(or_nothing(schema(place, &way, words)), &way, words))
    });
    json!({"anyOf": [
        one_of(known),
        {
            "type": "object",
            "properties": settings.collect::<Map<_, _>>(),
            "additionalProperties": false,
            "minProperties": 1,
            "maxProperties": 1,
        },
    ]})
}

/// One of these words, or what YAML makes of them: numbers, and by its older rules (1.1) also of `yes` and `no` truths.
fn one_of(words: &[impl AsRef<str>]) -> Value {
    let mut values: Vec<Value> = Vec::new();
    for word in words.iter().map(AsRef::as_ref) {
        let taken_for = match word {
            "true" | "yes" => Some(Value::Bool(true)),
            "false" | "no" => Some(Value::Bool(false)),
            word => word.parse::<u32>().ok().map(Value::from),
        };
        for value in std::iter::once(word.into()).chain(taken_for) {
            if !values.contains(&value) {
                values.push(value);
            }
        }
    }
    json!({"enum": values})
}
