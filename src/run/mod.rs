//! The daemon's loop: take what is ready, work it in child processes, deliver or refuse, until told to stop.
//!
//! Jobs run side by side up to the number of workers and share memory and threads between them. Trouble of the machine
//! (a full disk, a lost network drive) hands the job back to the inbox, to be taken again after a pause that doubles;
//! trouble with a job ends in `refused/`; a worker that dies is tried once more. Nothing stops the loop but a signal.

mod child;
mod outbox;
mod worker;

use std::collections::{HashMap, VecDeque};
use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use seamwright_contract::{Blame, Fault};
use tokio::task::JoinSet;

use crate::config::Config;
use crate::journal::{Claim, Journal, SourceSet, visible};
use crate::watch::{Inbox, Patience, Wake};

pub(crate) use child::Invocation;
pub(crate) use worker::{Answer, Task, end_with_the_daemon, work};

/// How often the inbox is looked through without being woken.
const EVERY: Duration = Duration::from_secs(3);

/// How often the kept sources are looked through.
const PRUNING: Duration = Duration::from_secs(3600);

/// How long running jobs may go on after the daemon was told to stop.
const GRACE: Duration = Duration::from_secs(20);

/// The first pause after trouble with the machine, and the longest.
const PAUSE: Duration = Duration::from_secs(5);
const LONGEST_PAUSE: Duration = Duration::from_secs(300);

/// How often trouble with the machine is tried again before a batch gives up on a job.
const TRIES: u32 = 3;

/// What came of a run.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) finished: u32,
    pub(crate) refused: u32,
    /// Jobs a batch gave up on and left in the inbox.
    pub(crate) left: u32,
}

/// How long the loop goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Until {
    /// The inbox is worked off; what lacks a partner is not waited for.
    WorkedOff,
    /// A signal comes.
    Told,
}

/// Says a line to the maker.
pub(crate) type Say<'a> = &'a mut dyn FnMut(&str);

/// What came of one job.
struct Outcome {
    stem: String,
    end: io::Result<End>,
}

enum End {
    Finished { at: PathBuf, sheets: usize, warnings: Vec<String> },
    Refused { at: PathBuf, faults: Vec<Fault> },
    HandedBack(Vec<Fault>),
}

/// The loop and what it knows.
pub(crate) struct Daemon {
    config: Arc<Config>,
    journal: Journal,
    invocation: Invocation,
    until: Until,
    inbox: Inbox,
    queue: VecDeque<Taken>,
    jobs: JoinSet<Outcome>,
    troubles: HashMap<String, Trouble>,
    tally: Tally,
    /// When the kept sources were last looked through.
    pruned: Option<Instant>,
}

/// A job to start.
enum Taken {
    Set(SourceSet),
    Claim(Claim),
}

/// What the machine did to a job.
struct Trouble {
    tries: u32,
    not_before: Instant,
}

impl Daemon {
    /// Opens the journal and takes up what an earlier run left.
    pub(crate) fn open(config: Arc<Config>, invocation: Invocation, until: Until) -> io::Result<Self> {
        let journal = Journal::open(&config.studio)?;
        let queue = journal.recover()?.into_iter().map(Taken::Claim).collect();
        let wait = if until == Until::WorkedOff { Duration::ZERO } else { config.wait };
        // A copy may stall for a while; in a batch there is nobody left to go on with it.
        let unfinished =
            if until == Until::WorkedOff { Duration::ZERO } else { config.wait.max(Duration::from_secs(60)) };
        let patience = Patience { quiet: config.quiet, wait, unfinished };
        let inbox = Inbox::new(&config.studio.incoming, patience);
        let (jobs, troubles, tally) = (JoinSet::new(), HashMap::new(), Tally::default());
        Ok(Self { config, journal, invocation, until, inbox, queue, jobs, troubles, tally, pruned: None })
    }

    /// Goes on until the end it was given, or until `stop` says so.
    pub(crate) async fn run(mut self, stop: impl Future<Output = ()>, say: Say<'_>) -> Tally {
        let mut wake = Wake::new(&self.config.studio.incoming);
        let mut stop = std::pin::pin!(stop);
        let mut missing = false;
        loop {
            let waiting = match self.look() {
                Ok(waiting) => {
                    missing = false;
                    waiting
                }
                Err(why) => {
                    if !std::mem::replace(&mut missing, true) {
                        tracing::warn!(%why, "the inbox is missing; waiting for it to come back");
                    }
                    0
                }
            };
            wake.renew();
            self.prune();
            self.start_jobs();
            if self.until == Until::WorkedOff && self.jobs.is_empty() && self.queue.is_empty() && waiting == 0
            {
                return self.tally;
            }
            let pause =
                if waiting > 0 { self.config.quiet.clamp(Duration::from_millis(50), EVERY) } else { EVERY };
            tokio::select! {
                Some(done) = self.jobs.join_next() => self.finish(done, say),
                () = wake.heard() => tokio::time::sleep(Duration::from_millis(20)).await,
                () = tokio::time::sleep(pause) => {}
                () = &mut stop => break,
            }
        }
        tracing::info!(running = self.jobs.len(), "told to stop");
        let rest = async {
            while let Some(done) = self.jobs.join_next().await {
                self.finish(done, say);
            }
        };
        if tokio::time::timeout(GRACE, rest).await.is_err() {
            tracing::warn!("the running jobs are ended; they are worked again at the next start");
        }
        self.tally
    }

