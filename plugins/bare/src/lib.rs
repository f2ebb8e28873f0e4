//! `bare`: what is nearly white becomes bare blank, so that no faint box prints round the art.
//!
//! Saved with losses or scanned, white is often a little less than white. On paper and cloth that is a tint all over the
//! picture, which shows where it ends. A pixel is made bare where every one of its samples is nearly so; art in which a
//! single sample is darker stays as it is. Said on the scale of white: for inks, which count the other way, the
//! complement. Without settings exactly that is made bare which a survey calls faint.

mod cleared;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::Picture;
use seamwright_contract::plugin::{Fact, Stage, StageEntry};
use seamwright_contract::settings::{Fields, Node, Read};
use seamwright_contract::survey::FAINTEST;

use crate::cleared::Cleared;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "bare",
    about: "makes bare what is nearly white, so that no faint box prints round the art",
    needs: &[],
    gives: &[],
    before: &[Fact::Panels],
    example: "{bare: {from: 248}}",
    parse,
    order: None,
};

/// How many levels there are up to white.
const WHITES: u32 = 256;

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let mut fields = node.fields()?;
    let faintest = faintest(&mut fields);
    fields.finish();
    Some(Box::new(Bare { faintest: faintest? }))
}

/// The least difference from white that stays, of 255; `from` is the darkest white.
fn faintest(fields: &mut Fields<'_>) -> Option<u8> {
    let Some(node) = fields.get("from") else { return Some(FAINTEST) };
    let from = u32::read(&node)?;
    let faintest = u8::try_from(WHITES.saturating_sub(from)).ok().filter(|faintest| *faintest > 0);
    if faintest.is_none() {
        let usual = WHITES - u32::from(FAINTEST);
        node.complain(
            format!("white cannot begin at {from}"),
            format!("Write a `from` from 1 to 255; {usual} makes bare what hardly shows."),
        );
    }
    faintest
}

#[derive(Debug)]
struct Bare {
    faintest: u8,
}

impl Stage for Bare {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let cleared =
            |picture| -> Arc<dyn Picture> { Arc::new(Cleared { source: picture, faintest: self.faintest }) };
        (layout.picture, layout.on_screen) = (cleared(layout.picture), layout.on_screen.map(cleared));
        Ok(layout)
    }
}
