//! One try to hand a job's sheets over, from wherever an earlier one left it.
//!
//! Constraint first: sheets printed twice waste paper, dye and the maker's trust, and no answer may ever come. So nothing
//! is sent before the slip says that it may have been. To open a job at the printer is harmless, for without sheets it
//! prints nothing: one opened by a try that was cut off is found by its name, and forgotten if it is not. The one
//! step that counts is to send the sheets, to a job whose number the slip knows. Was that step cut off, the printer is asked
//! what it has of that job: none, and they are sent again; all, and they are not; and what it cannot say is the maker's
//! to say.
//!
//! Printers that cannot open a job get it in one with its sheets, and are asked by its name. A command is asked nothing:
//! one that was cut off is the maker's to look after.

use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};
use seamwright_contract::sending::{SendTo, Way};
use tokio::io::AsyncReadExt as _;
use tokio::process::Command;

use super::ipp::{Job, Printer, Standing, Ticket, Trouble};
use super::media;
use super::slip::{Slip, Slips, State};

/// How long a command may take.
const COMMAND: Duration = Duration::from_secs(300);

/// Bytes of what a command says that are kept.
const LONGEST_WORD: u64 = 500;

/// The cure where nobody can say whether sheets are printed.
const LOOK: &str =
    "Look whether its sheets lie at the printer. If not, hand them over anew: seamwright print";

/// What a try came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Came {
    /// The printer has all of it; in words, where.
    Taken(String),
    /// The printer had it already and has printed it.
    Printed(String),
    /// The printer works on it; in its words, how far.
    GoesOn(String),
    /// Something stands in the way, for now.
    NotYet(String),
    /// It is the maker's turn: why, and what to do.
    Stopped(String, String),
}

/// A slip being worked on.
#[derive(Debug)]
pub(super) struct Attempt {
    /// The name of its folder.
    pub(super) name: String,
    pub(super) slip: Slip,
    pub(super) slips: Slips,
}

impl Attempt {
    /// Hands it over, or asks how it goes where that is done.
    pub(super) async fn run(mut self, send_to: SendTo) -> (Self, Came) {
        let came = match (&self.slip.state.clone(), &send_to.way) {
            (State::Taken { to, id }, _) => follow(&Printer::at(to), *id, to).await,
            // Where it was begun, whatever the catalogue says by now.
            (State::Begun { to, id, sent }, _) if !is_command(to) => {
                self.resume(to, *id, *sent, &send_to).await
            }
            (State::Begun { sent: true, .. }, _) => Ok(Came::Stopped(
                "the command was cut off, so nobody can say whether it took the sheets".to_owned(),
                LOOK.to_owned(),
            )),
            (_, Way::Ipp(uri)) => self.begin(uri, None, &send_to).await,
            (_, Way::Command(words)) => Ok(self.command(words, &send_to).await),
        };
        let came = came.unwrap_or_else(|trouble| match trouble {
            Trouble::Later(why) => Came::NotYet(why),
            Trouble::Never(why) => Came::Stopped(
                why,
                "Mend what the printer complains of, then hand it over: seamwright print".to_owned(),
            ),
            Trouble::NoSuchJob => Came::NotYet("the printer does not know it any more".to_owned()),
        });
        (self, came)
    }

    /// Writes down that it is begun; what cannot be written down is not done.
    fn note(&mut self, to: &str, id: Option<i32>, sent: bool) -> Result<(), Trouble> {
        self.slip.state = State::Begun { to: to.to_owned(), id, sent };
        self.slips
            .write(&self.name, &self.slip)
            .map_err(|why| Trouble::Later(format!("it cannot be written down: {why}")))
    }

    /// Hands it over to a printer, in a job of this number where one is open.
    async fn begin(&mut self, to: &str, open: Option<i32>, send_to: &SendTo) -> Result<Came, Trouble> {
        let printer = Printer::at(to);
        let sheets = self.slips.sheets(&self.name);
        let able = printer.able().await?;
        if !able.accepting {
            return Err(Trouble::Later(format!("it takes no jobs now ({})", able.state)));
        }
        let ticket = match Ticket::new(&self.slip, send_to, &able) {
            Ok(ticket) => ticket,
            Err((why, cure)) => return Ok(Came::Stopped(why, cure)),
        };
        if !able.opens_jobs && open.is_none() {
            self.note(to, None, true)?;
            return match printer.print(&self.slip, &ticket, &sheets).await {
                Ok(id) => Ok(self.taken(to, id, send_to)),
                // It said no, so it has nothing.
                Err(Trouble::Never(why)) => {
                    self.slip.state = State::Waiting;
                    Err(Trouble::Never(why))
                }
                other => other.map(|_| Came::GoesOn(String::new())),
            };
        }
        let id = match open {
            Some(id) => id,
            None => {
                self.note(to, None, false)?;
                printer.open(&self.slip, &ticket).await?
            }
        };
        self.note(to, Some(id), false)?;
        self.fill(&printer, to, id, &sheets, send_to).await
    }

