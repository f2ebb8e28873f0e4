//! Lay-ups of every kind, built from their rows on paper by the contract's own words: stepped, unaligned, with holes,
//! in pieces, with any stacking.

use std::sync::Arc;

use seamwright_contract::catalogue::{Blank, Moves, Shape};
use seamwright_contract::layout::{
    Edge, LapPolicy, LayUp, Layout, Panel, Placement, PressPlan, Seam, SeamClass, TapeSpot, TrimOrder,
};
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::settings::Range;
use seamwright_contract::units::{Seconds, Units};
use seamwright_contract::{Fault, Length, Paper, Point, Rect, Sides, Size, num, sample};

#[derive(Debug)]
struct Plain;

impl Picture for Plain {
    fn size(&self) -> Pixels {
        Pixels::new(600, 400)
    }
    fn format(&self) -> Format {
        Format::RGB8
    }
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), self.format());
        Ok(())
    }
    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        Ok(Band::bare(size, self.format()))
    }
}

const LAP: Length = Length::from_mm(6);
/// Measured from the upper panel's side.
const CUT_AT: Length = Length::from_mm(2);

/// A row of cells on paper, in millimetres.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// From and to, downwards.
    pub(super) down: [i64; 2],
    /// From and to of each cell, left to right.
    pub(super) cells: Vec<[i64; 2]>,
    /// Which cells lie on their left neighbour, instead of under it.
    pub(super) on_left: Vec<usize>,
    /// Whether it lies on the row above it, instead of under it.
    pub(super) on_above: bool,
}

/// A row of cells between borders that touch.
pub(super) fn row(down: [i64; 2], borders: &[i64]) -> Row {
    let cells = borders.windows(2).map(|ends| [ends[0], ends[1]]).collect();
    Row { down, cells, on_left: Vec::new(), on_above: false }
}

/// A job to write notes for.
#[derive(Debug, Clone)]
pub(super) struct Case {
    pub(super) what: &'static str,
    /// The design, in millimetres.
    pub(super) size: [i64; 2],
    pub(super) rows: Vec<Row>,
    pub(super) shape: Shape,
    pub(super) units: Units,
    pub(super) mirrored: bool,
    pub(super) order: TrimOrder,
    pub(super) name: String,
}

impl Case {
    pub(super) fn new(what: &'static str, size: [i64; 2], rows: Vec<Row>) -> Self {
        Self {
            what,
            size,
            rows,
            shape: Shape::Rectangle,
            units: Units::Metric,
            mirrored: true,
            order: TrimOrder::PanelsFirst,
            name: "chart-3f9a21".to_owned(),
        }
    }
}

const CELL: i64 = 180;

pub(super) fn grid(columns: i64, rows: i64) -> Case {
    let borders: Vec<i64> = (0..=columns).map(|column| column * CELL).collect();
    let rows_of = (0..rows).map(|r| row([r * CELL, (r + 1) * CELL], &borders)).collect();
    Case::new("grid", [columns * CELL, rows * CELL], rows_of)
}

/// Rows that each end where a round mat ends.
pub(super) fn stepped() -> Case {
    let rows = vec![
        row([10, 190], &[150, 320, 490]),
        row([190, 380], &[20, 220, 420, 620]),
        row([380, 590], &[110, 310, 510]),
    ];
    Case { shape: Shape::Round, ..Case::new("stepped", [640, 600], rows) }
}

/// Rows of one width whose seams are each where they show least.
pub(super) fn unaligned() -> Case {
    let rows = vec![row([0, 160], &[0, 170, 330, 520, 610]), row([160, 317], &[0, 90, 280, 440, 610])];
    Case::new("unaligned", [610, 317], rows)
}

/// A right panel on a left one, and a row on the one above it and on the one below it.
pub(super) fn mixed() -> Case {
    let mut rows = vec![
        row([0, 150], &[0, 180, 370, 560]),
        row([150, 310], &[0, 190, 350, 560]),
        row([310, 470], &[0, 180, 380, 560]),
    ];
    rows[0].on_left = vec![1];
    rows[1].on_left = vec![1, 2];
    rows[1].on_above = true;
    Case::new("mixed", [560, 470], rows)
}

/// Two medallions side by side and a line of text below, none of which touch.
pub(super) fn pieces() -> Case {
    let rows = vec![
        Row { cells: vec![[40, 220], [420, 600], [600, 680]], ..row([30, 200], &[]) },
        Row { cells: vec![[60, 200], [430, 590]], ..row([200, 340], &[]) },
        row([400, 460], &[100, 300, 500, 660]),
    ];
    Case::new("pieces", [720, 480], rows)
}

