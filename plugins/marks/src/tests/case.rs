//! Lay-ups to judge by, made here and not by `tile`: even grids, and rows of any width with seams of their own.

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, LayUp, Panel, Seam, SeamClass, TrimOrder};
use seamwright_contract::sample;
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Page, Paper, Point, Rect, Sides, Size};

use crate::room::Room;
use crate::{Dropped, Words, draw};

/// One row of a lay-up, ink side up.
#[derive(Debug, Clone, Default)]
pub(crate) struct Row {
    pub(crate) top: Length,
    pub(crate) bottom: Length,
    /// From and to of its cells.
    pub(crate) cells: Vec<[Length; 2]>,
    /// For each cell but the last, whether its right neighbour lies on it.
    pub(crate) right_on_top: Vec<bool>,
    /// Whether the row lies on the row above it.
    pub(crate) on_top: bool,
}

/// A job's paper, lap and way.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    pub(crate) size: Size,
    /// What the design is cut into; none: an even grid, left and upper panels on top.
    pub(crate) rows: Vec<Row>,
    pub(crate) page: Size,
    pub(crate) margins: Sides<Length>,
    pub(crate) lap: Length,
    pub(crate) cut_at: Length,
    pub(crate) order: TrimOrder,
    pub(crate) mirrored: bool,
    pub(crate) units: Units,
    /// Whether slack is left on inner sides too, where paper stays: no mark may use it.
    pub(crate) centred: bool,
}

impl Case {
    /// 24 x 12.5 in on Letter landscape, margins of 1/4 in, lap 5 mm.
    pub(crate) fn common() -> Self {
        let inches = |text: &str| text.parse::<Length>().expect("a length");
        Self {
            size: Size::new(inches("24in"), inches("12.5in")),
            rows: Vec::new(),
            page: Size::new(inches("11in"), inches("8.5in")),
            margins: Sides::all(inches("1/4in")),
            lap: Length::from_mm(5),
            cut_at: Length::from_um(2_500),
            order: TrimOrder::PanelsFirst,
            mirrored: true,
            units: Units::Inch,
            centred: false,
        }
    }

    pub(crate) fn way(&self) -> Way {
        Way { mirrored: self.mirrored, width: self.size.width }
    }

    pub(crate) fn live(&self) -> Rect<Page> {
        let m = self.margins;
        Rect::from_edges(m.left, m.top, self.page.width - m.right, self.page.height - m.bottom)
    }

    /// From and to of the cells of the fewest even spans over a length.
    fn spans(&self, length: Length, live: Length) -> Vec<[Length; 2]> {
        let reach = |n: i64| live * n - self.lap * (n - 1);
        let n = (1..).find(|n| reach(*n) >= length).expect("it grows");
        let seam = |i: i64| match i {
            0 => Length::ZERO,
            i if i == n => length,
            i => (length - self.lap) * i / n + self.cut_at,
        };
        (0..n).map(|i| [seam(i), seam(i + 1)]).collect()
    }

    fn even(&self) -> Vec<Row> {
        let cells = self.spans(self.size.width, self.live().width);
        let right_on_top = vec![false; cells.len() - 1];
        let row = |[top, bottom]: [Length; 2]| Row {
            top,
            bottom,
            cells: cells.clone(),
            right_on_top: right_on_top.clone(),
            on_top: false,
        };
        self.spans(self.size.height, self.live().height).into_iter().map(row).collect()
    }

    pub(crate) fn lay_up(&self) -> LayUp {
        let rows = if self.rows.is_empty() { self.even() } else { self.rows.clone() };
        let places = places(&rows);
        let contacts: Vec<Vec<Contact>> = places.iter().map(|place| place.contacts(&places, &rows)).collect();
        let panels = places.iter().zip(&contacts).map(|(place, contacts)| self.panel(place, contacts));
        let seams = places.iter().zip(&contacts).flat_map(|(place, contacts)| {
            let onward = contacts.iter().filter(|contact| contact.with > place.number);
            onward.map(|contact| Seam {
                between: [place.number, contact.with],
                upper: if contact.on_top { place.number } else { contact.with },
                line: contact.line.map(|point| self.way().point_to_face(point)),
                score: 0.0,
                class: SeamClass::Bare,
            })
        });
        LayUp {
            paper: PaperSize { name: "test".to_owned(), size: self.page },
            orientation: Orientation::Portrait,
            page: self.page,
            live: self.live(),
            rows: count(rows.len()),
            columns: count(rows.iter().map(|row| row.cells.len()).max().unwrap_or_default()),
            panels: panels.collect(),
            seams: seams.collect(),
            ..sample::lay_up()
        }
    }

