//! The page itself: one file without a script, with its style and small proofs inside, that opens from a disk, a shared
//! folder or a phone and asks for nothing from elsewhere.

use std::collections::BTreeMap;
use std::path::Path;

use sha2::{Digest as _, Sha256};

use super::html::{Html, address, base64, element, lone, own, plain, text};
use super::live;
use super::morning::{EVENING, Group, Morning, Ready, Settled, lies_in};
use super::{care, cost, printing, words};
use crate::config::Config;
use crate::deliver::Slip;
use crate::history::{End, Job, Made};
use crate::journal::clock::{self, Zoned};

const STYLE: &str = include_str!("style.css");

/// What is linked of a job, with the words for it, if the job has it.
const LINKED: [(&str, &str); 5] = [
    ("sheets.pdf", "Sheets (PDF)"),
    ("notes.pdf", "Notes (PDF)"),
    ("notes.txt", "Notes (text)"),
    ("proof.png", "Proof (PNG)"),
    ("test-print.pdf", "Test print (PDF)"),
];

/// The small proof in a job's folder.
const SMALL: &str = "proof-small.jpg";

/// So many jobs are shown with their proofs; on a phone more would be slow to load, and nobody looks at more.
const SHOWN: usize = 100;

/// A small proof is no larger than this; what is larger is not ours.
const LARGEST_SMALL: u64 = 256 << 10;

/// What the page is written from.
pub(super) struct Sources<'h> {
    pub(super) morning: &'h Morning<'h>,
    /// What is on its way to a printer.
    pub(super) slips: &'h [Slip],
    pub(super) config: &'h Config,
    pub(super) now: &'h Zoned,
}

/// The whole page; a live one looks for a newer one by itself.
pub(super) fn page(sources: &Sources<'_>, live: bool) -> String {
    let heading = format!("Morning sheet, {}", words::day(sources.now));
    let head = [
        lone("meta", &[("charset", "utf-8")]),
        lone("meta", &[("http-equiv", "Content-Security-Policy"), ("content", &policy(live))]),
        lone("meta", &[("name", "viewport"), ("content", "width=device-width, initial-scale=1")]),
        lone("meta", &[("name", "referrer"), ("content", "no-referrer")]),
        plain("title", heading.as_str()),
        // Else browsers ask for one.
        lone("link", &[("rel", "icon"), ("href", "data:,")]),
        Html::from([Html::of("<style>"), Html::of(STYLE), Html::of("</style>\n")]),
    ];
    let body = Html::from([
        element("a", &[("class", "skip"), ("href", "#sheet")], "To the sheet"),
        element(
            "header",
            &[],
            [plain("h1", heading.as_str()), if live { live::controls() } else { Html::default() }],
        ),
        element("main", &[("id", "sheet"), ("tabindex", "-1")], content(sources)),
        footer(sources),
        if live { live::script() } else { Html::default() },
    ]);
    let page = Html::from([
        Html::of("<!doctype html>\n"),
        element("html", &[("lang", "en")], [plain("head", head), plain("body", body)]),
    ]);
    page.into_string()
}

/// Nothing but what stands in the page itself may be used by it; a live one may ask where it came from.
fn policy(live: bool) -> String {
    let style = base64(&Sha256::digest(STYLE.as_bytes()));
    let script = if live { live::policy() } else { String::new() };
    format!(
        "default-src 'none'; img-src data:; style-src 'sha256-{style}'; base-uri 'none'; form-action 'none'{script}"
    )
}

fn content(sources: &Sources<'_>) -> Html {
    let Sources { morning, now, .. } = sources;
    let since = morning.since.strftime("%A %-d %B, %H:%M");
    Html::from([
        element(
            "p",
            &[("class", "soft")],
            format!(
                "The night: all that ended since {since}. A new night begins each day at {EVENING}:00. Written {}.",
                words::minute(now)
            ),
        ),
        figures(sources),
        care::needed(sources),
        printing::standing(sources.slips),
        shared(sources),
        pressing(sources),
        lists(sources),
        settled(morning),
        earlier(sources),
    ])
}

