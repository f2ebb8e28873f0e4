//! The pressed part while it is laid out, from the top down.
//!
//! Everything on it is in face space, as it will be read once pressed; its origin is the part's own top left. Only when it
//! is drawn onto the page is it mirrored, pixels, words and lines alike. Pixels lie on whole pixels of the sheets' grid.

use seamwright_contract::geometry::Way;
use seamwright_contract::picture::{Pixels, Window};
use seamwright_contract::{Face, Length, Page, Point, Ppi, Rect, num};
use seamwright_drawing::{Canvas, Item, Path, Pen, Style};

use crate::scrap::{Content, Part};

/// A line of words on it.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Words {
    /// The left end of the baseline.
    at: Point<Face>,
    size: Length,
    style: Style,
    text: String,
}

/// The part of the page that is pressed.
#[derive(Debug)]
pub(crate) struct Board {
    ppi: Ppi,
    /// How wide it may be.
    pub(crate) width: Length,
    /// How far down it may reach.
    pub(crate) bottom: Length,
    /// The top of what comes next.
    pub(crate) y: Length,
    pub(crate) parts: Vec<Part>,
    words: Vec<Words>,
    lines: Vec<[Point<Face>; 2]>,
    frames: Vec<Rect<Face>>,
}

impl Board {
    /// As wide and high as this, in pixels of so many an inch.
    pub(crate) fn new(width: Length, bottom: Length, ppi: Ppi) -> Self {
        let (parts, words, lines, frames) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        Self { ppi, width, bottom, y: Length::ZERO, parts, words, lines, frames }
    }

    /// Whether so much more has room.
    pub(crate) fn has_room(&self, height: Length) -> bool {
        self.y + height <= self.bottom
    }

    /// A length as whole pixels, the nearest number of them, at least one.
    pub(crate) fn pixels(&self, length: Length) -> u32 {
        num::pixels(self.ppi.pixels(length)).max(1)
    }

    /// A part of the artwork, from this column and row on, in a frame that shows where it ends.
    pub(crate) fn framed(&mut self, at: Point<Face>, size: Pixels, from: Content) {
        let window = self.picture(at, size, from);
        let length = |pixels: u32| Length::from_um(num::round(f64::from(pixels) * self.ppi.pitch_um()));
        let (left, top) = (length(window.x), length(window.y));
        let (right, bottom) = (length(window.x + window.width), length(window.y + window.height));
        self.frames.push(Rect::from_edges(left - FRAME, top - FRAME, right + FRAME, bottom + FRAME));
    }

    /// Pixels as they are on the artwork or of one colour, the first of them nearest to this place from which all of them
    /// stay within the width: a window of whole pixels is up to two larger than what it covers.
    pub(crate) fn picture(&mut self, at: Point<Face>, size: Pixels, content: Content) -> Window {
        let first = |length| num::pixels(self.ppi.pixels(length));
        let most = self.whole(self.width);
        let width = size.width.min(most);
        let window = Window::new(first(at.x).min(most - width), first(at.y), width, size.height);
        self.parts.push(Part { window, content });
        window
    }

    /// A line of text; its baseline begins at `at`.
    pub(crate) fn text(&mut self, at: Point<Face>, size: Length, style: Style, text: impl Into<String>) {
        self.words.push(Words { at, size, style, text: text.into() });
    }

    /// A thin straight line.
    pub(crate) fn line(&mut self, from: Point<Face>, to: Point<Face>) {
        self.lines.push([from, to]);
    }

    /// The pixels that hold everything, down to what comes next.
    pub(crate) fn grid(&self) -> Pixels {
        Pixels::new(self.whole(self.width), self.whole(self.y))
    }

    fn whole(&self, length: Length) -> u32 {
        num::pixels(self.ppi.pixels(length).floor()).max(1)
    }

    /// Where the pixels lie, their top left here: left, top, width and height, in micrometres.
    pub(crate) fn place(&self, origin: Point<Page>) -> [f64; 4] {
        let (grid, pitch) = (self.grid(), self.ppi.pitch_um());
        let (left, top) = (num::float(origin.x.um()), num::float(origin.y.um()));
        [left, top, f64::from(grid.width) * pitch, f64::from(grid.height) * pitch]
    }

    /// Draws words and lines onto the page that the pixels lie on.
    pub(crate) fn draw(&self, origin: Point<Page>, mirrored: bool, canvas: &mut Canvas) {
        // The pixels are mirrored about the middle of their own width.
        let width = Length::from_um(num::round(f64::from(self.grid().width) * self.ppi.pitch_um()));
        let way = Way { mirrored, width };
        let area = |face: &Rect<Face>| {
            let paper = way.to_paper(face);
            Rect::new(origin.x + paper.x, origin.y + paper.y, paper.width, paper.height)
        };
        let on_page = |at: Point<Face>| area(&Rect::new(at.x, at.y, Length::ZERO, Length::ZERO)).origin();
        for frame in &self.frames {
            canvas.stroke(Path::rectangle(&area(frame)), Pen::black(HAIRLINE));
        }
        for [from, to] in &self.lines {
            canvas.line(on_page(*from), on_page(*to), Pen::black(HAIRLINE));
        }
        canvas.items.extend(self.words.iter().map(|words| Item::Text {
            at: on_page(words.at),
            size: words.size,
            style: words.style,
            upwards: false,
            mirrored,
            shade: 0,
            text: words.text.clone(),
        }));
    }
}

/// A line that does not blur when pressed.
const HAIRLINE: Length = Length::from_um(200);

/// From the last pixel to the middle of its frame.
const FRAME: Length = Length::from_um(400);
