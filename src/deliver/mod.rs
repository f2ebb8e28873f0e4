//! The hand-off of finished sheets to their printers, after publication and beside everything else.
//!
//! Each job that is to be printed has a slip on the disk ([`slip`]), made before the job is published, so that neither a
//! kill nor a power cut loses one. Tries ([`attempt`]) run side by side, one at a time for each printer and there in the
//! order of asking; what stands in a printer's way is tried again after a pause that doubles, and holds up nothing else.
//! What goes through ends as a line of the history, the same beside the kept sources, and then the slip goes. What
//! cannot go on by itself stays, is on the report page, and waits for `seamwright print`.

mod attempt;
mod ipp;
mod learn;
mod media;
mod slip;
#[cfg(test)]
mod tests;
mod told;
mod wire;

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::PathBuf;
use std::time::Duration;

use tokio::task::JoinSet;
use tokio::time::Instant;

use crate::config::{Config, Folders};
use crate::history::{self, End};
use crate::journal::visible;
use crate::run::Pauses;
use attempt::{Attempt, Came};

pub(crate) use learn::learn;
pub(crate) use slip::{SHEETS, Slip, Slips, State};
pub(crate) use told::{ask_for, in_a_line, needs_you, work_off};

/// How often it is looked for new slips and for the maker's word.
const LOOK: Duration = Duration::from_secs(2);

/// How often a printer is asked how a job goes, and how often at last where it does not answer.
const ASK: Duration = Duration::from_secs(5);
const SELDOM: Duration = Duration::from_secs(300);

/// After so many tries the maker is told, though it is tried on.
const PATIENCE: u32 = 8;

/// All that is to be printed.
#[derive(Debug)]
pub(crate) struct Spool {
    slips: Slips,
    kept: PathBuf,
    /// Those that count, by the names of their folders.
    known: BTreeMap<String, Slip>,
    tries: JoinSet<(Attempt, Came)>,
    /// The slips being worked on, each with its printer while it is handed over.
    busy: BTreeMap<String, Option<String>>,
    /// Printers that something stands in the way of.
    pauses: Pauses<String>,
    /// When jobs that go on are asked after again.
    next: BTreeMap<String, Instant>,
    looked: Option<Instant>,
    /// The one slip that is seen to, or all.
    only: Option<String>,
    changed: bool,
}

impl Spool {
    pub(crate) fn new(studio: &Folders) -> Self {
        Self {
            slips: Slips::of(studio),
            kept: studio.kept.clone(),
            known: BTreeMap::new(),
            tries: JoinSet::new(),
            busy: BTreeMap::new(),
            pauses: Pauses::new(),
            next: BTreeMap::new(),
            looked: None,
            only: None,
            changed: false,
        }
    }

    /// Sees to one slip alone.
    fn only(studio: &Folders, name: &str) -> Self {
        Self { only: Some(name.to_owned()), ..Self::new(studio) }
    }

    /// Takes up what an earlier run left. `worked` are the jobs that are yet to be published.
    pub(crate) fn recover(&mut self, worked: &[&str]) {
        if let Err(why) = self.slips.recover(&self.kept, worked) {
            tracing::error!(%why, "what is to be printed cannot be looked through");
        }
        self.ring();
    }

    /// Starts what is due. Says whether something has changed since.
    pub(crate) fn turn(&mut self, config: &Config) -> bool {
        if self.looked.is_none_or(|at| at.elapsed() >= LOOK) {
            self.looked = Some(Instant::now());
            if let Err(why) = self.look() {
                tracing::warn!(%why, "what is to be printed cannot be looked through");
            }
        }
        while let Some(done) = self.tries.try_join_next() {
            self.conclude(done);
        }
        self.start(config);
        std::mem::take(&mut self.changed)
    }

    /// Resolves when a try has ended and was seen to; never where there is none.
    pub(crate) async fn ended(&mut self) {
        match self.tries.join_next().await {
            Some(done) => self.conclude(done),
            None => std::future::pending().await,
        }
    }

    /// Looks at once the next time, for something was just published.
    pub(crate) fn ring(&mut self) {
        self.looked = None;
    }

