//! Where the picture is placed, what is said of its resolution, and what is refused.

use std::sync::{Arc, Mutex};

use seamwright_contract::catalogue::Shape;
use seamwright_contract::layout::{Drawing, Layout, Notice, Weight};
use seamwright_contract::order::{Fit, Lies, Order};
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Place, Window};
use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::{Blame, Fault, Length, Point, Ppi, Rect, Size, num};

use super::fixture::{Waves, layout, order, sides};
use crate::place::place;

#[test]
fn placement_and_resolution_agree_with_the_table() {
    // tests/data/geometry/fit_ppi.csv: computed.
    for row in include_str!("../../../../tests/data/geometry/fit_ppi.csv").lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let inches = |i: usize| format!("{}in", cells[i]).parse::<Length>().unwrap();
        let fit = Fit::WORDS.iter().find(|(word, _)| *word == cells[4]).unwrap().1;
        let pixels = Pixels::new(num::pixels(number(0)), num::pixels(number(1)));
        let design = Size::new(inches(2), inches(3));
        let placed = place(sides(pixels), design, fit);
        assert_eq!((placed.width, placed.height), (inches(5), inches(6)), "{row}");
        let ppi = [Ppi::of(pixels.width, placed.width), Ppi::of(pixels.height, placed.height)]
            .map(|p| p.unwrap().get());
        assert!((ppi[0] - number(7)).abs() < 1e-4 && (ppi[1] - number(8)).abs() < 1e-4, "{row}: {ppi:?}");
        let clipped = placed.intersection(&Rect::of_size(design)).unwrap();
        assert_eq!(placed.width - clipped.width, inches(9), "{row}: cropped");
        assert_eq!(design.height - clipped.height, inches(12), "{row}: bare");
        assert!((placed.x * 2 + placed.width - design.width).abs().um() <= 1, "{row}: centred");
    }
}

/// The design of common practice: 24 x 12.5 in.
const MAT: Size = Size::new(Length::from_um(609_600), Length::from_um(317_500));

/// Applies the stage with these settings, `Nothing` being the stage's name alone.
fn resized(settings: Value, pixels: Pixels, order: Order) -> Result<Layout, Fault> {
    let complaints = Complaints::new();
    let stage = (crate::ENTRY.parse)(&Node::root(&settings, &complaints)).unwrap();
    stage.apply(layout(pixels, order))
}

fn ppi(value: Value) -> Value {
    Value::Map(vec![("ppi".to_owned(), value)])
}

#[test]
fn settings_are_a_number_or_the_word_native() {
    let native = || Value::Text("native".to_owned());
    for (value, right) in [
        (Value::Nothing, true),
        (ppi(native()), true),
        (ppi(Value::Number(150.0)), true),
        (ppi(Value::Number(0.0)), false),
        (ppi(Value::Number(-300.0)), false),
        (ppi(Value::Text("own".to_owned())), false),
        (Value::Map(vec![("dpi".to_owned(), Value::Number(300.0))]), false),
    ] {
        let complaints = Complaints::new();
        let stage = (crate::ENTRY.parse)(&Node::root(&value, &complaints));
        assert_eq!(complaints.is_empty(), right, "{value:?}");
        assert!(stage.is_some() || !right, "{value:?}");
    }
}

#[test]
fn the_usual_grid_is_300_ppi_and_native_takes_the_finer_axis() {
    let pixels = Pixels::new(3600, 1875);
    let done = resized(Value::Nothing, pixels, order(MAT)).unwrap();
    assert_eq!(done.design.unwrap().grid(), Pixels::new(7200, 3750), "24 x 12.5 in at 300 ppi");
    assert_eq!(done.picture.size(), Pixels::new(7200, 3750), "the picture is on the grid");

    let native = resized(ppi(Value::Text("native".to_owned())), pixels, order(MAT)).unwrap();
    assert_eq!(native.picture.size(), pixels, "its own pixels");

    let stretched = Order { fit: Fit::Stretch, ..order(MAT) };
    let done = resized(ppi(Value::Text("native".to_owned())), Pixels::new(3600, 3750), stretched).unwrap();
    let design = done.design.unwrap();
    let [across, down] = design.artwork_ppi.map(Ppi::get);
    assert!((across - 150.0).abs() < 1e-9 && (down - 300.0).abs() < 1e-9, "{across} x {down}");
    assert_eq!(design.grid(), Pixels::new(7200, 3750), "square pixels of the finer axis");
}

#[test]
fn what_is_shown_on_a_screen_is_scaled_alike() {
    let mut asked = layout(Pixels::new(3600, 1875), order(MAT));
    asked.on_screen = Some(asked.picture.clone());
    let complaints = Complaints::new();
    let stage = (crate::ENTRY.parse)(&Node::root(&Value::Nothing, &complaints)).unwrap();
    let done = stage.apply(asked).unwrap();
    assert_eq!(done.seen().size(), done.picture.size(), "one grid for both");
}

