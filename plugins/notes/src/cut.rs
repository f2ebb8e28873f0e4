//! The part about cutting: of each panel, what lies beyond its four edges and what becomes of it.

use seamwright_contract::layout::{Edge, LayUp, Layout, Panel, TrimOrder};
use seamwright_contract::{Length, Paper, Rect};

use crate::blocks::{Block, PanelCell, PanelMap};
use crate::content::table;
use crate::{plan, say, words};

/// Bare parts are drawn where they are no thinner than this part of the design's longer side.
const THINNEST: i64 = 80;

pub(crate) fn panels(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading(words::PANELS.to_owned()));
    blocks.push(Block::Points(meanings(layout, lay_up)));
    let rows = lay_up.panels.iter().map(|panel| {
        let place = format!("{}, {}", panel.row, panel.column);
        let strips = plan::EDGES.map(|edge| strip(panel, edge, layout, lay_up));
        let on = say::list(&panel.on_top_of);
        [panel.number.to_string(), place, on].into_iter().chain(strips).collect()
    });
    blocks.push(table(&words::PANEL_HEADS, rows.collect()));
}

/// The lay-up with the edges that are cut.
pub(crate) fn map(layout: &Layout, lay_up: &LayUp) -> PanelMap {
    let (way, size) = (layout.way(), layout.order.size);
    let design: Rect<Paper> = Rect::of_size(size);
    let thinnest = size.width.max(size.height) / THINNEST;
    let cell = |panel: &Panel| PanelCell {
        number: panel.number,
        cell: way.to_paper(&panel.cell),
        thick: panel.trim.clone(),
    };
    let bare = lay_up.left_out.iter().map(|part| way.to_paper(part));
    PanelMap {
        design,
        sheets: lay_up.panels.iter().map(|panel| plan::sheet(panel, lay_up, way)).collect(),
        bare: bare.filter(|part| part.width.min(part.height) >= thinnest).collect(),
        cells: lay_up.panels.iter().map(cell).collect(),
        tape: Vec::new(),
    }
}

/// What the words in the table mean, those that stand in it.
fn meanings(layout: &Layout, lay_up: &LayUp) -> Vec<String> {
    let strips = if layout.order.share { words::STRIPS_SHARED } else { words::STRIPS };
    let mut said = vec![words::INK_SIDE_UP.to_owned(), strips.to_owned()];
    if let Some((lap, when)) = layout.lap.and_then(|lap| Some((lap, when(lap.order, &lay_up.panels)?))) {
        let beyond: Length = lap.lap - lap.cut_at;
        let inside = say::length(layout.order.units, beyond);
        said.push(format!("{}: {when}. {} {inside} {}", words::CUT, words::CUT_RUNS, words::CUT_INSIDE));
        said.push(words::UNDER_MEANS.to_owned());
    }
    said.push(words::LAST_MEANS.to_owned());
    said
}

/// What becomes of the strip between the paper's edge and what remains visible, and how wide it is.
fn strip(panel: &Panel, edge: Edge, layout: &Layout, lay_up: &LayUp) -> String {
    let what = if panel.trim.contains(&edge) {
        words::CUT
    } else if panel.outer.contains(&edge) {
        words::LAST
    } else {
        words::UNDER
    };
    if layout.order.share {
        // Where its paper ends is not known yet.
        return what.to_owned();
    }
    format!("{what} {}", say::length(layout.order.units, plan::strip(panel, edge, lay_up.page, layout.way())))
}

/// When which edges are cut; nothing where none are.
fn when(order: TrimOrder, panels: &[Panel]) -> Option<String> {
    let cut = |edges: [Edge; 2]| -> Vec<Edge> {
        edges.into_iter().filter(|edge| panels.iter().any(|panel| panel.trim.contains(edge))).collect()
    };
    let (upright, level) = (cut([Edge::Left, Edge::Right]), cut([Edge::Top, Edge::Bottom]));
    let (first, then) = (say::edges(&upright), say::edges(&level));
    match (order, upright.is_empty(), level.is_empty()) {
        (_, true, true) => None,
        (TrimOrder::PanelsFirst, false, false) => {
            Some(format!("{}, {first} edges first, then {then}", words::BEFORE_JOINING))
        }
        (TrimOrder::PanelsFirst, ..) => Some(words::BEFORE_JOINING.to_owned()),
        (TrimOrder::RowsFirst, false, false) => {
            Some(format!("{first} edges {}, {then} edges when the row is joined", words::BEFORE_JOINING))
        }
        (TrimOrder::RowsFirst, false, true) => Some(format!("{first} edges {}", words::BEFORE_JOINING)),
        (TrimOrder::RowsFirst, true, false) => Some(format!("{then} edges when the row is joined")),
    }
}
