//! `mirror`: which way the face lies on paper.
//!
//! The paper lies ink side down on the blank, so what is left on the blank is right on the table, ink up. That is
//! a property of the way from face to paper, settled here once and applied by whoever draws; no pixel is touched,
//! and labels stay readable. Goods that are coated on the back and seen through their thickness are not mirrored.

#[cfg(test)]
mod tests;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::Node;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "mirror",
    about: "mirrors left to right, unless the goods are seen through from behind",
    needs: &[],
    gives: &[Fact::Way],
    before: &[Fact::Panels],
    example: "mirror",
    parse,
    order: None,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Mirror))
}

#[derive(Debug)]
struct Mirror;

impl Stage for Mirror {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let substrate = &layout.order.blank.substrate;
        layout.mirrored = !substrate.seen_through;
        if !layout.mirrored {
            let name = substrate.name.clone();
            layout.remark(
                ENTRY.name,
                format!("Not mirrored: {name} is coated on the back and seen through from the front."),
            );
        }
        Ok(layout)
    }
}
