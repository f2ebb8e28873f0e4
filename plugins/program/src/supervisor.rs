//! The process between a worker and a program: it starts the program, sees to its limits, hears what it says, and ends
//! whatever it started.
//!
//! A program may start others, in sessions of their own, and end itself; they may hold its output open. So this process
//! adopts what loses its parent (it is a subreaper, prctl(2)), and when the program has ended, or may not go on, it ends all
//! that come from it until none are left: only then do all pipes close, and nothing waits for a stranger. It is told its
//! task on a line of standard input, and on another what the program is told, once all that it works on is there; until then
//! the program's process gives up its rights and waits. Standard input then stays open: when that closes, the worker is
//! gone, and everything ends.
//! Other systems than Linux tell of no children and let nobody adopt them: there the program's process group is ended.

use std::io::{self, BufRead as _, BufReader, Read, Write as _};
use std::os::unix::process::CommandExt as _;
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use rustix::process::{Pid, WaitOptions, wait};
use serde::{Deserialize, Serialize};

use crate::confinement::{Bounds, GO};
use crate::{family, scratch};

/// The hidden verb that starts this.
pub(crate) const VERB: &str = "supervise-program";

/// The most that a program may answer.
const LONGEST_ANSWER: usize = 1 << 20;

/// The most that it may say for the log, and how much of its end is kept.
const LONGEST_LOG: usize = 16 << 20;
const KEPT_LOG: usize = 16 << 10;

/// How many processes it may be at once.
const CROWD: usize = 64;

/// How often it is looked at.
const TICK: Duration = Duration::from_millis(10);

/// How long ending everything may take; what waits for a broken disk cannot be ended.
const ENDING: Duration = Duration::from_secs(5);

/// The task.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Launch {
    pub(crate) bounds: Bounds,
    pub(crate) time: Duration,
}

/// What came of it.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Report {
    pub(crate) end: End,
    /// What it said on standard output.
    pub(crate) answer: Vec<u8>,
    /// The end of what it said on standard error.
    pub(crate) log: Vec<u8>,
    /// How many processes it left behind, and whether some could not be ended.
    pub(crate) left: usize,
    pub(crate) stuck: bool,
    /// The most memory it was seen to hold, in bytes.
    pub(crate) peak: u64,
    pub(crate) took: Duration,
}

/// How a program ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum End {
    /// By itself, with this code.
    Code(i32),
    /// By this signal.
    Signal(i32),
    /// It took longer than it may.
    Time,
    /// It took more memory than it may.
    Memory,
    /// It became more processes than it may.
    Crowd,
    /// It said more than it may.
    Flood,
    /// It wrote more than it may.
    Disk,
}

/// What happens to this process.
enum Event {
    /// A process that came from it has ended.
    Ended(Pid, End),
    /// There is none any more.
    Alone,
    /// One of the program's pipes has closed.
    Closed,
    Flooded,
    /// The worker is gone.
    Orphaned,
}

/// Does the one task it is told, and says what came of it.
///
/// # Errors
/// The task makes no sense, or nothing can be started at all.
pub fn supervise() -> io::Result<()> {
    let mut told = BufReader::new(io::stdin());
    let mut line = || -> io::Result<String> {
        let mut line = String::new();
        told.read_line(&mut line)?;
        Ok(line)
    };
    let launch: Launch = serde_json::from_str(&line()?)?;
    family::adopt()?;
    let mut child = start(&launch.bounds)?;
    let request = line()?;
    if !request.ends_with('\n') {
        // The worker is gone, or has nothing to work on.
        child.kill()?;
        return child.wait().map(drop);
    }
    let (tell, hear) = channel();
    let orphaned = tell.clone();
    thread::spawn(move || {
        drop(io::copy(&mut told, &mut io::sink()));
        drop(orphaned.send(Event::Orphaned));
    });
    if let Some(report) = work(child, launch, request, &tell, &hear)? {
        io::stdout().lock().write_all(&serde_json::to_vec(&report)?)?;
    }
    Ok(())
}

/// Starts the process that becomes the program when it is let go.
fn start(bounds: &Bounds) -> io::Result<Child> {
    Command::new(std::env::current_exe()?)
        .arg(crate::confinement::VERB)
        .arg(serde_json::to_string(bounds)?)
        .env_clear()
        .current_dir(&bounds.scratch)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .process_group(0)
        .spawn()
}

