//! What settings are asked for while they are read: the reading code's own account of the forms it knows.
//!
//! A form is described by nothing but the code that reads it. Whoever wants to know its keys, kinds and words has texts
//! read and listens ([`Complaints::listening`](super::Complaints::listening)); what is heard over all of them is the form.
//! So no key can be read that is missing in a description, and no description can outlive its key.

/// Something that was asked at a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// The way to the place: `size.width`, `stages.0.resize`.
    pub way: String,
    /// What was asked.
    pub asked: Asked,
}

/// What was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// Whether there is such a key.
    Key(&'static str),
    /// For a key that must be there.
    Needed(&'static str),
    /// Whether it is this very word.
    Word(&'static str),
    /// For a value of a kind.
    Kind(Kind),
}

/// Of what kind a value may be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    /// Keys that are known.
    Group,
    /// Keys of the maker's own, all with values of one kind.
    Named,
    /// A list, or one item alone.
    Items,
    /// A word, or a word with its settings.
    Step(Vec<String>),
    /// One of these words.
    Words(Vec<String>),
    /// One of the things of a studio; these are there without its doing.
    Known(Vec<String>),
    /// A whole number from 0.
    Whole,
    /// Any number.
    Number,
    /// Any word or sentence.
    Text,
    /// A text that looks so.
    Like(Look),
}

/// How a text looks that can be read: less than all that reading it looks at, and never more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// A regular expression (ECMA-262) over the whole text.
    pub pattern: &'static str,
    /// Some that can be read.
    pub examples: &'static [&'static str],
}
