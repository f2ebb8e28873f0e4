//! What a form looks like, by all that was asked of texts while they were read.

use std::collections::BTreeSet;

use seamwright_contract::settings::heard::{Asked, Heard, Kind};
use seamwright_contract::settings::{Complaints, Node, Value};

/// One place of a form, and all below it.
#[derive(Debug, Default)]
pub(super) struct Sketch {
    /// What may stand there.
    pub(super) kinds: Vec<Kind>,
    /// Words that may stand there instead.
    pub(super) words: Vec<&'static str>,
    /// What stands under keys that are known, in the order in which they are asked for.
    pub(super) keys: Vec<(String, Sketch)>,
    /// The keys that must be there.
    pub(super) needed: BTreeSet<&'static str>,
    /// What stands under keys of the maker's own, with one of them.
    pub(super) named: Option<(String, Box<Sketch>)>,
    /// What each item is, where it may be a list.
    pub(super) items: Option<Box<Sketch>>,
}

/// A step on the way to a place: a key, or the first item of a list.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    Key(String),
    Item,
}

/// Whatever may stand anywhere, to be read at every place: who reads it asks on, by what it finds.
fn samples() -> [Value; 6] {
    let word = || Value::Text("word".to_owned());
    [
        word(),
        Value::Number(0.5),
        Value::Number(2.0),
        Value::Bool(true),
        Value::List(vec![word()]),
        Value::Map(Vec::new()),
    ]
}

impl Sketch {
    /// Listens while all `examples` are read, and then while each place that was heard of holds one thing after the other,
    /// until nothing new is heard. An example is needed only for what is asked for no sooner than another key says
    /// something in particular.
    pub(super) fn of(examples: &[Value], read: &dyn Fn(&Node<'_>)) -> Self {
        let mut sketch = Self::default();
        for example in examples {
            sketch.listen(example, read);
        }
        let mut tried = BTreeSet::new();
        loop {
            let mut ways = Vec::new();
            sketch.ways(&mut Vec::new(), &mut ways);
            ways.retain(|way| tried.insert(way.clone()));
            if ways.is_empty() {
                return sketch;
            }
            for way in &ways {
                // The example that goes furthest that way has what stands round it.
                let nearest = examples.iter().max_by_key(|example| reach(example, way));
                for sample in samples() {
                    sketch.listen(&with(nearest.unwrap_or(&Value::Nothing), way, sample), read);
                }
            }
        }
    }

    fn listen(&mut self, value: &Value, read: &dyn Fn(&Node<'_>)) {
        let complaints = Complaints::listening();
        read(&Node::root(value, &complaints));
        let mut taken = BTreeSet::new();
        for Heard { way, asked } in complaints.into_heard() {
            let place = self.at(&way);
            match asked {
                Asked::Key(key) => drop(place.key(key)),
                Asked::Needed(key) => {
                    place.needed.insert(key);
                    let _asked = place.key(key);
                }
                Asked::Word(word) => {
                    let place = place.item();
                    if !place.words.contains(&word) {
                        place.words.push(word);
                    }
                }
                Asked::Kind(Kind::Items) => drop(place.items.get_or_insert_default()),
                // What is read further of the same value only looks closer at it.
                Asked::Kind(kind) => {
                    let place = place.item();
                    if taken.insert(way) && !place.kinds.contains(&kind) {
                        place.kinds.push(kind);
                    }
                }
            }
        }
    }

    /// The place a way leads to.
    fn at(&mut self, way: &str) -> &mut Self {
        let mut place = self;
        for step in way.split('.').filter(|step| !step.is_empty()) {
            let numbered = step.bytes().all(|byte| byte.is_ascii_digit());
            let in_list = place.items.is_some();
            place = place.item();
            if in_list && numbered {
                continue;
            }
            place = if place.kinds.contains(&Kind::Named) {
                &mut place.named.get_or_insert_with(|| (step.to_owned(), Box::default())).1
            } else {
                place.key(step)
            };
        }
        place
    }

    /// One item, where it may be a list: an item alone is the same.
    fn item(&mut self) -> &mut Self {
        if self.items.is_none() { self } else { self.items.get_or_insert_default() }
    }

    fn key(&mut self, key: &str) -> &mut Self {
        let place = self.item();
        let at = match place.keys.iter().position(|(known, _)| known == key) {
            Some(at) => at,
            None => {
                place.keys.push((key.to_owned(), Self::default()));
                place.keys.len() - 1
            }
        };
        &mut place.keys[at].1
    }

    /// Every way there is.
    fn ways(&self, way: &mut Vec<Step>, found: &mut Vec<Vec<Step>>) {
        let mut below = |step: Step, place: &Self| {
            way.push(step);
            found.push(way.clone());
            place.ways(way, found);
            way.pop();
        };
        if let Some(items) = &self.items {
            below(Step::Item, items);
        }
        if let Some((name, named)) = &self.named {
            below(Step::Key(name.clone()), named);
        }
        for (key, place) in &self.keys {
            below(Step::Key(key.clone()), place);
        }
    }
}

/// How many steps of a way an example has.
fn reach(example: &Value, way: &[Step]) -> usize {
    let next = match (example, way.first()) {
        (Value::Map(entries), Some(Step::Key(key))) => {
            entries.iter().filter(|(known, _)| known == key).map(|(_, value)| value).collect()
        }
        // Any of the items may go further.
        (Value::List(items), Some(Step::Item)) => items.iter().collect(),
        _ => Vec::new(),
    };
    let rest = way.get(1..).unwrap_or_default();
    next.into_iter().map(|value| 1 + reach(value, rest)).max().unwrap_or(0)
}

/// An example with something else at the end of a way.
fn with(example: &Value, way: &[Step], value: Value) -> Value {
    let Some((step, rest)) = way.split_first() else { return value };
    match (step, example) {
        (Step::Key(key), example) => {
            let mut entries = match example {
                Value::Map(entries) => entries.clone(),
                _ => Vec::new(),
            };
            match entries.iter_mut().find(|(known, _)| known == key) {
                Some((_, known)) => *known = with(known, rest, value),
                None => entries.push((key.clone(), with(&Value::Nothing, rest, value))),
            }
            Value::Map(entries)
        }
        (Step::Item, Value::List(items)) => {
            let nearest = items.iter().max_by_key(|item| reach(item, rest));
            Value::List(vec![with(nearest.unwrap_or(&Value::Nothing), rest, value)])
        }
        (Step::Item, alone) => Value::List(vec![with(alone, rest, value)]),
    }
}
