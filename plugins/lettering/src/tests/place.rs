//! Words stay in their place, and fill it as far as they may.

use seamwright_contract::catalogue::Shape;
use seamwright_contract::layout::Layout;
use seamwright_contract::sample::numbers;
use seamwright_contract::settings::Value;
use seamwright_contract::{Length, Outline, Rect};

use super::{PIXEL, asked, box_of, fields, inked, map, piece, pixels, refusal, set, text};

const NAMES: [&str; 8] =
    ["Ada", "Jonathan of the pier", "Ölaf", "gypsy", "I", "Nguyễn Thị Ấm", "MAXIMILIANE", "éÅẪ\ngjpqy"];

/// Where the ink is in pixels of the picture, and where the layout says that it is.
fn both(layout: &Layout) -> ([i64; 4], [i64; 4]) {
    let (size, samples) = pixels(layout);
    let ink = layout.lettering[0].ink;
    let said = [ink.x, ink.y, ink.right(), ink.bottom()].map(Length::um);
    (inked(size, &samples, 16), said)
}

#[test]
fn the_largest_that_fits_touches_its_box_and_stays_in_it() {
    let mut any = numbers(7);
    for round in 0..24 {
        let name = NAMES[round % NAMES.len()];
        let of = [any(2, 20), any(2, 15), any(30, 70), any(10, 30)];
        let outline = map(&[("width", text("0.6mm")), ("colour", text("red"))]);
        let more = if round % 3 == 0 { vec![("outline", outline)] } else { Vec::new() };
        let said = piece(name, ("box", box_of(of.map(|mm| mm as f64))), &more);
        let layout = set(asked([100, 50], said)).unwrap();
        let (seen, told) = both(&layout);
        let edges = [of[0], of[1], of[0] + of[2], of[1] + of[3]].map(|mm| mm * 1000);
        for (side, (seen, told)) in seen.iter().zip(told).enumerate() {
            assert!(
                (seen * PIXEL - told).abs() <= 2 * PIXEL,
                "{name} in {of:?}, side {side}: seen at {seen} px, told {told}"
            );
        }
        assert!(told[0] >= edges[0] - 1 && told[2] <= edges[2] + 1, "{name}: {told:?} in {edges:?}");
        assert!(told[1] >= edges[1] - 1 && told[3] <= edges[3] + 1, "{name}: {told:?} in {edges:?}");
        let wide = (told[2] - told[0] - of[2] * 1000).abs() < 100;
        // What is as high as can be has the font's own height, which letters without tails do not fill.
        let body = layout.lettering[0].body.um();
        let lines = i64::try_from(name.lines().count()).unwrap();
        assert!(
            wide || body * (10 + (lines - 1) * 12) / 10 > of[3] * 1000 / 2,
            "{name}: {told:?}, {body} in {of:?}"
        );
    }
}

#[test]
fn words_stand_towards_the_side_that_is_asked_for() {
    let of = [10.0, 5.0, 80.0, 40.0];
    for (align, side, edge) in [("left", 0, 10_000), ("right", 2, 90_000)] {
        let said = piece("Gull", ("box", box_of(of)), &[("size", text("12mm")), ("align", text(align))]);
        let (seen, told) = both(&set(asked([100, 50], said)).unwrap());
        assert!((told[side] - edge).abs() <= 2, "{align}: {told:?}");
        assert!((seen[side] * PIXEL - edge).abs() <= PIXEL, "{align}: {seen:?}");
    }
    let said = piece("Gull", ("box", box_of(of)), &[("size", text("12mm"))]);
    let (_, told) = both(&set(asked([100, 50], said)).unwrap());
    assert!((told[0] + told[2] - 100_000).abs() <= 4, "{told:?} is in the middle");
}

#[test]
fn names_with_and_without_long_letters_stand_on_one_line() {
    let bottom = |name: &str| {
        let said = piece(name, ("box", box_of([10.0, 5.0, 80.0, 40.0])), &[("size", text("12mm"))]);
        set(asked([100, 50], said)).unwrap().lettering[0].ink.bottom().um()
    };
    // Letters with a flat foot end on the baseline.
    assert!((bottom("HE") - bottom("\u{c9}LH")).abs() <= 2, "an accent moves nothing");
    let (flat, long) = (bottom("HE"), bottom("Hy"));
    assert!(long - flat > 1_000, "{long} is below {flat} by the tail alone");
}