/// A line too thin for its number above the rest, and touching nothing.
pub(super) fn sliver() -> Case {
    let rows = vec![row([25, 32], &[30, 210]), row([36, 250], &[36, 220, 400, 560])];
    Case::new("sliver", [600, 310], rows)
}

/// A frame round a bare middle.
pub(super) fn ring() -> Case {
    let rows = vec![
        row([0, 180], &[0, 190, 380, 570]),
        Row { cells: vec![[0, 120], [450, 570]], ..row([180, 360], &[]) },
        row([360, 540], &[0, 170, 370, 570]),
    ];
    Case::new("ring", [570, 540], rows)
}

/// Thirty panels, no seam of a row in line with one of the next.
pub(super) fn large() -> Case {
    let rows = (0..5).map(|r| {
        let shift = if r % 2 == 0 { 15 } else { -15 } - r * 2;
        let inner = (1..6).map(|c| c * 185 + shift);
        let borders: Vec<i64> = [0].into_iter().chain(inner).chain([1110 - r * 5]).collect();
        let mut one = row([r * 200, (r + 1) * 200], &borders);
        one.on_left = if r == 2 { vec![1, 3] } else { Vec::new() };
        one.on_above = r == 3;
        one
    });
    Case::new("large", [1110, 1000], rows.collect())
}

/// All kinds, in both units, mirrored or seen through, with both orders of trimming.
pub(super) fn cases() -> Vec<Case> {
    let grids = [(1, 1), (2, 1), (3, 2), (4, 3), (6, 5), (1, 9)].map(|(columns, rows)| grid(columns, rows));
    let kinds =
        grids.into_iter().chain([stepped(), unaligned(), mixed(), pieces(), sliver(), ring(), large()]);
    let names = ["chart-3f9a21".to_owned(), format!("{}-3f9a21", "observatory".repeat(12))];
    let mut cases = Vec::new();
    for kind in kinds {
        for (shape, mirrored) in [(kind.shape, true), (Shape::Round, false), (Shape::HalfMoon, true)] {
            for (units, order) in
                [(Units::Inch, TrimOrder::PanelsFirst), (Units::Metric, TrimOrder::RowsFirst)]
            {
                for name in names.clone() {
                    cases.push(Case { shape, mirrored, units, order, name, ..kind.clone() });
                }
            }
        }
    }
    cases
}

/// The job as the stages would leave it.
pub(super) fn layout(case: &Case) -> Layout {
    let [width, height] = case.size.map(Length::from_mm);
    let mut order = sample::order();
    order.size = Size::new(width, height);
    order.blank = Blank {
        name: "table mat".to_owned(),
        shape: case.shape,
        size: order.size.grown(Length::from_mm(13)),
        reach: Length::from_mm(-13),
        ..order.blank
    };
    order.blank.substrate.seen_through = !case.mirrored;
    order.copies = 2;
    order.note = Some("for the reading room ".repeat(8));
    order.units = case.units;
    let size = order.size;
    let mut layout = sample::layout(order, Arc::new(Plain));
    layout.job.name.clone_from(&case.name);
    layout.design = Some(sample::design(size, 150.0));
    layout.mirrored = case.mirrored;
    layout.lap = Some(LapPolicy { lap: LAP, cut_at: CUT_AT, order: case.order });
    layout.lay_up = Some(lay_up(case, &layout));
    layout.press = Some(press(layout.order.blank.size));
    layout.remark("tile", "The fewest sheets of the papers allowed.");
    layout.warn(
        "marks",
        "There is no room on panels 1 to 4 for the ruler; measure a panel instead before the first cut.",
    );
    layout
}

/// A cell with its place in the rows.
#[derive(Debug, Clone, Copy)]
struct Cell {
    row: usize,
    column: usize,
    at: Rect<Paper>,
}

fn cells(case: &Case) -> Vec<Cell> {
    let mm = Length::from_mm;
    let cell = |row: usize, column: usize, [top, bottom]: [i64; 2], [left, right]: [i64; 2]| Cell {
        row,
        column,
        at: Rect::from_edges(mm(left), mm(top), mm(right), mm(bottom)),
    };
    let rows = case.rows.iter().enumerate();
    rows.flat_map(|(r, row)| {
        row.cells.iter().enumerate().map(move |(c, across)| cell(r, c, row.down, *across))
    })
    .collect()
}

