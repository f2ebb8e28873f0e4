//! The proof's pixels, one by one.

use seamwright_contract::geometry::{Face, Point};
use seamwright_contract::layout::{Layout, SeamClass};
use seamwright_contract::picture::{Band, Channels, Pixels, Samples};
use seamwright_contract::{Fault, num};

/// The longer side of the blank, in pixels.
const LONGER: f64 = 1600.0;
/// The ground round the blank, in pixels and as a shade.
const BORDER: u32 = 40;
const GROUND: [u8; 3] = [224, 224, 224];

/// An RGB picture.
#[derive(Debug)]
pub(crate) struct Proof {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) pixels: Vec<u8>,
}

/// From pixels of the proof to micrometres of blank and design.
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

pub(crate) fn paint(layout: &Layout) -> Result<Proof, Fault> {
    let (blank, design) = (&layout.order.blank, layout.design()?);
    let (width, height) = (num::float(blank.size.width.um()), num::float(blank.size.height.um()));
    let (placed, outline) = (layout.placed(), blank.outline());
    let scale = Scale {
        um_per_pixel: width.max(height) / LONGER,
        left: num::float(placed.x.um()),
        top: num::float(placed.y.um()),
    };
    let pixels = |um: f64| num::pixels(um / scale.um_per_pixel).max(1);
    let (design_w, design_h) = (num::float(design.size.width.um()), num::float(design.size.height.um()));
    let seen = layout.seen().reduced(Pixels::new(pixels(design_w), pixels(design_h)))?;
    let tables = Tables::new(blank.colour);

    let size = Pixels::new(pixels(width) + 2 * BORDER, pixels(height) + 2 * BORDER);
    let mut proof = Vec::with_capacity(num::index(size.width) * num::index(size.height) * 3);
    for y in 0..size.height {
        for x in 0..size.width {
            let (bx, by) = scale.on_blank(x, y);
            let (fx, fy) = (bx - scale.left, by - scale.top);
            let printed = (0.0..design_w).contains(&fx) && (0.0..design_h).contains(&fy);
            let colour = if !outline.covers(bx, by) {
                GROUND
            } else if printed {
                tables.printed(sample(&seen, fx / design_w, fy / design_h))
            } else {
                blank.colour
            };
            proof.extend(colour);
        }
    }
    let mut proof = Proof { width: size.width, height: size.height, pixels: proof };
    draw_seams(layout, &scale, &mut proof);
    Ok(proof)
}

/// The design's colour at a share of its width and height, as RGB.
fn sample(seen: &Band, across: f64, down: f64) -> [u8; 3] {
    let at = |share: f64, count: u32| {
        num::index(num::pixels((share * f64::from(count)).floor()).min(count.saturating_sub(1)))
    };
    let channels = seen.format().channels;
    let start =
        at(down, seen.size().height) * seen.stride() + at(across, seen.size().width) * channels.count();
    let byte = |i: usize| match &seen.samples {
        Samples::Eight(samples) => samples.get(start + i).copied().unwrap_or(channels.bare()),
        Samples::Sixteen(samples) => samples.get(start + i).copied().map_or(channels.bare(), num::narrow),
    };
    match channels {
        Channels::Gray => [byte(0); 3],
        Channels::Rgb => [byte(0), byte(1), byte(2)],
        // Ink without a profile has no known colour; this is only its rough look.
        Channels::Cmyk => [0, 1, 2].map(|i| 255_u8.saturating_sub(byte(i).saturating_add(byte(3)))),
    }
}

/// What a printed value becomes on the blank, for each channel.
struct Tables([[u8; 256]; 3]);

impl Tables {
    fn new(blank: [u8; 3]) -> Self {
        Self(blank.map(|ground| {
            std::array::from_fn(|value| {
                let value = u8::try_from(value).unwrap_or(u8::MAX);
                multiplied(ground, value)
            })
        }))
    }

    fn printed(&self, rgb: [u8; 3]) -> [u8; 3] {
        let [r, g, b] = rgb.map(usize::from);
        let Self([red, green, blue]) = self;
        [red[r], green[g], blue[b]]
    }
}

/// Dye over a ground: the shares of light they let through multiply.
pub(crate) fn multiplied(ground: u8, printed: u8) -> u8 {
    encoded(linear(ground) * linear(printed))
}

/// The sRGB transfer function, IEC 61966-2-1:1999.
fn linear(value: u8) -> f64 {
    let value = f64::from(value) / 255.0;
    if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

fn encoded(light: f64) -> u8 {
    let value = if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    u8::try_from(num::pixels(value * 255.0)).unwrap_or(u8::MAX)
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

/// Draws every seam where it runs over the blank.
fn draw_seams(layout: &Layout, scale: &Scale, proof: &mut Proof) {
    let Some(lay_up) = &layout.lay_up else { return };
    let outline = layout.order.blank.outline();
    let pixel = |um: f64| num::pixels((f64::from(BORDER) + um / scale.um_per_pixel).floor().max(0.0));
    let place = |point: Point<Face>| {
        (pixel(num::float(point.x.um()) + scale.left), pixel(num::float(point.y.um()) + scale.top))
    };
    for seam in &lay_up.seams {
        let (look, [from, to]) = (look(seam.class), seam.line.map(place));
        let level = from.1 == to.1;
        let (along, across) = if level { ((from.0, to.0), from.1) } else { ((from.1, to.1), from.0) };
        let first = across.saturating_sub(look.wide / 2);
        for along in (along.0.min(along.1)..along.0.max(along.1)).step_by(look.every) {
            for across in first..first + look.wide {
                let (x, y) = if level { (along, across) } else { (across, along) };
                let (on_x, on_y) = scale.on_blank(x, y);
                if outline.covers(on_x, on_y) {
                    mix(proof, x, y, look.strength);
                }
            }
        }
    }
}

/// Moves a pixel towards a middle tone on the other side of gray, so that it can be told on dark and light alike.
fn mix(proof: &mut Proof, x: u32, y: u32, strength: i32) {
    if x >= proof.width {
        return;
    }
    let start = (num::index(y) * num::index(proof.width) + num::index(x)) * 3;
    for sample in proof.pixels.get_mut(start..start + 3).into_iter().flatten() {
        let (tone, towards) = (i32::from(*sample), if *sample > 127 { 64 } else { 192 });
        *sample = u8::try_from(tone + (towards - tone) * strength / 255).unwrap_or(*sample);
    }
}
