//! An RGB picture in memory, and words on it.

use seamwright_contract::num;
use seamwright_contract::picture::Pixels;
use seamwright_drawing::Style;
use seamwright_drawing::font::Step;
use tiny_skia::{FillRule, Mask, PathBuilder, Transform};

/// An RGB picture.
#[derive(Debug, Clone)]
pub(crate) struct Raster {
    pub(crate) size: Pixels,
    /// Row by row, three bytes a pixel.
    pub(crate) pixels: Vec<u8>,
}

impl Raster {
    /// Of one colour.
    pub(crate) fn new(size: Pixels, colour: [u8; 3]) -> Self {
        Self { size, pixels: colour.repeat(num::index(size.width) * num::index(size.height)) }
    }

    /// The samples of a pixel; none beyond the picture.
    pub(crate) fn pixel(&mut self, x: u32, y: u32) -> &mut [u8] {
        let start = (num::index(y) * num::index(self.size.width) + num::index(x)) * 3;
        let inside = x < self.size.width;
        self.pixels.get_mut(start..start + 3).filter(|_| inside).unwrap_or_default()
    }

    /// Lays another picture over this one, its top left corner here; what reaches beyond is cut off.
    pub(crate) fn lay(&mut self, x: u32, y: u32, other: &Self) {
        let stride = num::index(other.size.width) * 3;
        let across = num::index(other.size.width.min(self.size.width.saturating_sub(x))) * 3;
        for (row, from) in (y..).zip(other.pixels.chunks_exact(stride.max(1))) {
            let start = (num::index(row) * num::index(self.size.width) + num::index(x)) * 3;
            if let (Some(to), Some(from)) = (self.pixels.get_mut(start..start + across), from.get(..across)) {
                to.copy_from_slice(from);
            }
        }
    }

    /// The same no longer than this on either side: each pixel the mean of those it stands for.
    pub(crate) fn within(&self, longest: u32) -> Self {
        let factor = self.size.width.max(self.size.height).div_ceil(longest.max(1)).max(1);
        let size = Pixels::new((self.size.width / factor).max(1), (self.size.height / factor).max(1));
        let mut small = Self::new(size, [0; 3]);
        let stride = num::index(self.size.width) * 3;
        let side = num::index(factor);
        for (row, line) in small.pixels.chunks_exact_mut(num::index(size.width) * 3).enumerate() {
            for (at, sample) in line.iter_mut().enumerate() {
                let (column, channel) = (at / 3 * side, at % 3);
                let lines = (row * side..(row + 1) * side)
                    .filter_map(|y| self.pixels.get(y * stride..(y + 1) * stride));
                let samples = lines.flat_map(|line| {
                    line.iter().skip(column * 3 + channel).step_by(3).take(side).copied().map(u32::from)
                });
                let (sum, count) = samples.fold((0, 0), |(sum, count), sample| (sum + sample, count + 1));
                *sample = u8::try_from((sum + count / 2) / count.max(1)).unwrap_or(u8::MAX);
            }
        }
        small
    }

    /// Writes a line of text in black: the left end of its baseline here, its letters so many pixels high.
    pub(crate) fn write(&mut self, x: u32, baseline: u32, height: f32, style: Style, text: &str) {
        let (width, rows) = (self.size.width, self.size.height);
        let mut path = PathBuilder::new();
        style.outline(text, height, |step| match step {
            Step::Move(to) => path.move_to(to[0], to[1]),
            Step::Line(to) => path.line_to(to[0], to[1]),
            Step::Quad(via, to) => path.quad_to(via[0], via[1], to[0], to[1]),
            Step::Cubic(via, then, to) => path.cubic_to(via[0], via[1], then[0], then[1], to[0], to[1]),
            Step::Close => path.close(),
        });
        let (Some(path), Some(mut mask)) = (path.finish(), Mask::new(width, rows)) else { return };
        let [x, y] = [x, baseline].map(|place| num::single(f64::from(place)));
        mask.fill_path(&path, FillRule::Winding, true, Transform::from_translate(x, y));
        for (pixel, cover) in self.pixels.chunks_exact_mut(3).zip(mask.data()) {
            for sample in pixel.iter_mut().filter(|_| *cover > 0) {
                let left = u16::from(*sample) * (255 - u16::from(*cover)) / 255;
                *sample = u8::try_from(left).unwrap_or(*sample);
            }
        }
    }
}
