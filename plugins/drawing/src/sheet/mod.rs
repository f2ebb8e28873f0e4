//! Pages that are printed: each carries one picture at true size, computed while the file is written.
//!
//! The picture lies on the page as one lossless image of whole pixels, mirrored in its pixels (not by the page's matrix,
//! so that every reader shows the same), clipped to what is printed; beside and over it stands what a [`Canvas`] holds.
//! All images share one colour space and, where it has one, one profile. A part of an image is on its way to the disk as
//! soon as it is done and the pages' small objects follow at the end (`file`), because the PDF library would hold the whole
//! document and count its bytes in 32 bits.

pub(crate) mod deflate;
mod file;
mod image;
mod place;
mod rows;
pub mod shared;
mod taken;

use std::io::Write;

use lopdf::{Dictionary, Document, Object, ObjectId, Stream};
use seamwright_contract::colour::IccProfile;
use seamwright_contract::picture::{Channels, Window};
use seamwright_contract::{Fault, num};
use sha2::{Digest as _, Sha256};

use crate::page::Canvas;
use crate::pdf::{Info, document};
use deflate::Sum;
use file::{File, Long};

pub use deflate::Deflated;
pub use image::{Piece, Press};
pub use place::Place;
pub use taken::Readable;

/// The name under which a page's contents call its picture.
const ART: &str = "Art";

/// The number of the object that holds the attached profile, if there is one.
const PROFILE: u32 = 1;

/// A page to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The whole pixels that cover what is printed.
    pub window: Window,
    /// What stands on the page beside and over them.
    pub canvas: Canvas,
    /// Where the window lies on the page.
    pub image: Place,
    /// All that is seen of the window: the trim box.
    pub printed: Place,
}

/// A file of sheets, all but their pictures.
#[derive(Debug)]
pub struct Printout {
    windows: Vec<Window>,
    document: Document,
    channels: Channels,
    colour: ColourSpace,
}

impl Printout {
    /// Of these pages, whose pictures have these channels and mean what the profile says, if there is one.
    ///
    /// # Errors
    /// [`Fault::defect`] where the profile does not describe such pictures, or the PDF library fails.
    pub fn new(
        sheets: &[Sheet],
        channels: Channels,
        profile: Option<&IccProfile>,
        info: &Info,
    ) -> Result<Self, Fault> {
        let colour = colour_space(channels, profile)?;
        let canvases: Vec<_> = sheets.iter().map(|sheet| sheet.canvas.clone()).collect();
        let mut document = document(&canvases, info)?;
        // The pictures' numbers come first, each followed by its length's; all else has greater ones.
        let first_image = colour.first_image();
        document.renumber_objects_with(first_image + 2 * num::count(sheets.len()));
        for ((id, sheet), image) in
            document.get_pages().into_values().zip(sheets).zip((first_image..).step_by(2))
        {
            sheet
                .complete(&mut document, id, image)
                .map_err(|e| Fault::defect(format!("a page could not be put together: {e}.")))?;
        }
        let windows = sheets.iter().map(|sheet| sheet.window).collect();
        Ok(Self { windows, document, channels, colour })
    }

    /// All that is to be compressed, page by page from the top.
    #[must_use]
    pub fn pieces(&self) -> Vec<Piece> {
        self.windows.iter().flat_map(|window| image::pieces(*window, self.channels)).collect()
    }

    /// Writes the file. `make` hands over all [`Self::pieces`] as a [`Press`] leaves them, in their order; `ended` hears of
    /// each picture that is written, with what tells it from any other: the SHA-256 of its stream, in hex.
    ///
    /// # Errors
    /// [`Fault`] of the machine, or whatever `make` fails with.
    pub fn write(
        &self,
        to: &mut dyn Write,
        make: impl FnOnce(&mut dyn FnMut(&Deflated) -> Result<(), Fault>) -> Result<(), Fault>,
        ended: &mut dyn FnMut(String),
    ) -> Result<(), Fault> {
        let mut file = File::begin(to)?;
        if let Some(profile) = &self.colour.profile {
            file.stream(PROFILE, &profile.dict, &profile.content)?;
        }
        let mut pages = self.windows.iter().zip((self.colour.first_image()..).step_by(2));
        let mut open: Option<Page> = None;
        make(&mut |part| {
            let mut page = match open.take() {
                Some(page) => page,
                None => {
                    let (window, id) =
                        pages.next().ok_or_else(|| Fault::defect("there are more pieces than pages."))?;
                    let head = image::dictionary(*window, self.channels, &self.colour.space);
                    Page::begin(&mut file, id, &head, image::pieces(*window, self.channels).count())?
                }
            };
            page.put(&mut file, part)?;
            if page.left > 0 {
                open = Some(page);
                return Ok(());
            }
            ended(page.end(&mut file)?);
            Ok(())
        })?;
        if open.is_some() || pages.next().is_some() {
            return Err(Fault::defect("pieces of a page were never made."));
        }
        file.finish(&self.document)
    }
}

