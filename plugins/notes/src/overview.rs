//! The first page: the job at one look.

use seamwright_contract::{Length, Page, Point, Rect, num};
use seamwright_drawing::{Align, Canvas, Path, Pen, Style};

use crate::blocks::{Drawing, Fact, Overview};
use crate::flow::{BODY, Flow, MARGIN, RULE, SMALL};
use crate::{maps, tidy, words};

/// Rooms for the thumbnail and the two maps.
const THUMBNAIL: (Length, Length) = (Length::from_mm(66), Length::from_mm(50));
const PANELS: (Length, Length) = (Length::from_mm(114), Length::from_mm(92));
const PRESS: Length = Length::from_mm(72);
const GAP: Length = Length::from_mm(6);
/// What is set large, and its box.
const LARGE: Length = Length::from_um(7_400);
const BOX: Length = Length::from_mm(20);

pub(crate) fn set(overview: &Overview, flow: &mut Flow<'_>) {
    head(overview, flow);
    flow.y += Length::from_mm(4);
    figures(&overview.figures, flow);
    flow.y += Length::from_mm(5);
    two_maps(overview, flow);
}

/// The thumbnail, and beside it what the job is.
fn head(overview: &Overview, flow: &mut Flow<'_>) {
    let top = flow.y;
    let at = Rect::new(MARGIN, top, THUMBNAIL.0, THUMBNAIL.1);
    let mut under = top;
    if let Some(drawing) = &overview.thumbnail {
        under = captioned(drawing, words::DESIGN_CAPTION, &at, flow);
    }
    let x = if overview.thumbnail.is_some() { MARGIN + THUMBNAIL.0 + GAP } else { MARGIN };
    flow.facts(&overview.facts, x, MARGIN + flow.width() - x);
    flow.y = flow.y.max(under);
}

/// Values in large figures, each in its box with what it is below.
fn figures(figures: &[Fact], flow: &mut Flow<'_>) {
    let count = i64::from(num::count(figures.len())).max(1);
    let width = (flow.width() - Length::from_mm(3) * (count - 1)) / count;
    let (top, mut x) = (flow.y, MARGIN);
    for figure in figures {
        let at = Rect::new(x, top, width, BOX);
        let mut size = LARGE;
        while size > BODY && Style::Bold.width(size, &figure.value) > width - Length::from_mm(4) {
            size = size.share(0.95);
        }
        let middle = x + width.half();
        let caption = tidy::wrap(Style::Regular, SMALL, &figure.name, width - Length::from_mm(3), 2);
        if let Some(page) = flow.page() {
            page.stroke(Path::rectangle(&at), Pen::black(RULE));
            let base = top + Length::from_mm(9);
            page.text(Point::new(middle, base), size, Style::Bold, Align::Centre, figure.value.clone());
            let mut base = top + Length::from_um(13_800);
            for line in caption {
                page.text(Point::new(middle, base), SMALL, Style::Regular, Align::Centre, line);
                base += Canvas::leading(SMALL);
            }
        }
        x += width + Length::from_mm(3);
    }
    flow.y = top + BOX;
}

/// The panel map, large, and the press map beside it.
fn two_maps(overview: &Overview, flow: &mut Flow<'_>) {
    let top = flow.y;
    let wide = if overview.press.is_some() { PANELS.0 } else { flow.width() };
    let (drawing, caption) = &overview.panels;
    let mut under = captioned(drawing, caption, &Rect::new(MARGIN, top, wide, PANELS.1), flow);
    if let Some((drawing, caption)) = &overview.press {
        let x = MARGIN + wide + GAP;
        // The panel map has its arrow on top; the drawings begin at one height.
        let at = Rect::new(x, top + maps::HEAD, flow.width() + MARGIN - x, PRESS);
        under = under.max(captioned(drawing, caption, &at, flow));
    }
    flow.y = under;
}

/// A drawing with its caption below; gives the lowest line used.
fn captioned(drawing: &Drawing, caption: &str, room: &Rect<Page>, flow: &mut Flow<'_>) -> Length {
    let Some(page) = flow.page() else { return room.y };
    let mut under = maps::draw(drawing, room, page) + Length::from_mm(1);
    for line in tidy::wrap(Style::Regular, SMALL, caption, room.width, 4) {
        under += SMALL;
        page.text(Point::new(room.x, under), SMALL, Style::Regular, Align::Left, line);
        under += SMALL.share(0.3);
    }
    under
}
