//! The staging folder as the writers see it.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::PathBuf;

use seamwright_contract::Fault;
use seamwright_contract::plugin::Outbox;

use super::task::{Said, Word};
use super::worker::tell;

/// Files go into one folder, each name once. Each sheet is told to the daemon, on a line of standard output.
#[derive(Debug)]
pub(super) struct Staging {
    folder: PathBuf,
    files: Vec<String>,
    panels: BTreeMap<u32, String>,
    /// How many sheets there will be.
    sheets: usize,
}

impl Staging {
    pub(super) fn new(folder: PathBuf, sheets: usize) -> Self {
        Self { folder, files: Vec::new(), panels: BTreeMap::new(), sheets }
    }
}

impl Outbox for Staging {
    fn create(&mut self, name: &str) -> Result<Box<dyn Write + Send>, Fault> {
        let file = File::create_new(self.folder.join(name)).map_err(|why| {
            if why.kind() == io::ErrorKind::AlreadyExists {
                return Fault::setup(
                    format!("Two writers made a file called {name}."),
                    "Let the program that made one of them give it another name.",
                );
            }
            Fault::machine(
                format!("{name} could not be made: {why}."),
                "Make room on the disk and see that the outgoing folder may be written to.",
            )
        })?;
        self.files.push(name.to_owned());
        Ok(Box::new(BufWriter::with_capacity(1 << 16, Flushing { file, written: 0 })))
    }

    fn files(&self) -> Vec<String> {
        self.files.clone()
    }

    fn note_panel(&mut self, panel: u32, sha256: String) {
        self.panels.insert(panel, sha256);
        let word = Word { sheet: self.panels.len(), of: self.sheets };
        // Whoever does not listen misses nothing but how far it is.
        drop(tell(&Said::Far(word)));
    }

    fn panels(&self) -> &BTreeMap<u32, String> {
        &self.panels
    }
}

/// A file that goes to the disk while it is being written, so that little is left to be flushed when it is done.
struct Flushing {
    file: File,
    /// Bytes since the last flush.
    written: usize,
}

impl Flushing {
    /// Bytes at a time.
    const AT_A_TIME: usize = 16 << 20;
}

impl Write for Flushing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let taken = self.file.write(bytes)?;
        self.written += taken;
        if self.written >= Self::AT_A_TIME {
            self.written = 0;
            self.file.sync_data()?;
        }
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
