//! A picture worked out from a formula, and an order for it.

use std::sync::Arc;

use seamwright_contract::layout::{Design, Layout};
use seamwright_contract::order::{Fit, Order};
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::sample;
use seamwright_contract::{Fault, Size, num};

use crate::place::place;
use crate::rows::pick;
use crate::scaled::Scaled;

/// The proportions of a picture of so many pixels.
pub(super) fn sides(pixels: Pixels) -> [i64; 2] {
    [pixels.width, pixels.height].map(i64::from)
}

/// A picture of long waves, different in every channel; reduced by picking.
#[derive(Debug)]
pub(super) struct Waves {
    pub(super) size: Pixels,
    pub(super) format: Format,
}

impl Waves {
    pub(super) fn value(&self, x: u32, y: u32, channel: usize) -> f64 {
        let (x, y, c) = (f64::from(x), f64::from(y), num::float(i64::try_from(channel).unwrap()));
        127.5 + 60.0 * (x / (7.0 + c)).sin() + 60.0 * (y / (9.0 - c) + x / 31.0).cos()
    }
}

impl Picture for Waves {
    fn size(&self) -> Pixels {
        self.size
    }
    fn format(&self) -> Format {
        self.format
    }
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size)?;
        out.reset(want.size(), self.format);
        let channels = self.format.channels.count();
        let values = (0..want.height).flat_map(|y| {
            (0..want.width)
                .flat_map(move |x| (0..channels).map(move |c| self.value(want.x + x, want.y + y, c)))
        });
        match &mut out.samples {
            Samples::Eight(samples) => {
                samples.iter_mut().zip(values).for_each(|(s, v)| *s = num::byte(num::single(v)));
            }
            Samples::Sixteen(samples) => {
                samples
                    .iter_mut()
                    .zip(values)
                    .for_each(|(s, v)| *s = u16::try_from(num::round(v * 257.0)).unwrap());
            }
        }
        Ok(())
    }
    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let mut all = Band::empty();
        self.fill(Window::whole(self.size), &mut all)?;
        let middle = |count: u32, whole: u32| -> Vec<Option<u32>> {
            (0..count).map(|i| Some((2 * i + 1) * whole / (2 * count))).collect()
        };
        let mut out = Band::bare(size, self.format);
        pick(&all, &middle(size.width, self.size.width), &middle(size.height, self.size.height), &mut out);
        Ok(out)
    }

    fn recipe(&self, of: Window) -> Option<String> {
        Some(format!("{of:?} of waves"))
    }
}

pub(super) const FORMATS: [Format; 4] = [
    Format::RGB8,
    Format { channels: Channels::Gray, depth: Depth::Eight },
    Format { channels: Channels::Cmyk, depth: Depth::Eight },
    Format { channels: Channels::Rgb, depth: Depth::Sixteen },
];

pub(super) fn scaled(pixels: Pixels, format: Format, size: Size, fit: Fit, ppi: f64) -> Scaled {
    of(Arc::new(Waves { size: pixels, format }), size, fit, ppi)
}

/// A picture scaled onto a design of this size.
pub(super) fn of(source: Arc<dyn Picture>, size: Size, fit: Fit, ppi: f64) -> Scaled {
    let whole = place(sides(source.size()), size, fit);
    let design = Design { picture: whole, ..sample::design(size, ppi) };
    Scaled::new(source, &design, &whole)
}

/// Every sample in the reach of 8 bits.
pub(super) fn bytes(band: &Band) -> Vec<f64> {
    match &band.samples {
        Samples::Eight(samples) => samples.iter().map(|s| f64::from(*s)).collect(),
        Samples::Sixteen(samples) => samples.iter().map(|s| f64::from(*s) / 257.0).collect(),
    }
}

pub(super) fn filled(picture: &dyn Picture, window: Window) -> Band {
    let mut band = Band::empty();
    picture.fill(window, &mut band).unwrap();
    band
}

/// An order for a design of this size on a mat of 24 x 12.5 in, with a floor of 100 and a limit of 60 ppi.
pub(super) fn order(size: Size) -> Order {
    Order { size, ..sample::order() }
}

/// A job of an RGB picture of this size by an order.
pub(super) fn layout(pixels: Pixels, order: Order) -> Layout {
    sample::layout(order, Arc::new(Waves { size: pixels, format: Format::RGB8 }))
}
