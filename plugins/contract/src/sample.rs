//! An order, a job and pictures made by hand, for the tests of whoever builds on the contract: behind the feature `sample`,
//! so that no program carries them. A test changes what it is about and leaves the rest.
#![expect(clippy::unwrap_used, reason = "every value is written here and read by the contract's own tests")]

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use crate::catalogue::{Blank, Moves, Orientation, PaperColour, PaperSize, Press, Printer, Shape, Substrate};
use crate::colour::{Colour, Contrast, InkUse, Source};
use crate::fault::Fault;
use crate::ink::InkMap;
use crate::layout::{Artwork, Design, Job, LayUp, Layout};
use crate::num;
use crate::order::{Fit, Lies, Order};
use crate::outline::Outline;
use crate::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use crate::plugin::Outbox;
use crate::sending::Print;
use crate::settings::Range;
use crate::survey::{Survey, SurveyCell};
use crate::units::{Length, Ppi, Seconds, Units};
use crate::{Face, Lab, Rect, Sides, Size};

const fn um(value: i64) -> Length {
    Length::from_um(value)
}

/// A design of 24 x 12.5 in that fills its mat, on Letter with margins of 1/4 in, under a plate of 12 x 10 in; a floor
/// of 100 and a limit of 60 ppi.
#[must_use]
pub fn order() -> Order {
    let size = Size::new(um(609_600), um(317_500));
    let letter = PaperSize { name: "letter".to_owned(), size: Size::new(um(215_900), um(279_400)) };
    Order {
        blank: Blank {
            name: "mat".to_owned(),
            shape: Shape::Rectangle,
            size,
            reach: Length::ZERO,
            substrate: Substrate {
                name: "polyester-mat".to_owned(),
                heat: Range { low: "190C".parse().unwrap(), high: "200C".parse().unwrap() },
                dwell: Range { low: Seconds(35), high: Seconds(70) },
                preheat: Seconds(10),
                pressure: "medium".to_owned(),
                cool: Seconds(180),
                peel_hot: true,
                seen_through: false,
                origin: "common practice, no source".to_owned(),
            },
            ppi_floor: Ppi::new(100.0).unwrap(),
            ppi_refuse: Ppi::new(60.0).unwrap(),
            colour: Lab::WHITE,
            shrink: None,
        },
        nominal: None,
        size,
        lies: [Lies::Centred; 2],
        fit: Fit::Contain,
        page: 1,
        papers: vec![letter.clone()],
        orientation: None,
        printer: Printer {
            name: "desk-letter".to_owned(),
            papers: vec![letter],
            margins: Sides::all(um(6_350)),
            paper_margins: BTreeMap::new(),
            colour: PaperColour::default(),
            on_paper: BTreeMap::new(),
            full_ink: None,
            embed: true,
            scale: BTreeMap::new(),
            delivers: None,
            send_to: None,
        },
        intent: None,
        press: Press {
            name: "hand".to_owned(),
            platen: Size::new(um(304_800), um(254_000)),
            weak_edge: um(6_350),
            overlap: um(12_700),
            moves: Moves::Plate,
            turns: true,
            throat: None,
            board: None,
            settings: BTreeMap::new(),
        },
        keep_clear: Vec::new(),
        extra_sheets: 0,
        copies: 1,
        share: false,
        said: Vec::new(),
        note: None,
        fields: BTreeMap::new(),
        row: None,
        allow_low_ppi: false,
        print: Print::No,
        units: Units::Inch,
    }
}

/// A design of this size, wholly covered by a picture of this resolution, which the sheets keep.
#[must_use]
pub fn design(size: Size, ppi: f64) -> Design {
    let ppi = Ppi::new(ppi).unwrap();
    let box_of = Rect::of_size(size);
    let outline = Outline::new(Shape::Rectangle, box_of, Length::ZERO);
    Design { size, picture: box_of, sheet_ppi: ppi, artwork_ppi: [ppi, ppi], outline }
}

/// A lay-up on upright Letter, all of it printable, without panels.
#[must_use]
pub fn lay_up() -> LayUp {
    let paper = order().papers[0].clone();
    LayUp {
        page: paper.size,
        live: Rect::of_size(paper.size),
        scale: [1.0, 1.0],
        paper,
        orientation: Orientation::Portrait,
        rows: 0,
        columns: 0,
        panels: Vec::new(),
        seams: Vec::new(),
        final_trim: Sides::default(),
        left_out: Vec::new(),
        tape: Vec::new(),
        weighed: Vec::new(),
        one_more: None,
    }
}

