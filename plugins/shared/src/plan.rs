//! What lies where: the jobs' pieces on their new sheets, and these as they are drawn.

use seamwright_contract::scale::{drawn, drawn_point};
use seamwright_contract::units::{UM_PER_INCH, Units};
use seamwright_contract::{Fault, Length, Page, Point, Rect, Size, num};
use seamwright_drawing::sheet::Place;
use seamwright_drawing::sheet::shared::{Part as Shown, SharedSheet};
use seamwright_drawing::{Align, Canvas, Pen, Style};

use crate::jobs::{Job, Panel, Record, RectUm, Share};
use crate::pack::{self, Cut, Packing, Part, Um};

/// How much the marks of a piece that reach beyond its half of the gap keep clear of the next piece's.
const CLEAR: Um = 500;

/// A piece in its place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Placed {
    /// Its job, counted from 0 in the order of the plan, and that one's name.
    pub(crate) job: usize,
    pub(crate) name: String,
    pub(crate) panel: u32,
    /// Of how many panels.
    pub(crate) panels: usize,
    /// Which copy, from 1, of how many.
    pub(crate) copy: u32,
    pub(crate) copies: u32,
    /// The page of its job's own sheets.
    pub(crate) own_page: u32,
    /// Where the printed face lies, where it lay on that page, and what is shown of it here.
    pub(crate) printed: Rect<Page>,
    pub(crate) own_printed: Rect<Page>,
    pub(crate) piece: Rect<Page>,
    pub(crate) shown: Rect<Page>,
}

/// A sheet that pieces share.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sheet {
    /// From the top, and of those alike from the left.
    pub(crate) pieces: Vec<Placed>,
    /// The cuts that part them, in their order.
    pub(crate) cuts: Vec<[Point<Page>; 2]>,
    /// The parts of it that stay free, the largest first.
    free: Vec<Rect<Page>>,
}

/// All sheets.
#[derive(Debug)]
pub(crate) struct Plan {
    pub(crate) name: String,
    /// What all jobs have in common, told by the first.
    pub(crate) first: Record,
    /// The jobs' names.
    pub(crate) jobs: Vec<String>,
    /// The page as it lies, as that of the jobs' own sheets, and what of it comes out printed.
    pub(crate) page: Size,
    own: Size,
    pub(crate) live: Rect<Page>,
    pub(crate) gap: Um,
    pub(crate) sheets: Vec<Sheet>,
}

impl Plan {
    /// Of these jobs.
    pub(crate) fn of(name: &str, jobs: &[Job]) -> Result<Self, Fault> {
        let mut read = Vec::new();
        for job in jobs {
            read.push(Record::read(job)?);
        }
        let records: Vec<&Record> = read.iter().map(|(record, _)| record).collect();
        let all = pieces(&records);
        let (_, share) = read.first().ok_or_else(|| Fault::defect("no job shares these sheets."))?;
        let sizes: Vec<pack::Piece> = all.iter().map(|piece| piece.size(share.gap_um)).collect();
        let (packing, live, turned) = pack_either(&sizes, share)
            .ok_or_else(|| Fault::defect("a piece is larger than its own sheet."))?;
        let names = records.iter().map(|record| record.job.clone()).collect();
        let sheets = sheets(&all, &sizes, &packing, live);
        let gap = share.gap_um;
        let first = read.swap_remove(0).0;
        let own = Size::new(Length::from_um(first.paper.width_um), Length::from_um(first.paper.height_um));
        let page = if turned { own.turned() } else { own };
        Ok(Self { name: name.to_owned(), first, jobs: names, page, own, live: rect(live), gap, sheets })
    }

    /// What tells these sheets from all others.
    pub(crate) fn identity(&self) -> String {
        format!("{} {}", self.name, self.jobs.join(" "))
    }

