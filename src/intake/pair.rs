//! The files of one claim: which is the artwork, which its sidecar, which its folder's defaults.
//!
//! Whoever claims takes together what bears one stem, also sets that cannot be worked, so that each of those ends
//! as one refusal with all its files. What is wrong with a set is said here.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use seamwright_contract::Fault;

use super::names::{is_artwork_name, is_defaults_name, is_sidecar_name};

/// The files of one job, inside its claim folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sources {
    /// The picture.
    pub artwork: PathBuf,
    /// Its sidecar, if it has one.
    pub sidecar: Option<PathBuf>,
    /// Its folder's defaults, if the folder has any.
    pub defaults: Option<PathBuf>,
}

/// Sorts the files of a claim folder.
pub(super) fn pair(claim: &Path) -> Result<Sources, Fault> {
    sort(files(claim)?)
}

/// An artwork where it lies, with the sidecar of its stem and its folder's defaults.
pub(super) fn beside(artwork: &Path) -> Result<Sources, Fault> {
    let name = artwork.file_name().unwrap_or_default();
    if !is_artwork_name(name) {
        return Err(Fault::artwork(
            format!("{} does not have the name of a picture.", shown(artwork.file_name())),
            "Name a PNG, JPEG, TIFF, WebP, SVG or PDF file.",
        ));
    }
    if !artwork.is_file() {
        return Err(Fault::artwork(
            format!("There is no picture {}.", shown(Some(artwork.as_os_str()))),
            "Correct its name.",
        ));
    }
    let folder = artwork.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut found = files(folder)?;
    found.retain(|path| {
        let name = path.file_name().unwrap_or_default();
        is_defaults_name(name) || (is_sidecar_name(name) && path.file_stem() == artwork.file_stem())
    });
    found.push(artwork.to_owned());
    sort(found)
}

fn sort(files: Vec<PathBuf>) -> Result<Sources, Fault> {
    let mut artworks = Vec::new();
    let mut sidecars = Vec::new();
    let mut defaults = Vec::new();
    for path in files {
        let name = path.file_name().unwrap_or_default();
        if is_defaults_name(name) {
            defaults.push(path);
        } else if is_sidecar_name(name) {
            sidecars.push(path);
        } else if is_artwork_name(name) {
            artworks.push(path);
        }
    }
    // Artwork called `folder.png` has the defaults' name for its sidecar.
    match (&artworks[..], &sidecars[..]) {
        ([], []) => match defaults.first() {
            Some(alone) => Err(sidecar_alone(alone)),
            None => Err(Fault::defect("a claimed job holds no files")),
        },
        ([], [alone, ..]) => Err(sidecar_alone(alone)),
        ([_, _, ..], _) => Err(Fault::artwork(
            format!("There are several pictures for one order: {}.", list(&artworks)),
            "Keep one of them, or give each its own name and sidecar.",
        )),
        (_, [_, _, ..]) => Err(Fault::order(
            format!("There are several sidecars for one picture: {}.", list(&sidecars)),
            "Keep one of them.",
        )),
        ([artwork], []) if defaults.is_empty() => Err(artwork_alone(artwork)),
        ([artwork], sidecars) => Ok(Sources {
            artwork: artwork.clone(),
            sidecar: sidecars.first().cloned(),
            defaults: defaults.first().cloned(),
        }),
    }
}

/// The plain files of a folder by name; links and anything else are none.
fn files(claim: &Path) -> Result<Vec<PathBuf>, Fault> {
    let failed = |why: std::io::Error| {
        Fault::machine(
            format!("The job's folder cannot be read ({why})."),
            "Look at the disk and its rights.",
        )
    };
    let mut files = Vec::new();
    for entry in fs::read_dir(claim).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if fs::symlink_metadata(&path).map_err(failed)?.is_file() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

fn sidecar_alone(sidecar: &Path) -> Fault {
    let stem = shown(sidecar.file_stem());
    Fault::order(
        format!("The sidecar {} came without artwork.", shown(sidecar.file_name())),
        format!(
            "Save the picture beside it under the same name, for example {stem}.png, and the sidecar again."
        ),
    )
}

fn artwork_alone(artwork: &Path) -> Fault {
    let stem = shown(artwork.file_stem());
    Fault::order(
        format!(
            "The picture {} came without a sidecar, and its folder has no defaults.",
            shown(artwork.file_name())
        ),
        format!(
            "Save {stem}.yaml beside it with at least one line such as `blank: table-mat-36x24`, or a folder.yaml for \
             all pictures of the folder, and the picture again."
        ),
    )
}

fn list(paths: &[PathBuf]) -> String {
    paths.iter().map(|path| shown(path.file_name())).collect::<Vec<_>>().join(" and ")
}

/// A name as it may stand in a message: what is not a visible character is shown by its number.
pub(super) fn shown(name: Option<&OsStr>) -> String {
    let name = name.unwrap_or_default().to_string_lossy();
    name.chars().flat_map(|c| if c.is_control() { c.escape_unicode().collect() } else { vec![c] }).collect()
}
