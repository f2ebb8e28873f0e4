//! The daemon's loop: take what is ready, work it in child processes, deliver or refuse, until told to stop.
//!
//! Jobs run side by side and share memory and threads between them ([`share`]). Trouble of the machine (a full disk, a
//! lost network drive, a configuration that somebody is just editing) leaves the job claimed, to be tried again after a
//! pause that doubles ([`pauses`]); a batch gives up after a few tries and hands it back to the inbox. Trouble with the
//! job itself ends in `refused/`; a worker that dies is tried once more. Nothing stops the loop but a signal. What it is
//! doing it writes down for whoever asks ([`health`]), and it works by the last settings that were in order ([`settings`]).

mod again;
mod aside;
mod ceiling;
mod child;
mod health;
mod held;
mod job;
mod next;
mod outbox;
mod pauses;
mod room;
mod said;
mod settings;
mod share;
mod shares;
mod task;
#[cfg(test)]
mod tests;
mod tried;
mod worker;

use std::collections::{BTreeSet, VecDeque};
use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use seamwright_contract::plugin::Means;
use tokio::sync::Notify;
use tokio::task::{JoinError, JoinSet};
use tokio::time::{Instant, sleep};

use crate::config::Config;
use crate::deliver::Spool;
use crate::history::{self, History};
use crate::journal::{Claim, Journal, SourceSet, Standing, visible};
use crate::progress;
use crate::report::{self, At, Report};
use crate::watch::{Inbox, Patience, Place, Wake};
use health::{Health, State};
use job::{End, Grant, Step};
use next::Next;
use pauses::TRIES;
use room::short_of_room;
use share::Share;
use shares::Shares;
use task::Kin;

pub(crate) use again::again;
pub(crate) use child::{Invocation, Worker};
pub use health::ask as ask_health;
pub(crate) use pauses::Pauses;
pub(crate) use settings::Settings;
pub(crate) use task::{Heard, Word};
pub(crate) use tried::{plan, test_print};
pub(crate) use worker::serve;

/// How often the inbox is looked through without being woken.
const EVERY: Duration = Duration::from_secs(3);

/// How often the kept sources are looked through.
const PRUNING: Duration = Duration::from_secs(3600);

/// How long running jobs may go on after the daemon was told to stop.
const GRACE: Duration = Duration::from_secs(20);

/// The part of a job's memory that is kept for its kin: one in so many.
const KEPT: u64 = 8;

/// A copy that stalls for less than this may still go on.
const LEAST_UNFINISHED: Duration = Duration::from_secs(60);

/// What came of a run.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) finished: u32,
    pub(crate) refused: u32,
    /// Jobs a batch gave up on.
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

/// In words, what is short on a folder's disk.
pub(crate) type Gauge = Box<dyn Fn(&Path) -> Option<String>>;

/// What the loop needs of the world.
pub(crate) struct World {
    /// Works a task.
    pub(crate) worker: Worker,
    /// Looks at the disk.
    pub(crate) short_of_room: Gauge,
    /// Rung when somebody wants the settings read again.
    pub(crate) read_again: Arc<Notify>,
}

impl World {
    /// As it is, with each task in a process of its own.
    pub(crate) fn real(invocation: Invocation) -> Self {
        Self {
            worker: invocation.worker(),
            short_of_room: Box::new(short_of_room),
            read_again: Arc::default(),
        }
    }
}

/// The loop and what it knows.
pub(crate) struct Daemon {
    settings: Settings,
    health: Health,
    journal: Journal,
    world: World,
    until: Until,
    inbox: Inbox,
    queue: VecDeque<Next>,
    jobs: JoinSet<Step>,
    share: Share,
    /// The share by new settings, until the jobs by the old ones have ended.
    new_share: Option<Share>,
    /// When the inbox was last looked through.
    looked: Option<Instant>,
    /// How many sets are being taken this moment. What is left of them in the inbox is no set of its own, so nobody
    /// looks there until they are.
    moving: usize,
    /// Jobs the machine failed, and claims to try again.
    troubles: Pauses<String>,
    delayed: Vec<Claim>,
    /// Sets that could not be taken, by their first file.
    shy: Pauses<PathBuf>,
    /// The disk, when it is full.
    disk: Pauses<()>,
    given_up: Vec<Claim>,
    /// Whether claims may lie in the inbox that nobody here knows of, as when it was taken away and comes back.
    strays: bool,
    tally: Tally,
    /// When the kept sources were last looked through.
    pruned: Option<Instant>,
    page: Report,
    spool: Spool,
    shares: Shares,
}