/// The edge of `one` that `other` touches.
fn touching(one: &Rect<Paper>, other: &Rect<Paper>) -> Option<Edge> {
    let beside = one.y < other.bottom() && other.y < one.bottom();
    let under = one.x < other.right() && other.x < one.right();
    match () {
        () if beside && one.right() == other.x => Some(Edge::Right),
        () if beside && other.right() == one.x => Some(Edge::Left),
        () if under && one.bottom() == other.y => Some(Edge::Bottom),
        () if under && other.bottom() == one.y => Some(Edge::Top),
        () => None,
    }
}

/// Whether `one` lies on `other`, its neighbour in the row or in the next.
fn lies_on(case: &Case, one: &Cell, other: &Cell) -> bool {
    let first_on_top = |first: &Cell, second: &Cell| {
        if first.row == second.row {
            !case.rows[second.row].on_left.contains(&second.column)
        } else {
            !case.rows[second.row].on_above
        }
    };
    if (one.row, one.column) < (other.row, other.column) {
        first_on_top(one, other)
    } else {
        !first_on_top(other, one)
    }
}

fn lay_up(case: &Case, layout: &Layout) -> LayUp {
    let (cells, way) = (cells(case), layout.way());
    let page = sample::lay_up().page;
    let edges = [Edge::Left, Edge::Right, Edge::Top, Edge::Bottom];
    let meets = |cell: &Cell, edge: Edge| -> Vec<&Cell> {
        cells.iter().filter(|other| touching(&cell.at, &other.at) == Some(edge)).collect::<Vec<_>>()
    };
    // Beyond the cut line the upper panel has the rest of the lap, the lower one what lies before it.
    let reach = |cell: &Cell, edge: Edge| match meets(cell, edge).as_slice() {
        [] => Length::ZERO,
        [other, ..] => {
            if lies_on(case, cell, other) {
                LAP - CUT_AT
            } else {
                CUT_AT
            }
        }
    };
    let faces: Vec<Rect<Paper>> = cells
        .iter()
        .map(|cell| {
            let [left, right, top, bottom] = edges.map(|edge| reach(cell, edge));
            let at = &cell.at;
            Rect::from_edges(at.x - left, at.y - top, at.right() + right, at.bottom() + bottom)
        })
        .collect();
    let number = |i: usize| u32::try_from(i + 1).unwrap();
    let panels: Vec<Panel> = cells
        .iter()
        .zip(&faces)
        .enumerate()
        .map(|(i, (cell, face))| {
            let on_top = |(other, theirs): &(&Cell, &Rect<Paper>)| {
                let near = cell.row.abs_diff(other.row) < 2 && !std::ptr::eq(cell, *other);
                near && face.intersection(theirs).is_some() && lies_on(case, cell, other)
            };
            let cut =
                |edge: &Edge| meets(cell, *edge).first().is_some_and(|other| lies_on(case, cell, other));
            let trim: Vec<Edge> = edges.into_iter().filter(cut).collect();
            let outer: Vec<Edge> = edges.into_iter().filter(|edge| meets(cell, *edge).is_empty()).collect();
            let lost = |edge| trim.contains(&edge) || outer.contains(&edge);
            let below = |(j, both): (usize, (&Cell, &Rect<Paper>))| on_top(&both).then(|| number(j));
            Panel {
                number: number(i),
                row: number(cell.row),
                column: number(cell.column),
                page: number(i),
                face: way.to_face(face),
                cell: way.to_face(&cell.at),
                at: Point::new(
                    slack(page.width - face.width, lost(Edge::Left), lost(Edge::Right)),
                    slack(page.height - face.height, lost(Edge::Top), lost(Edge::Bottom)),
                ),
                trim,
                outer,
                on_top_of: cells.iter().zip(&faces).enumerate().filter_map(below).collect(),
                marks: Vec::new(),
                piece: None,
            }
        })
        .collect();
    let seams = seams(case, &cells, layout);
    let tape = tape(&seams, &panels);
    LayUp {
        rows: number(case.rows.len() - 1),
        columns: number(case.rows.iter().map(|row| row.cells.len()).max().unwrap() - 1),
        final_trim: Sides::all(Length::from_mm(12)),
        left_out: left_out(case).iter().map(|part| way.to_face(part)).collect(),
        panels,
        seams,
        tape,
        ..sample::lay_up()
    }
}

