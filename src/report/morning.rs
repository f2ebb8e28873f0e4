//! The morning after: what of the history the maker needs at seven, and in which order.
//!
//! A night is what ended since noon of the day on which it began, told by the clock of this place. A new one begins at
//! six in the evening, so that what was made by day is still on the page while it is pressed.
//!
//! The order at the press has the fewest changes of heat, each upwards: a plate heats in minutes and cools in many more.
//! Within one heat, jobs on the same paper and blank follow each other, so that board and stack are changed least.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use jiff::ToSpan as _;

use super::lists::Listed;
use crate::config::Folders;
use crate::history::{End, History, Job, Made, Verdict};
use crate::intake::is_bare_name;
use crate::journal::clock::Zoned;

/// The hour at which a new night begins, and that to which it reaches back.
pub(super) const EVENING: i64 = 18;
const NOON: i8 = 12;

/// How many earlier jobs are named.
const EARLIER: usize = 12;

/// What is to be known in the morning.
#[derive(Debug)]
pub(crate) struct Morning<'h> {
    /// When the night began.
    pub(crate) since: Zoned,
    /// Sheets that several jobs share, to be printed and parted before those are pressed.
    pub(crate) shared: Vec<Ready<'h>>,
    /// What waits for the press, in the order to press it.
    pub(crate) groups: Vec<Group<'h>>,
    /// What cannot be done and lies in `refused/`.
    pub(crate) refused: Vec<&'h Job>,
    /// Of the night, but pressed or taken away.
    pub(crate) settled: Vec<(&'h Job, Settled<'h>)>,
    /// The lists that came, or any of whose rows ended.
    pub(crate) lists: Vec<Listed<'h>>,
    /// What ended before, the latest first.
    pub(crate) earlier: Vec<&'h Job>,
    /// Sheets by paper and printer, of all that waits.
    pub(crate) load: BTreeMap<(&'h str, &'h str), usize>,
    /// At the press, in all.
    pub(crate) seconds: u64,
}

/// Jobs pressed alike, one after the other.
#[derive(Debug)]
pub(crate) struct Group<'h> {
    /// The press and its heat in degrees Celsius; nothing where there is no press plan.
    pub(crate) press: Option<(&'h str, f64)>,
    pub(crate) paper: &'h str,
    pub(crate) jobs: Vec<Ready<'h>>,
    pub(crate) seconds: u64,
}

/// A job that waits for the press.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ready<'h> {
    pub(crate) job: &'h Job,
    pub(crate) made: &'h Made,
    /// How the job before turned out on the same blank.
    pub(crate) last: Option<(&'h Job, &'h Verdict)>,
    /// The shared sheets that its panels lie on, once they came out.
    pub(crate) on: Option<&'h Job>,
}

/// Why a job needs nothing more.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Settled<'h> {
    Pressed(&'h Verdict),
    TakenAway,
}

/// When the night began that is told of at this moment.
pub(crate) fn night_of(now: &Zoned) -> Zoned {
    let day = now.checked_sub(EVENING.hours()).unwrap_or_else(|_| now.clone()).date();
    day.at(NOON, 0, 0, 0).to_zoned_datetime(now.time_zone().clone()).unwrap_or_else(|_| now.clone())
}

