//! What is worked beside the daemon, by a worker of its own like any job: nothing is claimed or moved, what comes of it is put
//! beside the finished jobs, and the daemon may be at work in the same studio meanwhile.

use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::{Blame, Fault};

use super::Heard;
use super::child::{Worker, ask};
use super::task::{Answer, Task, What};
use crate::config::Frozen;
use crate::journal::Journal;
use crate::journal::files::remove_folder;

/// What is to be worked.
pub(super) struct Aside<'a> {
    /// The name of what comes of it.
    pub(super) name: &'a str,
    /// What it is made of.
    pub(super) source: PathBuf,
    pub(super) what: What,
    pub(super) panels: &'a [u32],
    pub(super) heard: Option<Heard>,
}

/// Works it and lets `publish` put its folder, of so many sheets and with these warnings, where it belongs.
pub(super) async fn work<Made>(
    aside: &Aside<'_>,
    settings: &Frozen,
    worker: &Worker,
    publish: impl FnOnce(&Journal, &Path, usize, Vec<String>) -> io::Result<Made>,
) -> io::Result<Result<Made, Vec<Fault>>> {
    let config = &settings.config;
    let journal = Journal::open(&config.studio)?;
    let folder = format!("{}-{}-{}", aside.name, aside.what.word(), std::process::id());
    let staging = journal.stage_aside(&folder)?;
    let task = || {
        Ok(Task {
            name: aside.name.to_owned(),
            source: aside.source.clone(),
            staging: journal.stage_aside(&folder)?,
            settings: settings.file.clone(),
            studio: config.studio.root.clone(),
            memory: config.memory,
            keep: 0,
            threads: config.workers,
            kin: None,
            time: config.limits.time,
            what: aside.what,
            panels: aside.panels.to_vec(),
            heard: aside.heard.clone(),
        })
    };
    let faults = match ask(worker, task).await? {
        Ok(Answer::Done { sheets, warnings }) => {
            return publish(&journal, &staging, sheets, warnings).map(Ok);
        }
        Ok(Answer::List) => vec![Fault::defect("Only claimed jobs unfold into rows.")],
        Ok(Answer::Faults(faults)) => faults.into_iter().map(Fault::from).collect(),
        Err(why) => {
            vec![Fault::new(Blame::Machine, format!("It could not be worked: {why}."), "Try it again.")]
        }
    };
    remove_folder(&staging)?;
    Ok(Err(faults))
}
