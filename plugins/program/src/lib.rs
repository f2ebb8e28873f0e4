//! `program`: a stage and a writer that run a program of the studio's own, in whatever language it is written.
//!
//! A small manifest in the studio's folder `programs/` says what is started, what it must find decided, what it may
//! change, and within which time and memory ([`manifest`]). It gets the facts of the job as one JSON object on standard
//! input and, if it asks for the picture, that as a TIFF of the layout's own pixels in a folder of its own; it answers with
//! one JSON object on standard output ([`request`], [`answer`]; `config/schemas` has both forms). What it says on standard
//! error goes into the log.
//!
//! It is somebody's script, so it is held: its process is started by a supervisor, which is this very program once more
//! ([`supervisor`]), and gives up its rights before it becomes the script ([`confinement`]). Whatever it does, it ends
//! with its job, and refuses that job alone, with its own last words.
//!
//! No full-size pixel is computed for a program that does not ask for the picture. One that gives a picture back is the
//! one place where pixels are pulled before the sheets: they lie in a file from then on, not in memory ([`raster`]).

mod answer;
mod attempt;
mod check;

mod confinement;
mod family;
mod manifest;
mod raster;
mod request;
mod scratch;
mod steps;
mod supervisor;
#[cfg(test)]
mod tests;
mod tiff;

use seamwright_contract::plugin::{StageEntry, WriterEntry};

pub use check::{Check, check};
pub use confinement::{confine, containment};
pub use manifest::look_over;
pub use supervisor::supervise;

/// The word in `stages:` and in `writers:`.
pub const NAME: &str = "program";

/// The version of what is said between us and programs.
const PROTOCOL: u32 = 1;

/// The stage, as the registry lists it.
pub const STAGE: StageEntry = StageEntry {
    name: NAME,
    about: "runs a program of the studio's own, which may change the picture or decide a few facts",
    needs: &[],
    gives: &[],
    before: &[],
    example: "{program: {name: deepen, command: [sh, -c, \":\"], needs: [picture], gives: [picture]}}",
    parse: steps::stage,
    order: None,
};

/// The writer, as the registry lists it.
pub const WRITER: WriterEntry = WriterEntry {
    name: NAME,
    about: "runs a program of the studio's own, which may add files to the finished job",
    needs: &[],
    example: "{program: {name: slip, command: [sh, -c, \":\"], needs: [panels], gives: [files]}}",
    parse: steps::writer,
};
