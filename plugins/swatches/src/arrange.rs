//! The test print on its page: above the cut what to know before pressing, below it what is pressed.
//!
//! The pressed part is filled from the top: the crops, as many as stand beside each other; the groups of patches that
//! still have room; a line of known length. What has no room is left out, never squeezed in.

use seamwright_contract::catalogue::Orientation;
use seamwright_contract::layout::{LayUp, Layout};
use seamwright_contract::picture::{Pixels, Window};
use seamwright_contract::scale::{comes_out, drawn, drawn_point};
use seamwright_contract::units::Units;
use seamwright_contract::{Face, Fault, Length, Page, Point, Rect, Size};
use seamwright_drawing::sheet::{Place, Sheet};
use seamwright_drawing::{Align, Canvas, Pen, Style};

use crate::board::Board;
use crate::crops::{self, Crop};
use crate::patches::{self, Group};
use crate::regions::Afar;
use crate::scrap::{Content, Scrap};
use crate::words;

const fn points(tenths: i64) -> Length {
    Length::from_um(tenths * 2_540 / 72)
}

const TITLE: Length = points(130);
const BODY: Length = points(85);
const NAME: Length = points(95);
const LETTER: Length = points(160);
const SMALL: Length = points(72);
const NUMBER: Length = points(62);

/// Between the cut and what is pressed, and between the parts of that.
const GAP: Length = Length::from_mm(5);
/// Between what belongs together.
const CLOSE: Length = Length::from_mm(1);
/// The side of a crop where three stand beside each other, and what it may grow to.
const LEAST_CROP: Length = Length::from_mm(45);
const MOST_CROP: Length = Length::from_mm(60);
/// What a crop may shrink to for the sake of patches.
const SHORT_CROP: Length = Length::from_mm(30);
/// Nothing can be judged on a smaller crop.
const SMALLEST_CROP: Length = Length::from_mm(12);
/// Crops side by side.
const MOST_CROPS: usize = 3;
/// The most lines under a crop.
const CAPTION: usize = 5;
/// The side of a patch, and from one to the next.
const PATCH: Length = Length::from_mm(10);
const BETWEEN: Length = Length::from_um(1_200);
/// The line of known length with its words.
const RULER: Length = Length::from_mm(9);
const TICK: Length = Length::from_um(1_500);

/// The page and its picture.
pub(crate) fn page(layout: &Layout) -> Result<(Sheet, Scrap), Fault> {
    let paper = Paper::of(layout)?;
    let design = layout.design()?;
    let line = Line::on(paper.live.width, layout.order.units);
    let mut canvas = Canvas::new(paper.page);
    let top = head(layout, &paper, &line, &mut canvas);
    let origin = Point::new(paper.live.x, top);
    let mut board = Board::new(paper.live.width, paper.live.bottom() - top - CLOSE, design.sheet_ppi);
    fill(layout, &line, &mut board, &paper)?;
    board.draw(origin, layout.mirrored, &mut canvas);
    // As it comes out of the printer so far; from here on as it is drawn.
    canvas.move_all(|at| drawn_point(at, paper.page, paper.scale));
    let [left, top, width, height] = drawn(board.place(origin), paper.page, paper.scale);
    let place = Place::from_top_left(left, top, width, height, paper.page);
    let scrap = Scrap { size: board.grid(), artwork: layout.picture.clone(), parts: board.parts };
    let sheet = Sheet { window: Window::whole(scrap.size), canvas, image: place, printed: place };
    Ok((sheet, scrap))
}

/// The sheet of paper it is printed on.
struct Paper {
    name: String,
    page: Size,
    /// As it comes out of the printer.
    live: Rect<Page>,
    /// How much longer lengths are drawn than they come out.
    scale: [f64; 2],
}

impl Paper {
    /// The lay-up's, or the order's first, upright.
    fn of(layout: &Layout) -> Result<Self, Fault> {
        if let Some(lay_up) = &layout.lay_up {
            let LayUp { paper, page, live, scale, .. } = lay_up;
            return Ok(Self { name: paper.name.clone(), page: *page, live: *live, scale: *scale });
        }
        let paper = layout.order.papers.first().ok_or_else(|| Fault::defect("the order has no paper."))?;
        let printer = &layout.order.printer;
        let scale = printer.scale_on(&paper.name).lying(Orientation::Portrait);
        let live = comes_out(&printer.live_on(paper), paper.size, scale);
        Ok(Self { name: paper.name.clone(), page: paper.size, live, scale })
    }

