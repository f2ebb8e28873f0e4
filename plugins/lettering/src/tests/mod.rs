//! Lettering from the order to pixels.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    clippy::float_cmp,
    reason = "pixels of small designs are counted, and the same numbers compared"
)]

mod form;
mod place;
mod scripts;
mod shown;

use std::collections::BTreeMap;
use std::sync::Arc;

use seamwright_contract::colour::Source;
use seamwright_contract::layout::Layout;
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Band, Channels, Picture, Pixels, Samples, Window};
use seamwright_contract::sample::{self, Pixmap, length};
use seamwright_contract::settings::{Complaints, Node, Value};
use seamwright_contract::{Fault, Size};

use crate::ENTRY;

/// Pixels per inch of the designs here: a pixel is 0.1 mm.
const PPI: f64 = 254.0;
/// Micrometres a pixel.
const PIXEL: i64 = 100;

fn text(value: &str) -> Value {
    Value::Text(value.to_owned())
}

fn map(entries: &[(&str, Value)]) -> Value {
    Value::Map(entries.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect())
}

/// `x y width height`, in mm.
fn box_of(mm: [f64; 4]) -> Value {
    let keys = ["x", "y", "width", "height"];
    map(&keys.iter().zip(mm).map(|(key, mm)| (*key, text(&format!("{mm}mm")))).collect::<Vec<_>>())
}

/// One piece of lettering with further keys.
fn piece(words: &str, place: (&str, Value), more: &[(&str, Value)]) -> Value {
    map(&[&[("text", text(words)), place], more].concat())
}

/// A white design of this size in mm, and what is said to lettering.
fn asked(mm: [u32; 2], said: Value) -> Layout {
    let size = Size::new(length(&format!("{}mm", mm[0])), length(&format!("{}mm", mm[1])));
    let order = Order { size, said: vec![("lettering", said)], ..sample::order() };
    let pixels = Pixels::new(mm[0] * 10, mm[1] * 10);
    let mut layout = sample::layout(order, white(pixels, Channels::Rgb));
    layout.design = Some(sample::design(size, PPI));
    layout
}

fn white(size: Pixels, channels: Channels) -> Arc<dyn Picture> {
    let samples = vec![channels.bare(); size.count() as usize * channels.count()];
    Arc::new(Pixmap { size, channels, samples: Samples::Eight(samples) })
}

fn set(layout: Layout) -> Result<Layout, Fault> {
    let complaints = Complaints::new();
    let stage = (ENTRY.parse)(&Node::root(&Value::Nothing, &complaints)).expect("no settings are needed");
    stage.apply(layout)
}

fn refusal(layout: Layout) -> Fault {
    set(layout).expect_err("it is refused")
}

/// All pixels.
fn pixels(layout: &Layout) -> (Pixels, Vec<u8>) {
    let mut band = Band::empty();
    layout.picture.fill(Window::whole(layout.picture.size()), &mut band).expect("it can be drawn");
    match band.samples {
        Samples::Eight(samples) => (layout.picture.size(), samples),
        Samples::Sixteen(_) => panic!("8 bits are expected"),
    }
}

/// Left, top, right and bottom of what is darker than white by so much, in pixels.
fn inked(size: Pixels, samples: &[u8], by: u8) -> [i64; 4] {
    let mut found = [i64::MAX, i64::MAX, i64::MIN, i64::MIN];
    for (at, pixel) in samples.chunks_exact(3).enumerate() {
        if pixel.iter().any(|sample| 255 - sample >= by) {
            let (x, y) = ((at as u32 % size.width) as i64, (at as u32 / size.width) as i64);
            found = [found[0].min(x), found[1].min(y), found[2].max(x + 1), found[3].max(y + 1)];
        }
    }
    found
}

fn fields(entries: &[(&str, &str)]) -> BTreeMap<String, String> {
    entries.iter().map(|(key, value)| ((*key).to_owned(), (*value).to_owned())).collect()
}

fn tagged(mut layout: Layout, source: Source) -> Layout {
    layout.artwork.source = source;
    layout
}
