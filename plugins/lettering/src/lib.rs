//! `lettering`: words set on the design, a name on every mat.
//!
//! What is to be set stands in the order, under `lettering`: lines in a box or along a circle, in design coordinates, with
//! `{field}` in them for what the order's `fields` say. The words are shaped and drawn by an SVG library: kerning, ligatures,
//! scripts that run from the right or join their letters. A letter without a glyph, a font that is not there and words that
//! leave their box or the blank's safe shape are refused: a wrong name costs a blank.
//!
//! Sizes are exact. Words are measured once, at a size of 100 mm, by their very outlines; every other size is that, scaled.
//!
//! The lettering lies over the artwork in the artwork's own colours, so it stands after `resize`, which settles the
//! pixels, and before `profile`.

mod colour;
mod form;
mod lay;
mod lettered;
mod survey;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use seamwright_contract::Fault;
use seamwright_contract::layout::{Layout, Lettered as Told};
use seamwright_contract::order::fill_in;
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_fonts::Fonts;

use crate::lettered::{Layer, Lettered};

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: NAME,
    about: "sets words on the design, such as a name on every mat",
    needs: &[Fact::Design],
    gives: &[],
    before: &[Fact::Colour, Fact::Panels],
    example: "lettering",
    parse,
    order: Some(|node| form::read(node).map(drop)),
};

const NAME: &str = "lettering";

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Lettering))
}

#[derive(Debug)]
struct Lettering;

impl Stage for Lettering {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let wanted = layout.order.said_to(NAME, form::read)?.unwrap_or_default();
        if wanted.is_empty() {
            return Ok(layout);
        }
        let (fonts, design) = (Fonts::of(&layout.job.fonts), layout.design()?.clone());
        let mut layers = Vec::new();
        for piece in &wanted {
            let text =
                fill_in(&piece.text, &layout.order.fields).map_err(|key| unfilled(&piece.text, &key))?;
            let text = form::lines(&text).join("\n");
            if text.is_empty() {
                layout
                    .remark(NAME, format!("'{}' is empty in this order; nothing is set for it.", piece.text));
                continue;
            }
            let laid = lay::out(piece, &text, &fonts)?;
            // The order says where words shall be in the end; they lie on the blank as it is before pressing.
            let grows = layout.order.blank.shrink.map_or([1.0; 2], |shrink| shrink.factors());
            let laid = laid.grown(grows).ok_or_else(|| unset(&text))?;
            let rim = piece.rim().share(grows[0].max(grows[1]));
            laid.keeps_within(&design.outline, rim, layout.order.units)?;
            let (source, channels) = (&layout.artwork.source, layout.picture.format().channels);
            let colour = |colour| colour::in_space(colour, source, channels);
            layout.lettering.push(Told { text, ink: laid.ink(), body: laid.body });
            if let (Some(outline), Some(rim)) = (&piece.outline, laid.rim) {
                let paths = vec![rim, laid.letters.clone()];
                layers.push(Layer::new(paths, laid.bounds, colour(outline.colour)?));
            }
            layers.push(Layer::new(vec![laid.letters], laid.bounds, colour(piece.colour)?));
        }
        layout.picture = Arc::new(Lettered::new(layout.picture, design.sheet_ppi.pitch_um(), layers));
        Ok(layout)
    }
}

fn unset(text: &str) -> Fault {
    Fault::defect(format!("the outlines of '{text}' cannot be scaled"))
}

fn unfilled(text: &str, key: &str) -> Fault {
    Fault::order(
        format!("The lettering '{text}' wants the field `{key}`, which the order does not have."),
        format!(
            "Add it to the order, `fields: {{{key}: …}}`, or write `{{{{{key}}}}}` if the braces are meant."
        ),
    )
}
