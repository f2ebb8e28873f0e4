//! The lists of stages and writers: words to steps, and whether each stands where it can work.
//!
//! Entries say which facts they need, give, and must stand before. The list is walked once with the facts given so
//! far, so that a list in a wrong order is refused when the program starts, not in the middle of the night.

use seamwright_contract::plugin::{Fact, Stage, StageEntry, Writer, WriterEntry};
use seamwright_contract::settings::{Node, Value};

/// The steps there are to choose from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known<'r> {
    /// The stages.
    pub(crate) stages: &'r [StageEntry],
    /// The writers.
    pub(crate) writers: &'r [WriterEntry],
    /// The writer that states what all others wrote.
    pub(crate) last_writer: &'r str,
}

/// The steps of this studio, in order, each ready to work.
#[derive(Debug)]
pub struct Pipeline {
    /// The stages.
    pub stages: Vec<(&'static str, Box<dyn Stage>)>,
    /// The writers.
    pub writers: Vec<(&'static str, Box<dyn Writer>)>,
    /// The list of stages as it was written.
    pub listed: Value,
}

/// Reads both lists.
pub(super) fn read(
    stages: Option<&Node<'_>>,
    writers: Option<&Node<'_>>,
    known: &Known<'_>,
) -> Option<Pipeline> {
    let list = stages;
    let names: Vec<&str> = known.stages.iter().map(|entry| entry.name).collect();
    let mut listed_stages = Vec::new();
    let mut complete = true;
    for item in stages.map(Node::items).unwrap_or_default() {
        let entry = find(&item, known.stages, |entry| entry.name, "stage", &names);
        complete &= entry.is_some();
        listed_stages.extend(entry);
    }
    let names: Vec<&str> = known.writers.iter().map(|entry| entry.name).collect();
    let mut listed_writers = Vec::new();
    for item in writers.map(Node::items).unwrap_or_default() {
        listed_writers.extend(find(&item, known.writers, |entry| entry.name, "writer", &names));
    }

    // A word that is not known may well have been meant to give what would now be missed.
    let given = if complete { stage_order(&listed_stages, known) } else { Vec::new() };
    if complete && let Some(node) = writers {
        writer_order(node, &listed_writers, &given, known);
    }

    let stages: Vec<_> =
        listed_stages.iter().map(|(entry, at)| Some((entry.name, (entry.parse)(at)?))).collect();
    let writers: Vec<_> =
        listed_writers.iter().map(|(entry, at)| Some((entry.name, (entry.parse)(at)?))).collect();
    Some(Pipeline {
        stages: stages.into_iter().collect::<Option<_>>()?,
        writers: writers.into_iter().collect::<Option<_>>()?,
        listed: list.map(|node| node.value().clone()).unwrap_or_default(),
    })
}

/// The entry an item of a list names, with the node of its settings.
fn find<'r, 'a, E>(
    item: &Node<'a>,
    entries: &'r [E],
    name: impl Fn(&E) -> &'static str,
    kind: &str,
    names: &[&str],
) -> Option<(&'r E, Node<'a>)> {
    let (word, settings) = item.step(kind, names)?;
    Some((entries.iter().find(|entry| name(entry) == word)?, settings))
}

/// Checks the order of the stages and returns what they give, with who gives it.
fn stage_order(listed: &[(&StageEntry, Node<'_>)], known: &Known<'_>) -> Vec<(Fact, &'static str)> {
    let mut given: Vec<(Fact, &'static str)> = Vec::new();
    for (i, (entry, at)) in listed.iter().enumerate() {
        let name = entry.name;
        if !entry.gives.is_empty() && listed.iter().take(i).any(|(before, _)| before.name == name) {
            at.complain(format!("`{name}` stands in the list twice"), "Keep one of the two.");
            continue;
        }
        for fact in entry.before {
            if let Some((_, giver)) = given.iter().find(|(known, _)| known == fact) {
                at.complain(
                    format!("`{name}` stands after `{giver}`, but {} depend on what it settles", fact.word()),
                    format!("Move `{name}` up, before `{giver}`."),
                );
            }
        }
        for fact in entry.needs.iter().filter(|fact| !given.iter().any(|(known, _)| known == *fact)) {
            let later = listed.iter().skip(i + 1).find(|(later, _)| later.gives.contains(fact));
            match later {
                Some((later, _)) => at.complain(
                    format!(
                        "`{name}` needs {}, but `{}`, which gives that, stands after it",
                        fact.word(),
                        later.name
                    ),
                    format!("Move `{}` up, before `{name}`.", later.name),
                ),
                None => at.complain(
                    format!("`{name}` needs {}, and no stage in the list gives that", fact.word()),
                    add(*fact, name, known),
                ),
            }
        }
        given.extend(entry.gives.iter().map(|fact| (*fact, name)));
    }
    given
}

fn add(fact: Fact, before: &str, known: &Known<'_>) -> String {
    match known.stages.iter().find(|entry| entry.gives.contains(&fact)) {
        Some(giver) => format!("Add `{}` to the stages, or take `{before}` out.", giver.name),
        None => format!("Take `{before}` out."),
    }
}

/// Checks that every writer finds what it shows, and the order of the writers.
fn writer_order(
    list: &Node<'_>,
    listed: &[(&WriterEntry, Node<'_>)],
    given: &[(Fact, &'static str)],
    known: &Known<'_>,
) {
    if list.items().is_empty() {
        list.complain(
            "no writer is left, so nothing would come out",
            "Write for example `writers: [sheets, notes]`.",
        );
    }
    for (i, (entry, at)) in listed.iter().enumerate() {
        let name = entry.name;
        if listed.iter().take(i).any(|(before, _)| before.name == name) {
            at.complain(format!("`{name}` stands in the list twice"), "Keep one of the two.");
        }
        if name == known.last_writer && i + 1 < listed.len() {
            at.complain(
                format!("`{name}` lists what the other writers wrote, and is not the last"),
                format!("Move `{name}` to the end of the list."),
            );
        }
        for fact in entry.needs.iter().filter(|fact| !given.iter().any(|(known, _)| known == *fact)) {
            at.complain(
                format!("the writer `{name}` shows {}, and no stage in the list gives that", fact.word()),
                add(*fact, name, known),
            );
        }
    }
}
