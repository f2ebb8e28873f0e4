//! Compressed pieces that serve one job after another of the same artwork.

use std::collections::HashMap;
use std::mem;
use std::sync::{Arc, Mutex, PoisonError};

use seamwright_contract::picture::{Picture, Window};
use seamwright_contract::{Fault, num};
use seamwright_drawing::sheet::{Deflated, Piece, Press};

/// What makes a piece what it is.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    /// What its pixels, and those of the row above it, are made of.
    recipe: String,
    first: bool,
    mirrored: bool,
}

/// Pieces of the last job.
#[derive(Debug, Default)]
pub(crate) struct Kept(Mutex<Pieces>);

#[derive(Debug, Default)]
struct Pieces {
    /// Those of the last job.
    last: HashMap<Key, Arc<Deflated>>,
    /// Those of this job.
    now: HashMap<Key, Arc<Deflated>>,
    /// Bytes of both.
    bytes: u64,
}

impl Kept {
    /// A job begins: what the last one had no use for goes.
    pub(crate) fn begin(&self) {
        let mut pieces = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        pieces.last = mem::take(&mut pieces.now);
        pieces.bytes = pieces.last.values().map(|piece| size(piece)).sum();
    }

    /// A piece: the last job's, if it had the same, else compressed now, and kept where no more than `most` bytes are.
    pub(crate) fn piece(
        &self,
        press: &mut Press,
        picture: &dyn Picture,
        piece: Piece,
        mirrored: bool,
        most: u64,
    ) -> Result<Arc<Deflated>, Fault> {
        let above = u32::from(!piece.first);
        let Window { x, y, width, height } = piece.window;
        let seen = Window::new(x, y - above, width, height + above);
        let Some(recipe) = picture.recipe(seen) else {
            return press.compress(picture, piece, mirrored).map(Arc::new);
        };
        let key = Key { recipe, first: piece.first, mirrored };
        let pieces = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = pieces().reuse(&key) {
            return Ok(known);
        }
        let made = Arc::new(press.compress(picture, piece, mirrored)?);
        pieces().keep(key, &made, most);
        Ok(made)
    }
}

impl Pieces {
    fn reuse(&mut self, key: &Key) -> Option<Arc<Deflated>> {
        if let Some(piece) = self.now.get(key) {
            return Some(Arc::clone(piece));
        }
        let (key, piece) = self.last.remove_entry(key)?;
        self.now.insert(key, Arc::clone(&piece));
        Some(piece)
    }

    fn keep(&mut self, key: Key, piece: &Arc<Deflated>, most: u64) {
        let bytes = self.bytes.saturating_add(size(piece));
        if bytes <= most {
            self.bytes = bytes;
            self.now.insert(key, Arc::clone(piece));
        }
    }
}

fn size(piece: &Deflated) -> u64 {
    u64::from(num::count(piece.size()))
}
