//! What became of the rows of a list: as text beside the finished jobs, and on the page.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use super::html::{Html, address, element, own, plain};
use super::morning::lies_in;
use super::words::counted;
use crate::config::Folders;
use crate::history::{End, History, Job};
use crate::journal::files::write_whole;
use crate::journal::{Plan, Planned, visible};

/// The summary's name in the list's folder.
pub(crate) const SUMMARY: &str = "summary.txt";

/// A list and what is known of its rows.
#[derive(Debug)]
pub(crate) struct Listed<'h> {
    name: String,
    plan: Plan,
    /// The jobs that its rows came to, by line.
    jobs: BTreeMap<u32, &'h Job>,
    history: &'h History,
}

/// How a row stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Stand {
    Done,
    MadeBefore,
    Refused,
    Cancelled,
    WaitsAlready,
    Waits,
}

impl Stand {
    const fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::MadeBefore => "made before",
            Self::Refused => "refused",
            Self::Cancelled => "cancelled",
            Self::WaitsAlready => "waits already",
            Self::Waits => "waits",
        }
    }
}

impl<'h> Listed<'h> {
    fn new(name: &str, plan: Plan, history: &'h History) -> Self {
        let of_it = |job: &&Job| job.row.as_ref().is_some_and(|row| row.group == name);
        // Later ones count: a row that was refused may have been tried again.
        let jobs = history.jobs().iter().filter(of_it);
        let jobs = jobs.filter_map(|job| Some((job.row.as_ref()?.line, job))).collect();
        Self { name: name.to_owned(), plan, jobs, history }
    }

    /// The lists of these names whose sources are kept.
    pub(super) fn of(names: &BTreeSet<&str>, history: &'h History, folders: &Folders) -> Vec<Self> {
        let kept = names.iter().filter(|name| lies_in(&folders.kept, name));
        kept.filter_map(|name| {
            let plan = Plan::of(&folders.kept.join(name)).ok().flatten()?;
            Some(Self::new(name, plan, history))
        })
        .collect()
    }

    /// How a row stands, and the job that tells more.
    fn stand<'s>(&'s self, row: &'s Planned) -> (Stand, Option<&'s str>, Option<&'s Job>) {
        if let Some(before) = &row.before {
            let job = self.history.latest(before);
            let stand = match job.map(|job| job.end) {
                Some(End::Done) => Stand::MadeBefore,
                Some(End::Refused) => Stand::Refused,
                Some(End::Cancelled) => Stand::Cancelled,
                _ => Stand::WaitsAlready,
            };
            return (stand, Some(before), job);
        }
        let job = self.jobs.get(&row.line).copied();
        let stand = match job.map(|job| job.end) {
            Some(End::Done) => Stand::Done,
            Some(End::Refused) => Stand::Refused,
            Some(End::Cancelled) => Stand::Cancelled,
            _ => Stand::Waits,
        };
        (stand, job.filter(|_| stand != Stand::Waits).map(|job| &*job.name), job)
    }

    /// How many rows stand how, in words.
    fn counts(&self) -> String {
        let mut counts: BTreeMap<Stand, usize> = BTreeMap::new();
        for row in &self.plan.rows {
            *counts.entry(self.stand(row).0).or_default() += 1;
        }
        let said: Vec<String> =
            counts.into_iter().map(|(stand, count)| format!("{count} {}", stand.word())).collect();
        said.join(", ")
    }

    fn heading(&self) -> String {
        format!("{}, {}: {}", self.plan.list, counted(self.plan.rows.len(), "row"), self.counts())
    }

    /// All of it as text.
    fn text(&self) -> String {
        let remark = self.plan.remark.as_ref().map(|remark| format!("{}\n", visible(remark)));
        let mut text = format!("List {}\n{}\n{}\n", self.name, self.heading(), remark.unwrap_or_default());
        for row in &self.plan.rows {
            let (stand, name, job) = self.stand(row);
            let line = format!(
                "line {:>5}  {:<13}  {:<24}  {}",
                row.line,
                stand.word(),
                row.label,
                name.unwrap_or_default()
            );
            text.push_str(visible(&line).trim_end());
            text.push('\n');
            for reason in job.filter(|_| stand == Stand::Refused).map_or(&[][..], |job| &*job.why) {
                text.push_str(&format!("            {}\n", visible(&reason.what)));
            }
        }
        text
    }

    /// The summary in the list's folder, unless that was taken away or says so already.
    pub(super) fn write(&self, folders: &Folders) {
        let folder = folders.outgoing.join(&self.name);
        let (file, text) = (folder.join(SUMMARY), self.text());
        if !lies_in(&folders.outgoing, &self.name) || fs::read(&file).is_ok_and(|was| was == text.as_bytes())
        {
            return;
        }
        if let Err(why) = write_whole(&file, text.as_bytes()) {
            tracing::warn!(list = %self.name, %why, "the summary of a list cannot be written");
        }
    }

    /// It on the page.
    pub(super) fn html(&self, folders: &Folders) -> Html {
        let row = |row: &Planned| {
            let (stand, name, _) = self.stand(row);
            let job = match name {
                Some(name) if stand == Stand::Done => Html::from([
                    own(", "),
                    element("a", &[("href", &format!("#{}", address(name)))], own(name)),
                ]),
                Some(name) => own(&format!(", {name}")),
                None => Html::default(),
            };
            plain("li", [own(&format!("line {}, {}: {}", row.line, row.label, stand.word())), job])
        };
        let link = if lies_in(&folders.outgoing, &self.name) {
            let to = format!("{}/{SUMMARY}", address(&self.name));
            plain("p", element("a", &[("href", &to)], "The same as a text"))
        } else {
            Html::default()
        };
        Html::from([
            plain("h3", own(&self.name)),
            plain("p", own(&self.heading())),
            self.plan.remark.as_ref().map_or_else(Html::default, |remark| plain("p", own(remark))),
            element("ul", &[("class", "before")], self.plan.rows.iter().map(row).collect::<Html>()),
            link,
        ])
    }
}

/// The summary of a list of which nothing is worked yet but what was before.
pub(crate) fn summary(name: &str, plan: &Plan, history: &History) -> String {
    Listed::new(name, plan.clone(), history).text()
}
