//! `seamwright printer learn`: a driverless printer is asked what it is, and the answer becomes an entry of the studio's
//! catalogue, to be read and changed like one written by hand.
//!
//! [`told`] reads the answer, [`entry`] makes texts of it. Nothing that is there is written over, and what was written is
//! read back before it is said to be in order.

mod entry;
#[cfg(test)]
mod tests;
mod told;

use std::fs;
use std::path::{Path, PathBuf};

use super::ipp::{Printer, Trouble};
use crate::config::{self, Config};
use crate::intake::is_bare_name;
use crate::journal::files::write_whole;
use crate::journal::visible;
use told::Told;

/// The longest name that is made of a model's.
const LONGEST_NAME: usize = 40;

/// Asks the printer at an address and writes its entry under a name, its model's where none is given; `path` is the
/// configuration's. Lines for the maker.
///
/// # Errors
/// In words, why there is no entry.
pub(crate) async fn learn(
    uri: &str,
    name: Option<&str>,
    path: Option<&Path>,
    config: &Config,
) -> Result<Vec<String>, String> {
    config::printer_address(uri).map_err(|(what, cure)| format!("{}. {cure}", sentence(&what)))?;
    let answer = Printer::at(uri).says(&Told::WANTED).await.map_err(|trouble| match trouble {
        Trouble::Later(why) | Trouble::Never(why) => {
            let why = visible(&why);
            format!("The printer at {uri} cannot be asked: {why}. See that it is on and that the address is right.")
        }
        Trouble::NoSuchJob => format!("There is no printer at {uri}."),
    })?;
    write(uri, name, &Told::read(&answer), path, config)
}

/// Writes what was told, papers first: an entry never names one that is not there.
fn write(
    uri: &str,
    name: Option<&str>,
    told: &Told,
    path: Option<&Path>,
    config: &Config,
) -> Result<Vec<String>, String> {
    let base = config::base(path);
    let name = name.map_or_else(|| called(&told.model), str::to_owned);
    let file = free(base, &name, config)?;
    let is_free =
        |paper: &str| config.catalogue.papers.get(paper).is_none() && there(base, "papers", paper).is_none();
    let entry = entry::entry((&name, uri), told, &config.catalogue, is_free)?;
    let mut written = Vec::new();
    let mut put = |file: PathBuf, text: &str| {
        let kept = file
            .parent()
            .map_or(Ok(()), fs::create_dir_all)
            .and_then(|()| write_whole(&file, text.as_bytes()));
        kept.map_err(|why| format!("{} cannot be written: {why}.", file.display()))?;
        written.push(file.strip_prefix(base).unwrap_or(&file).display().to_string());
        Ok::<_, String>(())
    };
    for (paper, text) in &entry.papers {
        put(base.join("papers").join(format!("{paper}.yaml")), text)?;
    }
    put(file, &entry.printer)?;
    let mut said = written;
    said.extend(entry.said);
    if let Err(mistakes) = config::load(path) {
        let found: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
        return Err(format!("{} was written, but is not in order: {}", said.join("\n"), found.join("\n")));
    }
    said.push(format!(
        "Orders use it by `printer: {name}`; its sheets wait for `seamwright print` until the entry says `print: yes`."
    ));
    Ok(said)
}

/// Where an entry of this name goes, if that changes nothing that is there.
fn free(base: &Path, name: &str, config: &Config) -> Result<PathBuf, String> {
    if !is_bare_name(name) {
        return Err(format!("'{name}' cannot be a name here. Write letters, digits and dashes."));
    }
    let taken = match there(base, "printers", name) {
        Some(file) => Some(format!("{} is there already", file.display())),
        None if config.catalogue.printers.get(name).is_some() => {
            Some(format!("the catalogue has a printer `{name}`"))
        }
        None => None,
    };
    match taken {
        Some(taken) => Err(format!(
            "Nothing was written, for {taken}. Give it another name (seamwright printer learn ADDRESS NAME), or move that file away."
        )),
        None => Ok(base.join("printers").join(format!("{name}.yaml"))),
    }
}

/// The file of an entry, under either ending, if there is one.
fn there(base: &Path, folder: &str, name: &str) -> Option<PathBuf> {
    let files = ["yaml", "yml"].map(|ending| base.join(folder).join(format!("{name}.{ending}")));
    files.into_iter().find(|file| file.symlink_metadata().is_ok())
}

/// A name made of a model's.
fn called(model: &str) -> String {
    let letters: String = model
        .chars()
        .map(|letter| if letter.is_ascii_alphanumeric() { letter.to_ascii_lowercase() } else { ' ' })
        .take(LONGEST_NAME)
        .collect();
    let words: Vec<&str> = letters.split_whitespace().collect();
    if words.is_empty() { "printer".to_owned() } else { words.join("-") }
}

fn sentence(what: &str) -> String {
    let mut letters = what.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}", first.to_uppercase(), letters.as_str()))
}
