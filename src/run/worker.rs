//! One job, worked in a process of its own: claim folder in, staged files out. A test print is worked alike, from an
//! artwork where it lies and with one writer, and so are sheets made again, from what is kept of a job.
//!
//! The daemon starts this very program again for each job, so that a decoder's abort or a lack of memory costs that
//! job and nothing else. What came of it is one line of JSON on standard output. The daemon holds the other end of
//! standard input; when that closes the daemon is gone, and so is the worker.

use std::fmt;
use std::fs::{self, File};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_contract::layout::{Artwork, Job, Layout, Weight};
use seamwright_contract::order::{Order, Row};
use seamwright_contract::plugin::{Means, Writer};
use seamwright_contract::{Blame, Fault};
use serde::{Deserialize, Serialize};

use super::again;
use super::child::Heard;
use super::outbox::Staging;
use crate::config::{self, Config};
use crate::history::{self, History};
use crate::intake::{self, Intake, Kept};
use crate::journal::{Journal, ORDER, PLAN, Plan, RECORD, naming};
use crate::registry;
use crate::report::{SUMMARY, summary};

/// What the daemon tells a worker.
#[derive(Clone, clap::Args)]
pub(crate) struct Task {
    /// The job's name.
    pub(crate) name: String,
    /// The claim folder; of a test print, the artwork where it lies; of sheets made again, the folder in `kept/`.
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
    /// What is made of the source.
    #[arg(long = "as", value_enum, default_value = "job")]
    pub(crate) what: What,
    /// The panels made again; none for all.
    #[arg(long, value_delimiter = ',')]
    pub(crate) panels: Vec<u32>,
    /// How long it may take; the daemon sees to it.
    #[arg(skip)]
    pub(crate) time: Duration,
    /// Whoever wants to hear how far it is.
    #[arg(skip)]
    pub(crate) heard: Option<Heard>,
}

impl fmt::Debug for Task {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Task({} as {})", self.name, self.what.word())
    }
}

/// What a worker makes of its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum What {
    /// All that the studio lists.
    Job,
    /// A test print; nothing is kept of the order.
    TestPrint,
    /// Sheets that were made before, by what is kept of them.
    Again,
}

impl What {
    /// The word for it at the command line.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Job => "job",
            Self::TestPrint => "test-print",
            Self::Again => "again",
        }
    }
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
    /// It is a list, and what becomes of its rows is decided.
    #[serde(rename = "list")]
    List,
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
        drop(io::stdin().read_to_end(&mut rest));
        std::process::exit(70);
    });
}

/// Works one job by the settings it was given. A copy of them that cannot be read is no reason to refuse: the disk may
/// be unwell, so the job waits and is tried again.
pub(crate) fn work(task: &Task) -> Answer {
    let done = match config::load_frozen(&task.settings, &task.studio) {
        Ok(config) => match (task.what, Config { memory: task.memory, ..config }) {
            (What::Job, config) => make(task, &config),
            (What::TestPrint, config) => test_print(task, &config),
            (What::Again, config) => make_again(task, config),
        },
        Err(mistakes) => Err(mistakes.into_iter().map(|mistake| mistake.blamed(Blame::Machine)).collect()),
    };
    done.unwrap_or_else(|faults| Answer::Faults(faults.into_iter().map(FaultForm::from).collect()))
}

/// A job by all that the studio lists.
fn make(task: &Task, config: &Config) -> Result<Answer, Vec<Fault>> {
    let known = || Journal::of(&config.studio).known_jobs();
    if let Some(plan) = intake::plan(&task.source, &task.name, config, known)? {
        return unfold(task, &plan).map_err(|fault| vec![fault]);
    }
    make_one(task, config).map_err(|faults| match intake::row_in(&task.source) {
        Some(row) => faults.into_iter().map(|fault| of_row(fault, &row)).collect(),
        None => faults,
    })
}

/// What becomes of the rows of a list, and a summary to begin with.
fn unfold(task: &Task, plan: &Plan) -> Result<Answer, Fault> {
    let keep = || -> io::Result<()> {
        File::create(task.source.join(PLAN))?.write_all(&serde_json::to_vec(plan)?)?;
        let text = summary(&task.name, plan, &History::default());
        File::create_new(task.staging.join(SUMMARY))?.write_all(text.as_bytes())
    };
    keep().map_err(|why| {
        Fault::machine(format!("The rows could not be written: {why}."), "Make room on the disk.")
    })?;
    Ok(Answer::List)
}

/// A fault with the row of the list it is about.
fn of_row(fault: Fault, row: &Row) -> Fault {
    let place = if fault.place.is_empty() { row.to_string() } else { format!("{row}: {}", fault.place) };
    fault.at(place)
}

/// A job of one order.
fn make_one(task: &Task, config: &Config) -> Result<Answer, Vec<Fault>> {
    let Intake { artwork, order, resolved } = intake::read(&task.source, config)?;
    let work = || {
        keep_order(&task.source, &order, &resolved)?;
        let (mut layout, whole) = begin(task, config, &artwork, order)?;
        if let Some(said) = history::last_time(&config.studio.kept, &layout.order.blank.name) {
            layout.remark("history", said);
        }
        let layout = decide(config, layout)?;
        whole.wait()?;
        write_all(task, config, &layout)?;
        Ok(done(&layout))
    };
    work().map_err(|fault| vec![fault])
}

