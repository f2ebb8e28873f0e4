//! YAML to types, all mistakes at once: what was typed goes in, what the program runs on comes out.
//!
//! Nothing past this module sees untyped settings. A key is asked for by name and type; what is missing, of the
//! wrong kind or unknown becomes a [`Complaint`] with its key and a cure, and reading goes on, so that one look
//! finds every mistake. Positions are added by whoever holds the text ([`Complaint::key`] leads there).

pub mod heard;
mod read;
mod value;

use std::cell::RefCell;

use heard::{Asked, Heard, Kind, Look};
pub use read::{DISTANCE, Range, Ranged, Read};
pub use value::Value;

/// What of a place a complaint is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Its key.
    Key,
    /// What stands there.
    Value,
    /// The group of keys there, as a whole: what is missing in it has no place of its own.
    Group,
}

/// One mistake in settings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    /// The way to the key: `size.width`, `stages.0.resize.ppi`. Empty for the whole text.
    pub key: String,
    /// What of it is meant.
    pub part: Part,
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub cure: String,
}

/// The most mistakes that are told at once. A text with more of them is another kind of text, and a few tell that too.
const MOST_COMPLAINTS: usize = 40;

/// The mistakes found so far.
#[derive(Debug, Default)]
pub struct Complaints {
    found: RefCell<Vec<Complaint>>,
    /// What was asked for, if somebody listens.
    heard: Option<RefCell<Vec<Heard>>>,
}

impl Complaints {
    /// None yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// None yet, for one who listens what is asked for.
    #[must_use]
    pub fn listening() -> Self {
        Self { heard: Some(RefCell::default()), ..Self::default() }
    }

    /// Adds one, unless there are so many already that nobody reads on.
    pub fn add(&self, key: impl Into<String>, part: Part, what: impl Into<String>, cure: impl Into<String>) {
        let mut complaints = self.found.borrow_mut();
        if complaints.len() < MOST_COMPLAINTS {
            complaints.push(Complaint { key: key.into(), part, what: what.into(), cure: cure.into() });
        }
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.found.borrow().is_empty()
    }

    /// All of them, in the order found.
    #[must_use]
    pub fn into_list(self) -> Vec<Complaint> {
        self.found.into_inner()
    }

    /// What was asked for, in that order; nothing where nobody listened.
    #[must_use]
    pub fn into_heard(self) -> Vec<Heard> {
        self.heard.map(RefCell::into_inner).unwrap_or_default()
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

    /// Notes a mistake in what stands at this place.
    pub fn complain(&self, what: impl Into<String>, cure: impl Into<String>) {
        self.complaints.add(self.path.clone(), Part::Value, what, cure);
    }

    /// Notes what is wrong with the group of keys here as a whole.
    pub fn complain_of_all(&self, what: impl Into<String>, cure: impl Into<String>) {
        self.complaints.add(self.path.clone(), Part::Group, what, cure);
    }

    /// Notes a mistake in the key of this place.
    pub fn complain_of_key(&self, what: impl Into<String>, cure: impl Into<String>) {
        self.complaints.add(self.path.clone(), Part::Key, what, cure);
    }

    /// Notes that what stands here cannot be read. Most reasons end in their cure, after a semicolon.
    pub fn complain_of_look(&self, why: &str, otherwise: &str) {
        match why.split_once("; ") {
            Some((what, cure)) => self.complain(what, sentence(cure)),
            None => self.complain(why, otherwise),
        }
    }

    /// Lets one who listens know what is asked for here.
    fn ask(&self, asked: Asked) {
        if let Some(heard) = &self.complaints.heard {
            heard.borrow_mut().push(Heard { way: self.path.clone(), asked });
        }
    }

    /// Says that a text is wanted here that looks so, before one looks closer.
    pub fn looks(&self, look: Look) {
        self.ask(Asked::Kind(Kind::Like(look)));
    }

    /// Says that one of the things of a studio is wanted here; `known` are those there are.
    pub fn names(&self, known: &[&str]) {
        self.ask(Asked::Kind(Kind::Known(owned(known))));
    }

    /// Whether it is this very word.
    #[must_use]
    pub fn says(&self, word: &'static str) -> bool {
        self.ask(Asked::Word(word));
        matches!(self.value, Value::Text(text) if text == word)
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
        self.ask(Asked::Kind(Kind::Group));
        self.entries()
    }

    fn entries(&self) -> Option<Fields<'a>> {
        let entries: &[(String, Value)] = match self.value {
            Value::Map(entries) => entries,
            Value::Nothing => &[],
            other => {
                self.complain(format!("{} stands where keys are expected", show(other)), self.as_keys(other));
                return None;
            }
        };
        Some(Fields {
            node: self.clone(),
            entries,
            asked: Vec::new(),
            known: Vec::new(),
            missing: Vec::new(),
        })
    }

