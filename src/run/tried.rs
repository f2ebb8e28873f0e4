//! What is tried of an artwork where it lies: a test print of it, or the plan of what would be done with it.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::Fault;

use super::aside::{self, Aside};
use super::child::Worker;
use super::task::What;
use crate::config::Frozen;
use crate::journal::Journal;
use crate::journal::files::remove_folder;
use crate::journal::naming;
use crate::registry;

/// Makes the test print of an artwork, worked as a job is, by a worker; returns where it is. Warnings are for the job's
/// own notes.
///
/// # Errors
/// Why it cannot be made; each fault says its place.
pub(crate) async fn test_print(
    settings: &Frozen,
    worker: &Worker,
    artwork: &Path,
) -> Result<Vec<PathBuf>, Vec<Fault>> {
    let stem = stem(artwork);
    try_out(settings, worker, artwork, What::TestPrint, |journal, staging| {
        journal.publish_files(staging, &stem)
    })
    .await
}

/// The record that a job of this artwork would have, worked likewise; nothing else is made of it.
///
/// # Errors
/// Why there would be none; each fault says its place.
pub(crate) async fn plan(settings: &Frozen, worker: &Worker, artwork: &Path) -> Result<Vec<u8>, Vec<Fault>> {
    try_out(settings, worker, artwork, What::Plan, |_, staging| {
        let record = fs::read(staging.join(registry::RECORD_FILE))?;
        remove_folder(staging)?;
        Ok(record)
    })
    .await
}

async fn try_out<Made>(
    settings: &Frozen,
    worker: &Worker,
    artwork: &Path,
    what: What,
    publish: impl FnOnce(&Journal, &Path) -> io::Result<Made>,
) -> Result<Made, Vec<Fault>> {
    let file = artwork.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let placed = |faults: Vec<Fault>| {
        let place = |fault: Fault| if fault.place.is_empty() { fault.at(&file) } else { fault };
        faults.into_iter().map(place).collect()
    };
    let aside = Aside { name: &stem(artwork), source: artwork.to_owned(), what, panels: &[], heard: None };
    let made =
        aside::work(&aside, settings, worker, |journal, staging, _, _| publish(journal, staging)).await;
    match made {
        Ok(Ok(made)) => Ok(made),
        Ok(Err(faults)) => Err(placed(faults)),
        Err(why) => Err(placed(vec![Fault::machine(
            format!("It could not be tried out: {why}."),
            "Look at the disk and its rights.",
        )])),
    }
}

fn stem(artwork: &Path) -> String {
    naming::safe_stem(&artwork.file_stem().unwrap_or_default().to_string_lossy())
}