/// One page of an artwork where it lies.
fn test_print(task: &Task, config: &Config) -> Result<Answer, Vec<Fault>> {
    let Intake { artwork, order, .. } = intake::read_beside(&task.source, config)?;
    let work = || {
        let (layout, whole) = begin(task, config, &artwork, order)?;
        let layout = decide(config, layout)?;
        whole.wait()?;
        write(task, &layout, [registry::test_print_writer().as_ref()])?;
        Ok(done(&layout))
    };
    work().map_err(|fault| vec![fault])
}

/// Sheets of a job that was made before. They are handed over only if they are the same as then.
fn make_again(task: &Task, config: Config) -> Result<Answer, Vec<Fault>> {
    let Kept { intake, config, record } = intake::read_kept(&task.source, config)?;
    let work = || {
        let (layout, whole) = begin(task, &config, &intake.artwork, intake.order)?;
        let mut layout = decide(&config, layout)?;
        whole.wait()?;
        let all = again::only(&mut layout, &task.panels)?;
        let mut outbox = staging(task, &layout);
        let means = means(task);
        registry::sheets_writer().write(&layout, &means, &mut outbox)?;
        let sheets = again::restore(&mut layout, all);
        registry::record_writer().write(&layout, &means, &mut outbox)?;
        let now = task.staging.join(registry::RECORD_FILE);
        let warnings = again::compared(&record, &now)?;
        Ok(Answer::Done { sheets, warnings })
    };
    work().map_err(|fault| vec![fault])
}

fn done(layout: &Layout) -> Answer {
    let warnings = layout.notices.iter().filter(|n| n.weight == Weight::Warning);
    Answer::Done { sheets: sheets(layout), warnings: warnings.map(|n| n.text.clone()).collect() }
}

/// By the studio's writers, and the record in any case; without panels there is nothing to record.
fn write_all(task: &Task, config: &Config, layout: &Layout) -> Result<(), Fault> {
    let writers = &config.pipeline.writers;
    let listed = writers.iter().any(|(name, _)| *name == registry::LAST_WRITER);
    let unlisted = (!listed && layout.lay_up.is_some()).then(registry::record_writer);
    let all = writers.iter().map(|(_, writer)| writer.as_ref()).chain(unlisted.as_deref());
    write(task, layout, all)?;
    if listed || unlisted.is_some() { keep_record(task, listed) } else { Ok(()) }
}

/// Puts the record among the sources, for when the finished folder was taken away; one that the studio does not list is
/// only kept. Whoever delivers flushes it.
fn keep_record(task: &Task, listed: bool) -> Result<(), Fault> {
    let record = task.staging.join(registry::RECORD_FILE);
    let keep = || {
        fs::copy(&record, task.source.join(RECORD))?;
        if listed { Ok(()) } else { fs::remove_file(&record) }
    };
    keep().map_err(|why: io::Error| {
        Fault::machine(format!("The record could not be kept: {why}."), "Make room on the disk.")
    })
}

/// Puts the order as resolved among the sources, and the profiles it names. Whoever delivers flushes them.
fn keep_order(claim: &Path, order: &Order, resolved: &str) -> Result<(), Fault> {
    let keep = || -> io::Result<()> {
        let printer = &order.printer;
        let colours = printer.on_paper.values().chain([&printer.colour]);
        for profile in colours.filter_map(|colour| colour.profile.as_ref()) {
            File::create(claim.join(format!(".{}", profile.name)))?.write_all(&profile.bytes)?;
        }
        File::create(claim.join(ORDER))?.write_all(resolved.as_bytes())
    };
    keep().map_err(|why| {
        Fault::machine(format!("The order could not be kept: {why}."), "Make room on the disk.")
    })
}

fn begin(
    task: &Task,
    config: &Config,
    path: &Path,
    order: Order,
) -> Result<(Layout, registry::WholeArtwork), Fault> {
    let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let wanted = registry::Wanted { page: order.page, fields: order.fields.clone() };
    let opened = registry::begin_artwork(path, &wanted, &config.artwork_limits(task.staging.clone()))?;
    // Read once more while its pixels are decoded.
    let sha256 = naming::digest(path).map_err(|why| {
        Fault::machine(format!("The artwork could not be read: {why}."), "See that the disk is well.")
    })?;
    let (size, drawing, source) = (opened.picture.size(), opened.drawing, opened.source);
    let facts = Artwork { file, sha256, size, drawing, source };
    let job = Job { name: task.name.clone(), fonts: config.fonts() };
    let mut layout = Layout::new(job, order, facts, opened.picture);
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
    let (means, mut outbox) = (means(task), staging(task, layout));
    for writer in writers {
        tracing::debug!(?writer, "writing");
        writer.write(layout, &means, &mut outbox)?;
    }
    Ok(())
}

fn means(task: &Task) -> Means {
    Means { memory: task.memory, threads: task.threads }
}

/// The outbox of a task, which tells the daemon of each sheet.
fn staging(task: &Task, layout: &Layout) -> Staging {
    Staging::new(task.staging.clone(), sheets(layout))
}

fn sheets(layout: &Layout) -> usize {
    layout.lay_up.as_ref().map_or(0, |lay_up| lay_up.panels.len())
}
