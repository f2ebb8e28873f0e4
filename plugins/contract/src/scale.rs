//! What comes out of a printer or a press longer or shorter than it was drawn, measured and drawn against.

use crate::catalogue::Orientation;
use crate::geometry::{Face, Page, Point, Rect, Sides, Size};
use crate::num;
use crate::units::Length;

/// How much longer lengths are drawn than they shall come out: along the height of the upright sheet, as it is fed, and
/// across it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// In the direction of the upright sheet's width.
    pub across: f64,
    /// In the direction of its height.
    pub along: f64,
}

impl Default for Scale {
    fn default() -> Self {
        Self { across: 1.0, along: 1.0 }
    }
}

/// The factor that mends a length: what it should be by what came out. `None` for what is no length.
#[must_use]
pub fn factor(nominal: Length, measured: Length) -> Option<f64> {
    let sound = nominal > Length::ZERO && measured > Length::ZERO;
    sound.then(|| num::float(nominal.um()) / num::float(measured.um()))
}

impl Scale {
    /// As the sheet lies: in the directions of the page's width and height.
    #[must_use]
    pub fn lying(self, orientation: Orientation) -> [f64; 2] {
        match orientation {
            Orientation::Portrait => [self.across, self.along],
            Orientation::Landscape => [self.along, self.across],
        }
    }

    /// The page of an upright sheet that lies so, and what of it comes out printed: margins turn with the sheet. They are kept
    /// in what is drawn, while all that lies on a page is reckoned as it comes out.
    #[must_use]
    pub fn page(self, paper: Size, orientation: Orientation, margins: Sides<Length>) -> (Size, Rect<Page>) {
        let (page, margins) = match orientation {
            Orientation::Portrait => (paper, margins),
            Orientation::Landscape => (paper.turned(), margins.turned_clockwise()),
        };
        let Sides { left, top, right, bottom } = margins;
        let live = Rect::from_edges(left, top, page.width - right, page.height - bottom);
        (page, comes_out(&live, page, self.lying(orientation)))
    }

    /// Whether nothing is to be mended.
    #[must_use]
    pub fn is_plain(self) -> bool {
        self == Self::default()
    }
}

/// What a blank becomes under the press: a length marked on it both ways, and what was measured of it afterwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shrink {
    /// The length before pressing.
    pub marked: Length,
    /// What became of it across and down the blank.
    pub pressed: Size,
}

impl Shrink {
    /// How much larger than it shall be a design lies on the blank before pressing, across and down: before by after, which
    /// is not one and the share it shrinks by.
    #[must_use]
    pub fn factors(&self) -> [f64; 2] {
        [self.pressed.width, self.pressed.height].map(|pressed| factor(self.marked, pressed).unwrap_or(1.0))
    }

    /// What is to have this size in the end, as it lies before pressing.
    #[must_use]
    pub fn before(&self, size: Size) -> Size {
        let Size { width, height } = self.pressed;
        Size::new(of(size.width, self.marked, width), of(size.height, self.marked, height))
    }

    /// What becomes of something of this size. What [`Self::before`] gave becomes what it was, or goes back to the same.
    #[must_use]
    pub fn after(&self, size: Size) -> Size {
        let Size { width, height } = self.pressed;
        Size::new(of(size.width, width, self.marked), of(size.height, height, self.marked))
    }

    /// How a picture's sides lie to each other before pressing, so that they are in these proportions after it.
    #[must_use]
    pub fn proportions(&self, [width, height]: [i64; 2]) -> [i64; 2] {
        [width.saturating_mul(self.pressed.height.um()), height.saturating_mul(self.pressed.width.um())]
    }

    /// A part of the design, as it lies before pressing.
    #[must_use]
    pub fn part_before(&self, part: &Rect<Face>) -> Rect<Face> {
        let edges = [Size::new(part.x, part.y), Size::new(part.right(), part.bottom())];
        let [from, to] = edges.map(|edge| self.before(edge));
        Rect::from_edges(from.width, from.height, to.width, to.height)
    }

    /// What becomes of a part of the design.
    #[must_use]
    pub fn part_after(&self, part: &Rect<Face>) -> Rect<Face> {
        let edges = [Size::new(part.x, part.y), Size::new(part.right(), part.bottom())];
        let [from, to] = edges.map(|edge| self.after(edge));
        Rect::from_edges(from.width, from.height, to.width, to.height)
    }
}

/// `length * over / under`, to the nearest micrometre.
fn of(length: Length, over: Length, under: Length) -> Length {
    let [length, over, under] = [length, over, under].map(|length| i128::from(length.um()));
    let under = under.max(1);
    let um = (2 * length * over + under).div_euclid(2 * under);
    Length::from_um(i64::try_from(um).unwrap_or(i64::MAX))
}

/// Where something has to be drawn on a page, in micrometres, so that it comes out at `[left, top, width, height]`. The
/// middle of the page stays where it is.
#[must_use]
pub fn drawn([left, top, width, height]: [f64; 4], page: Size, [x, y]: [f64; 2]) -> [f64; 4] {
    let from_middle = |at: f64, side: Length, factor: f64| {
        let middle = num::float(side.um()) / 2.0;
        middle + (at - middle) * factor
    };
    [from_middle(left, page.width, x), from_middle(top, page.height, y), width * x, height * y]
}

/// The same of a point, to the micrometre.
#[must_use]
pub fn drawn_point(at: Point<Page>, page: Size, scale: [f64; 2]) -> Point<Page> {
    let [x, y, ..] = drawn([num::float(at.x.um()), num::float(at.y.um()), 0.0, 0.0], page, scale);
    Point::new(Length::from_um(num::round(x)), Length::from_um(num::round(y)))
}

/// What comes out of a part of the page that can be drawn on, to the micrometre that is surely in it.
#[must_use]
pub fn comes_out(part: &Rect<Page>, page: Size, [x, y]: [f64; 2]) -> Rect<Page> {
    let edge = |at: Length, side: Length, factor: f64| {
        let middle = num::float(side.um()) / 2.0;
        middle + (num::float(at.um()) - middle) / factor
    };
    let inward = |value: f64, up: bool| num::round(if up { value.ceil() } else { value.floor() });
    let um = |value: f64, up| Length::from_um(inward(value, up));
    Rect::from_edges(
        um(edge(part.x, page.width, x), true),
        um(edge(part.y, page.height, y), true),
        um(edge(part.right(), page.width, x), false),
        um(edge(part.bottom(), page.height, y), false),
    )
}