/// The night at one look.
fn figures(sources: &Sources<'_>) -> Html {
    let Sources { morning, config, .. } = sources;
    let figure = |value: String, of: String| plain("li", [plain("strong", value), text(&of)]);
    let ready = morning.ready().count();
    let mut figures = vec![figure(ready.to_string(), "ready to print and press".to_owned())];
    if !morning.refused.is_empty() {
        figures.push(figure(morning.refused.len().to_string(), "refused".to_owned()));
    }
    for ((paper, printer), sheets) in &morning.load {
        figures.push(figure(words::counted(*sheets, "sheet"), format!("of {paper} to load, {printer}")));
    }
    if morning.seconds > 0 {
        let changes = morning.changes_of_heat();
        let changes = words::counted(changes, "change");
        figures.push(figure(words::minutes(morning.seconds), format!("at the press, {changes} of heat")));
    }
    let rates = config.rates.as_ref();
    let together = rates.and_then(|rates| Some((rates, cost::of_all(morning.made(), rates)?)));
    if let Some((rates, (total, _))) = together {
        figures.push(figure(cost::amount(total, &rates.currency), "estimated cost, see below".to_owned()));
    }
    element("ul", &[("class", "figures"), ("aria-label", "The night at one look")], figures)
}

/// Sheets that jobs share, before anything is pressed.
fn shared(sources: &Sources<'_>) -> Html {
    let shared = &sources.morning.shared;
    if shared.is_empty() {
        return Html::default();
    }
    let one = |ready: &Ready<'_>| {
        let Ready { job, made, .. } = ready;
        let name = |name: &String| element("a", &[("href", &format!("#{}", address(name)))], own(name));
        let names = made
            .carries
            .iter()
            .enumerate()
            .flat_map(|(at, job)| [text(if at > 0 { ", " } else { "" }), name(job)]);
        let said = format!(": {} of {}: ", words::sheets(made), words::counted(made.carries.len(), "job"));
        let names: Html = names.collect();
        element(
            "li",
            &[("id", &address(&job.name))],
            [own(&job.name), own(&said), names, links(&job.name, made)],
        )
    };
    Html::from([
        plain("h2", "Shared sheets"),
        element(
            "p",
            &[("class", "soft")],
            "Panels of several jobs lie on these. Print them, and cut them apart by their notes, before the jobs are pressed.",
        ),
        element("ul", &[("class", "before")], shared.iter().map(one).collect::<Html>()),
    ])
}

/// What waits, in the order to press it.
fn pressing(sources: &Sources<'_>) -> Html {
    let morning = sources.morning;
    let mut parts = vec![plain("h2", "At the press, in this order")];
    if morning.groups.is_empty() {
        parts.push(plain("p", "Nothing waits."));
        return Html::from(parts);
    }
    parts.push(element(
        "p",
        &[("class", "soft")],
        "The heat is changed as seldom as can be, and only upwards: a plate heats in minutes and cools in many more. \
         Within one heat, jobs on the same paper and blank follow each other.",
    ));
    let mut left = SHOWN;
    for (number, group) in (1..).zip(&morning.groups) {
        parts.push(plain("h3", format!("{number}. {}", heading(group, sources))));
        let (shown, named) = group.jobs.split_at(left.min(group.jobs.len()));
        left -= shown.len();
        parts.extend(shown.iter().map(|ready| job(ready, sources)));
        if !named.is_empty() {
            parts.push(element("ul", &[("class", "before")], named.iter().map(in_a_line).collect::<Html>()));
        }
    }
    Html::from(parts)
}

