//! Taking files out of the inbox, and putting them back.

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::files::{move_no_replace, remove_folder, sync_contents, write_whole};
use super::{Journal, naming, to_free};

/// The facts of a claim, beside its files.
pub(super) const FACTS: &str = ".claim.json";

/// The files that bear one stem in one folder of the inbox.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SourceSet {
    /// The stem they share.
    pub(crate) stem: String,
    /// Artwork and sidecars, sidecars first, so that no artwork ever waits in a claim without its sidecar.
    pub(crate) files: Vec<Source>,
    /// The folder's defaults, copied and not moved.
    pub(crate) defaults: Option<PathBuf>,
}

/// One file as the scan saw it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Source {
    /// Where it lies.
    pub(crate) path: PathBuf,
    /// What it looked like.
    pub(crate) signature: Signature,
}

/// What changes when a file is written to or replaced. The time of the last status change is left to the scan: a
/// rename changes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Signature {
    /// Inode.
    pub(crate) inode: u64,
    /// Bytes.
    pub(crate) size: u64,
    /// Last change of content, in nanoseconds.
    pub(crate) modified: i128,
}

impl Signature {
    /// Of a plain file, not followed through a link.
    pub(crate) fn of(path: &Path) -> io::Result<Self> {
        let facts = path.symlink_metadata()?;
        Ok(Self::from(&facts))
    }
}

impl From<&fs::Metadata> for Signature {
    fn from(facts: &fs::Metadata) -> Self {
        use std::os::unix::fs::MetadataExt as _;
        let modified = i128::from(facts.mtime()) * 1_000_000_000 + i128::from(facts.mtime_nsec());
        Self { inode: facts.ino(), size: facts.size(), modified }
    }
}

/// A job taken out of the inbox.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Claim {
    /// The job's name.
    pub(crate) id: String,
    /// Where its files are.
    pub(crate) folder: PathBuf,
}

/// What is written down about a claim.
#[derive(Debug, Serialize, Deserialize)]
struct Facts {
    /// The folder of the inbox it came from, relative to the inbox.
    from: PathBuf,
    /// The files taken, by name.
    files: Vec<PathBuf>,
}

impl Claim {
    /// One found in the folder of claims.
    pub(super) fn read(folder: &Path, id: &str) -> io::Result<Self> {
        if !folder.is_dir() {
            return Err(io::Error::new(ErrorKind::InvalidData, "not a folder of ours"));
        }
        Ok(Self { id: id.to_owned(), folder: folder.to_owned() })
    }
}

/// Moves a set into a claim of its own; undone if a file has changed or gone meanwhile.
pub(super) fn take(journal: &Journal, set: &SourceSet) -> io::Result<Claim> {
    let paths: Vec<&Path> =
        set.files.iter().map(|source| source.path.as_path()).chain(set.defaults.as_deref()).collect();
    let (_, short) = naming::digest(&paths)?;
    let id = journal.free_name(&format!("{}-{short}", naming::safe_stem(&set.stem)));
    let tmp = journal.state(&id, ".tmp");
    fs::create_dir(&tmp)?;
    let moved = move_in(journal, set, &tmp).and_then(|()| {
        let folder = journal.state(&id, "");
        move_no_replace(&tmp, &folder)?;
        Ok(Claim { id, folder })
    });
    if moved.is_err()
        && let Err(why) = put_back(&tmp, &journal.folders.incoming)
    {
        tracing::error!(%why, claim = %tmp.display(), "a claim could not be undone; it is taken up at the next start");
    }
    moved
}

fn move_in(journal: &Journal, set: &SourceSet, tmp: &Path) -> io::Result<()> {
    let folder =
        set.files.first().and_then(|source| source.path.parent()).unwrap_or(&journal.folders.incoming);
    let facts = Facts {
        from: folder.strip_prefix(&journal.folders.incoming).unwrap_or(Path::new("")).to_owned(),
        files: set.files.iter().filter_map(|source| source.path.file_name().map(PathBuf::from)).collect(),
    };
    write_whole(&tmp.join(FACTS), &serde_json::to_vec(&facts)?)?;
    if let Some(defaults) = &set.defaults {
        fs::copy(defaults, tmp.join(defaults.file_name().unwrap_or_default()))?;
    }
    for source in &set.files {
        let to = tmp.join(source.path.file_name().unwrap_or_default());
        move_no_replace(&source.path, &to)?;
        if Signature::of(&to)? != source.signature {
            return Err(io::Error::new(ErrorKind::Interrupted, "a file changed while it was taken"));
        }
    }
    sync_contents(tmp)
}

/// Moves the files of an unfinished claim back to where they came from. A name taken meanwhile gets a number.
pub(super) fn put_back(tmp: &Path, incoming: &Path) -> io::Result<()> {
    let facts = match fs::read(tmp.join(FACTS)) {
        Ok(bytes) => serde_json::from_slice::<Facts>(&bytes)?,
        // Nothing is moved in before the facts stand.
        Err(why) if why.kind() == ErrorKind::NotFound => return remove_folder(tmp),
        Err(why) => return Err(why),
    };
    let home = incoming.join(&facts.from);
    fs::create_dir_all(&home)?;
    for name in &facts.files {
        let from = tmp.join(name);
        if from.symlink_metadata().is_ok() {
            to_free(places(&home, name), |to| move_no_replace(&from, to))?;
        }
    }
    remove_folder(tmp)
}

/// `home/name.png`, then `home/name-2.png`, `home/name-3.png` and so on.
fn places(home: &Path, name: &Path) -> impl Iterator<Item = PathBuf> {
    let more = (2_u32..).map(move |n| {
        let mut numbered = name.file_stem().unwrap_or_default().to_owned();
        numbered.push(format!("-{n}"));
        if let Some(ending) = name.extension() {
            numbered.push(".");
            numbered.push(ending);
        }
        PathBuf::from(numbered)
    });
    std::iter::once(name.to_owned()).chain(more).map(move |name| home.join(name))
}
