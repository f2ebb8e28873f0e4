//! Which files in the inbox are what, by their names alone.

use std::ffi::OsStr;
use std::path::Path;

/// The endings artwork has. What a file really is, its content decides.
const ARTWORK: [&str; 8] = ["png", "jpg", "jpeg", "tif", "tiff", "webp", "svg", "pdf"];

/// The endings sidecars have.
const SIDECAR: [&str; 2] = ["yaml", "yml"];

/// The ending of order lists.
const LIST: [&str; 1] = ["csv"];

/// Endings of files that are still being written, or that an editor keeps for itself.
const UNFINISHED: [&str; 10] =
    ["~", ".tmp", ".temp", ".part", ".partial", ".crdownload", ".download", ".swp", ".swx", ".filepart"];

/// What systems leave lying in folders.
const LITTER: [&str; 3] = ["thumbs.db", "desktop.ini", "__macosx"];

/// The stem of the sidecar that holds a folder's defaults.
pub const FOLDER: &str = "folder";

/// Whether a file of this name may be artwork.
#[must_use]
pub fn is_artwork_name(name: &OsStr) -> bool {
    ends_in(name, &ARTWORK) && !is_ignored(name)
}

/// Whether a file of this name may be a sidecar or a folder's defaults.
#[must_use]
pub fn is_sidecar_name(name: &OsStr) -> bool {
    ends_in(name, &SIDECAR) && !is_ignored(name)
}

/// Whether a file of this name may be an order list.
#[must_use]
pub fn is_list_name(name: &OsStr) -> bool {
    ends_in(name, &LIST) && !is_ignored(name)
}

/// Whether a file of this name holds a folder's defaults: `folder.yaml`.
#[must_use]
pub fn is_defaults_name(name: &OsStr) -> bool {
    is_sidecar_name(name) && Path::new(name).file_stem() == Some(OsStr::new(FOLDER))
}

/// Whether a file or folder of this name is passed over in silence.
#[must_use]
pub fn is_ignored(name: &OsStr) -> bool {
    let name = name.to_string_lossy().to_lowercase();
    // A dot also stands before what other systems leave: `.DS_Store`, `._chart.png`, `.fuse_hidden…`, `.nfs…`.
    name.starts_with('.')
        || name.starts_with("~$")
        || UNFINISHED.iter().any(|ending| name.ends_with(ending))
        || LITTER.contains(&name.as_str())
}

fn ends_in(name: &OsStr, endings: &[&str]) -> bool {
    let ending = Path::new(name).extension().and_then(OsStr::to_str);
    ending.is_some_and(|ending| endings.iter().any(|known| known.eq_ignore_ascii_case(ending)))
}

/// Whether a text is the name of a file and nothing more: no way through folders, nothing hidden, nothing that is
/// not a visible character.
pub(crate) fn is_bare_name(text: &str) -> bool {
    !text.is_empty()
        && !text.starts_with('.')
        && !text.contains(['/', '\\', ':'])
        && !text.chars().any(char::is_control)
        && Path::new(text).file_name() == Some(OsStr::new(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_decide_and_case_does_not() {
        for name in [
            "chart.png",
            "CHART.PNG",
            "a b.Jpeg",
            "x.tif",
            "x.TIFF",
            "é.webp",
            "-rf.jpg",
            "moon.SVG",
            "tides.pdf",
        ] {
            assert!(is_artwork_name(OsStr::new(name)), "{name}");
        }
        for name in
            ["chart", "png", ".png", "chart.png.part", "chart.gif", "chart.png~", "chart.yaml", "._chart.png"]
        {
            assert!(!is_artwork_name(OsStr::new(name)), "{name}");
        }
        for name in ["chart.yaml", "chart.YML", "folder.yaml"] {
            assert!(is_sidecar_name(OsStr::new(name)), "{name}");
        }
        assert!(is_list_name(OsStr::new("Visitors.CSV")) && !is_list_name(OsStr::new(".csv")));
        assert!(is_defaults_name(OsStr::new("folder.yml")));
        assert!(!is_defaults_name(OsStr::new("my-folder.yml")));
    }

    #[test]
    fn what_others_leave_is_passed_over() {
        for name in [
            ".claimed",
            "~$chart.png",
            "a.png~",
            "a.TMP",
            "a.png.crdownload",
            "Thumbs.db",
            "desktop.ini",
            ".DS_Store",
            "._a.png",
            "__MACOSX",
            ".fuse_hidden0001",
            ".nfs0001",
            "a.png.swp",
            "a.filepart",
        ] {
            assert!(is_ignored(OsStr::new(name)), "{name}");
        }
        assert!(!is_ignored(OsStr::new("chart.png")));
    }

    #[test]
    fn bare_names_lead_nowhere() {
        assert!(is_bare_name("chart two.png"));
        for name in [
            "",
            ".",
            "..",
            "../a.png",
            "/etc/passwd",
            "a/b.png",
            "a\\b.png",
            "c:a.png",
            "a\nb.png",
            "a/",
            ".a.png",
        ] {
            assert!(!is_bare_name(name), "{name:?}");
        }
    }
}
