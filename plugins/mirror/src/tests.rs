//! Mirrored unless seen through, said when not, and no settings.

use std::sync::Arc;

use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::plugin::Stage;
use seamwright_contract::sample;
use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::{Fault, Length, Rect};

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
    fn recipe(&self, _: Window) -> Option<String> {
        Some("untouched".to_owned())
    }
}

fn um(value: i64) -> Length {
    Length::from_um(value)
}

fn applied(seen_through: bool) -> Layout {
    let mut order = sample::order();
    order.blank.substrate.seen_through = seen_through;
    crate::Mirror.apply(sample::layout(order, Arc::new(Untouched))).unwrap()
}

#[test]
fn paper_is_the_face_mirrored_and_nothing_need_be_said() {
    let done = applied(false);
    assert!(done.mirrored && done.notices.is_empty(), "{:?}", done.notices);
    assert_eq!(
        done.picture.recipe(Window::new(0, 0, 1, 1)).as_deref(),
        Some("untouched"),
        "no pixel is turned"
    );
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
