//! The studio's folders, and that none of them feeds its own results back into the inbox.

use std::path::{Path, PathBuf};

use seamwright_contract::settings::{Node, Read};

/// The folders of one studio. They need not be there yet, except for `root`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folders {
    /// The studio.
    pub root: PathBuf,
    /// Where artwork and sidecars are saved.
    pub incoming: PathBuf,
    /// Where finished jobs appear.
    pub outgoing: PathBuf,
    /// Where jobs that cannot be done appear.
    pub refused: PathBuf,
    /// Where the sources of finished jobs stay.
    pub kept: PathBuf,
}

impl Folders {
    /// The folders in `root`.
    pub(super) fn of(root: &Path) -> Self {
        Self {
            root: root.to_owned(),
            incoming: root.join("incoming"),
            outgoing: root.join("outgoing"),
            refused: root.join("refused"),
            kept: root.join("kept"),
        }
    }

    /// The folders of the studio named at `node`, relative to `base`.
    pub(super) fn read(node: &Node<'_>, base: &Path) -> Option<Self> {
        let typed = String::read(node)?;
        let root = base.join(&typed);
        let real = match root.canonicalize() {
            Ok(real) if real.is_dir() => real,
            Ok(_) => {
                node.complain(format!("'{typed}' is a file"), "Name the studio's folder here.");
                return None;
            }
            Err(why) => {
                node.complain(
                    format!("the studio's folder '{}' cannot be opened ({why})", root.display()),
                    "Make the folder, or correct its name here; it is relative to this file.",
                );
                return None;
            }
        };
        let folders = Self::of(&real);
        folders.apart(node).then_some(folders)
    }

    /// Whether results stay out of the inbox; complains where one would lead into it by way of a link.
    fn apart(&self, node: &Node<'_>) -> bool {
        // What is not there yet will be made where it is named.
        let real = |folder: &PathBuf| folder.canonicalize().unwrap_or_else(|_| folder.clone());
        let incoming = real(&self.incoming);
        let results = [
            ("outgoing", real(&self.outgoing)),
            ("refused", real(&self.refused)),
            ("kept", real(&self.kept)),
        ];
        let mut apart = true;
        for (i, (name, folder)) in results.iter().enumerate() {
            if folder.starts_with(&incoming) {
                apart = false;
                node.complain(
                    format!("{name}/ leads into incoming/, so results would come back as new artwork"),
                    &*format!("Let {name}/ be a folder of its own outside incoming/."),
                );
            }
            if let Some((other, _)) = results.iter().take(i).find(|(_, other)| other == folder) {
                apart = false;
                node.complain(
                    format!("{name}/ and {other}/ are the same folder"),
                    "Let each be a folder of its own.",
                );
            }
        }
        apart
    }
}
