//! The studio's configuration and catalogue: YAML in, what the program runs on out, or every mistake at once.
//!
//! There are two levels and nothing in between. What was typed lives in [`yaml::Document`]s and never leaves this
//! module and `intake`; what comes out of [`load`] is complete, typed and checked against itself: every name is
//! known, every stage stands where it can work, no result folder leads back into the inbox. There is no way to
//! hold a [`Config`] that was not checked.
//!
//! The shipped `config/seamwright.yaml` is the text of the defaults: a key the studio's file does not have is read
//! from there, so what it shows is what happens.

mod amounts;
mod catalogue;
mod diagnosis;
mod folders;
mod frozen;
mod layered;
mod pipeline;
mod rates;
mod remote;
#[cfg(test)]
pub(crate) mod tests;
pub(crate) mod yaml;

use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_contract::catalogue::Orientation;
use seamwright_contract::settings::{Complaint, Complaints, Fields, Node, Read as _, Value};
use seamwright_contract::units::{Bytes, Seconds, Units};

use crate::journal::{PROGRAMS, kept_file};
use crate::registry;
use yaml::Document;

pub use amounts::Keep;
pub use catalogue::{Catalogue, Programs, Shelf};
pub(crate) use catalogue::{Distance, Home, LARGEST_PROFILE, Measure, ORIGIN, blank_fields, sides};
pub(crate) use catalogue::{
    MeasuredPrinter, Measurements, PLAUSIBLE_SCALE, margins_value, measured_scales, plausible_shrink,
    printer_address, scale_file, scale_text, scale_value, shrink_file, shrink_text, shrink_value,
};
pub use diagnosis::{Diagnosis, Excerpt};
pub use folders::Folders;
pub(crate) use frozen::{Frozen, HIDDEN, Stamp};
pub(crate) use layered::Layered;
pub(crate) use pipeline::Known;
pub use pipeline::Pipeline;
pub use rates::Rates;

/// The steps that this program has.
const KNOWN: Known<'static> = Known {
    stages: registry::STAGES,
    writers: registry::WRITERS,
    last_writer: registry::LAST_WRITER,
    program: registry::PROGRAM,
};

/// The name of the configuration file.
pub const FILE: &str = "seamwright.yaml";

/// The text of the defaults, with a word on each.
pub const DEFAULTS: &str = include_str!("../../config/seamwright.yaml");

/// No job can be worked in less memory.
const LEAST_MEMORY: Bytes = Bytes(64 << 20);

/// How a studio works.
#[derive(Debug)]
pub struct Config {
    /// Its folders.
    pub studio: Folders,
    /// Its stages and writers.
    pub pipeline: Pipeline,
    /// Its blanks, substrates, papers, printers and presses.
    pub catalogue: Catalogue,
    /// The printer of orders that name none; it is in the catalogue.
    pub printer: String,
    /// The press of orders that name none; it is in the catalogue.
    pub press: String,
    /// The units people read.
    pub units: Units,
    /// The orientation of orders that name none; `None` for whichever takes fewer sheets.
    pub orientation: Option<Orientation>,
    /// Whether panels of orders that do not say so may lie on sheets with those of other jobs.
    pub share: bool,
    /// Memory for pixels, in bytes.
    pub memory: u64,
    /// Threads a job may use.
    pub workers: usize,
    /// How long artwork or sidecar waits for the other.
    pub wait: Duration,
    /// How long a file must have been left alone before it counts as completely written.
    pub quiet: Duration,
    /// For how long sources of finished jobs are kept.
    pub keep: Keep,
    /// What artwork is refused unseen.
    pub limits: Limits,
    /// What things cost, where the studio says so.
    pub rates: Option<Rates>,
}

/// Beyond what a job is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Width times height.
    pub pixels: u64,
    /// Bytes of the file.
    pub bytes: u64,
    /// How long working one job may take.
    pub time: Duration,
    /// How long reading a drawing may take, and drawing it.
    pub drawing: Duration,
}

