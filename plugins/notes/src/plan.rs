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

/// One move of joining.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Move {
    /// Lay a panel down by itself.
    Put(u32),
    /// Lay a panel on those of its row that it laps.
    On(u32, Vec<u32>),
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
    let extent = cells.iter().copied().reduce(|one, other| around(&one, &other)).unwrap_or_default();
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

/// The smallest rectangle that holds two.
pub(crate) fn around<S: Copy>(one: &Rect<S>, other: &Rect<S>) -> Rect<S> {
    Rect::from_edges(
        one.x.min(other.x),
        one.y.min(other.y),
        one.right().max(other.right()),
        one.bottom().max(other.bottom()),
    )
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

/// The panels by the edges cut on them, in the order of their first panel.
pub(crate) fn by_trim(panels: &[Panel]) -> Vec<(&[Edge], Vec<u32>)> {
    let mut groups: Vec<(&[Edge], Vec<u32>)> = Vec::new();
    for panel in panels {
        match groups.iter_mut().find(|(known, _)| *known == panel.trim) {
            Some((_, numbers)) => numbers.push(panel.number),
            None => groups.push((&panel.trim, vec![panel.number])),
        }
    }
    groups
}

/// Paper that the last cut takes on one side of some panels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct OuterStrip {
    /// The side, ink side up.
    pub(crate) edge: Edge,
    /// How much, from the paper's edge to the cut.
    pub(crate) paper: Length,
    /// The panels.
    pub(crate) panels: Vec<u32>,
}

/// What the last cut takes: by sides, and where a side's strips differ, in the order of their first panel.
pub(crate) fn outer_strips(lay_up: &LayUp) -> Vec<OuterStrip> {
    let mut strips: Vec<OuterStrip> = Vec::new();
    for edge in [Edge::Left, Edge::Top, Edge::Right, Edge::Bottom] {
        for panel in lay_up.panels.iter().filter(|panel| panel.outer.contains(&edge)) {
            let printed = panel.printed();
            let paper = match edge {
                Edge::Left => printed.x,
                Edge::Top => printed.y,
                Edge::Right => lay_up.page.width - printed.right(),
                Edge::Bottom => lay_up.page.height - printed.bottom(),
            };
            match strips.iter_mut().find(|strip| (strip.edge, strip.paper) == (edge, paper)) {
                Some(strip) => strip.panels.push(panel.number),
                None => strips.push(OuterStrip { edge, paper, panels: vec![panel.number] }),
            }
        }
    }
    strips
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

/// Where the seams of some rows come to lie on the blank.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SeamPlaces {
    /// Whether they run up and down the blank, between neighbours of a row, or else across, between rows.
    pub(crate) upright: bool,
    /// The rows.
    pub(crate) rows: Vec<u32>,
    /// Their distances from the blank's left (or top) edge, ascending.
    pub(crate) at: Vec<Length>,
}

/// The seams on the blank: upright ones by rows, rows with the same ones together, then level ones.
pub(crate) fn seam_places(layout: &Layout, lay_up: &LayUp) -> Vec<SeamPlaces> {
    let row_of: BTreeMap<u32, u32> = lay_up.panels.iter().map(|panel| (panel.number, panel.row)).collect();
    let mut uprights: BTreeMap<u32, BTreeSet<Length>> = BTreeMap::new();
    let (mut levels, mut between) = (BTreeSet::new(), BTreeSet::new());
    for seam in &lay_up.seams {
        let place = on_blank(layout, &line_on_paper(layout.way(), seam.line));
        let rows = seam.between.iter().filter_map(|number| row_of.get(number).copied());
        if place.width > place.height {
            levels.insert(place.y);
            between.extend(rows);
        } else {
            rows.for_each(|row| _ = uprights.entry(row).or_default().insert(place.x));
        }
    }
    let mut places: Vec<SeamPlaces> = Vec::new();
    for (row, at) in uprights {
        let at: Vec<Length> = at.into_iter().collect();
        match places.iter_mut().find(|places| places.at == at) {
            Some(places) => places.rows.push(row),
            None => places.push(SeamPlaces { upright: true, rows: vec![row], at }),
        }
    }
    if !levels.is_empty() {
        let (rows, at) = (between.into_iter().collect(), levels.into_iter().collect());
        places.push(SeamPlaces { upright: false, rows, at });
    }
    places
}
