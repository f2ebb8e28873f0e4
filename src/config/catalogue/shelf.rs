//! Entries of one kind by name.

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::settings::{Node, Read, one_of};

/// Where an entry lies, and where its figures come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Provenance {
    pub(crate) home: Home,
    /// In the words of its file.
    pub(crate) origin: String,
}

/// Where an entry lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Home {
    /// With the program.
    Shipped,
    /// In the studio's own folders.
    Studio,
    /// There too, in place of a shipped one of that name.
    InPlace,
}

/// Entries of one kind by name.
#[derive(Debug, Clone)]
pub struct Shelf<T> {
    word: &'static str,
    entries: BTreeMap<String, T>,
    /// Of those that were read from a file.
    provenances: BTreeMap<String, Provenance>,
    /// Names whose file has mistakes that are told already.
    missing: BTreeSet<String>,
}

impl<T> Shelf<T> {
    /// An empty one; `word` is what people call such an entry.
    pub(super) const fn new(word: &'static str) -> Self {
        Self { word, entries: BTreeMap::new(), provenances: BTreeMap::new(), missing: BTreeSet::new() }
    }

    pub(super) fn put(&mut self, name: String, entry: T) {
        self.entries.insert(name, entry);
    }

    pub(super) fn comes_from(&mut self, name: &str, provenance: Provenance) {
        self.provenances.insert(name.to_owned(), provenance);
    }

    pub(super) fn miss(&mut self, name: String) {
        self.missing.insert(name);
    }

    /// The entry of a name.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&T> {
        self.entries.get(name)
    }

    /// Where an entry comes from.
    pub(crate) fn provenance(&self, name: &str) -> Option<&Provenance> {
        self.provenances.get(name)
    }

    /// All entries, in the order of their names.
    pub(crate) fn entries(&self) -> impl Iterator<Item = &T> {
        self.entries.values()
    }

    /// All names, in order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.entries.keys().map(String::as_str)
    }

    /// The entry named at a place; complains there, with the nearest known name, where there is none.
    pub(crate) fn find(&self, node: &Node<'_>) -> Option<&T> {
        node.names(&self.names().collect::<Vec<_>>());
        let name = String::read(node)?;
        self.get_or(&name, |what, cure| node.complain(what, cure))
    }

    /// The entry of a name that is the key of a place; complains there in the same way.
    pub(crate) fn known(&self, name: &str, node: &Node<'_>) -> Option<&T> {
        self.get_or(name, |what, cure| node.complain_of_key(what, cure))
    }

    fn get_or(&self, name: &str, complain: impl FnOnce(String, String)) -> Option<&T> {
        let found = self.get(name);
        if found.is_none() && !self.missing.contains(name) {
            let known: Vec<&str> = self.names().collect();
            complain(format!("there is no {} `{name}`", self.word), one_of(&known, Some(name)));
        }
        found
    }
}
