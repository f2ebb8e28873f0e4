//! The drawings: the lay-up ink side up, the blank face up, the places of the plate.

use seamwright_contract::catalogue::Shape;
use seamwright_contract::layout::Edge;
use seamwright_contract::{Length, Page, Point, Rect, Sides, Size};
use seamwright_drawing::{Align, Canvas, Item, Path, Pen, Style};

use crate::blocks::{BlankMap, Drawing, PanelMap, PressMap};
use crate::{steps, words};

pub(crate) const HAIR: Length = Length::from_um(180);
pub(crate) const LINE: Length = Length::from_um(350);
pub(crate) const THICK: Length = Length::from_um(1_300);
pub(crate) const SMALL: Length = Length::from_um(2_900);
pub(crate) const DASH: Length = Length::from_um(1_500);
/// The blank where plates cover it.
const STOUT: Length = Length::from_um(700);
const GRAY: u8 = 130;
/// Paper beside the artwork.
const PAPER: u8 = 232;
/// The distance between the lines of a hatch, along an edge.
const HATCH: Length = Length::from_um(2_400);
/// How wide tape is drawn, and how long at least.
const TAPE: Length = Length::from_um(1_900);
/// The room for the arrow above the lay-up.
pub(crate) const HEAD: Length = Length::from_mm(7);

/// From lengths of the thing drawn to lengths on the page.
pub(crate) struct Scale {
    factor: f64,
    from: (Length, Length),
    to: Point<Page>,
}

impl Scale {
    /// So that a rectangle of the thing fills a box as far as its proportions allow, centred across.
    pub(crate) fn fitting<S: Copy>(thing: &Rect<S>, room: &Rect<Page>) -> Self {
        let factor = (room.width.mm() / thing.width.mm().max(0.001))
            .min(room.height.mm() / thing.height.mm().max(0.001));
        let left = room.x + (room.width - thing.width.share(factor)).half();
        Self { factor, from: (thing.x, thing.y), to: Point::new(left, room.y) }
    }

    pub(crate) fn rect<S: Copy>(&self, rect: &Rect<S>) -> Rect<Page> {
        Rect::new(
            self.to.x + (rect.x - self.from.0).share(self.factor),
            self.to.y + (rect.y - self.from.1).share(self.factor),
            rect.width.share(self.factor),
            rect.height.share(self.factor),
        )
    }
}

/// Draws into a box and returns the lowest line used.
pub(crate) fn draw(drawing: &Drawing, room: &Rect<Page>, canvas: &mut Canvas) -> Length {
    match drawing {
        Drawing::Image(band) => {
            let size = band.size();
            let thing: Rect<Page> = Rect::of_size(Size::new(
                Length::from_mm(size.width.into()),
                Length::from_mm(size.height.into()),
            ));
            let at = Scale::fitting(&thing, room).rect(&thing);
            canvas.items.push(Item::Image(at, band.clone()));
            canvas.stroke(Path::rectangle(&at), Pen::black(HAIR));
            at.bottom()
        }
        Drawing::Panels(map) => panels(map, room, canvas),
        Drawing::Step(map) => steps::draw(map, room, canvas),
        Drawing::Blank(map) => blank(map, room, canvas),
        Drawing::Press(map) => press(map, room, canvas),
    }
}

fn shaded(weight: Length) -> Pen {
    Pen { weight, shade: GRAY, dash: None }
}

/// A number in the middle of a box, as large as the box allows within reason.
pub(crate) fn number(number: u32, at: &Rect<Page>, largest: Length, canvas: &mut Canvas) {
    let text = number.to_string();
    let mut size = largest.min(at.height.share(0.5)).max(SMALL);
    while size > SMALL && Style::Bold.width(size, &text) > at.width.share(0.55) {
        size = size.share(0.9).max(SMALL);
    }
    let middle =
        Point::new(at.x + at.width.half(), at.y + at.height.half() + Style::Bold.cap_height(size).half());
    canvas.text(middle, size, Style::Bold, Align::Centre, text);
}

/// Numbers in the middle of their cells; of cells too small for them, just beside where no cell is in the way.
pub(crate) fn numbers(
    cells: &[(u32, Rect<Page>)],
    within: &Rect<Page>,
    largest: Length,
    canvas: &mut Canvas,
) {
    for (n, cell) in cells {
        let small = Size::new(Style::Bold.width(SMALL, &n.to_string()), SMALL);
        let at = if cell.size().holds(small) {
            *cell
        } else {
            let free = |place: &Rect<Page>| {
                within.contains(place) && cells.iter().all(|(_, cell)| cell.intersection(place).is_none())
            };
            beside(cell, small).into_iter().find(free).unwrap_or(*cell)
        };
        number(*n, &at, largest, canvas);
    }
}