/// Lets a program go and sees it to its end; nothing where nobody wants to know any more.
fn work(
    mut child: Child,
    launch: Launch,
    request: String,
    tell: &Sender<Event>,
    hear: &Receiver<Event>,
) -> io::Result<Option<Report>> {
    let began = Instant::now();
    let scratch = launch.bounds.scratch.clone();
    let program = i32::try_from(child.id()).ok().and_then(Pid::from_raw);
    let program = program.ok_or_else(|| io::Error::other("a process without a number"))?;
    let (Some(asks), Some(says), Some(logs)) = (child.stdin.take(), child.stdout.take(), child.stderr.take())
    else {
        return Err(io::Error::other("a process without pipes"));
    };
    ask(asks, request);
    let answer = listen(says, LONGEST_ANSWER, LONGEST_ANSWER, tell.clone());
    let log = listen(logs, KEPT_LOG, LONGEST_LOG, tell.clone());
    reap(tell.clone());

    let mut watch = Watch {
        scratch,
        bounds: &launch.bounds,
        program,
        time: launch.time,
        began,
        peak: 0,
        open: 2,
        alone: false,
    };
    let Some(end) = watch.until_it_ends(hear) else {
        watch.end_all(hear);
        return Ok(None);
    };
    let took = began.elapsed();
    let left = family::tally().count;
    let stuck = !watch.end_all(hear);
    let take =
        |said: &Mutex<Vec<u8>>| std::mem::take(&mut *said.lock().unwrap_or_else(PoisonError::into_inner));
    Ok(Some(Report { end, answer: take(&answer), log: take(&log), left, stuck, peak: watch.peak, took }))
}

/// A program being watched.
struct Watch<'a> {
    scratch: PathBuf,
    bounds: &'a Bounds,
    program: Pid,
    time: Duration,
    began: Instant,
    peak: u64,
    /// How many of its pipes are open.
    open: u8,
    /// Whether nothing that came of it is left.
    alone: bool,
}

impl Watch<'_> {
    /// How it ends, or why it may not go on; nothing where the worker is gone.
    fn until_it_ends(&mut self, hear: &Receiver<Event>) -> Option<End> {
        loop {
            match hear.recv_timeout(TICK) {
                Ok(Event::Ended(pid, end)) if pid == self.program => return Some(end),
                Ok(Event::Flooded) => return Some(End::Flood),
                Ok(Event::Orphaned) | Err(RecvTimeoutError::Disconnected) => return None,
                Ok(Event::Closed) => self.open = self.open.saturating_sub(1),
                Ok(Event::Ended(..) | Event::Alone) | Err(RecvTimeoutError::Timeout) => {}
            }
            if let Some(end) = self.beyond() {
                return Some(end);
            }
        }
    }

    fn beyond(&mut self) -> Option<End> {
        let tally = family::tally();
        self.peak = self.peak.max(tally.bytes);
        if self.began.elapsed() > self.time {
            Some(End::Time)
        } else if tally.bytes > self.bounds.memory {
            Some(End::Memory)
        } else if tally.count > CROWD {
            Some(End::Crowd)
        } else if scratch::size(&self.scratch) > self.bounds.disk {
            Some(End::Disk)
        } else {
            None
        }
    }

    /// Ends all that come from this process, until there are none and both pipes are closed; says whether that was reached.
    fn end_all(&mut self, hear: &Receiver<Event>) -> bool {
        let until = Instant::now() + ENDING;
        while !self.alone || self.open > 0 {
            family::end(self.program);
            match hear.recv_timeout(Duration::from_millis(2)) {
                Ok(Event::Alone) => self.alone = true,
                Ok(Event::Closed) => self.open = self.open.saturating_sub(1),
                Ok(Event::Ended(..) | Event::Flooded | Event::Orphaned) | Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return false,
            }
            if Instant::now() > until {
                return false;
            }
        }
        true
    }
}

/// Lets a program go, and hands the request over; it need not read that.
fn ask(mut pipe: ChildStdin, request: String) {
    let words = [&[GO], request.trim_end().as_bytes()].concat();
    thread::spawn(move || drop(pipe.write_all(&words)));
}

/// Hears a pipe to its end; keeps the last `kept` bytes, and complains beyond `most`.
fn listen(
    mut pipe: impl Read + Send + 'static,
    kept: usize,
    most: usize,
    tell: Sender<Event>,
) -> Arc<Mutex<Vec<u8>>> {
    let said = Arc::new(Mutex::new(Vec::new()));
    let heard = Arc::clone(&said);
    thread::spawn(move || {
        let (mut block, mut total) = (vec![0; 1 << 16], 0_usize);
        while let Ok(read) = pipe.read(&mut block)
            && read > 0
        {
            total = total.saturating_add(read);
            if total > most {
                drop(tell.send(Event::Flooded));
            }
            let mut heard = heard.lock().unwrap_or_else(PoisonError::into_inner);
            heard.extend_from_slice(block.get(..read).unwrap_or_default());
            let surplus = heard.len().saturating_sub(kept);
            heard.drain(..surplus);
        }
        drop(tell.send(Event::Closed));
    });
    said
}

/// Tells of each process that ends, and when there is none any more.
fn reap(tell: Sender<Event>) {
    thread::spawn(move || {
        loop {
            let ended = match wait(WaitOptions::empty()) {
                Ok(Some((pid, status))) => match (status.exit_status(), status.terminating_signal()) {
                    (Some(code), _) => Event::Ended(pid, End::Code(code)),
                    (None, Some(signal)) => Event::Ended(pid, End::Signal(signal)),
                    (None, None) => continue,
                },
                Err(rustix::io::Errno::INTR) | Ok(None) => continue,
                Err(_) => {
                    drop(tell.send(Event::Alone));
                    return;
                }
            };
            drop(tell.send(ended));
        }
    });
}