    fn too_small(&self) -> Fault {
        Fault::order(
            format!("The paper {} is too small for a test print.", self.name),
            "Name a larger `paper`, or leave the test print out.",
        )
    }
}

/// A line of known length.
struct Line {
    length: Length,
    shown: String,
}

impl Line {
    /// The longest that fits.
    fn on(width: Length, units: Units) -> Self {
        let (long, short) = match units {
            Units::Inch => (Length::from_inches(4), Length::from_inches(1)),
            Units::Metric => (Length::from_mm(100), Length::from_mm(20)),
        };
        let length = if long <= width { long } else { short };
        Self { length, shown: units.show(length) }
    }
}

/// Draws what stands above the cut, and the cut; returns where the pressed part begins.
fn head(layout: &Layout, paper: &Paper, line: &Line, canvas: &mut Canvas) -> Length {
    let (x, width) = (paper.live.x, paper.live.width);
    let mut y = paper.live.y;
    let mut write = |size, style, text: &str, most| {
        for line in lines(style, size, text, width, most) {
            y += Canvas::leading(size);
            canvas.text(Point::new(x, y), size, style, Align::Left, line);
        }
        y += CLOSE;
    };
    write(TITLE, Style::Bold, &format!("{} {}", words::TITLE, layout.job.name), 2);
    for paragraph in words::head(layout, &paper.name, &line.shown) {
        write(BODY, Style::Regular, &paragraph, 6);
    }
    y += Canvas::leading(SMALL) + CLOSE;
    for text in lines(Style::Bold, SMALL, words::CUT, width, 1) {
        canvas.text(Point::new(paper.live.right(), y), SMALL, Style::Bold, Align::Right, text);
    }
    y += CLOSE + CLOSE;
    let dashed = Pen { dash: Some(Length::from_mm(2)), ..Pen::black(Length::from_um(250)) };
    canvas.line(Point::new(x, y), Point::new(x + width, y), dashed);
    y + GAP
}

/// Lays out all that is pressed.
fn fill(layout: &Layout, line: &Line, board: &mut Board, paper: &Paper) -> Result<(), Fault> {
    let afar = Afar::of(layout.seen())?;
    board.bottom -= RULER;
    name(layout, board);
    let (side, most) = crop_side(board).ok_or_else(|| paper.too_small())?;
    let design = layout.design()?.size;
    let size = Size::new(side.min(design.width), side.min(design.height));
    crop_row(layout, &crops::of(layout, &afar, size, most)?, board)?;
    let mut first = 1;
    for group in patches::of(layout, &afar)? {
        first += patch_rows(&group, first, board);
    }
    board.bottom += RULER;
    ruler(line, board);
    Ok(())
}

/// The job's name, and a letter that reads rightly only where the pressed part does.
fn name(layout: &Layout, board: &mut Board) {
    let room = board.width - LETTER - GAP;
    board.y += Style::Bold.cap_height(LETTER);
    for text in lines(Style::Bold, NAME, &layout.job.name, room, 1) {
        board.text(Point::new(Length::ZERO, board.y), NAME, Style::Bold, text);
    }
    let letter = board.width - Style::Bold.width(LETTER, "R") - CLOSE;
    board.text(Point::new(letter, board.y), LETTER, Style::Bold, "R");
    board.y += CLOSE * 2;
}

/// How large a crop is and how many stand side by side; `None` where the paper has no room for one.
fn crop_side(board: &Board) -> Option<(Length, usize)> {
    let width = board.width - CLOSE * 2;
    let third = (width - GAP * 2) / 3;
    let caption = Canvas::leading(SMALL) * 5 + CLOSE * 2;
    let room = (board.bottom - board.y - caption).min(width);
    // Where paper is short, crops shrink for a row of patches, but not for ever.
    let row = PATCH + Canvas::leading(SMALL) + Canvas::leading(NUMBER) + GAP;
    let room = room.min((room - row).max(SHORT_CROP));
    let side = third.clamp(LEAST_CROP, MOST_CROP).min(room);
    let across = (width + GAP).um() / (side + GAP).um().max(1);
    (side >= SMALLEST_CROP).then_some((side, usize::try_from(across).unwrap_or(1).clamp(1, MOST_CROPS)))
}

