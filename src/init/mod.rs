//! `seamwright init`: a studio to begin with, of a few answers.
//!
//! What is asked for has a name in the shipped catalogue. Printer and press become entries of the studio's own, copied from
//! the shipped ones with their comments, for both are to be measured; a mat to be measured lies beside them. [`asked`] finds
//! the answers, [`texts`] makes the files of them. Nothing that is there is written over.

mod asked;
#[cfg(test)]
mod tests;
mod texts;

use std::fs::{self, File};
use std::io::{self, ErrorKind, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};

use clap::ValueEnum;
use seamwright_contract::units::Units;

use crate::config::{self, Catalogue, FILE};
use crate::journal::files::sync_folder;
use crate::journal::visible;
use asked::Asker;

/// What is said beforehand; the rest is asked on a terminal, and taken as usual elsewhere.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Wanted {
    /// The studio's folder; what is in it already is left alone.
    folder: PathBuf,
    /// The paper you print on, such as letter or a4.
    #[arg(long, value_name = "NAME")]
    paper: Option<String>,
    /// The printer of the catalogue that yours is most like, such as desk-letter.
    #[arg(long, value_name = "NAME")]
    printer: Option<String>,
    /// The press of the catalogue that yours is most like, such as hand-12x10.
    #[arg(long, value_name = "NAME")]
    press: Option<String>,
    /// The units that notes and labels are in.
    #[arg(long, value_enum)]
    units: Option<Reading>,
}

/// Units as they are typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Reading {
    Inch,
    Metric,
}

impl Reading {
    const fn units(self) -> Units {
        match self {
            Self::Inch => Units::Inch,
            Self::Metric => Units::Metric,
        }
    }
}

/// All that a studio is made of.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Answers {
    paper: String,
    printer: String,
    press: String,
    units: Units,
}

/// Makes the studio. Lines for the maker.
///
/// # Errors
/// In words, why there is none.
pub(crate) fn make(wanted: &Wanted) -> Result<Vec<String>, String> {
    let folder = &wanted.folder;
    if let Some(there) = texts::FILES.iter().map(|file| folder.join(file)).find(|file| is_there(file)) {
        let there = visible(&there.to_string_lossy());
        return Err(format!("Nothing was written, for {there} is there already. Name another folder."));
    }
    let catalogue = Catalogue::shipped().map_err(|mistakes| lines(&mistakes))?;
    let asks = io::stdin().is_terminal() && io::stdout().is_terminal();
    let mut input = io::stdin().lock();
    let mut asker =
        Asker { catalogue: &catalogue, input: asks.then_some(&mut input), output: &mut io::stdout() };
    let answers = asker.answers(wanted)?;
    write(folder, &texts::of(&answers, &catalogue)).map_err(|why| {
        let folder = visible(&folder.to_string_lossy());
        format!("{folder} cannot be made: {why}. See that its folder may be written to, or name another.")
    })?;
    let file = folder.join(FILE);
    config::load(Some(&file)).map_err(|mistakes| lines(&mistakes))?;
    Ok(texts::said(&answers, folder))
}

fn is_there(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

fn lines(mistakes: &[config::Diagnosis]) -> String {
    mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

/// Writes files that are not there, the configuration last: where it is, the studio is whole.
fn write(folder: &Path, files: &[(&str, String)]) -> io::Result<()> {
    for own in texts::FOLDERS {
        fs::create_dir_all(folder.join(own))?;
    }
    for (name, text) in files {
        let path = folder.join(name);
        let parent = path.parent().ok_or(ErrorKind::InvalidInput)?;
        fs::create_dir_all(parent)?;
        let mut file = File::create_new(&path)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        sync_folder(parent)?;
    }
    Ok(())
}
