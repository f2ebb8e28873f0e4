//! Designs without pixels: a function says how dark each place is.

use std::collections::BTreeMap;
use std::sync::Arc;

use seamwright_contract::catalogue::{Moves, Press, Shape};
use seamwright_contract::geometry::OnBlank;
use seamwright_contract::ink::InkMap;
use seamwright_contract::layout::{Design, Layout, PressPlan, Seam, Weight};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Pixels, Samples};
use seamwright_contract::plugin::Stage as _;
use seamwright_contract::survey::{Survey, SurveyCell};
use seamwright_contract::{Fault, Length, Outline, Rect, Size, num, sample};

use crate::PressStage;
use crate::choice::{Choice, best};
use crate::ground::Cells;

/// A length as written, with its unit.
pub(super) fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
}

pub(super) fn inches(width: &str, height: &str) -> Size {
    Size::new(length(&format!("{width}in")), length(&format!("{height}in")))
}

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

/// A design of an outline and how dark it is, of 255, at places given in mm, in cells of about `cell` mm.
#[derive(Clone, Copy)]
pub(super) struct Art<'a> {
    pub(super) size: Size,
    pub(super) shape: Shape,
    pub(super) cell: f64,
    pub(super) dark: &'a dyn Fn(f64, f64) -> u8,
}

impl Art<'_> {
    /// Evenly inked all over.
    pub(super) const fn full(size: Size) -> Self {
        Art { size, shape: Shape::Rectangle, cell: 2.0, dark: &|_, _| 200 }
    }

    /// Evenly inked in a shape.
    pub(super) const fn shaped(size: Size, shape: Shape) -> Self {
        Art { size, shape, cell: 2.0, dark: &|_, _| 200 }
    }

    pub(super) fn outline(&self) -> Outline<seamwright_contract::Face> {
        Outline::new(self.shape, Rect::of_size(self.size), Length::ZERO)
    }

    fn design(&self) -> Design {
        // One pixel is 1 mm.
        Design { outline: self.outline(), ..sample::design(self.size, 25.4) }
    }

    pub(super) fn map(&self) -> InkMap {
        let borders = |length: Length| -> Vec<f64> {
            let count = (length.mm() / self.cell).ceil().max(1.0);
            (0..=num::pixels(count)).map(|i| f64::from(i) * length.mm() / count).collect()
        };
        let (across, down) = (borders(self.size.width), borders(self.size.height));
        let (mut cells, mut means) = (Vec::new(), Vec::new());
        for rows in down.windows(2) {
            for columns in across.windows(2) {
                let dark =
                    (self.dark)(f64::midpoint(columns[0], columns[1]), f64::midpoint(rows[0], rows[1]));
                let ink = if dark > 0 { 255 } else { 0 };
                let (left, right) = (num::single(columns[0]), num::single(columns[1]));
                cells.push(SurveyCell { ink, faint: 0, left, right });
                means.push(255 - dark);
            }
        }
        let count = |borders: &[f64]| num::count(borders.len() - 1);
        let format = Format { channels: Channels::Gray, depth: Depth::Eight };
        let mut band = Band::bare(Pixels::new(count(&across), count(&down)), format);
        band.samples = Samples::Eight(means);
        let inked = down.windows(2).map(|rows| [rows[0], rows[1]]).collect();
        InkMap::new(&Survey { across, down, cells, inked, means: band }, &self.design())
    }

    /// An order for it on a blank of its own size.
    pub(super) fn order(&self, press: Press) -> Order {
        let mut order = sample::order();
        order.blank.size = self.size;
        order.blank.shape = self.shape;
        order.size = self.size;
        order.press = press;
        order
    }

    pub(super) fn choice(&self, press: Press, seams: &[Seam]) -> Result<Choice, Fault> {
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

/// Whole numbers that look random and are the same each time (the multiplier of a well-known linear congruence; from
/// memory).
pub(super) fn numbers(mut state: u64) -> impl FnMut(i64, i64) -> i64 {
    move |low, high| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + i64::try_from((state >> 33) % u64::try_from(high - low + 1).unwrap()).unwrap()
    }
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
