//! The page a printer's stretch is measured by: a line along the sheet and one across it, a square with its diagonals, a
//! frame at the margins, and steps at every edge that show where printing really begins.
//!
//! It is drawn as it is, whatever was measured before, so that what is measured is the printer alone.

mod stairs;

use std::io::Write;

use seamwright_contract::catalogue::{PaperSize, Printer};
use seamwright_contract::layout::Edge;
use seamwright_contract::{Fault, Length, Page, Point, Rect, num};
use seamwright_drawing::pdf::{Info, document, save};
use seamwright_drawing::{Align, Canvas, Path, Pen, Style};

/// The longest lines: what steel rules of 30 cm reach over with both ends in sight.
const LONGEST: Length = Length::from_mm(250);

/// Lines have whole steps of this, so that they are read off easily.
const STEP: i64 = 10_000;

/// What the end strokes and the figures beside them take.
const ROOM: Length = Length::from_mm(8);

/// How far end strokes reach to either side.
const STROKE: Length = Length::from_mm(3);

const HAIR: Length = Length::from_um(150);
const SMALL: Length = Length::from_um(3_400);
const LARGE: Length = Length::from_um(5_000);

/// How long the two lines of a page are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lines {
    /// In the direction of the upright sheet's height.
    pub along: Length,
    /// In the direction of its width.
    pub across: Length,
}

/// The lines on the page of this printer and paper; nothing where there is no room for any.
#[must_use]
pub fn lines(printer: &Printer, paper: &PaperSize) -> Option<Lines> {
    let live = printer.live_on(paper);
    let longest = |side: Length| {
        let steps = (side - ROOM).min(LONGEST).um() / STEP;
        (steps > 0).then(|| Length::from_um(steps * STEP))
    };
    Some(Lines { along: longest(live.height)?, across: longest(live.width)? })
}

/// Writes the page as PDF.
///
/// # Errors
/// Where the paper has no room for it, and those of writing.
pub fn write(printer: &Printer, paper: &PaperSize, to: &mut dyn Write) -> Result<(), Fault> {
    let lines = lines(printer, paper).ok_or_else(|| {
        Fault::setup(
            format!("The paper {} is too small to measure on.", paper.name),
            "Name a larger paper that the printer takes.",
        )
    })?;
    let title = format!("Calibration of {} on {}", printer.name, paper.name);
    let canvas = page(&title, printer, paper, lines);
    let info = Info { subject: "A page to measure a printer by".to_owned(), identity: title.clone(), title };
    save(&mut document(&[canvas], &info)?, to)
}

fn page(title: &str, printer: &Printer, paper: &PaperSize, lines: Lines) -> Canvas {
    let mut canvas = Canvas::new(paper.size);
    let live = printer.live_on(paper);
    frame(&mut canvas, &live);
    let [top, right, bottom, left] = EDGES.map(|edge| stairs::depth(margin(printer, paper, edge)));
    let inner: Rect<Page> = Rect::from_edges(left, top, paper.size.width - right, paper.size.height - bottom);
    let mm = |length: Length| num::round(length.mm());
    // The long line at the left, the short one at the top; their end strokes are what is measured between.
    let (x, y) = (inner.x + STROKE, inner.y + STROKE);
    let top = live.y + (live.height - lines.along).half();
    measure(&mut canvas, Point::new(x, top), Point::new(x, top + lines.along));
    upwards(
        &mut canvas,
        Point::new(x + Length::from_mm(5), top + lines.along.half()),
        &format!("along: {} mm", mm(lines.along)),
    );
    let left = live.x + (live.width - lines.across).half();
    measure(&mut canvas, Point::new(left, y), Point::new(left + lines.across, y));
    let middle = Point::new(left + lines.across.half(), y + Length::from_mm(5));
    canvas.text(middle, SMALL, Style::Bold, Align::Centre, format!("across: {} mm", mm(lines.across)));
    // Steps keep clear of the two lines, which run over the whole sheet.
    let clear = Rect::from_edges(x + ROOM, y + ROOM, inner.right(), inner.bottom());
    for edge in EDGES {
        stairs::draw(&mut canvas, edge, margin(printer, paper, edge), &clear);
    }
    let text: Rect<Page> = Rect::from_edges(x + ROOM, y + ROOM * 2, inner.right(), inner.bottom());
    let mut y = canvas.paragraph(Point::new(text.x, text.y), text.width, LARGE, Style::Bold, title);
    for said in words(printer, paper) {
        y = canvas.paragraph(Point::new(text.x, y), text.width, SMALL, Style::Regular, &said);
    }
    square(&mut canvas, &Rect::from_edges(text.x, y, text.right(), text.bottom()));
    canvas
}