    /// Lets what is under way come to its end.
    pub(crate) async fn wind_up(&mut self) {
        while let Some(done) = self.tries.join_next().await {
            self.conclude(done);
        }
    }

    /// How many jobs a batch leaves unprinted that has tried each so many times; nothing while it goes on.
    pub(crate) fn left(&self, tries: u32) -> Option<usize> {
        if !self.tries.is_empty() || self.looked.is_none() {
            return None;
        }
        let waits = |slip: &Slip| !matches!(slip.state, State::Held | State::Taken { .. });
        let waiting: Vec<_> = self.known.iter().filter(|(_, slip)| waits(slip)).collect();
        let over = |(name, slip): &(&String, &Slip)| {
            matches!(slip.state, State::Stopped { .. })
                || self.pauses.tries(&slip.printer).max(slip.tries) >= tries
                // Lost from sight.
                || self.busy.contains_key(*name)
        };
        waiting.iter().all(over).then_some(waiting.len())
    }

    /// Finds new slips, and hears the maker's word.
    fn look(&mut self) -> io::Result<()> {
        let wanted = |name: &String| self.only.as_ref().is_none_or(|only| only == name);
        let there: BTreeSet<String> = self.slips.there()?.into_iter().filter(wanted).collect();
        self.known.retain(|name, _| there.contains(name));
        for name in there {
            if !self.known.contains_key(&name) {
                match self.slips.read(&name) {
                    Ok(Some(slip)) => {
                        self.changed = true;
                        self.known.insert(name.clone(), slip);
                    }
                    Ok(None) => {}
                    Err(why) => tracing::warn!(job = %name, %why, "its slip cannot be read"),
                }
            }
            if let Some(force) = self.slips.wished(&name).filter(|_| !self.busy.contains_key(&name)) {
                self.obey(&name, force)?;
            }
        }
        Ok(())
    }

    /// The maker says that it is to be handed over now.
    fn obey(&mut self, name: &str, force: bool) -> io::Result<()> {
        if let Some(slip) = self.known.get_mut(name) {
            match slip.state {
                State::Held => slip.state = State::Waiting,
                State::Stopped { .. } => (slip.state, slip.round) = (State::Waiting, slip.round + 1),
                State::Begun { .. } | State::Taken { .. } if force => {
                    (slip.state, slip.round) = (State::Waiting, slip.round + 1);
                }
                State::Waiting | State::Begun { .. } | State::Taken { .. } => {}
            }
            (slip.why, slip.tries) = (String::new(), 0);
            self.next.remove(name);
            self.pauses.forget(&slip.printer);
            self.slips.write(name, slip)?;
            self.changed = true;
        }
        self.slips.unwish(name)
    }

    /// Begins what is due: to ask after jobs that go on, and for each free printer its oldest.
    fn start(&mut self, config: &Config) {
        let mut waiting: Vec<(String, Slip)> = Vec::new();
        for (name, slip) in &self.known {
            if !self.busy.contains_key(name) && !matches!(slip.state, State::Held | State::Stopped { .. }) {
                waiting.push((name.clone(), slip.clone()));
            }
        }
        waiting.sort_by(|one, other| (&one.1.asked, &one.0).cmp(&(&other.1.asked, &other.0)));
        for (name, slip) in waiting {
            let Some(send_to) =
                config.catalogue.printers.get(&slip.printer).and_then(|it| it.send_to.clone())
            else {
                self.lost(&name);
                continue;
            };
            let asks = asks(&slip);
            if asks && self.next.get(&name).is_some_and(|at| *at > Instant::now()) {
                continue;
            }
            let taken = self.busy.values().flatten().any(|printer| *printer == slip.printer);
            if !asks && (taken || self.pauses.hold(&slip.printer)) {
                continue;
            }
            self.busy.insert(name.clone(), (!asks).then(|| slip.printer.clone()));
            self.tries.spawn(Attempt { name, slip, slips: self.slips.clone() }.run(send_to));
        }
    }

