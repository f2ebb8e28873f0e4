//! One run of a program for one job, and a second where the first went wrong.

use std::fs::File;
use std::io::{self, Read as _, Write as _};
use std::os::unix::process::CommandExt as _;
use std::path::PathBuf;
use std::process::{Child, ChildStdin, ChildStdout, Command, ExitStatus, Stdio};

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::Picture;
use serde_json::Value;

use crate::answer::{self, Done};
use crate::confinement::Bounds;
use crate::manifest::{Gift, Program};
use crate::raster;
use crate::request;
use crate::scratch::Scratch;
use crate::supervisor::{End, Launch, Report, VERB};

/// Room in a scratch folder beside twice the picture.
const ROOM: u64 = 256 << 20;

/// The most lines of a program that go into the log, and the longest that is shown.
const LINES: usize = 40;
const LONGEST_LINE: usize = 300;

/// Why a run came to nothing.
#[derive(Debug)]
pub(crate) enum Failed {
    /// The machine's doing: tried again later with the job.
    Machine(Fault),
    /// The picture could not be had, or the program refused it.
    Refused(Fault),
    /// The program went wrong: what it did, and its last words.
    Program(String),
}

impl Failed {
    fn machine(why: &io::Error) -> Self {
        Self::Machine(Fault::machine(
            format!("A program of the studio could not be run: {why}."),
            "Make room on the disk; the job is tried again.",
        ))
    }
}

/// What a program makes of a job. One that goes wrong is given a second try.
pub(crate) fn run(program: &Program, layout: &Layout) -> Result<Done, Fault> {
    let mut second = false;
    loop {
        match once(program, layout) {
            Ok(done) => return Ok(done),
            Err(Failed::Machine(fault) | Failed::Refused(fault)) => return Err(fault),
            Err(Failed::Program(what)) if second => return Err(broken(program, &what)),
            Err(Failed::Program(what)) => {
                tracing::warn!(
                    program = program.name,
                    job = layout.job.name,
                    "{what} It is tried once more."
                );
                second = true;
            }
        }
    }
}

fn broken(program: &Program, what: &str) -> Fault {
    Fault::setup(
        format!("The program `{}` failed twice. {what}", program.name),
        format!(
            "Try `seamwright check --program {0}`. Mend it, or take it out of seamwright.yaml, and retry the job.",
            program.name
        ),
    )
}

fn once(program: &Program, layout: &Layout) -> Result<Done, Failed> {
    let scratch = Scratch::new(&layout.job.scratch).map_err(|why| Failed::machine(&why))?;
    let picture = layout.picture.as_ref();
    let ready = Ready::new(program, &scratch, picture_bytes(program, picture))?;
    let given = if program.wants_picture {
        Some(raster::hand_over(layout, &scratch).map_err(Failed::Refused)?)
    } else {
        None
    };
    let request = request::of(program, layout, given.as_ref());
    let report = ready.go(&request)?;
    log(program, &report);
    let wanted = program.gives(Gift::Picture).then_some((picture.size(), picture.format().channels));
    ended(program, &report, &scratch, wanted.as_ref())
}

/// How much a picture takes in a file, of a program that has to do with it.
pub(crate) fn picture_bytes(program: &Program, picture: &dyn Picture) -> u64 {
    if !program.wants_picture && !program.gives(Gift::Picture) {
        return 0;
    }
    // It may come back with 16 bits a sample.
    let each = u64::try_from(picture.format().channels.count() * 2).unwrap_or(8);
    picture.size().count().saturating_mul(each)
}

/// A program under supervision that has given up its rights, and waits to be let go. All of that takes place while its
/// picture is still being written, which in turn waits for the artwork to be decoded.
#[derive(Debug)]
pub(crate) struct Ready {
    supervisor: Child,
    /// Closed when nobody wants to know any more: then everything ends.
    asks: Option<ChildStdin>,
    says: ChildStdout,
}

impl Ready {
    /// Prepares everything; a picture takes so many bytes.
    pub(crate) fn new(program: &Program, scratch: &Scratch, picture: u64) -> Result<Self, Failed> {
        supervised(program, scratch, picture).map_err(|why| Failed::machine(&why))
    }

    /// Lets it go with what it is told, until all that came of it has ended.
    pub(crate) fn go(mut self, request: &Value) -> Result<Report, Failed> {
        self.hear(request).map_err(|why| Failed::machine(&why))
    }

    fn hear(&mut self, request: &Value) -> io::Result<Report> {
        let mut report = Vec::new();
        if let Some(asks) = &mut self.asks {
            asks.write_all(format!("{request}\n").as_bytes())?;
            self.says.read_to_end(&mut report)?;
        }
        let status = self.end()?;
        serde_json::from_slice(&report)
            .map_err(|_| io::Error::other(format!("its supervisor ended ({status})")))
    }