    async fn fill(
        &mut self,
        printer: &Printer<'_>,
        to: &str,
        id: i32,
        sheets: &Path,
        send_to: &SendTo,
    ) -> Result<Came, Trouble> {
        self.note(to, Some(id), true)?;
        match printer.fill(id, sheets).await {
            Ok(()) => Ok(self.taken(to, id, send_to)),
            Err(Trouble::Never(why)) => {
                printer.cancel(id).await;
                Err(Trouble::Never(why))
            }
            Err(other) => Err(other),
        }
    }

    fn taken(&mut self, to: &str, id: i32, send_to: &SendTo) -> Came {
        if send_to.follow {
            self.slip.state = State::Taken { to: to.to_owned(), id };
        }
        Came::Taken(format!("as its job {id}, {to}"))
    }

    /// Goes on with what was cut off: first the printer is asked what it has.
    async fn resume(
        &mut self,
        to: &str,
        id: Option<i32>,
        sent: bool,
        send_to: &SendTo,
    ) -> Result<Came, Trouble> {
        let printer = Printer::at(to);
        let (job, asked) = match id {
            Some(id) => (printer.job(id).await, format!("its job {id}")),
            None => (find(&printer, &self.slip.name(), sent).await, "the job".to_owned()),
        };
        let job = match job {
            Ok(job) => job,
            // Nothing of it has left here, so nothing of it can be printed.
            Err(Trouble::NoSuchJob) if !sent => return self.afresh(send_to).await,
            Err(Trouble::NoSuchJob) => {
                return Ok(Came::Stopped(
                    format!(
                        "the connection broke while the sheets were sent, and the printer does not know {asked} any more"
                    ),
                    LOOK.to_owned(),
                ));
            }
            Err(other) => return Err(other),
        };
        self.go_on_with(&job, to, sent, send_to).await
    }

    async fn go_on_with(
        &mut self,
        job: &Job,
        to: &str,
        sent: bool,
        send_to: &SendTo,
    ) -> Result<Came, Trouble> {
        let broke = "the connection broke while the sheets were sent";
        let look = |why: String| Ok(Came::Stopped(format!("{broke}, and {why}"), LOOK.to_owned()));
        let told = format!("its job {} {}", job.id, job.told());
        let standing = job.standing();
        match standing {
            Standing::Empty => return self.begin(to, Some(job.id), send_to).await,
            Standing::GivenUp if !sent || job.never_had_any() => return self.afresh(send_to).await,
            Standing::GivenUp => return look(told),
            Standing::Incoming => return Ok(Came::GoesOn(format!("{broke}; {told}"))),
            Standing::Queued | Standing::Printed => {}
        }
        let bytes = self.slips.sheets(&self.name).metadata().map_or(u64::MAX, |facts| facts.len());
        match (job.has_all(bytes, self.slip.sheets), standing) {
            (Some(false), _) => look(format!("the printer has only a part of them as its job {}", job.id)),
            (Some(true), Standing::Printed) => Ok(Came::Printed(format!("as its job {}, {to}", job.id))),
            (Some(true), _) => Ok(self.taken(to, job.id, send_to)),
            (None, Standing::Printed) => {
                look(format!("{told}, but the printer does not say whether it had all of them"))
            }
            // Once it is printed, most say how many pages that were.
            (None, _) => Ok(Came::GoesOn(format!("{broke}; {told}"))),
        }
    }

    /// From the beginning, since nothing of it is printed or can be.
    async fn afresh(&mut self, send_to: &SendTo) -> Result<Came, Trouble> {
        match &send_to.way {
            Way::Ipp(uri) => self.begin(uri, None, send_to).await,
            Way::Command(words) => Ok(self.command(words, send_to).await),
        }
    }