#[test]
fn what_is_too_long_is_refused_or_made_smaller_as_asked() {
    let said = |more: &[(&str, Value)]| {
        let size = [&[("size", text("20mm"))], more].concat();
        piece("Wilhelmine", ("box", box_of([10.0, 10.0, 60.0, 30.0])), &size)
    };
    let fault = refusal(asked([100, 50], said(&[])));
    assert!(fault.what.contains("'Wilhelmine' is too long") && fault.what.contains("20.0 mm"), "{fault:?}");
    let largest: f64 = fault.what.split("fits is ").nth(1).unwrap().trim_end_matches(" mm.").parse().unwrap();
    let layout = set(asked([100, 50], said(&[("shrink", text("yes"))]))).unwrap();
    let body = layout.lettering[0].body.mm();
    assert!(body >= largest && body < largest + 0.1, "{body} is the largest, {largest}");
}

#[test]
fn words_leave_neither_the_design_nor_the_blanks_safe_shape() {
    let beyond = piece("Ada", ("box", box_of([80.0, 10.0, 40.0, 20.0])), &[("align", text("right"))]);
    assert!(
        refusal(asked([100, 50], beyond)).what.contains("beyond what may be printed"),
        "to the right of the design"
    );
    let on_round = |of: [f64; 4]| {
        let mut layout = asked([100, 100], piece("HHH", ("box", box_of(of)), &[]));
        let design = layout.design.as_mut().unwrap();
        design.outline = Outline::new(Shape::Round, Rect::of_size(design.size), Length::ZERO);
        layout
    };
    assert!(
        refusal(on_round([2.0, 2.0, 40.0, 20.0])).what.contains("beyond"),
        "in the corner of a round blank"
    );
    let layout = set(on_round([20.0, 30.0, 60.0, 20.0])).unwrap();
    let (size, samples) = pixels(&layout);
    for (at, pixel) in samples.chunks_exact(3).enumerate().filter(|(_, pixel)| pixel[0] < 128) {
        let (x, y) = (f64::from(at as u32 % size.width) - 499.5, f64::from(at as u32 / size.width) - 499.5);
        assert!(x.hypot(y) <= 500.0, "{pixel:?} at {x} {y}");
    }
}

#[test]
fn words_on_a_circle_keep_to_their_ring_and_span() {
    for (feet, middle, ring) in
        [("in", 0.0, [36.0, 50.0]), ("out", 180.0, [26.0, 40.5]), ("in", 90.0, [36.0, 50.0])]
    {
        let circle = map(&[
            ("x", text("50mm")),
            ("y", text("50mm")),
            ("radius", text("38mm")),
            ("height", text("10mm")),
            ("middle", Value::Number(middle)),
            ("span", Value::Number(140.0)),
            ("feet", text(feet)),
        ]);
        let layout = set(asked([100, 100], piece("Observatory gypsy", ("circle", circle), &[]))).unwrap();
        let (size, samples) = pixels(&layout);
        let mut angles = [f64::MAX, f64::MIN];
        for (at, _) in samples.chunks_exact(3).enumerate().filter(|(_, pixel)| pixel[0] < 200) {
            let x = f64::from(at as u32 % size.width) + 0.5 - 500.0;
            let y = f64::from(at as u32 / size.width) + 0.5 - 500.0;
            let radius = x.hypot(y) / 10.0;
            assert!((ring[0] - 1.5..=ring[1]).contains(&radius), "{feet}: {radius} mm from the middle");
            let angle = (x.atan2(-y).to_degrees() - middle + 540.0).rem_euclid(360.0) - 180.0;
            angles = [angles[0].min(angle), angles[1].max(angle)];
        }
        assert!(angles[0] >= -71.0 && angles[1] <= 71.0, "{feet}: {angles:?}");
        assert!((angles[0] + angles[1]).abs() < 4.0, "{feet}: {angles:?} is about the middle");
        let (seen, told) = both(&layout);
        assert!(
            seen.iter().zip(told).all(|(seen, told)| (seen * PIXEL - told).abs() <= 2 * PIXEL),
            "{seen:?} {told:?}"
        );
    }
}

#[test]
fn fields_are_filled_in_and_a_missing_one_is_named() {
    let said = || piece("{name}, {{{visit}}}", ("box", box_of([10.0, 10.0, 80.0, 20.0])), &[]);
    let mut layout = asked([100, 50], said());
    layout.order.fields = fields(&[("name", "Ada & <b>"), ("visit", "21 June")]);
    assert_eq!(set(layout).unwrap().lettering[0].text, "Ada & <b>, {21 June}");
    let fault = refusal(asked([100, 50], said()));
    assert!(fault.what.contains("the field `name`") && fault.cure.contains("fields: {name: …}"), "{fault:?}");
    let mut layout = asked([100, 50], piece("{name}", ("box", box_of([10.0, 10.0, 80.0, 20.0])), &[]));
    layout.order.fields = fields(&[("name", " ")]);
    let layout = set(layout).unwrap();
    assert!(layout.lettering.is_empty() && layout.notices.len() == 1, "nothing is set, and that is said");
}
