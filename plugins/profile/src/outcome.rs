//! What becomes of the design's colours: which of them the printer lacks, how light and dark they come out on the
//! blank, how much ink they take.
//!
//! The design is looked at from afar, as cells of a few millimetres inside the blank's outline, each with its mean
//! colour; different colours are worked out once. How far a colour is out of reach is told by the way from Lab to the
//! printer's nearest values and back. Most artwork holds blacks that no dye reaches; a colour that is in reach once
//! its black is lifted to the printer's (the way of ISO 18619, black-point compensation) is only darker and counted
//! apart.

use std::collections::BTreeMap;

use seamwright_contract::catalogue::Blank;
use seamwright_contract::colour::{Contrast, DifferenceMap, InkRange, InkUse, Swatch};
use seamwright_contract::layout::Design;
use seamwright_contract::picture::{Band, Channels, Picture, Pixels, Samples};
use seamwright_contract::{Fault, Lab, Length, Point, num};

use crate::exact;

/// Cells along the longer side.
const CELLS: f64 = 256.0;

/// At most so many swatches, each of a colour that at least this share of the design has.
const SWATCHES: usize = 6;
const LEAST_SHARE: f64 = 0.001;

/// Colours of one swatch lie in one cube of Lab with this side; two swatches differ by at least so much.
const CUBE: f64 = 10.0;

/// The least light that counts in ink use: 3 % (optical density 1.5), about the black of a good print.
const LEAST_LIGHT: f64 = 0.03;

/// The design's cells inside the blank's outline and their colours.
pub(crate) struct Seen {
    size: Pixels,
    /// Their numbers, row by row, and which of the colours each has.
    cells: Vec<(usize, usize)>,
    channels: Channels,
    /// The different colours in the artwork's own channels.
    samples: Vec<u16>,
    /// The same as Lab.
    colours: Vec<Lab>,
}

impl Seen {
    /// `None` where the engine cannot use the artwork's profile.
    pub(crate) fn new(artwork: &dyn Picture, profile: &[u8], design: &Design) -> Result<Option<Self>, Fault> {
        let size = artwork.size().at_most(CELLS);
        let band = artwork.reduced(size)?;
        let channels = band.format().channels;
        let (mut cells, mut samples) = (Vec::new(), Vec::new());
        let mut known: BTreeMap<[u16; 4], usize> = BTreeMap::new();
        for (at, pixel) in pixels(&band).into_iter().enumerate() {
            let place = middle(at, size, design);
            if !design.outline.covers(num::float(place.x.um()), num::float(place.y.um())) {
                continue;
            }
            let next = known.len();
            let colour = *known.entry(pixel).or_insert_with(|| {
                samples.extend(&pixel[..channels.count()]);
                next
            });
            cells.push((at, colour));
        }
        let colours = exact::labs(profile, channels, &samples);
        Ok(colours.map(|colours| Self { size, cells, channels, samples, colours }))
    }

    /// The different colours, pixel by pixel in the artwork's channels.
    pub(crate) fn samples(&self) -> (&[u16], Channels) {
        (&self.samples, self.channels)
    }

    /// The same as Lab.
    pub(crate) fn colours(&self) -> &[Lab] {
        &self.colours
    }

    /// A share of the cells.
    fn share(&self, count: usize) -> f64 {
        f64::from(num::count(count)) / f64::from(num::count(self.cells.len().max(1)))
    }
}

/// Pixels as 16 bits a sample, in a fixed room.
fn pixels(band: &Band) -> Vec<[u16; 4]> {
    let each = band.format().channels.count();
    let padded = |pixel: &mut dyn Iterator<Item = u16>| {
        let mut room = [0; 4];
        room.iter_mut().zip(pixel).for_each(|(to, from)| *to = from);
        room
    };
    match &band.samples {
        Samples::Eight(samples) => {
            samples.chunks_exact(each).map(|p| padded(&mut p.iter().map(|s| num::widen(*s)))).collect()
        }
        Samples::Sixteen(samples) => {
            samples.chunks_exact(each).map(|p| padded(&mut p.iter().copied())).collect()
        }
    }
}

/// The middle of a cell on the face.
fn middle(at: usize, size: Pixels, design: &Design) -> Point<seamwright_contract::Face> {
    let (column, row) = (num::count(at) % size.width, num::count(at) / size.width);
    let part =
        |index: u32, count: u32, length: Length| length.share((f64::from(index) + 0.5) / f64::from(count));
    Point::new(part(column, size.width, design.size.width), part(row, size.height, design.size.height))
}

