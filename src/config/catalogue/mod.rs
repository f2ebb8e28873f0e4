//! The studio's things by name: the shipped entries, with those of the studio's own laid over them.
//!
//! An entry is one YAML file in the folder of its kind; the file's stem is its name. The folders `blanks`,
//! `substrates`, `papers`, `printers` and `presses` beside the configuration add entries and replace shipped ones
//! of the same name; `programs` are the studio's own alone. Kinds that others refer to are read first, so that every
//! reference is resolved as it is read.

mod entries;
mod printer;
mod programs;
mod scaling;
mod sending;
mod shelf;
mod shrinking;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use include_dir::{Dir, include_dir};
use seamwright_contract::catalogue::{Blank, PaperSize, Press, Printer, Substrate};
use seamwright_contract::settings::{Fields, Node};

use super::diagnosis::Diagnosis;
use super::yaml::{Document, LONGEST_SETTINGS};
use crate::registry;

pub(crate) use entries::{Distance, Measure, blank as blank_fields, sides};
pub(crate) use printer::LARGEST_PROFILE;
pub use programs::Programs;
pub(crate) use programs::{HERE, PROGRAMS, copy_file, files as program_files};
pub(crate) use scaling::{
    Measured as MeasuredPrinter, Measurements, PLAUSIBLE as PLAUSIBLE_SCALE, file as scale_file,
    margins_value, measured as measured_scales, text as scale_text, value as scale_value,
};
pub(crate) use sending::address as printer_address;
pub use shelf::Shelf;
pub(crate) use shelf::{Home, Provenance};
pub(crate) use shrinking::{
    file as shrink_file, plausible as plausible_shrink, text as shrink_text, value as shrink_value,
};

/// The key of every entry for where its figures come from.
pub(crate) const ORIGIN: &str = "origin";

/// What an entry's origin is that does not state it.
pub(crate) const NOT_STATED: &str = "not stated";

/// The folders of a catalogue.
pub(crate) const FOLDERS: [&str; 6] = ["blanks", "substrates", "papers", "printers", "presses", PROGRAMS];

static NO_PROGRAMS: Dir<'static> = Dir::new(PROGRAMS, &[]);

static BLANKS: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/config/blanks");
static SUBSTRATES: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/config/substrates");
static PAPERS: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/config/papers");
static PRINTERS: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/config/printers");
static PRESSES: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/config/presses");

/// Everything that has a name.
#[derive(Debug, Clone)]
pub struct Catalogue {
    /// What is decorated.
    pub blanks: Shelf<Blank>,
    /// What blanks are made of.
    pub substrates: Shelf<Substrate>,
    /// Sheet sizes.
    pub papers: Shelf<PaperSize>,
    /// Printers.
    pub printers: Shelf<Printer>,
    /// Heat presses.
    pub presses: Shelf<Press>,
    /// Programs of the studio's own.
    pub programs: Programs,
}

impl Catalogue {
    /// What is shipped.
    ///
    /// # Errors
    /// Every mistake in it.
    pub(crate) fn shipped() -> Result<Self, Vec<Diagnosis>> {
        let (catalogue, mistakes) = Self::read(None);
        if mistakes.is_empty() { Ok(catalogue) } else { Err(mistakes) }
    }

