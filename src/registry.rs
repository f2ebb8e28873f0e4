//! The steps there are, one line each: the only file that names plugins.

use std::fs::File;

use seamwright_contract::plugin::{StageEntry, WriterEntry};

pub use seamwright_artwork::{
    Limits as ArtworkLimits, Opened as OpenedArtwork, Wanted, begin as begin_artwork, drawn_size,
};
pub use seamwright_calibration::{lines as calibration_lines, write as write_calibration};
pub use seamwright_demo::write as write_demo;
pub use seamwright_record::{FILE as RECORD_FILE, writer as record_writer};
pub use seamwright_shared::{
    Job as SharingJob, RECORD as SHARED_RECORD, SHEETS as SHARED_SHEETS, Sharing, sharing,
    write as write_shared,
};
pub use seamwright_sheets::writer as sheets_writer;
pub use seamwright_swatches::writer as test_print_writer;

/// The stages, in the order of a night.
pub const STAGES: &[StageEntry] = &[
    seamwright_frame::ENTRY,
    seamwright_resize::ENTRY,
    seamwright_bare::ENTRY,
    seamwright_lettering::ENTRY,
    seamwright_profile::ENTRY,
    seamwright_mirror::ENTRY,
    seamwright_overlap::ENTRY,
    seamwright_tile::ENTRY,
    seamwright_marks::ENTRY,
    seamwright_press::ENTRY,
];

/// The writers.
pub const WRITERS: &[WriterEntry] = &[
    seamwright_sheets::ENTRY,
    seamwright_notes::ENTRY,
    seamwright_proof::ENTRY,
    seamwright_swatches::ENTRY,
    seamwright_record::ENTRY,
];

/// The writer that states what all others wrote.
pub const LAST_WRITER: &str = "record";

/// Whether a file's end mark is there. What cannot be told, or read at this moment, counts as complete: opening it
/// says the rest.
#[must_use]
pub fn looks_complete(file: File) -> bool {
    !matches!(seamwright_artwork::looks_complete(file), Ok(Some(false)))
}
