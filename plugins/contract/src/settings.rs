//! YAML to types, all mistakes at once: what was typed goes in, what the program runs on comes out.
//!
//! Nothing past this module sees untyped settings. A key is asked for by name and type; what is missing, of the
//! wrong kind or unknown becomes a [`Complaint`] with its key and a cure, and reading goes on, so that one look
//! finds every mistake. Positions are added by whoever holds the text ([`Complaint::key`] leads there).

use std::cell::RefCell;
use std::fmt;
use std::marker::PhantomData;
use std::str::FromStr;

use serde::de::{self, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};

use crate::units::{Bytes, Length, Ppi, Seconds, Temperature};

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

/// One mistake in settings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    /// The way to the key: `size.width`, `stages.0.resize.ppi`. Empty for the whole text.
    pub key: String,
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub cure: String,
}

/// The most mistakes that are told at once. A text with more of them is another kind of text, and a few tell that too.
const MOST_COMPLAINTS: usize = 40;

/// The mistakes found so far.
#[derive(Debug, Default)]
pub struct Complaints(RefCell<Vec<Complaint>>);

impl Complaints {
    /// None yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds one, unless there are so many already that nobody reads on.
    pub fn add(&self, key: impl Into<String>, what: impl Into<String>, cure: impl Into<String>) {
        let mut complaints = self.0.borrow_mut();
        if complaints.len() < MOST_COMPLAINTS {
            complaints.push(Complaint { key: key.into(), what: what.into(), cure: cure.into() });
        }
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.borrow().is_empty()
    }

    /// All of them, in the order found.
    #[must_use]
    pub fn into_list(self) -> Vec<Complaint> {
        self.0.into_inner()
    }
}

/// A value with the way that led to it.
#[derive(Debug, Clone)]
pub struct Node<'a> {
    path: String,
    value: &'a Value,
    complaints: &'a Complaints,
}

impl<'a> Node<'a> {
    /// The root of a text.
    #[must_use]
    pub const fn root(value: &'a Value, complaints: &'a Complaints) -> Self {
        Self { path: String::new(), value, complaints }
    }

    /// The way to it.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// The value itself.
    #[must_use]
    pub const fn value(&self) -> &'a Value {
        self.value
    }

    /// Notes a mistake at this place.
    pub fn complain(&self, what: impl Into<String>, cure: impl Into<String>) {
        self.complaints.add(self.path.clone(), what, cure);
    }

    fn child(&self, key: &str, value: &'a Value) -> Self {
        let path = if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) };
        Self { path, value, complaints: self.complaints }
    }

    /// The same place with another value, as where a name stands for what lies in a file.
    #[must_use]
    pub fn holding<'b>(&self, value: &'b Value) -> Node<'b>
    where
        'a: 'b,
    {
        Node { path: self.path.clone(), value, complaints: self.complaints }
    }

    /// Its keys; nothing at all counts as no keys. `None` (with a complaint) where it is something else.
    #[must_use]
    pub fn fields(&self) -> Option<Fields<'a>> {
        let entries: &[(String, Value)] = match self.value {
            Value::Map(entries) => entries,
            Value::Nothing => &[],
            other => {
                self.complain(
                    format!("{} stands where keys are expected", show(other)),
                    "Write `key: value` lines here.",
                );
                return None;
            }
        };
        Some(Fields { node: self.clone(), entries, asked: Vec::new() })
    }

    /// Its items; one value alone counts as a list of one.
    #[must_use]
    pub fn items(&self) -> Vec<Self> {
        match self.value {
            Value::List(items) => {
                items.iter().enumerate().map(|(i, item)| self.child(&i.to_string(), item)).collect()
            }
            Value::Nothing => Vec::new(),
            Value::Bool(_) | Value::Number(_) | Value::Text(_) | Value::Map(_) => vec![self.clone()],
        }
    }

    /// Its values with their keys, where the keys are names that are not known beforehand.
    #[must_use]
    pub fn named(&self) -> Vec<(&'a str, Self)> {
        let Some(fields) = self.fields() else { return Vec::new() };
        fields.entries.iter().map(|(name, value)| (name.as_str(), self.child(name, value))).collect()
    }

    /// A step as lists of steps have it: a word alone, or one word with its settings (`{overlap: {lap: 5mm}}`).
    /// The node is the one of the settings, nothing where there are none.
    #[must_use]
    pub fn step(&self) -> Option<(&'a str, Self)> {
        match self.value {
            Value::Text(word) => Some((word, Self { value: &Value::Nothing, ..self.clone() })),
            Value::Map(entries) if let [(word, settings)] = &entries[..] => {
                Some((word, self.child(word, settings)))
            }
            other => {
                self.complain(
                    format!("{} stands where one step is expected", show(other)),
                    "Write one word an item, or `{word: {key: value}}`.",
                );
                None
            }
        }
    }

    /// One of a fixed set of words.
    #[must_use]
    pub fn choice<T: Copy>(&self, words: &[(&str, T)]) -> Option<T> {
        let typed = word(self.value);
        if let Some((_, value)) = words.iter().find(|(name, _)| Some(*name) == typed.as_deref()) {
            return Some(*value);
        }
        let known: Vec<&str> = words.iter().map(|(name, _)| *name).collect();
        self.complain(
            format!("{} is not one of the words known here", show(self.value)),
            one_of(&known, typed.as_deref()),
        );
        None
    }
}

