//! What can be said on the command line: the one definition, from which help, man pages and completions are made.

use std::path::PathBuf;

use clap::{ArgGroup, Parser, Subcommand, ValueEnum};
use seamwright_contract::Length;

use crate::history::Asked;
use crate::init;
use crate::listing::Kind;
use crate::report::At;

/// Artwork and a short order in; sheets to print, notes to assemble by and a press plan out.
#[derive(Debug, Parser)]
#[command(name = "seamwright", version, about)]
pub(super) struct Arguments {
    /// The studio's configuration; by default seamwright.yaml in the present folder.
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// How the log on standard error is written.
    #[arg(long, global = true, value_enum, default_value = "text")]
    pub(super) log: Log,
    #[command(subcommand)]
    pub(super) verb: Verb,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Log {
    Text,
    Json,
}

#[derive(Debug, Subcommand)]
pub(super) enum Verb {
    /// Make a studio to begin with, by a few questions; nothing that is there is written over.
    Init(init::Wanted),
    /// Stay on and work what is saved into the inbox.
    Watch {
        /// Also serve the report page, refreshed by itself, to be read: a port of this machine, or an address with its port.
        #[arg(long, value_name = "127.0.0.1:PORT")]
        page: Option<At>,
    },
    /// Work off what lies in the inbox; the exit code is 0 only if nothing was refused.
    Once,
    /// Look over configuration, catalogue and any sidecars named, with their lists, without working anything.
    Check {
        /// Sidecars to look over.
        files: Vec<PathBuf>,
        /// Also try a program of the studio's own on a sample, and say what of it is as it must be.
        #[arg(long, value_name = "NAME")]
        program: Option<String>,
    },
    /// Write JSON Schemas of all that can be written here, by which editors complete and check.
    Schemas {
        /// Where.
        #[arg(default_value = "schemas")]
        folder: PathBuf,
    },
    /// List what has a name here, in tables: shipped, and in this studio's own folders.
    Catalogue {
        /// Only this.
        kind: Option<Kind>,
    },
    /// Say what would be done with an artwork, or was done in a finished job, and why, with a drawing of the panels.
    Explain {
        /// A picture or a sidecar anywhere, or a finished job's name.
        #[arg(value_name = "JOB|FILE")]
        what: PathBuf,
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
    /// List what waits in the inbox, in the order in which it is worked.
    Waiting,
    /// Put waiting jobs before all others.
    First {
        /// Their names: stem, file name, or path in the inbox.
        #[arg(required = true)]
        names: Vec<String>,
    },
    /// Leave waiting jobs until they are released.
    Hold {
        /// Their names: stem, file name, or path in the inbox.
        #[arg(required = true)]
        names: Vec<String>,
    },
    /// Put jobs that are first or held back into the order of arrival.
    Release {
        /// Their names: stem, file name, or path in the inbox.
        #[arg(required = true)]
        names: Vec<String>,
    },
    /// Do not work waiting jobs: they go to the refused ones, from where they can be tried again.
    Cancel {
        /// Their names: stem, file name, or path in the inbox.
        #[arg(required = true)]
        names: Vec<String>,
    },
    /// Put the sources of refused jobs back into the inbox.
    Retry {
        /// The jobs' names in the folder of refused ones.
        #[arg(required = true)]
        jobs: Vec<String>,
    },
    /// Say how things stand now: the daemon, what waits, the night, what needs you.
    Status,
    /// List past jobs, the latest last; one alone with all that is known of it.
    History(Asked),
    /// Note how a job turned out; the notes of the next job on the same blank say it.
    #[command(group(ArgGroup::new("how").required(true).args(["good", "bad"])))]
    Result {
        /// The job's name.
        job: String,
        /// It turned out well.
        #[arg(long)]
        good: bool,
        /// It did not; say what was wrong.
        #[arg(long)]
        bad: bool,
        /// In your words.
        words: Vec<String>,
    },
    /// Make sheets of a finished job again, the same to the byte, by what is kept of it; it says what differs if it cannot.
    Again {
        /// The job's name.
        job: String,
        /// Only these panels, by the numbers on their labels.
        #[arg(long, value_delimiter = ',', value_name = "NUMBERS")]
        panels: Vec<u32>,
    },
    /// Make a page to measure a printer by, or keep what was measured on it, so that sheets come out at true size.
    Calibrate {
        /// The printer's name in the catalogue.
        printer: String,
        /// The paper's.
        #[arg(long)]
        paper: String,
        /// How long the line along the sheet came out, such as 249.1mm.
        #[arg(long, value_name = "LENGTH")]
        along: Option<Length>,
        /// How long the line across the sheet came out.
        #[arg(long, value_name = "LENGTH")]
        across: Option<Length>,
        /// The first step that was printed at each edge, such as 3mm,3mm,5mm,3mm.
        #[arg(long, value_delimiter = ',', value_name = "TOP,RIGHT,BOTTOM,LEFT")]
        margins: Vec<Length>,
    },
    /// Say how to measure what becomes of a blank under the press, or keep what was measured, so that designs come out at
    /// true size.
    Shrink {
        /// The blank's name in the catalogue.
        blank: String,
        /// The length marked on it before pressing, such as 600mm.
        #[arg(long, value_name = "LENGTH", requires_all = ["width", "height"])]
        marked: Option<Length>,
        /// What it measured afterwards, across the blank.
        #[arg(long, value_name = "LENGTH", requires = "marked")]
        width: Option<Length>,
        /// What it measured afterwards, down the blank.
        #[arg(long, value_name = "LENGTH", requires = "marked")]
        height: Option<Length>,
    },
    /// Printers of the studio.
    #[command(subcommand)]
    Printer(OfPrinters),
    /// Hand the sheets of a finished job to its printer now, whatever kept them.
    Print {
        /// The job's name.
        job: String,
        /// Also where the printer has them already, or may have.
        #[arg(long)]
        once_more: bool,
    },
    /// Say how the daemon is; the exit code is 0 only if it works and all is well.
    Health,
    /// Write the manual's pages and the completions of shells into a folder.
    Manual {
        /// Where man and shells look, such as ~/.local/share.
        share: PathBuf,
    },
    /// Work claimed jobs; the daemon calls itself so.
    #[command(hide = true)]
    Work {
        /// Memory for pixels, in bytes.
        #[arg(long)]
        memory: u64,
        /// The job it begins with.
        job: String,
    },
    /// Watch over a program of the studio; workers call this program so.
    #[command(hide = true)]
    SuperviseProgram,
    /// Give up rights and become a program of the studio; who watches over it calls this program so.
    #[command(hide = true)]
    ConfineProgram {
        /// What it is held to.
        bounds: String,
    },
}

#[derive(Debug, Subcommand)]
pub(super) enum OfPrinters {
    /// Ask a printer in the network what it can do, and write its entry into the studio's catalogue.
    Learn {
        /// Its address.
        #[arg(value_name = "ipp://HOST/ipp/print")]
        uri: String,
        /// What it is to be called; by default after its model.
        name: Option<String>,
    },
}
