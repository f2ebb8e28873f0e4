//! What follows from the layout's data for the one who joins the panels: the order of laying, the seams' lines on
//! the blank, the diagonal to check. Nothing is assumed about a regular grid; all is read from the panels.

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::layout::{Edge, LayUp, Layout, Panel};
use seamwright_contract::{Length, OnBlank, Paper, Rect, Size, num};

/// One move of joining.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Move {
    /// Lay a panel down by itself.
    Put(u32),
    /// Lay a panel on those of its row that it laps.
    On(u32, Vec<u32>),
}

/// A row, joined.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct RowPlan {
    /// Its number, from the top.
    pub(crate) row: u32,
    /// Its panels, left to right, ink side up.
    pub(crate) panels: Vec<u32>,
    /// How its panels are laid.
    pub(crate) moves: Vec<Move>,
    /// The rows it is laid on afterwards.
    pub(crate) on_rows: Vec<u32>,
    /// Edges that run along the row and are cut on some of its panels.
    pub(crate) long_cuts: Vec<Edge>,
}

/// The rows in the order in which they are laid: whatever lies beneath comes first.
pub(crate) fn rows(lay_up: &LayUp) -> Vec<RowPlan> {
    let mut by_row: BTreeMap<u32, Vec<&Panel>> = BTreeMap::new();
    for panel in &lay_up.panels {
        by_row.entry(panel.row).or_default().push(panel);
    }
    let row_of: BTreeMap<u32, u32> = lay_up.panels.iter().map(|panel| (panel.number, panel.row)).collect();
    let mut plans: BTreeMap<u32, RowPlan> = BTreeMap::new();
    for (row, mut panels) in by_row {
        panels.sort_by_key(|panel| panel.column);
        plans.insert(row, row_plan(row, &panels, &row_of));
    }
    let beneath = plans.values().map(|plan| (plan.row, plan.on_rows.clone())).collect();
    from_beneath(&beneath).into_iter().filter_map(|row| plans.remove(&row)).collect()
}

fn row_plan(row: u32, panels: &[&Panel], row_of: &BTreeMap<u32, u32>) -> RowPlan {
    let mine: BTreeSet<u32> = panels.iter().map(|panel| panel.number).collect();
    let beneath: BTreeMap<u32, Vec<u32>> = panels
        .iter()
        .map(|panel| {
            (panel.number, panel.on_top_of.iter().copied().filter(|below| mine.contains(below)).collect())
        })
        .collect();
    let moves = from_beneath(&beneath)
        .into_iter()
        .map(|number| match beneath.get(&number) {
            Some(on) if !on.is_empty() => Move::On(number, on.clone()),
            Some(_) | None => Move::Put(number),
        })
        .collect();
    let on_rows: BTreeSet<u32> = panels
        .iter()
        .flat_map(|panel| &panel.on_top_of)
        .filter_map(|below| row_of.get(below).copied())
        .filter(|below| *below != row)
        .collect();
    let long_cuts = [Edge::Top, Edge::Bottom]
        .into_iter()
        .filter(|edge| panels.iter().any(|panel| panel.trim.contains(edge)))
        .collect();
    RowPlan {
        row,
        panels: panels.iter().map(|panel| panel.number).collect(),
        moves,
        on_rows: on_rows.into_iter().collect(),
        long_cuts,
    }
}

/// Numbers ordered so that each comes after all that lie beneath it, of several possible the greatest first. Should
/// the data run in a circle, the greatest number breaks it: an order is given in any case.
fn from_beneath(beneath: &BTreeMap<u32, Vec<u32>>) -> Vec<u32> {
    let mut left: BTreeSet<u32> = beneath.keys().copied().collect();
    let mut order = Vec::new();
    while let Some(greatest) = left.last().copied() {
        let free = |number: &&u32| {
            beneath
                .get(number)
                .is_none_or(|below| below.iter().all(|one| one == *number || !left.contains(one)))
        };
        let next = left.iter().rev().find(free).copied().unwrap_or(greatest);
        left.remove(&next);
        order.push(next);
    }
    order
}

/// The panels by the edges cut on them, in the order of their first panel. `keep` picks the edges asked about.
pub(crate) fn by_trim(panels: &[Panel], keep: impl Fn(Edge) -> bool) -> Vec<(Vec<Edge>, Vec<u32>)> {
    let mut groups: Vec<(Vec<Edge>, Vec<u32>)> = Vec::new();
    for panel in panels {
        let edges: Vec<Edge> = panel.trim.iter().copied().filter(|edge| keep(*edge)).collect();
        match groups.iter_mut().find(|(known, _)| *known == edges) {
            Some((_, numbers)) => numbers.push(panel.number),
            None => groups.push((edges, vec![panel.number])),
        }
    }
    groups
}

/// A part of the lay-up as it comes to lie on the blank, which is drawn face up.
///
/// Ordinary goods lie face up and the paper ink side down on them, so the lay-up is seen turned over left to right:
/// for a mirrored job that is the face again. Goods seen through from behind are drawn from their face, too.
pub(crate) fn on_blank(layout: &Layout, part: &Rect<Paper>) -> Rect<OnBlank> {
    let (way, origin) = (layout.way(), layout.placed());
    let x = if layout.order.blank.substrate.seen_through {
        way.to_face(part).x
    } else {
        way.width - part.x - part.width
    };
    Rect::new(origin.x + x, origin.y + part.y, part.width, part.height)
}

/// A straight line of one or more seams.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SeamLine {
    /// The pairs of panels it parts.
    pub(crate) pairs: Vec<[u32; 2]>,
    /// Whether it runs up and down the blank, or else across.
    pub(crate) upright: bool,
    /// Its distance from the blank's left (or top) edge.
    pub(crate) near: Length,
    /// Its distance from the blank's right (or bottom) edge.
    pub(crate) far: Length,
}

/// The seams as lines over the blank: upright ones from the left, then level ones from the top.
pub(crate) fn seam_lines(layout: &Layout, lay_up: &LayUp) -> Vec<SeamLine> {
    let blank = layout.order.blank.size;
    let mut lines: BTreeMap<(bool, Length), Vec<[u32; 2]>> = BTreeMap::new();
    for seam in &lay_up.seams {
        let [from, to] = seam.line;
        let face = Rect::from_edges(from.x.min(to.x), from.y.min(to.y), from.x.max(to.x), from.y.max(to.y));
        let place = on_blank(layout, &layout.way().to_paper(&face));
        let level = place.width > place.height;
        lines.entry((level, if level { place.y } else { place.x })).or_default().push(seam.between);
    }
    lines
        .into_iter()
        .map(|((level, near), pairs)| {
            let far = if level { blank.height - near } else { blank.width - near };
            SeamLine { pairs, upright: !level, near, far }
        })
        .collect()
}

/// The diagonal of a rectangle, to the nearest micrometre.
pub(crate) fn diagonal(size: Size) -> Length {
    let (width, height) = (num::float(size.width.um()), num::float(size.height.um()));
    Length::from_um(num::round((width * width + height * height).sqrt()))
}

/// Whether all four corners of the design are on paper, so that diagonals can be measured.
pub(crate) fn has_corners(panels: &[Panel], size: Size) -> bool {
    let at_edge = |near: bool, top: bool| {
        panels.iter().any(|panel| {
            let x = if near { panel.cell.x == Length::ZERO } else { panel.cell.right() == size.width };
            let y = if top { panel.cell.y == Length::ZERO } else { panel.cell.bottom() == size.height };
            x && y
        })
    };
    at_edge(true, true) && at_edge(true, false) && at_edge(false, true) && at_edge(false, false)
}