/// A value as one plain word, if it is one.
fn word(value: &Value) -> Option<String> {
    match value {
        Value::Text(text) => Some(text.clone()),
        Value::Bool(yes) => Some(yes.to_string()),
        Value::Number(number) => Some(number.to_string()),
        Value::Nothing | Value::List(_) | Value::Map(_) => None,
    }
}

fn show(value: &Value) -> String {
    match value {
        Value::Nothing => "nothing".to_owned(),
        Value::List(_) => "a list".to_owned(),
        Value::Map(_) => "a group of keys".to_owned(),
        Value::Text(_) | Value::Bool(_) | Value::Number(_) => {
            format!("'{}'", word(value).unwrap_or_default())
        }
    }
}

/// The keys of one group, each to be asked for once; [`Fields::finish`] reports what nobody asked for.
#[derive(Debug)]
pub struct Fields<'a> {
    node: Node<'a>,
    entries: &'a [(String, Value)],
    asked: Vec<&'static str>,
}

impl<'a> Fields<'a> {
    /// The group itself, for complaints about it as a whole.
    #[must_use]
    pub const fn node(&self) -> &Node<'a> {
        &self.node
    }

    /// The value of a key, if it is there and not empty.
    pub fn get(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.asked.push(key);
        let (_, value) = self.entries.iter().find(|(name, value)| name == key && *value != Value::Nothing)?;
        Some(self.node.child(key, value))
    }

    /// A typed value, if the key is there and readable.
    pub fn optional<T: Read>(&mut self, key: &'static str) -> Option<T> {
        T::read(&self.get(key)?)
    }

    /// A typed value, or `default` where the key is not there.
    pub fn or<T: Read>(&mut self, key: &'static str, default: T) -> T {
        self.optional(key).unwrap_or(default)
    }

    /// A typed value that must be there; `example` shows how it is written.
    pub fn required<T: Read>(&mut self, key: &'static str, example: &str) -> Option<T> {
        let Some(node) = self.get(key) else {
            self.node.complain(format!("the key `{key}` is missing"), format!("Add `{key}: {example}`."));
            return None;
        };
        T::read(&node)
    }

    /// One of a fixed set of words, or `default` where the key is not there.
    pub fn choice_or<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)], default: T) -> T {
        self.get(key).and_then(|node| node.choice(words)).unwrap_or(default)
    }

    /// Complains of every key that was not asked for, naming the nearest that was.
    pub fn finish(self) {
        for (key, value) in self.entries {
            if !self.asked.contains(&key.as_str()) {
                let node = self.node.child(key, value);
                node.complain(format!("the key `{key}` is not known here"), one_of(&self.asked, Some(key)));
            }
        }
    }
}

/// The cure for a word that is not known: the nearest known one first, then all.
#[must_use]
pub fn one_of(known: &[&str], typed: Option<&str>) -> String {
    let list = known.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
    match typed.and_then(|typed| nearest(known, typed)) {
        Some(near) => format!("Did you mean `{near}`? Known: {list}."),
        None if known.is_empty() => "Leave it out.".to_owned(),
        None => format!("Known: {list}."),
    }
}

