//! A part of a picture, turned.

use std::sync::Arc;

use seamwright_contract::picture::{Band, Format, Picture, Pixels, Place, Samples, Window};
use seamwright_contract::turn::Turn;
use seamwright_contract::{Fault, num};

/// Lays a band's pixels, turned, on one that has its size once it is turned.
fn lay(turn: Turn, from: &Band, out: &mut Band) {
    fn samples<T: Copy>(turn: Turn, from: &[T], (size, each): (Pixels, usize), out: &mut [T]) {
        let stride = num::index(size.width) * each;
        turn.put(size, each, |row| from.get(row * stride..(row + 1) * stride).unwrap_or_default(), out);
    }
    let form = (from.size(), from.format().channels.count());
    match (&from.samples, &mut out.samples) {
        (Samples::Eight(from), Samples::Eight(out)) => samples(turn, from, form, out),
        (Samples::Sixteen(from), Samples::Sixteen(out)) => samples(turn, from, form, out),
        _ => {}
    }
}

/// A part of a turned picture.
#[derive(Debug)]
pub(crate) struct Framed {
    source: Arc<dyn Picture>,
    turn: Turn,
    /// The shares cut off at the left, top, right and bottom.
    cut: [f64; 4],
    /// What is left, in pixels of the turned picture.
    part: Window,
}

impl Framed {
    /// Of a picture, turned, with these shares cut off at its left, top, right and bottom.
    pub(crate) fn new(source: Arc<dyn Picture>, turn: Turn, cut: [f64; 4]) -> Self {
        let part = part(turn.size(source.size()), cut);
        Self { source, turn, cut, part }
    }
}

/// What shares leave of a size, to the nearest pixel; one at least.
fn part(whole: Pixels, [left, top, right, bottom]: [f64; 4]) -> Window {
    let along = |side: u32, before: f64, after: f64| {
        let at = |share: f64| num::pixels((f64::from(side) * share).round());
        let first = at(before).min(side.saturating_sub(1));
        (first, at(1.0 - after).clamp(first + 1, side.max(first + 1)) - first)
    };
    let ((x, width), (y, height)) = (along(whole.width, left, right), along(whole.height, top, bottom));
    Window::new(x, y, width, height)
}

impl Picture for Framed {
    fn size(&self) -> Pixels {
        self.part.size()
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size())?;
        let turned = Window { x: want.x + self.part.x, y: want.y + self.part.y, ..want };
        let back = self.turn.stored(turned, self.source.size());
        if self.turn.upright() {
            return self.source.fill(back, out);
        }
        let mut from = Band::empty();
        self.source.fill(back, &mut from)?;
        out.reset(want.size(), self.format());
        lay(self.turn, &from, out);
        Ok(())
    }

    /// Of all of the picture, reduced so that the part comes out in about this size, the pixels nearest to it.
    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let (own, part) = (self.turn.size(self.source.size()), self.part);
        let whole = |own: u32, part: u32, to: u32| {
            num::pixels((f64::from(own) * f64::from(to) / f64::from(part.max(1))).round())
                .clamp(to.min(own), own)
        };
        let whole = Pixels::new(
            whole(own.width, part.width, size.width),
            whole(own.height, part.height, size.height),
        );
        let small = self.source.reduced(self.turn.size(whole))?;
        let mut turned = Band::bare(whole, self.format());
        lay(self.turn, &small, &mut turned);
        let first = |at: u32, own: u32, whole: u32, to: u32| {
            let at = num::pixels((f64::from(at) * f64::from(whole) / f64::from(own.max(1))).round());
            at.min(whole.saturating_sub(to))
        };
        let x = first(part.x, own.width, whole.width, size.width);
        let y = first(part.y, own.height, whole.height, size.height);
        let mut out = Band::bare(size, self.format());
        cut_out(&turned, (x, y), &mut out);
        Ok(out)
    }

    fn drawn(&self, place: &Place) -> Result<Option<Arc<dyn Picture>>, Fault> {
        // All of the turned drawing, of which the frame shows a part.
        let [left, top, right, bottom] = place.edges;
        let [off_left, off_top, off_right, off_bottom] = self.cut;
        let across = (right - left) / (1.0 - off_left - off_right);
        let down = (bottom - top) / (1.0 - off_top - off_bottom);
        let (x, y) = (left - off_left * across, top - off_top * down);
        let edges = self.turn.stored_edges([x, y, x + across, y + down], place.grid);
        let Some(drawn) = self.source.drawn(&Place { grid: self.turn.size(place.grid), edges })? else {
            return Ok(None);
        };
        let turned = Self::new(drawn, self.turn, [0.0; 4]);
        Ok(Some(if self.cut.iter().any(|share| *share > 0.0) {
            Arc::new(Shown { shown: shown(place), source: turned })
        } else {
            Arc::new(turned)
        }))
    }

    fn recipe(&self, of: Window) -> Option<String> {
        let all = self.source.recipe(Window::whole(self.source.size()))?;
        Some(format!("{of:?} of {:?} {:?}, {all}", self.part, self.turn))
    }
}

