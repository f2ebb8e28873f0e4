//! A test print: one page of an artwork where it lies.

use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::Fault;

use super::aside::{self, Aside};
use super::child::Worker;
use super::task::What;
use crate::config::Frozen;
use crate::journal::naming;

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
    let file = artwork.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let placed = |faults: Vec<Fault>| {
        let place = |fault: Fault| if fault.place.is_empty() { fault.at(&file) } else { fault };
        faults.into_iter().map(place).collect()
    };
    match make(settings, worker, artwork).await {
        Ok(Ok(made)) => Ok(made),
        Ok(Err(faults)) => Err(placed(faults)),
        Err(why) => Err(placed(vec![Fault::machine(
            format!("The test print could not be made: {why}."),
            "Look at the disk and its rights.",
        )])),
    }
}

async fn make(
    settings: &Frozen,
    worker: &Worker,
    artwork: &Path,
) -> io::Result<Result<Vec<PathBuf>, Vec<Fault>>> {
    let stem = naming::safe_stem(&artwork.file_stem().unwrap_or_default().to_string_lossy());
    let source = artwork.to_owned();
    let aside = Aside { name: &stem, source, what: What::TestPrint, panels: &[], heard: None };
    aside::work(&aside, settings, worker, |journal, staging, _, _| journal.publish_files(staging, &stem))
        .await
}