impl<'h> Morning<'h> {
    /// What the history and the studio's folders say at this moment.
    pub(crate) fn of(history: &'h History, folders: &Folders, now: &Zoned) -> Self {
        let since = night_of(now);
        let mut morning = Self {
            shared: Vec::new(),
            groups: Vec::new(),
            refused: Vec::new(),
            settled: Vec::new(),
            lists: Vec::new(),
            earlier: Vec::new(),
            load: BTreeMap::new(),
            seconds: 0,
            since,
        };
        let stamp = morning.since.timestamp();
        let of_night = |job: &Job| job.at >= stamp;
        let (mut ready, mut lists) = (Vec::new(), BTreeSet::new());
        for job in history.jobs().iter().rev() {
            // Lines stand in the order of time, but for a clock that was set back.
            if !of_night(job) {
                if morning.earlier.len() == EARLIER {
                    break;
                }
                morning.earlier.push(job);
                continue;
            }
            lists.extend(job.row.as_ref().map(|row| row.group.as_str()));
            match (job.end, job.verdicts().last()) {
                (End::List, _) => {
                    lists.insert(&job.name);
                }
                (End::Refused | End::Cancelled, _) if lies_in(&folders.refused, &job.name) => {
                    morning.refused.push(job);
                }
                (End::Done, Some(verdict)) => morning.settled.push((job, Settled::Pressed(verdict))),
                (End::Done, None) if !lies_in(&folders.outgoing, &job.name) => {
                    morning.settled.push((job, Settled::TakenAway));
                }
                (End::Done, None) => ready.push(job),
                _ => {}
            }
        }
        morning.lists = Listed::of(&lists, history, folders);
        ready.reverse();
        morning.refused.reverse();
        morning.settled.reverse();
        for job in ready {
            if let Some(made) = job.made.as_deref() {
                let on = history.carrying(&job.name);
                morning.add(Ready { job, made, last: history.last_on(&made.blank), on });
            }
        }
        morning.groups.sort_by(order);
        for group in &mut morning.groups {
            group.jobs.sort_by(|one, other| one.made.blank.cmp(&other.made.blank));
        }
        morning
    }

    fn add(&mut self, ready: Ready<'h>) {
        let (made, seconds) = (ready.made, ready.made.all_seconds());
        if !made.shares {
            *self.load.entry((&made.paper, &made.printer)).or_default() += made.all_sheets();
        }
        if !made.carries.is_empty() {
            return self.shared.push(ready);
        }
        self.seconds += seconds;
        let press = made.pressing.as_ref().map(|pressing| (pressing.press.as_str(), pressing.heat_c));
        let alike =
            |group: &&mut Group<'_>| order_of_press(group.press, press).is_eq() && group.paper == made.paper;
        match self.groups.iter_mut().find(alike) {
            Some(group) => {
                group.jobs.push(ready);
                group.seconds += seconds;
            }
            None => self.groups.push(Group { press, paper: &made.paper, jobs: vec![ready], seconds }),
        }
    }

    /// Jobs and shared sheets that cost something.
    pub(crate) fn made(&self) -> impl Iterator<Item = &'h Made> {
        self.ready().chain(&self.shared).map(|ready| ready.made)
    }

    /// The jobs that wait, in the order to press them.
    pub(crate) fn ready(&self) -> impl Iterator<Item = &Ready<'h>> {
        self.groups.iter().flat_map(|group| &group.jobs)
    }

    /// How often a press is set to another heat, its first not counted.
    pub(crate) fn changes_of_heat(&self) -> usize {
        let heats: Vec<_> = self.groups.iter().filter_map(|group| group.press).collect();
        heats
            .windows(2)
            .filter(|pair| pair[0].0 == pair[1].0 && pair[0].1.total_cmp(&pair[1].1).is_ne())
            .count()
    }
}

/// By press, heat rising, paper.
fn order(one: &Group<'_>, other: &Group<'_>) -> Ordering {
    order_of_press(one.press, other.press).then_with(|| one.paper.cmp(other.paper))
}

/// What has no press plan comes last.
fn order_of_press(one: Option<(&str, f64)>, other: Option<(&str, f64)>) -> Ordering {
    match (one, other) {
        (Some(one), Some(other)) => one.0.cmp(other.0).then(one.1.total_cmp(&other.1)),
        (one, other) => one.is_none().cmp(&other.is_none()),
    }
}

/// Whether a job's folder is still there. The names come from a file that anybody may have written to.
pub(crate) fn lies_in(folder: &Path, job: &str) -> bool {
    is_bare_name(job) && folder.join(job).is_dir()
}