/// A colour decision that leaves everything to the printer's driver.
#[must_use]
pub fn colour() -> Colour {
    Colour {
        converted: None,
        attached: None,
        range: None,
        contrast: Contrast { on_white: [0.0, 100.0], on_blank: [0.0, 100.0] },
        ink: InkUse { coverage: 0.25, ml: None },
    }
}

/// A job by an order, of a picture that says it is sRGB; nothing is decided yet.
#[must_use]
pub fn layout(order: Order, picture: Arc<dyn Picture>) -> Layout {
    let artwork = Artwork {
        file: "chart.png".to_owned(),
        sha256: String::new(),
        size: picture.size(),
        drawing: None,
        source: Source::Srgb { said: true },
    };
    Layout::new(
        Job { name: "chart-0a1b2c".to_owned(), fonts: PathBuf::new(), scratch: std::env::temp_dir() },
        order,
        artwork,
        picture,
    )
}

/// Pixels in memory as a picture; reduced by picking.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pixmap {
    /// Columns and rows.
    pub size: Pixels,
    /// What the samples mean.
    pub channels: Channels,
    /// All of them, row by row.
    pub samples: Samples,
}

impl Pixmap {
    /// Nothing but bare pixels.
    #[must_use]
    pub fn bare(size: Pixels, format: Format) -> Self {
        Self { size, channels: format.channels, samples: Band::bare(size, format).samples }
    }

    /// One row of pixels.
    #[must_use]
    pub fn row(channels: Channels, samples: Samples) -> Arc<dyn Picture> {
        let width = u32::try_from(samples.len() / channels.count()).unwrap();
        Arc::new(Self { size: Pixels::new(width, 1), channels, samples })
    }

    /// Gives all pixels of a window one colour, said in 16 bits a sample.
    pub fn paint(&mut self, window: Window, pixel: &[u16]) {
        let each = self.channels.count();
        for y in window.y..window.y + window.height {
            for x in window.x..window.x + window.width {
                let at = (num::index(y) * num::index(self.size.width) + num::index(x)) * each;
                for (sample, at) in pixel.iter().zip(at..at + each) {
                    match &mut self.samples {
                        Samples::Eight(samples) => samples[at] = num::narrow(*sample),
                        Samples::Sixteen(samples) => samples[at] = *sample,
                    }
                }
            }
        }
    }

    /// The pixels of these columns and rows.
    fn picked(&self, columns: &[u32], rows: &[u32]) -> Band {
        fn of<T: Copy>(samples: &[T], each: usize, places: impl Iterator<Item = usize>) -> Vec<T> {
            places.flat_map(|at| samples[at * each..][..each].iter().copied()).collect()
        }
        let size = Pixels::new(num::count(columns.len()), num::count(rows.len()));
        let mut band = Band::bare(size, self.format());
        let width = num::index(self.size.width);
        let places =
            rows.iter().flat_map(|y| columns.iter().map(move |x| num::index(*y) * width + num::index(*x)));
        let each = self.channels.count();
        band.samples = match &self.samples {
            Samples::Eight(samples) => Samples::Eight(of(samples, each, places)),
            Samples::Sixteen(samples) => Samples::Sixteen(of(samples, each, places)),
        };
        band
    }
}

impl Picture for Pixmap {
    fn size(&self) -> Pixels {
        self.size
    }

    fn format(&self) -> Format {
        let depth = match self.samples {
            Samples::Eight(_) => Depth::Eight,
            Samples::Sixteen(_) => Depth::Sixteen,
        };
        Format { channels: self.channels, depth }
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size)?;
        let span = |from: u32, count: u32| (from..from + count).collect::<Vec<_>>();
        *out = self.picked(&span(want.x, want.width), &span(want.y, want.height));
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let middles = |count: u32, whole: u32| {
            (0..count).map(|i| (2 * i + 1) * whole / (2 * count)).collect::<Vec<_>>()
        };
        Ok(self.picked(&middles(size.width, self.size.width), &middles(size.height, self.size.height)))
    }

    fn recipe(&self, of: Window) -> Option<String> {
        Some(format!("{of:?} of pixels"))
    }
}

/// A length as written, with its unit.
#[must_use]
pub fn length(text: &str) -> Length {
    text.parse().unwrap_or_else(|why| panic!("{text}: {why}"))
}

/// A size in inches, as written.
#[must_use]
pub fn inches(width: &str, height: &str) -> Size {
    Size::new(length(&format!("{width}in")), length(&format!("{height}in")))
}

/// Whole numbers between two that look random and are the same each time (the multiplier of Knuth's MMIX; from memory).
pub fn numbers(mut state: u64) -> impl FnMut(i64, i64) -> i64 {
    move |low, high| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + i64::try_from((state >> 33) % u64::try_from(high - low + 1).unwrap()).unwrap()
    }
}

