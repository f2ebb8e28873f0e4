//! What the maker reads beside shared sheets: what lies where, and how to part it. Drawn, and the same in words.

use std::collections::BTreeMap;

use seamwright_contract::units::Units;
use seamwright_contract::{Length, Page, Point, Rect, Size, num};
use seamwright_drawing::{Align, Canvas, Path, Pen, Style};

use crate::plan::{Placed, Plan, Sheet};

/// The drawn form, and that in words.
pub(crate) const PDF: &str = "notes.pdf";
pub(crate) const TEXT: &str = "notes.txt";

const PRINT: &str = "1. Print the sheets";
const PRINTING: [&str; 3] = [
    "Print at actual size (100 %), one side, without mirroring in the driver: the sheets are as they must be.",
    "Where a sheet carries a ruler, measure it before the first cut. If it is off, stop: nothing on these sheets would have its size.",
    "Let the sheets dry flat before cutting.",
];
const PART: &str = "2. Cut the pieces apart";
const PARTING: [&str; 3] = [
    "The drawings show the sheets INK SIDE UP. Cut along the dashed lines, in the order of their letters: each runs straight across what is left of the sheet by then. Leave the ticks on, they are for later.",
    "Lay the pieces of each job together; every piece bears its job's name.",
    "Go on by the job's own notes, with cutting the panels. What those measure from the paper's edge does not hold here: go by the ticks, or by the picture's edge.",
];
const WHERE: &str = "Where the pieces of each job lie";

/// Both forms.
pub(crate) struct Notes {
    pub(crate) pages: Vec<Canvas>,
    pub(crate) text: String,
}

/// Of these sheets.
pub(crate) fn of(plan: &Plan, units: Units) -> Notes {
    let title = format!("Notes for {}", plan.name);
    let mut flow = Flow::new(&title, units);
    flow.line(&overview(plan, units));
    flow.list(PRINT, plan.first.colour.iter().map(|colour| colour.instruction.as_str()).chain(PRINTING));
    flow.list(PART, PARTING.into_iter());
    let jobs = jobs(plan);
    flow.list(WHERE, jobs.iter().map(String::as_str));
    let count = plan.sheets.len();
    for (number, sheet) in (1..).zip(&plan.sheets) {
        flow.sheet(plan, sheet, &format!("Sheet {number} of {count}"));
    }
    flow.ended()
}

