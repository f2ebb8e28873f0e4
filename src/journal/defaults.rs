//! A folder's defaults in a claim: a copy, for the folder keeps its own. Of a refused job the maker may mend that copy, or lay
//! one beside the files. When they go back, it takes the place of the folder's own, unless that was changed meanwhile too.

use std::fs;
use std::io::{self, ErrorKind, Read as _};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::claim::{Facts, Name};
use super::files::{move_no_replace, open_plain, sync_folder};
use super::naming;
use crate::config::yaml::LONGEST_ORDER;
use crate::intake::is_defaults_name;

/// The folder's own, in a claim, when the mended copy is about to take its place.
const BEFORE: &str = ".folder-before.yaml";

/// Where the defaults of a claim lie in the inbox, and what the copy was when it was made.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Copied {
    /// From the inbox on.
    at: Name,
    sha256: String,
}

impl Copied {
    /// Of the defaults that lie there, as they were read.
    pub(super) fn of(defaults: &Path, bytes: &[u8], incoming: &Path) -> Self {
        let at = defaults.strip_prefix(incoming).unwrap_or(defaults);
        Self { at: at.as_os_str().into(), sha256: naming::digest_of(&[bytes]) }
    }

    /// Whether they lie in the inbox and are what they are called.
    pub(super) fn leads_on(&self) -> bool {
        let name = Path::new(self.at.as_os()).file_name();
        self.at.leads_on() && name.is_some_and(is_defaults_name)
    }
}

/// As much of a folder's defaults as anybody reads: longer ones are refused, and need not fill the disk before.
pub(super) fn readable(file: &Path) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    open_plain(file)?.take(LONGEST_ORDER + 1).read_to_end(&mut head)?;
    Ok(head)
}

fn digest(file: &Path) -> io::Result<String> {
    Ok(naming::digest_of(&[&readable(file)?]))
}

/// A copy that is to be the folder's own.
pub(super) struct Mended {
    copy: PathBuf,
    goal: PathBuf,
    /// What it takes the place of.
    own: Option<PathBuf>,
}

impl Mended {
    /// The one among the files of a claim; nothing where there is none, or the folder says the same already.
    ///
    /// # Errors
    /// Also where the folder's own is not what the copy was made of.
    pub(super) fn of(folder: &Path, facts: &Facts, incoming: &Path) -> io::Result<Option<Self>> {
        let Some(copy) = lying_in(folder)? else { return Ok(None) };
        let (copied, sum) = (facts.defaults.as_ref(), digest(&copy)?);
        if copied.is_some_and(|copied| copied.sha256 == sum) {
            return Ok(None);
        }
        let goal = match copied {
            Some(copied) => incoming.join(copied.at.as_os()),
            None => facts.home(incoming).join(copy.file_name().unwrap_or_default()),
        };
        let Some(own) = lying_in(goal.parent().unwrap_or(incoming))? else {
            return Ok(Some(Self { copy, goal, own: None }));
        };
        let now = digest(&own)?;
        if now == sum {
            Ok(None)
        } else if copied.is_some_and(|copied| copied.sha256 == now) {
            Ok(Some(Self { copy, goal: own.clone(), own: Some(own) }))
        } else {
            Err(changed_too(&own))
        }
    }

    /// Puts it there. The folder's own is moved out of its way, so that nothing is ever replaced; in between the folder has
    /// none, and its pictures wait. Returns where it is.
    pub(super) fn put(self) -> io::Result<PathBuf> {
        if let Some(own) = &self.own {
            move_no_replace(own, &self.copy.with_file_name(BEFORE))?;
        }
        if let Some(folder) = self.goal.parent() {
            fs::create_dir_all(folder)?;
            folder.parent().map_or(Ok(()), sync_folder)?;
        }
        move_no_replace(&self.copy, &self.goal)?;
        Ok(self.goal)
    }
}

fn changed_too(own: &Path) -> io::Error {
    let name = own.file_name().unwrap_or_default().to_string_lossy();
    let folder = own.parent().and_then(Path::file_name).unwrap_or_default().to_string_lossy();
    let why = format!(
        "its {name} was mended, and the one in {folder}/ is another by now; make the two alike, or take the mended one out"
    );
    io::Error::new(ErrorKind::AlreadyExists, why)
}

/// The defaults in a folder, if it is there and has any: of two, those that count.
fn lying_in(folder: &Path) -> io::Result<Option<PathBuf>> {
    let entries = match fs::read_dir(folder) {
        Err(why) if why.kind() == ErrorKind::NotFound => return Ok(None),
        entries => entries?,
    };
    let mut found = None;
    for entry in entries {
        let path = entry?.path();
        if path.file_name().is_some_and(is_defaults_name) {
            found = found.max(Some(path));
        }
    }
    Ok(found)
}
