//! An even grid of panels: faces, cells, pages, trimmed edges, stacking and seams.

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, LapPolicy, LayUp, Panel, Seam, SeamClass};
use seamwright_contract::{Length, Paper, Point, Rect, Sides, Size};

use crate::choice::Sheet;

/// One column or row: what it prints and what remains of it, along one direction of the lay-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span {
    /// First micrometre printed.
    pub(crate) start: Length,
    /// End of what is printed.
    pub(crate) end: Length,
    /// First micrometre of the cell.
    pub(crate) cell_start: Length,
    /// End of the cell: the cut line, or the design's edge.
    pub(crate) cell_end: Length,
}

/// `count` spans of equal printed length (to a micrometre) over `length`, each lapping the next.
pub(crate) fn spans(length: Length, count: u32, lap: &LapPolicy) -> Vec<Span> {
    let step = |i: u32| (length - lap.lap) * i64::from(i) / i64::from(count);
    (0..count)
        .map(|i| {
            let (first, last) = (i == 0, i + 1 == count);
            let start = if first { Length::ZERO } else { step(i) };
            let next = step(i + 1);
            Span {
                start,
                end: if last { length } else { next + lap.lap },
                cell_start: if first { Length::ZERO } else { start + lap.cut_at },
                cell_end: if last { length } else { next + lap.cut_at },
            }
        })
        .collect()
}

/// Where a printed length begins on the page: the slack goes to the sides whose paper is cut off before pressing.
/// The far side always is (trimmed or outer), the near side only where it is the lay-up's outer one.
fn begin(live_start: Length, live: Length, printed: Length, near_is_outer: bool) -> Length {
    if near_is_outer { live_start + (live - printed).half() } else { live_start }
}

/// The panels of an even grid of `sheet.columns` by `sheet.rows`.
pub(crate) fn lay_up(sheet: &Sheet, size: Size, lap: &LapPolicy, way: Way) -> LayUp {
    let columns = spans(size.width, sheet.columns, lap);
    let rows = spans(size.height, sheet.rows, lap);
    let mut panels = Vec::new();
    for (r, row) in (0_u32..).zip(&rows) {
        for (c, column) in (0_u32..).zip(&columns) {
            let paper: Rect<Paper> = Rect::from_edges(column.start, row.start, column.end, row.end);
            let cell = Rect::from_edges(column.cell_start, row.cell_start, column.cell_end, row.cell_end);
            let number = r * sheet.columns + c + 1;
            panels.push(Panel {
                number,
                row: r + 1,
                column: c + 1,
                page: number,
                face: way.to_face(&paper),
                cell: way.to_face(&cell),
                at: Point::new(
                    begin(sheet.live.x, sheet.live.width, paper.width, c == 0),
                    begin(sheet.live.y, sheet.live.height, paper.height, r == 0),
                ),
                trim: trim(r, c, sheet),
                outer: outer(r, c, sheet),
                on_top_of: on_top_of(r, c, sheet),
                marks: Vec::new(),
            });
        }
    }
    LayUp {
        paper: sheet.paper.clone(),
        orientation: sheet.orientation,
        page: sheet.page,
        live: sheet.live,
        rows: sheet.rows,
        columns: sheet.columns,
        seams: seams(&panels, sheet, way),
        final_trim: final_trim(&panels, sheet.page),
        left_out: Vec::new(),
        tape: Vec::new(),
        weighed: Vec::new(),
        one_more: None,
        panels,
    }
}

/// Cut every side shared with the neighbour to the right or below (common practice, no source).
fn trim(row: u32, column: u32, sheet: &Sheet) -> Vec<Edge> {
    let right = (column + 1 < sheet.columns).then_some(Edge::Right);
    let bottom = (row + 1 < sheet.rows).then_some(Edge::Bottom);
    right.into_iter().chain(bottom).collect()
}

fn outer(row: u32, column: u32, sheet: &Sheet) -> Vec<Edge> {
    let edges = [
        (Edge::Left, column == 0),
        (Edge::Top, row == 0),
        (Edge::Right, column + 1 == sheet.columns),
        (Edge::Bottom, row + 1 == sheet.rows),
    ];
    edges.into_iter().filter(|(_, is)| *is).map(|(edge, _)| edge).collect()
}

/// The right neighbour, and the three neighbours of the row below: rows are joined first, upper rows lie on lower ones.
fn on_top_of(row: u32, column: u32, sheet: &Sheet) -> Vec<u32> {
    let number = |r: u32, c: u32| r * sheet.columns + c + 1;
    let right = (column + 1 < sheet.columns).then(|| number(row, column + 1));
    let below = (row + 1 < sheet.rows).then(|| {
        let last = (column + 1).min(sheet.columns - 1);
        (column.saturating_sub(1)..=last).map(move |c| number(row + 1, c))
    });
    right.into_iter().chain(below.into_iter().flatten()).collect()
}

fn seams(panels: &[Panel], sheet: &Sheet, way: Way) -> Vec<Seam> {
    let mut seams = Vec::new();
    for panel in panels {
        let cell = way.to_paper(&panel.cell);
        let mut seam = |below: u32, from: Point<Paper>, to: Point<Paper>| {
            seams.push(Seam {
                between: [panel.number, below],
                upper: panel.number,
                line: [way.point_to_face(from), way.point_to_face(to)],
                score: 0.0,
                class: SeamClass::Bare,
            });
        };
        let corner = Point::new(cell.right(), cell.bottom());
        if panel.trim.contains(&Edge::Right) {
            seam(panel.number + 1, Point::new(cell.right(), cell.y), corner);
        }
        if panel.trim.contains(&Edge::Bottom) {
            seam(panel.number + sheet.columns, Point::new(cell.x, cell.bottom()), corner);
        }
    }
    seams
}

/// From the paper's edge to the design's, on each side of the lay-up: what the outer panels carry beyond the design.
fn final_trim(panels: &[Panel], page: Size) -> Sides<Length> {
    let first = panels.first();
    let last = panels.last();
    Sides {
        left: first.map_or(Length::ZERO, |panel| panel.at.x),
        top: first.map_or(Length::ZERO, |panel| panel.at.y),
        right: last.map_or(Length::ZERO, |panel| page.width - panel.printed().right()),
        bottom: last.map_or(Length::ZERO, |panel| page.height - panel.printed().bottom()),
    }
}
