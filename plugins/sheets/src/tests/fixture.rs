//! A job whose picture is a formula, and the means to read its file.

use std::io;
use std::path::PathBuf;
use std::sync::Arc;

use lopdf::{Document, Object, ObjectId};
use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::colour::{Colour, IccProfile, Source};
use seamwright_contract::layout::{Artwork, Job, LayUp, Layout, Panel};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::plugin::Means;
use seamwright_contract::sample::{self, Tray};
use seamwright_contract::units::Units;
use seamwright_contract::{Face, Fault, Length, Point, Rect, Size, num};

pub(super) const LETTER: Size = Size::new(Length::from_um(215_900), Length::from_um(279_400));

/// A picture that is a formula, with detail in every pixel.
#[derive(Debug)]
pub(super) struct Formula {
    pub(super) size: Pixels,
    pub(super) format: Format,
    /// From this row on nothing can be read.
    pub(super) broken_from: u32,
}

impl Formula {
    pub(super) fn sample(x: u32, y: u32, channel: usize) -> u16 {
        let spread = x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503) ^ num::count(channel * 977);
        u16::try_from((spread ^ (spread >> 13)) & 0xFFFF).unwrap()
    }
}

impl Picture for Formula {
    fn size(&self) -> Pixels {
        self.size
    }

    fn format(&self) -> Format {
        self.format
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        if !want.within(self.size) {
            return Err(Fault::defect("more was asked for than there is."));
        }
        if want.y + want.height > self.broken_from {
            return Err(Fault::artwork("it breaks off.", "Save it again."));
        }
        out.reset(want.size(), self.format);
        let all = (want.y..want.y + want.height).flat_map(|y| {
            (want.x..want.x + want.width).flat_map(move |x| (0..4).map(move |channel| (x, y, channel)))
        });
        let channels = self.format.channels.count();
        let all = all.filter(|(_, _, channel)| *channel < channels).map(|(x, y, c)| Self::sample(x, y, c));
        match &mut out.samples {
            Samples::Eight(samples) => {
                samples.iter_mut().zip(all).for_each(|(to, from)| *to = num::narrow(from));
            }
            Samples::Sixteen(samples) => samples.iter_mut().zip(all).for_each(|(to, from)| *to = from),
        }
        Ok(())
    }

    fn reduced(&self, _size: Pixels) -> Result<Band, Fault> {
        Err(Fault::defect("not asked for"))
    }
}

/// What differs from test to test.
pub(super) struct Plan {
    pub(super) columns: u32,
    pub(super) rows: u32,
    pub(super) design: Size,
    pub(super) ppi: f64,
    pub(super) format: Format,
    pub(super) mirrored: bool,
    pub(super) attached: Option<IccProfile>,
    pub(super) broken_from: u32,
}

impl Default for Plan {
    /// The example of a mirrored 2 x 2 lay-up, 400 x 300 mm, lap 5 mm.
    fn default() -> Self {
        Self {
            columns: 2,
            rows: 2,
            design: Size::new(Length::from_mm(400), Length::from_mm(300)),
            ppi: 25.4,
            format: Format::RGB8,
            mirrored: true,
            attached: None,
            broken_from: u32::MAX,
        }
    }
}

/// Where the printed face lies on every page.
pub(super) const AT: Point<seamwright_contract::Page> =
    Point::new(Length::from_um(6_350), Length::from_um(12_700));

/// Laps of 5 mm.
const HALF_LAP: Length = Length::from_um(2_500);

impl Plan {
    pub(super) fn layout(&self) -> Layout {
        let design = sample::design(self.design, self.ppi);
        let picture = Formula { size: design.grid(), format: self.format, broken_from: self.broken_from };
        let artwork = Artwork {
            file: "chart.png".to_owned(),
            sha256: "00".repeat(32),
            size: picture.size,
            drawing: None,
            source: Source::Srgb { said: true },
        };
        let job = Job { name: "chart-3f9a21".to_owned(), fonts: PathBuf::new(), scratch: PathBuf::new() };
        let mut layout = Layout::new(job, order(self.design), artwork, Arc::new(picture));
        layout.design = Some(design);
        layout.mirrored = self.mirrored;
        layout.colour = Some(Colour { attached: self.attached.clone(), ..sample::colour() });
        layout.lay_up = Some(self.lay_up());
        layout
    }

