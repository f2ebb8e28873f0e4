//! Which piece lies where, on as few sheets as can be found.
//!
//! A studio cuts paper with a trimmer, edge to edge, so only layouts are looked for that such cuts take apart: a part of a sheet
//! is cut in two by a straight line, and each of the two again. A piece is put into the corner of a free part, and what is left
//! beside and below it are two free parts, divided one way or the other. Where the fewest sheets lie in all of such layouts is a
//! hard problem; so several orders of the pieces and several ways to choose and to divide are tried, the tidiest first (rows of
//! pieces, then columns), and the first that takes the fewest is kept. It is never more than plain rows or columns take, since
//! those are tried, and never more than one a piece.
//!
//! Pieces are not turned. A job's sheets run through the printer one way, for it stretches paper otherwise along than across;
//! and names that all read the same way are found at one look.
//!
//! Around its ink each piece has half of the gap that its neighbours keep from it; that may hang over the printable part of a
//! sheet, where there is no neighbour.

use std::cmp::Reverse;

/// Micrometres.
pub(crate) type Um = i64;

/// A rectangle: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Part {
    pub(crate) left: Um,
    pub(crate) top: Um,
    pub(crate) right: Um,
    pub(crate) bottom: Um,
}

impl Part {
    fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && other.right <= self.right
            && other.bottom <= self.bottom
    }

    fn is_empty(&self) -> bool {
        self.left >= self.right || self.top >= self.bottom
    }

    const fn width(&self) -> Um {
        self.right - self.left
    }

    const fn height(&self) -> Um {
        self.bottom - self.top
    }
}

/// What is to be put somewhere: its ink's size, and how much it keeps free on each side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece {
    pub(crate) width: Um,
    pub(crate) height: Um,
    /// Left, top, right, bottom.
    pub(crate) free: [Um; 4],
}

impl Piece {
    const fn full(&self) -> (Um, Um) {
        let [left, top, right, bottom] = self.free;
        (left + self.width + right, top + self.height + bottom)
    }

    /// Where its ink lies in a free part of a sheet with so much to print on, and what it takes of it.
    fn fit(&self, free: &Part, sheet: (Um, Um)) -> Option<(Part, Part)> {
        let [left, top, right, bottom] = self.free;
        let (x, y) = ((free.left + left).max(0), (free.top + top).max(0));
        let ink = Part { left: x, top: y, right: x + self.width, bottom: y + self.height };
        let takes =
            Part { left: x - left, top: y - top, right: ink.right + right, bottom: ink.bottom + bottom };
        let within = ink.right <= sheet.0 && ink.bottom <= sheet.1;
        (within && free.holds(&takes)).then_some((ink, takes))
    }
}

/// Where a piece's ink lies on the printable part of its sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Spot {
    /// Counted from 0.
    pub(crate) sheet: usize,
    pub(crate) left: Um,
    pub(crate) top: Um,
}

/// A cut: from, to; level or upright.
pub(crate) type Cut = [(Um, Um); 2];

/// Everything in its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Packing {
    /// One a piece, in their order.
    pub(crate) spots: Vec<Spot>,
    /// The cuts of each sheet that part its pieces, in the order in which they are made.
    pub(crate) cuts: Vec<Vec<Cut>>,
    /// What is left of each sheet, the largest first.
    pub(crate) left: Vec<Vec<Part>>,
}

impl Packing {
    pub(crate) fn sheets(&self) -> usize {
        self.cuts.len()
    }
}

/// More pieces than this are only laid in rows or columns: what more could be found is not worth the time.
const MANY: usize = 600;

/// Lays all pieces on sheets with so much to print on; nothing where one of them is larger than that.
pub(crate) fn pack(pieces: &[Piece], sheet: (Um, Um)) -> Option<Packing> {
    let edge = pieces.iter().flat_map(|piece| piece.free).max().unwrap_or_default();
    let whole = Part { left: -edge, top: -edge, right: sheet.0 + edge, bottom: sheet.1 + edge };
    if pieces.iter().any(|piece| piece.fit(&whole, sheet).is_none()) {
        return None;
    }
    let least = fewest(pieces, &whole);
    let mut best: Option<Packing> = None;
    for way in ways(pieces.len()) {
        let found = way.lay(pieces, whole, sheet);
        let fewer = best.as_ref().is_none_or(|best| found.sheets() < best.sheets());
        if fewer {
            best = Some(found);
        }
        if best.as_ref().is_some_and(|best| best.sheets() <= least) {
            break;
        }
    }
    best
}

