//! The steps there are, one line each: the only file that names plugins.

use seamwright_contract::plugin::{StageEntry, WriterEntry};

/// The stages, in the order of the handbook.
pub const STAGES: &[StageEntry] = &[];

/// The writers.
pub const WRITERS: &[WriterEntry] = &[];

/// The writer that states what all others wrote.
pub const LAST_WRITER: &str = "record";
