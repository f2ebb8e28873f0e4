//! One job after another, worked in a process of its own: claim folder in, staged files out. A test print and a plan are
//! worked alike, from an artwork where it lies and with one writer, and so are sheets made again, from what is kept of a job.
//!
//! The daemon starts this very program again for its jobs, so that a decoder's abort or a lack of memory costs one job and
//! nothing else. A process gets a second task only if that is probably of the same artwork: then what was opened for the
//! first ([`Held`]) is not opened again. Tasks come as lines on standard input; when that closes, the daemon is gone or
//! needs this worker no longer, and it ends, whatever it is doing.

use std::fs::{self, File};
use std::io::{self, BufRead as _, Write as _};
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

use seamwright_contract::layout::{Artwork, Job, Layout, Weight};
use seamwright_contract::order::{Order, Row};
use seamwright_contract::plugin::Writer;
use seamwright_contract::{Blame, Fault};

use super::again;
use super::ceiling::Ceiling;
use super::held::{Held, Open};
use super::outbox::Staging;
use super::task::{Answer, FaultForm, Said, Task, What};
use crate::config::{self, Config, Diagnosis, Programs};
use crate::history::{self, History};
use crate::intake::{self, Intake, Kept};
use crate::journal::{Journal, ORDER, PLAN, PROGRAMS, Plan, RECORD, members};
use crate::registry;
use crate::report::{SUMMARY, summary};

/// The exit code where a task makes no sense (`EX_SOFTWARE` of sysexits.h).
const NOT_UNDERSTOOD: i32 = 70;

/// Works what the daemon tells it to, within so many bytes of memory, until there is nothing more. Does not return.
///
/// # Errors
/// Standard output is closed.
pub(crate) fn serve(memory: u64) -> io::Result<()> {
    let tasks = tasks();
    let ceiling = Ceiling::watched(|answer| drop(tell(&Said::Answer(answer.clone()))));
    let mut held = Held::default();
    for task in tasks {
        let task = Task { memory, ..task };
        ceiling.set(&task);
        tell(&Said::Answer(work(&task, &mut held)))?;
    }
    Ok(())
}

/// The tasks, as they come. When no more can, this process ends.
fn tasks() -> Receiver<Task> {
    let (give, take) = channel();
    std::thread::spawn(move || {
        let mut code = 0;
        for line in io::stdin().lock().lines() {
            let task = line.and_then(|line| serde_json::from_str(&line).map_err(io::Error::other));
            if task.is_ok_and(|task| give.send(task).is_ok()) {
                continue;
            }
            code = NOT_UNDERSTOOD;
            break;
        }
        std::process::exit(code);
    });
    take
}

/// Tells the daemon something.
pub(super) fn tell(said: &Said) -> io::Result<()> {
    let line = serde_json::to_string(said)?;
    writeln!(io::stdout().lock(), "{line}")
}

/// Works one task by the settings it was given. A copy of them that cannot be read is no reason to refuse: the disk may
/// be unwell, so the job waits and is tried again.
fn work(task: &Task, held: &mut Held) -> Answer {
    let done = match held.by(task) {
        Ok((config, open)) => match task.what {
            What::Job => make(task, config, open),
            What::TestPrint => beside(task, config, open, registry::test_print_writer().as_ref()),
            What::Plan => beside(task, config, open, registry::record_writer().as_ref()),
            What::Again => make_again(task, open),
        },
        Err(mistakes) => Err(unwell(mistakes)),
    };
    done.unwrap_or_else(|faults| Answer::Faults(faults.into_iter().map(FaultForm::from).collect()))
}

fn unwell(mistakes: Vec<Diagnosis>) -> Vec<Fault> {
    mistakes.into_iter().map(|mistake| mistake.blamed(Blame::Machine)).collect()
}

/// A job by all that the studio lists.
fn make(task: &Task, config: &Config, open: &mut Option<Open>) -> Result<Answer, Vec<Fault>> {
    let members = members(&task.source).map_err(|why| {
        vec![Fault::machine(format!("The claim could not be read: {why}."), "See that the disk is well.")]
    })?;
    if !members.is_empty() {
        return share(task, &members, config).map_err(|fault| vec![fault]);
    }
    let known = || Journal::of(&config.studio).known_jobs();
    if let Some(plan) = intake::plan(&task.source, &task.name, config, known)? {
        return unfold(task, &plan).map_err(|fault| vec![fault]);
    }
    make_one(task, config, open).map_err(|faults| match intake::row_in(&task.source) {
        Some(row) => faults.into_iter().map(|fault| of_row(fault, &row)).collect(),
        None => faults,
    })
}

