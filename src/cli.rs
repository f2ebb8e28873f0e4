//! The command line: what each word of it does.

mod arguments;

use std::fs::{self, File, TryLockError};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use clap::{CommandFactory as _, Parser as _};
use seamwright_contract::{Blame, Fault, Size};

use crate::calibrate;
use crate::config::{self, Config, Diagnosis, Folders, Frozen};
use crate::deliver;
use crate::explain::{self, Subject};
use crate::history;
use crate::init;
use crate::intake;
use crate::journal::files::write_whole;
use crate::journal::{in_words, visible};
use crate::listing;
use crate::manual;
use crate::progress::{self, say};
use crate::queue::{self, Hand};
use crate::registry;
use crate::report::{self, At, words::counted};
use crate::run::{self, Daemon, Invocation, Settings, Tally, Until, Worker, World};
use crate::schemas;
use crate::shrink;
use arguments::{Arguments, Log, OfPrinters, Verb};

/// Something was refused or left.
const REFUSED: u8 = 1;
/// The configuration is wrong.
const WRONG: u8 = 2;
/// A program of the studio cannot be started (as shells say it).
const NOT_STARTED: u8 = 126;
/// Another instance works this studio (`EX_TEMPFAIL` of sysexits.h).
const BUSY: u8 = 75;

/// Runs the program.
#[must_use]
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    start_log(arguments.log);
    let code = match &arguments.verb {
        Verb::Init(wanted) => answer(init::make(wanted)),
        Verb::Watch { page } => serve(&arguments, Until::Told, *page),
        Verb::Once => serve(&arguments, Until::WorkedOff, None),
        Verb::Check { files, program } => check(&arguments, files, program.as_deref()),
        Verb::Schemas { folder } => in_config(&arguments, |config| {
            let files = schemas::write(folder, config)
                .map_err(|why| format!("The schemas cannot be written: {why}."))?;
            Ok(files.iter().map(|file| file.display().to_string()).collect())
        }),
        Verb::Catalogue { kind } => in_config(&arguments, |config| Ok(listing::tables(*kind, config))),
        Verb::Explain { what } => explain(&arguments, what),
        Verb::TestPrint { artworks } => test_print(&arguments, artworks),
        Verb::Demo { folder } => demo(&arguments, folder),
        Verb::Waiting => {
            in_studio(&arguments, |studio| queue::waiting(studio).map_err(|why| format!("{why}.")))
        }
        Verb::First { names } => lay(&arguments, Hand::First, names),
        Verb::Hold { names } => lay(&arguments, Hand::Hold, names),
        Verb::Release { names } => lay(&arguments, Hand::Release, names),
        Verb::Cancel { names } => told(&arguments, |studio| queue::lay(Hand::Cancel, names, studio)),
        Verb::Retry { jobs } => told(&arguments, |studio| queue::retry(jobs, studio)),
        Verb::Status => in_config(&arguments, report::status),
        Verb::History(asked) => in_config(&arguments, |config| history::told(asked, config)),
        Verb::Result { job, good, bad: _, words } => {
            told(&arguments, |studio| history::note_result(job, *good, words, studio))
        }
        Verb::Again { job, panels } => again(&arguments, job, panels),
        Verb::Calibrate { printer, paper, along: None, across: None, margins } if margins.is_empty() => {
            in_config(&arguments, |config| calibrate::page(printer, paper, config))
        }
        Verb::Calibrate { printer, paper, along, across, margins } => in_config(&arguments, |config| {
            let base = config::base(arguments.config.as_deref());
            let found = calibrate::Found { along: *along, across: *across, margins };
            calibrate::enter((printer, paper), found, base, config)
        }),
        Verb::Shrink { blank, marked: Some(marked), width: Some(width), height: Some(height) } => {
            in_config(&arguments, |config| {
                let base = config::base(arguments.config.as_deref());
                shrink::enter(blank, *marked, Size::new(*width, *height), base, config)
            })
        }
        Verb::Shrink { blank, .. } => in_config(&arguments, |config| shrink::how(blank, config)),
        Verb::Printer(OfPrinters::Learn { uri, name }) => learn(&arguments, uri, name.as_deref()),
        Verb::Print { job, once_more } => print(&arguments, job, *once_more),
        Verb::Manual { share } => answer(
            manual::write(Arguments::command(), share)
                .map_err(|why| format!("{} cannot be written: {why}.", share.display())),
        ),
        Verb::Health => health(&arguments),
        Verb::Work { memory, job: _ } => run::serve(*memory).map(|()| 0).map_err(|_| WRONG),
        Verb::SuperviseProgram => registry::supervise_program().map(|()| 0).map_err(|_| WRONG),
        Verb::ConfineProgram { bounds } => {
            let why = registry::confine_program(bounds);
            // Standard output is for the program's answer.
            drop(writeln!(io::stderr(), "it cannot be started: {why}"));
            Err(NOT_STARTED)
        }
    };
    ExitCode::from(code.unwrap_or_else(|code| code))
}