    /// `portrait` or `landscape`.
    pub(crate) fn orientation(&self) -> &'static str {
        if self.page.width > self.page.height { "landscape" } else { "portrait" }
    }

    /// How much longer lengths are drawn than they come out. It differs in the two directions only where the page lies as the
    /// jobs' own.
    pub(crate) fn scale(&self) -> [f64; 2] {
        self.first.scale()
    }

    /// As they are drawn.
    pub(crate) fn sheets(&self, units: Units) -> Vec<SharedSheet> {
        let count = self.sheets.len();
        let drawn = (1..).zip(&self.sheets).map(|(number, sheet)| SharedSheet {
            canvas: self.marked(sheet, &format!("{}, sheet {number} of {count}", self.name), units),
            parts: sheet.pieces.iter().map(|piece| self.shown(piece)).collect(),
        });
        drawn.collect()
    }

    fn shown(&self, piece: &Placed) -> Shown {
        let scale = self.scale();
        // From the bottom left, in micrometres.
        let lies = |rect: &Rect<Page>, page: Size| {
            let [left, top, _, height] = drawn(floats(rect), page, scale);
            [left, num::float(page.height.um()) - top - height]
        };
        let (new, old) = (lies(&piece.printed, self.page), lies(&piece.own_printed, self.own));
        let points = |um: f64| um * 72.0 / num::float(UM_PER_INCH);
        let [left, top, width, height] = drawn(floats(&piece.shown), self.page, scale);
        Shown {
            page: (piece.job, piece.own_page),
            shown: Place::from_top_left(left, top, width, height, self.page),
            moved: [points(new[0] - old[0]), points(new[1] - old[1])],
        }
    }

    /// Which sheet it is, whether it is mirrored once more, and a line of known length, where there is room for them.
    fn marked(&self, sheet: &Sheet, name: &str, units: Units) -> Canvas {
        let colour = self.first.colour.as_ref().map_or("", |colour| colour.instruction.as_str());
        let clean = Canvas::new(self.page);
        let in_part = |free: &Rect<Page>| {
            let mut canvas = clean.clone();
            mark(&inside(free, MARGIN), &[name, RIGHT_WAY, colour], units, &mut canvas);
            canvas
        };
        // The first of those that have room for most.
        let marked = sheet.free.iter().rev().map(in_part).max_by_key(|canvas| canvas.items.len());
        let mut canvas = marked.unwrap_or(clean.clone());
        canvas.move_all(|at| drawn_point(at, self.page, self.scale()));
        canvas
    }
}

/// A piece that has no place yet.
#[derive(Debug, Clone, Copy)]
struct Loose<'a> {
    job: usize,
    record: &'a Record,
    panel: &'a Panel,
    copy: u32,
}

/// All pieces, those of a job one after the other.
fn pieces<'a>(records: &[&'a Record]) -> Vec<Loose<'a>> {
    let of_job = |(job, record): (usize, &&'a Record)| {
        let record: &'a Record = record;
        (1..=record.copies)
            .flat_map(move |copy| record.panels.iter().map(move |panel| Loose { job, record, panel, copy }))
    };
    records.iter().enumerate().flat_map(of_job).collect()
}

impl Loose<'_> {
    fn size(&self, gap: Um) -> pack::Piece {
        let ([x, y, width, height], printed) = (self.panel.piece_um, self.panel.printed_um);
        let reach = [
            printed[0] - x,
            printed[1] - y,
            x + width - printed[0] - printed[2],
            y + height - printed[1] - printed[3],
        ];
        // Odd micrometres make the gap larger.
        let half = (gap + 1) / 2;
        pack::Piece {
            width,
            height,
            free: reach.map(|reach| if reach <= half { half - reach } else { CLEAR }),
        }
    }

    fn placed(&self, size: &pack::Piece, ink: (Um, Um)) -> Placed {
        let (own, printed) = (rect(self.panel.piece_um), rect(self.panel.printed_um));
        let (dx, dy) = (Length::from_um(ink.0) - own.x, Length::from_um(ink.1) - own.y);
        let piece = own.moved(dx, dy);
        let [left, top, right, bottom] = size.free.map(Length::from_um);
        Placed {
            job: self.job,
            name: self.record.job.clone(),
            panel: self.panel.panel,
            panels: self.record.panels.len(),
            copy: self.copy,
            copies: self.record.copies,
            own_page: self.panel.page,
            printed: printed.moved(dx, dy),
            own_printed: printed,
            piece,
            shown: Rect::from_edges(
                piece.x - left,
                piece.y - top,
                piece.right() + right,
                piece.bottom() + bottom,
            ),
        }
    }
}

/// On paper that lies as the jobs' own does or, if it may and that takes fewer sheets, the other way: then all sheets of a job
/// still run through the printer alike.
fn pack_either(pieces: &[pack::Piece], share: &Share) -> Option<(Packing, RectUm, bool)> {
    let on = |live: RectUm| pack::pack(pieces, (live[2], live[3]));
    let own = on(share.live_um)?;
    let other = share.other_live_um.and_then(|live| Some((on(live)?, live)));
    Some(match other {
        Some((other, live)) if other.sheets() < own.sheets() => (other, live, true),
        _ => (own, share.live_um, false),
    })
}

