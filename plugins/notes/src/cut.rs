//! The first part of the work: which panel loses which edges, and where.

use seamwright_contract::layout::{Edge, LayUp, Layout, Panel, TrimOrder};
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Paper, Rect};

use crate::blocks::{Block, Drawing, Fact, Figure, PanelCell, PanelMap};
use crate::content::{fact, table};
use crate::plan::{self, Taped};
use crate::{say, words};

/// Bare parts are drawn where they are no thinner than this part of the design's longer side.
const THINNEST: i64 = 80;

pub(crate) fn panels(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) {
    let map = map(layout, lay_up);
    let mut caption = vec![words::PANELS_CAPTION];
    if !map.bare.is_empty() {
        caption.push(words::HATCHED);
    }
    if !map.tape.is_empty() {
        caption.push(words::BOXES);
    }
    let mut said = vec![words::INK_SIDE_UP.to_owned()];
    said.extend(plan::taped(lay_up, layout.way()).iter().map(|taped| tape(taped, layout.order.units)));
    let rows = lay_up.panels.iter().map(|panel| {
        let edges = if panel.trim.is_empty() { words::NO_EDGE.to_owned() } else { say::edges(&panel.trim) };
        let numbers = [panel.number, panel.row, panel.column].map(|number| number.to_string());
        numbers.into_iter().chain([edges, say::list(&panel.on_top_of)]).collect()
    });
    blocks.push(Block::Heading(words::PANELS.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        caption: caption.join(" "),
        drawing: Some(Drawing::Panels(map)),
        words: said,
        facts: facts(layout, lay_up),
    })));
    blocks.push(table(&words::PANEL_HEADS, rows.collect()));
}

fn map(layout: &Layout, lay_up: &LayUp) -> PanelMap {
    let (way, size) = (layout.way(), layout.order.size);
    let design: Rect<Paper> = Rect::of_size(size);
    let thinnest = size.width.max(size.height) / THINNEST;
    let cell = |panel: &Panel| PanelCell {
        number: panel.number,
        cell: way.to_paper(&panel.cell),
        trim: panel.trim.clone(),
    };
    let bare = lay_up.left_out.iter().map(|part| way.to_paper(part));
    PanelMap {
        design,
        sheets: lay_up.panels.iter().map(|panel| plan::sheet(panel, lay_up, way)).collect(),
        bare: bare.filter(|part| part.width.min(part.height) >= thinnest).collect(),
        cells: lay_up.panels.iter().map(cell).collect(),
        tape: lay_up.tape.iter().map(|spot| plan::line_on_paper(way, spot.line)).collect(),
    }
}

/// Where the tape of a seam or an outer edge goes.
fn tape(taped: &Taped<'_>, units: Units) -> String {
    let spots: Vec<String> =
        taped.spots.iter().map(|spot| spot.map(|at| units.show(at)).join(" to ")).collect();
    let end = match taped.edge {
        Edge::Left | Edge::Right => "top",
        Edge::Top | Edge::Bottom => "left",
    };
    let what = match *taped.holds {
        [low, high] => format!("Seam {}", say::pairs(&[[low, high]])),
        _ => format!("Panel {} on the blank, {} edge", say::list(taped.holds), taped.edge.word()),
    };
    format!("{what}: tape at {} from its {end} end.", say::joined(&spots))
}

fn facts(layout: &Layout, lay_up: &LayUp) -> Vec<Fact> {
    let cut = |edges: &[Edge]| {
        if edges.is_empty() { words::UNCUT.to_owned() } else { format!("cut {}", say::edges(edges)) }
    };
    let mut facts: Vec<Fact> = plan::by_trim(&lay_up.panels)
        .into_iter()
        .map(|(edges, numbers)| fact(&say::begun(&say::numbered("panel", &numbers)), cut(edges)))
        .collect();
    let units = layout.order.units;
    if let Some((lap, when)) = layout.lap.and_then(|lap| Some((lap, when(lap.order, &lay_up.panels)?))) {
        let beyond: Length = lap.lap - lap.cut_at;
        facts.push(fact("Lap", units.show(lap.lap)));
        facts.push(fact("Cut", format!("{} inside the ink's edge", units.show(beyond))));
        facts.push(fact("When", when));
    }
    facts
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