/// Sheets that several jobs share.
fn share(task: &Task, members: &[registry::SharingJob], config: &Config) -> Result<Answer, Fault> {
    let mut outbox = Staging::new(task.staging.clone(), 0);
    let sheets = registry::write_shared(&task.name, members, config.units, &mut outbox)?;
    keep_record(task, true)?;
    Ok(Answer::Done { sheets, warnings: Vec::new() })
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
fn make_one(task: &Task, config: &Config, open: &mut Option<Open>) -> Result<Answer, Vec<Fault>> {
    let Intake { artwork, order, resolved } = intake::read(&task.source, config)?;
    let work = || {
        keep_order(&task.source, &order, &resolved)?;
        let (mut layout, open) = begin(task, config, &artwork, order, open)?;
        if let Some(said) = history::last_time(&config.studio.kept, &layout.order.blank.name) {
            layout.remark("history", said);
        }
        let layout = decide(config, layout)?;
        open.opened.whole.wait()?;
        keep_programs(&task.source, &config.catalogue.programs, &layout)?;
        write_all(task, config, &layout)?;
        Ok(done(&layout))
    };
    work().map_err(|fault| vec![fault])
}

/// What one writer makes of an artwork where it lies.
fn beside(
    task: &Task,
    config: &Config,
    open: &mut Option<Open>,
    writer: &dyn Writer,
) -> Result<Answer, Vec<Fault>> {
    let Intake { artwork, order, .. } = intake::read_beside(&task.source, config)?;
    let work = || {
        let (layout, open) = begin(task, config, &artwork, order, open)?;
        let layout = decide(config, layout)?;
        open.opened.whole.wait()?;
        write(task, &layout, [writer])?;
        Ok(done(&layout))
    };
    work().map_err(|fault| vec![fault])
}

/// Sheets of a job that was made before. They are handed over only if they are the same as then.
fn make_again(task: &Task, open: &mut Option<Open>) -> Result<Answer, Vec<Fault>> {
    let config = config::load_frozen(&task.settings, &task.studio).map_err(unwell)?;
    let config = Config { memory: task.memory, ..config };
    let Kept { intake, config, record } = intake::read_kept(&task.source, config)?;
    let work = || {
        let (layout, open) = begin(task, &config, &intake.artwork, intake.order, open)?;
        let mut layout = decide(&config, layout)?;
        open.opened.whole.wait()?;
        let all = again::only(&mut layout, &task.panels)?;
        let mut outbox = staging(task, &layout);
        let means = task.means();
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

/// Puts what the studio's own programs consist of that had a hand in it among the sources, for when they are others.
/// Whoever delivers flushes it.
fn keep_programs(claim: &Path, programs: &Programs, layout: &Layout) -> Result<(), Fault> {
    if layout.programs.is_empty() {
        return Ok(());
    }
    programs.copy_files(&claim.join(PROGRAMS)).map_err(|why| {
        Fault::machine(format!("A program could not be kept: {why}."), "Make room on the disk.")
    })
}

fn begin<'held>(
    task: &Task,
    config: &Config,
    path: &Path,
    order: Order,
    held: &'held mut Option<Open>,
) -> Result<(Layout, &'held Open), Fault> {
    let open = Open::of(held, path, &order, &config.artwork_limits(task.staging.clone()))?;
    let opened = &open.opened;
    let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let (size, drawing, source) = (opened.picture.size(), opened.drawing, opened.source.clone());
    let facts = Artwork { file, sha256: open.sha256.clone(), size, drawing, source };
    let job = Job { name: task.name.clone(), fonts: config.fonts(), scratch: task.staging.clone() };
    let mut layout = Layout::new(job, order, facts, Arc::clone(&opened.picture));
    for notice in &opened.notices {
        layout.warn("artwork", notice.clone());
    }
    Ok((layout, open))
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
    let (means, mut outbox) = (task.means(), staging(task, layout));
    for writer in writers {
        tracing::debug!(?writer, "writing");
        writer.write(layout, &means, &mut outbox)?;
    }
    Ok(())
}

/// The outbox of a task, which tells the daemon of each sheet.
fn staging(task: &Task, layout: &Layout) -> Staging {
    Staging::new(task.staging.clone(), sheets(layout))
}

fn sheets(layout: &Layout) -> usize {
    layout.lay_up.as_ref().map_or(0, |lay_up| lay_up.panels.len())
}
