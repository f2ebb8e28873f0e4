//! Every pixel of the page, against the artwork.

use seamwright_contract::num;
use seamwright_contract::picture::{Band, Channels, Depth, Picture, Pixels, Samples, Window};

use super::fixture::{Plan, read};
use crate::arrange;
use crate::scrap::Content;

fn bytes(band: &Band) -> Vec<u8> {
    match &band.samples {
        Samples::Eight(samples) => samples.clone(),
        Samples::Sixteen(samples) => samples.iter().map(|sample| num::narrow(*sample)).collect(),
    }
}

fn fill(picture: &dyn Picture, window: Window) -> Vec<u8> {
    let mut band = Band::empty();
    picture.fill(window, &mut band).unwrap();
    bytes(&band)
}

#[test]
fn the_page_holds_the_artworks_own_pixels_at_true_size() {
    for channels in [Channels::Gray, Channels::Rgb, Channels::Cmyk] {
        for depth in [Depth::Eight, Depth::Sixteen] {
            for mirrored in [true, false] {
                let plan = Plan { channels, depth, mirrored, ..Plan::default() };
                let layout = plan.layout();
                let (_, scrap) = arrange::page(&layout).unwrap();
                let read = read(&layout);
                assert_eq!(read.size, scrap.size);
                // 50 pixels an inch are 0.508 mm each.
                for (size, pixels) in read.image[2..].iter().zip([read.size.width, read.size.height]) {
                    assert!((size - f64::from(pixels) * 0.508).abs() < 1e-3, "{size} mm for {pixels} pixels");
                }
                let each = channels.count();
                let pixel = |x: u32, y: u32| {
                    let x = if mirrored { read.size.width - 1 - x } else { x };
                    &read.samples[num::index(y * read.size.width + x) * each..][..each]
                };
                let mut inked = vec![false; num::index(read.size.width * read.size.height)];
                for part in &scrap.parts {
                    let Window { x: left, y: top, width, height } = part.window;
                    let wanted = match part.content {
                        Content::Crop { x, y } => {
                            fill(layout.picture.as_ref(), Window { x, y, ..part.window })
                        }
                        Content::Flat(ink) => ink[..each].repeat(num::index(width * height)),
                    };
                    let mut wanted = wanted.chunks_exact(each);
                    for y in top..top + height {
                        for x in left..left + width {
                            assert_eq!(pixel(x, y), wanted.next().unwrap(), "{part:?} at {x}, {y}");
                            inked[num::index(y * read.size.width + x)] = true;
                        }
                    }
                }
                let beside = (0..read.size.height).flat_map(|y| (0..read.size.width).map(move |x| (x, y)));
                for ((x, y), _) in beside.zip(&inked).filter(|(_, inked)| !**inked) {
                    assert!(pixel(x, y).iter().all(|sample| *sample == channels.bare()), "bare at {x}, {y}");
                }
            }
        }
    }
}

#[test]
fn a_window_is_that_part_of_the_whole() {
    let (_, scrap) = arrange::page(&Plan { ppi: 20.0, ..Plan::default() }.layout()).unwrap();
    let Pixels { width, height } = scrap.size;
    let whole = fill(&scrap, Window::whole(scrap.size));
    for window in [
        Window::new(0, 0, width, 7),
        Window::new(3, 11, width - 5, height - 20),
        Window::new(width / 2, height / 2, 1, 1),
        Window::new(0, height - 1, width, 1),
    ] {
        let rows = window.y..window.y + window.height;
        let wanted: Vec<u8> = rows
            .flat_map(|y| {
                whole[num::index(y * width + window.x) * 3..][..num::index(window.width) * 3].to_vec()
            })
            .collect();
        assert_eq!(fill(&scrap, window), wanted, "{window:?}");
    }
    assert!(scrap.fill(Window::new(1, 0, width, 1), &mut Band::empty()).is_err(), "beyond it");
}