impl Daemon {
    /// Opens the journal and takes up what an earlier run left.
    pub(crate) fn open(settings: Settings, world: World, until: Until) -> io::Result<Self> {
        let config = settings.config();
        let journal = Journal::open(&config.studio)?;
        let claims = journal.recover()?;
        let mut spool = Spool::new(&config.studio);
        spool.recover(&ids(&claims));
        let queue: VecDeque<Next> = claims.into_iter().map(Next::Claim).collect();
        let mut history = History::of(&config.studio.kept);
        match history::mend(&mut history, &config.studio) {
            Ok(0) => {}
            Ok(lines) => {
                tracing::info!(lines, "the history lacked some; they are made again from the records");
            }
            Err(why) => tracing::warn!(%why, "the history cannot be looked through"),
        }
        if !queue.is_empty() {
            tracing::info!(jobs = queue.len(), "taken up from where an earlier run left them");
        }
        Ok(Self {
            inbox: Inbox::new(&config.studio.incoming, patience(config, until)),
            share: Share::new(config.memory, config.workers),
            new_share: None,
            health: Health::new(&config.studio),
            page: Report::new(history),
            spool,
            settings,
            journal,
            world,
            until,
            queue,
            jobs: JoinSet::new(),
            looked: None,
            moving: 0,
            troubles: Pauses::new(),
            delayed: Vec::new(),
            shy: Pauses::new(),
            disk: Pauses::new(),
            given_up: Vec::new(),
            strays: false,
            tally: Tally::default(),
            pruned: None,
            shares: Shares::new(),
        })
    }

    /// Serves the report page from here on; gives the address.
    pub(crate) async fn serve(&mut self, at: At) -> io::Result<SocketAddr> {
        let (give, take) = tokio::sync::watch::channel(String::new());
        self.page.live = Some(give);
        report::serve(at, self.settings.config().studio.outgoing.clone(), take).await
    }

    /// Goes on until the end it was given, or until `stop` says so.
    pub(crate) async fn run(mut self, stop: impl Future<Output = ()>, say: Say<'_>) -> Tally {
        let studio = self.settings.config().studio.clone();
        let mut wake = Wake::new(&studio.incoming);
        let mut stop = std::pin::pin!(stop);
        let mut missing = false;
        loop {
            let began = Instant::now();
            let waiting = self.look().unwrap_or_else(|why| {
                if !std::mem::replace(&mut missing, true) {
                    tracing::warn!(%why, "the inbox is missing; waiting for it to come back");
                }
                0
            });
            // Looking again and again must not be all that is done, however many events there are.
            let breath = (began.elapsed() * 2).max(Duration::from_millis(20));
            missing &= !studio.incoming.exists();
            wake.renew();
            self.prune();
            if self.settings.renew(false) {
                self.follow_settings();
            }
            self.bring_together(waiting);
            self.start_jobs();
            if self.spool.turn(self.settings.config()) {
                self.page.changed();
            }
            self.report(waiting, missing);
            self.page.renew(self.settings.config(), self.jobs.is_empty());
            self.show_progress();
            if self.is_over(waiting) {
                self.give_back();
                self.health.stopping();
                return self.tally;
            }
            let quiet = self.settings.config().quiet;
            let pause = if waiting > 0 { quiet.clamp(Duration::from_millis(50), EVERY) } else { EVERY };
            let read_again = Arc::clone(&self.world.read_again);
            tokio::select! {
                Some(done) = self.jobs.join_next() => self.go_on(done, say),
                () = self.spool.ended() => {}
                // A job that ends meanwhile is gone on with at once.
                () = async { wake.heard().await; sleep(breath).await } => {}
                () = sleep(pause) => {}
                () = read_again.notified() => {
                    if self.settings.renew(true) {
                        self.follow_settings();
                    }
                }
                () = &mut stop => break,
            }
        }
        self.wind_up(say).await;
        self.tally
    }

