//! From a claimed set of files to an order with every name resolved, or to a refusal a maker understands.
//!
//! A claim folder holds what the journal moved there: one artwork, its sidecar, a copy of its folder's defaults, or
//! a set with something missing or too much. [`read`] never looks outside that folder: a sidecar names other files
//! by bare names only. [`read_beside`] is for artwork that is not claimed but only tried, and [`read_kept`] for a job
//! that was made before. Sidecar and defaults are read as two layers, key by key, and all mistakes of both are told at
//! once. An order list makes many orders of one ([`plan`]).

mod fields;
mod kept;
mod list;
mod measured;
mod names;
mod order;
mod pair;
mod resolved;
mod row;
#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};

use seamwright_contract::order::Order;
use seamwright_contract::settings::{Node, Value};
use seamwright_contract::{Blame, Fault};

use crate::config::yaml::{Document, LONGEST_ORDER};
use crate::config::{Config, Diagnosis};
use crate::journal::files::open_plain;

pub(crate) use kept::{Kept, read_kept};
pub(crate) use list::plan;
pub(crate) use names::is_bare_name;
pub use names::{FOLDER, is_artwork_name, is_defaults_name, is_ignored, is_list_name, is_sidecar_name};
use order::Beside;
pub(crate) use order::WRITTEN;
pub use pair::Sources;
pub(crate) use row::row_in;

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
    let order = order_of(sidecar, defaults, &Beside::Picture(&sources.artwork), config).map_err(told)?;
    let resolved = resolved::text(&order, config);
    Ok(Intake { artwork: sources.artwork, order, resolved })
}

/// The order by these two texts.
fn order_of(
    sidecar: Document,
    defaults: Document,
    beside: &Beside<'_>,
    config: &Config,
) -> Result<Order, Vec<Diagnosis>> {
    let order = order::read(&sidecar.root(), &defaults.root(), config, beside);
    let mut mistakes = sidecar.diagnoses();
    mistakes.extend(defaults.diagnoses());
    order.filter(|_| mistakes.is_empty()).ok_or(mistakes)
}

/// Looks a sidecar or a folder's defaults over without any artwork; a `folder.yaml` beside a sidecar counts as its
/// defaults.
///
/// # Errors
/// Every mistake in them.
pub fn check(file: &Path, config: &Config) -> Result<(), Vec<Diagnosis>> {
    let defaults_alone = file.file_name().is_some_and(is_defaults_name);
    let under = defaults_beside(file);
    let (sidecar, defaults) =
        if defaults_alone { (None, Some(file)) } else { (Some(file), under.as_deref()) };
    let (sidecar, defaults) = (document(sidecar)?, document(defaults)?);
    let order = order::read(&sidecar.root(), &defaults.root(), config, &Beside::Nothing { defaults_alone });
    let mut mistakes = sidecar.diagnoses();
    mistakes.extend(defaults.diagnoses());
    let said = order.is_some() || defaults_alone || !mistakes.is_empty();
    debug_assert!(said, "an order is read or complained of");
    if mistakes.is_empty() { Ok(()) } else { Err(mistakes) }
}

/// Reads a text as an order for one who listens what is asked for.
pub(crate) fn look(node: &Node<'_>, config: &Config) {
    let nothing = Document::empty(FOLDER);
    let _read = order::read(node, &nothing.root(), config, &Beside::Nothing { defaults_alone: true });
}

/// Looks over the list that a sidecar names, as it lies beside it; a sidecar without one is in order.
///
/// # Errors
/// Every mistake in the list and its rows.
pub fn check_list(file: &Path, config: &Config) -> Result<(), Vec<Diagnosis>> {
    if file.file_name().is_some_and(is_defaults_name) {
        return Ok(());
    }
    list::check(file, defaults_beside(file), config)
}

/// The `folder.yaml` beside a sidecar.
fn defaults_beside(file: &Path) -> Option<PathBuf> {
    let beside = ["yaml", "yml"].map(|ending| file.with_file_name(FOLDER).with_extension(ending));
    beside.into_iter().find(|path| !file.file_name().is_some_and(is_defaults_name) && path.is_file())
}

/// Other files that an order names, all in its own folder. Who claims looks here for artwork of another stem and for a
/// list; mistakes are told when the job is read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Named {
    /// The picture.
    pub artwork: Option<String>,
    /// The list.
    pub list: Option<String>,
    /// Whether the order is a row of a list, and so needs none.
    pub is_row: bool,
}

/// What a sidecar or a folder's defaults name; nothing where they cannot be read.
#[must_use]
pub fn named_by(order: &Path) -> Named {
    Document::read(open_plain(order), "", LONGEST_ORDER)
        .map_or_else(|_| Named::default(), |text| names_in(&text))
}

fn names_in(document: &Document) -> Named {
    let Some(mut keys) = document.root().fields() else { return Named::default() };
    let mut name = |key| match keys.get(key)?.value() {
        Value::Text(name) if is_bare_name(name) => Some(name.clone()),
        _ => None,
    };
    Named { artwork: name("artwork"), list: name(list::LIST), is_row: keys.get(row::ROW).is_some() }
}

fn document(path: Option<&Path>) -> Result<Document, Vec<Diagnosis>> {
    match path {
        Some(path) => Document::open(path, &pair::shown(path.file_name()), LONGEST_ORDER),
        None => Ok(Document::empty("folder.yaml")),
    }
}
