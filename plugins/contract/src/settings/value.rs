//! What a YAML text holds, before anything is known about its meaning.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{self, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};

/// What a YAML text holds, before anything is known about its meaning. A key given twice does not parse.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Value {
    /// Nothing after the colon, or `null`.
    #[default]
    Nothing,
    /// `true` or `false`.
    Bool(bool),
    /// A bare number.
    Number(f64),
    /// Any other word or sentence.
    Text(String),
    /// A list.
    List(Vec<Value>),
    /// Keys and values in the order written.
    Map(Vec<(String, Value)>),
}

impl<'de> Deserialize<'de> for Value {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ValueVisitor(PhantomData))
    }
}

struct ValueVisitor(PhantomData<()>);

impl<'de> Visitor<'de> for ValueVisitor {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a word, a number, a list or keys with values")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Nothing)
    }

    fn visit_none<E>(self) -> Result<Value, E> {
        Ok(Value::Nothing)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(crate::num::float(value)))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(crate::num::float(i64::try_from(value).unwrap_or(i64::MAX))))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(Value::Number(value))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::Text(value.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element()? {
            list.push(item);
        }
        Ok(Value::List(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut map: Vec<(String, Value)> = Vec::new();
        while let Some((key, value)) = entries.next_entry::<Value, Value>()? {
            let key = match key {
                Value::Text(key) => key,
                Value::Number(number) => number.to_string(),
                Value::Bool(word) => word.to_string(),
                Value::Nothing | Value::List(_) | Value::Map(_) => {
                    return Err(de::Error::custom("a key must be a word"));
                }
            };
            if map.iter().any(|(known, _)| *known == key) {
                return Err(de::Error::custom(format!("the key `{key}` is given twice")));
            }
            map.push((key, value));
        }
        Ok(Value::Map(map))
    }
}
