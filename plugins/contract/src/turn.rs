//! Orientation: how stored rows have to be turned to stand upright, or a picture as its order wants it.
//!
//! The eight codes of Exif and TIFF (tag 274) are a transposition followed by flips. Pixels are not turned
//! ahead of time; a window is mapped back to the stored rows and turned on its way out.

use crate::num;
use crate::picture::{Pixels, Window};

/// From the upright picture back to the stored one: first swap columns and rows, then count from the far ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Turn {
    swap: bool,
    flip_x: bool,
    flip_y: bool,
}

impl Turn {
    /// None.
    pub const UPRIGHT: Self = Self { swap: false, flip_x: false, flip_y: false };
    /// A quarter clockwise.
    pub const QUARTER: Self = Self { swap: true, flip_x: false, flip_y: true };
    /// Upside down.
    pub const HALF: Self = Self { swap: false, flip_x: true, flip_y: true };
    /// A quarter counterclockwise.
    pub const BACK: Self = Self { swap: true, flip_x: true, flip_y: false };

    /// The turn of an orientation code; unknown codes are upright, as everywhere.
    #[must_use]
    pub fn from_code(code: u16) -> Self {
        let (swap, flip_x, flip_y) = match code {
            2 => (false, true, false),
            3 => (false, true, true),
            4 => (false, false, true),
            5 => (true, false, false),
            6 => (true, false, true),
            7 => (true, true, true),
            8 => (true, true, false),
            _ => (false, false, false),
        };
        Self { swap, flip_x, flip_y }
    }

    /// Whether rows become columns.
    #[must_use]
    pub fn is_sideways(self) -> bool {
        self.swap
    }

    /// Whether stored rows are upright already.
    #[must_use]
    pub fn upright(self) -> bool {
        self == Self::default()
    }

    /// The upright size of a stored one, and the other way round.
    #[must_use]
    pub fn size(self, size: Pixels) -> Pixels {
        if self.swap { Pixels::new(size.height, size.width) } else { size }
    }

    /// The stored window of an upright one that lies inside the picture of the stored size `whole`.
    #[must_use]
    pub fn stored(self, want: Window, whole: Pixels) -> Window {
        let mut window = if self.swap { Window::new(want.y, want.x, want.height, want.width) } else { want };
        if self.flip_x {
            window.x = whole.width.saturating_sub(window.x + window.width);
        }
        if self.flip_y {
            window.y = whole.height.saturating_sub(window.y + window.height);
        }
        window
    }

    /// The same of edges with fractions, left, top, right and bottom on an upright grid of this size.
    #[must_use]
    pub fn stored_edges(self, [left, top, right, bottom]: [f64; 4], grid: Pixels) -> [f64; 4] {
        let stored = self.size(grid);
        let (width, height) = (f64::from(stored.width), f64::from(stored.height));
        let [left, top, right, bottom] =
            if self.swap { [top, left, bottom, right] } else { [left, top, right, bottom] };
        let (left, right) = if self.flip_x { (width - right, width - left) } else { (left, right) };
        let (top, bottom) = if self.flip_y { (height - bottom, height - top) } else { (top, bottom) };
        [left, top, right, bottom]
    }

    /// Turns a stored block of `size` pixels, `samples` each, whose rows `row` gives, into `out`.
    pub fn put<'a, T: Copy + 'a>(
        self,
        size: Pixels,
        samples: usize,
        row: impl Fn(usize) -> &'a [T],
        out: &mut [T],
    ) {
        let (width, height) = (num::index(size.width), num::index(size.height));
        if width == 0 || height == 0 {
            return;
        }
        if self.swap {
            self.put_swapped(width, height, samples, row, out);
            return;
        }
        for (y, out) in out.chunks_exact_mut(width * samples).enumerate() {
            let from = row(if self.flip_y { height - 1 - y } else { y });
            if self.flip_x {
                for (to, from) in out.chunks_exact_mut(samples).zip(from.chunks_exact(samples).rev()) {
                    to.copy_from_slice(from);
                }
            } else {
                out.copy_from_slice(from);
            }
        }
    }

    /// Column by column, in blocks of rows that stay in the cache.
    fn put_swapped<'a, T: Copy + 'a>(
        self,
        width: usize,
        height: usize,
        samples: usize,
        row: impl Fn(usize) -> &'a [T],
        out: &mut [T],
    ) {
        const BLOCK: usize = 32;
        for first in (0..height).step_by(BLOCK) {
            let last = height.min(first + BLOCK);
            for (line, out) in out.chunks_exact_mut(height * samples).enumerate() {
                let x = if self.flip_x { width - 1 - line } else { line };
                for (across, to) in out.chunks_exact_mut(samples).enumerate().take(last).skip(first) {
                    let y = if self.flip_y { height - 1 - across } else { across };
                    if let Some(from) = row(y).get(x * samples..(x + 1) * samples) {
                        to.copy_from_slice(from);
                    }
                }
            }
        }
    }
}