/// Places of a size above, below, left and right of a cell, clear of tape on its edges.
fn beside(cell: &Rect<Page>, size: Size) -> [Rect<Page>; 4] {
    let x = cell.x + (cell.width - size.width).half();
    let y = cell.y + (cell.height - size.height).half();
    [
        (x, cell.y - TAPE - size.height),
        (x, cell.bottom() + TAPE),
        (cell.x - TAPE - size.width, y),
        (cell.right() + TAPE, y),
    ]
    .map(|(x, y)| Rect::new(x, y, size.width, size.height))
}

fn panels(map: &PanelMap, room: &Rect<Page>, canvas: &mut Canvas) -> Length {
    let inner = Rect::new(room.x, room.y + HEAD, room.width, room.height - HEAD);
    let whole = map.sheets.iter().fold(map.design, |whole, sheet| whole.around(sheet));
    let mut cells = Vec::new();
    let scale = Scale::fitting(&whole, &inner);
    top_arrow(room, canvas);
    for sheet in &map.sheets {
        canvas.fill(Path::rectangle(&scale.rect(sheet)), PAPER);
    }
    for part in &map.bare {
        hatch(&scale.rect(part), canvas);
    }
    canvas.stroke(Path::rectangle(&scale.rect(&map.design)), Pen { dash: Some(DASH), ..Pen::black(HAIR) });
    for cell in &map.cells {
        let at = scale.rect(&cell.cell);
        canvas.fill(Path::rectangle(&at), 255);
        canvas.stroke(Path::rectangle(&at), Pen::black(HAIR));
        for edge in &cell.thick {
            thick(*edge, &at, canvas);
        }
        cells.push((cell.number, at));
    }
    for line in &map.tape {
        tape(&scale.rect(line), canvas);
    }
    numbers(&cells, &scale.rect(&whole), Length::from_mm(9), canvas);
    scale.rect(&whole).bottom()
}

fn top_arrow(room: &Rect<Page>, canvas: &mut Canvas) {
    let middle = room.x + room.width.half();
    let (tip, wing) = (room.y, Length::from_um(1_600));
    let arrow = [(middle, tip), (middle + wing, tip + wing), (middle - wing, tip + wing)]
        .map(|(x, y)| Point::new(x, y));
    if let Some(path) = Path::through(&arrow, true) {
        canvas.fill(path, 0);
    }
    let under = Point::new(middle, room.y + Length::from_um(5_200));
    canvas.text(under, SMALL, Style::Regular, Align::Centre, words::TOP);
}

/// Thin slanted lines, in step with those of neighbouring rectangles.
fn hatch(at: &Rect<Page>, canvas: &mut Canvas) {
    // Along a line x + y is the same.
    let mut sum = HATCH * ((at.x + at.y).um() / HATCH.um() + 1);
    while sum < at.right() + at.bottom() {
        let (left, right) = (at.x.max(sum - at.bottom()), at.right().min(sum - at.y));
        canvas.line(Point::new(left, sum - left), Point::new(right, sum - right), shaded(HAIR));
        sum += HATCH;
    }
}

/// A piece of tape over its middle line, which has no width or no height.
fn tape(line: &Rect<Page>, canvas: &mut Canvas) {
    let (width, height) = (line.width.max(TAPE), line.height.max(TAPE));
    let at = Rect::new(
        line.x - (width - line.width).half(),
        line.y - (height - line.height).half(),
        width,
        height,
    );
    canvas.fill(Path::rectangle(&at), 255);
    canvas.stroke(Path::rectangle(&at), Pen::black(HAIR));
}

/// A cut edge, drawn thick just inside its panel.
pub(crate) fn thick(edge: Edge, at: &Rect<Page>, canvas: &mut Canvas) {
    let inside = THICK.half() + HAIR.half();
    let (l, t, r, b) = (at.x + inside, at.y + inside, at.right() - inside, at.bottom() - inside);
    let (from, to) = match edge {
        Edge::Left => ((l, at.y), (l, at.bottom())),
        Edge::Right => ((r, at.y), (r, at.bottom())),
        Edge::Top => ((at.x, t), (at.right(), t)),
        Edge::Bottom => ((at.x, b), (at.right(), b)),
    };
    canvas.line(Point::new(from.0, from.1), Point::new(to.0, to.1), Pen::black(THICK));
}

fn outline(shape: Shape, at: &Rect<Page>, factor: f64) -> Path {
    match shape {
        Shape::Rectangle => Path::rectangle(at),
        Shape::Rounded(radius) => Path::rounded(at, Size::new(radius.share(factor), radius.share(factor))),
        Shape::Oval | Shape::Round => Path::rounded(at, Size::new(at.width.half(), at.height.half())),
        Shape::HalfMoon => Path::half_moon(at),
    }
}

