//! From a claimed set of files to an order with every name resolved, or to a refusal a maker understands.
//!
//! A claim folder holds what the journal moved there: one artwork, its sidecar, a copy of its folder's defaults, or
//! a set with something missing or too much. [`read`] never looks outside that folder: a sidecar names other files
//! by bare names only. [`read_beside`] is for artwork that is not claimed but only tried, and [`read_kept`] for a job
//! that was made before. Sidecar and defaults are read as two layers, key by key, and all mistakes of both are told at
//! once.

mod fields;
mod kept;
mod names;
mod order;
mod pair;
mod resolved;
#[cfg(test)]
mod tests;

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use seamwright_contract::order::Order;
use seamwright_contract::settings::Value;
use seamwright_contract::{Blame, Fault};

use crate::config::yaml::{Document, LONGEST_ORDER};
use crate::config::{Config, Diagnosis};
use crate::journal::files::open_plain;

pub(crate) use kept::{Kept, read_kept};
pub(crate) use names::is_bare_name;
pub use names::{FOLDER, is_artwork_name, is_defaults_name, is_ignored, is_sidecar_name};
pub(crate) use order::WRITTEN;
pub use pair::Sources;

/// A job ready to be worked.
#[derive(Debug)]
pub struct Intake {
    /// The picture's file, inside the claim folder.
    pub artwork: PathBuf,
    /// What is wanted of it.
    pub order: Order,
    /// The order as YAML text with every value of the catalogue, so that it can be made again when that changed.
    pub resolved: String,
}

/// Reads a claim folder.
///
/// # Errors
/// Every reason why the job cannot be done, or the machine's failure to read it.
pub fn read(claim: &Path, config: &Config) -> Result<Intake, Vec<Fault>> {
    of(pair::pair(claim).map_err(|fault| vec![fault])?, config)
}

/// Reads an artwork where it lies, with the sidecar of its stem and its folder's defaults.
///
/// # Errors
/// As [`read`].
pub fn read_beside(artwork: &Path, config: &Config) -> Result<Intake, Vec<Fault>> {
    of(pair::beside(artwork).map_err(|fault| vec![fault])?, config)
}

fn of(sources: Sources, config: &Config) -> Result<Intake, Vec<Fault>> {
    let told =
        |mistakes: Vec<Diagnosis>| mistakes.into_iter().map(|m| m.blamed(Blame::Order)).collect::<Vec<_>>();
    let sidecar = document(sources.sidecar.as_deref());
    let defaults = document(sources.defaults.as_deref());
    let (sidecar, defaults) = match (sidecar, defaults) {
        (Ok(sidecar), Ok(defaults)) => (sidecar, defaults),
        (sidecar, defaults) => {
            let mistakes = sidecar.err().into_iter().chain(defaults.err()).flatten().collect();
            return Err(told(mistakes));
        }
    };
    let order =
        order::read(&sidecar.root(), &defaults.root(), config, &order::Beside::Picture(&sources.artwork));
    let mut mistakes = sidecar.diagnoses();
    mistakes.extend(defaults.diagnoses());
    match order {
        Some(order) if mistakes.is_empty() => {
            let resolved = resolved::text(&order, config);
            Ok(Intake { artwork: sources.artwork, order, resolved })
        }
        _ => Err(told(mistakes)),
    }
}

/// Looks a sidecar or a folder's defaults over without any artwork; a `folder.yaml` beside a sidecar counts as its
/// defaults.
///
/// # Errors
/// Every mistake in them.
pub fn check(file: &Path, config: &Config) -> Result<(), Vec<Diagnosis>> {
    let defaults_alone = file.file_name().is_some_and(is_defaults_name);
    let beside = ["yaml", "yml"].map(|ending| file.with_file_name(FOLDER).with_extension(ending));
    let beside = beside.iter().find(|path| !defaults_alone && path.is_file());
    let (sidecar, defaults) =
        if defaults_alone { (None, Some(file)) } else { (Some(file), beside.map(PathBuf::as_path)) };
    let (sidecar, defaults) = (document(sidecar)?, document(defaults)?);
    let order =
        order::read(&sidecar.root(), &defaults.root(), config, &order::Beside::Nothing { defaults_alone });
    let mut mistakes = sidecar.diagnoses();
    mistakes.extend(defaults.diagnoses());
    let said = order.is_some() || defaults_alone || !mistakes.is_empty();
    debug_assert!(said, "an order is read or complained of");
    if mistakes.is_empty() { Ok(()) } else { Err(mistakes) }
}

/// The file name a sidecar's key `artwork` gives, where it has one and it can be read. Who claims looks here for
/// artwork of another stem; mistakes are told when the job is read.
#[must_use]
pub fn artwork_named_by(sidecar: &Path) -> Option<OsString> {
    let document = Document::read(open_plain(sidecar), "", LONGEST_ORDER).ok()?;
    match document.root().fields()?.get("artwork")?.value() {
        Value::Text(name) if is_bare_name(name) => Some(OsString::from(name)),
        _ => None,
    }
}

fn document(path: Option<&Path>) -> Result<Document, Vec<Diagnosis>> {
    match path {
        Some(path) => Document::open(path, &pair::shown(path.file_name()), LONGEST_ORDER),
        None => Ok(Document::empty("folder.yaml")),
    }
}
