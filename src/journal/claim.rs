//! Taking files out of the inbox, and putting them back.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::{self, ErrorKind};
use std::os::unix::ffi::OsStrExt as _;
use std::path::{Component, Path, PathBuf};
use std::time::Instant;

use serde::{Deserialize, Serialize};

use super::defaults::{Copied, Mended, readable};
use super::files::{move_no_replace, remove_folder, sync_contents, sync_folder, unshare, write_whole};
use super::sharing::scatter;
use super::{Journal, WHY, any_there, clock, naming};
use crate::intake::is_defaults_name;
use crate::watch::Place;

/// The most bytes that file systems take for a name.
const LONGEST_NAME: usize = 255;

/// The facts of a claim, beside its files.
pub(crate) const FACTS: &str = ".claim.json";

/// The files that bear one stem in one folder of the inbox.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SourceSet {
    /// The stem they share.
    pub(crate) stem: String,
    /// Artwork and sidecars, sidecars first, so that no artwork ever waits in a claim without its sidecar.
    pub(crate) files: Vec<Source>,
    /// The folder's defaults, copied and not moved.
    pub(crate) defaults: Option<PathBuf>,
    /// Where in the queue it stood.
    pub(crate) place: Place,
    /// When the first of the files was seen.
    pub(crate) first_seen: Instant,
}

/// One file as the scan saw it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Source {
    /// Where it lies.
    pub(crate) path: PathBuf,
    /// What it looked like.
    pub(crate) signature: Signature,
}

/// What changes when a file is written to or replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Signature {
    /// Inode.
    pub(crate) inode: u64,
    /// Bytes.
    pub(crate) size: u64,
    /// Last change of content, in nanoseconds.
    pub(crate) modified: i128,
    /// Last change of status, in nanoseconds. Copiers restore old modification times, but not this; a rename changes
    /// it too.
    pub(crate) changed: i128,
}

impl Signature {
    /// Of a plain file, not followed through a link.
    pub(crate) fn of(path: &Path) -> io::Result<Self> {
        let facts = path.symlink_metadata()?;
        Ok(Self::from(&facts))
    }

    /// Whether it is the same file with the same content, renamed or not.
    pub(crate) fn same_content(&self, other: &Self) -> bool {
        (self.inode, self.size, self.modified) == (other.inode, other.size, other.modified)
    }
}

impl From<&fs::Metadata> for Signature {
    fn from(facts: &fs::Metadata) -> Self {
        use std::os::unix::fs::MetadataExt as _;
        let nanoseconds = |seconds: i64, rest: i64| i128::from(seconds) * 1_000_000_000 + i128::from(rest);
        Self {
            inode: facts.ino(),
            size: facts.size(),
            modified: nanoseconds(facts.mtime(), facts.mtime_nsec()),
            changed: nanoseconds(facts.ctime(), facts.ctime_nsec()),
        }
    }
}

/// A job taken out of the inbox.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claim {
    /// The job's name.
    pub id: String,
    /// Where its files are.
    pub folder: PathBuf,
}

/// What is written down about a claim.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Facts {
    /// When the first of its files was seen in the inbox.
    pub(super) first_seen: String,
    /// The folder of the inbox it came from, relative to the inbox.
    from: Name,
    /// The files taken.
    files: Vec<Taken>,
    /// The folder's defaults that were copied.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) defaults: Option<Copied>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Taken {
    name: Name,
    signature: Signature,
}

/// A name as the file system has it: text where it is text, else its bytes.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(untagged)]
pub(super) enum Name {
    Text(String),
    Bytes(Vec<u8>),
}

impl From<&OsStr> for Name {
    fn from(name: &OsStr) -> Self {
        match name.to_str() {
            Some(text) => Self::Text(text.to_owned()),
            None => Self::Bytes(name.as_bytes().to_owned()),
        }
    }
}

impl Name {
    pub(super) fn as_os(&self) -> &OsStr {
        match self {
            Self::Text(text) => OsStr::new(text),
            Self::Bytes(bytes) => OsStr::from_bytes(bytes),
        }
    }