/// A page's picture on its way into the file.
struct Page {
    stream: Long,
    sum: Sum,
    sha256: Sha256,
    /// Pieces still to come.
    left: usize,
}

impl Page {
    fn begin(file: &mut File<'_>, id: u32, head: &Dictionary, pieces: usize) -> Result<Self, Fault> {
        let stream = file.begin_long(id, head)?;
        let mut page = Self { stream, sum: Sum::new(), sha256: Sha256::new(), left: pieces };
        page.write(file, &deflate::HEADER)?;
        Ok(page)
    }

    fn put(&mut self, file: &mut File<'_>, part: &Deflated) -> Result<(), Fault> {
        self.sum.add(part);
        self.left -= 1;
        self.write(file, &part.bytes)
    }

    /// Gives the SHA-256 of the stream.
    fn end(mut self, file: &mut File<'_>) -> Result<String, Fault> {
        let end = self.sum.end();
        self.write(file, &end)?;
        file.end_long(&self.stream)?;
        Ok(self.sha256.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
    }

    fn write(&mut self, file: &mut File<'_>, bytes: &[u8]) -> Result<(), Fault> {
        self.sha256.update(bytes);
        file.put(bytes)
    }
}

impl Sheet {
    /// Puts picture and boxes into the page that holds the canvas already.
    fn complete(&self, document: &mut Document, page: ObjectId, image: u32) -> Result<(), lopdf::Error> {
        let art = document.add_object(Stream::new(Dictionary::new(), self.contents().into_bytes()));
        let page = document.get_dictionary_mut(page)?;
        let canvas = page.get(b"Contents")?.clone();
        page.set("Contents", vec![Object::Reference(art), canvas]);
        page.set("TrimBox", self.printed.sides());
        page.set("BleedBox", self.printed.sides());
        let images = Dictionary::from_iter([(ART, Object::Reference((image, 0)))]);
        page.get_mut(b"Resources")?.as_dict_mut()?.set("XObject", images);
        Ok(())
    }

    /// The picture, clipped to what is printed.
    fn contents(&self) -> String {
        let (clip, image) = (self.printed, self.image);
        format!(
            "q\n{:.6} {:.6} {:.6} {:.6} re W n\n{:.6} 0 0 {:.6} {:.6} {:.6} cm\n/{ART} Do\nQ\n",
            clip.left,
            clip.bottom,
            clip.width,
            clip.height,
            image.width,
            image.height,
            image.left,
            image.bottom,
        )
    }
}

/// What the images' numbers mean.
#[derive(Debug)]
struct ColourSpace {
    /// As it stands in an image's dictionary.
    space: Object,
    /// The profile it refers to, shared by all pages.
    profile: Option<Stream>,
}

impl ColourSpace {
    /// The number of the first picture's object.
    fn first_image(&self) -> u32 {
        PROFILE + u32::from(self.profile.is_some())
    }
}

/// The picture's own channels, with the attached profile where there is one.
fn colour_space(channels: Channels, profile: Option<&IccProfile>) -> Result<ColourSpace, Fault> {
    let (device, signature) = match channels {
        Channels::Gray => ("DeviceGray", b"GRAY"),
        Channels::Rgb => ("DeviceRGB", b"RGB "),
        Channels::Cmyk => ("DeviceCMYK", b"CMYK"),
    };
    let device = Object::from(device);
    let Some(profile) = profile else {
        return Ok(ColourSpace { space: device, profile: None });
    };
    // Bytes 16 to 19 of an ICC profile name its colour space (ICC.1:2022, 7.2.6).
    if profile.bytes.get(16..20) != Some(signature) {
        return Err(Fault::defect(format!(
            "the profile '{}' to be attached does not describe pictures of {} channels.",
            profile.name,
            channels.count()
        )));
    }
    let count = i64::from(num::count(channels.count()));
    let head = Dictionary::from_iter([("N", Object::Integer(count)), ("Alternate", device)]);
    let mut stream = Stream::new(head, profile.bytes.to_vec());
    stream.compress().map_err(|e| Fault::defect(format!("the profile could not be compressed: {e}.")))?;
    Ok(ColourSpace {
        space: Object::Array(vec![Object::from("ICCBased"), Object::Reference((PROFILE, 0))]),
        profile: Some(stream),
    })
}
