//! What the loop works next.

use std::path::PathBuf;

use super::task::Kin;
use crate::journal::{Claim, SourceSet, Waiting};
use crate::watch::Place;

/// A job to start.
pub(super) enum Next {
    Set(SourceSet),
    Row(Waiting),
    Claim(Claim),
}

impl Next {
    /// The first file or folder of what is yet to be taken.
    pub(super) fn first(&self) -> Option<PathBuf> {
        match self {
            Self::Set(set) => set.files.first().map(|source| source.path.clone()),
            Self::Row(row) => Some(row.path.clone()),
            Self::Claim(_) => None,
        }
    }

    /// Those it is probably of the same artwork with: other rows of its list, and files as long as the longest of its own.
    pub(super) fn kin(&self) -> Option<Kin> {
        match self {
            Self::Set(set) => set.files.iter().map(|source| source.signature.size).max().map(Kin::Bytes),
            Self::Row(row) => Some(Kin::Rows(row.group.clone())),
            Self::Claim(_) => None,
        }
    }

    /// Whether the maker put it before all others.
    pub(super) fn is_first(&self) -> bool {
        match self {
            Self::Set(set) => set.place == Place::First,
            Self::Row(row) => row.place == Place::First,
            Self::Claim(_) => false,
        }
    }
}
