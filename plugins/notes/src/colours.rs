//! What the notes say about colour: ink, contrast, and the colours that the printer lacks.

use seamwright_contract::colour::{Colour, InkRange};
use seamwright_contract::layout::Layout;
use seamwright_contract::num;
use seamwright_contract::picture::{Band, Format, Pixels, Samples};
use seamwright_contract::units::Units;

use crate::blocks::{Block, Drawing, Fact, Figure};
use crate::content::fact;
use crate::words;

/// Size of a swatch and of the gap beside it, in pixels of the drawing.
const SWATCH: u32 = 40;
const GAP: u32 = 6;

/// What stands among the facts of the job.
pub(crate) fn facts(colour: &Colour) -> Vec<Fact> {
    let coverage = format!("{:.0} % of full coverage", colour.ink.coverage * 100.0);
    let ink = match colour.ink.ml {
        Some(ml) => format!("about {ml:.1} ml, {coverage}"),
        None => coverage,
    };
    let lightness = |[dark, light]: [f64; 2]| format!("L* {dark:.0} to {light:.0}");
    let (white, blank) = (colour.contrast.on_white, colour.contrast.on_blank);
    let contrast = if lightness(white) == lightness(blank) {
        lightness(blank)
    } else {
        format!("{} on this blank, {} on white", lightness(blank), lightness(white))
    };
    vec![fact("Ink", ink), fact("Contrast", contrast)]
}

/// The colours that suffer most, side by side with what comes out.
pub(crate) fn lacking(layout: &Layout, blocks: &mut Vec<Block>) {
    let range = layout.colour.as_ref().and_then(|colour| colour.range.as_ref());
    let Some(range) = range.filter(|range| !range.worst.is_empty()) else { return };
    let units = layout.order.units;
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Image(swatches(range))),
        caption: words::SWATCHES_CAPTION.to_owned(),
        words: vec![words::SWATCHES.to_owned()],
        facts: (1..)
            .zip(&range.worst)
            .map(|(number, worst)| {
                let place = place(units, worst.at.x, worst.at.y);
                let text = format!(
                    "{:.1} % of the design, off by {:.0}, such as at {place}",
                    worst.share * 100.0,
                    worst.difference
                );
                fact(&number.to_string(), text)
            })
            .collect(),
    })));
}

fn place(units: Units, x: seamwright_contract::Length, y: seamwright_contract::Length) -> String {
    format!("{} from the left and {} from the top", units.show(x), units.show(y))
}

/// Pairs of squares, in the order of the list from the left: the artwork's colour over the print's.
fn swatches(range: &InkRange) -> Band {
    let step = SWATCH + GAP;
    let size = Pixels::new(num::count(range.worst.len()) * step + GAP, SWATCH * 2 + GAP * 2);
    let mut band = Band::bare(size, Format::RGB8);
    let width = num::index(size.width);
    let Samples::Eight(samples) = &mut band.samples else { return band };
    for (at, pixel) in samples.chunks_exact_mut(3).enumerate() {
        let (x, y) = (num::count(at % width), num::count(at / width));
        let inside = x % step >= GAP && (GAP..GAP + SWATCH * 2).contains(&y);
        let pair = range.worst.get(num::index(x / step)).filter(|_| inside);
        if let Some(pair) = pair {
            let colour = if y < GAP + SWATCH { pair.artwork } else { pair.printed };
            pixel.copy_from_slice(&colour.to_srgb());
        }
    }
    band
}
