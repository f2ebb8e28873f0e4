//! What a worker holds from one task to the next: the settings, and the artwork it has open.

use std::path::{Path, PathBuf};

use seamwright_contract::Fault;
use seamwright_contract::order::Order;

use super::task::Task;
use crate::config::{self, Config, Diagnosis};
use crate::journal::{Signature, naming};
use crate::registry;

/// Things that the next task may need again.
#[derive(Debug, Default)]
pub(super) struct Held {
    settings: Option<(PathBuf, Config)>,
    artwork: Option<Open>,
}

/// An artwork that is open.
#[derive(Debug)]
pub(super) struct Open {
    /// What its file looked like.
    signature: Signature,
    wanted: registry::Wanted,
    /// The SHA-256 of its bytes, in hex.
    pub(super) sha256: String,
    pub(super) opened: registry::OpenedArtwork,
}

impl Held {
    /// What a task is worked by, and the artwork beside it.
    ///
    /// # Errors
    /// What is wrong with the settings.
    pub(super) fn by(&mut self, task: &Task) -> Result<(&Config, &mut Option<Open>), Vec<Diagnosis>> {
        let known = self.settings.take().filter(|(path, _)| *path == task.settings);
        let config = match known {
            Some((_, config)) => config,
            None => config::load_frozen(&task.settings, &task.studio)?,
        };
        let memory = task.memory - task.keep.min(task.memory);
        let (_, config) = self.settings.insert((task.settings.clone(), Config { memory, ..config }));
        Ok((config, &mut self.artwork))
    }
}

impl Open {
    /// The artwork of a job: what is held, if it is that, else opened anew, as far as that goes without its pixels.
    ///
    /// # Errors
    /// As [`registry::begin_artwork`], and where the file cannot be read.
    pub(super) fn of<'held>(
        held: &'held mut Option<Self>,
        path: &Path,
        order: &Order,
        limits: &registry::ArtworkLimits,
    ) -> Result<&'held Self, Fault> {
        let signature = Signature::of(path).map_err(unreadable)?;
        let wanted = registry::Wanted { page: order.page, fields: order.fields.clone() };
        let open = match held.take() {
            Some(open) if open.is(path, &signature, &wanted)? => open,
            // What was open goes before anything else is opened.
            other => {
                drop(other);
                let opened = registry::begin_artwork(path, &wanted, limits)?;
                // Read once more while its pixels are decoded.
                let sha256 = naming::digest(path).map_err(unreadable)?;
                Self { signature, wanted, sha256, opened }
            }
        };
        Ok(held.insert(open))
    }

    /// Whether opening a file would give the very same.
    fn is(&self, path: &Path, signature: &Signature, wanted: &registry::Wanted) -> Result<bool, Fault> {
        let fields = !self.opened.filled || wanted.fields == self.wanted.fields;
        Ok(wanted.page == self.wanted.page
            && fields
            && (signature.same_content(&self.signature)
                || signature.size == self.signature.size
                    && naming::digest(path).map_err(unreadable)? == self.sha256))
    }
}

fn unreadable(why: std::io::Error) -> Fault {
    Fault::machine(format!("The artwork could not be read: {why}."), "See that the disk is well.")
}