fn heading(group: &Group<'_>, sources: &Sources<'_>) -> String {
    let jobs = words::counted(group.jobs.len(), "job");
    match group.press {
        Some((press, heat)) => format!(
            "{} on {press}, {} paper: {jobs}, {}",
            words::heat(heat, sources.config.units),
            group.paper,
            words::minutes(group.seconds)
        ),
        None => format!("Without a press plan, {} paper: {jobs}", group.paper),
    }
}

/// One job that waits.
fn job(ready: &Ready<'_>, sources: &Sources<'_>) -> Html {
    let Ready { job, made, .. } = ready;
    let folder = sources.config.studio.outgoing.join(&*job.name);
    let title = plain("h4", own(&job.name));
    element(
        "article",
        &[("class", "job"), ("id", &address(&job.name))],
        [picture(&folder, made), title, links(&job.name, made), details(ready, sources)],
    )
}

/// One job that waits, after many others.
fn in_a_line(ready: &Ready<'_>) -> Html {
    let Ready { job, made, .. } = ready;
    let row = made.row.as_ref().map_or_else(String::new, |row| format!(" ({row})"));
    let words = format!("{row}: {}, {}", made.blank, words::sheets(made));
    element("li", &[("id", &address(&job.name))], [own(&job.name), own(&words), links(&job.name, made)])
}

fn picture(folder: &Path, made: &Made) -> Html {
    let small = folder.join(SMALL);
    let bytes = small.metadata().ok().filter(|facts| facts.is_file() && facts.len() <= LARGEST_SMALL);
    let bytes = bytes.and_then(|_| std::fs::read(&small).ok());
    let inside = match bytes {
        Some(bytes) => {
            let data = format!("data:image/jpeg;base64,{}", base64(&bytes));
            let alt = format!("Proof of {} on {}", made.artwork, made.blank);
            lone("img", &[("src", &data), ("alt", &alt)])
        }
        None => element("p", &[("class", "without")], "No small proof"),
    };
    element("div", &[("class", "seen")], inside)
}

fn links(name: &str, made: &Made) -> Html {
    let there = LINKED.iter().filter(|(file, _)| made.files.iter().any(|made| made == file));
    let link = |(file, words): &(&str, &str)| {
        let to = format!("{}/{}", address(name), address(file));
        let label = format!("{words} of {name}");
        plain("li", element("a", &[("href", &to), ("aria-label", &label)], *words))
    };
    element("ul", &[("class", "links")], there.map(link).collect::<Html>())
}

fn details(ready: &Ready<'_>, sources: &Sources<'_>) -> Html {
    let (made, units) = (ready.made, sources.config.units);
    let mut list = Vec::new();
    let mut add = |word: &str, said: Html| list.push(Html::from([plain("dt", word), plain("dd", said)]));
    add("Blank", Html::from([own(&made.blank), text(&format!(", design {}", words::size(made, units)))]));
    add("Load", loaded(ready));
    if let Some(pressing) = &made.pressing {
        let copies = if made.copies > 1 {
            format!("; {} copies, {}", made.copies, words::minutes(made.all_seconds()))
        } else {
            String::new()
        };
        add("Press", own(&format!("{}{copies}", words::pressing(pressing, units))));
    }
    if let Some(row) = &made.row {
        add("List", own(&format!("{row} ({})", row.group)));
    }
    if let Some(note) = &made.note {
        add("Note", own(note));
    }
    if let Some((job, verdict)) = ready.last {
        add("Last time", own(&format!("{} ({})", words::verdict(verdict), job.name)));
    }
    if let Some(cost) = sources.config.rates.as_ref().and_then(|rates| cost::of_job(made, rates)) {
        add("Estimate", own(&cost.to_string()));
    }
    if !made.warnings.is_empty() {
        let warnings = format!("{}, see above", words::counted(made.warnings.len(), "warning"));
        add("Care", element("span", &[("class", "mark")], warnings));
    }
    plain("dl", list)
}

