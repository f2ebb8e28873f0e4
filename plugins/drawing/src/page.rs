//! What stands on a page.

use seamwright_contract::picture::Band;
use seamwright_contract::{Length, Page, Point, Rect, Size};

use crate::font::Style;

/// How a line is drawn. Shades run from 0 (black) to 255 (white).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pen {
    /// Line weight.
    pub weight: Length,
    /// Its shade.
    pub shade: u8,
    /// Length of dashes and of the gaps between them; solid where `None`.
    pub dash: Option<Length>,
}

impl Pen {
    /// A solid black line.
    #[must_use]
    pub const fn black(weight: Length) -> Self {
        Self { weight, shade: 0, dash: None }
    }
}

/// One step of a path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Segment {
    /// A straight line to here.
    Line(Point<Page>),
    /// A cubic Bézier curve: two control points, then the end.
    Curve(Point<Page>, Point<Page>, Point<Page>),
}

/// A line or an outline.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Path {
    /// Where it begins.
    pub start: Point<Page>,
    /// How it goes on.
    pub segments: Vec<Segment>,
    /// Whether it returns to its beginning.
    pub closed: bool,
}

/// The part of the half-axis at which the control points of a quarter ellipse stand: 4/3 (sqrt 2 - 1).
const QUARTER: f64 = 0.552_284_749_830_793_6;

impl Path {
    /// Straight lines through these points; `None` for no points at all.
    #[must_use]
    pub fn through(points: &[Point<Page>], closed: bool) -> Option<Self> {
        let (start, rest) = points.split_first()?;
        Some(Self { start: *start, segments: rest.iter().copied().map(Segment::Line).collect(), closed })
    }

    /// The four edges of a rectangle.
    #[must_use]
    pub fn rectangle(rect: &Rect<Page>) -> Self {
        Self::rounded(rect, Size::default())
    }

    /// A rectangle whose corners are quarter ellipses with these half-axes; with half of the rectangle's
    /// own size, an ellipse.
    #[must_use]
    pub fn rounded(rect: &Rect<Page>, corner: Size) -> Self {
        let (l, t, r, b) = (rect.x, rect.y, rect.right(), rect.bottom());
        let (rx, ry) = (corner.width, corner.height);
        let (kx, ky) = (rx.share(1.0 - QUARTER), ry.share(1.0 - QUARTER));
        let p = Point::new;
        let mut segments = vec![Segment::Line(p(r - rx, t))];
        if rx > Length::ZERO && ry > Length::ZERO {
            segments.push(Segment::Curve(p(r - kx, t), p(r, t + ky), p(r, t + ry)));
            segments.push(Segment::Line(p(r, b - ry)));
            segments.push(Segment::Curve(p(r, b - ky), p(r - kx, b), p(r - rx, b)));
            segments.push(Segment::Line(p(l + rx, b)));
            segments.push(Segment::Curve(p(l + kx, b), p(l, b - ky), p(l, b - ry)));
            segments.push(Segment::Line(p(l, t + ry)));
            segments.push(Segment::Curve(p(l, t + ky), p(l + kx, t), p(l + rx, t)));
        } else {
            segments.extend([Segment::Line(p(r, b)), Segment::Line(p(l, b))]);
        }
        Self { start: p(l + rx, t), segments, closed: true }
    }

    fn move_all(&mut self, to: &impl Fn(Point<Page>) -> Point<Page>) {
        self.start = to(self.start);
        for segment in &mut self.segments {
            match segment {
                Segment::Line(end) => *end = to(*end),
                Segment::Curve(one, other, end) => {
                    (*one, *other, *end) = (to(*one), to(*other), to(*end));
                }
            }
        }
    }

    /// Half an ellipse over a rectangle: flat edge at the bottom, its centre the middle of that edge.
    #[must_use]
    pub fn half_moon(rect: &Rect<Page>) -> Self {
        let (l, t, r, b) = (rect.x, rect.y, rect.right(), rect.bottom());
        let middle = rect.x + rect.width.half();
        let (kx, ky) = ((rect.width.half()).share(QUARTER), rect.height.share(QUARTER));
        let p = Point::new;
        let segments = vec![
            Segment::Curve(p(l, b - ky), p(middle - kx, t), p(middle, t)),
            Segment::Curve(p(middle + kx, t), p(r, b - ky), p(r, b)),
        ];
        Self { start: p(l, b), segments, closed: true }
    }
}

/// Where text stands about its anchor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// The anchor is the left end of the baseline.
    Left,
    /// The anchor is the middle of the baseline.
    Centre,
    /// The anchor is the right end of the baseline.
    Right,
}

