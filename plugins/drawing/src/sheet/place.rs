//! Places on a page as PDF counts them.

use lopdf::Object;
use seamwright_contract::units::UM_PER_INCH;
use seamwright_contract::{Size, num};

/// A rectangle in points from the page's bottom left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    pub(super) left: f64,
    pub(super) bottom: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

impl Place {
    /// From micrometres from the page's top left.
    #[must_use]
    pub fn from_top_left(left: f64, top: f64, width: f64, height: f64, page: Size) -> Self {
        let points = |um: f64| um * 72.0 / num::float(UM_PER_INCH);
        Self {
            left: points(left),
            bottom: points(num::float(page.height.um()) - top - height),
            width: points(width),
            height: points(height),
        }
    }

    /// As a page box: left, bottom, right, top.
    pub(super) fn sides(self) -> Object {
        let sides = [self.left, self.bottom, self.left + self.width, self.bottom + self.height];
        Object::Array(sides.into_iter().map(|side| Object::Real(num::single(side))).collect())
    }
}
