//! One view of the blank with the design on it, pixel by pixel.

use seamwright_contract::colour::{DifferenceMap, InkRange};
use seamwright_contract::geometry::{Face, OnBlank, Point};
use seamwright_contract::lab::Ground;
use seamwright_contract::layout::{Layout, SeamClass};
use seamwright_contract::outline::Outline;
use seamwright_contract::picture::{Band, Pixels, Samples};
use seamwright_contract::{Fault, Lab, num};

use crate::raster::Raster;

/// The longer side of the blank, in pixels.
const LONGER: f64 = 1200.0;
/// The ground round the blank, in pixels and as a shade.
pub(crate) const BORDER: u32 = 40;
pub(crate) const GROUND: [u8; 3] = [224, 224, 224];

/// What a view shows.
#[derive(Debug, Clone, Copy)]
pub(crate) enum View<'a> {
    /// The print on goods of this colour, with the seams.
    Printed(Lab),
    /// Where the printer lacks the colours: the design pale, those places the darker the further off they are.
    OutOfReach(&'a DifferenceMap),
}

/// All that the views of one job share.
pub(crate) struct Scene<'a> {
    layout: &'a Layout,
    outline: Outline<OnBlank>,
    /// The design as it looks printed on white.
    seen: Band,
    /// The design's size on the blank, in micrometres.
    design: (f64, f64),
    scale: Scale,
    pub(crate) size: Pixels,
}

/// From pixels of a view to micrometres of blank and design.
struct Scale {
    um_per_pixel: f64,
    left: f64,
    top: f64,
}

impl Scale {
    /// The middle of a pixel, in micrometres from the blank's top left.
    fn on_blank(&self, x: u32, y: u32) -> (f64, f64) {
        let at = |pixel: u32| (f64::from(pixel) + 0.5 - f64::from(BORDER)) * self.um_per_pixel;
        (at(x), at(y))
    }
}

impl<'a> Scene<'a> {
    pub(crate) fn new(layout: &'a Layout) -> Result<Self, Fault> {
        let (blank, design) = (&layout.order.blank, layout.design()?);
        let (width, height) = (num::float(blank.size.width.um()), num::float(blank.size.height.um()));
        let placed = layout.placed();
        let scale = Scale {
            um_per_pixel: width.max(height) / LONGER,
            left: num::float(placed.x.um()),
            top: num::float(placed.y.um()),
        };
        let pixels = |um: f64| num::pixels(um / scale.um_per_pixel).max(1);
        let design = (num::float(design.size.width.um()), num::float(design.size.height.um()));
        let whole = layout.picture.size();
        let most = Pixels::new(pixels(design.0).min(whole.width), pixels(design.1).min(whole.height));
        Ok(Self {
            layout,
            outline: blank.outline(),
            seen: layout.seen().reduced(most)?,
            design,
            size: Pixels::new(pixels(width) + 2 * BORDER, pixels(height) + 2 * BORDER),
            scale,
        })
    }

    /// One view.
    pub(crate) fn paint(&self, view: View<'_>) -> Raster {
        let mut raster = Raster::new(self.size, GROUND);
        let ground = match view {
            View::Printed(colour) => Ground::new(colour),
            View::OutOfReach(_) => Ground::new(Lab::WHITE),
        };
        let bare = ground.printed([255; 3]);
        let mut pixels = raster.pixels.chunks_exact_mut(3);
        for y in 0..self.size.height {
            for (x, pixel) in (0..self.size.width).zip(pixels.by_ref()) {
                let (bx, by) = self.scale.on_blank(x, y);
                if !self.outline.covers(bx, by) {
                    continue;
                }
                let (across, down) =
                    ((bx - self.scale.left) / self.design.0, (by - self.scale.top) / self.design.1);
                let printed = (0.0..1.0).contains(&across) && (0.0..1.0).contains(&down);
                let colour = match view {
                    _ if !printed => bare,
                    View::Printed(_) => ground.printed(sample(&self.seen, across, down)),
                    View::OutOfReach(map) => {
                        marked(sample(&self.seen, across, down), difference(map, across, down))
                    }
                };
                pixel.copy_from_slice(&colour);
            }
        }
        if matches!(view, View::Printed(_)) {
            self.draw_seams(&mut raster);
        }
        raster
    }

