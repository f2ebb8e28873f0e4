//! The history log: a line of JSON for each end of a job, for people and their scripts. The journal never reads it, and
//! a line that cannot be written is no reason to stop.

use std::fs::OpenOptions;
use std::io::{self, Write as _};
use std::path::Path;
use std::time::Instant;

use serde_json::{Map, Value};

use super::clock;

/// Its name in `kept/`.
const FILE: &str = ".history.jsonl";

/// Adds a line to the log in `folder`: when, which job, how it ended, and what else is known.
pub(super) fn add(folder: &Path, job: &str, end: &str, more: &[(&str, Value)]) {
    let mut line = Map::new();
    line.insert("at".to_owned(), clock::stamp(Instant::now()).into());
    line.insert("job".to_owned(), job.into());
    line.insert("end".to_owned(), end.into());
    line.extend(more.iter().map(|(key, value)| ((*key).to_owned(), value.clone())));
    if let Err(why) = append(folder, &format!("{}\n", Value::Object(line))) {
        tracing::warn!(%job, %why, "the history log could not be written");
    }
}

/// In one write, so that lines never mix.
fn append(folder: &Path, line: &str) -> io::Result<()> {
    OpenOptions::new().create(true).append(true).open(folder.join(FILE))?.write_all(line.as_bytes())
}