/// The crops side by side with their captions.
fn crop_row(layout: &Layout, crops: &[Crop], board: &mut Board) -> Result<(), Fault> {
    let (design, units) = (layout.design()?, layout.order.units);
    // Room for the frames.
    let (mut x, top) = (CLOSE, board.y + CLOSE);
    let mut bottom = top;
    for (crop, letter) in crops.iter().zip('A'..) {
        let window = design.window(&crop.face);
        board.framed(Point::new(x, top), window.size(), Content::Crop { x: window.x, y: window.y });
        let why = format!("{letter}: {}", crop.why);
        let where_from = words::place(units, crop.face.x, crop.face.y);
        let width = crop.face.width.max(LEAST_CROP).min(board.width - CLOSE - x);
        let mut y = top + crop.face.height + CLOSE;
        let said = lines(Style::Bold, SMALL, &why, width, 2).into_iter().map(|line| (Style::Bold, line));
        let said = said.chain(
            lines(Style::Regular, SMALL, &where_from, width, 3)
                .into_iter()
                .map(|line| (Style::Regular, line)),
        );
        for (style, line) in said.take(CAPTION) {
            y += Canvas::leading(SMALL);
            board.text(Point::new(x, y), SMALL, style, line);
        }
        bottom = bottom.max(y);
        x += width + GAP;
    }
    board.y = bottom + GAP;
    Ok(())
}

/// A group's title and its patches with their numbers, the first of them `first`, where they have room; returns how many
/// numbers it took.
fn patch_rows(group: &Group, first: u32, board: &mut Board) -> u32 {
    let step = PATCH + BETWEEN;
    let across = usize::try_from((board.width + BETWEEN).um() / step.um()).unwrap_or(1).max(1);
    let count = u32::try_from(group.patches.len()).unwrap_or(u32::MAX);
    let title = format!("{first} to {}: {}", first + count.saturating_sub(1), group.title);
    let title = lines(Style::Regular, SMALL, &title, board.width, 3);
    let row = PATCH + Canvas::leading(NUMBER) + CLOSE;
    let rows = group.patches.chunks(across).map(|_| row).sum::<Length>();
    let leading = Canvas::leading(SMALL);
    if group.patches.is_empty()
        || !board.has_room(title.iter().map(|_| leading).sum::<Length>() + CLOSE + rows)
    {
        return 0;
    }
    for line in title {
        board.text(
            Point::new(Length::ZERO, board.y + Style::Regular.cap_height(SMALL)),
            SMALL,
            Style::Regular,
            line,
        );
        board.y += leading;
    }
    let side = board.pixels(PATCH);
    let mut number = first;
    for patches in group.patches.chunks(across) {
        let mut x = Length::ZERO;
        for ink in patches {
            board.picture(Point::new(x, board.y), Pixels::new(side, side), Content::Flat(*ink));
            let text = number.to_string();
            let middle = x + (PATCH - Style::Regular.width(NUMBER, &text)).half();
            let at = Point::new(middle, board.y + PATCH + Canvas::leading(NUMBER));
            board.text(at, NUMBER, Style::Regular, text);
            x += step;
            number += 1;
        }
        board.y += row;
    }
    board.y += CLOSE * 2;
    count
}

/// The line of known length, between two ticks.
fn ruler(line: &Line, board: &mut Board) {
    let baseline = board.y + Style::Regular.cap_height(SMALL) + CLOSE;
    let text = format!("{} {}", words::LINE, line.shown);
    board.text(Point::new(CLOSE, baseline), SMALL, Style::Regular, text);
    let y = baseline + CLOSE + TICK;
    let at = |x: Length, y: Length| Point::<Face>::new(x, y);
    // Half the line's own weight keeps its end on the page.
    let (left, right) = (Length::from_um(100), Length::from_um(100) + line.length);
    board.line(at(left, y), at(right, y));
    for end in [left, right] {
        board.line(at(end, y - TICK), at(end, y + TICK));
    }
    board.y = y + TICK + CLOSE;
}

/// Text broken to a width; what does not fit into so many lines is left out, and shown to be.
fn lines(style: Style, size: Length, text: &str, width: Length, most: usize) -> Vec<String> {
    let mut lines = style.wrap(size, text, width);
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            while !last.is_empty() && style.width(size, &format!("{last}…")) > width {
                last.pop();
            }
            last.push('…');
        }
    }
    lines
}