/// The one notice of the stage on how sharp the picture is.
fn said(layout: &Layout) -> (Weight, String) {
    let bare = |notice: &&Notice| notice.text.contains("other proportions");
    let notices: Vec<&Notice> = layout.notices.iter().filter(|notice| !bare(notice)).collect();
    let [notice] = notices[..] else { panic!("{:?}", layout.notices) };
    (notice.weight, notice.text.clone())
}

#[test]
fn what_a_picture_leaves_bare_is_said_with_what_would_fill_it() {
    let of = |pixels: Pixels, fit: Fit| {
        let order = Order { fit, ..order(Size::new(Length::from_inches(17), Length::from_inches(11))) };
        let stage = (crate::ENTRY.parse)(&Node::root(&Value::Nothing, &Complaints::new())).unwrap();
        let done = stage.apply(layout(pixels, order)).unwrap();
        let bare = done.notices.into_iter().find(|notice| notice.text.contains("other proportions"));
        bare.map(|notice| (notice.weight, notice.text))
    };
    // 11 in high it is 16.739 in wide: half of the rest on each side, by hand.
    let (weight, text) = of(Pixels::new(5250, 3450), Fit::Contain).unwrap();
    assert_eq!(weight, Weight::Remark);
    assert!(text.contains("0.13 in stay bare left and right") && text.contains("`fit: cover`"), "{text}");
    assert_eq!(of(Pixels::new(5250, 3450), Fit::Cover), None, "nothing stays bare");
    assert_eq!(of(Pixels::new(5100, 3300), Fit::Contain), None, "the same proportions");
}

#[test]
fn the_resolution_of_the_coarser_axis_is_said_warned_of_and_refused() {
    let at = |ppi: u32| Pixels::new(24 * ppi, ppi * 25 / 2);
    let (weight, text) = said(&resized(Value::Nothing, at(150), order(MAT)).unwrap());
    assert_eq!((weight, text.contains("150 pixels per inch")), (Weight::Remark, true), "{text}");

    let (weight, text) = said(&resized(Value::Nothing, at(80), order(MAT)).unwrap());
    assert_eq!((weight, text.contains("80") && text.contains("100")), (Weight::Warning, true), "{text}");

    let coarse = Pixels::new(24 * 200, 12 * 50);
    let stretched = Order { fit: Fit::Stretch, ..order(MAT) };
    let fault = resized(Value::Nothing, coarse, stretched.clone()).unwrap_err();
    assert!(fault.what.contains("48 pixels per inch") && fault.what.contains("60"), "{fault}");
    assert!(fault.cure.contains("allow_low_ppi"), "{fault}");

    let allowed = Order { allow_low_ppi: true, ..stretched };
    let (weight, text) = said(&resized(Value::Nothing, coarse, allowed).unwrap());
    assert_eq!((weight, text.contains("48")), (Weight::Warning, true), "{text}");
}

#[test]
fn a_design_that_cannot_be_is_the_orders_to_mend() {
    let um = Length::from_um;
    let pixels = Pixels::new(3600, 1875);
    for (size, says) in [
        (Size::new(MAT.width + um(1), MAT.height), "larger"),
        (Size::new(MAT.width, MAT.height + um(25_400)), "24.00 x 13.50 in"),
        (Size::new(um(0), MAT.height), "no area"),
        (Size::new(MAT.width, um(-254)), "no area"),
    ] {
        let fault = resized(Value::Nothing, pixels, order(size)).unwrap_err();
        assert_eq!(fault.blame, Blame::Order, "{fault}");
        assert!(fault.what.contains(says) && !fault.cure.is_empty(), "{says}: {fault}");
    }

    // 100 m square at 4800 ppi are 18 897 638 pixels a side.
    let huge = Size::new(Length::from_mm(100_000), Length::from_mm(100_000));
    let mut absurd = Order { allow_low_ppi: true, ..order(huge) };
    absurd.blank.size = huge;
    let fault = resized(ppi(Value::Number(4_800.0)), pixels, absurd).unwrap_err();
    assert_eq!(fault.blame, Blame::Order, "{fault}");
    assert!(fault.what.contains("18897638 x 18897638"), "{fault}");
}

#[test]
fn a_bleed_widens_and_an_inset_narrows_what_fits() {
    let pixels = Pixels::new(3600, 1875);
    for (reach, fits) in [(0, true), (1, true), (-1, false)] {
        let mut asked = order(MAT);
        asked.blank.reach = Length::from_um(reach);
        assert_eq!(resized(Value::Nothing, pixels, asked).is_ok(), fits, "{reach}");
    }
}

