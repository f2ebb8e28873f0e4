//! From a plan to the lay-up: faces, cells, pages, trimmed edges, stacking, seams and what is left out.
//!
//! All of it is exact integer arithmetic in paper space, ink side up, carried over to the face at the end.

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, LapPolicy, LayUp, Panel, Seam};
use seamwright_contract::{Face, Length, Page, Paper, Point, Rect, Sides, Size};

use crate::choice::Sheet;
use crate::ground::Ground;
use crate::row::Start;
use crate::rows::{Band, Plan};
use crate::stack::{self, Upper};
use crate::weigh;

/// One direction of a panel or row: what it prints and what remains of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span {
    /// First micrometre printed.
    pub(crate) start: Length,
    /// End of what is printed.
    pub(crate) end: Length,
    /// First micrometre of the cell.
    pub(crate) cell_start: Length,
    /// End of the cell.
    pub(crate) cell_end: Length,
    /// How it meets the one before it, if it shares a lap with it.
    pub(crate) before: Option<Upper>,
    /// How it meets the one after it.
    pub(crate) after: Option<Upper>,
}

/// A row in spans.
#[derive(Debug)]
struct Row {
    down: Span,
    across: Vec<Span>,
}

/// What a panel that is widened only to lie flush leaves free for marks.
const ROOM: Length = Length::from_mm(8);

/// Where a panel lies in the rows, on paper.
#[derive(Debug, Clone, Copy)]
struct Placed {
    row: usize,
    column: usize,
    face: Rect<Paper>,
    cell: Rect<Paper>,
    /// Whether some panel of the row above, or below, touches it.
    above: bool,
    below: bool,
}

/// The lay-up of a plan.
pub(crate) fn lay_up(
    sheet: &Sheet,
    plan: &Plan,
    ground: &Ground,
    lap: &LapPolicy,
    way: Way,
    design: Size,
) -> LayUp {
    let rows = rows(plan, ground, lap, sheet.most.width - ROOM);
    let placed = placed(&rows);
    let mut panels = Vec::new();
    for (number, one) in (1..).zip(&placed) {
        let Some((row, span)) = rows.get(one.row).and_then(|row| Some((row, row.across.get(one.column)?)))
        else {
            continue;
        };
        let trim = trim(span, &row.down, one);
        let outer = outer(span, one);
        panels.push(Panel {
            number,
            row: count(one.row) + 1,
            column: count(one.column) + 1,
            page: number,
            face: way.to_face(&one.face),
            cell: way.to_face(&one.cell),
            at: at(&sheet.live, one.face.size(), |edge| trim.contains(&edge) || outer.contains(&edge)),
            trim,
            outer,
            on_top_of: on_top_of(&rows, &placed, one),
            marks: Vec::new(),
            piece: None,
        });
    }
    LayUp {
        paper: sheet.paper.clone(),
        orientation: sheet.orientation,
        page: sheet.page,
        live: sheet.live,
        scale: sheet.scale.lying(sheet.orientation),
        rows: count(rows.len()),
        columns: count(rows.iter().map(|row| row.across.len()).max().unwrap_or(0)),
        seams: seams(&rows, &placed, ground, lap.lap, way),
        final_trim: final_trim(&placed, &panels, sheet.page),
        left_out: left_out(&rows, design, way),
        tape: Vec::new(),
        weighed: Vec::new(),
        one_more: None,
        panels,
    }
}

fn count(value: usize) -> u32 {
    seamwright_contract::num::count(value)
}

/// The spans of all rows, with what lies on what decided.
fn rows(plan: &Plan, ground: &Ground, lap: &LapPolicy, widest: Length) -> Vec<Row> {
    let ink = ground.extent();
    let starts: Vec<Start> = plan.rows.iter().map(|band| band.start).collect();
    let end = |i: usize| plan.rows.get(i).map_or(Length::ZERO, |band| band.end);
    let strip = |at: Length| Rect::from_edges(ink.x, at, ink.right(), at + lap.lap);
    let mut downs = spans(&starts, end, lap, |at| stack::level(ground, &strip(at)));
    // A bare level may lie between two rows, but no paper beyond the ink of either.
    downs
        .iter_mut()
        .zip(&plan.rows)
        .map(|(down, band)| Row { down: *down, across: across(band, down, ground, lap, widest) })
        .collect()
}