    /// Draws every seam where it runs over the blank.
    fn draw_seams(&self, raster: &mut Raster) {
        let Some(lay_up) = &self.layout.lay_up else { return };
        let pixel =
            |um: f64| num::pixels((f64::from(BORDER) + um / self.scale.um_per_pixel).floor().max(0.0));
        let place = |point: Point<Face>| {
            (
                pixel(num::float(point.x.um()) + self.scale.left),
                pixel(num::float(point.y.um()) + self.scale.top),
            )
        };
        for seam in &lay_up.seams {
            let (look, [from, to]) = (look(seam.class), seam.line.map(place));
            let level = from.1 == to.1;
            let (along, across) = if level { ((from.0, to.0), from.1) } else { ((from.1, to.1), from.0) };
            let first = across.saturating_sub(look.wide / 2);
            for along in (along.0.min(along.1)..along.0.max(along.1)).step_by(look.every) {
                for across in first..first + look.wide {
                    let (x, y) = if level { (along, across) } else { (across, along) };
                    let (on_x, on_y) = self.scale.on_blank(x, y);
                    if self.outline.covers(on_x, on_y) {
                        mix(raster, x, y, look.strength);
                    }
                }
            }
        }
    }
}

/// A place at a share of something counted.
fn at(share: f64, count: u32) -> usize {
    num::index(num::pixels((share * f64::from(count)).floor()).min(count.saturating_sub(1)))
}

/// The design's colour at a share of its width and height, as RGB.
fn sample(seen: &Band, across: f64, down: f64) -> [u8; 3] {
    let channels = seen.format().channels;
    let each = channels.count();
    let start = at(down, seen.size().height) * seen.stride() + at(across, seen.size().width) * each;
    match &seen.samples {
        Samples::Eight(samples) => channels.rough_rgb(samples.get(start..start + each).unwrap_or_default()),
        Samples::Sixteen(samples) => {
            let mut pixel = [channels.bare(); 4];
            pixel
                .iter_mut()
                .zip(samples.iter().skip(start).take(each))
                .for_each(|(to, from)| *to = num::narrow(*from));
            channels.rough_rgb(&pixel)
        }
    }
}

/// How far the design is out of reach at a share of its width and height.
fn difference(map: &DifferenceMap, across: f64, down: f64) -> f64 {
    let cell = at(down, map.size.height) * num::index(map.size.width) + at(across, map.size.width);
    map.cells.get(cell).copied().map_or(0.0, f64::from)
}

/// The design as pale gray, or a red that darkens with the difference.
fn marked(rgb: [u8; 3], off: f64) -> [u8; 3] {
    if off <= InkRange::BEYOND {
        let gray = rgb.iter().map(|part| u16::from(*part)).sum::<u16>() / 3;
        return [u8::try_from(170 + gray / 3).unwrap_or(u8::MAX); 3];
    }
    let deep = ((off - InkRange::BEYOND) / 16.0).min(1.0);
    let between =
        |from: f64, to: f64| u8::try_from(num::pixels(from + (to - from) * deep)).unwrap_or(u8::MAX);
    [between(240.0, 120.0), between(120.0, 0.0), between(110.0, 20.0)]
}

/// How plainly seams of a class are drawn.
struct Look {
    /// One pixel in so many, along the seam.
    every: usize,
    /// How many pixels wide.
    wide: u32,
    /// How far from the artwork's tone towards a middle one, of 255.
    strength: i32,
}

/// Dots where nothing is crossed, a faint line in quiet artwork, a plain one where it may show.
const fn look(class: SeamClass) -> Look {
    match class {
        SeamClass::Bare => Look { every: 10, wide: 1, strength: 110 },
        SeamClass::Quiet => Look { every: 1, wide: 1, strength: 80 },
        SeamClass::Busy => Look { every: 1, wide: 3, strength: 160 },
    }
}

/// Moves a pixel towards a middle tone on the other side of gray, so that it can be told on dark and light alike.
fn mix(raster: &mut Raster, x: u32, y: u32, strength: i32) {
    for sample in raster.pixel(x, y) {
        let (tone, towards) = (i32::from(*sample), if *sample > 127 { 64 } else { 192 });
        *sample = u8::try_from(tone + (towards - tone) * strength / 255).unwrap_or(*sample);
    }
}