    /// Its printer is not in the catalogue any more, or nobody says where its sheets go.
    fn lost(&mut self, name: &str) {
        let Some(slip) = self.known.get_mut(name).filter(|slip| slip.tries == 0) else { return };
        slip.why = format!("printers/{}.yaml does not say where its sheets go", slip.printer);
        slip.tries = PATIENCE;
        self.changed = true;
        let slip = slip.clone();
        self.write(name, &slip);
    }

    fn conclude(&mut self, done: Result<(Attempt, Came), tokio::task::JoinError>) {
        let (Attempt { name, slip, .. }, came) = match done {
            Ok(done) => done,
            Err(why) => {
                // It stays as it is: nobody knows how far it came, and the next start finds out.
                tracing::error!(%why, "a try to print was lost from sight; it is taken up at the next start");
                return;
            }
        };
        self.busy.remove(&name);
        self.changed = true;
        let came_through = !matches!(came, Came::NotYet(_));
        if came_through {
            self.pauses.forget(&slip.printer);
        }
        match came {
            Came::Taken(how) => self.taken(&name, slip, &how),
            Came::Printed(how) => {
                self.tell(&slip, End::Printed, &how);
                self.done(&name);
            }
            Came::GoesOn(why) => {
                self.next.insert(name.clone(), Instant::now() + ASK);
                self.changed = slip.why != why;
                // What the maker should look at is not only that it goes on.
                let tries = if matches!(slip.state, State::Taken { .. }) { 0 } else { slip.tries + 1 };
                self.keep(&name, Slip { why, tries, ..slip });
            }
            Came::NotYet(why) => self.not_yet(&name, slip, why),
            Came::Stopped(why, cure) => {
                tracing::warn!(job = %slip.job, printer = %slip.printer, why = %visible(&why), "not printed; it waits for you");
                self.tell(&slip, End::Unprinted, &why);
                self.keep(&name, Slip { state: State::Stopped { cure }, why, tries: 0, ..slip });
            }
        }
    }

    fn taken(&mut self, name: &str, slip: Slip, how: &str) {
        tracing::info!(job = %slip.job, printer = %slip.printer, %how, "handed to the printer");
        self.tell(&slip, End::Sent, how);
        if matches!(slip.state, State::Taken { .. }) {
            self.keep(name, Slip { why: String::new(), tries: 0, ..slip });
        } else {
            self.done(name);
        }
    }

    fn not_yet(&mut self, name: &str, slip: Slip, why: String) {
        let tries = slip.tries + 1;
        let pause = if asks(&slip) {
            let pause = ASK.saturating_mul(1 << tries.min(10)).min(SELDOM);
            self.next.insert(name.to_owned(), Instant::now() + pause);
            pause
        } else {
            self.pauses.add(slip.printer.clone()).1
        };
        tracing::warn!(job = %slip.job, printer = %slip.printer, why = %visible(&why), tries, ?pause, "cannot be handed over yet; tried again later");
        if tries == PATIENCE && !matches!(slip.state, State::Taken { .. }) {
            self.tell(&slip, End::Unprinted, &why);
        }
        self.keep(name, Slip { why, tries, ..slip });
    }

    /// Writes down how it stands now.
    fn keep(&mut self, name: &str, slip: Slip) {
        self.write(name, &slip);
        self.known.insert(name.to_owned(), slip);
    }

    fn write(&self, name: &str, slip: &Slip) {
        // Once it is begun that is on the disk already; what comes after may be found out again.
        if let Err(why) = self.slips.write(name, slip) {
            tracing::error!(job = %name, %why, "how its printing goes cannot be written down");
        }
    }

    fn done(&mut self, name: &str) {
        self.known.remove(name);
        self.next.remove(name);
        if let Err(why) = self.slips.remove(name) {
            tracing::error!(job = %name, %why, "the slip of what is printed cannot be removed");
        }
    }

    fn tell(&self, slip: &Slip, end: End, how: &str) {
        history::note_printing(&self.kept, &slip.job, end, &format!("{}: {how}", slip.printer));
    }
}

/// Whether the next thing is to ask the printer what it has, beside whatever else goes there.
fn asks(slip: &Slip) -> bool {
    matches!(slip.state, State::Taken { .. } | State::Begun { sent: true, .. })
}
