//! The blank in hand: nominal sizes are off by millimetres, and what was measured counts.

use seamwright_contract::catalogue::{Blank, Shape, leaves_room};
use seamwright_contract::settings::Node;
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Size};

use super::order::read_size;

/// What is further off than a tenth is likely another blank or another unit.
const FURTHEST: i64 = 10;

/// The blank with the size measured, so that its design area follows, and the size it had; `None` with a complaint.
pub(super) fn measured(blank: Blank, node: &Node<'_>, units: Units) -> Option<(Blank, Size)> {
    let (size, nominal) = (read_size(node)?, blank.size);
    let trouble = if is_off(size.width, nominal.width) || is_off(size.height, nominal.height) {
        Some((
            format!(
                "the blank measures {}, and by the catalogue `{}` is {}: more than a tenth off",
                units.show_size(size.width, size.height),
                blank.name,
                units.show_size(nominal.width, nominal.height)
            ),
            "Look whether it is another blank, whether the unit is right, and which side is the width."
                .to_owned(),
        ))
    } else {
        unfit(&blank, size)
    };
    if let Some((what, cure)) = trouble {
        node.complain(what, cure);
        return None;
    }
    Some((Blank { size, ..blank }, nominal))
}

fn is_off(measured: Length, nominal: Length) -> bool {
    (measured - nominal).abs() * FURTHEST > nominal
}

/// Why a blank cannot have this size.
fn unfit(blank: &Blank, size: Size) -> Option<(String, String)> {
    let fits = blank.shape.fits(size);
    match blank.shape {
        Shape::Round if !fits => Some((
            "a round blank is as wide as it is high".to_owned(),
            "Write the smaller of the two for both, or write the blank out with `shape: oval`.".to_owned(),
        )),
        Shape::Rounded(radius) if !fits => Some((
            format!("its round corners of {radius} are larger than that"),
            "Measure once more, or write the blank out with its own `radius`.".to_owned(),
        )),
        _ if !leaves_room(blank.reach, size) => Some((
            "its inset leaves nothing of that to print on".to_owned(),
            "Measure once more, or write the blank out with a smaller `inset`.".to_owned(),
        )),
        _ => None,
    }
}
