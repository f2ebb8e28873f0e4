//! Which pixels are seen, and where; what is said and refused.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small numbers of the tests' own"
)]

use std::sync::{Arc, Mutex};

use seamwright_contract::layout::{Drawing, Layout};
use seamwright_contract::picture::{Band, Channels, Format, Picture, Pixels, Place, Samples, Window};
use seamwright_contract::plugin::Stage as _;
use seamwright_contract::sample::{self, Pixmap, numbers};
use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::turn::Turn;
use seamwright_contract::{Fault, Length, Size};

use crate::framed::Framed;

const TURNS: [Turn; 4] = [Turn::UPRIGHT, Turn::QUARTER, Turn::HALF, Turn::BACK];

/// Each pixel another, with its place in it.
fn picture(width: u32, height: u32) -> Arc<dyn Picture> {
    let samples = (0..height).flat_map(|y| (0..width).flat_map(move |x| [x as u8, y as u8, 7])).collect();
    Arc::new(Pixmap {
        size: Pixels::new(width, height),
        channels: Channels::Rgb,
        samples: Samples::Eight(samples),
    })
}

fn filled(picture: &dyn Picture, window: Window) -> Vec<u8> {
    let mut band = Band::empty();
    picture.fill(window, &mut band).unwrap();
    let Samples::Eight(samples) = band.samples else { panic!("8 bits") };
    samples
}

/// Where a pixel of the turned picture was, by turning a quarter so often.
fn was(mut at: (u32, u32), turned: Pixels, quarters: usize) -> (u32, u32) {
    let mut size = turned;
    for _ in 0..quarters {
        // A quarter back, counterclockwise: the right edge becomes the top.
        at = (at.1, size.width - 1 - at.0);
        size = Pixels::new(size.height, size.width);
    }
    at
}

#[test]
fn every_pixel_stands_where_it_was_turned_to() {
    let (width, height) = (23, 17);
    let source = picture(width, height);
    let mut any = numbers(5);
    for (quarters, turn) in TURNS.into_iter().enumerate() {
        let cut = [0.13, 0.0, 0.3, 0.24];
        let framed = Framed::new(Arc::clone(&source), turn, cut);
        let whole = turn.size(source.size());
        let (left, top) = ((f64::from(whole.width) * 0.13).round() as u32, 0);
        let size = framed.size();
        let right = (f64::from(whole.width) * 0.7).round() as u32;
        let bottom = (f64::from(whole.height) * 0.76).round() as u32;
        assert_eq!(size, Pixels::new(right - left, bottom), "{turn:?}");
        for _ in 0..50 {
            let (x, y) =
                (any(0, i64::from(size.width) - 1) as u32, any(0, i64::from(size.height) - 1) as u32);
            let (wide, high) = (size.width - x, size.height - y);
            let window = Window::new(x, y, any(1, wide.into()) as u32, any(1, high.into()) as u32);
            let seen = filled(&framed, window);
            for (at, pixel) in seen.chunks(3).enumerate() {
                let (column, row) = (at as u32 % window.width, at as u32 / window.width);
                let (x, y) = was((left + x + column, top + y + row), whole, quarters);
                assert_eq!(pixel, [x as u8, y as u8, 7], "{turn:?} {window:?}");
            }
        }
        let own = framed.reduced(size).unwrap();
        let all = filled(&framed, Window::whole(size));
        assert_eq!(own.samples, Samples::Eight(all), "reduced to its own size it is what it was");
    }
}

/// A drawing that says where it was asked to lie, and is black.
#[derive(Debug)]
struct Chart(Mutex<Vec<Place>>);

impl Picture for Chart {
    fn size(&self) -> Pixels {
        Pixels::new(40, 20)
    }
    fn format(&self) -> Format {
        Format::RGB8
    }
    fn fill(&self, _: Window, _: &mut Band) -> Result<(), Fault> {
        Err(Fault::defect("a drawing is drawn on its grid"))
    }
    fn reduced(&self, _: Pixels) -> Result<Band, Fault> {
        Err(Fault::defect("a drawing is drawn on its grid"))
    }
    fn drawn(&self, place: &Place) -> Result<Option<Arc<dyn Picture>>, Fault> {
        self.0.lock().unwrap().push(*place);
        let samples = Samples::Eight(vec![0; (place.grid.count() * 3) as usize]);
        Ok(Some(Arc::new(Pixmap { size: place.grid, channels: Channels::Rgb, samples })))
    }
}

