//! What is another on each article of a kind: names, dates, numbers, by keys of the maker's own. The order only carries
//! them; they are texts as written, for on the goods `1.50` is not `1.5`.

use std::collections::BTreeMap;

use seamwright_contract::order::is_field;
use seamwright_contract::settings::{Node, Read as _, Value};

use crate::config::Layered;
use crate::config::yaml::FIELDS;

/// The most of them in an order.
const MOST: usize = 100;

/// The longest text and the longest key, in characters.
const LONGEST: usize = 200;
const LONGEST_KEY: usize = 40;

/// Reads them, key by key from the sidecar and below it from the folder's defaults; `None` with complaints.
pub(super) fn read(keys: &mut Layered<'_>) -> Option<BTreeMap<String, String>> {
    let named = keys.named(FIELDS);
    if named.len() > MOST {
        let (_, beyond) = named.get(MOST)?;
        beyond.complain(
            format!("the order has {} fields", named.len()),
            format!("Keep it to {MOST}: one for each text that is another on each article."),
        );
        return None;
    }
    let field = |(key, node): (&str, Node<'_>)| Some((good_key(key, &node)?, text(&node)?));
    // All are read, so that every mistake is found.
    let fields: Vec<_> = named.into_iter().map(field).collect();
    fields.into_iter().collect()
}

fn good_key(key: &str, node: &Node<'_>) -> Option<String> {
    if is_key(key) {
        return Some(key.to_owned());
    }
    node.complain(
        "this is no name for a field",
        format!(
            "Begin it with a small letter from a to z, and go on with those, digits, `_` and `-`, {LONGEST_KEY} at most."
        ),
    );
    None
}

/// Whether a word may name a field.
pub(super) fn is_key(word: &str) -> bool {
    is_field(word) && word.len() <= LONGEST_KEY
}

fn text(node: &Node<'_>) -> Option<String> {
    let text = if *node.value() == Value::Nothing { String::new() } else { String::read(node)? };
    match trouble(&text) {
        None => Some(text),
        Some((what, cure)) => {
            node.complain(what, cure);
            None
        }
    }
}

/// What is wrong with a field's text, and the cure.
fn trouble(text: &str) -> Option<(String, String)> {
    let length = text.chars().count();
    if length > LONGEST {
        return Some((
            format!("the text has {length} characters"),
            format!("Keep a field to {LONGEST} characters."),
        ));
    }
    // Others are refused with the file.
    text.chars().any(char::is_control).then(|| {
        ("the text holds a line break, a tab or the like".to_owned(), "Write it in one line.".to_owned())
    })
}