    /// Once an hour.
    fn prune(&mut self) {
        if self.pruned.is_some_and(|last| last.elapsed() < PRUNING) {
            return;
        }
        self.pruned = Some(Instant::now());
        if let Err(why) = self.journal.prune(self.config.keep) {
            tracing::warn!(%why, "the kept sources could not be looked through");
        }
    }

    /// Fills the queue when it is empty; says how many files are not ready yet.
    fn look(&mut self) -> io::Result<usize> {
        if !self.queue.is_empty() {
            return Ok(0);
        }
        let look = self.inbox.look(Instant::now())?;
        let mut held = 0;
        for set in look.ready {
            match self.troubles.get(&set.stem) {
                Some(trouble) if self.until == Until::WorkedOff && trouble.tries >= TRIES => {}
                Some(trouble) if trouble.not_before > Instant::now() => held += 1,
                _ => self.queue.push_back(Taken::Set(set)),
            }
        }
        Ok(look.waiting + held)
    }

    fn start_jobs(&mut self) {
        while self.jobs.len() < self.config.workers {
            let Some(taken) = self.queue.pop_front() else { return };
            let (stem, claim) = match taken {
                Taken::Claim(claim) => (claim.id.clone(), claim),
                Taken::Set(set) => match self.journal.claim(&set) {
                    Ok(claim) => (set.stem, claim),
                    Err(why) => {
                        // Changed, gone or locked: the next look finds out.
                        tracing::info!(stem = %visible(&set.stem), %why, "not taken yet");
                        continue;
                    }
                },
            };
            tracing::info!(job = %claim.id, "taken");
            let share = self.config.workers.min(self.jobs.len() + self.queue.len() + 1).max(1);
            let means =
                (self.config.memory / u64::try_from(share).unwrap_or(1), self.config.workers.div_ceil(share));
            let (journal, invocation) = (self.journal.clone(), self.invocation.clone());
            self.jobs
                .spawn(async move { Outcome { stem, end: job(&journal, &claim, means, &invocation).await } });
        }
    }

    fn finish(&mut self, done: Result<Outcome, tokio::task::JoinError>, say: Say<'_>) {
        let Outcome { stem, end } = match done {
            Ok(outcome) => outcome,
            Err(why) => {
                tracing::error!(%why, "a job was lost from sight; it is taken up at the next start");
                self.tally.left += 1;
                return;
            }
        };
        match end {
            Ok(End::Finished { at, sheets, warnings }) => {
                self.tally.finished += 1;
                self.troubles.remove(&stem);
                say(&format!("done     {}: {}", name(&at), counted(sheets, "sheet")));
                for warning in warnings {
                    say(&format!("         warning: {}", visible(&warning)));
                }
            }
            Ok(End::Refused { at, faults }) => {
                self.tally.refused += 1;
                self.troubles.remove(&stem);
                say(&format!("refused  {}:", name(&at)));
                for fault in faults {
                    say(&format!("         {}", visible(&fault.to_string())));
                }
            }
            Ok(End::HandedBack(faults)) => {
                let why = faults.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
                self.trouble(&stem, &why);
            }
            Err(why) => self.trouble(&stem, &why.to_string()),
        }
    }

    fn trouble(&mut self, stem: &str, why: &str) {
        let tries = self.troubles.get(stem).map_or(0, |trouble| trouble.tries) + 1;
        let pause = PAUSE.saturating_mul(1 << (tries - 1).min(10)).min(LONGEST_PAUSE);
        tracing::warn!(stem = %visible(stem), why = %visible(why), tries, ?pause, "trouble with the machine; tried again later");
        if self.until == Until::WorkedOff && tries >= TRIES {
            self.tally.left += 1;
        }
        self.troubles.insert(stem.to_owned(), Trouble { tries, not_before: Instant::now() + pause });
    }
}

/// From a claim to its end.
async fn job(
    journal: &Journal,
    claim: &Claim,
    (memory, threads): (u64, usize),
    invocation: &Invocation,
) -> io::Result<End> {
    let answer = if journal.is_ready(claim) {
        Answer::Done { sheets: 0, warnings: Vec::new() }
    } else {
        let staging = journal.stage(claim)?;
        let task = Task { name: claim.id.clone(), claim: claim.folder.clone(), staging, memory, threads };
        answer(journal, claim, &task, invocation).await?
    };
    let (journal, claim) = (journal.clone(), claim.clone());
    let end = move || match answer {
        Answer::Done { sheets, warnings } => {
            Ok(End::Finished { at: journal.deliver(&claim)?, sheets, warnings })
        }
        Answer::Faults(faults) => {
            let faults: Vec<Fault> = faults.into_iter().map(Fault::from).collect();
            if faults.iter().any(|fault| fault.blame == Blame::Machine) {
                journal.hand_back(&claim)?;
                return Ok(End::HandedBack(faults));
            }
            Ok(End::Refused { at: journal.refuse(&claim, &faults)?, faults })
        }
    };
    tokio::task::spawn_blocking(end).await.map_err(io::Error::other)?
}

/// A worker's answer; one that dies is given a second try.
async fn answer(
    journal: &Journal,
    claim: &Claim,
    task: &Task,
    invocation: &Invocation,
) -> io::Result<Answer> {
    match child::work(task, invocation).await {
        Ok(answer) => Ok(answer),
        Err(first) => {
            tracing::warn!(job = %claim.id, why = %first, "tried once more");
            journal.stage(claim)?;
            Ok(child::work(task, invocation).await.unwrap_or_else(|why| child::died(&why, &claim.folder)))
        }
    }
}

fn name(at: &std::path::Path) -> String {
    visible(&at.file_name().unwrap_or_default().to_string_lossy())
}

/// `1 sheet`, `6 sheets`.
fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