fn start_log(log: Log) {
    let lines = tracing_subscriber::fmt()
        .with_writer(|| progress::Log)
        .with_target(false)
        .with_max_level(tracing::Level::INFO);
    match log {
        Log::Text => lines.with_ansi(false).init(),
        Log::Json => lines.json().init(),
    }
}

/// Tells faults, an empty line between them.
fn tell(faults: &[Fault]) {
    say(faults.iter().map(in_words).collect::<Vec<_>>().join("\n").trim_end());
}

/// Tells mistakes in the same way, with colours where the terminal has them.
fn list(mistakes: Vec<Diagnosis>) {
    let colours = progress::has_colours();
    let told = mistakes
        .into_iter()
        .map(|mistake| if colours { mistake.coloured() } else { in_words(&mistake.blamed(Blame::Setup)) });
    say(told.collect::<Vec<_>>().join("\n").trim_end());
}

/// The configuration; where it is wrong, its mistakes are listed and the exit code is the error.
fn configured(path: Option<&Path>) -> Result<Config, u8> {
    config::load(path).map_err(|mistakes| {
        list(mistakes);
        WRONG
    })
}

fn serve(arguments: &Arguments, until: Until, page: Option<At>) -> Result<u8, u8> {
    let path = arguments.config.as_deref();
    let tally = run(arguments, path, configured(path)?, until, page)?;
    Ok(code(tally, until))
}

fn code(tally: Tally, until: Until) -> u8 {
    if until == Until::WorkedOff && tally.refused + tally.left > 0 { REFUSED } else { 0 }
}

/// Runs the daemon's loop; an error is the exit code.
fn run(
    arguments: &Arguments,
    path: Option<&Path>,
    config: Config,
    until: Until,
    page: Option<At>,
) -> Result<Tally, u8> {
    let studio = &config.studio;
    fs::create_dir_all(&studio.incoming).map_err(|why| no_work(&why))?;
    let _lock = lock(&studio.root).map_err(|why| match why {
        TryLockError::WouldBlock => {
            say("Another seamwright works in this studio; this one keeps away.");
            BUSY
        }
        TryLockError::Error(why) => no_work(&why),
    })?;
    Frozen::sweep(&studio.root).map_err(|why| no_work(&why))?;
    let settings = Settings::new(config, path).map_err(|mistakes| {
        list(mistakes);
        WRONG
    })?;
    let runtime = runtime().map_err(|why| no_work(&why))?;
    let invocation = invocation(arguments).map_err(|why| no_work(&why))?;
    runtime.block_on(async {
        let world = World::real(invocation);
        read_again_on_hangup(&world).map_err(|why| no_work(&why))?;
        let mut daemon = Daemon::open(settings, world, until).map_err(|why| no_work(&why))?;
        if let Some(at) = page {
            let address = daemon.serve(at).await.map_err(|why| no_page(&why))?;
            say(&format!("The report page is at http://{address}/"));
        }
        if until == Until::WorkedOff {
            progress::begin();
        }
        let stop = told_to_stop().map_err(|why| no_work(&why))?;
        let tally = daemon.run(stop, &mut |line| say(line)).await;
        progress::end();
        Ok(tally)
    })
}

