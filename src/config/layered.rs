//! Keys looked up in one text first and in another after it: the studio's configuration over the shipped one, a
//! sidecar over its folder's defaults. Each complaint stays with the text it belongs to.

use seamwright_contract::settings::{Fields, Node, Read};

/// One group of keys, in two texts.
#[derive(Debug)]
pub(crate) struct Layered<'a> {
    own: Fields<'a>,
    under: Fields<'a>,
}

impl<'a> Layered<'a> {
    /// `None` (with a complaint) where one of the two is no group of keys.
    pub(crate) fn new(own: &Node<'a>, under: &Node<'a>) -> Option<Self> {
        let (own, under) = (own.fields(), under.fields());
        Some(Self { own: own?, under: under? })
    }

    /// The value of a key, the upper text's where it has one.
    pub(crate) fn get(&mut self, key: &'static str) -> Option<Node<'a>> {
        let (own, under) = (self.own.get(key), self.under.get(key));
        own.or(under)
    }

    /// The value of a key that only the upper text may give.
    pub(crate) fn own(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.own.get(key)
    }

    /// The lower text's value of a key that only the upper one may give.
    pub(crate) fn under(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.under.get(key)
    }

    /// The same two, of a key that the program writes.
    pub(crate) fn own_unlisted(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.own.get_unlisted(key)
    }

    /// The lower text's.
    pub(crate) fn under_unlisted(&mut self, key: &'static str) -> Option<Node<'a>> {
        self.under.get_unlisted(key)
    }

    /// A typed value.
    pub(crate) fn read<T: Read>(&mut self, key: &'static str) -> Option<T> {
        T::read(&self.get(key)?)
    }

    /// One of a fixed set of words.
    pub(crate) fn choice<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        self.get(key)?.choice(words)
    }

    /// A group whose keys again come from either text.
    pub(crate) fn group(&mut self, key: &'static str) -> Option<Self> {
        match (self.own.get(key), self.under.get(key)) {
            (Some(own), Some(under)) => Self::new(&own, &under),
            (Some(only), None) | (None, Some(only)) => Self::new(&only, &only),
            (None, None) => None,
        }
    }

    /// The values of a group whose keys are not known beforehand, the upper text's where both give one.
    pub(crate) fn named(&mut self, key: &'static str) -> Vec<(&'a str, Node<'a>)> {
        let of = |fields: &mut Fields<'a>| fields.get(key).map(|node| node.named()).unwrap_or_default();
        let (mut named, under) = (of(&mut self.own), of(&mut self.under));
        for (name, node) in under {
            if !named.iter().any(|(known, _)| *known == name) {
                named.push((name, node));
            }
        }
        named
    }

    /// Complains of every key nobody asked for.
    pub(crate) fn finish(self) {
        self.own.finish();
        self.under.finish();
    }
}
