//! Ink that belongs together, drawn level at the origin and then laid where there is room, level or upwards.

use seamwright_contract::layout::Ink;
use seamwright_contract::{Length, Page, Point, Size};
use seamwright_drawing::{Canvas, Style};

use crate::draft::box_of;

/// Font size of 8 pt, the smallest used.
pub(crate) const SMALL: Length = Length::from_um(2_822);

/// Font size of 9 pt.
pub(crate) const USUAL: Length = Length::from_um(3_175);

/// A group of ink with its top left at the origin.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    /// What it takes when it lies level.
    pub(crate) size: Size,
    inks: Vec<Ink>,
}

impl Block {
    /// Of ink that lies right of and below the origin.
    pub(crate) fn new(inks: Vec<Ink>) -> Self {
        let boxes = || inks.iter().map(box_of);
        let width = boxes().map(|rect| rect.right()).max().unwrap_or_default();
        let height = boxes().map(|rect| rect.bottom()).max().unwrap_or_default();
        Self { size: Size::new(width, height), inks }
    }

    /// One line of text.
    pub(crate) fn line(size: Length, text: &str) -> Self {
        Self::lines(size, &[text.to_owned()])
    }

    /// Lines of text, one below the other.
    pub(crate) fn lines(size: Length, lines: &[String]) -> Self {
        let leading = Canvas::leading(size);
        let inks = (0..).zip(lines).map(|(i, text)| words(Point::new(Length::ZERO, leading * i), size, text));
        Self::new(inks.collect())
    }

    /// The size it takes when laid so.
    pub(crate) fn size_laid(&self, upwards: bool) -> Size {
        if upwards { self.size.turned() } else { self.size }
    }

    /// The ink with the top left of its place at `corner`; upwards, a quarter turn anticlockwise.
    pub(crate) fn laid(self, corner: Point<Page>, upwards: bool) -> Vec<Ink> {
        let width = self.size.width;
        let to = |point: Point<Page>| {
            let (x, y) = if upwards { (point.y, width - point.x) } else { (point.x, point.y) };
            Point::new(corner.x + x, corner.y + y)
        };
        let lay = |ink| match ink {
            Ink::Line { from, to: end, weight } => Ink::Line { from: to(from), to: to(end), weight },
            Ink::Polygon(points) => Ink::Polygon(points.into_iter().map(to).collect()),
            Ink::Text { at, size, text, .. } => Ink::Text { at: to(at), size, upwards, text },
        };
        self.inks.into_iter().map(lay).collect()
    }
}

/// A line of level text whose box has its top left at `corner`.
pub(crate) fn words(corner: Point<Page>, size: Length, text: &str) -> Ink {
    let at = Point::new(corner.x, corner.y + Style::Regular.cap_height(size));
    Ink::Text { at, size, upwards: false, text: text.to_owned() }
}
