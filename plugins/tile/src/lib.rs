//! `tile`: the design cut into panels on the fewest sheets.
//!
//! Which paper, lying which way, is a question of counting (`choice`); where the panels lie on face and page is
//! exact integer arithmetic (`grid`). Everything is reckoned in paper space, ink side up, as the lay-up is put
//! together, and carried over to the face at the end.

mod choice;
#[cfg(test)]
mod choice_tests;
mod grid;
#[cfg(test)]
mod tests;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::Node;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "tile",
    about: "cuts the design into panels on the fewest sheets",
    needs: &[Fact::Design, Fact::Lap],
    gives: &[Fact::Panels],
    before: &[],
    example: "tile",
    parse,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Tile))
}

#[derive(Debug)]
struct Tile;

impl Stage for Tile {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let size = layout.design()?.size;
        let lap = *layout.lap()?;
        let chosen = choice::best(&layout.order, size, lap.lap)?;
        layout.remark(ENTRY.name, chosen.why());
        layout.lay_up = Some(grid::lay_up(&chosen.sheet, size, &lap, layout.way()));
        Ok(layout)
    }
}