/// One thing on a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A line along a path.
    Stroke(Path, Pen),
    /// The inside of a path in one shade.
    Fill(Path, u8),
    /// One line of text.
    Text {
        /// Left end of the baseline; when turned, the point about which it is turned.
        at: Point<Page>,
        /// Font size.
        size: Length,
        /// Which font.
        style: Style,
        /// Whether it reads upwards: turned a quarter anticlockwise about `at`.
        upwards: bool,
        /// Whether it is mirrored left to right about `at`, to be read once it is pressed.
        mirrored: bool,
        /// Its shade.
        shade: u8,
        /// The words.
        text: String,
    },
    /// A small picture (8-bit gray or RGB, sRGB) filling a rectangle.
    Image(Rect<Page>, Band),
}

/// A page being drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Canvas {
    /// The page's size.
    pub size: Size,
    /// What stands on it, the first at the bottom.
    pub items: Vec<Item>,
}

impl Canvas {
    /// A clean page.
    #[must_use]
    pub const fn new(size: Size) -> Self {
        Self { size, items: Vec::new() }
    }

    /// A straight line.
    pub fn line(&mut self, from: Point<Page>, to: Point<Page>, pen: Pen) {
        self.items
            .push(Item::Stroke(Path { start: from, segments: vec![Segment::Line(to)], closed: false }, pen));
    }

    /// A path's outline.
    pub fn stroke(&mut self, path: Path, pen: Pen) {
        self.items.push(Item::Stroke(path, pen));
    }

    /// A path's inside.
    pub fn fill(&mut self, path: Path, shade: u8) {
        self.items.push(Item::Fill(path, shade));
    }

    /// Moves all that stands on it: where each point goes is said. Letters and lines keep their size and weight.
    pub fn move_all(&mut self, to: impl Fn(Point<Page>) -> Point<Page>) {
        for item in &mut self.items {
            match item {
                Item::Stroke(path, _) | Item::Fill(path, _) => path.move_all(&to),
                Item::Text { at, .. } => *at = to(*at),
                Item::Image(rect, _) => {
                    let (from, end) = (to(rect.origin()), to(Point::new(rect.right(), rect.bottom())));
                    *rect = Rect::from_edges(from.x, from.y, end.x, end.y);
                }
            }
        }
    }

    /// One line of black text; `at` is the anchor on its baseline.
    pub fn text(
        &mut self,
        at: Point<Page>,
        size: Length,
        style: Style,
        align: Align,
        text: impl Into<String>,
    ) {
        let text = text.into();
        let width = style.width(size, &text);
        let x = match align {
            Align::Left => at.x,
            Align::Centre => at.x - width.half(),
            Align::Right => at.x - width,
        };
        let at = Point::new(x, at.y);
        self.items.push(Item::Text { at, size, style, upwards: false, mirrored: false, shade: 0, text });
    }

    /// Text broken to a width, its first baseline at `at`; returns the baseline that a next line would have.
    pub fn paragraph(
        &mut self,
        at: Point<Page>,
        width: Length,
        size: Length,
        style: Style,
        text: &str,
    ) -> Length {
        let mut y = at.y;
        for line in style.wrap(size, text, width) {
            self.text(Point::new(at.x, y), size, style, Align::Left, line);
            y += Self::leading(size);
        }
        y
    }

    /// The distance between two baselines.
    #[must_use]
    pub fn leading(size: Length) -> Length {
        size.share(1.3)
    }

    /// The boxes of all texts, for checking that none runs into another or off the page.
    #[must_use]
    pub fn text_boxes(&self) -> Vec<(Rect<Page>, &str)> {
        self.items
            .iter()
            .filter_map(|item| match item {
                Item::Text { at, size, style, upwards, mirrored, text, .. } => {
                    let plain = text_box(*at, *size, *style, *upwards, text);
                    let x = if *mirrored { at.x * 2 - plain.right() } else { plain.x };
                    Some((plain.moved(x - plain.x, Length::ZERO), text.as_str()))
                }
                Item::Stroke(..) | Item::Fill(..) | Item::Image(..) => None,
            })
            .collect()
    }
}

/// The box a line of text takes, from the lowest letters to the capitals' height.
#[must_use]
pub fn text_box(at: Point<Page>, size: Length, style: Style, upwards: bool, text: &str) -> Rect<Page> {
    let (width, up, down) = (style.width(size, text), style.cap_height(size), style.descent(size));
    if upwards {
        Rect::from_edges(at.x - up, at.y - width, at.x + down, at.y)
    } else {
        Rect::from_edges(at.x, at.y - up, at.x + width, at.y + down)
    }
}