impl Config {
    /// What an artwork may cost that is worked in so much memory, with this folder for what does not fit.
    pub(crate) fn artwork_limits(&self, scratch: PathBuf) -> registry::ArtworkLimits {
        registry::ArtworkLimits {
            pixels: self.limits.pixels,
            bytes: self.limits.bytes,
            memory: self.memory,
            profile_bytes: LARGEST_PROFILE,
            scratch,
            drawing: self.limits.drawing,
            fonts: self.fonts(),
        }
    }

    /// The folder with the studio's own fonts; it need not be there.
    pub(crate) fn fonts(&self) -> PathBuf {
        self.studio.root.join(FONTS)
    }
}

/// The studio's folder with fonts of its own.
const FONTS: &str = "fonts";

/// Reads a configuration and its catalogue. Without a path, `seamwright.yaml` in the present folder if it is there,
/// and the defaults alone if not.
///
/// # Errors
/// Every mistake found, in the order of the files.
pub fn load(path: Option<&Path>) -> Result<Config, Vec<Diagnosis>> {
    let here = Path::new(FILE);
    let path = path.or_else(|| here.exists().then_some(here));
    read_all(path, None, &KNOWN)
}

/// Reads a copy of the settings of a studio whose folder is known, wherever the copy lies.
pub(crate) fn load_frozen(path: &Path, studio: &Path) -> Result<Config, Vec<Diagnosis>> {
    read_all(Some(path), Some(studio), &KNOWN)
}

/// [`load`] with the steps to choose from.
#[cfg(test)]
pub(crate) fn load_with(path: Option<&Path>, known: &Known<'_>) -> Result<Config, Vec<Diagnosis>> {
    read_all(path, None, known)
}

