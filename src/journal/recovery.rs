//! After a kill: every job found between two states is brought back onto its way, each by itself.

use std::fs;
use std::io::{self, ErrorKind};

use super::files::remove_folder;
use super::{Claim, Journal, claim, names, sharing};

impl Journal {
    /// Brings back what can be at once; returns the claims to be taken on, the oldest first. Those that gave trouble
    /// are among them, to be tried again with the pauses of all trouble.
    ///
    /// # Errors
    /// Where the folders of claims or staged files cannot be looked into.
    pub fn recover(&self) -> io::Result<Vec<Claim>> {
        for part in names(&self.staging())?.iter().filter(|name| name.ends_with(".part")) {
            if let Err(why) = remove_folder(&self.staging().join(part)) {
                tracing::warn!(%part, %why, "the rest of an interrupted job cannot be removed");
            }
        }
        let mut waiting = Vec::new();
        for name in names(&self.claimed())? {
            match self.recover_one(&name) {
                Ok(claim) => waiting.extend(claim),
                Err(why) => {
                    tracing::error!(job = %name, %why, "an interrupted job gives trouble");
                    let id = name.strip_suffix(".done").or_else(|| name.strip_suffix(".refused"));
                    waiting.extend(id.map(|id| self.claim_called(id)));
                }
            }
        }
        waiting.sort_by_cached_key(|claim| {
            (claim::Facts::read(&claim.folder).map(|facts| facts.first_seen).ok(), claim.id.clone())
        });
        Ok(waiting)
    }

    fn recover_one(&self, name: &str) -> io::Result<Option<Claim>> {
        let folder = self.claimed().join(name);
        if !fs::symlink_metadata(&folder)?.is_dir() {
            return Err(io::Error::new(ErrorKind::NotADirectory, "no folder of ours; it stays where it is"));
        }
        if let Some(id) = name.strip_suffix(".done") {
            self.finish(id)?;
        } else if let Some(id) = name.strip_suffix(".refused") {
            self.set_aside(id)?;
        } else if name.ends_with(".rows") || name.ends_with(sharing::WAITS) {
            // They wait.
        } else if [".gone", ".unfolding", sharing::BEGUN].iter().any(|state| name.ends_with(state)) {
            remove_folder(&folder)?;
        } else if name.ends_with(".tmp") {
            claim::put_back(&folder, &self.folders.incoming)?;
        } else {
            return Ok(Some(self.claim_called(name)));
        }
        Ok(None)
    }

    pub(super) fn claim_called(&self, id: &str) -> Claim {
        Claim { id: id.to_owned(), folder: self.state(id, "") }
    }
}