/// Fewer sheets than this cannot hold them: they have no more paper.
fn fewest(pieces: &[Piece], whole: &Part) -> usize {
    let area = |(width, height): (Um, Um)| i128::from(width) * i128::from(height);
    let all: i128 = pieces.iter().map(|piece| area(piece.full())).sum();
    let one = area((whole.width(), whole.height())).max(1);
    usize::try_from((all + one - 1) / one).unwrap_or(usize::MAX)
}

/// By what pieces are ordered, the largest first.
#[derive(Debug, Clone, Copy)]
enum Order {
    Height,
    Width,
    Area,
    LongerSide,
}

/// Which free part is taken.
#[derive(Debug, Clone, Copy)]
enum Choice {
    /// The first that holds the piece.
    First,
    /// That which leaves the least over.
    Tightest,
}

/// How what is left beside and below a piece is divided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Divide {
    /// Rows over the whole sheet, each cut upright.
    Rows,
    /// Columns down the whole sheet, each cut level.
    Columns,
    /// The larger of the two parts as large as it can be.
    Larger,
    /// Both as even as they can be.
    Even,
}

/// One way to lay pieces.
#[derive(Debug, Clone, Copy)]
struct Way {
    order: Order,
    choice: Choice,
    divide: Divide,
    /// Whether what is left under a lower piece of a row, or beside a narrower one of a column, stays free: as rows and
    /// columns are laid by hand.
    plain: bool,
}

/// The ways that are tried, the tidiest first.
fn ways(pieces: usize) -> Vec<Way> {
    let tidy = [(Order::Height, Divide::Rows), (Order::Width, Divide::Columns)];
    let tidy = tidy.map(|(order, divide)| Way { order, choice: Choice::First, divide, plain: true });
    let mut ways = tidy.to_vec();
    if pieces <= MANY {
        for order in [Order::Area, Order::LongerSide, Order::Height, Order::Width] {
            for divide in [Divide::Larger, Divide::Even, Divide::Rows, Divide::Columns] {
                let choices = [Choice::Tightest, Choice::First];
                ways.extend(choices.map(|choice| Way { order, choice, divide, plain: false }));
            }
        }
    }
    ways
}

/// A sheet being filled.
struct Sheet {
    /// The parts it falls into; the first is all of it.
    parts: Vec<Node>,
    /// The free ones among them.
    free: Vec<usize>,
}

/// A part of a sheet, and what became of it.
struct Node {
    part: Part,
    /// Whether something lies in it.
    taken: bool,
    /// Cut in two.
    halves: Option<(Cut, [usize; 2])>,
}

impl Node {
    const fn free(part: Part) -> Self {
        Self { part, taken: false, halves: None }
    }
}

impl Way {
    fn lay(self, pieces: &[Piece], whole: Part, size: (Um, Um)) -> Packing {
        let mut order: Vec<usize> = (0..pieces.len()).collect();
        order.sort_by_key(|at| Reverse(pieces.get(*at).map(|piece| self.key(piece))));
        let mut sheets: Vec<Sheet> = Vec::new();
        let mut spots = vec![Spot { sheet: 0, left: 0, top: 0 }; pieces.len()];
        for at in order {
            let (Some(piece), Some(spot)) = (pieces.get(at), spots.get_mut(at)) else { continue };
            let (number, place) = match self.choose(&sheets, piece, size) {
                Some(found) => found,
                None => {
                    sheets.push(Sheet { parts: vec![Node::free(whole)], free: vec![0] });
                    (sheets.len() - 1, 0)
                }
            };
            let Some(sheet) = sheets.get_mut(number) else { continue };
            if let Some(ink) = sheet.put(place, *piece, size, self) {
                *spot = Spot { sheet: number, left: ink.left, top: ink.top };
            }
        }
        let left = sheets.iter().map(Sheet::left).collect();
        Packing { spots, cuts: sheets.iter().map(Sheet::cuts).collect(), left }
    }

    fn key(self, piece: &Piece) -> (Um, Um) {
        let (width, height) = piece.full();
        match self.order {
            Order::Height => (height, width),
            Order::Width => (width, height),
            // Square millimetres: no product of two lengths runs over.
            Order::Area => ((width / 1_000) * (height / 1_000), height),
            Order::LongerSide => (width.max(height), width.min(height)),
        }
    }