/// The known word that looks most like what was typed, if any looks like it at all.
#[must_use]
pub fn nearest<'k>(known: &[&'k str], typed: &str) -> Option<&'k str> {
    let typed = typed.to_lowercase();
    known
        .iter()
        .map(|name| (strsim::normalized_damerau_levenshtein(&name.to_lowercase(), &typed), *name))
        .filter(|(likeness, _)| *likeness >= 0.5)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// A type that can be read from one value.
pub trait Read: Sized {
    /// The value, or `None` after complaining.
    fn read(node: &Node<'_>) -> Option<Self>;
}

impl Read for String {
    fn read(node: &Node<'_>) -> Option<Self> {
        let text = word(node.value());
        if text.is_none() {
            node.complain(
                format!("{} stands where a word is expected", show(node.value())),
                "Write a single word or a quoted sentence.",
            );
        }
        text
    }
}

impl Read for bool {
    fn read(node: &Node<'_>) -> Option<Self> {
        if let Value::Bool(yes) = node.value() {
            return Some(*yes);
        }
        node.choice(&[("yes", true), ("no", false), ("true", true), ("false", false)])
    }
}

impl Read for u32 {
    fn read(node: &Node<'_>) -> Option<Self> {
        let count = match node.value() {
            Value::Number(number) if number.fract() == 0.0 && (0.0..=4_294_967_295.0).contains(number) => {
                Some(crate::num::pixels(*number))
            }
            _ => None,
        };
        if count.is_none() {
            node.complain(
                format!("{} is not a whole number", show(node.value())),
                "Write a whole number such as 1.",
            );
        }
        count
    }
}

impl Read for f64 {
    fn read(node: &Node<'_>) -> Option<Self> {
        match node.value() {
            Value::Number(number) if number.is_finite() => Some(*number),
            other => {
                node.complain(format!("{} is not a number", show(other)), "Write a number such as 0.5.");
                None
            }
        }
    }
}

impl Read for Ppi {
    fn read(node: &Node<'_>) -> Option<Self> {
        let ppi = f64::read(node)?;
        let ppi = Self::new(ppi).filter(|ppi| (1.0..=4800.0).contains(&ppi.get()));
        if ppi.is_none() {
            node.complain(
                format!("{} pixels per inch cannot be", show(node.value())),
                "Write a number from 1 to 4800, such as 300.",
            );
        }
        ppi
    }
}

macro_rules! read_from_str {
    ($($kind:ty, $example:literal);*) => {$(
        impl Read for $kind {
            fn read(node: &Node<'_>) -> Option<Self> {
                let typed = String::read(node)?;
                match <$kind>::from_str(&typed) {
                    Ok(value) => Some(value),
                    Err(why) => {
                        let why = why.to_string();
                        // Most reasons end in their cure.
                        match why.split_once("; ") {
                            Some((what, cure)) => node.complain(what, sentence(cure)),
                            None => node.complain(why, concat!("Write for example `", $example, "`.")),
                        }
                        None
                    }
                }
            }
        }
    )*};
}

/// With a capital letter and a full stop.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

read_from_str!(Bytes, "1GiB"; Length, "12.5in"; Temperature, "390F"; Seconds, "60s");

/// A range as written `375-390F` or `35-70s`, or one value for both ends; the unit may stand once at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Range<T> {
    /// The lower end.
    pub low: T,
    /// The upper end, not below the lower.
    pub high: T,
}

impl<T: FromStr + PartialOrd + Copy> Read for Range<T>
where
    T::Err: fmt::Display,
{
    fn read(node: &Node<'_>) -> Option<Self> {
        let typed = String::read(node)?;
        let (low, high) = typed.split_once('-').unwrap_or((&typed, &typed));
        let unit: String = high.trim().chars().skip_while(|c| !c.is_alphabetic()).collect();
        let low = if low.contains(char::is_alphabetic) {
            low.trim().to_owned()
        } else {
            format!("{}{unit}", low.trim())
        };
        match (low.parse::<T>(), high.trim().parse::<T>()) {
            (Ok(low), Ok(high)) if low <= high => Some(Self { low, high }),
            (Ok(_), Ok(_)) => {
                node.complain(format!("'{typed}' runs downwards"), "Write the lower value first.");
                None
            }
            (Err(why), _) | (_, Err(why)) => {
                node.complain(
                    why.to_string(),
                    "Write a range with its unit, such as `375-390F` or `35-70s`.",
                );
                None
            }
        }
    }
}
