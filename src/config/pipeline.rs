//! The lists of stages and writers: words to steps, and whether each stands where it can work.
//!
//! Entries say which facts they need, give, and must stand before. The list is walked once with the facts given so
//! far, so that a list in a wrong order is refused when the program starts, not in the middle of the night. What a
//! program of the studio's own needs, its manifest says, which a step names; the list that is kept holds the manifest.

use seamwright_contract::plugin::{Fact, Stage, StageEntry, Writer, WriterEntry};
use seamwright_contract::settings::{Node, Read as _, Value};

use super::catalogue::{HERE, Programs};
use crate::registry;

/// The steps there are to choose from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known<'r> {
    /// The stages.
    pub(crate) stages: &'r [StageEntry],
    /// The writers.
    pub(crate) writers: &'r [WriterEntry],
    /// The writer that states what all others wrote.
    pub(crate) last_writer: &'r str,
    /// The stage and the writer whose settings are a manifest, and which may stand in a list more than once.
    pub(crate) program: &'r str,
}

/// The steps of this studio, in order, each ready to work.
#[derive(Debug)]
pub struct Pipeline {
    /// The stages.
    pub stages: Vec<(&'static str, Box<dyn Stage>)>,
    /// The writers.
    pub writers: Vec<(&'static str, Box<dyn Writer>)>,
    /// The list of stages as it was written, with the manifests of programs in place of their names.
    pub listed: Value,
}

impl Pipeline {
    /// Whether programs of the studio's own are among its steps.
    pub(crate) fn runs_programs(&self) -> bool {
        let of = |name: &&'static str| *name == registry::PROGRAM;
        self.stages.iter().map(|(name, _)| name).any(of) || self.writers.iter().map(|(name, _)| name).any(of)
    }
}

/// Reads both lists.
pub(super) fn read(
    stages: Option<&Node<'_>>,
    writers: Option<&Node<'_>>,
    known: &Known<'_>,
    programs: &Programs,
) -> Option<Pipeline> {
    let list = stages;
    let names: Vec<&str> = known.stages.iter().map(|entry| entry.name).collect();
    let mut listed_stages: Vec<Listed<'_, '_, StageEntry, dyn Stage>> = Vec::new();
    let mut values = Vec::new();
    let mut complete = true;
    for item in stages.map(Node::items).unwrap_or_default() {
        let found = find(&item, known.stages, |entry| entry.name, "stage", &names);
        complete &= found.is_some();
        let Some((entry, at)) = found else { continue };
        let written = written(&item, &at, entry.name, known, programs);
        let step = written.as_ref().and_then(|written| (entry.parse)(&at.holding(&written.settings)));
        values.extend(written.map(|written| written.item));
        listed_stages.push(Listed { entry, at, step });
    }
    let names: Vec<&str> = known.writers.iter().map(|entry| entry.name).collect();
    let mut listed_writers: Vec<Listed<'_, '_, WriterEntry, dyn Writer>> = Vec::new();
    for item in writers.map(Node::items).unwrap_or_default() {
        let found = find(&item, known.writers, |entry| entry.name, "writer", &names);
        let Some((entry, at)) = found else { continue };
        let written = written(&item, &at, entry.name, known, programs);
        let step = written.as_ref().and_then(|written| (entry.parse)(&at.holding(&written.settings)));
        listed_writers.push(Listed { entry, at, step });
    }

    // A word that is not known may well have been meant to give what would now be missed.
    let given = if complete { stage_order(&listed_stages, known) } else { Vec::new() };
    if complete && let Some(node) = writers {
        writer_order(node, &listed_writers, &given, known);
    }

    let stages = listed_stages.into_iter().map(|listed| Some((listed.entry.name, listed.step?)));
    let writers = listed_writers.into_iter().map(|listed| Some((listed.entry.name, listed.step?)));
    Some(Pipeline {
        stages: stages.collect::<Option<_>>()?,
        writers: writers.collect::<Option<_>>()?,
        listed: list.map(|_| Value::List(values)).unwrap_or_default(),
    })
}

/// An item of a list: what it names, where its settings stand, and the step; none where those are complained of.
struct Listed<'r, 'a, E, S: ?Sized> {
    entry: &'r E,
    at: Node<'a>,
    step: Option<Box<S>>,
}

/// An item with all that it says.
struct Written {
    /// The item as it is kept.
    item: Value,
    /// What its step reads.
    settings: Value,
}

/// An item as it stands; of a program, with the manifest it names.
fn written(
    item: &Node<'_>,
    at: &Node<'_>,
    name: &str,
    known: &Known<'_>,
    programs: &Programs,
) -> Option<Written> {
    if name != known.program {
        return Some(Written { item: item.value().clone(), settings: at.value().clone() });
    }
    let settings = match at.value() {
        Value::Map(keys) => programs.here(keys.clone()),
        _ => programs.settings(&String::read(at)?, at)?,
    };
    let Value::Map(keys) = &settings else { return None };
    let kept = keys.iter().filter(|(key, _)| key != HERE).cloned().collect();
    Some(Written { item: Value::Map(vec![(name.to_owned(), Value::Map(kept))]), settings })
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

/// Facts with the names of the stages that give them.
type Given = Vec<(Fact, &'static str)>;

fn is_given(given: &Given, fact: Fact) -> bool {
    given.iter().any(|(known, _)| *known == fact)
}

/// Checks the order of the stages and returns what they give, with who gives it.
fn stage_order(listed: &[Listed<'_, '_, StageEntry, dyn Stage>], known: &Known<'_>) -> Given {
    let mut given = Given::new();
    for (i, Listed { entry, at, step }) in listed.iter().enumerate() {
        let name = entry.name;
        if !entry.gives.is_empty() && listed.iter().take(i).any(|before| before.entry.name == name) {
            at.complain(format!("`{name}` stands in the list twice"), "Keep one of the two.");
            continue;
        }
        let (needs, before) = step.as_ref().map_or((&[][..], &[][..]), |step| (step.needs(), step.before()));
        for fact in entry.before.iter().chain(before) {
            if let Some((_, giver)) = given.iter().find(|(known, _)| known == fact) {
                at.complain(
                    format!("`{name}` stands after `{giver}`, but {} depend on what it settles", fact.word()),
                    format!("Move `{name}` up, before `{giver}`."),
                );
            }
        }
        for fact in entry.needs.iter().chain(needs).filter(|fact| !is_given(&given, **fact)) {
            let later = listed.iter().skip(i + 1).find(|later| later.entry.gives.contains(fact));
            match later {
                Some(Listed { entry: later, .. }) => at.complain(
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
    listed: &[Listed<'_, '_, WriterEntry, dyn Writer>],
    given: &Given,
    known: &Known<'_>,
) {
    if list.items().is_empty() {
        list.complain(
            "no writer is left, so nothing would come out",
            "Write for example `writers: [sheets, notes]`.",
        );
    }
    for (i, Listed { entry, at, step }) in listed.iter().enumerate() {
        let name = entry.name;
        if name != known.program && listed.iter().take(i).any(|before| before.entry.name == name) {
            at.complain(format!("`{name}` stands in the list twice"), "Keep one of the two.");
        }
        if name == known.last_writer && i + 1 < listed.len() {
            at.complain(
                format!("`{name}` lists what the other writers wrote, and is not the last"),
                format!("Move `{name}` to the end of the list."),
            );
        }
        let needs = step.as_ref().map_or(&[][..], |step| step.needs());
        for fact in entry.needs.iter().chain(needs).filter(|fact| !is_given(given, **fact)) {
            at.complain(
                format!("the writer `{name}` shows {}, and no stage in the list gives that", fact.word()),
                add(*fact, name, known),
            );
        }
    }
}