/// `2 sheets of letter, portrait: 8.50 x 11.00 in, with 12 pieces of 3 jobs`.
fn overview(plan: &Plan, units: Units) -> String {
    let pieces: usize = plan.sheets.iter().map(|sheet| sheet.pieces.len()).sum();
    format!(
        "{} of {}, {}: {}, with {} of {} at least {} apart.",
        counted(plan.sheets.len(), "sheet"),
        plan.first.paper.name,
        plan.orientation(),
        units.show_size(plan.page.width, plan.page.height),
        counted(pieces, "piece"),
        counted(plan.jobs.len(), "job"),
        units.show(Length::from_um(plan.gap)),
    )
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// Each job with the sheets that its pieces lie on.
fn jobs(plan: &Plan) -> Vec<String> {
    let mut on: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (number, sheet) in (1..).zip(&plan.sheets) {
        for piece in &sheet.pieces {
            let sheets = on.entry(piece.job).or_default();
            match sheets.last_mut() {
                Some((last, count)) if *last == number => *count += 1,
                _ => sheets.push((number, 1)),
            }
        }
    }
    let said = |(job, sheets): (usize, Vec<(usize, usize)>)| {
        let each: Vec<String> = sheets
            .iter()
            .map(|(sheet, count)| format!("{} on sheet {sheet}", counted(*count, "piece")))
            .collect();
        Some(format!("{}: {}", plan.jobs.get(job)?, each.join(", ")))
    };
    on.into_iter().filter_map(said).collect()
}

/// `panel 2 of 3, copy 1 of 6`; nothing of a job that has one piece.
fn which(piece: &Placed) -> String {
    let mut said = Vec::new();
    if piece.panels > 1 {
        said.push(format!("panel {} of {}", piece.panel, piece.panels));
    }
    if piece.copies > 1 {
        said.push(format!("copy {} of {}", piece.copy, piece.copies));
    }
    said.join(", ")
}

/// `a` to `z`, `aa`, `ab` and so on.
fn letter(number: usize) -> String {
    let last = char::from(b'a' + u8::try_from(number % 26).unwrap_or_default());
    match number / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// Where a cut runs.
fn runs(cut: &[Point<Page>; 2], units: Units) -> String {
    let [from, to] = cut;
    if from.y == to.y {
        format!("across, {} from the sheet's top", units.show(from.y))
    } else {
        format!("down, {} from the sheet's left", units.show(from.x))
    }
}

const MARGIN: Length = Length::from_mm(14);
const TITLE: Length = Length::from_um(6_000);
const HEADING: Length = Length::from_um(4_586);
const BODY: Length = Length::from_um(3_528);
const SMALL: Length = Length::from_um(3_000);
const INDENT: Length = Length::from_mm(6);
const RULE: Length = Length::from_um(250);
const LINE: Length = Length::from_um(350);
const DASH: Length = Length::from_um(1_600);
/// The room for the drawing of a sheet.
const DRAWING: Size = Size::new(Length::from_mm(92), Length::from_mm(108));
/// The gray of what is printed.
const PALE: u8 = 226;

/// Pages being filled, and the text beside them.
struct Flow<'a> {
    title: &'a str,
    units: Units,
    paper: Size,
    pages: Vec<Canvas>,
    y: Length,
    text: String,
}

impl<'a> Flow<'a> {
    fn new(title: &'a str, units: Units) -> Self {
        let (width, height) = match units {
            Units::Inch => (215_900, 279_400),
            Units::Metric => (210_000, 297_000),
        };
        let paper = Size::new(Length::from_um(width), Length::from_um(height));
        let mut flow =
            Self { title, units, paper, pages: Vec::new(), y: Length::ZERO, text: format!("{title}\n") };
        flow.new_page();
        flow
    }

    fn width(&self) -> Length {
        self.paper.width - MARGIN * 2
    }

    fn bottom(&self) -> Length {
        self.paper.height - MARGIN - Length::from_mm(5)
    }

    fn new_page(&mut self) {
        let mut canvas = Canvas::new(self.paper);
        let size = if self.pages.is_empty() { TITLE } else { BODY };
        let y =
            canvas.paragraph(Point::new(MARGIN, MARGIN + size), self.width(), size, Style::Bold, self.title);
        let rule = y - size.share(0.6);
        let end = self.paper.width - MARGIN;
        canvas.line(Point::new(MARGIN, rule), Point::new(end, rule), Pen::black(RULE));
        self.y = rule + Length::from_mm(4);
        self.pages.push(canvas);
    }

    fn need(&mut self, height: Length) {
        if self.y + height > self.bottom() {
            self.new_page();
        }
    }

    /// Text from `x` on, as it is on the page alone.
    fn set(&mut self, x: Length, width: Length, size: Length, style: Style, text: &str) {
        let lines = style.wrap(size, text, width);
        self.need(Canvas::leading(size) * i64::from(num::count(lines.len())));
        for line in lines {
            let at = Point::new(x, self.y + size);
            if let Some(page) = self.pages.last_mut() {
                page.text(at, size, style, Align::Left, line);
            }
            self.y += Canvas::leading(size);
        }
    }

    fn say(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn line(&mut self, text: &str) {
        self.say(text);
        self.set(MARGIN, self.width(), BODY, Style::Regular, text);
    }

    fn heading(&mut self, text: &str) {
        self.say("");
        self.say(&text.to_uppercase());
        self.y += Length::from_mm(2);
        self.set(MARGIN, self.width(), HEADING, Style::Bold, text);
        self.y += Length::from_mm(1);
    }

    fn list<'t>(&mut self, heading: &str, points: impl Iterator<Item = &'t str>) {
        self.need(Length::from_mm(24));
        self.heading(heading);
        for point in points {
            self.say(&format!("- {point}"));
            let width = self.width() - INDENT;
            let lines = Style::Regular.wrap(BODY, point, width).len();
            self.need(Canvas::leading(BODY) * i64::from(num::count(lines)));
            let at = Point::new(MARGIN, self.y + BODY);
            if let Some(page) = self.pages.last_mut() {
                page.text(at, BODY, Style::Bold, Align::Left, "-");
            }
            self.set(MARGIN + INDENT, width, BODY, Style::Regular, point);
        }
        self.y += Length::from_mm(2);
    }

    /// A sheet drawn, with its pieces and cuts beside it.
    fn sheet(&mut self, plan: &Plan, sheet: &Sheet, heading: &str) {
        self.need(DRAWING.height + Length::from_mm(14));
        self.heading(heading);
        let top = self.y;
        let room = Rect::new(MARGIN, top, DRAWING.width, DRAWING.height);
        let under = self.pages.last_mut().map_or(top, |page| draw(plan, sheet, &room, page));
        let drawn = self.pages.len();
        let x = MARGIN + DRAWING.width + Length::from_mm(6);
        let width = self.paper.width - MARGIN - x;
        for (number, piece) in (1..).zip(&sheet.pieces) {
            let which = which(piece);
            let said = if which.is_empty() { piece.name.clone() } else { format!("{}, {which}", piece.name) };
            self.say(&format!("Piece {number}: {said}; {}", self.place(piece)));
            self.beside(x, width, &number.to_string(), &said);
        }
        if !sheet.cuts.is_empty() {
            self.y += Length::from_mm(2);
        }
        for (number, cut) in sheet.cuts.iter().enumerate() {
            let (letter, said) = (letter(number), runs(cut, self.units));
            self.say(&format!("Cut {letter}: {said}"));
            self.beside(x, width, &letter, &said);
        }
        if self.pages.len() == drawn {
            self.y = self.y.max(under);
        }
        self.y += Length::from_mm(4);
    }

    /// Where the printed face lies on the sheet.
    fn place(&self, piece: &Placed) -> String {
        let Rect { x, y, width, height, .. } = piece.printed;
        let (units, size) = (self.units, self.units.show_size(width, height));
        format!("its picture {} from the left, {} from the top, {size}", units.show(x), units.show(y))
    }

    /// A number or letter with what it stands for, beside the drawing.
    fn beside(&mut self, x: Length, width: Length, mark: &str, text: &str) {
        let lines = Style::Regular.wrap(SMALL, text, width - INDENT).len();
        self.need(Canvas::leading(SMALL) * i64::from(num::count(lines)));
        let at = Point::new(x, self.y + SMALL);
        if let Some(page) = self.pages.last_mut() {
            page.text(at, SMALL, Style::Bold, Align::Left, mark);
        }
        self.set(x + INDENT, width - INDENT, SMALL, Style::Regular, text);
    }

    fn ended(mut self) -> Notes {
        let all = self.pages.len();
        let at = Point::new(self.paper.width - MARGIN, self.paper.height - MARGIN);
        for (number, page) in (1..).zip(&mut self.pages) {
            page.text(at, SMALL, Style::Regular, Align::Right, format!("page {number} of {all}"));
        }
        Notes { pages: self.pages, text: self.text }
    }
}

/// Draws a sheet into a box; gives the lowest line used.
fn draw(plan: &Plan, sheet: &Sheet, room: &Rect<Page>, canvas: &mut Canvas) -> Length {
    let share = |room: Length, page: Length| num::float(room.um()) / num::float(page.um());
    let scale = share(room.width, plan.page.width).min(share(room.height, plan.page.height));
    let at = |x: Length, y: Length| Point::<Page>::new(room.x + x.share(scale), room.y + y.share(scale));
    let scaled = |rect: &Rect<Page>| {
        let (from, to) = (at(rect.x, rect.y), at(rect.right(), rect.bottom()));
        Rect::from_edges(from.x, from.y, to.x, to.y)
    };
    let page = scaled(&Rect::of_size(plan.page));
    canvas.stroke(Path::rectangle(&page), Pen::black(LINE));
    for (number, piece) in (1..).zip(&sheet.pieces) {
        let face = scaled(&piece.printed);
        canvas.fill(Path::rectangle(&face), PALE);
        canvas.stroke(Path::rectangle(&face), Pen { shade: 120, ..Pen::black(RULE) });
        let text = number.to_string();
        let (width, height) = (Style::Bold.width(BODY, &text), Style::Bold.cap_height(BODY));
        // In what is too small even for that, the number is as high as it may be.
        let fits = share(face.width, width).min(share(face.height, height)).min(1.0);
        let size = BODY.share(fits);
        let base = face.y + face.height.half() + Style::Bold.cap_height(size).half();
        canvas.text(Point::new(face.x + face.width.half(), base), size, Style::Bold, Align::Centre, text);
    }
    for (number, [from, to]) in sheet.cuts.iter().enumerate() {
        let held = |point: &Point<Page>| {
            let point = at(point.x, point.y);
            Point::new(point.x.max(page.x).min(page.right()), point.y.max(page.y).min(page.bottom()))
        };
        let (from, to) = (held(from), held(to));
        canvas.line(from, to, Pen { dash: Some(DASH), ..Pen::black(LINE) });
        letter_on(&letter(number), from, to, canvas);
    }
    page.bottom()
}

/// The letter of a cut where the cut begins, on white.
fn letter_on(letter: &str, from: Point<Page>, to: Point<Page>, canvas: &mut Canvas) {
    let size = SMALL;
    let (width, height) = (Style::Bold.width(size, letter), Style::Bold.cap_height(size));
    let (gap, along) = (Length::from_um(500), Length::from_mm(4));
    let middle: Point<Page> =
        if from.y == to.y { Point::new(from.x + along, from.y) } else { Point::new(from.x, from.y + along) };
    let ground = Rect::from_edges(
        middle.x - width.half() - gap,
        middle.y - height.half() - gap,
        middle.x + width.half() + gap,
        middle.y + height.half() + gap,
    );
    canvas.fill(Path::rectangle(&ground), 255);
    let base = Point::new(middle.x, middle.y + height.half());
    canvas.text(base, size, Style::Bold, Align::Centre, letter);
}
