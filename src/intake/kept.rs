//! A job that was made before, from its folder in `kept/`: the artwork that its record names, and the order with every
//! value as it was then.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::{Blame, Fault};
use serde_json::Value;

use super::{Intake, order};
use crate::config::yaml::{Document, LONGEST_SETTINGS};
use crate::config::{self, Config};
use crate::journal::{ORDER, RECORD, kept_file, naming};

/// A job ready to be made again.
#[derive(Debug)]
pub(crate) struct Kept {
    pub(crate) intake: Intake,
    /// The settings as they were.
    pub(crate) config: Config,
    /// What was decided then.
    pub(crate) record: Value,
}

/// Reads a folder of `kept/`.
///
/// # Errors
/// What of it is missing or has changed.
pub(crate) fn read_kept(folder: &Path, config: Config) -> Result<Kept, Vec<Fault>> {
    let one = |fault: Fault| vec![fault];
    let record = record(folder).map_err(one)?;
    let artwork = artwork(folder, &record).map_err(one)?;
    let told =
        |mistakes: Vec<config::Diagnosis>| mistakes.into_iter().map(|m| m.blamed(Blame::Order)).collect();
    let document = Document::open(&kept_file(folder, ORDER), "order.yaml", LONGEST_SETTINGS).map_err(told)?;
    let read = || {
        let root = document.root();
        let mut keys = root.fields()?;
        // For people who wonder.
        keys.get("version");
        let config = config::as_kept(&mut keys, folder, config)?;
        let nothing = Document::empty("order.yaml");
        let order =
            order::read(&keys.get("order")?, &nothing.root(), &config, &order::Beside::Picture(&artwork));
        keys.finish();
        Some((order?, config))
    };
    let read = read();
    let mistakes = document.diagnoses();
    match read {
        Some((order, config)) if mistakes.is_empty() => {
            let intake = Intake { artwork, order, resolved: String::new() };
            Ok(Kept { intake, config, record })
        }
        _ if mistakes.is_empty() => Err(one(changed("order.yaml lacks a part"))),
        _ => Err(told(mistakes)),
    }
}

fn record(folder: &Path) -> Result<Value, Fault> {
    let bytes = fs::read(kept_file(folder, RECORD))
        .map_err(|why| changed(&format!("record.json cannot be read ({why})")))?;
    serde_json::from_slice(&bytes).map_err(|why| changed(&format!("record.json is none ({why})")))
}

/// The very artwork that the record tells of.
fn artwork(folder: &Path, record: &Value) -> Result<PathBuf, Fault> {
    let said = |key: &str| record.get("artwork")?.get(key)?.as_str();
    let (Some(file), Some(sha256)) = (said("file"), said("sha256")) else {
        return Err(changed("record.json names no artwork"));
    };
    let unreadable = |why: io::Error| changed(&format!("{file} cannot be read ({why})"));
    // A name that is no text stands in the record as near as text comes to it.
    let mut entries = fs::read_dir(folder).map_err(unreadable)?.filter_map(Result::ok);
    let artwork = entries.find(|entry| entry.file_name().to_string_lossy() == file).map(|entry| entry.path());
    let artwork = artwork.ok_or_else(|| changed(&format!("{file} is not there any more")))?;
    if naming::digest(&artwork).map_err(unreadable)? == sha256 {
        Ok(artwork)
    } else {
        Err(changed(&format!("{file} is not the picture it was")))
    }
}

fn changed(what: &str) -> Fault {
    Fault::order(
        format!("What was kept of this job has changed: {what}."),
        "Put the folder in kept/ back as it was, from a backup, or order the job anew.",
    )
}