    fn panel(&self, place: &Place, contacts: &[Contact]) -> Panel {
        let at = |edge| contacts.iter().find(|contact| contact.edge == edge);
        let grown = |edge| match at(edge) {
            Some(contact) if contact.on_top => self.lap - self.cut_at,
            Some(_) => self.cut_at,
            None => Length::ZERO,
        };
        let cell = place.cell;
        let face = Rect::from_edges(
            cell.x - grown(Edge::Left),
            cell.y - grown(Edge::Top),
            cell.right() + grown(Edge::Right),
            cell.bottom() + grown(Edge::Bottom),
        );
        let is_cut = |edge| at(edge).is_none_or(|contact| contact.on_top);
        let begin = |start, slack: Length, [near, far]: [Edge; 2]| match (is_cut(near), is_cut(far)) {
            (near, far) if near == far || self.centred => start + slack.half(),
            (near, _) => start + if near { slack } else { Length::ZERO },
        };
        let live = self.live();
        let trimmed = |edge: &Edge| at(*edge).is_some_and(|contact| contact.on_top);
        let outer = |edge: &Edge| at(*edge).is_none();
        Panel {
            number: place.number,
            row: place.row,
            column: place.column,
            page: place.number,
            face: self.way().to_face(&face),
            cell: self.way().to_face(&cell),
            at: Point::new(
                begin(live.x, live.width - face.width, [Edge::Left, Edge::Right]),
                begin(live.y, live.height - face.height, [Edge::Top, Edge::Bottom]),
            ),
            trim: [Edge::Left, Edge::Right, Edge::Top, Edge::Bottom].into_iter().filter(trimmed).collect(),
            outer: [Edge::Left, Edge::Top, Edge::Right, Edge::Bottom].into_iter().filter(outer).collect(),
            on_top_of: Vec::new(),
            marks: Vec::new(),
            piece: None,
        }
    }

    pub(crate) fn words<'a>(&self, job: &'a str) -> Words<'a> {
        Words { job, colour: "colour is converted: printer colour management off", units: self.units }
    }

    pub(crate) fn drawn(&self, job: &str) -> (LayUp, Dropped) {
        let mut lay_up = self.lay_up();
        let dropped = draw(&mut lay_up, &self.words(job), self.way(), self.order, Room::All);
        (lay_up, dropped)
    }
}

/// A cell and its number.
#[derive(Debug)]
struct Place {
    number: u32,
    row: u32,
    column: u32,
    cell: Rect<Paper>,
}

/// Where a cell touches another.
#[derive(Debug)]
struct Contact {
    with: u32,
    edge: Edge,
    line: [Point<Paper>; 2],
    on_top: bool,
}

fn places(rows: &[Row]) -> Vec<Place> {
    let cells = (1..).zip(rows).flat_map(|(row, of)| {
        (1..).zip(&of.cells).map(move |(column, &[left, right])| {
            (row, column, Rect::from_edges(left, of.top, right, of.bottom))
        })
    });
    (1..).zip(cells).map(|(number, (row, column, cell))| Place { number, row, column, cell }).collect()
}

impl Place {
    fn contacts(&self, places: &[Self], rows: &[Row]) -> Vec<Contact> {
        places.iter().filter_map(|other| self.contact(other, rows)).collect()
    }

    fn contact(&self, other: &Self, rows: &[Row]) -> Option<Contact> {
        let (a, b) = (&self.cell, &other.cell);
        let across = [a.x.max(b.x), a.right().min(b.right())];
        let down = [a.y.max(b.y), a.bottom().min(b.bottom())];
        let upright = |x, edge| (down[0] < down[1]).then(|| (edge, down.map(|y| Point::new(x, y))));
        let level = |y, edge| (across[0] < across[1]).then(|| (edge, across.map(|x| Point::new(x, y))));
        let row = |row: u32| &rows[usize::try_from(row).unwrap() - 1];
        let right_on_top = |column: u32| row(self.row).right_on_top[usize::try_from(column).unwrap() - 1];
        let (found, on_top) = match () {
            () if a.right() == b.x => (upright(b.x, Edge::Right)?, !right_on_top(self.column)),
            () if b.right() == a.x => (upright(a.x, Edge::Left)?, right_on_top(other.column)),
            () if a.bottom() == b.y => (level(b.y, Edge::Bottom)?, !row(other.row).on_top),
            () if b.bottom() == a.y => (level(a.y, Edge::Top)?, row(self.row).on_top),
            () => return None,
        };
        Some(Contact { with: other.number, edge: found.0, line: found.1, on_top })
    }
}

fn count(length: usize) -> u32 {
    u32::try_from(length).unwrap()
}
