//! One job, worked in a process of its own: claim folder in, staged files out. A test print is worked alike, from an
//! artwork where it lies and with one writer.
//!
//! The daemon starts this very program again for each job, so that a decoder's abort or a lack of memory costs that
//! job and nothing else. What came of it is one line of JSON on standard output. The daemon holds the other end of
//! standard input; when that closes the daemon is gone, and so is the worker.

use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_contract::layout::{Artwork, Job, Layout, Weight};
use seamwright_contract::plugin::{Means, Writer};
use seamwright_contract::{Blame, Fault};
use serde::{Deserialize, Serialize};

use super::outbox::Staging;
use crate::config::{self, Config};
use crate::intake::{self, Intake};
use crate::journal::files::write_whole;
use crate::journal::{ORDER, naming};
use crate::registry;

/// What the daemon tells a worker.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Task {
    /// The job's name.
    pub(crate) name: String,
    /// The claim folder; of a test print, the artwork where it lies.
    pub(crate) source: PathBuf,
    /// The staging folder, empty.
    pub(crate) staging: PathBuf,
    /// The settings to work by.
    #[arg(long)]
    pub(crate) settings: PathBuf,
    /// The studio they are of.
    #[arg(long)]
    pub(crate) studio: PathBuf,
    /// Memory for pixels, in bytes.
    #[arg(long)]
    pub(crate) memory: u64,
    /// Threads.
    #[arg(long)]
    pub(crate) threads: usize,
    /// Whether only a test print is made, and nothing kept of the order.
    #[arg(long)]
    pub(crate) test_print: bool,
    /// How long it may take; the daemon sees to it.
    #[arg(skip)]
    pub(crate) time: Duration,
}

/// What a worker answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Answer {
    /// The staged files are complete.
    #[serde(rename = "done")]
    Done {
        /// Sheets of paper.
        sheets: usize,
        /// Warnings for the maker.
        warnings: Vec<String>,
    },
    /// The job cannot be done.
    #[serde(rename = "faults")]
    Faults(Vec<FaultForm>),
}

/// A fault on its way between two processes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct FaultForm {
    blame: String,
    what: String,
    place: String,
    cure: String,
}

impl From<Fault> for FaultForm {
    fn from(fault: Fault) -> Self {
        Self { blame: fault.blame.word().to_owned(), what: fault.what, place: fault.place, cure: fault.cure }
    }
}

impl From<FaultForm> for Fault {
    fn from(form: FaultForm) -> Self {
        let blame = Blame::from_word(&form.blame).unwrap_or(Blame::Defect);
        Self { blame, what: form.what, place: form.place, cure: form.cure }
    }
}

/// Ends this process when the daemon's end of standard input closes.
pub(crate) fn end_with_the_daemon() {
    std::thread::spawn(|| {
        let mut rest = Vec::new();
        // Whether it closes or fails, nobody is there to work for.
        drop(std::io::stdin().read_to_end(&mut rest));
        std::process::exit(70);
    });
}

/// Works one job by the settings it was given. A copy of them that cannot be read is no reason to refuse: the disk may
/// be unwell, so the job waits and is tried again.
pub(crate) fn work(task: &Task) -> Answer {
    let done = match config::load_frozen(&task.settings, &task.studio) {
        Ok(config) => attempt(task, &Config { memory: task.memory, ..config }),
        Err(mistakes) => Err(mistakes.into_iter().map(|mistake| mistake.blamed(Blame::Machine)).collect()),
    };
    match done {
        Ok(layout) => Answer::Done {
            sheets: layout.lay_up.as_ref().map_or(0, |lay_up| lay_up.panels.len()),
            warnings: layout
                .notices
                .iter()
                .filter(|n| n.weight == Weight::Warning)
                .map(|n| n.text.clone())
                .collect(),
        },
        Err(faults) => Answer::Faults(faults.into_iter().map(FaultForm::from).collect()),
    }
}

fn attempt(task: &Task, config: &Config) -> Result<Layout, Vec<Fault>> {
    let read = if task.test_print { intake::read_beside } else { intake::read };
    let Intake { artwork, order, resolved } = read(&task.source, config)?;
    let work = || {
        if !task.test_print {
            keep_order(&task.source, &resolved)?;
        }
        let (layout, whole) = begin(task, config, &artwork, order)?;
        let layout = decide(config, layout)?;
        whole.wait()?;
        if task.test_print {
            write(task, &layout, [registry::test_print_writer().as_ref()])?;
        } else {
            write(task, &layout, config.pipeline.writers.iter().map(|(_, writer)| writer.as_ref()))?;
        }
        Ok(layout)
    };
    work().map_err(|fault| vec![fault])
}

fn keep_order(claim: &Path, resolved: &str) -> Result<(), Fault> {
    write_whole(&claim.join(ORDER), resolved.as_bytes()).map_err(|why| {
        Fault::machine(format!("The order could not be kept: {why}."), "Make room on the disk.")
    })
}

fn begin(
    task: &Task,
    config: &Config,
    path: &Path,
    order: seamwright_contract::order::Order,
) -> Result<(Layout, registry::WholeArtwork), Fault> {
    let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let wanted = registry::Wanted { page: order.page };
    let opened = registry::begin_artwork(path, &wanted, &config.artwork_limits(task.staging.clone()))?;
    // Read once more while its pixels are decoded.
    let sha256 = naming::digest(path).map_err(|why| {
        Fault::machine(format!("The artwork could not be read: {why}."), "See that the disk is well.")
    })?;
    let (size, drawing, source) = (opened.picture.size(), opened.drawing, opened.source);
    let facts = Artwork { file, sha256, size, drawing, source };
    let mut layout = Layout::new(Job { name: task.name.clone() }, order, facts, opened.picture);
    for notice in opened.notices {
        layout.warn("artwork", notice);
    }
    Ok((layout, opened.whole))
}

fn decide(config: &Config, mut layout: Layout) -> Result<Layout, Fault> {
    for (name, stage) in &config.pipeline.stages {
        tracing::debug!(stage = name, "deciding");
        layout = stage.apply(layout)?;
    }
    Ok(layout)
}

fn write<'w>(
    task: &Task,
    layout: &Layout,
    writers: impl IntoIterator<Item = &'w dyn Writer>,
) -> Result<(), Fault> {
    let means = Means { memory: task.memory, threads: task.threads };
    let mut outbox = Staging::new(task.staging.clone());
    for writer in writers {
        tracing::debug!(?writer, "writing");
        writer.write(layout, &means, &mut outbox)?;
    }
    Ok(())
}
