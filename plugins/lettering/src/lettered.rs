//! A picture with lettering over it, drawn where it is asked for.
//!
//! Each layer of letters is of one colour, so only how much of each pixel it covers is drawn, and that colour is mixed into
//! the picture's own samples, whatever they mean. Cover is drawn in tiles that lie fast on the grid: cut off elsewhere,
//! curves come out a little otherwise, and a pixel must look the same from every window. The last tiles are kept.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use resvg::tiny_skia::{FillRule, Mask, Path, Transform};
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::survey::{Survey, Wish};
use seamwright_contract::{Fault, num};

use crate::survey;

/// The side of a tile, in pixels.
const TILE: u32 = 128;
/// The most tiles of a layer that are kept, 16 KiB each.
const KEPT: usize = 512;

/// Letters of one colour.
#[derive(Debug)]
pub(crate) struct Layer {
    /// Their outlines, in millimetres of the face; all are filled.
    paths: Vec<Path>,
    /// Left, top, right and bottom of what they cover, in millimetres.
    bounds: [f64; 4],
    /// The colour in the picture's samples, 16 bits each.
    colour: Vec<u16>,
    /// Tiles by their column and row.
    tiles: Mutex<HashMap<[u32; 2], Arc<Mask>>>,
}

/// A picture of a design, lettered.
#[derive(Debug)]
pub(crate) struct Lettered {
    source: Arc<dyn Picture>,
    /// Micrometres a pixel.
    pitch_um: f64,
    layers: Vec<Layer>,
}

impl Lettered {
    /// A design's picture with its pixels so wide, and layers over it, the lowest first.
    pub(crate) fn new(source: Arc<dyn Picture>, pitch_um: f64, layers: Vec<Layer>) -> Self {
        Self { source, pitch_um, layers }
    }

    /// Pixels to the millimetre.
    fn scale(&self) -> f64 {
        1000.0 / self.pitch_um
    }

    /// Draws what lies in a window of the design.
    fn draw(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        let scale = [self.scale(); 2];
        for layer in &self.layers {
            let Some(part) = layer.window(scale, self.size()).shared(want) else { continue };
            for row in part.y / TILE..(part.y + part.height).div_ceil(TILE) {
                for column in part.x / TILE..(part.x + part.width).div_ceil(TILE) {
                    let tile = Window::new(column * TILE, row * TILE, TILE, TILE);
                    let Some(shown) = tile.shared(part) else { continue };
                    let cover = layer.tile([column, row], tile, scale)?;
                    mix(&cover, tile, shown, &layer.colour, want, out);
                }
            }
        }
        Ok(())
    }
}

impl Layer {
    pub(crate) fn new(paths: Vec<Path>, bounds: [f64; 4], colour: Vec<u16>) -> Self {
        Self { paths, bounds, colour, tiles: Mutex::default() }
    }

    /// The pixels it reaches, within so many.
    fn window(&self, [across, down]: [f64; 2], within: Pixels) -> Window {
        let [left, top, right, bottom] = self.bounds;
        let first = |edge: f64| num::pixels(edge.floor());
        let x = first(left * across).saturating_sub(1).min(within.width);
        let y = first(top * down).saturating_sub(1).min(within.height);
        let beyond = |edge: f64| num::pixels(edge.ceil()).saturating_add(1);
        let (right, bottom) =
            (beyond(right * across).min(within.width), beyond(bottom * down).min(within.height));
        Window::new(x, y, right.saturating_sub(x), bottom.saturating_sub(y))
    }

    fn tile(&self, at: [u32; 2], tile: Window, scale: [f64; 2]) -> Result<Arc<Mask>, Fault> {
        let kept = || self.tiles.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(cover) = kept().get(&at) {
            return Ok(Arc::clone(cover));
        }
        let cover = Arc::new(self.cover(scale, tile)?);
        let mut kept = kept();
        if kept.len() >= KEPT {
            kept.clear();
        }
        kept.insert(at, Arc::clone(&cover));
        Ok(cover)
    }

