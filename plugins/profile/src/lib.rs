//! `profile`: whose colours the sheets hold, so that they are managed exactly once.
//!
//! Either the sheets keep the artwork's own colours and carry the profile that says what these are (`tag`: the
//! printer driver converts), or they are converted here to the printer's own values (`convert`: the driver must
//! not). Artwork without a profile is taken as sRGB, and the notes say so. What a profile may be used for is
//! checked on its header (`icc`), the numbers come from a colour engine (`engine`), and pixels are converted
//! where they are asked for (`converted`). How the design looks, printed on white, is
//! kept beside it for people to look at; what the printer lacks, how flat the design becomes on its blank and how much
//! ink it takes is worked out on a small copy (`outcome`) and said (`report`).

mod abreast;
mod converted;
mod engine;
mod exact;
mod icc;
mod link;
mod matrix;
mod outcome;
mod report;
mod stage;
#[cfg(test)]
mod tests;

use seamwright_contract::colour::Intent;
use seamwright_contract::plugin::{Fact, Stage, StageEntry};
use seamwright_contract::settings::Node;

use crate::stage::{Action, Profile};

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "profile",
    about: "attaches the artwork's profile to the sheets, or converts them to the printer's own profile",
    needs: &[Fact::Design],
    gives: &[Fact::Colour],
    before: &[Fact::Panels],
    example: "{profile: {do: convert, intent: relative}}",
    parse,
    order: None,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let mut fields = node.fields()?;
    let action = fields.choice_or("do", &[("tag", Action::Tag), ("convert", Action::Convert)], Action::Tag);
    let intent = fields.choice_or("intent", &Intent::WORDS, Intent::Relative);
    fields.finish();
    Some(Box::new(Profile { action, intent }))
}
