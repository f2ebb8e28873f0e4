//! What plugins give to the daemon: the only file that names them. Stages and writers are listed by `Cargo.toml`: a
//! dependency that has an entry is one.

use std::fs::File;

use seamwright_contract::plugin::{StageEntry, WriterEntry};

pub use seamwright_artwork::{
    Limits as ArtworkLimits, Opened as OpenedArtwork, Wanted, begin as begin_artwork, drawn_size,
    fields_asked,
};
pub use seamwright_calibration::{lines as calibration_lines, write as write_calibration};
pub use seamwright_demo::{programs as demo_programs, write as write_demo};
pub use seamwright_program::{
    NAME as PROGRAM, check as check_program, confine as confine_program, containment,
    look_over as look_program_over, supervise as supervise_program,
};
pub use seamwright_record::{FILE as RECORD_FILE, writer as record_writer};
pub use seamwright_shared::{
    Job as SharingJob, RECORD as SHARED_RECORD, SHEETS as SHARED_SHEETS, Sharing, sharing,
    write as write_shared,
};
pub use seamwright_sheets::writer as sheets_writer;
pub use seamwright_swatches::writer as test_print_writer;

include!(concat!(env!("OUT_DIR"), "/entries.rs"));

/// The writer that states what all others wrote.
pub const LAST_WRITER: &str = "record";

/// Whether a file's end mark is there. What cannot be told, or read at this moment, counts as complete: opening it
/// says the rest.
#[must_use]
pub fn looks_complete(file: File) -> bool {
    !matches!(seamwright_artwork::looks_complete(file), Ok(Some(false)))
}