    /// A sheet and one of its free parts that holds the piece.
    fn choose(self, sheets: &[Sheet], piece: &Piece, size: (Um, Um)) -> Option<(usize, usize)> {
        let mut all = sheets.iter().enumerate().flat_map(|(number, sheet)| {
            sheet.free.iter().filter_map(move |place| {
                let part = sheet.parts.get(*place)?.part;
                let (_, takes) = piece.fit(&part, size)?;
                Some((number, *place, part, takes))
            })
        });
        let found = match self.choice {
            Choice::First => all.next(),
            Choice::Tightest => all.min_by_key(|(.., part, takes)| {
                (part.width() - takes.width()).min(part.height() - takes.height())
            }),
        };
        found.map(|(number, place, ..)| (number, place))
    }
}

impl Sheet {
    /// Puts a piece into the corner of a free part; gives where its ink lies.
    fn put(&mut self, place: usize, piece: Piece, size: (Um, Um), way: Way) -> Option<Part> {
        let part = self.parts.get(place)?.part;
        let (ink, takes) = piece.fit(&part, size)?;
        let whole = self.parts.first()?.part;
        // What reaches over the whole sheet begins a row or a column.
        let begins = match way.divide {
            Divide::Rows => part.width() == whole.width(),
            Divide::Columns => part.height() == whole.height(),
            Divide::Larger | Divide::Even => true,
        };
        let upright_first = match way.divide {
            Divide::Rows => !begins,
            Divide::Columns => begins,
            Divide::Larger => part.width() - takes.width() >= part.height() - takes.height(),
            Divide::Even => part.width() - takes.width() < part.height() - takes.height(),
        };
        let level = |part: &Part| [(part.left, takes.bottom), (part.right, takes.bottom)];
        let upright = |part: &Part| [(takes.right, part.top), (takes.right, part.bottom)];
        let below = |part: Part| [Part { bottom: takes.bottom, ..part }, Part { top: takes.bottom, ..part }];
        let beside = |part: Part| [Part { right: takes.right, ..part }, Part { left: takes.right, ..part }];
        let (cut, [near, far]) =
            if upright_first { (upright(&part), beside(part)) } else { (level(&part), below(part)) };
        let near = self.halve(place, cut, near, far, true)?;
        let (cut, [own, rest]) =
            if upright_first { (level(&near.1), below(near.1)) } else { (upright(&near.1), beside(near.1)) };
        let own = self.halve(near.0, cut, own, rest, begins || !way.plain)?.0;
        self.parts.get_mut(own)?.taken = true;
        self.free.retain(|free| *free != place && *free != near.0 && *free != own);
        // Those nearer to where one reads first are taken first.
        let parts = &self.parts;
        self.free.sort_by_key(|free| parts.get(*free).map(|node| (node.part.top, node.part.left)));
        Some(ink)
    }

    /// Cuts a part in two; gives the nearer half. The other may be usable.
    fn halve(
        &mut self,
        place: usize,
        cut: Cut,
        near: Part,
        far: Part,
        usable: bool,
    ) -> Option<(usize, Part)> {
        let first = self.parts.len();
        self.parts.push(Node::free(near));
        self.parts.push(Node::free(far));
        self.parts.get_mut(place)?.halves = Some((cut, [first, first + 1]));
        if usable && !far.is_empty() {
            self.free.push(first + 1);
        }
        Some((first, near))
    }

    /// Whether something lies in a part or in a part of it.
    fn is_used(&self, place: usize) -> bool {
        self.parts.get(place).is_some_and(|node| {
            node.taken || node.halves.is_some_and(|(_, halves)| halves.iter().any(|half| self.is_used(*half)))
        })
    }

    /// The cuts that have a piece on either side, each before those of the two parts it leaves.
    fn cuts(&self) -> Vec<Cut> {
        let (mut cuts, mut open) = (Vec::new(), vec![0]);
        while let Some(place) = open.pop() {
            let Some((cut, [near, far])) = self.parts.get(place).and_then(|node| node.halves) else {
                continue;
            };
            if self.is_used(near) && self.is_used(far) {
                cuts.push(cut);
            }
            open.extend([far, near]);
        }
        cuts
    }

    fn left(&self) -> Vec<Part> {
        let free = self.free.iter().filter_map(|free| self.parts.get(*free).map(|node| node.part));
        let mut left: Vec<Part> = free.collect();
        left.sort_by_key(|part| Reverse((part.width() / 1_000) * (part.height() / 1_000)));
        left
    }
}