/// The edges in the order in which their margins are entered.
const EDGES: [Edge; 4] = [Edge::Top, Edge::Right, Edge::Bottom, Edge::Left];

fn margin(printer: &Printer, paper: &PaperSize, edge: Edge) -> Length {
    let margins = printer.margins_on(&paper.name);
    match edge {
        Edge::Top => margins.top,
        Edge::Right => margins.right,
        Edge::Bottom => margins.bottom,
        Edge::Left => margins.left,
    }
}

fn words(printer: &Printer, paper: &PaperSize) -> [String; 5] {
    let calibrate = format!("seamwright calibrate {} --paper {}", printer.name, paper.name);
    [
        "1. Print this page as sheets are printed: at 100 %, on the same paper, from the same tray, in the same quality. Let it dry.".to_owned(),
        "2. Measure the long and the short line with a steel rule, from the middle of one end stroke to the middle of the other, to a tenth of a millimetre.".to_owned(),
        format!("{calibrate} --along …mm --across …mm"),
        "3. At each edge read the smallest number whose step is printed whole: at the top, right, bottom, left. The dashed frame shows what is taken now. Add --margins …mm,…mm,…mm,…mm".to_owned(),
        "Both diagonals of the square must be the same to 0.3 mm. If they are not, the paper runs in askew, and no factor mends that.".to_owned(),
    ]
}

fn measure(canvas: &mut Canvas, from: Point<Page>, to: Point<Page>) {
    let pen = Pen::black(HAIR);
    canvas.line(from, to, pen);
    let upright = from.x == to.x;
    for end in [from, to] {
        let (dx, dy) = if upright { (STROKE, Length::ZERO) } else { (Length::ZERO, STROKE) };
        canvas.line(Point::new(end.x - dx, end.y - dy), Point::new(end.x + dx, end.y + dy), pen);
    }
}

fn upwards(canvas: &mut Canvas, middle: Point<Page>, text: &str) {
    let half = Style::Bold.width(SMALL, text).half();
    canvas.items.push(seamwright_drawing::Item::Text {
        at: Point::new(middle.x, middle.y + half),
        size: SMALL,
        style: Style::Bold,
        upwards: true,
        mirrored: false,
        shade: 0,
        text: text.to_owned(),
    });
}

/// Just inside what can be printed on.
fn frame(canvas: &mut Canvas, live: &Rect<Page>) {
    let inside = HAIR.half();
    let edge =
        Rect::from_edges(live.x + inside, live.y + inside, live.right() - inside, live.bottom() - inside);
    let dashed = Pen { dash: Some(Length::from_mm(2)), ..Pen::black(HAIR) };
    canvas.stroke(Path::rectangle(&edge), dashed);
}

/// The largest with whole centimetres that there is room for, if that can be measured.
fn square(canvas: &mut Canvas, room: &Rect<Page>) {
    let steps = room.width.min(room.height).um() / STEP;
    if steps < 3 {
        return;
    }
    let side = Length::from_um(steps * STEP);
    let (l, t) = (room.x + (room.width - side).half(), room.bottom() - side);
    let pen = Pen::black(HAIR);
    canvas.stroke(Path::rectangle(&Rect::new(l, t, side, side)), pen);
    canvas.line(Point::new(l, t), Point::new(l + side, t + side), pen);
    canvas.line(Point::new(l + side, t), Point::new(l, t + side), pen);
}

#[cfg(test)]
mod tests {
    use seamwright_contract::sample;
    use seamwright_drawing::{Item, Segment};

    use super::*;

    fn of(width: i64, height: i64) -> (Printer, PaperSize) {
        let printer = sample::order().printer;
        let size = seamwright_contract::Size::new(Length::from_mm(width), Length::from_mm(height));
        (printer, PaperSize { name: "test".to_owned(), size })
    }

    /// The straight lines of a page.
    fn strokes(canvas: &Canvas) -> Vec<(Point<Page>, Point<Page>)> {
        let line = |item: &Item| match item {
            Item::Stroke(Path { start, segments, closed: false }, _) => match segments[..] {
                [Segment::Line(end)] => Some((*start, end)),
                _ => None,
            },
            _ => None,
        };
        canvas.items.iter().filter_map(line).collect()
    }

    #[test]
    fn lines_are_as_long_as_is_said() {
        let sample = sample::order();
        let letter = &sample.papers[0];
        let found = lines(&sample.printer, letter).expect("there is room");
        assert_eq!(found, Lines { along: Length::from_mm(250), across: Length::from_mm(190) });
        let canvas = page("", &sample.printer, letter, found);
        let drawn = strokes(&canvas);
        let has = |dx, dy| drawn.iter().any(|(a, b)| ((b.x - a.x).um(), (b.y - a.y).um()) == (dx, dy));
        assert!(has(0, 250_000) && has(190_000, 0), "{drawn:?}");
        let diagonals: Vec<_> = drawn.iter().filter(|(a, b)| a.x != b.x && a.y != b.y).collect();
        assert!(
            diagonals.len() == 2
                && (diagonals[0].0.x - diagonals[0].1.x).abs() == (diagonals[1].0.y - diagonals[1].1.y).abs(),
            "{diagonals:?}"
        );
    }

