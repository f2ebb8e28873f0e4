//! The small drawings of joining: what lies on the board in gray, what is laid down now in white with bold numbers.

use seamwright_contract::{Length, Page, Point, Rect};
use seamwright_drawing::{Align, Canvas, Item, Path, Pen, Style};

use crate::blocks::{PanelCell, StepMap};
use crate::maps::{DASH, HAIR, LINE, SMALL, Scale, numbers, thick};

/// What lies there already.
const PALE: u8 = 222;
/// Its lines and numbers.
const PALE_INK: u8 = 120;

/// Draws into a box and returns the lowest line used.
pub(crate) fn draw(map: &StepMap, room: &Rect<Page>, canvas: &mut Canvas) -> Length {
    let scale = Scale::fitting(&map.whole, room);
    let placed = |cells: &[PanelCell]| -> Vec<(u32, Rect<Page>)> {
        cells.iter().map(|cell| (cell.number, scale.rect(&cell.cell))).collect()
    };
    let (lying, laid) = (placed(&map.lying), placed(&map.laid));
    let whole = scale.rect(&map.whole);
    canvas.stroke(Path::rectangle(&whole), Pen { shade: PALE_INK, dash: Some(DASH), weight: HAIR });
    for (number, at) in &lying {
        canvas.fill(Path::rectangle(at), PALE);
        canvas.stroke(Path::rectangle(at), Pen { shade: PALE_INK, ..Pen::black(HAIR) });
        if map.diagonals.is_none() {
            pale_number(*number, at, canvas);
        }
    }
    for (cell, (_, at)) in map.laid.iter().zip(&laid) {
        canvas.fill(Path::rectangle(at), 255);
        canvas.stroke(Path::rectangle(at), Pen::black(LINE));
        for edge in &cell.thick {
            thick(*edge, at, canvas);
        }
    }
    numbers(&laid, &whole, Length::from_mm(6), canvas);
    if let Some(extent) = &map.diagonals {
        let at = scale.rect(extent);
        let corners = |x: [Length; 2]| (Point::new(x[0], at.y), Point::new(x[1], at.bottom()));
        for (from, to) in [corners([at.x, at.right()]), corners([at.right(), at.x])] {
            canvas.line(from, to, Pen::black(LINE));
        }
    }
    whole.bottom()
}

/// A gray number in the middle of a cell that has room for it.
fn pale_number(number: u32, at: &Rect<Page>, canvas: &mut Canvas) {
    let text = number.to_string();
    let (width, height) = (Style::Regular.width(SMALL, &text), Style::Regular.cap_height(SMALL));
    if width > at.width || height > at.height {
        return;
    }
    let middle = Point::new(at.x + at.width.half(), at.y + at.height.half() + height.half());
    canvas.text(middle, SMALL, Style::Regular, Align::Centre, text);
    if let Some(Item::Text { shade, .. }) = canvas.items.last_mut() {
        *shade = PALE_INK - 40;
    }
}