/// What a printer lacks; `printed` are the colours as they come out. `None` where its profile cannot be used.
pub(crate) fn range(seen: &Seen, printed: &[Lab], printer: &[u8], design: &Design) -> Option<InkRange> {
    let off = off_by(printer, &seen.colours)?;
    let black = *exact::nearest(printer, &[Lab::new(0.0, 0.0, 0.0)])?.first()?;
    let lifted: Vec<Lab> = seen.colours.iter().map(|colour| lift(*colour, black)).collect();
    // What is beyond by its darkness alone is not less vivid.
    let less_vivid: Vec<f64> =
        off_by(printer, &lifted)?.into_iter().zip(&off).map(|(one, off)| one.min(*off)).collect();
    let beyond =
        |off: &[f64]| seen.cells.iter().filter(|(_, colour)| off[*colour] > InkRange::BEYOND).count();
    let (share, lost) = (seen.share(beyond(&off)), seen.share(beyond(&less_vivid)));
    let mut map = DifferenceMap {
        size: seen.size,
        cells: vec![0.0; num::index(seen.size.width) * num::index(seen.size.height)],
    };
    for (at, colour) in &seen.cells {
        map.cells[*at] = num::single(less_vivid[*colour]);
    }
    let worst = swatches(seen, printed, &less_vivid, design);
    Some(InkRange { share, darker: (share - lost).max(0.0), worst, map })
}

/// How far colours are from the nearest ones of a printer.
fn off_by(printer: &[u8], colours: &[Lab]) -> Option<Vec<f64>> {
    let near = exact::nearest(printer, colours)?;
    Some(colours.iter().zip(&near).map(|(one, other)| one.difference(*other)).collect())
}

/// A colour with its black lifted to a printer's.
fn lift(colour: Lab, black: Lab) -> Lab {
    let (white, floor) = (Lab::WHITE.to_xyz(), black.to_xyz()[1]);
    let xyz = colour.to_xyz();
    Lab::of_xyz(std::array::from_fn(|i| xyz[i] * (1.0 - floor) + floor * white[i]))
}

/// The colours that suffer most, each kind once.
fn swatches(seen: &Seen, printed: &[Lab], off: &[f64], design: &Design) -> Vec<Swatch> {
    let cube = |lab: Lab| [lab.l, lab.a, lab.b].map(|part| num::round(part / CUBE));
    // By cube: how many cells, and the cell that is furthest off.
    let mut kinds: BTreeMap<[i64; 3], (usize, usize, usize)> = BTreeMap::new();
    for &(at, colour) in seen.cells.iter().filter(|(_, colour)| off[*colour] > InkRange::BEYOND) {
        let kind = kinds.entry(cube(seen.colours[colour])).or_insert((0, at, colour));
        kind.0 += 1;
        if off[colour] > off[kind.2] {
            (kind.1, kind.2) = (at, colour);
        }
    }
    let mut kinds: Vec<_> = kinds.into_values().filter(|kind| seen.share(kind.0) >= LEAST_SHARE).collect();
    kinds.sort_by(|one, other| off[other.2].total_cmp(&off[one.2]));
    let mut chosen: Vec<Swatch> = Vec::new();
    for (count, at, colour) in kinds {
        let artwork = seen.colours[colour];
        if chosen.len() < SWATCHES && chosen.iter().all(|other| other.artwork.difference(artwork) >= CUBE) {
            chosen.push(Swatch {
                artwork,
                printed: printed[colour],
                difference: artwork.difference(printed[colour]),
                share: seen.share(count),
                at: middle(at, seen.size, design),
            });
        }
    }
    chosen
}

/// How light and dark the design comes out on white and on the blank.
pub(crate) fn contrast(seen: &Seen, printed: &[Lab], blank: &Blank) -> Contrast {
    let ends = |light: &dyn Fn(Lab) -> f64| {
        let mut all: Vec<f64> = seen.cells.iter().map(|(_, colour)| light(printed[*colour])).collect();
        all.sort_by(f64::total_cmp);
        let hundredth = all.len() / 100;
        let at = |place: usize| all.get(place).copied().unwrap_or(blank.colour.l);
        [at(hundredth), at(all.len().saturating_sub(1 + hundredth))]
    };
    Contrast { on_white: ends(&|colour| colour.l), on_blank: ends(&|colour| colour.on(blank.colour).l) }
}

/// How much ink the design takes. Of a CMYK printer's values the inks themselves are known (`values`, 16 bits); of
/// others, only the light that comes back: the sum of the densities of its three parts, against that of three solid
/// inks.
pub(crate) fn ink(
    seen: &Seen,
    printed: &[Lab],
    values: Option<&[u16]>,
    design: &Design,
    full: Option<f64>,
) -> InkUse {
    let full_density = -LEAST_LIGHT.log10() * 3.0;
    let of = |colour: usize| match values {
        Some(values) => {
            values[colour * 4..][..4].iter().map(|ink| f64::from(*ink) / 65535.0).sum::<f64>() / 4.0
        }
        None => {
            let light = printed[colour].to_linear_srgb();
            light.map(|part| -part.clamp(LEAST_LIGHT, 1.0).log10()).iter().sum::<f64>() / full_density
        }
    };
    let by_colour: Vec<f64> = (0..printed.len()).map(of).collect();
    let sum: f64 = seen.cells.iter().map(|(_, colour)| by_colour[*colour]).sum();
    let whole = f64::from(num::count(num::index(seen.size.width) * num::index(seen.size.height)));
    let coverage = sum / whole;
    let square_metres = design.size.width.mm() * design.size.height.mm() / 1e6;
    InkUse { coverage, ml: full.map(|full| full * coverage * square_metres) }
}