    #[test]
    fn all_of_it_lies_where_the_printer_prints_and_no_text_on_another() {
        for (width, height) in [(105, 148), (148, 210), (210, 297), (216, 356), (330, 483), (610, 914)] {
            let (printer, paper) = of(width, height);
            let canvas =
                page("Calibration of a printer", &printer, &paper, lines(&printer, &paper).expect("room"));
            let live = printer.live_on(&paper);
            let boxes = canvas.text_boxes();
            for (number, (one, text)) in boxes.iter().enumerate() {
                assert!(
                    one.x >= live.x
                        && one.y >= live.y
                        && one.right() <= live.right()
                        && one.bottom() <= live.bottom(),
                    "{width} x {height}: {text}"
                );
                for (other, _) in &boxes[number + 1..] {
                    assert!(
                        one.intersection(other).is_none_or(|both| both.height < Length::from_um(300)),
                        "{width} x {height}: {text}"
                    );
                }
            }
            // Steps lie beyond the margins on purpose: what of them is printed is what they are for.
            for (a, b) in
                strokes(&canvas).into_iter().filter(|(a, b)| (b.x - a.x) + (b.y - a.y) != stairs::TREAD)
            {
                let inside = |p: &Point<Page>| {
                    p.x >= live.x && p.y >= live.y && p.x <= live.right() && p.y <= live.bottom()
                };
                assert!(inside(&a) && inside(&b), "{width} x {height}: {a:?} {b:?}");
            }
        }
        let (printer, paper) = of(20, 30);
        assert!(
            lines(&printer, &paper).is_none() && write(&printer, &paper, &mut Vec::new()).is_err(),
            "too small"
        );
    }

    #[test]
    fn every_step_lies_as_far_from_its_edge_as_its_number_says() {
        for (width, height, bottom) in [(105, 148, 5), (216, 279, 5), (330, 483, 17)] {
            let (mut printer, paper) = of(width, height);
            printer.margins.bottom = Length::from_mm(bottom);
            let canvas = page("", &printer, &paper, lines(&printer, &paper).expect("room"));
            let mut steps = [(); 4].map(|()| Vec::new());
            for (a, b) in strokes(&canvas) {
                let (level, upright) =
                    (b.x - a.x == stairs::TREAD && a.y == b.y, b.y - a.y == stairs::TREAD && a.x == b.x);
                let deep = [a.y, paper.size.width - a.x, paper.size.height - a.y, a.x];
                let nearest = (0..4)
                    .filter(|edge| if edge % 2 == 0 { level } else { upright })
                    .min_by_key(|edge| deep[*edge]);
                if let Some(edge) = nearest {
                    steps[edge].push(deep[edge].um() / 1000);
                    assert_eq!(deep[edge].um() % 1000, 0, "whole millimetres");
                }
            }
            for (edge, deep) in steps.iter().enumerate() {
                let margin = margin(&printer, &paper, EDGES[edge]).mm();
                let last = *deep.last().expect("steps");
                assert!(deep.windows(2).all(|two| two[1] == two[0] + 1), "{deep:?}");
                assert!(
                    f64::from(i32::try_from(deep[0]).unwrap()) <= margin - 3.0 || deep[0] == 1,
                    "{margin}: {deep:?}"
                );
                assert!(f64::from(i32::try_from(last).unwrap()) >= margin + 3.0, "{margin}: {deep:?}");
                let numbered =
                    canvas.text_boxes().iter().filter(|(_, text)| **text == last.to_string()).count();
                assert!(numbered >= 1, "{last} is written");
            }
        }
    }

    #[test]
    fn the_page_is_the_paper_and_tells_viewers_not_to_scale() {
        let sample = sample::order();
        let mut bytes = Vec::new();
        write(&sample.printer, &sample.papers[0], &mut bytes).expect("it is written");
        let read = lopdf::Document::load_mem(&bytes).expect("a PDF");
        let (_, id) = read.get_pages().into_iter().next().expect("a page");
        let sides = read.get_dictionary(id).unwrap().get(b"MediaBox").unwrap().as_array().unwrap();
        let sides: Vec<f32> = sides.iter().map(|side| side.as_float().unwrap()).collect();
        assert_eq!(sides, [0.0, 0.0, 612.0, 792.0]);
        assert!(read.catalog().unwrap().get(b"ViewerPreferences").is_ok(), "no scaling");
    }
}