/// Says that nobody can be served at an address; the exit code.
fn no_page(why: &io::Error) -> u8 {
    say(&format!("The report page cannot be served there: {why}. Name another port."));
    WRONG
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

fn invocation(arguments: &Arguments) -> io::Result<Invocation> {
    let words = match arguments.log {
        Log::Text => Vec::new(),
        Log::Json => vec!["--log".into(), "json".into()],
    };
    Ok(Invocation { program: std::env::current_exe()?, arguments: words })
}

/// At SIGHUP the settings are read again.
fn read_again_on_hangup(world: &World) -> io::Result<()> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut hangup = signal(SignalKind::hangup())?;
    let read_again = Arc::clone(&world.read_again);
    tokio::spawn(async move {
        while hangup.recv().await.is_some() {
            read_again.notify_one();
        }
    });
    Ok(())
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

fn check(arguments: &Arguments, files: &[PathBuf], program: Option<&str>) -> Result<u8, u8> {
    let config = configured(arguments.config.as_deref())?;
    let mut found = Vec::new();
    for file in files {
        // What is wrong with the sidecar would be told again of each row.
        let checked = intake::check(file, &config).and_then(|()| intake::check_list(file, &config));
        found.extend(checked.err().into_iter().flatten());
    }
    let well = match program {
        Some(program) => try_program(program, &config)?,
        None => true,
    };
    if found.is_empty() && well {
        say("Nothing to complain of.");
        return Ok(0);
    }
    list(found);
    Ok(REFUSED)
}

/// Tries a program of the studio on a sample; says what was found, and whether all of it is as it must be.
fn try_program(name: &str, config: &Config) -> Result<bool, u8> {
    let folder = std::env::temp_dir();
    let found = config::program_settings(name, config)
        .and_then(|settings| registry::check_program(&settings, &folder).map_err(config::of_program))
        .map_err(|mistakes| {
            list(mistakes);
            WRONG
        })?;
    say(&format!("{name}: {}.", registry::containment()));
    for one in &found {
        say(&visible(&format!("{}  {}", if one.well { "well " } else { "WRONG" }, one.what)));
    }
    Ok(found.iter().all(|one| one.well))
}

/// What is needed to have something worked beside a daemon.
fn beside(arguments: &Arguments) -> Result<(Frozen, tokio::runtime::Runtime, Worker), u8> {
    let path = arguments.config.as_deref();
    // The daemon counts its own copies from 1.
    let settings = Frozen::new(configured(path)?, path, std::process::id()).map_err(|mistakes| {
        list(mistakes);
        WRONG
    })?;
    let runtime = runtime().map_err(|why| no_work(&why))?;
    let worker = invocation(arguments).map_err(|why| no_work(&why))?.worker();
    Ok((settings, runtime, worker))
}

fn again(arguments: &Arguments, job: &str, panels: &[u32]) -> Result<u8, u8> {
    let (settings, runtime, worker) = beside(arguments)?;
    progress::begin();
    let made = runtime.block_on(run::again(&settings, &worker, job, panels, progress::listener(job)));
    progress::end();
    let made = made.map_err(refused)?;
    let studio = &settings.config.studio;
    let at = made.at.strip_prefix(&studio.root).unwrap_or(&made.at);
    let sheets = counted(made.sheets, "sheet");
    say(&visible(&format!("again    {}: {sheets}, the same as before -> {}", made.job, at.display())));
    for change in &made.changed {
        say(&visible(&format!("         not about the sheets: {change}")));
    }
    Ok(0)
}

fn print(arguments: &Arguments, job: &str, once_more: bool) -> Result<u8, u8> {
    let config = configured(arguments.config.as_deref())?;
    let job = deliver::ask_for(job, once_more, &config).map_err(|why| {
        say(&visible(&why));
        REFUSED
    })?;
    let (said, well) = match lock(&config.studio.root) {
        Err(TryLockError::WouldBlock) => {
            (format!("{job}  goes to its printer by the daemon at work here"), true)
        }
        Err(TryLockError::Error(why)) => return Err(no_work(&why)),
        Ok(_lock) => {
            let runtime = runtime().map_err(|why| no_work(&why))?;
            runtime.block_on(deliver::work_off(&job, &config))
        }
    };
    say(&visible(&format!("print      {said}")));
    report::renew(&config);
    Ok(if well { 0 } else { REFUSED })
}

fn learn(arguments: &Arguments, uri: &str, name: Option<&str>) -> Result<u8, u8> {
    let path = arguments.config.as_deref();
    in_config(arguments, |config| {
        let runtime = runtime().map_err(|why| format!("It cannot be asked: {why}."))?;
        runtime.block_on(deliver::learn(uri, name, path, config))
    })
}

fn explain(arguments: &Arguments, what: &Path) -> Result<u8, u8> {
    let config = configured(arguments.config.as_deref())?;
    let told = match explain::subject(what, &config) {
        Ok(Subject::Record(record)) => explain::lines(&record, &config, true),
        Ok(Subject::Artwork(artwork)) => {
            let (settings, runtime, worker) = beside(arguments)?;
            let record = runtime.block_on(run::plan(&settings, &worker, &artwork)).map_err(refused)?;
            explain::lines(&record, &config, false)
        }
        Err(why) => Err(why),
    };
    answer(told)
}

/// Says why something cannot be done; the exit code.
fn refused(faults: Vec<Fault>) -> u8 {
    tell(&faults);
    REFUSED
}

fn test_print(arguments: &Arguments, artworks: &[PathBuf]) -> Result<u8, u8> {
    let (settings, runtime, worker) = beside(arguments)?;
    let mut code = 0;
    for artwork in artworks {
        match runtime.block_on(run::test_print(&settings, &worker, artwork)) {
            Ok(files) => files.iter().for_each(|file| say(&visible(&file.to_string_lossy()))),
            Err(faults) => code = refused(faults),
        }
    }
    Ok(code)
}

fn demo(arguments: &Arguments, folder: &Path) -> Result<u8, u8> {
    let path = folder.join(config::FILE);
    let (lists, missing) = registry::demo_programs();
    for word in missing {
        say(&format!(
            "The demo's program that is written in {word} is left out: there is none on this machine."
        ));
    }
    let with = |text: String, (without, with): (&str, &str)| text.replace(without, with);
    let settings = lists.into_iter().fold(config::DEFAULTS.to_owned(), with);
    let made = fs::create_dir_all(folder)
        .and_then(|()| if path.exists() { Ok(()) } else { write_whole(&path, settings.as_bytes()) });
    made.map_err(|why| {
        say(&format!("{} cannot be made: {why}.", folder.display()));
        REFUSED
    })?;
    registry::write_demo(folder).map_err(|fault| {
        tell(&[fault]);
        REFUSED
    })?;
    // Nobody else writes into the demo's inbox.
    let config = Config { quiet: Duration::ZERO, ..configured(Some(&path))? };
    let outgoing = config.studio.outgoing.clone();
    let tally = run(arguments, Some(&path), config, Until::WorkedOff, None)?;
    let finished = tally.finished;
    say(&format!("Sheets, notes, proofs and records of {finished} jobs: {}", outgoing.display()));
    say(&format!("What to do in the morning: {}", outgoing.join(report::FILE).display()));
    Ok(code(tally, Until::WorkedOff))
}

fn lay(arguments: &Arguments, hand: Hand, names: &[String]) -> Result<u8, u8> {
    in_studio(arguments, |studio| queue::lay(hand, names, studio))
}

/// Does something in the studio's folders and says what came of it.
fn in_studio(
    arguments: &Arguments,
    what: impl FnOnce(&Folders) -> Result<Vec<String>, String>,
) -> Result<u8, u8> {
    in_config(arguments, |config| what(&config.studio))
}

/// The same of what the report page tells of.
fn told(arguments: &Arguments, what: impl FnOnce(&Folders) -> Result<Vec<String>, String>) -> Result<u8, u8> {
    in_config(arguments, |config| {
        let said = what(&config.studio)?;
        report::renew(config);
        Ok(said)
    })
}

/// The same of what needs to know how the studio works.
fn in_config(
    arguments: &Arguments,
    what: impl FnOnce(&Config) -> Result<Vec<String>, String>,
) -> Result<u8, u8> {
    answer(what(&configured(arguments.config.as_deref())?))
}

/// Says what came of something, line by line, or why nothing did.
fn answer(said: Result<Vec<String>, String>) -> Result<u8, u8> {
    let lines = said.map_err(|why| {
        say(&why);
        REFUSED
    })?;
    lines.iter().for_each(|line| say(line));
    Ok(0)
}

fn health(arguments: &Arguments) -> Result<u8, u8> {
    let (text, well) = run::ask_health(&configured(arguments.config.as_deref())?.studio);
    say(&text);
    Ok(u8::from(!well))
}

#[cfg(test)]
mod tests;
