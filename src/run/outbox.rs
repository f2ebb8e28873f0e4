//! The staging folder as the writers see it.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

use seamwright_contract::Fault;
use seamwright_contract::plugin::Outbox;

/// Files go into one folder, each name once.
#[derive(Debug)]
pub(super) struct Staging {
    folder: PathBuf,
    files: Vec<&'static str>,
}

impl Staging {
    pub(super) fn new(folder: PathBuf) -> Self {
        Self { folder, files: Vec::new() }
    }
}

impl Outbox for Staging {
    fn create(&mut self, name: &'static str) -> Result<Box<dyn Write + Send>, Fault> {
        let file = File::create_new(self.folder.join(name)).map_err(|why| {
            Fault::machine(
                format!("{name} could not be made: {why}."),
                "Make room on the disk and see that the outgoing folder may be written to.",
            )
        })?;
        self.files.push(name);
        Ok(Box::new(BufWriter::with_capacity(1 << 16, file)))
    }

    fn files(&self) -> Vec<&'static str> {
        self.files.clone()
    }
}
