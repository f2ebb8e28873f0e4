//! The lay-ups of `case` and `dice` are marked and judged by laws: the cutting is simulated, and whatever is printed
//! beside the artwork must be gone before pressing (`cutting`); marks must meet where panels join (`joining`); every
//! sheet must say what it is, in figures that are true (`naming`).

mod case;
mod cutting;
mod dice;
mod joining;
mod naming;

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, Ink, Mark, MarkRole, Panel};
use seamwright_contract::{Length, Page, Paper, Point, Rect};

const EDGES: [Edge; 4] = [Edge::Left, Edge::Top, Edge::Right, Edge::Bottom];

/// Where a rectangle of a panel's page lies on the lay-up.
fn on_paper(panel: &Panel, way: Way, rect: &Rect<Page>) -> Rect<Paper> {
    let face = way.to_paper(&panel.face);
    Rect::new(face.x - panel.at.x + rect.x, face.y - panel.at.y + rect.y, rect.width, rect.height)
}

/// Whether two rectangles share as much as a point.
fn touch<Space: Copy>(a: &Rect<Space>, b: &Rect<Space>) -> bool {
    a.x <= b.right() && b.x <= a.right() && a.y <= b.bottom() && b.y <= a.bottom()
}

fn is_upright(edge: Edge) -> bool {
    matches!(edge, Edge::Left | Edge::Right)
}

/// Where an edge lies: x of upright ones, y of level ones.
fn edge_of<Space: Copy>(rect: &Rect<Space>, edge: Edge) -> Length {
    match edge {
        Edge::Left => rect.x,
        Edge::Top => rect.y,
        Edge::Right => rect.right(),
        Edge::Bottom => rect.bottom(),
    }
}

/// How far beyond an edge of a rectangle a place across it lies; below zero on the rectangle's side.
fn beyond<Space: Copy>(rect: &Rect<Space>, edge: Edge, at: Length) -> Length {
    match edge {
        Edge::Left | Edge::Top => edge_of(rect, edge) - at,
        Edge::Right | Edge::Bottom => at - edge_of(rect, edge),
    }
}

fn opposite(edge: Edge) -> Edge {
    match edge {
        Edge::Left => Edge::Right,
        Edge::Top => Edge::Bottom,
        Edge::Right => Edge::Left,
        Edge::Bottom => Edge::Top,
    }
}

/// The edges that meet an edge at its ends.
fn ends(edge: Edge) -> [Edge; 2] {
    if is_upright(edge) { [Edge::Top, Edge::Bottom] } else { [Edge::Left, Edge::Right] }
}

fn text(mark: &Mark) -> Option<&str> {
    match &mark.ink {
        Ink::Text { text, .. } => Some(text),
        Ink::Line { .. } | Ink::Polygon(_) => None,
    }
}

/// The lines of one kind on a page.
fn lines(panel: &Panel, role: MarkRole) -> impl Iterator<Item = [Point<Page>; 2]> {
    panel.marks.iter().filter(move |mark| mark.role == role).filter_map(|mark| match &mark.ink {
        Ink::Line { from, to, .. } => Some([*from, *to]),
        Ink::Polygon(_) | Ink::Text { .. } => None,
    })
}

/// Both ends of a panel's lines of one kind, on the lay-up.
fn laid(panel: &Panel, role: MarkRole, way: Way) -> impl Iterator<Item = [Point<Paper>; 2]> {
    let at = move |point: Point<_>| {
        on_paper(panel, way, &Rect::new(point.x, point.y, Length::ZERO, Length::ZERO)).origin()
    };
    lines(panel, role).map(move |line| line.map(at))
}