/// How much of the paper to spare goes before the print: to the sides whose paper is cut off.
fn slack(spare: Length, before: bool, after: bool) -> Length {
    match (before, after) {
        (true, false) => spare,
        (false, true) => Length::ZERO,
        _ => spare.half(),
    }
}

fn seams(case: &Case, cells: &[Cell], layout: &Layout) -> Vec<Seam> {
    let mut seams = Vec::new();
    for (low, one) in (1..).zip(cells) {
        for (high, other) in (1..).zip(cells).filter(|(high, _)| *high > low) {
            let (a, b) = (&one.at, &other.at);
            if touching(a, b).is_none() {
                continue;
            }
            let from = Point::new(a.x.max(b.x), a.y.max(b.y));
            let to = Point::new(a.right().min(b.right()), a.bottom().min(b.bottom()));
            let class = [SeamClass::Bare, SeamClass::Quiet, SeamClass::Busy][seams.len() % 3];
            seams.push(Seam {
                between: [low, high],
                upper: if lies_on(case, one, other) { low } else { high },
                line: [from, to].map(|point| layout.way().point_to_face(point)),
                score: 0.0,
                class,
            });
        }
    }
    seams
}

/// Bare seams are taped in their middle, every third panel at its outer edges.
fn tape(seams: &[Seam], panels: &[Panel]) -> Vec<TapeSpot> {
    let half = |from: Length, to: Length, at: i64| from + (to - from) * at / 8;
    let spot = |holds: Vec<u32>, [from, to]: [Point<seamwright_contract::Face>; 2]| TapeSpot {
        holds,
        line: [3, 5].map(|at| Point::new(half(from.x, to.x, at), half(from.y, to.y, at))),
    };
    let at_seams = seams
        .iter()
        .filter(|seam| seam.class == SeamClass::Bare)
        .map(|seam| spot(seam.between.to_vec(), seam.line));
    let at_edges = panels.iter().filter(|panel| panel.number % 3 == 1).flat_map(|panel| {
        let cell = panel.cell;
        let top = panel.outer.contains(&Edge::Top);
        let ends = [cell.origin(), Point::new(cell.right(), cell.y)];
        top.then(|| spot(vec![panel.number], ends))
    });
    at_seams.chain(at_edges).collect()
}

fn left_out(case: &Case) -> Vec<Rect<Paper>> {
    let part = |[left, top, right, bottom]: [i64; 4]| {
        let [left, top, right, bottom] = [left, top, right, bottom].map(Length::from_mm);
        Rect::from_edges(left, top, right, bottom)
    };
    let ([width, height], mut parts, mut level) = (case.size, Vec::new(), 0);
    for row in &case.rows {
        let [top, bottom] = row.down;
        parts.push(part([0, level, width, top]));
        let mut at = 0;
        for [left, right] in &row.cells {
            parts.push(part([at, top, *left, bottom]));
            at = *right;
        }
        parts.push(part([at, top, width, bottom]));
        level = bottom;
    }
    parts.push(part([0, level, width, height]));
    parts.retain(|part| !part.is_empty());
    parts
}

fn press(blank: Size) -> PressPlan {
    let mm = Length::from_mm;
    let (across, down) = (blank.width.um() / 280_000 + 1, blank.height.um() / 230_000 + 1);
    let places = (0..down).flat_map(|y| (0..across).map(move |x| (x, y)));
    let plate = |(n, (x, y)): (u32, (i64, i64))| Placement {
        number: n,
        platen: Rect::new(mm(x * 280 - 20), mm(y * 230 - 10), mm(305), mm(254)),
        turned: false,
        start: Seconds(40 + (n - 1) * 80),
        overlaps: (1..n).rev().take(1).collect(),
        new_mm2: 60_000.0,
        shift: None,
    };
    let placements: Vec<Placement> = (1..).zip(places).map(plate).collect();
    PressPlan {
        total: Seconds(10 + 80 * num::count(placements.len()) + 180),
        placements,
        moves: Moves::Plate,
        weak_edge: mm(6),
        overlap: mm(12),
        heat: "195C".parse().unwrap(),
        heat_range: Range { low: "190C".parse().unwrap(), high: "200C".parse().unwrap() },
        dwell: Seconds(50),
        dwell_range: Range { low: Seconds(35), high: Seconds(70) },
        origin: "common practice, no source".to_owned(),
        preheat: Seconds(10),
        pressure: "medium to firm".to_owned(),
        cool: Seconds(180),
        peel_hot: true,
        heated_twice: 0.08,
    }
}
