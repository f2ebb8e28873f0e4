//! Mirrored unless seen through, said when not, and no settings.

use std::sync::Arc;

use seamwright_contract::catalogue::{Blank, Moves, PaperSize, Press, Printer, Shape, Substrate};
use seamwright_contract::colour::Source;
use seamwright_contract::layout::{Artwork, Job, Layout};
use seamwright_contract::order::{Fit, Order};
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::plugin::Stage;
use seamwright_contract::settings::{Complaints, Node, Range, Value};
use seamwright_contract::units::{Seconds, Units};
use seamwright_contract::{Fault, Length, Ppi, Rect, Sides, Size};

/// A picture nobody may ask for pixels: the way is settled without them.
#[derive(Debug)]
struct Untouched;

impl Picture for Untouched {
    fn size(&self) -> Pixels {
        Pixels::new(7200, 3750)
    }
    fn format(&self) -> Format {
        Format::RGB8
    }
    fn fill(&self, _: Window, _: &mut Band) -> Result<(), Fault> {
        Err(Fault::defect("mirroring asked for pixels"))
    }
    fn reduced(&self, _: Pixels) -> Result<Band, Fault> {
        Err(Fault::defect("mirroring asked for pixels"))
    }
    fn recipe(&self) -> String {
        "untouched".to_owned()
    }
}

fn um(value: i64) -> Length {
    Length::from_um(value)
}

/// An order for goods that are seen through from behind or not.
fn order(seen_through: bool) -> Order {
    let letter = PaperSize { name: "letter".into(), size: Size::new(um(215_900), um(279_400)) };
    Order {
        blank: Blank {
            name: "mat".into(),
            shape: Shape::Rectangle,
            size: Size::new(um(609_600), um(317_500)),
            reach: um(0),
            substrate: Substrate {
                name: "polyester-mat".into(),
                heat: Range { low: "190C".parse().unwrap(), high: "200C".parse().unwrap() },
                dwell: Range { low: Seconds(35), high: Seconds(70) },
                preheat: Seconds(10),
                pressure: "medium".into(),
                seen_through,
                origin: "common practice, no source".into(),
            },
            ppi_floor: Ppi::new(100.0).unwrap(),
            ppi_refuse: Ppi::new(60.0).unwrap(),
            colour: [255; 3],
        },
        size: Size::new(um(609_600), um(317_500)),
        fit: Fit::Contain,
        papers: vec![letter.clone()],
        orientation: None,
        printer: Printer {
            name: "desk-letter".into(),
            papers: vec![letter],
            margins: Sides::all(um(6_350)),
            profile: None,
            embed: true,
        },
        press: Press {
            name: "hand".into(),
            platen: Size::new(um(304_800), um(254_000)),
            weak_edge: um(6_350),
            overlap: um(12_700),
            moves: Moves::Plate,
            turns: true,
        },
        copies: 1,
        note: None,
        allow_low_ppi: false,
        units: Units::Inch,
    }
}

fn applied(seen_through: bool) -> Layout {
    let picture = Arc::new(Untouched);
    let artwork = Artwork {
        file: "chart.png".into(),
        sha256: String::new(),
        size: picture.size(),
        source: Source::Srgb { said: true },
    };
    let job = Job { name: "chart-0a1b2c".into() };
    crate::Mirror.apply(Layout::new(job, order(seen_through), artwork, picture)).unwrap()
}

#[test]
fn paper_is_the_face_mirrored_and_nothing_need_be_said() {
    let done = applied(false);
    assert!(done.mirrored && done.notices.is_empty(), "{:?}", done.notices);
    assert_eq!(done.picture.recipe(), "untouched", "no pixel is turned");
    let left = Rect::new(um(0), um(10), um(100), um(20));
    let right = Rect::new(um(609_500), um(10), um(100), um(20));
    assert_eq!(done.way().to_paper(&left), right, "what is left on the blank is right on the table");
    assert_eq!(done.way().to_face(&right), left, "and back");
}

#[test]
fn goods_seen_through_are_not_mirrored_and_that_is_said() {
    let done = applied(true);
    assert!(!done.mirrored, "seen from behind");
    let [notice] = &done.notices[..] else { panic!("{:?}", done.notices) };
    assert!(notice.text.contains("Not mirrored") && notice.text.contains("polyester-mat"), "{notice:?}");
}

#[test]
fn it_takes_no_settings() {
    for (value, right) in [
        (Value::Nothing, true),
        (Value::Map(vec![("do".to_owned(), Value::Bool(false))]), false),
        (Value::Bool(false), false),
    ] {
        let complaints = Complaints::new();
        let stage = (crate::ENTRY.parse)(&Node::root(&value, &complaints));
        assert_eq!(complaints.is_empty(), right, "{value:?}");
        assert!(stage.is_some() || !right, "{value:?}");
    }
}
