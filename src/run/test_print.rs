//! A test print: one page of an artwork where it lies, put beside the finished jobs. Nothing is claimed or moved, and the
//! daemon may be at work in the same studio meanwhile.

use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::{Blame, Fault};

use super::child::{Worker, ask};
use super::worker::{Answer, Task, What};
use crate::config::Frozen;
use crate::journal::files::remove_folder;
use crate::journal::{Journal, naming};

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
    let config = &settings.config;
    let stem = naming::safe_stem(&artwork.file_stem().unwrap_or_default().to_string_lossy());
    let journal = Journal::open(&config.studio)?;
    let aside = format!("{stem}-test-print-{}", std::process::id());
    let staging = journal.stage_aside(&aside)?;
    let task = || {
        Ok(Task {
            name: stem.clone(),
            source: artwork.to_owned(),
            staging: journal.stage_aside(&aside)?,
            settings: settings.file.clone(),
            studio: config.studio.root.clone(),
            memory: config.memory,
            threads: config.workers,
            time: config.limits.time,
            what: What::TestPrint,
            panels: Vec::new(),
            heard: None,
        })
    };
    let faults = match ask(worker, task).await? {
        Ok(Answer::Done { .. }) => return journal.publish_files(&staging, &stem).map(Ok),
        Ok(Answer::Faults(faults)) => faults.into_iter().map(Fault::from).collect(),
        Err(why) => {
            vec![Fault::new(Blame::Machine, format!("It could not be worked: {why}."), "Try it again.")]
        }
    };
    remove_folder(&staging)?;
    Ok(Err(faults))
}
