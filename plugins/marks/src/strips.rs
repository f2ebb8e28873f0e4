//! Which paper of a page is cut off before pressing, and how much of it can carry marks.
//!
//! A page loses the strip beyond each trimmed edge, over the page's whole length, and the strip beyond each edge of
//! the design, when the joined lay-up gets its final trim. The left and top paper of inner panels stays: it lies under
//! a neighbour, on the blank. Every mark lies within the usable area of one strip, so none can touch what stays.

use seamwright_contract::layout::{Edge, LayUp, Panel};
use seamwright_contract::{Length, Page, Point, Rect};

/// How far marks keep from the printed face (common practice, no source).
pub(crate) const CLEAR: Length = Length::from_mm(1);

/// A strip of paper that is cut off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Strip {
    /// The side of the page it lies on.
    pub(crate) edge: Edge,
    /// Whether the final trim takes it, after joining; otherwise it is cut off to the cell.
    pub(crate) outer: bool,
    /// The part that can carry marks: live and clear of the printed face. Without area where there is none.
    pub(crate) area: Rect<Page>,
}

impl Strip {
    /// Whether it stands upright: left or right of the artwork.
    pub(crate) fn upright(&self) -> bool {
        matches!(self.edge, Edge::Left | Edge::Right)
    }

    /// How far it reaches away from the artwork; below zero where there is no room.
    pub(crate) fn depth(&self) -> Length {
        if self.upright() { self.area.width } else { self.area.height }
    }

    /// The part of its usable area that lies beside a rectangle, not past its ends. Without area where there is none.
    pub(crate) fn beside(&self, rect: &Rect<Page>) -> Rect<Page> {
        let area = &self.area;
        if self.upright() {
            let (top, bottom) = (area.y.max(rect.y), area.bottom().min(rect.bottom()));
            Rect::from_edges(area.x, top, area.right(), bottom)
        } else {
            let (left, right) = (area.x.max(rect.x), area.right().min(rect.right()));
            Rect::from_edges(left, area.y, right, area.bottom())
        }
    }

    /// The place at a page coordinate along the strip and a depth away from the artwork.
    pub(crate) fn at(&self, along: Length, depth: Length) -> Point<Page> {
        match self.edge {
            Edge::Left => Point::new(self.area.right() - depth, along),
            Edge::Top => Point::new(along, self.area.bottom() - depth),
            Edge::Right => Point::new(self.area.x + depth, along),
            Edge::Bottom => Point::new(along, self.area.y + depth),
        }
    }
}

/// Where a rectangle's edge lies: x of upright edges, y of level ones.
pub(crate) fn place(rect: &Rect<Page>, edge: Edge) -> Length {
    match edge {
        Edge::Left => rect.x,
        Edge::Top => rect.y,
        Edge::Right => rect.right(),
        Edge::Bottom => rect.bottom(),
    }
}

/// The strips that a panel's page loses, those that stay until the final trim first.
pub(crate) fn strips(panel: &Panel, lay_up: &LayUp) -> Vec<Strip> {
    let outer = [Edge::Bottom, Edge::Top, Edge::Right, Edge::Left];
    let area = |edge| usable(edge, &panel.printed(), &lay_up.live);
    let trimmed = panel.trim.iter().map(|&edge| Strip { edge, outer: false, area: area(edge) });
    outer
        .into_iter()
        .filter(|edge| panel.outer.contains(edge))
        .map(|edge| Strip { edge, outer: true, area: area(edge) })
        .chain(trimmed)
        .collect()
}

/// What lies beyond an edge of the printed face, clear of it, within the live area.
fn usable(edge: Edge, printed: &Rect<Page>, live: &Rect<Page>) -> Rect<Page> {
    let (mut left, mut top, mut right, mut bottom) = (live.x, live.y, live.right(), live.bottom());
    match edge {
        Edge::Left => right = printed.x - CLEAR,
        Edge::Top => bottom = printed.y - CLEAR,
        Edge::Right => left = printed.right() + CLEAR,
        Edge::Bottom => top = printed.bottom() + CLEAR,
    }
    Rect::from_edges(left, top, right, bottom)
}
