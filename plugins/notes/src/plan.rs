//! What follows from the layout's data for the one who joins the panels: which of them hang together, the order of
//! laying them, what the last cut takes, where seams and tape come to lie. Nothing is assumed about a regular grid; all
//! is read from the panels.
//!
//! A lay-up falls into *pieces* that do not touch, mostly one. A piece is joined from *row parts*: the panels of one
//! row that hang together. Mostly that is the whole row; where bare artwork in its middle was left out, it is in two.

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, LayUp, Layout, Panel};
use seamwright_contract::{Face, Length, OnBlank, Paper, Point, Rect, Size, num};

/// Panels that hang together, and touch no others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Piece {
    /// Its panels, ascending.
    pub(crate) panels: Vec<u32>,
    /// The box around what remains of them.
    pub(crate) extent: Rect<Paper>,
    /// Whether panels lie in all four corners of that box, so that its diagonals can be measured.
    pub(crate) has_corners: bool,
    /// Its row parts in the order in which they are laid: whatever lies beneath comes first.
    pub(crate) parts: Vec<RowPart>,
}

/// Panels of one row that hang together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct RowPart {
    /// Its row, from the top.
    pub(crate) row: u32,
    /// Its panels, ascending: left to right, ink side up.
    pub(crate) panels: Vec<u32>,
    /// Whether it is all of its row that the piece has.
    pub(crate) is_row: bool,
    /// How its panels are laid.
    pub(crate) moves: Vec<Move>,
    /// The row parts it is laid on afterwards, each by its first panel.
    pub(crate) on: Vec<u32>,
    /// Edges along it that are cut, and the panels that they are cut on.
    pub(crate) long_cuts: Vec<(Edge, Vec<u32>)>,
}

impl RowPart {
    /// The edges along the row that one of its panels is cut on.
    pub(crate) fn long_cut_edges(&self, panel: u32) -> Vec<Edge> {
        let mine = self.long_cuts.iter().filter(|(_, panels)| panels.contains(&panel));
        mine.map(|(edge, _)| *edge).collect()
    }
}

/// One move of joining.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Move {
    /// Lay a panel down by itself.
    Put(u32),
    /// Lay a panel on those of its row that it laps.
    On(u32, Vec<u32>),
}

impl Move {
    /// The panel that is laid.
    pub(crate) const fn panel(&self) -> u32 {
        let (Self::Put(panel) | Self::On(panel, _)) = self;
        *panel
    }

    /// The edges of the panel that come to lie on its neighbours in the row.
    pub(crate) fn lapping(&self) -> Vec<Edge> {
        let Self::On(panel, on) = self else { return Vec::new() };
        // Panels of a row are numbered from the left.
        let left = on.iter().any(|below| below < panel).then_some(Edge::Left);
        let right = on.iter().any(|below| below > panel).then_some(Edge::Right);
        [left, right].into_iter().flatten().collect()
    }
}

/// The pieces, ascending by their first panel.
pub(crate) fn pieces(lay_up: &LayUp, way: Way) -> Vec<Piece> {
    let lapping =
        lay_up.panels.iter().flat_map(|panel| panel.on_top_of.iter().map(|below| [panel.number, *below]));
    let ties: Vec<[u32; 2]> = lapping.chain(lay_up.seams.iter().map(|seam| seam.between)).collect();
    let all: Vec<&Panel> = lay_up.panels.iter().collect();
    groups(&all, &ties).iter().map(|panels| piece(panels, &ties, way)).collect()
}

fn piece(panels: &[&Panel], ties: &[[u32; 2]], way: Way) -> Piece {
    let mut rows: BTreeMap<u32, Vec<&Panel>> = BTreeMap::new();
    for panel in panels {
        rows.entry(panel.row).or_default().push(panel);
    }
    let by_row: Vec<Vec<Vec<&Panel>>> = rows.values().map(|row| groups(row, ties)).collect();
    let first_of: BTreeMap<u32, u32> = by_row
        .iter()
        .flatten()
        .flat_map(|part| {
            part.iter().map(|panel| (panel.number, part.first().map_or(0, |first| first.number)))
        })
        .collect();
    let parts =
        by_row.iter().flat_map(|row| row.iter().map(|part| row_part(part, row.len() == 1, &first_of)));
    let cells: Vec<Rect<Paper>> = panels.iter().map(|panel| way.to_paper(&panel.cell)).collect();
    let extent = cells.iter().copied().reduce(|one, other| one.around(&other)).unwrap_or_default();
    Piece {
        panels: panels.iter().map(|panel| panel.number).collect(),
        extent,
        has_corners: has_corners(&cells, &extent),
        parts: in_order(parts.collect()),
    }
}