/// A design without pixels: an outline, and how dark it is, of 255, at places given in mm, in cells of about `cell` mm.
#[derive(Clone, Copy)]
pub struct Art<'a> {
    /// Its size.
    pub size: Size,
    /// Its outline, over all of it.
    pub shape: Shape,
    /// The side of a cell of its ink map, in mm.
    pub cell: f64,
    /// How dark it is; 0 is bare.
    pub dark: &'a dyn Fn(f64, f64) -> u8,
}

impl std::fmt::Debug for Art<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Art({:?}, {:?})", self.size, self.shape)
    }
}

impl Art<'_> {
    /// Evenly inked all over.
    #[must_use]
    pub const fn full(size: Size) -> Self {
        Self::shaped(size, Shape::Rectangle)
    }

    /// Evenly inked in a shape.
    #[must_use]
    pub const fn shaped(size: Size, shape: Shape) -> Self {
        Art { size, shape, cell: 2.0, dark: &|_, _| 200 }
    }

    /// Its outline.
    #[must_use]
    pub fn outline(&self) -> Outline<Face> {
        Outline::new(self.shape, Rect::of_size(self.size), Length::ZERO)
    }

    /// Its ink map, of a picture with a pixel a mm.
    #[must_use]
    pub fn map(&self) -> InkMap {
        let borders = |length: Length| -> Vec<f64> {
            let count = (length.mm() / self.cell).ceil().max(1.0);
            (0..=num::pixels(count)).map(|i| f64::from(i) * length.mm() / count).collect()
        };
        let (across, down) = (borders(self.size.width), borders(self.size.height));
        let (mut cells, mut means) = (Vec::new(), Vec::new());
        for rows in down.windows(2) {
            for columns in across.windows(2) {
                let dark =
                    (self.dark)(f64::midpoint(columns[0], columns[1]), f64::midpoint(rows[0], rows[1]));
                let ink = if dark > 0 { 255 } else { 0 };
                let (left, right) = (num::single(columns[0]), num::single(columns[1]));
                cells.push(SurveyCell { ink, faint: 0, left, right });
                means.push(255 - dark);
            }
        }
        let count = |borders: &[f64]| num::count(borders.len() - 1);
        let format = Format { channels: Channels::Gray, depth: Depth::Eight };
        let mut band = Band::bare(Pixels::new(count(&across), count(&down)), format);
        band.samples = Samples::Eight(means);
        let inked = down.windows(2).map(|rows| [rows[0], rows[1]]).collect();
        let design = Design { outline: self.outline(), ..design(self.size, 25.4) };
        InkMap::new(&Survey { across, down, cells, inked, means: band }, &design)
    }
}

/// An outbox in memory that keeps one file, with so much room for it; others are lost.
#[derive(Debug, Clone)]
pub struct Tray {
    /// The file that is kept.
    pub file: &'static str,
    /// How many bytes there is room for.
    pub room: usize,
    /// The files that are there already.
    pub before: Vec<&'static str>,
    /// What was written so far; shared with the files handed out.
    pub bytes: Arc<Mutex<Vec<u8>>>,
    /// The panels noted.
    pub panels: BTreeMap<u32, String>,
}

impl Tray {
    /// With all the room there is.
    #[must_use]
    pub fn new(file: &'static str) -> Self {
        Self { file, room: usize::MAX, before: Vec::new(), bytes: Arc::default(), panels: BTreeMap::new() }
    }

    /// What was written.
    #[must_use]
    pub fn take(&self) -> Vec<u8> {
        std::mem::take(&mut *self.bytes.lock().unwrap())
    }
}

impl Outbox for Tray {
    fn create(&mut self, name: &str) -> Result<Box<dyn Write + Send>, Fault> {
        if name != self.file {
            return Ok(Box::new(io::sink()));
        }
        Ok(Box::new(self.clone()))
    }

    fn files(&self) -> Vec<String> {
        self.before.iter().map(|name| (*name).to_owned()).collect()
    }

    fn note_panel(&mut self, panel: u32, sha256: String) {
        self.panels.insert(panel, sha256);
    }

    fn panels(&self) -> &BTreeMap<u32, String> {
        &self.panels
    }
}

impl Write for Tray {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut all = self.bytes.lock().unwrap();
        let taken = bytes.len().min(self.room - all.len());
        all.extend_from_slice(&bytes[..taken]);
        if taken == 0 && !bytes.is_empty() {
            return Err(io::ErrorKind::StorageFull.into());
        }
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