/// A drawing that notes where it was asked to lie; its view has few pixels.
#[derive(Debug)]
struct Chart(Mutex<Vec<Place>>);

impl Picture for Chart {
    fn size(&self) -> Pixels {
        Pixels::new(20, 10)
    }

    fn format(&self) -> Format {
        Format::RGB8
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), Format::RGB8);
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        Ok(Band::bare(size, Format::RGB8))
    }

    fn drawn(&self, place: &Place) -> Result<Option<Arc<dyn Picture>>, Fault> {
        self.0.lock().unwrap().push(*place);
        Ok(Some(Arc::new(Waves { size: place.grid, format: Format::RGB8 })))
    }
}

#[test]
fn a_drawing_is_drawn_on_the_grid_and_never_scaled() {
    let own = Size::new(Length::from_inches(2), Length::from_inches(1));
    let worked = |settings: Value, coarsest: Option<Ppi>, fit: Fit| {
        let chart = Arc::new(Chart(Mutex::default()));
        let mut asked = layout(chart.size(), Order { fit, ..order(MAT) });
        asked.picture = chart.clone();
        asked.artwork.drawing = Some(Drawing { kind: "SVG", page: None, size: own, coarsest });
        let complaints = Complaints::new();
        let stage = (crate::ENTRY.parse)(&Node::root(&settings, &complaints)).unwrap();
        let done = stage.apply(asked).unwrap();
        let places = chart.0.lock().unwrap().clone();
        (done, places)
    };
    for settings in [Value::Nothing, ppi(Value::Text("native".to_owned()))] {
        let (done, places) = worked(settings, None, Fit::Contain);
        // 24 x 12.5 in: all of the height of a drawing twice as wide would be 25 in.
        let edges = [0.0, 75.0, 7200.0, 3675.0];
        assert_eq!(places, [Place { grid: Pixels::new(7200, 3750), edges }], "once, where it lies");
        let design = done.design.clone().unwrap();
        assert_eq!(
            design.artwork_ppi.map(|ppi| num::round(ppi.get())),
            [300; 2],
            "it has what the sheets have"
        );
        assert_eq!(done.artwork.size, Pixels::new(7200, 3600), "what it is drawn in");
        let recipe = done.picture.recipe(Window::new(0, 0, 9, 9)).unwrap();
        assert!(!recipe.contains("scaled"), "{recipe}");
        let (weight, text) = said(&done);
        assert!(weight == Weight::Remark && text.contains("sharp at any size"), "{text}");
    }
    let (_, places) = worked(Value::Nothing, None, Fit::Cover);
    assert_eq!(places[0].edges.map(num::round), [-150, 0, 7350, 3750], "beyond the design on both sides");
    let (done, _) = worked(Value::Nothing, Ppi::new(600.0), Fit::Contain);
    let (weight, text) = said(&done);
    assert!(weight == Weight::Warning && text.contains("only 50"), "600 ppi on 2 in are 50 on 24 in: {text}");
}

#[test]
fn a_design_lies_where_it_is_placed_and_not_beyond_its_area() {
    let mut on_mat = order(Size::new(Length::from_inches(6), Length::from_inches(4)));
    on_mat.blank.reach = -Length::from_inches(1);
    let inches = |mils: i64| Length::from_um(mils * 25_400 / 1000);
    let done = |lies| resized(Value::Nothing, Pixels::new(1800, 1200), Order { lies, ..on_mat.clone() });
    let at = |lies| done(lies).unwrap().placed();
    // The mat is 24 x 12.5 in.
    assert_eq!(at([Lies::Centred; 2]), Point::new(inches(9000), inches(4250)));
    let corner = [Lies::FromStart(inches(1000)), Lies::FromEnd(inches(1000))];
    assert_eq!(at(corner), Point::new(inches(1000), inches(7500)), "from the left, and from the bottom");
    for lies in [
        [Lies::FromStart(inches(999)), Lies::Centred],
        [Lies::FromEnd(inches(999)), Lies::Centred],
        [Lies::Centred, Lies::FromStart(inches(8000))],
    ] {
        let fault = done(lies).unwrap_err();
        assert!(fault.what.contains("beyond its design area") && fault.cure.contains("place"), "{fault:?}");
    }
    // What the outline leaves of the design moves with it.
    let mut round = Order { lies: corner, ..on_mat.clone() };
    round.blank.shape = Shape::Oval;
    let design = resized(Value::Nothing, Pixels::new(1800, 1200), round).unwrap().design.unwrap();
    let covered = |x: i64, y: i64| design.outline.covers(num::float(x), num::float(y));
    assert!(
        !covered(1000, 101_000) && covered(150_000, 1000),
        "the corner at the bottom left lies outside the oval"
    );
}