    /// Lets what runs finish within the time of grace; what does not is ended and worked again at the next start.
    async fn wind_up(&mut self, say: Say<'_>) {
        tracing::info!(running = self.jobs.len(), "told to stop");
        self.health.stopping();
        let rest = async {
            while let Some(done) = self.jobs.join_next().await {
                match done {
                    // It stays claimed.
                    Ok(Step::Taken(..)) => {}
                    done => self.note(done, say),
                }
            }
            self.spool.wind_up().await;
        };
        if tokio::time::timeout(GRACE, rest).await.is_err() {
            tracing::warn!("what runs is ended; it is taken up at the next start");
        }
        self.page.renew(self.settings.config(), true);
    }

    /// Goes on by settings that are new. The folders stay as they were.
    fn follow_settings(&mut self) {
        let config = self.settings.config();
        self.inbox.patience = patience(config, self.until);
        self.new_share = Some(Share::new(config.memory, config.workers));
    }

    /// Writes down what it is doing.
    fn report(&mut self, waiting: usize, missing: bool) {
        let state = if missing {
            State::InboxMissing
        } else if self.disk.tries(&()) > 0 {
            State::NoRoom
        } else {
            State::Well
        };
        let queued = self.queue.len() + self.delayed.len();
        self.health.report(state, self.jobs.len(), queued, waiting, self.tally, &self.settings);
    }

    fn show_progress(&self) {
        let Tally { finished, refused, left } = self.tally;
        let done = usize::try_from(finished + refused + left).unwrap_or(usize::MAX);
        progress::jobs(done, done + self.jobs.len() + self.queue.len() + self.delayed.len());
    }

    /// Once an hour.
    fn prune(&mut self) {
        if self.pruned.is_some_and(|last| last.elapsed() < PRUNING) {
            return;
        }
        self.pruned = Some(Instant::now());
        if let Err(why) = self.journal.prune(self.settings.config().keep) {
            tracing::warn!(%why, "the kept sources could not be looked through");
        }
    }

    /// Fills the queue when it is empty, and renews it now and then; says how many files are not ready yet.
    fn look(&mut self) -> io::Result<usize> {
        let (due, later) =
            std::mem::take(&mut self.delayed).into_iter().partition(|claim| !self.troubles.hold(&claim.id));
        let due: Vec<Claim> = due;
        self.delayed = later;
        self.queue.extend(due.into_iter().map(Next::Claim));
        self.find_strays();
        let fresh = self.looked.is_some_and(|at| at.elapsed() < EVERY) && !self.queue.is_empty();
        if fresh || self.moving > 0 {
            return Ok(0);
        }
        self.looked = Some(Instant::now());
        let look = self.inbox.look(Instant::now().into_std())?;
        // What waits is looked at anew, for the maker may have put another first; what is claimed already goes on.
        self.queue.retain(|next| matches!(next, Next::Claim(_)));
        let (mut held, mut shy) = (0, BTreeSet::new());
        for next in self.in_turn(look.ready) {
            let Some(first) = next.first() else { continue };
            let given_up = self.until == Until::WorkedOff && self.shy.tries(&first) >= TRIES;
            if !given_up && self.shy.hold(&first) {
                held += 1;
            } else if !given_up {
                self.queue.push_back(next);
            }
            shy.insert(first);
        }
        self.shy.retain(|first| shy.contains(first));
        Ok(look.waiting + held)
    }

    /// What may be taken, in the order in which it is: what was put first, then rows, whose lists were claimed before
    /// anything that lies in the inbox.
    fn in_turn(&self, sets: Vec<SourceSet>) -> Vec<Next> {
        let rows = self.journal.waiting_rows().unwrap_or_else(|why| {
            tracing::warn!(%why, "the rows of lists cannot be looked at");
            Vec::new()
        });
        let rows = rows.into_iter().filter(|row| row.place != Place::Held).map(Next::Row);
        let mut all: Vec<Next> = rows.chain(sets.into_iter().map(Next::Set)).collect();
        all.sort_by_key(|next| !next.is_first());
        all
    }

