//! Designs without pixels, pressed on blanks of their size.

use std::collections::BTreeMap;
use std::sync::Arc;

use seamwright_contract::catalogue::{Moves, Press};
use seamwright_contract::geometry::OnBlank;
use seamwright_contract::layout::{Layout, PressPlan, Seam, Weight};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Channels, Depth, Format};
use seamwright_contract::plugin::Stage as _;
pub(super) use seamwright_contract::sample::{Art, inches, length, numbers};
use seamwright_contract::{Fault, Length, Rect, Size, sample};

use crate::PressStage;
use crate::choice::{Choice, best};
use crate::ground::Cells;

/// A press that is carried and not turned.
pub(super) fn press(platen: Size, weak_edge: Length, overlap: Length) -> Press {
    Press {
        name: "hand".to_owned(),
        platen,
        weak_edge,
        overlap,
        moves: Moves::Plate,
        turns: false,
        throat: None,
        board: None,
        settings: BTreeMap::new(),
    }
}

/// Pressed on a blank of its own size.
pub(super) trait Pressed {
    /// An order for it.
    fn order(&self, press: Press) -> Order;

    fn choice(&self, press: Press, seams: &[Seam]) -> Result<Choice, Fault>;
}

impl Pressed for Art<'_> {
    fn order(&self, press: Press) -> Order {
        let mut order = sample::order();
        order.blank.size = self.size;
        order.blank.shape = self.shape;
        order.size = self.size;
        order.press = press;
        order
    }

    fn choice(&self, press: Press, seams: &[Seam]) -> Result<Choice, Fault> {
        let (order, cells) = (self.order(press), Cells::new(&self.map(), self.size, seams));
        best(&order, &cells, seamwright_contract::Point::default())
    }
}

/// A job of this order, evenly dark all over, as the stages before `press` leave it.
pub(super) fn layout(order: Order) -> Layout {
    let size = order.size;
    let design = sample::design(size, 10.0);
    let grid = design.grid();
    let mut picture = sample::Pixmap::bare(grid, Format { channels: Channels::Gray, depth: Depth::Eight });
    picture.paint(seamwright_contract::picture::Window::whole(grid), &[100 * 257]);
    let mut layout = sample::layout(order, Arc::new(picture));
    layout.design = Some(design);
    layout.lay_up = Some(sample::lay_up());
    layout
}

/// The plan of that job, and the warnings.
pub(super) fn planned(order: Order) -> Result<(PressPlan, Vec<String>), Fault> {
    let layout = PressStage.apply(layout(order))?;
    let warnings = layout.notices.iter().filter(|notice| notice.weight == Weight::Warning);
    Ok((layout.press()?.clone(), warnings.map(|notice| notice.text.clone()).collect()))
}

/// What heats well of a plan's placements.
pub(super) fn heated(plan: &PressPlan) -> Vec<Rect<OnBlank>> {
    let inner = |platen: Rect<OnBlank>| {
        let size = platen.size().grown(-plan.weak_edge);
        Rect::new(platen.x + plan.weak_edge, platen.y + plan.weak_edge, size.width, size.height)
    };
    plan.placements.iter().map(|one| inner(one.platen)).collect()
}

/// The rows of a table without its head; quotes are taken off, commas in them kept.
pub(super) fn rows(table: &str) -> Vec<Vec<String>> {
    let cells = |line: &str| {
        let (mut cells, mut quoted) = (vec![String::new()], false);
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ',' if !quoted => cells.push(String::new()),
                c => cells.last_mut().unwrap().push(c),
            }
        }
        cells
    };
    table.lines().skip(1).map(cells).collect()
}