    /// Whether it leads on from a folder, never out of it nor to what is hidden in it.
    pub(super) fn leads_on(&self) -> bool {
        let name = self.as_os();
        let plain = |part: Component<'_>| matches!(part, Component::Normal(part) if !part.as_bytes().starts_with(b"."));
        !name.as_bytes().contains(&0) && Path::new(name).components().all(plain)
    }
}

impl Facts {
    /// The facts of a claim. Anybody may have written into the file of a refused job: names that lead out of the folder
    /// are none of ours.
    pub(super) fn read(claim: &Path) -> io::Result<Self> {
        let facts: Self = serde_json::from_slice(&fs::read(claim.join(FACTS))?)?;
        let defaults = facts.defaults.as_ref().is_none_or(Copied::leads_on);
        if defaults && facts.from.leads_on() && facts.files.iter().all(|taken| taken.name.leads_on()) {
            Ok(facts)
        } else {
            Err(io::Error::new(ErrorKind::InvalidData, "a name in the facts of a claim leads elsewhere"))
        }
    }

    /// Of a claim of which nothing lay in the inbox.
    pub(super) fn of_nothing() -> Self {
        Self {
            first_seen: clock::stamp(Instant::now()),
            from: OsStr::new("").into(),
            files: Vec::new(),
            defaults: None,
        }
    }

    /// The facts of other files that came with the same claim.
    pub(super) fn of_others(&self, files: &[PathBuf]) -> io::Result<Self> {
        let taken =
            |path: &PathBuf| Ok(Taken { name: file_name(path).into(), signature: Signature::of(path)? });
        Ok(Self {
            first_seen: self.first_seen.clone(),
            from: self.from.as_os().into(),
            files: files.iter().map(taken).collect::<io::Result<_>>()?,
            defaults: self.defaults.clone(),
        })
    }

    /// The folder of the inbox that the files lay in.
    pub(super) fn home(&self, incoming: &Path) -> PathBuf {
        incoming.join(self.from.as_os())
    }

    /// Whether every file still is what was taken. A rename does not stop a writer that holds the file open.
    pub(super) fn hold(&self, claim: &Path) -> bool {
        self.files.iter().all(|taken| {
            Signature::of(&claim.join(taken.name.as_os())).is_ok_and(|now| now.same_content(&taken.signature))
        })
    }
}

/// Moves a set into a claim of its own; undone if a file has changed or gone meanwhile.
pub(super) fn take(journal: &Journal, set: &SourceSet) -> io::Result<Claim> {
    let paths: Vec<&Path> =
        set.files.iter().map(|source| source.path.as_path()).chain(set.defaults.as_deref()).collect();
    let short = naming::short(&naming::digests(&paths)?);
    let (id, tmp) = journal.begin(&format!("{}-{short}", naming::safe_stem(&set.stem)))?;
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
    let taken = |source: &Source| Taken { name: file_name(&source.path).into(), signature: source.signature };
    let defaults =
        set.defaults.as_deref().map(|path| readable(path).map(|bytes| (path, bytes))).transpose()?;
    let copied = |(path, bytes): &(&Path, Vec<u8>)| Copied::of(path, bytes, &journal.folders.incoming);
    let facts = Facts {
        first_seen: clock::stamp(set.first_seen),
        from: folder.strip_prefix(&journal.folders.incoming).unwrap_or(Path::new("")).as_os_str().into(),
        files: set.files.iter().map(taken).collect(),
        defaults: defaults.as_ref().map(copied),
    };
    write_whole(&tmp.join(FACTS), &serde_json::to_vec(&facts)?)?;
    if let Some((path, bytes)) = &defaults {
        // Whole or not at all: half a copy would be taken for a mended one.
        write_whole(&tmp.join(file_name(path)), bytes)?;
    }
    let changed = || io::Error::new(ErrorKind::Interrupted, "a file changed while it was taken");
    for source in &set.files {
        if Signature::of(&source.path)? != source.signature {
            return Err(changed());
        }
        let to = tmp.join(file_name(&source.path));
        move_no_replace(&source.path, &to)?;
        if !Signature::of(&to)?.same_content(&source.signature) {
            return Err(changed());
        }
    }
    sync_contents(tmp)
}