    /// Once nothing is left to work, jobs that share their sheets are made one more, whose sheets those are.
    fn bring_together(&mut self, waiting: usize) {
        if waiting > 0 || !self.is_idle() {
            return;
        }
        let patience = patience(self.settings.config(), self.until).wait;
        match self.shares.due(&self.journal, patience) {
            Ok(claims) => self.queue.extend(claims.into_iter().map(Next::Claim)),
            Err(why) => {
                tracing::error!(%why, "jobs that share sheets cannot be brought together; it is tried after the next");
            }
        }
    }

    fn is_idle(&self) -> bool {
        self.jobs.is_empty() && self.queue.is_empty() && self.delayed.is_empty()
    }

    /// Takes up claims that came back, once no other can be mistaken for one.
    fn find_strays(&mut self) {
        // As long as the folder of claims is away, it is looked for again.
        if self.strays
            && self.is_idle()
            && let Ok(claims) = self.journal.recover()
        {
            self.strays = false;
            self.spool.recover(&ids(&claims));
            self.queue.extend(claims.into_iter().map(Next::Claim));
        }
    }

    /// Whether a batch has nothing left to do, or no room to do it in.
    fn is_over(&mut self, waiting: usize) -> bool {
        if self.until == Until::Told || !self.jobs.is_empty() {
            return false;
        }
        if self.disk.tries(&()) >= TRIES {
            self.tally.left += u32::try_from(self.queue.len()).unwrap_or(u32::MAX);
            return true;
        }
        if !self.queue.is_empty() || !self.delayed.is_empty() || waiting > 0 {
            return false;
        }
        let Some(unprinted) = self.spool.left(TRIES) else { return false };
        self.tally.left += u32::try_from(unprinted).unwrap_or(u32::MAX);
        true
    }

    fn start_jobs(&mut self) {
        // What the running jobs were promised stands until they have ended.
        if self.new_share.is_some() && !self.jobs.is_empty() {
            return;
        }
        if let Some(share) = self.new_share.take() {
            self.share = share;
        }
        while !self.queue.is_empty() && self.has_room() {
            let Some(means) = self.share.grant(self.jobs.len(), self.queue.len() > 1) else { return };
            let Some(next) = self.queue.pop_front() else { return };
            let grant = self.grant(means, next.kin());
            match next {
                Next::Set(set) => {
                    self.moving += 1;
                    self.jobs.spawn(job::take(self.journal.clone(), set, grant));
                }
                Next::Row(row) => {
                    self.moving += 1;
                    self.jobs.spawn(job::take_row(self.journal.clone(), row, grant));
                }
                Next::Claim(claim) => self.start(claim, grant),
            }
        }
    }

    /// What a job is worked with: a part of its memory is for what others of its kin that wait can use again.
    fn grant(&self, means: Means, kin: Option<Kin>) -> Grant {
        let follows = kin.is_some() && self.queue.iter().any(|next| next.kin() == kin);
        Grant { means: Means { keep: if follows { means.memory / KEPT } else { 0 }, ..means }, kin }
    }

    fn start(&mut self, claim: Claim, grant: Grant) {
        let (journal, worker) = (self.journal.clone(), Arc::clone(&self.world.worker));
        self.jobs.spawn(job::work(journal, worker, claim, grant, self.settings.current()));
    }

    /// Whether the disk has room for a job; asked again after a pause.
    fn has_room(&mut self) -> bool {
        if self.disk.hold(&()) {
            return false;
        }
        let Some(why) = (self.world.short_of_room)(&self.settings.config().studio.outgoing) else {
            self.disk.forget(&());
            return true;
        };
        let (tries, pause) = self.disk.add(());
        if tries == 1 {
            tracing::warn!(%why, ?pause, "no job is begun until there is room on the disk");
        }
        false
    }