    /// The cure for what is no group of keys.
    fn as_keys(&self, value: &Value) -> String {
        let key = |word: &str| word.chars().all(|c| c.is_ascii_lowercase() || c == '_');
        match value {
            Value::Text(text) if self.path.is_empty() && !text.contains('\n') => text.split_once(' '),
            _ => None,
        }
        .filter(|(word, _)| key(word))
        .map_or_else(
            || "Write `key: value` lines here.".to_owned(),
            |(word, rest)| format!("Write a colon and a space after the key: `{word}: {rest}`."),
        )
    }

    /// Its items; one value alone counts as a list of one.
    #[must_use]
    pub fn items(&self) -> Vec<Self> {
        self.ask(Asked::Kind(Kind::Items));
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
        self.ask(Asked::Kind(Kind::Named));
        let Some(fields) = self.entries() else { return Vec::new() };
        fields.entries.iter().map(|(name, value)| (name.as_str(), self.child(name, value))).collect()
    }

    /// A step as lists of steps have it: a word alone, or one word with its settings (`{overlap: {lap: 5mm}}`).
    /// The node is the one of the settings, nothing where there are none. `kind` is what people call such a step, `known`
    /// are those there are.
    #[must_use]
    pub fn step(&self, kind: &str, known: &[&str]) -> Option<(&'a str, Self)> {
        self.ask(Asked::Kind(Kind::Step(owned(known))));
        let (word, settings, part) = match self.value {
            Value::Text(word) => (word, &Value::Nothing, Part::Value),
            Value::Map(entries) if let [(word, settings)] = &entries[..] => (word, settings, Part::Key),
            other => {
                self.complain(
                    format!("{} stands where one {kind} is expected", show(other)),
                    format!("Write one word an item, or `- word: {{key: value}}`. {}", one_of(known, None)),
                );
                return None;
            }
        };
        let settings = self.child(word, settings);
        if known.contains(&word.as_str()) {
            return Some((word, settings));
        }
        let what = format!("there is no {kind} `{word}`");
        match (part, list_of(known, word)) {
            (Part::Key, _) => settings.complain_of_key(what, one_of(known, Some(word))),
            (_, Some(list)) => self.complain(what, list),
            (_, None) => self.complain(what, one_of(known, Some(word))),
        }
        None
    }

    /// One of a fixed set of words.
    #[must_use]
    pub fn choice<T: Copy>(&self, words: &[(&str, T)]) -> Option<T> {
        self.choice_telling(words, words.len())
    }

    /// The same, where a cure names only so many of the words: the others are taken too.
    fn choice_telling<T: Copy>(&self, words: &[(&str, T)], told: usize) -> Option<T> {
        let all: Vec<&str> = words.iter().map(|(name, _)| *name).collect();
        self.ask(Asked::Kind(Kind::Words(owned(&all))));
        let typed = word(self.value);
        if let Some((_, value)) = words.iter().find(|(name, _)| Some(*name) == typed.as_deref()) {
            return Some(*value);
        }
        self.complain(
            format!("{} is not one of the words known here", show(self.value)),
            one_of(all.get(..told).unwrap_or(&all), typed.as_deref()),
        );
        None
    }
}

