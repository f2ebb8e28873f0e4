//! What needs the maker before anything else: refusals, then warnings. Jobs that are told the same are told it once.

use std::collections::BTreeMap;

use super::html::{Html, address, element, own, plain, text};
use super::morning::Ready;
use super::page::Sources;
use super::{printing, words};
use crate::history::{End, Job, Reason};

/// How many jobs are named that are told the same, and how many things are told at most. The rest is counted: a page that
/// nobody reads to its end helps nobody.
const NAMED: usize = 50;
const TOLD: usize = 100;

/// All of it, under its heading.
pub(super) fn needed(sources: &Sources<'_>) -> Html {
    let morning = sources.morning;
    let (mut refused, mut warned) = (Alike::new(), Alike::new());
    for job in &morning.refused {
        let said = job.why.iter().map(|reason| (&*reason.what, &*reason.cure)).collect::<Vec<_>>();
        refused.add((job.end.word(), said), *job);
    }
    for ready in morning.ready().filter(|ready| !ready.made.warnings.is_empty()) {
        warned.add(&ready.made.warnings, ready);
    }
    let unprinted = printing::needed(sources.slips);
    if refused.groups.is_empty() && warned.groups.is_empty() && unprinted.is_empty() {
        return Html::default();
    }
    Html::from([plain("h2", "Needs you"), unprinted, refused.told(not_made), warned.told(take_care)])
}

/// Jobs by what is to be told of them, in the order in which it first came up.
struct Alike<Said, One> {
    groups: Vec<Vec<One>>,
    known: BTreeMap<Said, usize>,
}

impl<Said: Ord, One> Alike<Said, One> {
    const fn new() -> Self {
        Self { groups: Vec::new(), known: BTreeMap::new() }
    }

    fn add(&mut self, said: Said, one: One) {
        let at = *self.known.entry(said).or_insert(self.groups.len());
        match self.groups.get_mut(at) {
            Some(group) => group.push(one),
            None => self.groups.push(vec![one]),
        }
    }

    fn told(&self, tell: impl Fn(&[One]) -> Html) -> Html {
        let told = self.groups.iter().take(TOLD).map(|group| tell(group));
        let jobs: usize = self.groups.iter().skip(TOLD).map(Vec::len).sum();
        let rest = more(jobs, "told of by: seamwright status");
        told.chain([rest]).collect()
    }
}

/// A line on what is not named.
fn more(jobs: usize, where_to: &str) -> Html {
    if jobs == 0 {
        return Html::default();
    }
    element("p", &[("class", "soft")], format!("And {} more, {where_to}", words::counted(jobs, "job")))
}

/// Jobs that were set aside, all for the same.
fn not_made(jobs: &[&Job]) -> Html {
    let [first, others @ ..] = jobs else { return Html::default() };
    let word = if first.end == End::Cancelled { "Cancelled" } else { "Refused" };
    let alone = others.is_empty();
    let who = if alone { own(&first.name) } else { text(&words::counted(jobs.len(), "job")) };
    let mut said = vec![plain("h3", [text(word), text(": "), who])];
    said.extend(first.why.iter().map(|why| reason(why, alone)));
    if alone {
        let retry = format!(
            "Its files lie in refused/{0}. Mended, it is worked again by: seamwright retry {0}",
            first.name
        );
        said.push(element("p", &[("class", "soft")], retry));
        return element("section", &[("class", "stop")], said);
    }
    let line = |job: &&Job| {
        let places: Vec<&str> =
            job.why.iter().map(|why| &*why.place).filter(|place| !place.is_empty()).collect();
        let place = if places.is_empty() { String::new() } else { format!(": {}", places.join("; ")) };
        plain("li", [own(&job.name), own(&place)])
    };
    said.push(element("ul", &[("class", "before")], jobs.iter().take(NAMED).map(line).collect::<Html>()));
    said.push(more(jobs.len().saturating_sub(NAMED), "in refused/."));
    let retry = "Their files lie in refused/, each in a folder of its name. Mended, each is worked again by: seamwright retry and its name";
    said.push(element("p", &[("class", "soft")], retry));
    element("section", &[("class", "stop")], said)
}

/// A reason; its place only where it is that of all it is told of.
fn reason(why: &Reason, with_place: bool) -> Html {
    let (place, shown) = if with_place { (&*why.place, excerpt(why)) } else { ("", Html::default()) };
    let known = |word: &'static str, said: &str| {
        if said.is_empty() {
            return Html::default();
        }
        Html::from([plain("dt", word), plain("dd", own(said))])
    };
    let said = [known("Where", place), known("What", &why.what), shown, known("Cure", &why.cure)];
    plain("dl", said)
}

/// The lines that show what is meant; a long line is scrolled within its box, also by the keyboard.
fn excerpt(why: &Reason) -> Html {
    if why.shown.is_empty() {
        return Html::default();
    }
    let label = format!("What is meant in {}", why.place);
    let attributes = [("tabindex", "0"), ("role", "group"), ("aria-label", label.as_str())];
    let lines = why.shown.lines().map(|line| Html::from([text(line), Html::of("\n")]));
    element("dd", &[("class", "shown")], element("pre", &attributes, lines.collect::<Html>()))
}

/// Jobs that wait for the press, all with the same warnings.
fn take_care(jobs: &[&Ready<'_>]) -> Html {
    let [first, ..] = jobs else { return Html::default() };
    let link = |ready: &&Ready<'_>| {
        let name = &ready.job.name;
        element("a", &[("href", &format!("#{}", address(name)))], own(name))
    };
    let warnings = first.made.warnings.iter().map(|warning| plain("li", own(warning)));
    let warnings = plain("ul", warnings.collect::<Html>());
    let parts = if jobs.len() == 1 {
        vec![plain("h3", [text("Take care: "), link(first)]), warnings]
    } else {
        let heading = format!("Take care: {}", words::counted(jobs.len(), "job"));
        let names = jobs.iter().take(NAMED).map(|ready| plain("li", link(ready)));
        vec![
            plain("h3", heading),
            warnings,
            element("ul", &[("class", "before")], names.collect::<Html>()),
            more(jobs.len().saturating_sub(NAMED), "below."),
        ]
    };
    element("section", &[("class", "care")], parts)
}