    fn end(&mut self) -> io::Result<ExitStatus> {
        drop(self.asks.take());
        self.supervisor.wait()
    }
}

impl Drop for Ready {
    fn drop(&mut self) {
        drop(self.end());
    }
}

fn supervised(program: &Program, scratch: &Scratch, picture: u64) -> io::Result<Ready> {
    let own = program.files.iter().map(|file| file.path.clone());
    let bounds = Bounds {
        command: program.command.clone(),
        scratch: scratch.path().to_owned(),
        reads: program
            .reads
            .iter()
            .cloned()
            .chain([program.here.clone()])
            .chain(own)
            .collect::<Vec<PathBuf>>(),
        memory: program.memory,
        disk: picture.saturating_mul(2).saturating_add(ROOM),
        network: program.network,
    };
    let mut supervisor = Command::new(std::env::current_exe()?)
        .arg(VERB)
        .env_clear()
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        // Who ends the worker's group ends what watches over the program last.
        .process_group(0)
        .spawn()?;
    let (Some(mut asks), Some(says)) = (supervisor.stdin.take(), supervisor.stdout.take()) else {
        return Err(io::Error::other("a process without pipes"));
    };
    let mut line = serde_json::to_vec(&Launch { bounds, time: program.time })?;
    line.push(b'\n');
    asks.write_all(&line)?;
    Ok(Ready { supervisor, asks: Some(asks), says })
}

/// What a program said goes into the log, line by line.
fn log(program: &Program, report: &Report) {
    let text = String::from_utf8_lossy(&report.log);
    let lines: Vec<&str> = text.lines().filter(|line| !line.trim().is_empty()).collect();
    let first = lines.len().saturating_sub(LINES);
    for line in lines.iter().skip(first) {
        tracing::info!(program = program.name, "{}", shown(line));
    }
    if report.left > 0 {
        tracing::warn!(
            program = program.name,
            processes = report.left,
            "it left some running; they were ended"
        );
    }
    if report.stuck {
        tracing::warn!(program = program.name, "something of it cannot be ended, and waits for the system");
    }
}

/// A text without what a terminal would take for more than letters, and of a length that people read.
pub(crate) fn shown(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let mut shown: String = text.trim().chars().take(LONGEST_LINE).map(plain).collect();
    if text.trim().chars().count() > LONGEST_LINE {
        shown.push_str(" ...");
    }
    shown
}

/// What a run came to.
pub(crate) fn ended(
    program: &Program,
    report: &Report,
    scratch: &Scratch,
    picture: Option<&answer::Wanted>,
) -> Result<Done, Failed> {
    let wrong = |what: &str| Failed::Program(format!("{what}{}", last_words(report)));
    let limit = |what: &str, key: &str| {
        wrong(&format!("{what}, and was ended; `{key}` in its manifest says how much it may take."))
    };
    match report.end {
        End::Code(0) => answer::read(program, &report.answer, scratch, picture)
            .map_err(|why| wrong(&format!("{}.", why.trim_end_matches('.')))),
        End::Code(1) => match answer::refusal(&report.answer) {
            Some((what, cure)) => Err(Failed::Refused(Fault::artwork(what, cure).at(program.name.as_str()))),
            None => Err(wrong("It ended with code 1, and did not say why it refuses the artwork.")),
        },
        End::Code(code) => Err(wrong(&format!("It ended with code {code}."))),
        End::Signal(signal) => Err(wrong(&format!("It was ended by signal {signal}."))),
        End::Time => Err(limit(&format!("It took longer than {} s", program.time.as_secs()), "time")),
        End::Memory => {
            Err(limit(&format!("It took more than {} MiB of memory", program.memory >> 20), "memory"))
        }
        End::Crowd => Err(wrong("It became more than 64 processes, and was ended.")),
        End::Flood => Err(wrong("It said more than anybody reads, and was ended.")),
        End::Disk => Err(wrong("It filled its folder with more than its work needs, and was ended.")),
    }
}

/// The last line that it said on standard error.
fn last_words(report: &Report) -> String {
    let text = String::from_utf8_lossy(&report.log);
    match text.lines().rev().find(|line| !line.trim().is_empty()) {
        Some(line) => format!(" Its last words: {}", sentence(&shown(line))),
        None => String::new(),
    }
}

fn sentence(words: &str) -> String {
    if words.ends_with(['.', '!', '?']) { words.to_owned() } else { format!("{words}.") }
}

/// Files of a finished job, by name.
pub(crate) type Files = Vec<(String, File)>;
