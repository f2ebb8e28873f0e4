//! `resize`: the picture fitted to the design, and whether it is sharp enough.
//!
//! What is decided here is where the picture lies on the face, to the micrometre (`place`), and the grid of pixels
//! that all sheets share. The picture is wrapped in one that scales (`scaled`) when, and only where, pixels are asked
//! for; the mapping is exact, not snapped to whole pixels, so that a panel lies where the record says. What the blank's
//! outline leaves of the design is bare beyond it (`masked`), and where ink ends is told on the artwork's own pixels
//! (`survey`).

mod axis;
mod masked;
mod place;
mod rows;
mod scaled;
mod stage;
mod survey;
mod taps;
#[cfg(test)]
mod tests;
mod work;

use seamwright_contract::Ppi;
use seamwright_contract::plugin::{Fact, Stage, StageEntry};
use seamwright_contract::settings::{Node, Read};

use crate::stage::{Resize, SheetPpi};

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "resize",
    about: "fits the picture to the design, states the resolution, warns or refuses below the blank's floor",
    needs: &[],
    gives: &[Fact::Design],
    before: &[Fact::Panels],
    example: "{resize: {ppi: 300}}",
    parse,
    order: None,
};

const USUAL_PPI: f64 = 300.0;

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let mut fields = node.fields()?;
    let usual = Ppi::new(USUAL_PPI)?;
    let ppi = match fields.get("ppi") {
        None => Some(SheetPpi::Fixed(usual)),
        Some(word) if word.says("native") => Some(SheetPpi::Native { usual }),
        Some(number) => Ppi::read(&number).map(SheetPpi::Fixed),
    };
    fields.finish();
    Some(Box::new(Resize { ppi: ppi? }))
}