#[test]
fn a_drawing_is_drawn_where_the_frame_wants_it_and_hidden_beyond() {
    // A grid of 60 x 100, the framed drawing on 10 to 50 and 20 to 80.
    let place = Place { grid: Pixels::new(60, 100), edges: [10.0, 20.0, 50.0, 80.0] };
    // Clockwise, the left edge was the bottom: what lay left of the grid lies below it before the turn.
    let whole = [
        [0.0, 20.0, 80.0, 80.0],
        [20.0, -20.0, 80.0, 60.0],
        [-20.0, 20.0, 60.0, 80.0],
        [20.0, 0.0, 80.0, 80.0],
    ];
    for (turn, expected) in TURNS.into_iter().zip(whole) {
        let chart = Arc::new(Chart(Mutex::default()));
        // In an eighth from the left; three eighths from the right.
        let framed = Framed::new(chart.clone(), turn, [0.125, 0.0, 0.375, 0.0]);
        let drawn = framed.drawn(&place).unwrap().unwrap();
        let asked = chart.0.lock().unwrap()[0];
        assert_eq!((asked.grid, asked.edges), (turn.size(place.grid), expected), "{turn:?}");
        assert_eq!(drawn.size(), place.grid);
        let seen = filled(drawn.as_ref(), Window::whole(place.grid));
        for (at, pixel) in seen.chunks(3).enumerate() {
            let (x, y) = (at as u32 % 60, at as u32 / 60);
            let inside = (10..50).contains(&x) && (20..80).contains(&y);
            assert_eq!(pixel[0] == 0, inside, "{turn:?} {x} {y}");
        }
        let small = drawn.reduced(Pixels::new(6, 10)).unwrap();
        let Samples::Eight(small) = small.samples else { panic!("8 bits") };
        assert_eq!((small[0], small[(2 * 6 + 1) * 3], small[(8 * 6 + 1) * 3]), (255, 0, 255));
    }
}

fn order(text: &[(&str, &str)]) -> Value {
    let entry = |(key, value): &(&str, &str)| ((*key).to_owned(), Value::Text((*value).to_owned()));
    Value::Map(text.iter().map(entry).collect())
}

fn applied(said: Value, picture: Arc<dyn Picture>, drawing: Option<Size>) -> Result<Layout, Fault> {
    let mut order = sample::order();
    order.size = Size::new(Length::from_mm(100), Length::from_mm(200));
    order.said = vec![("frame", said)];
    let mut layout = sample::layout(order, picture);
    layout.artwork.drawing = drawing.map(|size| Drawing { kind: "SVG", page: None, size, coarsest: None });
    crate::Frame.apply(layout)
}

#[test]
fn the_order_is_followed_and_said() {
    let done =
        applied(order(&[("turn", "90"), ("left", "4px"), ("bottom", "10%")]), picture(30, 20), None).unwrap();
    assert_eq!(done.picture.size(), Pixels::new(16, 27));
    assert_eq!(
        done.notices[0].text,
        "The picture is used turned a quarter clockwise, without 20.0 % at the left, 10.0 % at the bottom."
    );
    for (size, turned) in [((30, 20), true), ((20, 30), false), ((20, 20), false)] {
        let done = applied(order(&[("turn", "auto")]), picture(size.0, size.1), None).unwrap();
        assert_eq!(
            done.picture.size() != Pixels::new(size.0, size.1),
            turned,
            "{size:?} on an upright design"
        );
    }
    let own = Size::new(Length::from_mm(80), Length::from_mm(40));
    let done =
        applied(order(&[("turn", "270"), ("top", "25%")]), Arc::new(Chart(Mutex::default())), Some(own))
            .unwrap();
    assert_eq!(done.artwork.drawing.unwrap().size, Size::new(Length::from_mm(40), Length::from_mm(60)));
    let same = applied(order(&[("left", "0%")]), picture(30, 20), None).unwrap();
    assert!(same.notices.is_empty() && same.picture.size() == Pixels::new(30, 20));
}

#[test]
fn what_makes_no_sense_is_refused_in_words() {
    let nothing = applied(order(&[("left", "60%"), ("right", "45%")]), picture(30, 20), None).unwrap_err();
    assert!(nothing.what.contains("leaves nothing"), "{nothing}");
    assert!(applied(order(&[("top", "20px")]), picture(30, 20), None).is_err(), "all of it");
    let drawing =
        applied(order(&[("top", "3px")]), Arc::new(Chart(Mutex::default())), Some(sample::order().size));
    assert!(drawing.unwrap_err().what.contains("is a drawing"));
    for (key, value) in
        [("left", "5"), ("left", "-1%"), ("left", "100%"), ("top", "many"), ("turn", "45"), ("sise", "1%")]
    {
        let (said, complaints) = (order(&[(key, value)]), Complaints::new());
        assert!(
            (crate::ENTRY.order.unwrap())(&Node::root(&said, &complaints)).is_none()
                || !complaints.is_empty(),
            "{key}: {value}"
        );
    }
}
