//! The pressed part of the test print as one picture: crops of the artwork and flat patches on bare ground.
//!
//! It is a picture on the sheets' own grid, in the artwork's own format, so that it takes the very way to paper that the
//! sheets take: the same values, the same profile, the same mirroring.

use std::sync::Arc;

use seamwright_contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, num};

use crate::patches::Ink;

/// What is seen in one part of the scrap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Content {
    /// The artwork from this column and row on.
    Crop {
        /// Column.
        x: u32,
        /// Row.
        y: u32,
    },
    /// One colour.
    Flat(Ink),
}

/// A part of the scrap; parts do not overlap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Part {
    /// Where it lies, in pixels of the scrap.
    pub(crate) window: Window,
    /// What is seen there.
    pub(crate) content: Content,
}

/// The scrap, face up.
#[derive(Debug)]
pub(crate) struct Scrap {
    pub(crate) size: Pixels,
    pub(crate) artwork: Arc<dyn Picture>,
    pub(crate) parts: Vec<Part>,
}

impl Picture for Scrap {
    fn size(&self) -> Pixels {
        self.size
    }

    fn format(&self) -> Format {
        self.artwork.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        if !want.within(self.size) {
            return Err(Fault::defect(format!("{want:?} is asked of a test print of {:?}.", self.size)));
        }
        out.reset(want.size(), self.format());
        let mut crop = Band::empty();
        for part in &self.parts {
            let Some(seen) = part.window.shared(want) else { continue };
            let to = Window { x: seen.x - want.x, y: seen.y - want.y, ..seen };
            match part.content {
                Content::Flat(ink) => flood(out, to, ink),
                Content::Crop { x, y } => {
                    let (x, y) = (x + seen.x - part.window.x, y + seen.y - part.window.y);
                    self.artwork.fill(Window { x, y, ..seen }, &mut crop)?;
                    lay(out, to, &crop);
                }
            }
        }
        Ok(())
    }

    fn reduced(&self, _size: Pixels) -> Result<Band, Fault> {
        Err(Fault::defect("a test print is only ever printed."))
    }
}

/// Gives a window of a band one colour.
fn flood(band: &mut Band, window: Window, ink: Ink) {
    let channels = band.format().channels.count();
    let rows = rows(band, window);
    for row in rows {
        match &mut band.samples {
            Samples::Eight(samples) => {
                let pixels = samples.get_mut(row).unwrap_or_default().chunks_exact_mut(channels);
                pixels.for_each(|pixel| pixel.iter_mut().zip(ink).for_each(|(to, sample)| *to = sample));
            }
            Samples::Sixteen(samples) => {
                let pixels = samples.get_mut(row).unwrap_or_default().chunks_exact_mut(channels);
                let wide = ink.map(num::widen);
                pixels.for_each(|pixel| pixel.iter_mut().zip(wide).for_each(|(to, sample)| *to = sample));
            }
        }
    }
}

/// Puts a band of the same format into a window of its size.
fn lay(band: &mut Band, window: Window, crop: &Band) {
    let stride = crop.stride().max(1);
    for (row, at) in rows(band, window).zip(0..) {
        let from = at * stride..(at + 1) * stride;
        match (&mut band.samples, &crop.samples) {
            (Samples::Eight(to), Samples::Eight(samples)) => copy(to.get_mut(row), samples.get(from)),
            (Samples::Sixteen(to), Samples::Sixteen(samples)) => copy(to.get_mut(row), samples.get(from)),
            // A picture gives its pixels in its own format.
            (Samples::Eight(_), Samples::Sixteen(_)) | (Samples::Sixteen(_), Samples::Eight(_)) => {}
        }
    }
}

fn copy<T: Copy>(to: Option<&mut [T]>, from: Option<&[T]>) {
    if let (Some(to), Some(from)) = (to, from) {
        to.iter_mut().zip(from).for_each(|(to, from)| *to = *from);
    }
}

/// Where each row of a window lies in a band's samples.
fn rows(band: &Band, window: Window) -> impl Iterator<Item = std::ops::Range<usize>> + use<> {
    let (stride, channels) = (band.stride(), band.format().channels.count());
    let (left, width) = (num::index(window.x) * channels, num::index(window.width) * channels);
    (window.y..window.y + window.height).map(move |y| {
        let start = num::index(y) * stride + left;
        start..start + width
    })
}
