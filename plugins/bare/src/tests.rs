//! Which pixels become bare, that no others change, and what a survey finds afterwards.
#![expect(clippy::float_cmp, reason = "whole numbers of pixels are exact")]

use std::sync::Arc;

use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert, prop_assert_eq, prop_oneof, proptest};
use proptest::sample::select;

use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::sample::{self, Pixmap};
use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::survey::{self, FAINTEST, Wish};

use crate::cleared::Cleared;

/// The stage with these settings, or the complaints.
fn applied(settings: &Value, picture: Arc<dyn Picture>) -> Result<Layout, String> {
    let complaints = Complaints::new();
    let stage = (crate::ENTRY.parse)(&Node::root(settings, &complaints));
    let layout = stage.map(|stage| stage.apply(sample::layout(sample::order(), picture)));
    let said = complaints.into_list();
    match layout {
        Some(Ok(layout)) if said.is_empty() => Ok(layout),
        _ => Err(format!("{said:?}")),
    }
}

fn white_from(level: f64) -> Value {
    Value::Map(vec![("from".to_owned(), Value::Number(level))])
}

fn all(picture: &dyn Picture) -> Samples {
    let mut band = Band::empty();
    picture.fill(Window::whole(picture.size()), &mut band).unwrap();
    band.samples
}

#[test]
fn without_settings_exactly_what_is_faint_becomes_bare() {
    // A survey calls faint what differs from white by less than 8 of 255 in all samples.
    let before = vec![255, 255, 255, 248, 250, 255, 248, 248, 248, 247, 255, 255, 248, 248, 247, 0, 0, 0];
    let after = vec![255, 255, 255, 255, 255, 255, 255, 255, 255, 247, 255, 255, 248, 248, 247, 0, 0, 0];
    let done = applied(&Value::Nothing, Pixmap::row(Channels::Rgb, Samples::Eight(before.clone()))).unwrap();
    assert_eq!(all(done.picture.as_ref()), Samples::Eight(after));
    assert!(done.on_screen.is_none() && done.notices.is_empty(), "nothing else is done");
    let recipe = done.picture.recipe(Window::whole(done.picture.size())).unwrap();
    assert!(recipe.contains(&format!("fainter than {}", FAINTEST)), "{recipe}");

    let ink = Pixmap::row(Channels::Cmyk, Samples::Eight(vec![7, 0, 7, 7, 8, 0, 0, 0]));
    let done = applied(&Value::Nothing, ink).unwrap();
    assert_eq!(all(done.picture.as_ref()), Samples::Eight(vec![0, 0, 0, 0, 8, 0, 0, 0]), "inks count up");

    // 16 bits are told apart where they round to 8: between 247 and 248.
    let edge = 248 * 257 - 128;
    let fine = Pixmap::row(Channels::Gray, Samples::Sixteen(vec![edge, edge - 1, 65_534]));
    let done = applied(&Value::Nothing, fine).unwrap();
    assert_eq!(all(done.picture.as_ref()), Samples::Sixteen(vec![65_535, edge - 1, 65_535]));
}

#[test]
fn what_is_seen_is_cleared_too() {
    let complaints = Complaints::new();
    let stage = (crate::ENTRY.parse)(&Node::root(&Value::Nothing, &complaints)).unwrap();
    let mut layout =
        sample::layout(sample::order(), Pixmap::row(Channels::Cmyk, Samples::Eight(vec![3, 3, 3, 0])));
    layout.on_screen = Some(Pixmap::row(Channels::Rgb, Samples::Eight(vec![250, 250, 250])));
    let done = stage.apply(layout).unwrap();
    assert_eq!(all(done.picture.as_ref()), Samples::Eight(vec![0; 4]));
    assert_eq!(all(done.on_screen.unwrap().as_ref()), Samples::Eight(vec![255; 3]));
}

#[test]
fn settings_are_one_level_of_white() {
    let picture = || Pixmap::row(Channels::Gray, Samples::Eight(vec![239, 240, 254, 255]));
    for (settings, expected) in [
        (white_from(240.0), vec![239, 255, 255, 255]),
        (white_from(255.0), vec![239, 240, 254, 255]),
        (white_from(1.0), vec![255; 4]),
    ] {
        let done = applied(&settings, picture()).unwrap();
        assert_eq!(all(done.picture.as_ref()), Samples::Eight(expected), "{settings:?}");
    }
    for settings in [
        white_from(0.0),
        white_from(256.0),
        white_from(247.5),
        white_from(-1.0),
        Value::Map(vec![("from".to_owned(), Value::Text("white".to_owned()))]),
        Value::Map(vec![("form".to_owned(), Value::Number(248.0))]),
        Value::Bool(true),
    ] {
        assert!(applied(&settings, picture()).is_err(), "{settings:?}");
    }
    let said = applied(&white_from(300.0), picture()).unwrap_err();
    assert!(said.contains("300") && said.contains("248"), "{said}");
}

