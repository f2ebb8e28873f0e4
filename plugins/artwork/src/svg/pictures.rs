//! Pictures within a drawing: they are drawn as they are embedded, so each is decoded once beforehand, under limits.

use std::io::Cursor;
use std::sync::{Arc, Mutex, PoisonError};

use image_webp::WebPDecoder;
use resvg::tiny_skia::Pixmap;
use resvg::usvg::{Group, ImageKind, Node};
use zune_jpeg::JpegDecoder;

use crate::contract::{Fault, Ppi};
use crate::kind::{FileKind, sniff};
use crate::{Limits, faults};

/// Bytes that a pixel takes while it is decoded and drawn.
const PIXEL: u64 = 16;

/// Takes the pictures of a drawing, and remembers the first that is none.
#[derive(Debug)]
pub(super) struct Pictures {
    memory: u64,
    wrong: Mutex<Option<Fault>>,
}

impl Pictures {
    pub(super) fn new(limits: &Limits) -> Self {
        Self { memory: limits.memory / 2, wrong: Mutex::new(None) }
    }

    /// A picture that is embedded, if it can be drawn.
    pub(super) fn take(&self, data: Arc<Vec<u8>>) -> Option<ImageKind> {
        match self.checked(&data) {
            Ok(FileKind::Png) => Some(ImageKind::PNG(data)),
            Ok(FileKind::Jpeg) => Some(ImageKind::JPEG(data)),
            Ok(FileKind::WebP) => Some(ImageKind::WEBP(data)),
            Ok(_) => self.refuse(unknown()),
            Err(fault) => self.refuse(fault),
        }
    }

    /// A picture that lies elsewhere; the look over the text finds them before.
    pub(super) fn elsewhere(&self) -> Option<ImageKind> {
        self.refuse(unknown())
    }

    /// Whether all of them were.
    pub(super) fn sound(&self) -> Result<(), Fault> {
        let wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner).take();
        wrong.map_or(Ok(()), Err)
    }

    fn refuse(&self, fault: Fault) -> Option<ImageKind> {
        self.wrong.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(fault);
        None
    }

    fn checked(&self, data: &[u8]) -> Result<FileKind, Fault> {
        let kind = sniff(data).ok_or_else(unknown)?;
        let [width, height] = match kind {
            FileKind::Png => png(data)?,
            FileKind::Jpeg => jpeg(data)?,
            FileKind::WebP => webp(data)?,
            FileKind::Tiff | FileKind::Svg | FileKind::Pdf => return Err(unknown()),
        };
        let needed = u64::from(width).saturating_mul(u64::from(height)).saturating_mul(PIXEL);
        if needed > self.memory {
            return Err(faults::too_much_memory("drawing's picture", needed, self.memory));
        }
        match kind {
            FileKind::Png => drop(Pixmap::decode_png(data).map_err(|why| damaged(&why.to_string()))?),
            FileKind::Jpeg => {
                drop(JpegDecoder::new(Cursor::new(data)).decode().map_err(|why| damaged(&why.to_string()))?);
            }
            _ => {
                let mut decoder =
                    WebPDecoder::new(Cursor::new(data)).map_err(|why| damaged(&why.to_string()))?;
                let mut rows = crate::sink::room(decoder.output_buffer_size().unwrap_or(usize::MAX))?;
                decoder.read_image(&mut rows).map_err(|why| damaged(&why.to_string()))?;
            }
        }
        Ok(kind)
    }
}

fn png(data: &[u8]) -> Result<[u32; 2], Fault> {
    let side = |at: usize| data.get(at..at + 4)?.try_into().ok().map(u32::from_be_bytes);
    side(16).zip(side(20)).map(|(width, height)| [width, height]).ok_or_else(|| damaged("it is cut off"))
}

fn jpeg(data: &[u8]) -> Result<[u32; 2], Fault> {
    let mut decoder = JpegDecoder::new(Cursor::new(data));
    decoder.decode_headers().map_err(|why| damaged(&why.to_string()))?;
    let info = decoder.info().ok_or_else(|| damaged("it has no size"))?;
    Ok([info.width.into(), info.height.into()])
}

fn webp(data: &[u8]) -> Result<[u32; 2], Fault> {
    let decoder = WebPDecoder::new(Cursor::new(data)).map_err(|why| damaged(&why.to_string()))?;
    let (width, height) = decoder.dimensions();
    Ok([width, height])
}

/// The fewest pixels an inch, at the drawing's own size, that a picture in it has.
pub(super) fn coarsest(group: &Group) -> Option<Ppi> {
    let of = |node: &Node| match node {
        Node::Group(group) => coarsest(group),
        Node::Image(image) => {
            let (own, placed) = (image.size(), image.abs_bounding_box());
            let across = f64::from(own.width()) / f64::from(placed.width());
            let down = f64::from(own.height()) / f64::from(placed.height());
            Ppi::new(across.min(down) * 96.0)
        }
        Node::Path(_) | Node::Text(_) => None,
    };
    group.children().iter().filter_map(of).reduce(|one, other| if other < one { other } else { one })
}

fn damaged(why: &str) -> Fault {
    let Fault { what, cure, .. } = faults::damaged(why);
    Fault::artwork(format!("A picture within the drawing cannot be drawn. {what}"), cure)
}

fn unknown() -> Fault {
    Fault::artwork(
        "A picture within the drawing is of a kind that is not drawn here.",
        "Embed it as PNG or JPEG in the program it comes from, and save the drawing again.",
    )
}