/// Where a configuration's own things lie.
pub(crate) fn base(path: Option<&Path>) -> &Path {
    path.and_then(Path::parent).filter(|base| !base.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

fn read_all(path: Option<&Path>, studio: Option<&Path>, known: &Known<'_>) -> Result<Config, Vec<Diagnosis>> {
    let own = match path {
        Some(path) => Document::open(path, &name(path), yaml::LONGEST_SETTINGS)?,
        None => Document::empty(FILE),
    };
    let shipped =
        Document::parse("the shipped seamwright.yaml", DEFAULTS.as_bytes(), yaml::LONGEST_SETTINGS)?;
    let base = base(path);
    let (catalogue, mut mistakes) = Catalogue::load(base);
    let config = read(&own.root(), &shipped.root(), base, studio, catalogue, known);
    let mut found = own.diagnoses();
    found.append(&mut shipped.diagnoses());
    found.append(&mut mistakes);
    match config {
        Some(config) if found.is_empty() => Ok(config),
        _ => Err(found),
    }
}

/// The settings of this program with the stages, the units and the things of a kept order, as they were. Complains, or
/// gives nothing, where they are not in order.
pub(crate) fn as_kept(keys: &mut Fields<'_>, folder: &Path, config: Config) -> Option<Config> {
    let units = keys.get("units").and_then(|node| node.choice(&UNITS))?;
    let catalogue = Catalogue::of_kept(&keys.get("catalogue")?, folder, kept_file(folder, PROGRAMS))?;
    let pipeline = pipeline::read(keys.get("stages").as_ref(), None, &KNOWN, &catalogue.programs)?;
    // What a kept order does not say was not so, whatever the studio wants by now.
    Some(Config { pipeline, units, catalogue, share: false, ..config })
}

/// What the step of a program of the studio reads.
///
/// # Errors
/// There is none of that name.
pub(crate) fn program_settings(name: &str, config: &Config) -> Result<Value, Vec<Diagnosis>> {
    let complaints = Complaints::new();
    let settings = config.catalogue.programs.settings(name, &Node::root(&Value::Nothing, &complaints));
    settings.ok_or_else(|| of_program(complaints.into_list()))
}

/// Complaints about a program as they are told.
pub(crate) fn of_program(complaints: Vec<Complaint>) -> Vec<Diagnosis> {
    let told =
        |Complaint { key, what, cure, .. }| Diagnosis { key, ..Diagnosis::of_file("programs/", what, cure) };
    complaints.into_iter().map(told).collect()
}

/// The words for units.
const UNITS: [(&str, Units); 2] = [("inch", Units::Inch), ("metric", Units::Metric)];

/// A file's name for people.
fn name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

/// Reads a text as a configuration for one who listens what is asked for.
pub(crate) fn look(node: &Node<'_>, config: &Config) {
    let under = Document::empty(FILE);
    let _read = read(node, &under.root(), &config.studio.root, None, config.catalogue.clone(), &KNOWN);
}

/// Reads every key, so that every mistake is found, and only then sees whether all are there.
fn read(
    own: &Node<'_>,
    shipped: &Node<'_>,
    base: &Path,
    studio: Option<&Path>,
    catalogue: Catalogue,
    known: &Known<'_>,
) -> Option<Config> {
    let mut keys = Layered::new(own, shipped)?;
    let typed = keys.get("studio");
    let studio = match studio {
        Some(root) => Some(Folders::of(root)),
        None => typed.and_then(|node| Folders::read(&node, base)),
    };
    let (stages, writers) = (keys.get("stages"), keys.get("writers"));
    let pipeline = pipeline::read(stages.as_ref(), writers.as_ref(), known, &catalogue.programs);
    let printer =
        keys.get("printer").and_then(|node| catalogue.printers.find(&node)).map(|found| found.name.clone());
    let press =
        keys.get("press").and_then(|node| catalogue.presses.find(&node)).map(|found| found.name.clone());
    let units = keys.choice("units", &UNITS);
    let orientation = keys.choice("orientation", &ORIENTATIONS);
    let share = keys.read("share");
    let memory = keys.get("memory").and_then(|node| memory(&node));
    let workers = keys.get("workers").and_then(|node| amounts::workers(&node));
    let wait = keys.read("wait").map(duration);
    let quiet = keys.get("quiet").and_then(|node| amounts::quiet(&node));
    let keep = keys.read("keep");
    let limits = keys.group("limits").and_then(limits);
    let rates = keys.get("rates").and_then(|node| rates::read(&node, &catalogue));
    keys.finish();
    let studio = studio?;
    Some(Config {
        quiet: quiet?.unwrap_or_else(|| usual_quiet(&studio)),
        studio,
        pipeline: pipeline?,
        catalogue,
        printer: printer?,
        press: press?,
        units: units?,
        orientation: orientation?,
        share: share?,
        memory: memory?,
        workers: workers?,
        wait: wait?,
        keep: keep?,
        limits: limits?,
        rates,
    })
}

/// How long a file is left alone where the studio does not say: longer on a network drive, where writers stall.
fn usual_quiet(studio: &Folders) -> Duration {
    let inbox = if studio.incoming.exists() { &studio.incoming } else { &studio.root };
    Duration::from_secs(if remote::is_remote(inbox) { 15 } else { 3 })
}

/// The words for an orientation, in configuration and sidecars.
pub(crate) const ORIENTATIONS: [(&str, Option<Orientation>); 3] =
    [("portrait", Some(Orientation::Portrait)), ("landscape", Some(Orientation::Landscape)), ("auto", None)];

fn duration(seconds: Seconds) -> Duration {
    Duration::from_secs(u64::from(seconds.0))
}

fn memory(node: &Node<'_>) -> Option<u64> {
    let bytes = Bytes::read(node)?;
    if bytes < LEAST_MEMORY {
        node.complain(
            format!("{bytes} is too little to work in"),
            format!("Give it at least `{LEAST_MEMORY}`."),
        );
        return None;
    }
    Some(bytes.0)
}

fn limits(mut keys: Layered<'_>) -> Option<Limits> {
    let pixels: Option<u32> = keys.read("pixels");
    let bytes: Option<Bytes> = keys.read("bytes");
    let time = keys.read("time").map(duration);
    let drawing = keys.read("drawing").map(duration);
    keys.finish();
    Some(Limits { pixels: u64::from(pixels?), bytes: bytes?.0, time: time?, drawing: drawing? })
}