/// The sheets of a job, or those that its panels share.
fn loaded(ready: &Ready<'_>) -> Html {
    let sheets = own(&words::sheets(ready.made));
    match ready.on.filter(|_| ready.made.shares) {
        Some(shared) => {
            let link = element("a", &[("href", &format!("#{}", address(&shared.name)))], own(&shared.name));
            Html::from([sheets, text(": "), link])
        }
        None if ready.made.shares => {
            Html::from([sheets, text(", which come out once nothing is left to work")])
        }
        None => sheets,
    }
}

/// What became of the rows of lists.
fn lists(sources: &Sources<'_>) -> Html {
    let Sources { morning, config, .. } = sources;
    if morning.lists.is_empty() {
        return Html::default();
    }
    let lists = morning.lists.iter().map(|list| list.html(&config.studio));
    Html::from([plain("h2", "Lists"), lists.collect()])
}

/// What needs nothing more.
fn settled(morning: &Morning<'_>) -> Html {
    if morning.settled.is_empty() {
        return Html::default();
    }
    let line = |(job, settled): &(&Job, Settled<'_>)| {
        let how = match settled {
            Settled::Pressed(verdict) => format!(": pressed, {}", words::verdict(verdict)),
            Settled::TakenAway => ": its folder was taken out of outgoing/".to_owned(),
        };
        plain("li", [own(&job.name), own(&how)])
    };
    Html::from([plain("h2", "Settled"), plain("ul", morning.settled.iter().map(line).collect::<Html>())])
}

/// What came before, by name.
fn earlier(sources: &Sources<'_>) -> Html {
    let Sources { morning, config, .. } = sources;
    if morning.earlier.is_empty() {
        return Html::default();
    }
    let line = |job: &&Job| {
        let day = format!("{}  ", words::minute(&clock::here(job.at)));
        let sheets = job.made.as_ref().filter(|_| lies_in(&config.studio.outgoing, &job.name));
        let name = match sheets {
            Some(made) if made.files.iter().any(|file| file == LINKED[0].0) => {
                element("a", &[("href", &format!("{}/{}", address(&job.name), LINKED[0].0))], own(&job.name))
            }
            _ => own(&job.name),
        };
        let how = match (job.end, job.verdicts().last()) {
            (End::Done, Some(verdict)) => format!(": {}", words::verdict(verdict)),
            (End::Done, None) => String::new(),
            (End::Retried, _) => ": refused, tried again".to_owned(),
            (end, _) => format!(": {}", end.word()),
        };
        plain("li", [text(&day), name, own(&how)])
    };
    Html::from([
        plain("h2", "Before that"),
        element("p", &[("class", "soft")], "All there ever was is told by: seamwright history"),
        element("ul", &[("class", "before")], morning.earlier.iter().map(line).collect::<Html>()),
    ])
}

/// What the figures rest on.
fn footer(sources: &Sources<'_>) -> Html {
    let Sources { morning, config, .. } = sources;
    let mut said = vec![plain(
        "p",
        "Minutes are those of the press plans, from closing the press for the preheat to the end of the cooling, \
         one job after the other; heating the plate is not in them. Sheets are without misprints.",
    )];
    if let Some(rates) = &config.rates
        && let Some((_, lacks)) = cost::of_all(morning.made(), rates)
    {
        let lacks: BTreeMap<String, usize> = lacks;
        let lacking: Vec<String> = lacks
            .into_iter()
            .map(|(what, jobs)| format!("{what} ({})", words::counted(jobs, "job")))
            .collect();
        let lacking =
            if lacking.is_empty() { String::new() } else { format!(" Not counted: {}.", lacking.join(", ")) };
        said.push(plain(
            "p",
            own(&format!("Costs are estimates by the studio's own rates of today.{lacking}")),
        ));
    }
    said.push(plain("p", "Noting a result strikes a job off this sheet: seamwright result JOB --good, or --bad and what was wrong."));
    plain("footer", said)
}
