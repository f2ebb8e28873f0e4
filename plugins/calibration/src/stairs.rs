//! Steps at an edge of the sheet, one a millimetre, each with its number: the first that is printed whole shows where printing
//! begins there.

use seamwright_contract::layout::Edge;
use seamwright_contract::{Length, Page, Point, Rect};
use seamwright_drawing::{Align, Canvas, Pen, Style};

use crate::HAIR;

/// How long a step is: room for its number.
pub(crate) const TREAD: Length = Length::from_mm(3);

/// How far the steps go on beyond the margin that is taken now, in millimetres.
const BEYOND: i64 = 4;

/// The size of the numbers, and what they take beyond the last step.
const NUMBER: Length = Length::from_um(2_000);
const NUMBERS: Length = Length::from_mm(4);

/// The last step of an edge with this margin, in millimetres.
fn last(margin: Length) -> i64 {
    (margin.um() + 999) / 1000 + BEYOND
}

/// How much of the sheet steps and numbers take at an edge with this margin.
pub(crate) fn depth(margin: Length) -> Length {
    Length::from_um(last(margin) * 1000) + NUMBERS
}

/// Draws the steps of an edge, along it within `clear`; where there is no room for all, those nearest the sheet's middle.
pub(crate) fn draw(canvas: &mut Canvas, edge: Edge, margin: Length, clear: &Rect<Page>) {
    let (start, room) = match edge {
        Edge::Top | Edge::Bottom => (clear.x, clear.width),
        Edge::Left | Edge::Right => (clear.y, clear.height),
    };
    let page = canvas.size;
    let at = |along: Length, deep: Length| match edge {
        Edge::Top => Point::new(along, deep),
        Edge::Bottom => Point::new(along, page.height - deep),
        Edge::Left => Point::new(deep, along),
        Edge::Right => Point::new(page.width - deep, along),
    };
    let last = last(margin);
    let first = (last + 1 - room.um() / TREAD.um()).max(1);
    let row = Length::from_um(last * 1000) + NUMBERS.half();
    for (place, number) in (0..).zip(first..=last) {
        let (from, deep) = (start + TREAD * place, Length::from_um(number * 1000));
        canvas.line(at(from, deep), at(from + TREAD, deep), Pen::black(HAIR));
        let middle = at(from + TREAD.half(), row);
        let baseline = Point::new(middle.x, middle.y + Style::Regular.cap_height(NUMBER).half());
        canvas.text(baseline, NUMBER, Style::Regular, Align::Centre, number.to_string());
    }
}