fn owned(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
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
    /// Those of them that people write.
    known: Vec<&'static str>,
    /// Keys that must be there and are not, each with its cure.
    missing: Vec<(&'static str, String)>,
}

impl<'a> Fields<'a> {
    /// Notes what is wrong with the group as a whole.
    pub fn complain(&self, what: impl Into<String>, cure: impl Into<String>) {
        self.node.complain_of_all(what, cure);
    }

    /// All of the group.
    #[must_use]
    pub const fn value(&self) -> &'a Value {
        self.node.value
    }

    /// The value of a key, if it is there and not empty.
    pub fn get(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.known.push(key);
        self.get_unlisted(key)
    }

    /// The same of a key that the program writes: nobody is told of it who looks for a key.
    pub fn get_unlisted(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.node.ask(Asked::Key(key));
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
        T::read(&self.must(key, || format!("Add `{key}: {example}`."))?)
    }

    /// The value of a key that must be there; the cure is to add it.
    pub fn must(&mut self, key: &'static str, cure: impl FnOnce() -> String) -> Option<Node<'a>> {
        self.node.ask(Asked::Needed(key));
        let node = self.get(key);
        if node.is_none() {
            self.missing.push((key, cure()));
        }
        node
    }

    /// One of a fixed set of words, or `default` where the key is not there.
    pub fn choice_or<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)], default: T) -> T {
        self.get(key).and_then(|node| node.choice(words)).unwrap_or(default)
    }

    /// Complains of every key that was not asked for, naming the nearest that was, and of every key that is missing and was
    /// not meant by one of them.
    pub fn finish(self) {
        let unknown = || self.entries.iter().filter(|(key, _)| !self.asked.contains(&key.as_str()));
        for (key, cure) in &self.missing {
            if !unknown().any(|(typed, _)| nearest(&self.known, typed) == Some(key)) {
                self.complain(format!("the key `{key}` is missing"), cure);
            }
        }
        for (key, value) in unknown() {
            self.node.complaints.add(
                self.node.child(key, value).path,
                Part::Key,
                format!("the key `{key}` is not known here"),
                self.astray(key).unwrap_or_else(|| one_of(&self.known, Some(key))),
            );
        }
    }

    /// The cure for an unknown key that stands below an empty one, unless it is nearly a known one: it was meant to stand
    /// in that.
    fn astray(&self, key: &str) -> Option<String> {
        if nearest(&self.known, key).is_some() {
            return None;
        }
        let before = self.entries.iter().take_while(|(name, _)| name != key);
        let (above, value) = before.filter(|(name, _)| self.asked.contains(&name.as_str())).last()?;
        let empty = *value == Value::Nothing;
        empty.then(|| format!("If it belongs to `{above}`, put two spaces before it; if not, take it out."))
    }
}

/// The most words that are listed where one of them is likely meant, and the most that are named beside that one.
const MOST_LISTED: usize = 6;
const MOST_LIKE: usize = 2;

/// The cure for a word that is not known: the nearest known one, with all of them where they are few. Many are listed only
/// where none is near.
#[must_use]
pub fn one_of(known: &[&str], typed: Option<&str>) -> String {
    let all = listed(known);
    match typed.map(|typed| near(known, typed)).as_deref() {
        Some([nearest, ..]) if known.len() <= MOST_LISTED => {
            format!("Did you mean `{nearest}`? Known: {all}.")
        }
        Some([nearest]) => format!("Did you mean `{nearest}`?"),
        Some([nearest, others @ ..]) => {
            let others = others.get(..MOST_LIKE).unwrap_or(others);
            format!("Did you mean `{nearest}`? Or {}?", listed(others))
        }
        _ if known.is_empty() => "Leave it out.".to_owned(),
        _ => format!("Known: {all}."),
    }
}

fn listed(words: &[&str]) -> String {
    words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}

/// The cure where several known words stand in one text.
#[must_use]
pub fn list_of(known: &[&str], typed: &str) -> Option<String> {
    let words = typed.split([',', ' ', '\n']).map(str::trim).filter(|word| !word.is_empty());
    let words: Vec<&str> = words.collect();
    let all = words.len() > 1 && words.iter().all(|word| known.contains(word));
    all.then(|| format!("Write them as a list: `[{}]`.", words.join(", ")))
}

/// With a capital letter and a full stop.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

/// The known word that looks most like what was typed, if any looks like it at all.
#[must_use]
pub fn nearest<'k>(known: &[&'k str], typed: &str) -> Option<&'k str> {
    near(known, typed).first().copied()
}

/// The known words that look like what was typed, the nearest first.
fn near<'k>(known: &[&'k str], typed: &str) -> Vec<&'k str> {
    let typed = typed.to_lowercase();
    let likeness = |name: &&'k str| {
        let lower = name.to_lowercase();
        let likeness = strsim::normalized_damerau_levenshtein(&lower, &typed);
        let begun = typed.len() > 2 && lower.starts_with(&typed);
        // Among those that are as near, the one of the same pieces in another order.
        (likeness >= 0.5 || begun).then(|| (likeness, strsim::sorensen_dice(&lower, &typed), *name))
    };
    let mut near: Vec<_> = known.iter().filter_map(likeness).collect();
    near.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)));
    near.into_iter().map(|(_, _, name)| name).collect()
}
