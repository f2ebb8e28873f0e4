//! The morning after: `outgoing/index.html`, what `status` says, and the words and estimates both share.
//!
//! The page is written whole after each end of a job, at the daemon's start and when a new night begins, from the
//! history and from what lies in the studio's folders, and with it the summary of each list ([`lists`]). It is a copy for
//! people: whoever loses it loses nothing.

mod care;
pub(crate) mod cost;
mod html;
mod lists;
mod live;
mod morning;
mod page;
mod printing;
mod serve;
mod status;
#[cfg(test)]
mod tests;
pub(crate) mod words;

use std::io;
use std::path::PathBuf;

use tokio::time::{Duration, Instant};

use crate::config::Config;
use crate::deliver::Slips;
use crate::history::History;
use crate::journal::clock;
use crate::journal::files::write_whole;
use morning::{Morning, night_of};
use page::{Sources, page};

pub(crate) use lists::{SUMMARY, summary};
pub(crate) use serve::{At, serve};
pub(crate) use status::status;

/// The page's name in `outgoing/`.
pub(crate) const FILE: &str = "index.html";

/// While jobs end one after the other the page is written no more often than this.
const LEAST: Duration = Duration::from_secs(2);

/// And it takes no more than one part in so many of the time, however much it has to tell.
const SHARE: u32 = 20;

/// How often it is looked whether a new night has begun, somebody noted a result, or took a folder away.
const LOOK: Duration = Duration::from_secs(5);

/// Writes the page once, after something was changed by hand.
pub(crate) fn renew(config: &Config) {
    Report::new(History::of(&config.studio.kept)).renew(config, true);
}

/// Keeps the page true.
#[derive(Debug)]
pub(crate) struct Report {
    history: History,
    /// Whether something has changed since it was written.
    stale: bool,
    /// Before this it is not written again while more is about to end.
    rests: Instant,
    looked: Instant,
    night: Option<clock::Zoned>,
    /// The folders that it tells of.
    folders: Vec<PathBuf>,
    /// The page as last written, for whoever it is served to.
    pub(crate) live: Option<tokio::sync::watch::Sender<String>>,
}

impl Report {
    /// Of a studio's history, as far as it is read; the page is yet to be written.
    pub(crate) fn new(history: History) -> Self {
        Self {
            history,
            stale: true,
            rests: Instant::now(),
            looked: Instant::now(),
            night: None,
            folders: Vec::new(),
            live: None,
        }
    }

    /// Something ended.
    pub(crate) fn changed(&mut self) {
        self.stale = true;
    }

    /// Writes the page if it is due: at once where nothing more is about to end.
    pub(crate) fn renew(&mut self, config: &Config, idle: bool) {
        if self.looked.elapsed() >= LOOK {
            self.looked = Instant::now();
            self.stale |= self.night.as_ref() != Some(&night_of(&clock::now()))
                || self.history.has_more()
                || self.folders.iter().any(|folder| !folder.is_dir());
        }
        let begun = Instant::now();
        if !self.stale || !(idle || begun >= self.rests) {
            return;
        }
        self.stale = false;
        if let Err(why) = self.write(config) {
            tracing::warn!(%why, "the report page cannot be written");
        }
        self.rests = Instant::now() + LEAST.max(begun.elapsed() * SHARE);
    }

    fn write(&mut self, config: &Config) -> io::Result<()> {
        self.history.catch_up()?;
        let now = clock::now();
        self.night = Some(night_of(&now));
        let morning = Morning::of(&self.history, &config.studio, &now);
        let studio = &config.studio;
        let ready =
            morning.ready().chain(&morning.shared).map(|ready| studio.outgoing.join(&*ready.job.name));
        self.folders =
            ready.chain(morning.refused.iter().map(|job| studio.refused.join(&*job.name))).collect();
        morning.lists.iter().for_each(|list| list.write(studio));
        let slips = Slips::of(studio).all();
        let sources = Sources { morning: &morning, slips: &slips, config, now: &now };
        if let Some(live) = &self.live {
            live.send_replace(page(&sources, true));
        }
        write_whole(&config.studio.outgoing.join(FILE), page(&sources, false).as_bytes())
    }
}