    /// The text of a shipped entry; empty where there is none.
    pub(crate) fn shipped_text(folder: &str, name: &str) -> &'static str {
        let all = [&BLANKS, &SUBSTRATES, &PAPERS, &PRINTERS, &PRESSES];
        let kind = FOLDERS.iter().zip(all).find(|(known, _)| **known == folder);
        let file = kind.and_then(|(_, files)| files.get_file(format!("{name}.yaml")));
        file.and_then(include_dir::File::contents_utf8).unwrap_or_default()
    }

    /// The catalogue of a studio whose configuration lies in `base`, and every mistake in it.
    pub(super) fn load(base: &Path) -> (Self, Vec<Diagnosis>) {
        Self::read(Some(base))
    }

    /// What is shipped, and over it what a studio has, if there is one.
    fn read(base: Option<&Path>) -> (Self, Vec<Diagnosis>) {
        let mut mistakes = Vec::new();
        let substrates = Kind { folder: "substrates", word: "substrate", shipped: &SUBSTRATES }.read(
            base,
            &mut mistakes,
            entries::substrate,
        );
        let papers = Kind { folder: "papers", word: "paper", shipped: &PAPERS }.read(
            base,
            &mut mistakes,
            entries::paper,
        );
        let blanks = Kind { folder: "blanks", word: "blank", shipped: &BLANKS }.read(
            base,
            &mut mistakes,
            |name, fields| shrinking::over(entries::blank(name, fields, &substrates), fields, base),
        );
        let printers = Kind { folder: "printers", word: "printer", shipped: &PRINTERS }.read(
            base,
            &mut mistakes,
            |name, fields| printer::printer(name, fields, &papers, base),
        );
        let presses = Kind { folder: "presses", word: "press", shipped: &PRESSES }.read(
            base,
            &mut mistakes,
            |name, fields| entries::press(name, fields, &substrates),
        );
        let folder = base.map(|base| base.join(PROGRAMS)).unwrap_or_default();
        mistakes.extend(programs::look_over(&folder));
        let programs = Programs {
            shelf: Kind { folder: PROGRAMS, word: "program", shipped: &NO_PROGRAMS }.read(
                base,
                &mut mistakes,
                |_, fields| {
                    registry::look_program_over(fields)?;
                    Some(fields.value().clone())
                },
            ),
            folder,
        };
        (Self { blanks, substrates, papers, printers, presses, programs }, mistakes)
    }
}

impl Catalogue {
    /// The few things that a kept order names, as they were; their profiles lie in `base`, and so does what programs consist
    /// of, in a folder of its own.
    pub(crate) fn of_kept(node: &Node<'_>, base: &Path, programs: PathBuf) -> Option<Self> {
        let mut kinds = node.fields()?;
        let substrates = shelf("substrate", kinds.get("substrates"), entries::substrate);
        let papers = shelf("paper", kinds.get("papers"), entries::paper);
        let blanks =
            shelf("blank", kinds.get("blanks"), |name, fields| entries::blank(name, fields, &substrates));
        let printers = shelf("printer", kinds.get("printers"), |name, fields| {
            printer::printer(name, fields, &papers, Some(base))
        });
        let presses =
            shelf("press", kinds.get("presses"), |name, fields| entries::press(name, fields, &substrates));
        kinds.finish();
        Some(Self { blanks, substrates, papers, printers, presses, programs: Programs::none(programs) })
    }
}

impl Catalogue {
    /// Reads a text as an entry of a folder's kind for one who listens what is asked for.
    pub(crate) fn look(&self, folder: &str, node: &Node<'_>) {
        let Some(mut fields) = node.fields() else { return };
        let name = "new";
        match folder {
            "blanks" => drop(entries::blank(name, &mut fields, &self.substrates)),
            "substrates" => drop(entries::substrate(name, &mut fields)),
            "papers" => drop(entries::paper(name, &mut fields)),
            "printers" => drop(printer::printer(name, &mut fields, &self.papers, None)),
            PROGRAMS => registry::look_program_over(&mut fields).unwrap_or_default(),
            _ => drop(entries::press(name, &mut fields, &self.substrates)),
        }
        // As every entry may.
        fields.optional::<String>(ORIGIN);
        fields.finish();
    }
}