    /// By a program, whose success says that it has the sheets, and whose failure that it has not.
    async fn command(&mut self, words: &[String], send_to: &SendTo) -> Came {
        let sheets = self.slips.sheets(&self.name);
        let own = send_to.media.get(&self.slip.paper).cloned();
        let media = own.unwrap_or_else(|| media::name(self.slip.width_um, self.slip.height_um));
        let filled = |word: &String| {
            word.replace("{media}", &media)
                .replace("{copies}", &self.slip.copies.to_string())
                .replace("{name}", &self.slip.name())
                .replace("{sheets}", &sheets.to_string_lossy())
        };
        let words: Vec<String> = words.iter().map(filled).collect();
        if let Err(Trouble::Later(why)) = self.note(COMMAND_PLACE, None, true) {
            return Came::NotYet(why);
        }
        match call(&words).await {
            Ok(Ok(())) => Came::Taken(format!("by {}", words.first().map_or("", String::as_str))),
            Ok(Err(why)) => {
                self.slip.state = State::Waiting;
                Came::NotYet(why)
            }
            Err(why) => Came::Stopped(why, LOOK.to_owned()),
        }
    }
}

/// What a slip has for an address where a command is called.
const COMMAND_PLACE: &str = "command";

fn is_command(to: &str) -> bool {
    to == COMMAND_PLACE
}

/// A job by its name: an open one, or where its sheets went with it also one that is done.
async fn find(printer: &Printer<'_>, name: &str, sent: bool) -> Result<Job, Trouble> {
    let mut job = printer.job_called(name, false).await?;
    if job.is_none() && sent {
        job = printer.job_called(name, true).await?;
    }
    job.ok_or(Trouble::NoSuchJob)
}

/// How a job goes that the printer has.
async fn follow(printer: &Printer<'_>, id: i32, to: &str) -> Result<Came, Trouble> {
    let job = match printer.job(id).await {
        // Printers forget what is done.
        Err(Trouble::NoSuchJob) => {
            return Ok(Came::Printed(format!(
                "as far as can be told: {to} does not list its job {id} any more"
            )));
        }
        job => job?,
    };
    Ok(match job.standing() {
        Standing::Printed => Came::Printed(format!("as its job {id}, {to}")),
        Standing::GivenUp => Came::Stopped(format!("the printer's job {id} {}", job.told()), LOOK.to_owned()),
        Standing::Empty | Standing::Incoming | Standing::Queued => Came::GoesOn(job.told()),
    })
}

/// Runs a program. The outer error says that nobody knows what it did, the inner that it failed.
async fn call(words: &[String]) -> Result<Result<(), String>, String> {
    let Some((program, rest)) = words.split_first() else { return Ok(Err("there is no command".to_owned())) };
    let started = Command::new(program)
        .args(rest)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .process_group(0)
        .kill_on_drop(true)
        .spawn();
    let mut child = match started {
        Ok(child) => child,
        Err(why) => return Ok(Err(format!("{program} cannot be called: {why}"))),
    };
    let group = child.id().and_then(|id| i32::try_from(id).ok()).and_then(Pid::from_raw);
    let complaints = child.stderr.take();
    let mut said = Vec::new();
    let listening = async {
        if let Some(complaints) = complaints {
            let mut first = complaints.take(LONGEST_WORD);
            first.read_to_end(&mut said).await?;
            // The rest is drained, so that it does not stop over it.
            tokio::io::copy(&mut first.into_inner(), &mut tokio::io::sink()).await?;
        }
        child.wait().await
    };
    let Ok(ended) = tokio::time::timeout(COMMAND, listening).await else {
        if let Some(Err(why)) = group.map(|group| kill_process_group(group, Signal::KILL)) {
            tracing::warn!(%why, %program, "a command cannot be ended");
        }
        return Err(format!("{program} took longer than {} s and was ended", COMMAND.as_secs()));
    };
    let status = ended.map_err(|why| format!("nobody knows how {program} ended: {why}"))?;
    let said = String::from_utf8_lossy(&said).trim().to_owned();
    Ok(match status.code() {
        Some(0) => Ok(()),
        Some(code) => Err(format!("{program} failed with {code}: {said}")),
        None => return Err(format!("{program} was ended from outside ({status}): {said}")),
    })
}
