//! An order and a job made by hand, for the tests of whoever builds on the contract: behind the feature `sample`,
//! so that no program carries them. A test changes what it is about and leaves the rest.
#![expect(clippy::unwrap_used, reason = "every value is written here and read by the contract's own tests")]

use std::sync::Arc;

use crate::catalogue::{Blank, Moves, Orientation, PaperSize, Press, Printer, Shape, Substrate};
use crate::colour::Source;
use crate::layout::{Artwork, Design, Job, LayUp, Layout};
use crate::order::{Fit, Order};
use crate::outline::Outline;
use crate::picture::Picture;
use crate::settings::Range;
use crate::units::{Length, Ppi, Seconds, Units};
use crate::{Rect, Sides, Size};

const fn um(value: i64) -> Length {
    Length::from_um(value)
}

/// A design of 24 x 12.5 in that fills its mat, on Letter with margins of 1/4 in, under a plate of 12 x 10 in; a floor
/// of 100 and a limit of 60 ppi.
#[must_use]
pub fn order() -> Order {
    let size = Size::new(um(609_600), um(317_500));
    let letter = PaperSize { name: "letter".to_owned(), size: Size::new(um(215_900), um(279_400)) };
    Order {
        blank: Blank {
            name: "mat".to_owned(),
            shape: Shape::Rectangle,
            size,
            reach: Length::ZERO,
            substrate: Substrate {
                name: "polyester-mat".to_owned(),
                heat: Range { low: "190C".parse().unwrap(), high: "200C".parse().unwrap() },
                dwell: Range { low: Seconds(35), high: Seconds(70) },
                preheat: Seconds(10),
                pressure: "medium".to_owned(),
                seen_through: false,
                origin: "common practice, no source".to_owned(),
            },
            ppi_floor: Ppi::new(100.0).unwrap(),
            ppi_refuse: Ppi::new(60.0).unwrap(),
            colour: [255; 3],
        },
        size,
        fit: Fit::Contain,
        papers: vec![letter.clone()],
        orientation: None,
        printer: Printer {
            name: "desk-letter".to_owned(),
            papers: vec![letter],
            margins: Sides::all(um(6_350)),
            profile: None,
            embed: true,
        },
        press: Press {
            name: "hand".to_owned(),
            platen: Size::new(um(304_800), um(254_000)),
            weak_edge: um(6_350),
            overlap: um(12_700),
            moves: Moves::Plate,
            turns: true,
        },
        keep_clear: Vec::new(),
        allow_extra_sheet: false,
        copies: 1,
        note: None,
        allow_low_ppi: false,
        units: Units::Inch,
    }
}

/// A design of this size, wholly covered by a picture of this resolution, which the sheets keep.
#[must_use]
pub fn design(size: Size, ppi: f64) -> Design {
    let ppi = Ppi::new(ppi).unwrap();
    let box_of = Rect::of_size(size);
    let outline = Outline::new(Shape::Rectangle, box_of, Length::ZERO);
    Design { size, picture: box_of, sheet_ppi: ppi, artwork_ppi: [ppi, ppi], outline }
}

/// A lay-up on upright Letter, all of it printable, without panels.
#[must_use]
pub fn lay_up() -> LayUp {
    let paper = order().papers[0].clone();
    LayUp {
        page: paper.size,
        live: Rect::of_size(paper.size),
        paper,
        orientation: Orientation::Portrait,
        rows: 0,
        columns: 0,
        panels: Vec::new(),
        seams: Vec::new(),
        final_trim: Sides::default(),
        left_out: Vec::new(),
        tape: Vec::new(),
        weighed: Vec::new(),
        one_more: None,
    }
}

/// A job by an order, of a picture that says it is sRGB; nothing is decided yet.
#[must_use]
pub fn layout(order: Order, picture: Arc<dyn Picture>) -> Layout {
    let artwork = Artwork {
        file: "chart.png".to_owned(),
        sha256: String::new(),
        size: picture.size(),
        source: Source::Srgb { said: true },
    };
    Layout::new(Job { name: "chart-0a1b2c".to_owned() }, order, artwork, picture)
}