/// The entries of one kind, one under each name.
fn shelf<T>(
    word: &'static str,
    node: Option<Node<'_>>,
    entry: impl Fn(&str, &mut Fields<'_>) -> Option<T>,
) -> Shelf<T> {
    let mut shelf = Shelf::new(word);
    for (name, node) in node.as_ref().map(Node::named).unwrap_or_default() {
        let read = node.fields().and_then(|mut fields| {
            let read = entry(name, &mut fields);
            fields.finish();
            read
        });
        match read {
            Some(entry) => shelf.put(name.to_owned(), entry),
            None => shelf.miss(name.to_owned()),
        }
    }
    shelf
}

/// One kind of entry.
struct Kind {
    folder: &'static str,
    word: &'static str,
    shipped: &'static Dir<'static>,
}

/// The texts of one kind by entry name, each with the file's name for people.
type Texts = BTreeMap<String, (String, Result<Vec<u8>, String>)>;

impl Kind {
    /// Reads every entry; one with a mistake is left out and remembered, so that who refers to it is not blamed.
    fn read<T>(
        &self,
        base: Option<&Path>,
        mistakes: &mut Vec<Diagnosis>,
        entry: impl Fn(&str, &mut Fields<'_>) -> Option<T>,
    ) -> Shelf<T> {
        let mut texts = self.shipped_texts();
        let own = base.map_or_else(|| Ok(Texts::new()), |base| self.own_texts(base));
        let own = own.unwrap_or_else(|diagnosis| {
            mistakes.push(diagnosis);
            Texts::new()
        });
        let home = |name: &str, shipped: &Texts| match (own.contains_key(name), shipped.contains_key(name)) {
            (false, _) => Home::Shipped,
            (true, false) => Home::Studio,
            (true, true) => Home::InPlace,
        };
        let homes: BTreeMap<String, Home> =
            texts.keys().chain(own.keys()).map(|name| (name.clone(), home(name, &texts))).collect();
        texts.extend(own);
        let mut shelf = Shelf::new(self.word);
        for (name, (file, text)) in texts {
            match parse(&name, &file, text, &entry) {
                Ok((entry, origin)) => {
                    let home = homes.get(&name).copied().unwrap_or(Home::Studio);
                    shelf.comes_from(&name, Provenance { home, origin });
                    shelf.put(name, entry);
                }
                Err(mut found) => {
                    mistakes.append(&mut found);
                    shelf.miss(name);
                }
            }
        }
        shelf
    }

    fn shipped_texts(&self) -> Texts {
        let name = |file: &include_dir::File<'_>| file.path().file_stem()?.to_str().map(str::to_owned);
        self.shipped
            .files()
            .filter_map(|file| {
                let name = name(file)?;
                let shown = format!("the shipped {}/{name}.yaml", self.folder);
                Some((name, (shown, Ok(file.contents().to_vec()))))
            })
            .collect()
    }

    /// The studio's own files; a folder that is not there has none.
    fn own_texts(&self, base: &Path) -> Result<Texts, Diagnosis> {
        let mut texts = Texts::new();
        let folder = base.join(self.folder);
        let unreadable = |why: &std::io::Error| {
            Diagnosis::of_file(
                format!("{}/", self.folder),
                format!("the folder cannot be read ({why})"),
                "Let this program read it.",
            )
        };
        let entries = match std::fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(why) if why.kind() == std::io::ErrorKind::NotFound => return Ok(texts),
            Err(why) => return Err(unreadable(&why)),
        };
        for found in entries {
            let path = found.map_err(|why| unreadable(&why))?.path();
            let ignored = path.file_name().is_none_or(crate::intake::is_ignored);
            if ignored || !path.file_name().is_some_and(crate::intake::is_sidecar_name) {
                continue;
            }
            let shown = format!("{}/{}", self.folder, super::name(&path));
            let Some(name) = path.file_stem().and_then(|stem| stem.to_str()) else {
                return Err(Diagnosis::of_file(
                    shown,
                    "the file's name is not plain text",
                    "Rename the file.",
                ));
            };
            let text = read_capped(&path).map_err(|why| why.to_string());
            if texts.insert(name.to_owned(), (shown.clone(), text)).is_some() {
                return Err(Diagnosis::of_file(
                    shown,
                    format!("there are two files for `{name}`, ending in .yaml and .yml"),
                    "Keep one of the two.",
                ));
            }
        }
        Ok(texts)
    }
}

/// One byte more than is allowed is enough to see that a file is too long.
fn read_capped(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    std::io::Read::read_to_end(
        &mut std::io::Read::take(std::fs::File::open(path)?, LONGEST_SETTINGS + 1),
        &mut bytes,
    )?;
    Ok(bytes)
}

/// One entry and where its figures come from, or every mistake in its file.
fn parse<T>(
    name: &str,
    file: &str,
    text: Result<Vec<u8>, String>,
    entry: &impl Fn(&str, &mut Fields<'_>) -> Option<T>,
) -> Result<(T, String), Vec<Diagnosis>> {
    let bytes = text.map_err(|why| {
        vec![Diagnosis::of_file(
            file,
            format!("the file cannot be read ({why})"),
            "Let this program read it.",
        )]
    })?;
    let document = Document::parse(file, &bytes, LONGEST_SETTINGS)?;
    let parsed = document.root().fields().and_then(|mut fields| {
        let parsed = entry(name, &mut fields);
        let origin = fields.or(ORIGIN, NOT_STATED.to_owned());
        fields.finish();
        Some((parsed?, origin))
    });
    let mistakes = document.diagnoses();
    match parsed {
        Some(parsed) if mistakes.is_empty() => Ok(parsed),
        _ => Err(mistakes),
    }
}