    /// How much of each pixel of a window it covers.
    fn cover(&self, [across, down]: [f64; 2], part: Window) -> Result<Mask, Fault> {
        let mut cover = Mask::new(part.width, part.height)
            .ok_or_else(|| Fault::defect(format!("lettering cannot be drawn in {part:?}")))?;
        let [x, y] = [part.x, part.y].map(|edge| -num::single(f64::from(edge)));
        let to = Transform::from_row(num::single(across), 0.0, 0.0, num::single(down), x, y);
        for path in &self.paths {
            cover.fill_path(path, FillRule::Winding, true, to);
        }
        Ok(cover)
    }
}

impl Picture for Lettered {
    fn size(&self) -> Pixels {
        self.source.size()
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        self.source.fill(want, out)?;
        self.draw(want, out)
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let mut band = self.source.reduced(size)?;
        let (own, size) = (self.size(), band.size());
        let scale = |own: u32, small: u32| self.scale() * f64::from(small) / f64::from(own.max(1));
        let scale = [scale(own.width, size.width), scale(own.height, size.height)];
        for layer in &self.layers {
            let part = layer.window(scale, size);
            if part.size().count() > 0 {
                mix(&layer.cover(scale, part)?, part, part, &layer.colour, Window::whole(size), &mut band);
            }
        }
        Ok(band)
    }

    /// As of the picture below, and counted anew where letters are.
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        let mut survey = self.source.survey(wish)?;
        let lettered = self.layers.iter().map(|layer| layer.window([self.scale(); 2], self.size()));
        survey::renew(&mut survey, self, &lettered.collect::<Vec<_>>(), wish)?;
        Ok(survey)
    }

    /// Where no letter is, the picture below is all there is to see.
    fn recipe(&self, of: Window) -> Option<String> {
        let lettered = |layer: &Layer| layer.window([self.scale(); 2], self.size()).shared(of).is_some();
        if self.layers.iter().any(lettered) { None } else { self.source.recipe(of) }
    }
}

/// Mixes a colour into the pixels of `shown`, each by how much of it is covered; `out` is the window `want`, and `cover` that
/// of `drawn`.
fn mix(cover: &Mask, drawn: Window, shown: Window, colour: &[u16], want: Window, out: &mut Band) {
    let each = out.format().channels.count();
    let stride = out.stride();
    let span = |from: u32, each: usize| {
        let first = num::index(shown.x - from) * each;
        first..first + num::index(shown.width) * each
    };
    let covered = cover.data().chunks_exact(num::index(drawn.width).max(1));
    let covered = covered.skip(num::index(shown.y - drawn.y)).take(num::index(shown.height));
    let covered = covered.map(|row| row.get(span(drawn.x, 1)).unwrap_or_default());
    let first = num::index(shown.y - want.y);
    match &mut out.samples {
        Samples::Eight(samples) => {
            let colour: Vec<u8> = colour.iter().map(|sample| num::narrow(*sample)).collect();
            let rows = samples.chunks_exact_mut(stride.max(1)).skip(first);
            rows.zip(covered).for_each(|(row, cover)| mix_row(row, span(want.x, each), cover, &colour));
        }
        Samples::Sixteen(samples) => {
            let rows = samples.chunks_exact_mut(stride.max(1)).skip(first);
            rows.zip(covered).for_each(|(row, cover)| mix_row(row, span(want.x, each), cover, colour));
        }
    }
}

fn mix_row<T: Copy + Into<u32> + TryFrom<u32>>(
    row: &mut [T],
    span: std::ops::Range<usize>,
    cover: &[u8],
    colour: &[T],
) {
    let pixels = row.get_mut(span).unwrap_or_default().chunks_exact_mut(colour.len().max(1));
    for (pixel, part) in pixels.zip(cover).filter(|(_, part)| **part > 0) {
        let part = u32::from(*part);
        for (sample, colour) in pixel.iter_mut().zip(colour) {
            let mixed = ((*sample).into() * (255 - part) + (*colour).into() * part + 127) / 255;
            // Between two samples there is always one.
            if let Ok(mixed) = T::try_from(mixed) {
                *sample = mixed;
            }
        }
    }
}
