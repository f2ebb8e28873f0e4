//! The command line. Only here is anything said on standard output.

use std::fs::{self, File, TryLockError};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use clap::{Parser, Subcommand, ValueEnum};

use crate::config::{self, Config, Diagnosis};
use crate::intake;
use crate::journal::files::write_whole;
use crate::journal::visible;
use crate::registry;
use crate::run::{self, Daemon, Invocation, Tally, Task, Until, World};

/// Something was refused or left.
const REFUSED: u8 = 1;
/// The configuration is wrong.
const WRONG: u8 = 2;
/// Another instance works this studio (`EX_TEMPFAIL` of sysexits.h).
const BUSY: u8 = 75;

/// Artwork and a short order in; sheets to print, notes to assemble by and a press plan out.
#[derive(Debug, Parser)]
#[command(name = "seamwright", version, about)]
struct Arguments {
    /// The studio's configuration; by default seamwright.yaml in the present folder.
    #[arg(long, global = true, value_name = "FILE")]
    config: Option<PathBuf>,
    /// How the log on standard error is written.
    #[arg(long, global = true, value_enum, default_value = "text")]
    log: Log,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Log {
    Text,
    Json,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Stay on and work what is saved into the inbox.
    Watch,
    /// Work off what lies in the inbox; the exit code is 0 only if nothing was refused.
    Once,
    /// Look over configuration, catalogue and any sidecars named, without working anything.
    Check {
        /// Sidecars to look over.
        files: Vec<PathBuf>,
    },
    /// Put patches and telling crops of each artwork on one page, to try on a scrap first; nothing is moved.
    TestPrint {
        /// Pictures, anywhere, each with its sidecar beside it.
        #[arg(required = true)]
        artworks: Vec<PathBuf>,
    },
    /// Make a studio with the demo scenario and work it off.
    Demo {
        /// Where; it may be there already.
        #[arg(default_value = "seamwright-demo")]
        folder: PathBuf,
    },
    /// Work one claimed job; the daemon calls itself so.
    #[command(hide = true)]
    Work(Task),
}

/// Runs the program.
#[must_use]
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    start_log(arguments.log);
    let code = match &arguments.verb {
        Verb::Watch => serve(&arguments, arguments.config.as_deref(), Until::Told),
        Verb::Once => serve(&arguments, arguments.config.as_deref(), Until::WorkedOff),
        Verb::Check { files } => check(&arguments, files),
        Verb::TestPrint { artworks } => test_print(&arguments, artworks),
        Verb::Demo { folder } => demo(&arguments, folder),
        Verb::Work(task) => work(&arguments, task),
    };
    ExitCode::from(code)
}

fn start_log(log: Log) {
    let lines = tracing_subscriber::fmt()
        .with_writer(io::stderr)
        .with_target(false)
        .with_max_level(tracing::Level::INFO);
    match log {
        Log::Text => lines.with_ansi(false).init(),
        Log::Json => lines.json().init(),
    }
}

/// A line for the maker. A closed pipe is no reason to stop working.
fn say(line: &str) {
    drop(writeln!(io::stdout().lock(), "{line}"));
}

fn list(mistakes: &[Diagnosis]) {
    for mistake in mistakes {
        say(&mistake.to_string());
    }
}

fn serve(arguments: &Arguments, config: Option<&Path>, until: Until) -> u8 {
    match config::load(config) {
        Ok(loaded) => {
            run(arguments, config, loaded, until).map_or_else(|code| code, |tally| code(tally, until))
        }
        Err(mistakes) => {
            list(&mistakes);
            WRONG
        }
    }
}

fn code(tally: Tally, until: Until) -> u8 {
    if until == Until::WorkedOff && tally.refused + tally.left > 0 { REFUSED } else { 0 }
}

/// Runs the daemon's loop; an error is the exit code.
fn run(arguments: &Arguments, path: Option<&Path>, config: Config, until: Until) -> Result<Tally, u8> {
    let studio = &config.studio;
    fs::create_dir_all(&studio.incoming).map_err(|why| no_work(&why))?;
    let _lock = lock(&studio.root).map_err(|why| match why {
        TryLockError::WouldBlock => {
            say("Another seamwright works in this studio; this one keeps away.");
            BUSY
        }
        TryLockError::Error(why) => no_work(&why),
    })?;
    let runtime = runtime().map_err(|why| no_work(&why))?;
    let invocation = invocation(arguments, path).map_err(|why| no_work(&why))?;
    runtime.block_on(async {
        let world = World::real(invocation);
        let daemon = Daemon::open(Arc::new(config), world, until).map_err(|why| no_work(&why))?;
        let stop = told_to_stop().map_err(|why| no_work(&why))?;
        Ok(daemon.run(stop, &mut |line| say(line)).await)
    })
}

