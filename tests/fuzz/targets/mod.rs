//! What reads foreign bytes, each as a plain function that must neither panic, hang nor take much memory.
//!
//! libFuzzer calls these functions with what it makes up (`libfuzzer/`), the ordinary tests with what it once made up
//! and was worth keeping (`corpus/`). Beyond "it does not panic" each function states what must hold of any outcome.

mod artwork;
mod job;
mod names;
mod profiles;
mod state;
mod texts;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use seamwright::config::Folders;

/// A target by its name.
pub(crate) type Target = (&'static str, fn(&[u8]));

/// All of them.
pub(crate) const TARGETS: &[Target] = &[
    ("sidecar", texts::sidecar),
    ("list", texts::list),
    ("job", job::job),
    ("settings", texts::settings),
    ("catalogue", texts::catalogue),
    ("page", texts::page),
    ("names", names::names),
    ("state", state::state),
    ("png", artwork::png),
    ("jpeg", artwork::jpeg),
    ("tiff", artwork::tiff),
    ("webp", artwork::webp),
    ("svg", artwork::svg),
    ("pdf", artwork::pdf),
    ("source-profile", profiles::source),
    ("printer-profile", profiles::printer),
];

/// Writes a file, and the folders above it.
fn put(path: &Path, bytes: &[u8]) {
    try_put(path, bytes).expect("a file");
}

/// The same where its name may be none.
fn try_put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    path.parent().map_or(Ok(()), fs::create_dir_all)?;
    File::create(path)?.write_all(bytes)
}

/// The folders of a studio.
fn folders(root: &Path) -> Folders {
    let under = |name: &str| root.join(name);
    let (incoming, outgoing) = (under("incoming"), under("outgoing"));
    Folders { root: root.to_owned(), incoming, outgoing, refused: under("refused"), kept: under("kept") }
}

/// All files below a folder, with what is in them.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(files(&path));
        } else {
            found.insert(path.clone(), fs::read(&path).expect("a file"));
        }
    }
    found
}

/// Whether a line may be shown on a terminal.
fn is_plain(line: &str) -> bool {
    !line.chars().any(char::is_control)
}
