//! A studio in a temporary folder and the real program run on it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;
use tempfile::TempDir;

/// A studio of its own for one test.
pub(crate) struct Studio {
    folder: TempDir,
}

impl Studio {
    /// With quick waits and `more` lines of configuration.
    pub(crate) fn new(more: &str) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::create_dir(folder.path().join("incoming")).expect("incoming");
        let studio = Self { folder };
        studio.put("../seamwright.yaml", format!("quiet: 0s\nwait: 1s\n{more}\n").as_bytes());
        studio
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Saves a file into `incoming/`.
    pub(crate) fn put(&self, name: &str, bytes: &[u8]) {
        let path = self.path("incoming").join(name);
        fs::create_dir_all(path.parent().expect("a parent")).expect("its folder");
        let mut file = fs::File::create(path).expect("a file in incoming");
        std::io::Write::write_all(&mut file, bytes).expect("its bytes");
    }

    /// A command of the program on this studio.
    pub(crate) fn command(&self, verb: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_seamwright"));
        command.arg(verb).arg("--config").arg(self.path("seamwright.yaml")).stdin(Stdio::null());
        command
    }

    /// Works off what is there.
    pub(crate) fn once(&self) -> Output {
        self.command("once").output().expect("the program runs")
    }

    /// The finished jobs' folders, by name.
    pub(crate) fn finished(&self) -> Vec<PathBuf> {
        folders(&self.path("outgoing"))
    }

    /// The refused jobs' folders, by name.
    pub(crate) fn refused(&self) -> Vec<PathBuf> {
        folders(&self.path("refused"))
    }
}

/// The folders in a folder, hidden ones left out, by name.
fn folders(of: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(of) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.is_dir() && !name(path).starts_with('.'))
        .collect();
    found.sort();
    found
}

pub(crate) fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// A job's record.
pub(crate) fn record(job: &Path) -> Value {
    let text = fs::read_to_string(job.join("record.json")).expect("a record");
    serde_json::from_str(&text).expect("a record in JSON")
}

/// A small RGB picture with something in every part of it, as PNG.
pub(crate) fn png(width: u32, height: u32) -> Vec<u8> {
    let picture = image::RgbImage::from_fn(width, height, |x, y| {
        let byte = |value: u32| u8::try_from(value % 256).unwrap_or_default();
        image::Rgb([byte(x * 3), byte(y * 5), byte(x + y)])
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).expect("a PNG");
    bytes.into_inner()
}
