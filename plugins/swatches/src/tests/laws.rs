//! Nothing runs into anything else or off the paper, whatever the paper, the units and the artwork.

use seamwright_contract::picture::Channels;
use seamwright_contract::scale::Scale;
use seamwright_contract::units::Units;
use seamwright_contract::{Blame, Length, Size};
use seamwright_drawing::{Item, Segment};

use super::fixture::{Plan, Read, edges, mm, read, write};
use crate::arrange;
use crate::scrap::Content;

/// ISO 216 and US sizes, both ways round, and a narrow strip.
fn pages() -> Vec<(&'static str, Size)> {
    let um = |width, height| Size::new(Length::from_um(width), Length::from_um(height));
    vec![
        ("letter", um(215_900, 279_400)),
        ("letter landscape", um(279_400, 215_900)),
        ("a4", um(210_000, 297_000)),
        ("a4 landscape", um(297_000, 210_000)),
        ("a5", um(148_000, 210_000)),
        ("a5 landscape", um(210_000, 148_000)),
        ("a6", um(105_000, 148_000)),
        ("a3", um(297_000, 420_000)),
        ("13x19 landscape", um(482_600, 330_200)),
    ]
}

fn cases() -> Vec<(String, Plan, Units)> {
    let mut cases = Vec::new();
    for (paper, page) in pages() {
        for channels in [Channels::Gray, Channels::Rgb, Channels::Cmyk] {
            for units in [Units::Inch, Units::Metric] {
                let job = if units == Units::Inch { "chart".to_owned() } else { "observatory ".repeat(7) };
                let plan = Plan { page, channels, job, mirrored: units == Units::Inch, ..Plan::default() };
                cases.push((format!("{paper}, {channels:?}, {units:?}"), plan, units));
            }
        }
    }
    cases
}

fn apart(one: &[f64; 4], other: &[f64; 4]) -> bool {
    // A hundredth of a millimetre for rounding to pixels and points.
    one[2] <= other[0] + 0.01
        || other[2] <= one[0] + 0.01
        || one[3] <= other[1] + 0.01
        || other[3] <= one[1] + 0.01
}

/// The box of a straight path.
fn stroke(item: &Item) -> Option<[f64; 4]> {
    let Item::Stroke(path, _) = item else { return None };
    let ends = path.segments.iter().filter_map(|segment| match segment {
        Segment::Line(to) => Some(*to),
        Segment::Curve(..) => None,
    });
    let points: Vec<_> = ends.chain([path.start]).map(|at| [at.x.mm(), at.y.mm()]).collect();
    let most = |side: usize| points.iter().map(|at| at[side]).fold(f64::MIN, f64::max);
    let least = |side: usize| points.iter().map(|at| at[side]).fold(f64::MAX, f64::min);
    Some([least(0), least(1), most(0), most(1)])
}

#[test]
fn nothing_runs_into_anything_or_off_the_paper() {
    for (case, plan, units) in cases() {
        let mut layout = plan.layout();
        layout.order.units = units;
        let (sheet, scrap) = arrange::page(&layout).unwrap();
        let read = read(&layout);
        let live = [5.0, 5.0, read.page[0] - 5.0, read.page[1] - 5.0];
        let [left, top, width, height] = read.image;
        let image = [left, top, left + width, top + height];
        let mut boxes: Vec<(String, [f64; 4])> = vec![];
        for (rect, text) in sheet.canvas.text_boxes() {
            boxes.push((text.to_owned(), edges(&rect)));
        }
        let pitch = width / f64::from(scrap.size.width);
        for part in &scrap.parts {
            let window = part.window;
            assert!(window.within(scrap.size), "{case}: {part:?} of {:?}", scrap.size);
            let x = if layout.mirrored { scrap.size.width - window.x - window.width } else { window.x };
            let [x, y] = [x, window.y].map(|at| f64::from(at) * pitch);
            let [w, h] = [window.width, window.height].map(|count| f64::from(count) * pitch);
            boxes.push((format!("{part:?}"), [left + x, top + y, left + x + w, top + y + h]));
        }
        let strokes: Vec<_> = sheet.canvas.items.iter().filter_map(stroke).collect();
        for area in boxes.iter().map(|(_, area)| area).chain(&strokes).chain([&image]) {
            let inside = area[0] >= live[0] - 0.01
                && area[1] >= live[1] - 0.01
                && area[2] <= live[2] + 0.01
                && area[3] <= live[3] + 0.01;
            assert!(inside, "{case}: {area:?} beyond {live:?}");
        }
        for (i, (what, one)) in boxes.iter().enumerate() {
            for (other_what, other) in boxes.iter().skip(i + 1) {
                assert!(apart(one, other), "{case}: {what} {one:?} runs into {other_what} {other:?}");
            }
        }
    }
}

