//! Which paper of a page is cut off before pressing, and how much of it can carry marks.
//!
//! The strip beyond each trimmed edge is cut off before the rows are laid on each other, the strip beyond each outer
//! edge at the final trim; both over the page's whole length. Paper beyond any other edge stays: it lies under a
//! neighbour, perhaps only in part. At a step of the lay-up or across a narrow hole an outer strip may lie on or under
//! paper of another panel that stays, and there the final trim does not part the two: only what is clear of it carries
//! marks. Every mark lies within the usable area of one strip, so none can touch what stays.

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, Panel};
use seamwright_contract::{Length, Page, Paper, Point, Rect, Size};

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

    /// Where it begins, at the artwork: x of upright strips, y of level ones.
    pub(crate) fn begins(&self) -> Length {
        match self.edge {
            Edge::Left => self.area.right(),
            Edge::Top => self.area.bottom(),
            Edge::Right => self.area.x,
            Edge::Bottom => self.area.y,
        }
    }

    /// The place at a page coordinate along the strip and a depth away from the artwork.
    pub(crate) fn at(&self, along: Length, depth: Length) -> Point<Page> {
        match self.edge {
            Edge::Left => Point::new(self.begins() - depth, along),
            Edge::Top => Point::new(along, self.begins() - depth),
            Edge::Right => Point::new(self.begins() + depth, along),
            Edge::Bottom => Point::new(along, self.begins() + depth),
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

/// Where a page's top left lies on the lay-up.
pub(crate) fn origin(panel: &Panel, way: Way) -> Point<Paper> {
    let face = way.to_paper(&panel.face);
    Point::new(face.x - panel.at.x, face.y - panel.at.y)
}

/// The paper of a panel that is still there at the end, on the lay-up.
pub(crate) fn stays(panel: &Panel, page: Size, way: Way) -> Rect<Paper> {
    let (origin, cell) = (origin(panel, way), way.to_paper(&panel.cell));
    let is_cut = |edge| panel.trim.contains(&edge) || panel.outer.contains(&edge);
    let side = |edge, cell, page| if is_cut(edge) { cell } else { page };
    Rect::from_edges(
        side(Edge::Left, cell.x, origin.x),
        side(Edge::Top, cell.y, origin.y),
        side(Edge::Right, cell.right(), origin.x + page.width),
        side(Edge::Bottom, cell.bottom(), origin.y + page.height),
    )
}

/// All edges, in the order in which the paper beyond them is used.
const EDGES: [Edge; 4] = [Edge::Bottom, Edge::Top, Edge::Right, Edge::Left];

/// The strips that a panel's page loses, those that stay until the final trim first. `kept` is the paper of all panels
/// that stays, as it lies on this page.
pub(crate) fn strips(panel: &Panel, live: &Rect<Page>, kept: &[Rect<Page>]) -> Vec<Strip> {
    let printed = panel.printed();
    let outer = EDGES.into_iter().filter(|edge| panel.outer.contains(edge)).map(|edge| {
        let area = kept.iter().fold(beyond(edge, &printed, live), |area, kept| clear_of(edge, area, kept));
        Strip { edge, outer: true, area }
    });
    let trimmed = panel.trim.iter().map(|&edge| {
        let area = beyond(edge, &printed, live);
        Strip { edge, outer: false, area }
    });
    outer.chain(trimmed).collect()
}

/// What lies beyond an edge of a rectangle, clear of it, within an area.
fn beyond(edge: Edge, rect: &Rect<Page>, area: &Rect<Page>) -> Rect<Page> {
    let (mut left, mut top, mut right, mut bottom) = (area.x, area.y, area.right(), area.bottom());
    match edge {
        Edge::Left => right = rect.x - CLEAR,
        Edge::Top => bottom = rect.y - CLEAR,
        Edge::Right => left = rect.right() + CLEAR,
        Edge::Bottom => top = rect.bottom() + CLEAR,
    }
    Rect::from_edges(left, top, right, bottom)
}

/// The largest part of a strip's area that is clear of paper that stays and still begins at the artwork.
fn clear_of(edge: Edge, area: Rect<Page>, kept: &Rect<Page>) -> Rect<Page> {
    if area.intersection(&grown(kept, CLEAR)).is_none() {
        return area;
    }
    let size = |rect: &Rect<Page>| rect.width.um().max(0) * rect.height.um().max(0);
    let parts = EDGES.into_iter().filter(|side| *side != edge).map(|side| beyond(side, kept, &area));
    parts.max_by_key(size).unwrap_or(area)
}

/// Grown by so much on each side.
pub(crate) fn grown(rect: &Rect<Page>, by: Length) -> Rect<Page> {
    Rect::from_edges(rect.x - by, rect.y - by, rect.right() + by, rect.bottom() + by)
}