/// Panels that are tied to each other, directly or through others; each group ascending, and all by their first.
fn groups<'a>(panels: &[&'a Panel], ties: &[[u32; 2]]) -> Vec<Vec<&'a Panel>> {
    let mut groups: Vec<Vec<&Panel>> = panels.iter().map(|panel| vec![*panel]).collect();
    for tie in ties {
        let [one, other] = tie
            .map(|number| groups.iter().position(|group| group.iter().any(|panel| panel.number == number)));
        let Some((one, other)) = one.zip(other).filter(|(one, other)| one != other) else { continue };
        let moved = groups.remove(one.max(other));
        if let Some(group) = groups.get_mut(one.min(other)) {
            group.extend(moved);
        }
    }
    for group in &mut groups {
        group.sort_unstable_by_key(|panel| panel.number);
    }
    groups
}

/// `first_of`: of each panel of the piece, the first of its row part.
fn row_part(panels: &[&Panel], is_row: bool, first_of: &BTreeMap<u32, u32>) -> RowPart {
    let numbers: Vec<u32> = panels.iter().map(|panel| panel.number).collect();
    let of_mine = |panel: &Panel| -> Vec<u32> {
        panel.on_top_of.iter().copied().filter(|below| numbers.contains(below)).collect()
    };
    let beneath = panels.iter().map(|panel| (panel.number, of_mine(panel))).collect();
    let moves = from_beneath(&beneath).into_iter().map(|number| match beneath.get(&number) {
        Some(on) if !on.is_empty() => Move::On(number, on.clone()),
        Some(_) | None => Move::Put(number),
    });
    let others = panels.iter().flat_map(|panel| &panel.on_top_of).filter(|below| !numbers.contains(below));
    let on: BTreeSet<u32> = others.filter_map(|below| first_of.get(below).copied()).collect();
    let cut_on = |edge: Edge| -> Vec<u32> {
        panels.iter().filter(|panel| panel.trim.contains(&edge)).map(|panel| panel.number).collect()
    };
    let long_cuts = [Edge::Top, Edge::Bottom].map(|edge| (edge, cut_on(edge)));
    RowPart {
        row: panels.first().map_or(0, |panel| panel.row),
        is_row,
        moves: moves.collect(),
        on: on.into_iter().collect(),
        long_cuts: long_cuts.into_iter().filter(|(_, on)| !on.is_empty()).collect(),
        panels: numbers,
    }
}

fn in_order(parts: Vec<RowPart>) -> Vec<RowPart> {
    let mut parts: BTreeMap<u32, RowPart> =
        parts.into_iter().filter_map(|part| Some((*part.panels.first()?, part))).collect();
    let beneath = parts.iter().map(|(first, part)| (*first, part.on.clone())).collect();
    from_beneath(&beneath).into_iter().filter_map(|first| parts.remove(&first)).collect()
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

fn has_corners(cells: &[Rect<Paper>], extent: &Rect<Paper>) -> bool {
    let sides = |cell: &Rect<Paper>| {
        let (left, right) = (cell.x == extent.x, cell.right() == extent.right());
        let (top, bottom) = (cell.y == extent.y, cell.bottom() == extent.bottom());
        [left && top, right && top, left && bottom, right && bottom]
    };
    let corners = cells.iter().map(sides);
    corners
        .fold([false; 4], |all, one| std::array::from_fn(|i| all[i] || one[i]))
        .iter()
        .all(|corner| *corner)
}

/// The diagonal of a rectangle, to the nearest micrometre.
pub(crate) fn diagonal(size: Size) -> Length {
    let (width, height) = (num::float(size.width.um()), num::float(size.height.um()));
    Length::from_um(num::round((width * width + height * height).sqrt()))
}

/// The four edges, in the order in which they are listed.
pub(crate) const EDGES: [Edge; 4] = [Edge::Left, Edge::Top, Edge::Right, Edge::Bottom];

/// How much paper there is between an edge of a panel's sheet and what remains visible of the panel.
pub(crate) fn strip(panel: &Panel, edge: Edge, page: Size, way: Way) -> Length {
    let cell = panel.on_page(&panel.cell, way);
    match edge {
        Edge::Left => cell.x,
        Edge::Top => cell.y,
        Edge::Right => page.width - cell.right(),
        Edge::Bottom => page.height - cell.bottom(),
    }
}

/// A panel's sheet on the lay-up when its trimmed edges are cut: what lies on the board.
pub(crate) fn sheet(panel: &Panel, lay_up: &LayUp, way: Way) -> Rect<Paper> {
    let (face, cell) = (way.to_paper(&panel.face), way.to_paper(&panel.cell));
    let whole: Rect<Paper> = Rect::of_size(lay_up.page).moved(face.x - panel.at.x, face.y - panel.at.y);
    let end = |edge, cut, paper| if panel.trim.contains(&edge) { cut } else { paper };
    Rect::from_edges(
        end(Edge::Left, cell.x, whole.x),
        end(Edge::Top, cell.y, whole.y),
        end(Edge::Right, cell.right(), whole.right()),
        end(Edge::Bottom, cell.bottom(), whole.bottom()),
    )
}

/// All tape spots of one seam, or of one outer edge of a panel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Taped<'a> {
    /// The two panels, or the one that is held on the blank.
    pub(crate) holds: &'a [u32],
    /// Which edge of it that is; of a seam, the edge of the lower number's panel.
    pub(crate) edge: Edge,
    /// From and to, along the seam or edge from its top or left end, ink side up.
    pub(crate) spots: Vec<[Length; 2]>,
}