    /// Goes on with a job that has come a step further.
    fn go_on(&mut self, done: Result<Step, JoinError>, say: Say<'_>) {
        match done {
            Ok(Step::Taken(claim, grant)) => {
                self.moving -= 1;
                tracing::info!(job = %claim.id, "taken");
                self.start(claim, grant);
            }
            done => self.note(done, say),
        }
    }

    /// Notes what came of a job.
    fn note(&mut self, done: Result<Step, JoinError>, say: Say<'_>) {
        match done {
            Ok(Step::Taken(..)) => {}
            Ok(Step::NotTaken { first, what, why }) => {
                self.moving -= 1;
                self.not_taken(first, &visible(&what), &why);
            }
            Ok(Step::Ended(claim, Ok(end))) => self.ended(claim, end, say),
            Ok(Step::Ended(claim, Err(why))) => self.trouble(claim, &why.to_string()),
            Err(why) => {
                tracing::error!(%why, "a job was lost from sight; it is taken up at the next start");
                self.tally.left += 1;
            }
        }
    }

    fn not_taken(&mut self, first: PathBuf, stem: &str, why: &io::Error) {
        // It changed; the next look finds out.
        if why.kind() == io::ErrorKind::Interrupted {
            tracing::info!(%stem, %why, "not taken yet");
            return;
        }
        // Where it went wrong half-way, undoing it may have gone wrong too.
        self.strays = true;
        let (tries, pause) = self.shy.add(first);
        tracing::warn!(%stem, %why, tries, ?pause, "cannot be taken out of the inbox; tried again later");
        if self.until == Until::WorkedOff && tries == TRIES {
            self.tally.left += 1;
        }
    }

    fn ended(&mut self, claim: Claim, end: End, say: Say<'_>) {
        progress::ended(&claim.id);
        self.shares.more();
        for line in said::lines(&end, &self.settings.config().studio.root) {
            say(&line);
        }
        match end {
            End::Finished { .. } => {
                self.tally.finished += 1;
                self.page.changed();
                self.spool.ring();
            }
            End::Unfolded { .. } => {
                self.page.changed();
                // Its rows are not looked for by the clock.
                self.looked = None;
            }
            End::Refused { .. } => {
                self.tally.refused += 1;
                self.page.changed();
            }
            End::Trouble(why) => return self.trouble(claim, &why),
            End::HandedBack => {
                tracing::info!(job = %claim.id, "somebody still writes to its files; they are in the inbox again");
            }
            End::Gone => {
                tracing::error!(job = %claim.id, "its files were taken away while it was worked; nothing is delivered");
                self.tally.left += 1;
                self.strays = true;
            }
        }
        self.troubles.forget(&claim.id);
    }

    fn trouble(&mut self, claim: Claim, why: &str) {
        let (tries, pause) = self.troubles.add(claim.id.clone());
        let why = visible(why);
        if self.until == Until::WorkedOff && tries >= TRIES {
            tracing::error!(job = %claim.id, %why, tries, "trouble with the machine; given up for now");
            self.tally.left += 1;
            self.given_up.push(claim);
        } else {
            tracing::warn!(job = %claim.id, %why, tries, ?pause, "trouble with the machine; tried again later");
            self.delayed.push(claim);
        }
    }

    /// What a batch gave up on goes back to the inbox; what is worked already waits for the next start where it is.
    fn give_back(&mut self) {
        for claim in std::mem::take(&mut self.given_up) {
            if self.journal.standing(&claim).is_ok_and(|standing| standing == Standing::Claimed)
                && let Err(why) = self.journal.hand_back(&claim)
            {
                tracing::error!(job = %claim.id, %why, "cannot be handed back; it is taken up at the next start");
            }
        }
    }
}

/// How patient the watch is. In a batch there is nobody left to go on with what is not complete.
fn patience(config: &Config, until: Until) -> Patience {
    let (wait, unfinished) = match until {
        Until::Told => (config.wait, config.wait.max(LEAST_UNFINISHED)),
        Until::WorkedOff => (Duration::ZERO, Duration::ZERO),
    };
    Patience { quiet: config.quiet, wait, unfinished }
}

fn ids(claims: &[Claim]) -> Vec<&str> {
    claims.iter().map(|claim| claim.id.as_str()).collect()
}
