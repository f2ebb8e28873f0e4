//! The arithmetic of scaling one window, and the buffers that each thread keeps for it.
//!
//! All of it is done in 16 bits: in 8 bits the library's coefficients are as coarse as the window's largest one
//! allows, and windows of the same place could differ by 2 of 255.

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use seamwright_contract::picture::{Band, Channels, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, num};

use crate::axis::{Axis, length};
use crate::rows::{Frame, framed};

/// Buffers kept from window to window.
#[derive(Debug)]
pub(crate) struct Work {
    resizer: Resizer,
    /// What the source gave.
    pub(crate) source: Band,
    /// A scaled part, before it is laid over a bare window.
    pub(crate) part: Band,
    /// What is scaled: the source's window in 16 bits, its edges repeated where the kernel reaches beyond them.
    fine: Vec<u16>,
    /// The result in 16 bits.
    result: Vec<u16>,
}

impl Default for Work {
    fn default() -> Self {
        Self {
            resizer: Resizer::new(),
            source: Band::empty(),
            part: Band::empty(),
            fine: Vec::new(),
            result: Vec::new(),
        }
    }
}

impl Work {
    /// Scales the part of `source` that lies under the grid pixels of `out`, the first of them at `first`.
    pub(crate) fn scale(
        &mut self,
        source: &dyn Picture,
        [across, down]: [&Axis; 2],
        first: (u32, u32),
        out: &mut Band,
    ) -> Result<(), Fault> {
        let target = out.size();
        let needed_x = across.needed(&(first.0..first.0 + target.width));
        let needed_y = down.needed(&(first.1..first.1 + target.height));
        let (x, left, right) = across.inside(&needed_x);
        let (y, top, bottom) = down.inside(&needed_y);
        source.fill(Window::new(x.start, y.start, length(&x), length(&y)), &mut self.source)?;
        framed(&self.source, Frame { left, right, top, bottom }, &mut self.fine);
        let fine = Pixels::new(length(&x) + num::count(left + right), length(&y) + num::count(top + bottom));
        let crop = [
            across.from(first.0) - num::float(needed_x.start),
            down.from(first.1) - num::float(needed_y.start),
            across.scale * f64::from(target.width),
            down.scale * f64::from(target.height),
        ];
        self.resize(fine, crop, out)
    }

    fn resize(
        &mut self,
        source: Pixels,
        [x, y, width, height]: [f64; 4],
        out: &mut Band,
    ) -> Result<(), Fault> {
        let (kind, target) = (pixel_type(out.format().channels), out.size());
        let wrong = |e: &dyn std::fmt::Display| {
            Fault::defect(format!("scaling {source:?} to {target:?} failed: {e}"))
        };
        let options = ResizeOptions::new()
            .resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3))
            .crop(x, y, width, height)
            .use_alpha(false);
        let result = match &mut out.samples {
            Samples::Eight(samples) => {
                self.result.resize(samples.len(), 0);
                &mut self.result
            }
            Samples::Sixteen(samples) => samples,
        };
        let view = ImageRef::new(source.width, source.height, bytemuck::cast_slice(&self.fine), kind)
            .map_err(|e| wrong(&e))?;
        let mut image =
            Image::from_slice_u8(target.width, target.height, bytemuck::cast_slice_mut(result), kind)
                .map_err(|e| wrong(&e))?;
        self.resizer.resize(&view, &mut image, &options).map_err(|e| wrong(&e))?;
        if let Samples::Eight(samples) = &mut out.samples {
            samples.iter_mut().zip(&self.result).for_each(|(sample, fine)| *sample = num::narrow(*fine));
        }
        Ok(())
    }
}

fn pixel_type(channels: Channels) -> PixelType {
    match channels {
        Channels::Gray => PixelType::U16,
        Channels::Rgb => PixelType::U16x3,
        Channels::Cmyk => PixelType::U16x4,
    }
}