/// The spans of one row; its outermost panels reach to the edge of all ink where they have paper for it, so that rows
/// lie flush.
fn across(band: &Band, down: &Span, ground: &Ground, lap: &LapPolicy, widest: Length) -> Vec<Span> {
    let starts = &band.cut.starts;
    let end = |i: usize| match starts.get(i + 1) {
        Some(Start::Lap(at)) => *at + lap.lap,
        Some(Start::Alone(end, _)) => *end,
        None => band.cut.end,
    };
    let strip = |at: Length| Rect::from_edges(at, down.cell_start, at + lap.lap, down.cell_end);
    let mut spans = spans(starts, end, lap, |at| stack::upright(ground, &strip(at)));
    let ink = ground.extent();
    if let Some(first) = spans.first_mut().filter(|first| first.end - ink.x <= widest) {
        (first.start, first.cell_start) = (ink.x, ink.x);
    }
    if let Some(last) = spans.last_mut().filter(|last| ink.right() - last.start <= widest) {
        (last.end, last.cell_end) = (ink.right(), ink.right());
    }
    spans
}

/// Spans that begin at these places and end at those, where `upper` says which of two that share a strip lies on top.
fn spans(
    starts: &[Start],
    end: impl Fn(usize) -> Length,
    lap: &LapPolicy,
    upper: impl Fn(Length) -> Upper,
) -> Vec<Span> {
    let meets = |i: usize| match starts.get(i) {
        Some(Start::Lap(at)) if i > 0 => Some((*at, upper(*at))),
        Some(Start::Lap(_) | Start::Alone(..)) | None => None,
    };
    // The cut line is measured from the upper one's side.
    let border = |(at, upper): (Length, Upper)| match upper {
        Upper::First => at + lap.cut_at,
        Upper::Second => at + lap.lap - lap.cut_at,
    };
    (0..starts.len())
        .map(|i| {
            let (before, after) = (meets(i), meets(i + 1));
            let start = starts.get(i).map_or(Length::ZERO, |start| start.at());
            let end = end(i);
            Span {
                start,
                end,
                cell_start: before.map_or(start, border),
                cell_end: after.map_or(end, border),
                before: before.map(|(_, upper)| upper),
                after: after.map(|(_, upper)| upper),
            }
        })
        .collect()
}

/// Every panel in its place. Where no panel of the neighbouring row touches it, it ends with its cell.
fn placed(rows: &[Row]) -> Vec<Placed> {
    let meets = |row: Option<&Row>, span: &Span| {
        row.is_some_and(|row| {
            row.across
                .iter()
                .any(|other| other.cell_start < span.cell_end && span.cell_start < other.cell_end)
        })
    };
    let mut placed = Vec::new();
    for (r, row) in rows.iter().enumerate() {
        for (c, span) in row.across.iter().enumerate() {
            let down = &row.down;
            let other = |row: Option<usize>| row.and_then(|row| rows.get(row));
            let above = down.before.is_some() && meets(other(r.checked_sub(1)), span);
            let below = down.after.is_some() && meets(other(Some(r + 1)), span);
            let top = if above { down.start } else { down.cell_start };
            let bottom = if below { down.end } else { down.cell_end };
            placed.push(Placed {
                row: r,
                column: c,
                face: Rect::from_edges(span.start, top, span.end, bottom),
                cell: Rect::from_edges(span.cell_start, down.cell_start, span.cell_end, down.cell_end),
                above,
                below,
            });
        }
    }
    placed
}

/// The edges cut before joining, in the order of cutting: those of the panel on top, where two meet.
fn trim(across: &Span, down: &Span, placed: &Placed) -> Vec<Edge> {
    let edges = [
        (Edge::Left, across.before == Some(Upper::Second)),
        (Edge::Right, across.after == Some(Upper::First)),
        (Edge::Top, placed.above && down.before == Some(Upper::Second)),
        (Edge::Bottom, placed.below && down.after == Some(Upper::First)),
    ];
    edges.into_iter().filter(|(_, cut)| *cut).map(|(edge, _)| edge).collect()
}

/// The edges where no neighbour lies.
fn outer(across: &Span, placed: &Placed) -> Vec<Edge> {
    let edges = [
        (Edge::Left, across.before.is_none()),
        (Edge::Top, !placed.above),
        (Edge::Right, across.after.is_none()),
        (Edge::Bottom, !placed.below),
    ];
    edges.into_iter().filter(|(_, outer)| *outer).map(|(edge, _)| edge).collect()
}

/// Where the printed face lies on the page: the slack goes to the sides whose paper is cut off before pressing.
fn at(live: &Rect<Page>, face: Size, cut_off: impl Fn(Edge) -> bool) -> Point<Page> {
    let begin =
        |live_start: Length, slack: Length, [near, far]: [Edge; 2]| match (cut_off(near), cut_off(far)) {
            (false, true) => live_start,
            (true, false) => live_start + slack,
            (true, true) | (false, false) => live_start + slack.half(),
        };
    Point::new(
        begin(live.x, live.width - face.width, [Edge::Left, Edge::Right]),
        begin(live.y, live.height - face.height, [Edge::Top, Edge::Bottom]),
    )
}

