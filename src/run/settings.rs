//! The settings in use: those that were last in order, and whether the files have changed since.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use seamwright_contract::Blame;
use tokio::time::Instant;

use super::EVERY;
use crate::config::{self, Config, Diagnosis, Frozen, Stamp};
use crate::journal::in_words;

/// The settings of a running daemon.
#[derive(Debug)]
pub(crate) struct Settings {
    file: Option<PathBuf>,
    current: Arc<Frozen>,
    stamp: Stamp,
    /// How the files looked the last time they were looked at, and were not yet read.
    unread: Option<Stamp>,
    /// When they were last looked at.
    looked: Instant,
    /// How many copies were made.
    number: u32,
    trouble: Option<String>,
}

impl Settings {
    /// The first ones, as they were just read.
    ///
    /// # Errors
    /// Why they cannot be copied.
    pub(crate) fn new(config: Config, file: Option<&Path>) -> Result<Self, Vec<Diagnosis>> {
        let stamp = Stamp::of(file);
        let current = Arc::new(Frozen::new(config, file, 1)?);
        let looked = Instant::now();
        let file = file.map(Path::to_owned);
        Ok(Self { file, current, stamp, unread: None, looked, number: 1, trouble: None })
    }

    /// What they say.
    pub(crate) fn config(&self) -> &Config {
        &self.current.config
    }

    /// They and their copy, for a job to be worked by.
    pub(crate) fn current(&self) -> Arc<Frozen> {
        Arc::clone(&self.current)
    }

    /// What is wrong with the files, where they are not the settings in use.
    pub(crate) fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// Reads them again if the files have changed and lie still, or at once if somebody asks; says whether there are new
    /// ones. Where something is wrong with them, the old ones stay, and that is said.
    pub(crate) fn renew(&mut self, asked: bool) -> bool {
        if !asked && self.looked.elapsed() < EVERY {
            return false;
        }
        self.looked = Instant::now();
        // Somebody may have tidied the copy away that jobs are worked by.
        let asked = asked || !self.current.file.exists();
        let stamp = Stamp::of(self.file.as_deref());
        if !asked {
            let still = self.unread.as_ref() == Some(&stamp);
            self.unread = (stamp != self.stamp).then(|| stamp.clone());
            if stamp == self.stamp || !still {
                return false;
            }
        }
        (self.stamp, self.unread) = (stamp, None);
        self.number += 1;
        let file = self.file.as_deref();
        match config::load(file).and_then(|config| Frozen::new(config, file, self.number)) {
            Ok(new) if new.config.studio != self.current.config.studio => {
                self.keep("the studio's folder is another now; start again to work there".to_owned());
                false
            }
            Ok(new) => {
                tracing::info!("new settings are in use");
                (self.current, self.trouble) = (Arc::new(new), None);
                true
            }
            Err(mistakes) => {
                let told = mistakes.into_iter().map(|mistake| in_words(&mistake.blamed(Blame::Setup)));
                self.keep(told.collect::<Vec<_>>().join("\n"));
                false
            }
        }
    }

    fn keep(&mut self, why: String) {
        tracing::warn!("the changed settings are not in order; the old ones stay in use\n{}", why.trim_end());
        self.trouble = Some(why);
    }
}
