//! Where the picture lies on the face.

use seamwright_contract::order::Fit;
use seamwright_contract::{Face, Length, Rect, Size};

/// The rectangle on the face of all of a picture of these proportions; with `cover` it reaches beyond the design, evenly on both sides.
pub(crate) fn place([width, height]: [i64; 2], design: Size, fit: Fit) -> Rect<Face> {
    let (w, h) = (i128::from(width), i128::from(height));
    let (design_w, design_h) = (i128::from(design.width.um()), i128::from(design.height.um()));
    // Whether the picture is, for its height, wider than the design.
    let wider = w * design_h >= h * design_w;
    let size = match fit {
        Fit::Stretch => design,
        Fit::Contain if wider => Size::new(design.width, scaled(design_w, h, w)),
        Fit::Contain => Size::new(scaled(design_h, w, h), design.height),
        Fit::Cover if wider => Size::new(scaled(design_h, w, h), design.height),
        Fit::Cover => Size::new(design.width, scaled(design_w, h, w)),
    };
    Rect::new(
        (design.width - size.width).half(),
        (design.height - size.height).half(),
        size.width,
        size.height,
    )
}

/// `length * over / under` to the nearest micrometre, at least one.
fn scaled(length: i128, over: i128, under: i128) -> Length {
    let under = under.max(1);
    let um = (2 * length * over + under) / (2 * under);
    Length::from_um(i64::try_from(um).unwrap_or(i64::MAX).max(1))
}
