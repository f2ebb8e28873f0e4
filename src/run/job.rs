//! One job, from a set of files in the inbox to its end.

use std::io::{self, ErrorKind};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use seamwright_contract::plugin::Means;
use seamwright_contract::{Blame, Fault};

use super::child::{Worker, ask};
use super::task::{Answer, Kin, Task, What};
use crate::config::Frozen;
use crate::history::{self, Line, Made, Reason};
use crate::journal::{Claim, Journal, SourceSet, Standing, Waiting};
use crate::progress;

/// What a job is worked with.
#[derive(Debug, Clone)]
pub(super) struct Grant {
    pub(super) means: Means,
    pub(super) kin: Option<Kin>,
}

/// What a running job has come to.
#[derive(Debug)]
pub(super) enum Step {
    /// Its files were taken; now it is to be worked.
    Taken(Claim, Grant),
    /// Its files could not be taken; this is the first of them.
    NotTaken { first: PathBuf, what: String, why: io::Error },
    /// It was worked, for better or worse.
    Ended(Claim, io::Result<End>),
}

/// How a job ended.
#[derive(Debug)]
pub(super) enum End {
    Finished {
        at: PathBuf,
        /// Sheets and warnings; unknown where an earlier run counted them.
        made: Option<(usize, Vec<String>)>,
    },
    /// It was a list of so many rows, which wait now.
    Unfolded {
        at: PathBuf,
        rows: usize,
        remark: Option<String>,
    },
    Refused {
        at: PathBuf,
        faults: Vec<Fault>,
    },
    /// The machine failed; the job is still claimed.
    Trouble(String),
    /// Its files are in the inbox again, since somebody still writes to them.
    HandedBack,
    /// Somebody took its claim away.
    Gone,
}

/// Takes the files of a job.
pub(super) async fn take(journal: Journal, set: SourceSet, grant: Grant) -> Step {
    let first = set.files.first().map(|source| source.path.clone()).unwrap_or_default();
    let what = set.stem.clone();
    match blocking(move || journal.claim(&set)).await {
        Ok(claim) => Step::Taken(claim, grant),
        Err(why) => Step::NotTaken { first, what, why },
    }
}

/// Takes a row that waits.
pub(super) async fn take_row(journal: Journal, row: Waiting, grant: Grant) -> Step {
    let (first, what) = (row.path.clone(), row.job.clone());
    match blocking(move || journal.claim_row(&row)).await {
        Ok(claim) => Step::Taken(claim, grant),
        Err(why) if why.kind() == ErrorKind::NotFound => {
            let why = io::Error::new(ErrorKind::Interrupted, "it was moved or cancelled by hand");
            Step::NotTaken { first, what, why }
        }
        Err(why) => Step::NotTaken { first, what, why },
    }
}

/// Takes a claimed job on from wherever it stands.
pub(super) async fn work(
    journal: Journal,
    worker: Worker,
    claim: Claim,
    grant: Grant,
    settings: Arc<Frozen>,
) -> Step {
    let end = take_on(&journal, &worker, &claim, &grant, &settings).await;
    Step::Ended(claim, end)
}

async fn take_on(
    journal: &Journal,
    worker: &Worker,
    claim: &Claim,
    grant: &Grant,
    settings: &Frozen,
) -> io::Result<End> {
    let began = Instant::now();
    let answer = match journal.standing(claim)? {
        Standing::Claimed => match ask(worker, || task(journal, claim, grant, settings)).await? {
            Ok(answer) => Some(answer),
            Err(why) => return Ok(End::Trouble(why)),
        },
        Standing::Worked => None,
        Standing::Refused => {
            let why = journal.reasons(claim);
            let at = journal.set_aside(&claim.id)?;
            let faults = why.iter().map(Fault::from).collect();
            journal.tell(&Line::set_aside(&claim.id, history::End::Refused, why, &at));
            return Ok(End::Refused { at, faults });
        }
        Standing::Gone => {
            journal.forget(claim)?;
            return Ok(End::Gone);
        }
    };
    let (journal, claim) = (journal.clone(), claim.clone());
    blocking(move || conclude(&journal, &claim, answer, began.elapsed())).await
}

/// From the worker's answer to the end; without one, the work was done by an earlier run.
fn conclude(journal: &Journal, claim: &Claim, answer: Option<Answer>, took: Duration) -> io::Result<End> {
    if answer.is_some() && !journal.is_unchanged(claim) {
        journal.hand_back(claim)?;
        return Ok(End::HandedBack);
    }
    let seconds = answer.is_some().then_some(took.as_secs());
    match answer {
        None | Some(Answer::List) => finish(journal, claim, seconds, None),
        Some(Answer::Done { sheets, warnings }) => finish(journal, claim, seconds, Some((sheets, warnings))),
        Some(Answer::Faults(faults)) => {
            let faults: Vec<Fault> = faults.into_iter().map(Fault::from).collect();
            if faults.iter().all(|fault| fault.blame == Blame::Machine) {
                let why: Vec<String> = faults.iter().map(ToString::to_string).collect();
                return Ok(End::Trouble(why.join(" ")));
            }
            let at = journal.refuse(claim, &faults)?;
            let why = faults.iter().map(Reason::from).collect();
            let line = Line::set_aside(&claim.id, history::End::Refused, why, &at);
            journal.tell(&Line { seconds, ..line });
            Ok(End::Refused { at, faults })
        }
    }
}

/// Delivers what was worked, and tells what it was.
fn finish(
    journal: &Journal,
    claim: &Claim,
    seconds: Option<u64>,
    counted: Option<(usize, Vec<String>)>,
) -> io::Result<End> {
    let made = journal.record(claim).and_then(|record| Made::of_record(&record)).map(Box::new);
    let (plan, slips) = (journal.plan_of(claim), journal.slips());
    journal.offer(claim)?;
    slips.prepare(journal, claim)?;
    let at = journal.deliver(claim)?;
    slips.release(&claim.id)?;
    let end = if plan.is_some() { history::End::List } else { history::End::Done };
    let count = plan.as_ref().and_then(|plan| u32::try_from(plan.rows.len()).ok());
    journal.tell(&Line { made, rows: count, seconds, ..Line::now(&claim.id, end) });
    Ok(match plan {
        Some(plan) => End::Unfolded { at, rows: plan.rows.len(), remark: plan.remark },
        None => End::Finished { at, made: counted },
    })
}

/// What a worker is told, with an empty folder to write into.
fn task(journal: &Journal, claim: &Claim, grant: &Grant, settings: &Frozen) -> io::Result<Task> {
    Ok(Task {
        name: claim.id.clone(),
        source: claim.folder.clone(),
        staging: journal.stage(claim)?,
        settings: settings.file.clone(),
        studio: settings.config.studio.root.clone(),
        memory: grant.means.memory,
        keep: grant.means.keep,
        threads: grant.means.threads,
        kin: grant.kin.clone(),
        time: settings.config.limits.time,
        what: What::Job,
        panels: Vec::new(),
        heard: progress::listener(&claim.id),
    })
}

/// Off the loop's thread: flushing and hashing take their time.
async fn blocking<T: Send + 'static>(work: impl FnOnce() -> io::Result<T> + Send + 'static) -> io::Result<T> {
    tokio::task::spawn_blocking(work).await.map_err(io::Error::other)?
}
