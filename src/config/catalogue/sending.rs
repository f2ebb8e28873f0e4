//! `send_to` of a printer: where its sheets go and what it is told.

use std::collections::BTreeMap;

use hyper::Uri;
use seamwright_contract::catalogue::PaperSize;
use seamwright_contract::sending::{Print, Quality, SendTo, Way};
use seamwright_contract::settings::{Fields, Node, Read as _, one_of};

/// The longest word that printers know (RFC 8011, 5.1.4).
const LONGEST_WORD: usize = 255;

const QUALITIES: [(&str, Quality); 3] =
    [("draft", Quality::Draft), ("normal", Quality::Normal), ("high", Quality::High)];

/// Reads it; `papers` are those the printer takes.
pub(super) fn send_to(node: &Node<'_>, papers: Option<&[PaperSize]>) -> Option<SendTo> {
    let mut fields = node.fields()?;
    let way = way(&mut fields);
    let print = fields.choice_or("print", &Print::WORDS, Print::Yes);
    let quality = fields.get("quality").map(|node| node.choice(&QUALITIES));
    let media = fields.get("media").map(|node| media(&node, papers)).unwrap_or_default();
    let kind = fields.get("kind").map(|node| word(&node));
    let tray = fields.get("tray").map(|node| word(&node));
    let hold = fields.or("hold", false);
    let follow = fields.or("follow", false);
    let trusted = fields.choice_or("true_size", &[("measured", true), ("promised", false)], false);
    fields.finish();
    let way = way?;
    if follow && matches!(way, Way::Command(_)) {
        node.complain("a command says nothing of a job later", "Take out `follow`, or write a `uri`.");
    }
    Some(SendTo {
        way,
        print,
        quality: quality.flatten(),
        media,
        kind: kind.flatten(),
        tray: tray.flatten(),
        hold,
        follow,
        trusted,
    })
}

fn way(fields: &mut Fields<'_>) -> Option<Way> {
    match (fields.get("uri"), fields.get("command")) {
        (Some(uri), None) => ipp(&uri).map(Way::Ipp),
        (None, Some(command)) => words(&command).map(Way::Command),
        (None, None) => {
            let cure =
                "Add `uri: \"ipp://192.168.1.40/ipp/print\"`, or `command: [lp, -d, mats, \"{sheets}\"]`.";
            fields.complain("it is not said where sheets go", cure);
            None
        }
        (Some(_), Some(command)) => {
            command.complain("sheets go one way only", "Keep `uri` or `command`.");
            None
        }
    }
}

fn ipp(node: &Node<'_>) -> Option<String> {
    let typed = String::read(node)?;
    match address(&typed) {
        Ok(()) => Some(typed),
        Err((what, cure)) => {
            node.complain(what, cure);
            None
        }
    }
}

/// Whether a printer can be talked to at an address; else what is wrong with it, and the cure.
pub(crate) fn address(typed: &str) -> Result<(), (String, &'static str)> {
    let uri: Option<Uri> = typed.parse().ok();
    let scheme = uri.as_ref().and_then(Uri::scheme_str).unwrap_or_default();
    let there = uri.as_ref().and_then(Uri::authority).is_some_and(|at| !at.as_str().contains('@'));
    // It stands in quotes where it is written.
    let plain = !typed.contains(['"', '\\']);
    if scheme == "ipps" {
        Err((
            "encrypted printing is not known here".to_owned(),
            "Write it with ipp:// if the printer takes that, or use a queue of this machine.",
        ))
    } else if scheme != "ipp" || !there || !plain || typed.len() > LONGEST_WORD {
        Err((
            format!("'{typed}' is no address of a printer"),
            "Write it as `ipp://HOST/ipp/print`, or `ipp://HOST:PORT/PATH`.",
        ))
    } else {
        Ok(())
    }
}

/// A program and its words.
fn words(node: &Node<'_>) -> Option<Vec<String>> {
    let words: Vec<Option<String>> = node.items().iter().map(String::read).collect();
    let words: Option<Vec<String>> = words.into_iter().collect();
    if words.as_ref().is_some_and(|words| !words.iter().any(|word| word.contains("{sheets}"))) {
        node.complain(
            "the command is not told which file to print",
            "Write `{sheets}` where the file's name belongs, such as `[lp, -d, mats, \"{sheets}\"]`.",
        );
        return None;
    }
    words
}

/// A word of the printer's own.
fn word(node: &Node<'_>) -> Option<String> {
    let word = String::read(node)?;
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-_.".contains(letter);
    if word.is_empty() || word.len() > LONGEST_WORD || !word.chars().all(plain) {
        node.complain(
            format!("'{word}' is no word that printers know"),
            "Write it as the printer does: letters, digits, dots and dashes, without spaces.",
        );
        return None;
    }
    Some(word)
}

/// The printer's words for papers.
fn media(node: &Node<'_>, papers: Option<&[PaperSize]>) -> BTreeMap<String, String> {
    let of = |(name, node): (&str, Node<'_>)| {
        let known: Vec<&str> = papers?.iter().map(|paper| paper.name.as_str()).collect();
        if !known.contains(&name) {
            node.complain_of_key(format!("the printer takes no paper `{name}`"), one_of(&known, Some(name)));
            return None;
        }
        Some((name.to_owned(), word(&node)?))
    };
    node.named().into_iter().filter_map(of).collect()
}