fn sheets(all: &[Loose<'_>], sizes: &[pack::Piece], packing: &Packing, live: RectUm) -> Vec<Sheet> {
    let on_page = |(x, y): (Um, Um)| (x + live[0], y + live[1]);
    let point = |at: (Um, Um)| {
        let (x, y) = on_page(at);
        Point::new(Length::from_um(x), Length::from_um(y))
    };
    let cuts = |cuts: &Vec<Cut>| cuts.iter().map(|cut| cut.map(point)).collect();
    let free = |parts: &Vec<Part>| {
        let on_paper = |part: &Part| {
            let (from, to) = (point((part.left, part.top)), point((part.right, part.bottom)));
            Rect::from_edges(from.x, from.y, to.x, to.y).intersection(&rect(live))
        };
        parts.iter().filter_map(on_paper).collect()
    };
    let mut sheets: Vec<Sheet> = packing
        .cuts
        .iter()
        .zip(&packing.left)
        .map(|(made, left)| Sheet { pieces: Vec::new(), cuts: cuts(made), free: free(left) })
        .collect();
    for ((piece, size), spot) in all.iter().zip(sizes).zip(&packing.spots) {
        if let Some(sheet) = sheets.get_mut(spot.sheet) {
            sheet.pieces.push(piece.placed(size, on_page((spot.left, spot.top))));
        }
    }
    for sheet in &mut sheets {
        sheet.pieces.sort_by_key(|piece| (piece.printed.y, piece.printed.x));
    }
    sheets
}

pub(crate) fn rect([x, y, width, height]: RectUm) -> Rect<Page> {
    let [x, y, width, height] = [x, y, width, height].map(Length::from_um);
    Rect::new(x, y, width, height)
}

fn floats(rect: &Rect<Page>) -> [f64; 4] {
    [rect.x, rect.y, rect.width, rect.height].map(|side| num::float(side.um()))
}

fn inside(rect: &Rect<Page>, by: Length) -> Rect<Page> {
    Rect::from_edges(rect.x + by, rect.y + by, rect.right() - by, rect.bottom() - by)
}

/// How far the sheet's own marks keep from its pieces.
const MARGIN: Length = Length::from_mm(2);
const HAIR: Length = Length::from_um(88);
const SMALL: Length = Length::from_um(2_822);
const USUAL: Length = Length::from_um(3_175);
const RIGHT_WAY: &str = "R  must read the right way round";

/// Lines of text and a ruler, in the top left of a free part; only what fits.
fn mark(free: &Rect<Page>, lines: &[&str], units: Units, canvas: &mut Canvas) {
    let mut y = free.y;
    let height = Style::Regular.cap_height(USUAL) + Style::Regular.descent(USUAL);
    for text in lines {
        if Style::Regular.width(USUAL, text) <= free.width && y + height <= free.bottom() {
            let base = y + Style::Regular.cap_height(USUAL);
            canvas.text(Point::new(free.x, base), USUAL, Style::Regular, Align::Left, *text);
            y += height + Length::from_mm(1);
        }
    }
    let (one, steps, unit) = match units {
        Units::Metric => (Length::from_mm(10), [10, 5], "mm"),
        Units::Inch => (Length::from_inches(1), [4, 2], "in"),
    };
    let tick = Length::from_mm(3);
    let height = tick + Length::from_mm(1) + Style::Regular.cap_height(SMALL) + Style::Regular.descent(SMALL);
    let Some(steps) = steps.into_iter().find(|steps| one * *steps + HAIR <= free.width) else { return };
    if y + height > free.bottom() {
        return;
    }
    let (x, y) = (free.x + HAIR.half(), y + HAIR.half());
    canvas.line(Point::new(x, y), Point::new(x + one * steps, y), Pen::black(HAIR));
    for step in 0..=steps {
        canvas.line(Point::new(x + one * step, y), Point::new(x + one * step, y + tick), Pen::black(HAIR));
    }
    let long = if units == Units::Metric { steps * 10 } else { steps };
    let base = y + tick + Length::from_mm(1) + Style::Regular.cap_height(SMALL);
    let said = format!("this line is {long} {unit} long");
    canvas.text(Point::new(x, base), SMALL, Style::Regular, Align::Left, said);
}