    fn lay_up(&self) -> LayUp {
        let edge = |all: Length, part: u32, parts: u32| all * i64::from(part) / i64::from(parts);
        let mut panels = Vec::new();
        for row in 0..self.rows {
            for column in 0..self.columns {
                // Columns are counted on paper: mirrored, the first has the greatest x.
                let place = if self.mirrored { self.columns - 1 - column } else { column };
                let cell: Rect<Face> = Rect::from_edges(
                    edge(self.design.width, place, self.columns),
                    edge(self.design.height, row, self.rows),
                    edge(self.design.width, place + 1, self.columns),
                    edge(self.design.height, row + 1, self.rows),
                );
                let grown = Rect::from_edges(
                    cell.x - HALF_LAP,
                    cell.y - HALF_LAP,
                    cell.right() + HALF_LAP,
                    cell.bottom() + HALF_LAP,
                );
                let number = row * self.columns + column + 1;
                panels.push(Panel {
                    number,
                    row: row + 1,
                    column: column + 1,
                    page: number,
                    face: grown.intersection(&Rect::of_size(self.design)).unwrap(),
                    cell,
                    at: AT,
                    trim: Vec::new(),
                    outer: Vec::new(),
                    on_top_of: Vec::new(),
                    marks: Vec::new(),
                    piece: None,
                });
            }
        }
        LayUp {
            paper: PaperSize { name: "letter".to_owned(), size: LETTER },
            orientation: Orientation::Portrait,
            page: LETTER,
            live: Rect::of_size(LETTER),
            rows: self.rows,
            columns: self.columns,
            panels,
            ..sample::lay_up()
        }
    }
}

fn order(size: Size) -> Order {
    let mut order = sample::order();
    order.blank.size = size;
    Order { size, allow_low_ppi: true, units: Units::Metric, ..order }
}

pub(super) const MEANS: Means = Means { memory: 1 << 30, threads: 2, keep: 0 };

/// Writes a layout into so much room.
pub(super) fn write(layout: &Layout, means: &Means, room: usize) -> Result<Vec<u8>, Fault> {
    let mut tray = Tray { room, ..Tray::new("sheets.pdf") };
    crate::writer().write(layout, means, &mut tray)?;
    Ok(tray.take())
}

/// Writes a layout and reads it.
pub(super) fn read(layout: &Layout) -> Document {
    Document::load_mem(&write(layout, &MEANS, usize::MAX).unwrap()).unwrap()
}

pub(super) fn numbers(objects: &[Object]) -> Vec<f64> {
    objects.iter().map(|object| f64::from(object.as_float().unwrap())).collect()
}

/// The dictionary and bytes of a page's picture.
pub(super) fn picture(document: &Document, page: ObjectId) -> &lopdf::Stream {
    let resources = document.get_dictionary(page).unwrap().get(b"Resources").unwrap().as_dict().unwrap();
    let images = resources.get(b"XObject").unwrap().as_dict().unwrap();
    assert_eq!(images.len(), 1, "a page lists its own picture only");
    let id = images.get(b"Art").unwrap().as_reference().unwrap();
    document.get_object(id).unwrap().as_stream().unwrap()
}

/// The samples of a page's picture, decoded as the PNG it is the inside of (CMYK as if it were RGB with alpha:
/// four samples a pixel all the same).
pub(super) fn samples(document: &Document, page: ObjectId, channels: Channels) -> (Pixels, Vec<u8>) {
    let stream = picture(document, page);
    let get = |key: &[u8]| u32::try_from(stream.dict.get(key).unwrap().as_i64().unwrap()).unwrap();
    let size = Pixels::new(get(b"Width"), get(b"Height"));
    let parms = stream.dict.get(b"DecodeParms").unwrap().as_dict().unwrap();
    assert_eq!(parms.get(b"Predictor").unwrap().as_i64().unwrap(), 15);
    assert_eq!(parms.get(b"Columns").unwrap().as_i64().unwrap(), i64::from(size.width));
    assert_eq!(parms.get(b"Colors").unwrap().as_i64().unwrap(), i64::from(num::count(channels.count())));
    let kind = match channels {
        Channels::Gray => 0,
        Channels::Rgb => 2,
        Channels::Cmyk => 6,
    };
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut chunk = |name: &[u8], data: &[u8]| {
        png.extend(num::count(data.len()).to_be_bytes());
        let from = png.len();
        png.extend(name);
        png.extend(data);
        let crc = crc32fast::hash(&png[from..]);
        png.extend(crc.to_be_bytes());
    };
    let mut head = [size.width.to_be_bytes(), size.height.to_be_bytes()].concat();
    head.extend([8, kind, 0, 0, 0]);
    chunk(b"IHDR", &head);
    chunk(b"IDAT", &stream.content);
    chunk(b"IEND", b"");
    let mut reader = png::Decoder::new(io::Cursor::new(png)).read_info().unwrap();
    let mut out = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut out).unwrap();
    (size, out)
}

pub(super) fn format(channels: Channels, depth: Depth) -> Format {
    Format { channels, depth }
}