/// The panels that a panel's print lies on: in its row those it is on top of; of a row that its own lies on, all it laps.
fn on_top_of(rows: &[Row], placed: &[Placed], one: &Placed) -> Vec<u32> {
    let spans = |row: usize| rows.get(row);
    let on_top = |other: &Placed| {
        let (first, second, upper) = if (one.row, one.column) < (other.row, other.column) {
            (one, other, Upper::First)
        } else {
            (other, one, Upper::Second)
        };
        let meeting = if first.row == second.row {
            spans(first.row).and_then(|row| row.across.get(first.column)).and_then(|span| span.after)
        } else {
            spans(first.row).and_then(|row| row.down.after)
        };
        meeting == Some(upper) && one.face.intersection(&other.face).is_some()
    };
    (1..)
        .zip(placed)
        .filter(|(_, other)| (other.row, other.column) != (one.row, one.column) && on_top(other))
        .map(|(number, _)| number)
        .collect()
}

/// Every line where two cells touch and their panels share a lap.
fn seams(rows: &[Row], placed: &[Placed], ground: &Ground, lap: Length, way: Way) -> Vec<Seam> {
    let mut seams = Vec::new();
    for (low, one) in (1_u32..).zip(placed) {
        let Some((row, span)) = rows.get(one.row).and_then(|row| Some((row, row.across.get(one.column)?)))
        else {
            continue;
        };
        for (high, other) in (1_u32..).zip(placed).filter(|(high, _)| *high > low) {
            let beside = other.row == one.row && other.column == one.column + 1;
            let under = other.row == one.row + 1;
            let meeting = if beside {
                span.after
            } else if under {
                row.down.after
            } else {
                None
            };
            let Some((upper, line)) = meeting.zip(border(&one.cell, &other.cell)) else { continue };
            let (score, class) = weigh::seam(ground, &shared(&line, &one.face, &other.face, lap));
            seams.push(Seam {
                between: [low, high],
                upper: if upper == Upper::First { low } else { high },
                line: [Point::new(line.x, line.y), Point::new(line.right(), line.bottom())]
                    .map(|point| way.point_to_face(point)),
                score,
                class,
            });
        }
    }
    seams
}

/// The line along which two cells touch, from its upper left; as a rectangle without width or without height.
fn border(one: &Rect<Paper>, other: &Rect<Paper>) -> Option<Rect<Paper>> {
    let (left, right) = (one.x.max(other.x), one.right().min(other.right()));
    let (top, bottom) = (one.y.max(other.y), one.bottom().min(other.bottom()));
    let line = Rect::from_edges(left, top, right, bottom);
    (line.width >= Length::ZERO
        && line.height >= Length::ZERO
        && (line.width > Length::ZERO || line.height > Length::ZERO))
        .then_some(line)
}

/// The strip printed on both panels, along their seam.
fn shared(line: &Rect<Paper>, one: &Rect<Paper>, other: &Rect<Paper>, lap: Length) -> Rect<Paper> {
    let least = lap.max(Length::from_um(1));
    if line.width == Length::ZERO {
        let left = one.x.max(other.x);
        Rect::new(left, line.y, least, line.height)
    } else {
        let top = one.y.max(other.y);
        Rect::new(line.x, top, line.width, least)
    }
}

/// From the paper's edge to the print's, at an outermost panel of each side.
fn final_trim(placed: &[Placed], panels: &[Panel], page: Size) -> Sides<Length> {
    let beyond = |edge: fn(&Rect<Paper>) -> Length, paper: fn(&Panel, Size) -> Length| {
        let outermost = placed
            .iter()
            .zip(panels)
            .max_by_key(|(placed, panel)| (edge(&placed.face), std::cmp::Reverse(panel.number)));
        outermost.map_or(Length::ZERO, |(_, panel)| paper(panel, page))
    };
    Sides {
        left: beyond(|face| -face.x, |panel, _| panel.at.x),
        top: beyond(|face| -face.y, |panel, _| panel.at.y),
        right: beyond(Rect::right, |panel, page| page.width - panel.printed().right()),
        bottom: beyond(Rect::bottom, |panel, page| page.height - panel.printed().bottom()),
    }
}

/// The parts of the design that no cell covers.
fn left_out(rows: &[Row], design: Size, way: Way) -> Vec<Rect<Face>> {
    let mut parts: Vec<Rect<Paper>> = Vec::new();
    let mut level = Length::ZERO;
    for row in rows {
        let down = &row.down;
        parts.push(Rect::from_edges(Length::ZERO, level, design.width, down.cell_start));
        let mut at = Length::ZERO;
        for span in &row.across {
            parts.push(Rect::from_edges(at, down.cell_start, span.cell_start, down.cell_end));
            at = span.cell_end;
        }
        parts.push(Rect::from_edges(at, down.cell_start, design.width, down.cell_end));
        level = down.cell_end;
    }
    parts.push(Rect::from_edges(Length::ZERO, level, design.width, design.height));
    parts.iter().filter(|part| !part.is_empty()).map(|part| way.to_face(part)).collect()
}
