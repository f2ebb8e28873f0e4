//! What the daemon is doing, written down for whoever asks: the service manager, a script, the maker.
//!
//! The service manager hears that it is ready, what it is doing, and that it goes on (the watchdog is only fed from the
//! loop itself). Everybody else reads one small file that is replaced every few seconds.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use sd_notify::NotifyState;
use serde::{Deserialize, Serialize};
use tokio::time::Instant;

use super::Tally;
use super::settings::Settings;
use crate::config::{Folders, HIDDEN};
use crate::journal::files::write_whole;
use crate::registry;

/// The file, in the studio's hidden folder.
const FILE: &str = "status.json";

/// How often it is written while the daemon's state stays the same.
const EVERY: Duration = Duration::from_secs(5);

/// A file older than this is of a daemon that hangs or is gone.
const STALE: Duration = Duration::from_secs(60);

/// How the daemon is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum State {
    /// It works or waits for work.
    Well,
    /// There is no inbox; it waits for it to come back.
    InboxMissing,
    /// The disk is full; no job is begun until there is room.
    NoRoom,
    /// It was told to stop.
    Stopping,
}

/// What is written down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Status {
    pid: u32,
    state: State,
    /// Jobs being worked, and those to be worked next.
    running: usize,
    queued: usize,
    /// Files that are not complete yet, or wait for their partner.
    waiting: usize,
    /// Jobs since the start.
    finished: u32,
    refused: u32,
    left: u32,
    /// What is wrong with changed settings; the old ones are in use.
    settings: Option<String>,
    /// How programs of the studio's own are held, where there are any.
    #[serde(default)]
    programs: Option<String>,
}

/// Tells how the daemon is.
#[derive(Debug)]
pub(super) struct Health {
    file: PathBuf,
    /// How programs of the studio's own are held, where there are any.
    programs: Option<&'static str>,
    told: Option<(Instant, Status)>,
}

impl Health {
    pub(super) fn new(studio: &Folders) -> Self {
        Self { file: studio.root.join(HIDDEN).join(FILE), programs: None, told: None }
    }

    /// How programs of the studio are held, where there are any; said in the log when that is another.
    fn hold_programs(&mut self, how: Option<&'static str>) {
        if let Some(how) = how.filter(|_| how != self.programs) {
            tracing::info!("{how}");
        }
        self.programs = how;
    }

    /// Once for each turn of the loop.
    pub(super) fn report(
        &mut self,
        state: State,
        running: usize,
        queued: usize,
        waiting: usize,
        tally: Tally,
        settings: &Settings,
    ) {
        let programs = settings.config().pipeline.runs_programs();
        self.hold_programs(programs.then(registry::containment));
        let Tally { finished, refused, left } = tally;
        let settings = settings.trouble().map(str::to_owned);
        let pid = std::process::id();
        let programs = self.programs.map(str::to_owned);
        let status =
            Status { pid, state, running, queued, waiting, finished, refused, left, settings, programs };
        notify(&[NotifyState::Watchdog]);
        if self.told.is_none() {
            notify(&[NotifyState::Ready]);
        }
        // Counts change with each job, and writing takes a flush: only how it is cannot wait.
        let same = |told: &Status| (told.state, &told.settings) == (status.state, &status.settings);
        if self.told.as_ref().is_some_and(|(at, told)| same(told) && at.elapsed() < EVERY) {
            return;
        }
        notify(&[NotifyState::Status(&format!(
            "{running} running, {queued} queued, {finished} done, {refused} refused"
        ))]);
        self.write(status);
    }

    /// It was told to stop.
    pub(super) fn stopping(&mut self) {
        notify(&[NotifyState::Stopping]);
        if let Some((_, status)) = self.told.take() {
            self.write(Status { state: State::Stopping, ..status });
        }
    }

    fn write(&mut self, status: Status) {
        if let Err(why) = replace(&self.file, &status) {
            tracing::warn!(%why, file = %self.file.display(), "the status cannot be written");
        }
        self.told = Some((Instant::now(), status));
    }
}

/// Without a service manager nobody listens, and nothing is said.
fn notify(states: &[NotifyState<'_>]) {
    if let Err(why) = sd_notify::notify(states) {
        tracing::debug!(%why, "the service manager does not listen");
    }
}

fn replace(file: &Path, status: &Status) -> io::Result<()> {
    if let Some(folder) = file.parent() {
        fs::create_dir_all(folder)?;
    }
    write_whole(file, &serde_json::to_vec(status)?)
}

/// How the daemon of a studio is, in words, and whether that is well.
#[must_use]
pub fn ask(studio: &Folders) -> (String, bool) {
    let file = studio.root.join(HIDDEN).join(FILE);
    let read = || -> io::Result<(Status, Duration)> {
        let age = file.metadata()?.modified()?.elapsed().unwrap_or_default();
        Ok((serde_json::from_slice(&fs::read(&file)?)?, age))
    };
    let Ok((status, age)) = read() else {
        return ("No daemon has worked in this studio.".to_owned(), false);
    };
    if age > STALE || status.state == State::Stopping {
        return ("No daemon works in this studio now.".to_owned(), false);
    }
    let how = match status.state {
        State::Well => "Well",
        State::InboxMissing => "The inbox is missing",
        State::NoRoom => "The disk is full",
        State::Stopping => "Stopping",
    };
    let Status { running, queued, waiting, finished, refused, left, .. } = status;
    let mut text = format!(
        "{how}: {running} running, {queued} queued, {waiting} files not complete; since the start {finished} done, {refused} refused, {left} left."
    );
    if let Some(settings) = &status.settings {
        text.push_str(&format!(" The changed settings are not in use:\n{settings}"));
    }
    if let Some(programs) = &status.programs {
        text.push_str(&format!(" The {programs}."));
    }
    (text, status.state == State::Well && status.settings.is_none())
}
