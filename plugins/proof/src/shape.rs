//! Whether a place lies on the blank.

use seamwright_contract::catalogue::{Blank, Shape};
use seamwright_contract::num;

/// Whether the point `x`, `y` (micrometres from the blank's top left) lies on the blank.
pub(crate) fn covers(blank: &Blank, x: f64, y: f64) -> bool {
    let (width, height) = (num::float(blank.size.width.um()), num::float(blank.size.height.um()));
    if !(0.0..width).contains(&x) || !(0.0..height).contains(&y) {
        return false;
    }
    match blank.shape {
        Shape::Rectangle => true,
        Shape::Rounded(radius) => {
            let radius = num::float(radius.um());
            // How far the point reaches into a corner's square; outside all four squares it is on the blank.
            let dx = (radius - x).max(x - (width - radius)).max(0.0);
            let dy = (radius - y).max(y - (height - radius)).max(0.0);
            dx * dx + dy * dy <= radius * radius
        }
        Shape::Oval | Shape::Round => {
            within_ellipse(x - width / 2.0, y - height / 2.0, width / 2.0, height / 2.0)
        }
        Shape::HalfMoon => within_ellipse(x - width / 2.0, y - height, width / 2.0, height),
    }
}

/// (dx / a)^2 + (dy / b)^2 at most 1, the equation of the ellipse.
fn within_ellipse(dx: f64, dy: f64, a: f64, b: f64) -> bool {
    (dx / a).powi(2) + (dy / b).powi(2) <= 1.0
}