fn blank(map: &BlankMap, room: &Rect<Page>, canvas: &mut Canvas) -> Length {
    let label = Length::from_mm(5);
    let sides = map.gaps.iter().flat_map(|gaps| [&gaps.left, &gaps.right]);
    let wide =
        sides.map(|gap| Style::Regular.width(SMALL, gap)).max().unwrap_or_default() + Length::from_mm(2);
    let inner = Rect::new(room.x + wide, room.y + label, room.width - wide * 2, room.height - label * 2);
    let whole = Rect::of_size(map.blank).around(&map.design);
    let scale = Scale::fitting(&whole, &inner);
    let at = scale.rect(&Rect::<seamwright_contract::OnBlank>::of_size(map.blank));
    let frame = scale.rect(&whole);
    let cells: Vec<(u32, Rect<Page>)> =
        map.cells.iter().map(|(panel, cell)| (*panel, scale.rect(cell))).collect();
    for (_, cell) in &cells {
        canvas.stroke(Path::rectangle(cell), shaded(HAIR));
    }
    numbers(&cells, &frame, Length::from_mm(5), canvas);
    canvas.stroke(outline(map.shape, &at, scale.factor), Pen::black(LINE));
    canvas.stroke(Path::rectangle(&scale.rect(&map.design)), Pen { dash: Some(DASH), ..Pen::black(HAIR) });
    middles(&at, canvas);
    triangles(&scale.rect(&map.lay_up), canvas);
    map.gaps.as_ref().map_or(frame.bottom(), |gaps| distances(gaps, &frame, canvas))
}

/// A tick across the middle of each side.
fn middles(at: &Rect<Page>, canvas: &mut Canvas) {
    let tick = Length::from_um(3_200);
    let (x, y) = (at.x + at.width.half(), at.y + at.height.half());
    for (from, to) in [
        (Point::new(x, at.y), Point::new(x, at.y + tick)),
        (Point::new(x, at.bottom() - tick), Point::new(x, at.bottom())),
        (Point::new(at.x, y), Point::new(at.x + tick, y)),
        (Point::new(at.right() - tick, y), Point::new(at.right(), y)),
    ] {
        canvas.line(from, to, Pen::black(LINE));
    }
}

/// A triangle at the middle of each side, pointing at it from within.
fn triangles(at: &Rect<Page>, canvas: &mut Canvas) {
    let (tip, wing) = (Length::from_um(300), Length::from_um(1_300));
    let base = tip + wing;
    let (x, y) = (at.x + at.width.half(), at.y + at.height.half());
    for corners in [
        [(x, at.y + tip), (x - wing, at.y + base), (x + wing, at.y + base)],
        [(x, at.bottom() - tip), (x - wing, at.bottom() - base), (x + wing, at.bottom() - base)],
        [(at.x + tip, y), (at.x + base, y - wing), (at.x + base, y + wing)],
        [(at.right() - tip, y), (at.right() - base, y - wing), (at.right() - base, y + wing)],
    ] {
        if let Some(path) = Path::through(&corners.map(|(x, y)| Point::new(x, y)), true) {
            canvas.fill(path, 0);
        }
    }
}

/// Words beside the middle of each side; gives the lowest line used.
fn distances(gaps: &Sides<String>, frame: &Rect<Page>, canvas: &mut Canvas) -> Length {
    let near = Length::from_um(1_300);
    let (x, y) = (frame.x + frame.width.half(), frame.y + frame.height.half());
    let below = frame.bottom() + Style::Regular.cap_height(SMALL) + near;
    for (at, align, gap) in [
        (Point::new(x, frame.y - near), Align::Centre, &gaps.top),
        (Point::new(x, below), Align::Centre, &gaps.bottom),
        (Point::new(frame.x - near, y), Align::Right, &gaps.left),
        (Point::new(frame.right() + near, y), Align::Left, &gaps.right),
    ] {
        canvas.text(at, SMALL, Style::Regular, align, gap.clone());
    }
    below
}

fn press(map: &PressMap, room: &Rect<Page>, canvas: &mut Canvas) -> Length {
    let whole = map.plates.iter().fold(Rect::of_size(map.blank), |whole, (_, plate)| whole.around(plate));
    let scale = Scale::fitting(&whole, room);
    let at = scale.rect(&Rect::<seamwright_contract::OnBlank>::of_size(map.blank));
    for (_, plate) in &map.plates {
        let effective = inside(plate, map.weak_edge);
        canvas.stroke(Path::rectangle(&scale.rect(&effective)), Pen::black(HAIR));
        canvas.stroke(Path::rectangle(&scale.rect(plate)), Pen { dash: Some(DASH), ..shaded(HAIR) });
    }
    canvas.stroke(outline(map.shape, &at, scale.factor), Pen::black(STOUT));
    for (place, plate) in &map.plates {
        let before = canvas.items.len();
        number(*place, &scale.rect(plate), Length::from_mm(6), canvas);
        // Lines of other plates and of the blank give way to it.
        if let Some(at) = canvas.text_boxes().last().map(|(at, _)| inside(at, -Length::from_um(400))) {
            canvas.items.insert(before, Item::Fill(Path::rectangle(&at), 255));
        }
    }
    scale.rect(&whole).bottom()
}

/// A rectangle less a strip all round, or with one more where that is below zero.
fn inside<S: Copy>(rect: &Rect<S>, strip: Length) -> Rect<S> {
    Rect::from_edges(rect.x + strip, rect.y + strip, rect.right() - strip, rect.bottom() - strip)
}