/// Pictures of bare, faint, nearly inked and any pixels, in every format.
fn pictures() -> impl Strategy<Value = Pixmap> {
    let channels = select(&[Channels::Gray, Channels::Rgb, Channels::Cmyk][..]);
    let depth = select(&[Depth::Eight, Depth::Sixteen][..]);
    let sample = prop_oneof![3 => 0_u16..1, 3 => 0_u16..2_600, 1 => any::<u16>()];
    let things = proptest::collection::vec((any::<(u32, u32)>(), proptest::array::uniform4(sample)), 0..40);
    (1_u32..40, 1_u32..40, channels, depth, things).prop_map(|(width, height, channels, depth, things)| {
        let mut picture = Pixmap::bare(Pixels::new(width, height), Format { channels, depth });
        let bare = if channels == Channels::Cmyk { 0 } else { u16::MAX };
        for ((x, y), differences) in things {
            let (x, y) = (x % width, y % height);
            let at = Window::new(x, y, 1 + x % (width - x), 1 + y % (height - y));
            picture.paint(at, &differences.map(|difference| bare ^ difference));
        }
        picture
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_pixel_is_as_it_was_or_bare(picture in pictures(), from in 1_u32..256) {
        let done = applied(&white_from(f64::from(from)), Arc::new(picture.clone())).unwrap().picture;
        let each = picture.channels.count();
        // White of 255 for every sample, whatever it counts.
        let white = |sample: f64, full: f64| if picture.channels == Channels::Cmyk { full - sample } else { sample };
        let near = |sample: f64, full: f64| (white(sample, full) / full * 255.0).round() >= f64::from(from);
        let floats = |samples: &Samples| -> (Vec<f64>, f64) {
            match samples {
                Samples::Eight(all) => (all.iter().map(|v| f64::from(*v)).collect(), 255.0),
                Samples::Sixteen(all) => (all.iter().map(|v| f64::from(*v)).collect(), 65_535.0),
            }
        };
        let ((before, full), (after, _)) = (floats(&picture.samples), floats(&all(done.as_ref())));
        prop_assert_eq!((done.size(), done.format(), before.len()), (picture.size, picture.format(), after.len()));
        for (before, after) in before.chunks(each).zip(after.chunks(each)) {
            if before.iter().all(|sample| near(*sample, full)) {
                prop_assert!(after.iter().all(|sample| (white(*sample, full) - full).abs() < 0.5), "{:?}", before);
            } else {
                prop_assert_eq!(before, after);
            }
        }
        // Reduced, it is cleared at that size.
        let small = Pixels::new(picture.size.width.div_ceil(2), picture.size.height.div_ceil(3));
        let reduced = Pixmap { size: small, channels: picture.channels, samples: picture.reduced(small).unwrap().samples };
        let cleared = Cleared { source: Arc::new(reduced), faintest: u8::try_from(256 - from).unwrap() };
        prop_assert_eq!(done.reduced(small).unwrap().samples, all(&cleared));
    }

    #[test]
    fn a_survey_finds_what_is_left(picture in pictures(), faintest in 1_u8..30, ink in 1_u8..20, cells in (1_u32..20, 1_u32..20)) {
        let cleared = Cleared { source: Arc::new(picture), faintest };
        let wish = Wish { cells: Pixels::new(cells.0, cells.1), faintest: ink };
        let (found, left) = (cleared.survey(&wish).unwrap(), survey::by_filling(&cleared, &wish).unwrap());
        prop_assert_eq!((&found.across, &found.down), (&left.across, &left.down));
        let means = |survey: &survey::Survey| match &survey.means.samples {
            Samples::Eight(means) => means.clone(),
            Samples::Sixteen(_) => Vec::new(),
        };
        let (ours, theirs, each) = (means(&found), means(&left), cleared.format().channels.count());
        for (at, (found, left)) in found.cells.iter().zip(&left.cells).enumerate() {
            prop_assert_eq!(found.ink, left.ink, "cell {}", at);
            // Shares are rounded up, so the difference of two may be a step off.
            prop_assert!(found.faint.abs_diff(left.faint) <= 1, "cell {}: {} not {}", at, found.faint, left.faint);
            if found.ink > 0 {
                prop_assert_eq!((found.left, found.right), (left.left, left.right), "cell {}", at);
            }
            // What was made bare is still in the means of cells that have ink, by less than it had.
            let (ours, theirs) = (&ours[at * each..][..each], &theirs[at * each..][..each]);
            let slack = if left.ink == 0 && left.faint == 0 { 0 } else { faintest };
            prop_assert!(ours.iter().zip(theirs).all(|(a, b)| a.abs_diff(*b) <= slack), "cell {}", at);
        }
        if faintest >= ink {
            prop_assert!(found.cells.iter().all(|cell| cell.faint == 0), "nothing faint is left");
        }
        for (row, cells) in found.cells.chunks(found.across.len() - 1).enumerate() {
            if cells.iter().any(|cell| cell.ink > 0) {
                prop_assert_eq!(found.inked[row], left.inked[row], "row {}", row);
            }
        }
    }
}

#[test]
fn a_tinted_ground_takes_no_paper_any_more() {
    let mut picture = Pixmap::bare(Pixels::new(100, 60), Format::RGB8);
    picture.paint(Window::whole(picture.size), &[251 * 257; 3]);
    picture.paint(Window::new(40, 20, 20, 20), &[0x4000; 3]);
    let wish = Wish { cells: Pixels::new(10, 6), faintest: FAINTEST };
    assert!(picture.survey(&wish).unwrap().cells[0].faint == 255, "a tint all over");
    let done = applied(&Value::Nothing, Arc::new(picture)).unwrap().picture.survey(&wish).unwrap();
    assert!(done.cells.iter().all(|cell| cell.faint == 0), "and none");
    assert_eq!(done.cells.iter().filter(|cell| cell.ink == 255).count(), 4, "the art stays");
}
