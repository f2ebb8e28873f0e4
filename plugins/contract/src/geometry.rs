//! Points and rectangles that know which space they are in, so that a mirrored job cannot be mixed up.
//!
//! - [`Face`]: the design as it will be seen on the blank. Origin at the design's top left, x right, y down.
//! - [`Paper`]: the lay-up lying ink side up. Origin at the lay-up's top left (of the design on it), x right, y down.
//! - [`Page`]: one sheet of paper lying ink side up. Origin at the paper's top left, x right, y down.
//! - [`OnBlank`]: the blank lying face up. Origin at the blank's top left, x right, y down.

use std::marker::PhantomData;

use crate::units::Length;

macro_rules! space {
    ($($(#[$doc:meta])* $name:ident),*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name;
    )*};
}

space!(
    /// The design as seen on the finished blank.
    Face,
    /// The lay-up lying ink side up.
    Paper,
    /// One sheet lying ink side up.
    Page,
    /// The blank lying face up.
    OnBlank
);

/// A place in one space.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Point<Space> {
    /// Rightwards.
    pub x: Length,
    /// Downwards.
    pub y: Length,
    space: PhantomData<Space>,
}

impl<Space> Point<Space> {
    /// The place `x` right and `y` down of the origin.
    #[must_use]
    pub const fn new(x: Length, y: Length) -> Self {
        Self { x, y, space: PhantomData }
    }
}

/// A width and a height; the same in every space.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Size {
    /// Rightwards.
    pub width: Length,
    /// Downwards.
    pub height: Length,
}

impl Size {
    /// A width and a height.
    #[must_use]
    pub const fn new(width: Length, height: Length) -> Self {
        Self { width, height }
    }

    /// Width and height exchanged.
    #[must_use]
    pub const fn turned(self) -> Self {
        Self { width: self.height, height: self.width }
    }

    /// Grown by `by` on each of the four sides (shrunk if below zero).
    #[must_use]
    pub fn grown(self, by: Length) -> Self {
        Self { width: self.width + by * 2, height: self.height + by * 2 }
    }

    /// Whether `inner` fits into it without turning.
    #[must_use]
    pub fn holds(self, inner: Self) -> bool {
        inner.width <= self.width && inner.height <= self.height
    }
}

/// A rectangle in one space: its top left and its size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Rect<Space> {
    /// Left edge.
    pub x: Length,
    /// Top edge.
    pub y: Length,
    /// Width, zero or more.
    pub width: Length,
    /// Height, zero or more.
    pub height: Length,
    space: PhantomData<Space>,
}

impl<Space: Copy> Rect<Space> {
    /// From its top left and size.
    #[must_use]
    pub const fn new(x: Length, y: Length, width: Length, height: Length) -> Self {
        Self { x, y, width, height, space: PhantomData }
    }

    /// From its four edges.
    #[must_use]
    pub fn from_edges(left: Length, top: Length, right: Length, bottom: Length) -> Self {
        Self::new(left, top, right - left, bottom - top)
    }

    /// At the origin.
    #[must_use]
    pub const fn of_size(size: Size) -> Self {
        Self::new(Length::ZERO, Length::ZERO, size.width, size.height)
    }

    /// Its right edge.
    #[must_use]
    pub fn right(&self) -> Length {
        self.x + self.width
    }

    /// Its bottom edge.
    #[must_use]
    pub fn bottom(&self) -> Length {
        self.y + self.height
    }

    /// Its width and height.
    #[must_use]
    pub const fn size(&self) -> Size {
        Size { width: self.width, height: self.height }
    }

    /// Its top left corner.
    #[must_use]
    pub const fn origin(&self) -> Point<Space> {
        Point::new(self.x, self.y)
    }

    /// Whether it has no area.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.width <= Length::ZERO || self.height <= Length::ZERO
    }

    /// What it shares with another; `None` where that has no area.
    #[must_use]
    pub fn intersection(&self, other: &Self) -> Option<Self> {
        let shared = Self::from_edges(
            self.x.max(other.x),
            self.y.max(other.y),
            self.right().min(other.right()),
            self.bottom().min(other.bottom()),
        );
        (!shared.is_empty()).then_some(shared)
    }

    /// The smallest rectangle that holds both.
    #[must_use]
    pub fn around(&self, other: &Self) -> Self {
        Self::from_edges(
            self.x.min(other.x),
            self.y.min(other.y),
            self.right().max(other.right()),
            self.bottom().max(other.bottom()),
        )
    }

    /// Whether `inner` lies wholly in it.
    #[must_use]
    pub fn contains(&self, inner: &Self) -> bool {
        self.x <= inner.x
            && self.y <= inner.y
            && inner.right() <= self.right()
            && inner.bottom() <= self.bottom()
    }

    /// Moved by `dx` and `dy`.
    #[must_use]
    pub fn moved(&self, dx: Length, dy: Length) -> Self {
        Self::new(self.x + dx, self.y + dy, self.width, self.height)
    }
}

/// The least number of pieces of length `each`, neighbours sharing `shared`, that cover `length`: panels with their lap,
/// plates with their overlap.
///
/// n = 1 where one suffices, else ceil((length - shared) / (each - shared)): n pieces reach n each - (n - 1) shared.
/// Whole micrometres throughout; binary fractions answer one too many at exact fits. `None` where no number suffices.
#[must_use]
pub fn pieces_to_cover(length: Length, each: Length, shared: Length) -> Option<u32> {
    if each <= Length::ZERO || shared < Length::ZERO {
        return None;
    }
    if length <= each {
        return Some(1);
    }
    let (rest, step) = ((length - shared).um(), (each - shared).um());
    if step <= 0 {
        return None;
    }
    u32::try_from((rest + step - 1) / step).ok()
}

/// One value for each side, as seen in the space it is used in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Sides<T> {
    /// The left side.
    pub left: T,
    /// The top side.
    pub top: T,
    /// The right side.
    pub right: T,
    /// The bottom side.
    pub bottom: T,
}

impl<T: Copy> Sides<T> {
    /// The same on all four.
    pub const fn all(value: T) -> Self {
        Self { left: value, top: value, right: value, bottom: value }
    }

    /// As they come to lie when the sheet is turned a quarter clockwise: the bottom becomes the left.
    #[must_use]
    pub const fn turned_clockwise(self) -> Self {
        Self { left: self.bottom, top: self.left, right: self.top, bottom: self.right }
    }
}

/// How the face lies on paper: mirrored left to right for transfer, or the same for goods seen through from behind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Way {
    /// Whether paper is face mirrored left to right.
    pub mirrored: bool,
    /// The width of the design, about whose middle it is mirrored.
    pub width: Length,
}

impl Way {
    /// Where a rectangle of the face lies on the lay-up.
    #[must_use]
    pub fn to_paper(self, face: &Rect<Face>) -> Rect<Paper> {
        Rect::new(self.across(face.x, face.width), face.y, face.width, face.height)
    }

    /// Which rectangle of the face lies at a place of the lay-up.
    #[must_use]
    pub fn to_face(self, paper: &Rect<Paper>) -> Rect<Face> {
        Rect::new(self.across(paper.x, paper.width), paper.y, paper.width, paper.height)
    }

    /// Where a point of the lay-up lies on the face.
    #[must_use]
    pub fn point_to_face(self, at: Point<Paper>) -> Point<Face> {
        Point::new(self.across(at.x, Length::ZERO), at.y)
    }

    fn across(self, x: Length, width: Length) -> Length {
        if self.mirrored { self.width - x - width } else { x }
    }
}