fn file_name(path: &Path) -> &OsStr {
    path.file_name().unwrap_or_default()
}

/// Moves all that may be the maker's back to where the claim came from, whether it was taken with it or was laid beside
/// it since. Where a name was taken meanwhile, all get the same number, so that what belongs together stays together.
/// Without readable facts everything goes to the inbox itself. Returns the folder's defaults, if they were put back mended.
pub(super) fn put_back(tmp: &Path, incoming: &Path) -> io::Result<Option<PathBuf>> {
    let facts = facts_of(tmp)?;
    let home = facts.as_ref().map_or_else(|| incoming.to_owned(), |facts| facts.home(incoming));
    scatter(tmp)?;
    // Before the files whose defaults they are.
    let mended = mended(tmp, incoming)?.map(Mended::put).transpose()?;
    let names = visible_files(tmp)?;
    unshare(tmp)?;
    if !names.is_empty() {
        fs::create_dir_all(&home)?;
        sync_folder(incoming)?;
        move_together(tmp, &home, names)?;
    }
    remove_folder(tmp)?;
    Ok(mended)
}

/// The defaults among the files of a claim that are to be the folder's own; without readable facts there are none.
pub(super) fn mended(folder: &Path, incoming: &Path) -> io::Result<Option<Mended>> {
    facts_of(folder)?.map_or(Ok(None), |facts| Mended::of(folder, &facts, incoming))
}

/// The facts of a claim, if it has any that make sense.
fn facts_of(claim: &Path) -> io::Result<Option<Facts>> {
    use ErrorKind::{InvalidData, NotFound, UnexpectedEof};
    match Facts::read(claim) {
        Err(why) if matches!(why.kind(), NotFound | InvalidData | UnexpectedEof) => Ok(None),
        facts => facts.map(Some),
    }
}

/// What in a claim may be the maker's: not our facts, not a copy of the defaults, not our reasons.
fn visible_files(tmp: &Path) -> io::Result<Vec<OsString>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(tmp)? {
        let name = entry?.file_name();
        if !name.as_bytes().starts_with(b".") && !is_defaults_name(&name) && name != WHY {
            names.push(name);
        }
    }
    names.sort();
    Ok(names)
}

fn move_together(tmp: &Path, home: &Path, mut names: Vec<OsString>) -> io::Result<()> {
    for number in 1_u32.. {
        if any_there(names.iter().map(|name| home.join(numbered(name, number))))? {
            continue;
        }
        while let Some(name) = names.first() {
            match move_no_replace(&tmp.join(name), &home.join(numbered(name, number))) {
                // Somebody was quicker with that very name.
                Err(why) if why.kind() == ErrorKind::AlreadyExists => break,
                done => done?,
            }
            names.remove(0);
        }
        if names.is_empty() {
            break;
        }
    }
    Ok(())
}

/// `chart.png`, then `chart-2.png`, `chart-3.png` and so on; a name that gets too long by it is cut before the number.
pub(super) fn numbered(name: &OsStr, number: u32) -> OsString {
    if number < 2 {
        return name.to_owned();
    }
    let name = Path::new(name);
    let mut rest = OsString::from(format!("-{number}"));
    if let Some(ending) = name.extension() {
        rest.push(".");
        rest.push(ending);
    }
    let stem = name.file_stem().unwrap_or_default().as_bytes();
    let mut length = stem.len().min(LONGEST_NAME.saturating_sub(rest.len()));
    // Not within a letter.
    while stem.get(length).is_some_and(|byte| byte & 0xC0 == 0x80) {
        length -= 1;
    }
    let mut numbered = OsStr::from_bytes(stem.get(..length).unwrap_or_default()).to_owned();
    numbered.push(rest);
    numbered
}
