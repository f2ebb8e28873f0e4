//! The promise of a picture: any window is that part of the whole.

use seamwright_contract::order::Fit;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::{Length, Size, num};

use super::fixture::{FORMATS, bytes, filled, scaled};

#[test]
fn a_window_is_that_part_of_the_whole() {
    let mut state = 3_u32;
    let mut random = move |below: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) % below.max(1)
    };
    for format in FORMATS {
        for fit in [Fit::Contain, Fit::Cover, Fit::Stretch] {
            for ppi in [40.0, 97.3, 150.0] {
                let size = Size::new(Length::from_mm(100), Length::from_mm(61));
                let picture = scaled(Pixels::new(371, 263), format, size, fit, ppi);
                let whole = picture.size();
                let all = filled(&picture, Window::whole(whole));
                let (stride, all) = (all.stride(), bytes(&all));
                for _ in 0..12 {
                    let (x, y) = (random(whole.width), random(whole.height));
                    let window = Window::new(x, y, 1 + random(whole.width - x), 1 + random(whole.height - y));
                    let part = filled(&picture, window);
                    let each = format.channels.count();
                    for (row, line) in bytes(&part).chunks(part.stride()).enumerate() {
                        let start = (num::index(y) + row) * stride + num::index(x) * each;
                        let there = &all[start..start + line.len()];
                        assert!(line == there, "{format:?} {fit:?} {ppi} {window:?} row {row}");
                    }
                }
            }
        }
    }
}

#[test]
fn a_window_beyond_the_picture_is_refused() {
    let size = Size::new(Length::from_mm(10), Length::from_mm(10));
    let picture = scaled(Pixels::new(10, 10), Format::RGB8, size, Fit::Stretch, 100.0);
    assert!(
        picture.fill(Window::new(0, 0, 1_000, 1), &mut Band::empty()).is_err(),
        "it is a defect, not a panic"
    );
}