/// Says that the machine stands in the way; the exit code.
fn no_work(why: &io::Error) -> u8 {
    say(&format!("The studio cannot be worked in: {why}."));
    REFUSED
}

fn runtime() -> io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_current_thread().enable_all().build()
}

/// Held for as long as the file is open; it goes with the process, however that ends.
fn lock(studio: &Path) -> Result<File, TryLockError> {
    let file = File::create(studio.join(".seamwright.lock")).map_err(TryLockError::Error)?;
    file.try_lock()?;
    Ok(file)
}

fn invocation(arguments: &Arguments, config: Option<&Path>) -> io::Result<Invocation> {
    let mut words = Vec::new();
    if let Some(config) = config {
        words.push("--config".into());
        words.push(fs::canonicalize(config)?.into_os_string());
    }
    if arguments.log == Log::Json {
        words.extend(["--log".into(), "json".into()]);
    }
    Ok(Invocation { program: std::env::current_exe()?, arguments: words })
}

/// Resolves at SIGTERM or SIGINT.
fn told_to_stop() -> io::Result<impl Future<Output = ()>> {
    use tokio::signal::unix::{SignalKind, signal};
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    Ok(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
    })
}

fn check(arguments: &Arguments, files: &[PathBuf]) -> u8 {
    let config = match config::load(arguments.config.as_deref()) {
        Ok(config) => config,
        Err(mistakes) => {
            list(&mistakes);
            return WRONG;
        }
    };
    let mistakes: Vec<Diagnosis> =
        files.iter().filter_map(|file| intake::check(file, &config).err()).flatten().collect();
    list(&mistakes);
    if mistakes.is_empty() {
        say("Nothing to complain of.");
    }
    u8::from(!mistakes.is_empty())
}

fn test_print(arguments: &Arguments, artworks: &[PathBuf]) -> u8 {
    let path = arguments.config.as_deref();
    let config = match config::load(path) {
        Ok(config) => config,
        Err(mistakes) => {
            list(&mistakes);
            return WRONG;
        }
    };
    let tried = runtime().and_then(|runtime| Ok((runtime, invocation(arguments, path)?.worker())));
    let (runtime, worker) = match tried {
        Ok(both) => both,
        Err(why) => return no_work(&why),
    };
    let mut code = 0;
    for artwork in artworks {
        match runtime.block_on(run::test_print(&config, &worker, artwork)) {
            Ok(made) => {
                made.files.iter().for_each(|file| say(&visible(&file.to_string_lossy())));
                made.warnings.iter().for_each(|warning| say(&format!("warning: {}", visible(warning))));
            }
            Err(faults) => {
                faults.iter().for_each(|fault| say(&visible(&fault.to_string())));
                code = REFUSED;
            }
        }
    }
    code
}

fn demo(arguments: &Arguments, folder: &Path) -> u8 {
    let config = folder.join(config::FILE);
    let made = fs::create_dir_all(folder).and_then(|()| {
        if config.exists() { Ok(()) } else { write_whole(&config, config::DEFAULTS.as_bytes()) }
    });
    if let Err(why) = made {
        say(&format!("{} cannot be made: {why}.", folder.display()));
        return REFUSED;
    }
    if let Err(fault) = registry::write_demo(folder) {
        say(&fault.to_string());
        return REFUSED;
    }
    let loaded = match config::load(Some(&config)) {
        // Nobody else writes into the demo's inbox.
        Ok(loaded) => Config { quiet: Duration::ZERO, ..loaded },
        Err(mistakes) => {
            list(&mistakes);
            return WRONG;
        }
    };
    let outgoing = loaded.studio.outgoing.clone();
    match run(arguments, Some(&config), loaded, Until::WorkedOff) {
        Ok(tally) => {
            say(&format!(
                "Sheets, notes, proofs and records of {} jobs: {}",
                tally.finished,
                outgoing.display()
            ));
            code(tally, Until::WorkedOff)
        }
        Err(code) => code,
    }
}

fn work(arguments: &Arguments, task: &Task) -> u8 {
    run::end_with_the_daemon();
    let answer = run::work(task, arguments.config.as_deref());
    serde_json::to_string(&answer).map_or(WRONG, |line| {
        say(&line);
        0
    })
}