/// The tape spots by what they hold, in their order.
pub(crate) fn taped<'a>(lay_up: &'a LayUp, way: Way) -> Vec<Taped<'a>> {
    let cell = |number: &u32| {
        let panel = lay_up.panels.iter().find(|panel| panel.number == *number);
        panel.map(|panel| way.to_paper(&panel.cell))
    };
    let mut all: Vec<Taped<'a>> = Vec::new();
    for spot in &lay_up.tape {
        let line = line_on_paper(way, spot.line);
        let cells: Vec<Rect<Paper>> = spot.holds.iter().filter_map(cell).collect();
        let Some(first) = cells.first() else { continue };
        let upright = line.width < line.height;
        let (edge, spot_at) = if upright {
            let start = cells.iter().map(|cell| cell.y).max().unwrap_or_default();
            let near = (line.x - first.x).abs() < (line.x - first.right()).abs();
            (if near { Edge::Left } else { Edge::Right }, [line.y - start, line.bottom() - start])
        } else {
            let start = cells.iter().map(|cell| cell.x).max().unwrap_or_default();
            let near = (line.y - first.y).abs() < (line.y - first.bottom()).abs();
            (if near { Edge::Top } else { Edge::Bottom }, [line.x - start, line.right() - start])
        };
        match all.iter_mut().find(|taped| (taped.holds, taped.edge) == (&spot.holds, edge)) {
            Some(taped) => taped.spots.push(spot_at),
            None => all.push(Taped { holds: &spot.holds, edge, spots: vec![spot_at] }),
        }
    }
    all
}

/// A level or upright line of the face on the lay-up, as a rectangle without height or width.
pub(crate) fn line_on_paper(way: Way, [from, to]: [Point<Face>; 2]) -> Rect<Paper> {
    way.to_paper(&Rect::from_edges(from.x.min(to.x), from.y.min(to.y), from.x.max(to.x), from.y.max(to.y)))
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

/// Where the panels of a row part come to lie on the blank.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct RowPlace {
    /// The row.
    pub(crate) row: u32,
    /// Its panels from the blank's left.
    pub(crate) panels: Vec<u32>,
    /// Its left end, its seams and its right end, from the blank's left edge.
    pub(crate) across: Vec<Length>,
    /// Its upper and lower end, from the blank's top edge.
    pub(crate) down: [Length; 2],
}

/// Where the rows come to lie, from the top.
pub(crate) fn row_places(layout: &Layout, lay_up: &LayUp, pieces: &[Piece]) -> Vec<RowPlace> {
    let mut places: Vec<RowPlace> = pieces
        .iter()
        .flat_map(|piece| &piece.parts)
        .map(|part| {
            let mine = lay_up.panels.iter().filter(|panel| part.panels.contains(&panel.number));
            let mut cells: Vec<(u32, Rect<OnBlank>)> = mine
                .map(|panel| (panel.number, on_blank(layout, &layout.way().to_paper(&panel.cell))))
                .collect();
            cells.sort_by_key(|(_, cell)| cell.x);
            let first = cells.first().map(|(_, cell)| *cell).unwrap_or_default();
            let ends = cells.iter().map(|(_, cell)| cell.right());
            RowPlace {
                row: part.row,
                across: std::iter::once(first.x).chain(ends).collect(),
                down: [first.y, first.bottom()],
                panels: cells.into_iter().map(|(number, _)| number).collect(),
            }
        })
        .collect();
    places.sort_by_key(|place| (place.row, place.across.first().copied()));
    places
}