#[test]
fn small_papers_hold_less_and_large_ones_all() {
    let count = |page: Size| {
        let (_, scrap) = arrange::page(&Plan { page, ..Plan::default() }.layout()).unwrap();
        let crops = scrap.parts.iter().filter(|part| matches!(part.content, Content::Crop { .. })).count();
        (crops, scrap.parts.len() - crops)
    };
    let sizes: Vec<_> = pages().into_iter().map(|(_, page)| count(page)).collect();
    // Letter and A4, both ways: three crops, and all patches: 3 out of reach, the commonest, 16 steps.
    for (crops, patches) in &sizes[..4] {
        assert_eq!((*crops, *patches >= 21), (3, true), "{sizes:?}");
    }
    assert!(sizes[4].0 == 2 && sizes[4].1 > 0, "A5: {sizes:?}");
    assert!(sizes[5].0 == 3 && sizes[5].1 > 0, "A5 landscape: {sizes:?}");
    assert!(sizes[6].0 >= 1, "A6: {sizes:?}");
}

#[test]
fn a_crop_is_no_larger_than_the_design() {
    let plan = Plan { design: Size::new(mm(60), mm(20)), ppi: 100.0, ..Plan::default() };
    let (_, scrap) = arrange::page(&plan.layout()).unwrap();
    let crop = scrap.parts.iter().find(|part| matches!(part.content, Content::Crop { .. })).unwrap();
    // 20 mm at 100 pixels an inch.
    assert_eq!(crop.window.height, 79);
}

#[test]
fn a_paper_without_room_is_refused() {
    let page = Size::new(mm(50), mm(70));
    assert_eq!(write(&Plan { page, ..Plan::default() }.layout()).unwrap_err().blame, Blame::Order);
}

#[test]
fn without_a_lay_up_it_is_the_orders_first_paper() {
    let mut layout = Plan::default().layout();
    layout.lay_up = None;
    let read = read(&layout);
    assert!((read.page[0] - 215.9).abs() < 0.01 && (read.page[1] - 279.4).abs() < 0.01, "{:?}", read.page);
    // Margins of 1/4 in; pixels are whole, so the picture may end up to one of 0.508 mm short of them.
    let [left, _, width, _] = read.image;
    assert!((left - 6.35).abs() < 0.01, "{left}");
    assert!((0.0..0.508).contains(&(209.55 - left - width + 0.001)), "{width}");
}

#[test]
fn a_measured_printer_gives_a_test_print_of_true_size() {
    let read_with = |across: f64, along: f64, laid: bool| {
        let mut layout = Plan::default().layout();
        layout.order.printer.scale.insert("letter".to_owned(), Scale { across, along });
        match &mut layout.lay_up {
            Some(lay_up) if laid => lay_up.scale = [across, along],
            lay_up => *lay_up = None,
        }
        let (sheet, _) = arrange::page(&layout).unwrap();
        let middle = [layout.order.papers[0].size.width, layout.order.papers[0].size.height]
            .map(|side| side.mm() / 2.0);
        // What is drawn, as a printer stretches it about the middle of the sheet.
        let lines: Vec<_> = sheet
            .canvas
            .items
            .iter()
            .filter_map(stroke)
            .map(|[left, top, right, bottom]| {
                let x = |at: f64| middle[0] + (at - middle[0]) / across;
                let y = |at: f64| middle[1] + (at - middle[1]) / along;
                [x(left), y(top), x(right), y(bottom)]
            })
            .collect();
        (read(&layout), lines)
    };
    for laid in [true, false] {
        let ((plain, true_lines), (drawn, lines)) =
            (read_with(1.0, 1.0, laid), read_with(0.999, 1.004_42, laid));
        let pitch = |read: &Read, side: usize| {
            read.image[2 + side] / f64::from([read.size.width, read.size.height][side])
        };
        assert!((pitch(&drawn, 0) / pitch(&plain, 0) - 0.999).abs() < 1e-6, "across");
        assert!((pitch(&drawn, 1) / pitch(&plain, 1) - 1.004_42).abs() < 1e-6, "along");
        // The line of known length has it.
        for lines in [&true_lines, &lines] {
            let ruler = |line: &[f64; 4]| (line[2] - line[0] - 101.6).abs() < 0.005;
            assert!(lines.iter().any(ruler), "{lines:?}");
        }
    }
}

#[test]
fn what_is_pressed_is_mirrored_and_what_is_cut_off_is_not() {
    for mirrored in [true, false] {
        let (sheet, _) = arrange::page(&Plan { mirrored, ..Plan::default() }.layout()).unwrap();
        let mut pressed = 0;
        for item in &sheet.canvas.items {
            let Item::Text { mirrored: turned, text, .. } = item else { continue };
            let above = text.starts_with("Test print") || text.starts_with("cut off");
            assert!(!(above && *turned), "{text}");
            pressed += usize::from(*turned);
            if text == "R" {
                assert_eq!(*turned, mirrored);
            }
        }
        assert_eq!(pressed > 20, mirrored, "{pressed} lines");
    }
}

#[test]
fn the_same_layout_gives_the_same_bytes() {
    let layout = Plan::default().layout();
    assert_eq!(write(&layout).unwrap(), write(&layout).unwrap());
}