/// A picture that is bare but for a part.
#[derive(Debug)]
struct Shown {
    source: Framed,
    shown: Window,
}

/// The pixels of a place that show anything of what lies on it.
fn shown(place: &Place) -> Window {
    let [left, top, right, bottom] = place.edges;
    let first = |edge: f64, most: u32| num::pixels(edge.floor()).min(most);
    let last = |edge: f64, most: u32| num::pixels(edge.ceil()).min(most);
    let (x, y) = (first(left, place.grid.width), first(top, place.grid.height));
    let (right, bottom) = (last(right, place.grid.width), last(bottom, place.grid.height));
    Window::new(x, y, right.saturating_sub(x), bottom.saturating_sub(y))
}

impl Picture for Shown {
    fn size(&self) -> Pixels {
        self.source.size()
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        let Some(seen) = self.shown.shared(want) else {
            out.reset(want.size(), self.format());
            return Ok(());
        };
        if seen == want {
            return self.source.fill(want, out);
        }
        let mut part = Band::empty();
        self.source.fill(seen, &mut part)?;
        out.reset(want.size(), self.format());
        lay_on(&part, out, (seen.x - want.x, seen.y - want.y));
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let (small, own) = (self.source.reduced(size)?, self.size());
        let to = |at: u32, own: u32, small: u32| f64::from(at) * f64::from(small) / f64::from(own.max(1));
        let Window { x, y, width, height } = self.shown;
        let edges = [
            to(x, own.width, size.width),
            to(y, own.height, size.height),
            to(x + width, own.width, size.width),
            to(y + height, own.height, size.height),
        ];
        let seen = shown(&Place { grid: size, edges });
        let mut part = Band::bare(seen.size(), self.format());
        cut_out(&small, (seen.x, seen.y), &mut part);
        let mut out = Band::bare(size, self.format());
        lay_on(&part, &mut out, (seen.x, seen.y));
        Ok(out)
    }

    fn recipe(&self, of: Window) -> Option<String> {
        Some(format!("within {:?}, {}", self.shown, self.source.recipe(of)?))
    }
}

/// Fills `out` with what lies from a column and row on.
fn cut_out(from: &Band, at: (u32, u32), out: &mut Band) {
    move_rows(from, out, at, (0, 0));
}

/// Lays all of a band on another from a column and row on.
fn lay_on(from: &Band, out: &mut Band, at: (u32, u32)) {
    move_rows(from, out, (0, 0), at);
}

/// Copies rows from one place to another, as wide as both are from there.
fn move_rows(from: &Band, out: &mut Band, (x, y): (u32, u32), (to_x, to_y): (u32, u32)) {
    fn each<T: Copy>(from: &[T], strides: [usize; 2], first: [usize; 2], wide: usize, out: &mut [T]) {
        for (from, to) in from.chunks_exact(strides[0].max(1)).zip(out.chunks_exact_mut(strides[1].max(1))) {
            let from = from.get(first[0]..first[0] + wide);
            if let (Some(from), Some(to)) = (from, to.get_mut(first[1]..first[1] + wide)) {
                to.copy_from_slice(from);
            }
        }
    }
    let channels = from.format().channels.count();
    let strides = [from.stride(), out.stride()];
    let first = [num::index(x) * channels, num::index(to_x) * channels];
    let wide = strides[0].saturating_sub(first[0]).min(strides[1].saturating_sub(first[1]));
    let (skip, to_skip) = (num::index(y) * strides[0], num::index(to_y) * strides[1]);
    match (&from.samples, &mut out.samples) {
        (Samples::Eight(from), Samples::Eight(out)) => {
            let out = out.get_mut(to_skip..).unwrap_or_default();
            each(from.get(skip..).unwrap_or_default(), strides, first, wide, out);
        }
        (Samples::Sixteen(from), Samples::Sixteen(out)) => {
            let out = out.get_mut(to_skip..).unwrap_or_default();
            each(from.get(skip..).unwrap_or_default(), strides, first, wide, out);
        }
        _ => {}
    }
}
