//! Outlines of blanks: which places lie inside, and how far a level strip of one reaches.
//!
//! An oval grown by a bleed or shrunk by an inset keeps its axes' directions, both half-axes changed by the amount.
//! That is not the parallel curve: by the triangle inequality the support function of the ellipse (a + d, b + d) is
//! at most that of (a, b) plus d, so a grown oval stays within the parallel curve and a shrunk one reaches beyond
//! it, by 0.25 mm at most for the ovals of the shipped catalogue. Circles are exact.

use crate::catalogue::Shape;
use crate::geometry::Rect;
use crate::num;
use crate::units::Length;

/// An outline in one space. All of them are convex, and the same left and right of their middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline<Space> {
    /// The box around it.
    pub bounds: Rect<Space>,
    curve: Curve,
}

/// What a quarter of the outline looks like, in micrometres.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Curve {
    /// Straight edges, round corners of this radius.
    Corners(f64),
    /// Half-axes across and down, and how far below the box's top the centre lies; straight down from there.
    Ellipse { across: f64, down: f64, centre: f64 },
    /// The same, and curved below the centre too.
    Whole { across: f64, down: f64 },
}

impl<Space: Copy> Outline<Space> {
    /// A shape's outline around a box, the box grown by `reach` from the shape's own size (shrunk if below zero).
    #[must_use]
    pub fn new(shape: Shape, bounds: Rect<Space>, reach: Length) -> Self {
        let (width, height) = (num::float(bounds.width.um()), num::float(bounds.height.um()));
        let by = num::float(reach.um());
        let curve = match shape {
            Shape::Rectangle => Curve::Corners(0.0),
            Shape::Rounded(radius) => {
                let most = width.min(height) / 2.0;
                Curve::Corners((num::float(radius.um()) + by).clamp(0.0, most.max(0.0)))
            }
            Shape::Oval | Shape::Round => Curve::Whole { across: width / 2.0, down: height / 2.0 },
            // The flat edge has moved by the reach as well; the centre has not.
            Shape::HalfMoon => {
                let down = (height - by).max(0.0);
                Curve::Ellipse { across: width / 2.0, down, centre: down }
            }
        };
        Self { bounds, curve }
    }

    /// The same outline around a box of the same size in another space.
    #[must_use]
    pub fn around<Other>(&self, bounds: Rect<Other>) -> Outline<Other> {
        Outline { bounds, curve: self.curve }
    }

    /// Whether it is a plain rectangle, so that nothing of its box lies outside.
    #[must_use]
    pub fn is_rectangle(&self) -> bool {
        self.curve == Curve::Corners(0.0)
    }

    /// How far from its box's left and right edge it begins, at a height in micrometres; `None` above and below it.
    #[must_use]
    pub fn inset(&self, y: f64) -> Option<f64> {
        let (width, height) = (num::float(self.bounds.width.um()), num::float(self.bounds.height.um()));
        let y = y - num::float(self.bounds.y.um());
        if !(0.0..=height).contains(&y) {
            return None;
        }
        match self.curve {
            Curve::Corners(radius) => {
                let into = (radius - y).max(y - (height - radius)).max(0.0);
                Some(radius - (radius * radius - into * into).max(0.0).sqrt())
            }
            Curve::Whole { across, down } => Some(width / 2.0 - chord(y - down, across, down)),
            Curve::Ellipse { across, down, centre } => {
                Some(width / 2.0 - chord((y - centre).min(0.0), across, down))
            }
        }
    }

    /// Whether a place, in micrometres, lies inside.
    #[must_use]
    pub fn covers(&self, x: f64, y: f64) -> bool {
        let x = x - num::float(self.bounds.x.um());
        let width = num::float(self.bounds.width.um());
        self.inset(y).is_some_and(|inset| inset <= x && x < width - inset)
    }

    /// Whether a rectangle lies wholly inside.
    #[must_use]
    pub fn contains(&self, rect: &Rect<Space>) -> bool {
        // It is convex, so what holds at a rectangle's top and bottom holds between them.
        let (left, right) = (rect.x - self.bounds.x, self.bounds.right() - rect.right());
        let margin = num::float(left.min(right).um());
        [rect.y, rect.bottom()]
            .into_iter()
            .all(|y| self.inset(num::float(y.um())).is_some_and(|inset| inset <= margin))
    }

    /// The left and right end of its part between two heights, rounded outward; `None` where there is none.
    #[must_use]
    pub fn reach(&self, top: Length, bottom: Length) -> Option<(Length, Length)> {
        let (top, bottom) = (top.max(self.bounds.y), bottom.min(self.bounds.bottom()));
        if top >= bottom {
            return None;
        }
        // The widest place of a convex, symmetric outline between two heights is the one nearest its middle.
        let middle = match self.curve {
            Curve::Corners(_) | Curve::Whole { .. } => self.bounds.y + self.bounds.height.half(),
            Curve::Ellipse { centre, .. } => self.bounds.y + Length::from_um(num::round(centre)),
        };
        let inset = self.inset(num::float(middle.clamp(top, bottom).um()))?;
        let inset = Length::from_um(num::round(inset.floor()).max(0));
        let (left, right) = (self.bounds.x + inset, self.bounds.right() - inset);
        (left < right).then_some((left, right))
    }
}

/// Half the chord of an ellipse at a distance from its centre.
fn chord(from_centre: f64, across: f64, down: f64) -> f64 {
    if down <= 0.0 {
        return 0.0;
    }
    across * (1.0 - (from_centre / down).powi(2)).max(0.0).sqrt()
}
