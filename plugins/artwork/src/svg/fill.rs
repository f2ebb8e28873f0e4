//! The words of a drawing filled in with what the order's fields say: `{name}` in its text.
//!
//! It is done in the file's text, before it is parsed for good, and looked at again afterwards: where the outcome is not
//! what was meant, as when a field is split by a change of style, the drawing is refused. Words that grow beyond the page
//! would be cut off, and are refused too.

use std::collections::{BTreeMap, BTreeSet};

use resvg::usvg::roxmltree::{Document, Node};
use resvg::usvg::{Group, Node as Part, Tree};
use seamwright_fonts::as_xml;

use crate::contract::Fault;
use crate::contract::order::fill_in;

/// A drawing's text with its fields filled in.
pub(super) struct Filled {
    /// All of it.
    pub(super) text: String,
    /// What its texts that have fields are to read, without white space.
    texts: BTreeSet<String>,
    /// What all its texts are to read, in their order.
    all: Vec<String>,
}

/// Fills the fields in; nothing where there are none.
pub(super) fn filled(
    text: &str,
    document: &Document<'_>,
    fields: &BTreeMap<String, String>,
) -> Result<Option<Filled>, Fault> {
    let (mut all, mut texts) = (Vec::new(), BTreeSet::new());
    for whole in words(document) {
        let becomes = if has_field(&whole) {
            let becomes = fill_in(&whole, fields).map_err(|key| unfilled(&key))?;
            texts.insert(close(&becomes));
            becomes
        } else {
            whole
        };
        all.push(becomes);
    }
    if texts.is_empty() {
        return Ok(None);
    }
    let safe: BTreeMap<String, String> =
        fields.iter().map(|(key, value)| (key.clone(), as_xml(value))).collect();
    let (mut out, mut from) = (String::with_capacity(text.len()), 0);
    for node in document.root().descendants().filter(|node| node.is_text() && node.ancestors().any(is_words))
    {
        let range = node.range();
        let Some(raw) = text.get(range.clone()).filter(|raw| has_field(raw) && range.start >= from) else {
            continue;
        };
        out.push_str(text.get(from..range.start).unwrap_or_default());
        out.push_str(&fill_in(raw, &safe).map_err(|key| unfilled(&key))?);
        from = range.end;
    }
    out.push_str(text.get(from..).unwrap_or_default());
    Ok(Some(Filled { text: out, texts, all }))
}

impl Filled {
    /// Whether the drawing reads as it is meant to.
    pub(super) fn reads(&self, document: &Document<'_>) -> Result<(), Fault> {
        if words(document).eq(self.all.iter().cloned()) {
            return Ok(());
        }
        Err(Fault::artwork(
            "A field of the drawing cannot be filled in: it is split by a change of style, or written in a form of its own.",
            "Type it anew in the program it comes from, `{name}` in one go, and save it as plain SVG.",
        ))
    }

    /// Whether what was filled in lies on the page.
    pub(super) fn shows(&self, tree: &Tree) -> Result<(), Fault> {
        self.group_shows(tree.root(), [tree.size().width(), tree.size().height()])
    }

    fn group_shows(&self, group: &Group, [width, height]: [f32; 2]) -> Result<(), Fault> {
        for part in group.children() {
            match part {
                Part::Group(group) => self.group_shows(group, [width, height])?,
                Part::Text(text) => {
                    let words: String = text.chunks().iter().map(|chunk| chunk.text()).collect();
                    let ink = text.flattened().abs_stroke_bounding_box();
                    let within = ink.left() >= 0.0
                        && ink.top() >= 0.0
                        && ink.right() <= width
                        && ink.bottom() <= height;
                    if !within && self.texts.contains(&close(&words)) {
                        return Err(cut_off(&words));
                    }
                }
                Part::Path(_) | Part::Image(_) => {}
            }
        }
        Ok(())
    }
}

fn is_words(node: Node<'_, '_>) -> bool {
    node.tag_name().name() == "text"
}

/// What each text of a drawing reads.
fn words(document: &Document<'_>) -> impl Iterator<Item = String> {
    document
        .descendants()
        .filter(|node| is_words(*node))
        .map(|words| words.descendants().filter(Node::is_text).filter_map(|node| node.text()).collect())
}

fn has_field(text: &str) -> bool {
    fill_in(text, &BTreeMap::new()).is_err()
}

/// Without white space, which is set in other ways than it is written.
fn close(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

fn unfilled(key: &str) -> Fault {
    Fault::order(
        format!("The drawing wants the field `{key}`, which the order does not have."),
        format!(
            "Add it to the order, `fields: {{{key}: …}}`, or write `{{{{{key}}}}}` in the drawing if the braces are meant."
        ),
    )
}

fn cut_off(words: &str) -> Fault {
    let shown: String = words.chars().filter(|c| !c.is_control()).take(80).collect();
    Fault::order(
        format!("The words '{shown}' would reach beyond the drawing's page and be cut off."),
        "Make the letters of that text smaller in the drawing, or the field shorter.",
    )
}
