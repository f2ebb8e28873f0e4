//! A layout as a night would have it, of artwork painted here, and the means to read the page.

use std::sync::Arc;

use lopdf::content::Content;
use lopdf::{Document, Object};
use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::colour::{DifferenceMap, InkRange, Swatch};
use seamwright_contract::layout::{LayUp, Layout};
use seamwright_contract::picture::{Channels, Depth, Format, Pixels, Window};
use seamwright_contract::plugin::Means;
use seamwright_contract::sample::{self, Pixmap, Tray};
use seamwright_contract::{Fault, Lab, Length, Page, Point, Rect, Size};

pub(super) const MEANS: Means = Means { memory: 1 << 28, threads: 2, keep: 0 };

pub(super) const fn mm(mm: i64) -> Length {
    Length::from_mm(mm)
}

/// What differs from test to test.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    pub(super) design: Size,
    pub(super) ppi: f64,
    pub(super) channels: Channels,
    pub(super) depth: Depth,
    pub(super) mirrored: bool,
    /// The page as it lies; margins of 5 mm.
    pub(super) page: Size,
    pub(super) range: bool,
    pub(super) job: String,
}

impl Default for Plan {
    /// 24 x 12.5 in on Letter.
    fn default() -> Self {
        Self {
            design: Size::new(Length::from_um(609_600), Length::from_um(317_500)),
            ppi: 50.0,
            channels: Channels::Rgb,
            depth: Depth::Eight,
            mirrored: true,
            page: Size::new(Length::from_um(215_900), Length::from_um(279_400)),
            range: true,
            job: "chart".to_owned(),
        }
    }
}

impl Plan {
    /// Bare, but for a colourful block at the right, a grating in the darks at the lower left, and a dull block that the
    /// printer is said not to reach in the middle.
    pub(super) fn layout(&self) -> Layout {
        let design = sample::design(self.design, self.ppi);
        let grid = design.grid();
        let mut art = Pixmap::bare(grid, Format { channels: self.channels, depth: self.depth });
        let part = |x: u32, y: u32, w: u32, h: u32| {
            let of = |whole: u32, percent: u32| whole * percent / 100;
            Window::new(
                of(grid.width, x),
                of(grid.height, y),
                of(grid.width, w).max(1),
                of(grid.height, h).max(1),
            )
        };
        let (vivid, dark, light, dull): (&[u16], &[u16], &[u16], &[u16]) = match self.channels {
            Channels::Gray => (&[30_000], &[5_000], &[20_000], &[40_000]),
            Channels::Rgb => (&[60_000, 2_000, 9_000], &[4_000; 3], &[14_000; 3], &[33_000, 34_000, 30_000]),
            Channels::Cmyk => (
                &[0, 60_000, 60_000, 0],
                &[0, 0, 0, 62_000],
                &[0, 0, 0, 50_000],
                &[9_000, 8_000, 9_000, 20_000],
            ),
        };
        art.paint(part(75, 20, 20, 40), vivid);
        art.paint(part(40, 30, 20, 30), dull);
        for stripe in 0..10 {
            art.paint(part(5 + stripe, 55, 1, 40), if stripe % 2 == 0 { dark } else { light });
        }
        let mut order = sample::order();
        order.size = self.design;
        let mut layout = sample::layout(order, Arc::new(art));
        layout.job.name = self.job.clone();
        layout.design = Some(design);
        layout.mirrored = self.mirrored;
        let mut colour = sample::colour();
        colour.range = self.range.then(|| self.range());
        layout.colour = Some(colour);
        layout.lay_up = Some(self.lay_up());
        layout
    }

    fn range(&self) -> InkRange {
        let size = Pixels::new(60, 40);
        let far = |x: u32, y: u32| (24..36).contains(&x) && (12..24).contains(&y);
        let cells = (0..size.height).flat_map(|y| (0..size.width).map(move |x| (x, y)));
        let at = Point::new(self.design.width.half(), self.design.height * 45 / 100);
        let worst = Swatch {
            artwork: Lab::new(54.0, -1.0, 3.0),
            printed: Lab::new(60.0, 0.0, 0.0),
            difference: 9.0,
            share: 0.05,
            at,
        };
        InkRange {
            share: 0.06,
            darker: 0.0,
            worst: vec![worst; 3],
            map: DifferenceMap {
                size,
                cells: cells.map(|(x, y)| if far(x, y) { 9.0 } else { 0.2 }).collect(),
            },
        }
    }

    fn lay_up(&self) -> LayUp {
        let page = self.page;
        LayUp {
            paper: PaperSize { name: "paper".to_owned(), size: page },
            orientation: Orientation::Portrait,
            page,
            live: Rect::new(mm(5), mm(5), page.width - mm(10), page.height - mm(10)),
            ..sample::lay_up()
        }
    }
}

pub(super) fn write(layout: &Layout) -> Result<Vec<u8>, Fault> {
    let mut tray = Tray::new("test-print.pdf");
    crate::writer().write(layout, &MEANS, &mut tray)?;
    Ok(tray.take())
}

/// The one page: its size and where its picture lies, both in millimetres from its top left, and the picture's samples.
pub(super) struct Read {
    pub(super) page: [f64; 2],
    pub(super) image: [f64; 4],
    pub(super) size: Pixels,
    pub(super) samples: Vec<u8>,
}

pub(super) fn read(layout: &Layout) -> Read {
    let document = Document::load_mem(&write(layout).unwrap()).unwrap();
    let pages = document.get_pages();
    assert_eq!(pages.len(), 1, "one page");
    let id = pages[&1];
    let mm = |object: &Object| f64::from(object.as_float().unwrap()) / 72.0 * 25.4;
    let page = document.get_dictionary(id).unwrap();
    let sides: Vec<f64> = page.get(b"MediaBox").unwrap().as_array().unwrap().iter().map(mm).collect();
    let content = Content::decode(&document.get_page_content(id)).unwrap();
    let matrix = content.operations.iter().find(|operation| operation.operator == "cm").unwrap();
    let m: Vec<f64> = matrix.operands.iter().map(mm).collect();
    let resources = page.get(b"Resources").unwrap().as_dict().unwrap();
    let art = resources.get(b"XObject").unwrap().as_dict().unwrap().get(b"Art").unwrap();
    let art = document.get_object(art.as_reference().unwrap()).unwrap().as_stream().unwrap();
    let count = |key: &[u8]| u32::try_from(art.dict.get(key).unwrap().as_i64().unwrap()).unwrap();
    Read {
        page: [sides[2], sides[3]],
        image: [m[4], sides[3] - m[5] - m[3], m[0], m[3]],
        size: Pixels::new(count(b"Width"), count(b"Height")),
        samples: art.decompressed_content().unwrap(),
    }
}

/// A rectangle of the page in millimetres: left, top, right, bottom.
pub(super) fn edges(rect: &Rect<Page>) -> [f64; 4] {
    [rect.x, rect.y, rect.right(), rect.bottom()].map(Length::mm)
}
