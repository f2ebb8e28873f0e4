//! `sheets`: the PDF that is printed, one page a panel at true size.
//!
//! A page's box is the paper, its trim box the printed face. The picture lies on it as one lossless image of
//! whole pixels of the design-wide grid, mirrored in its pixels (not by the page's matrix, so that every reader
//! shows the same), clipped to the printed face; the marks lie beside it as lines and text.
//!
//! Here, and only here, full-size pixels are computed: band by band, page beside page on the job's threads,
//! so that no more than a few compressed pages are ever in memory (`crew`). Each image is on its way to the
//! disk as soon as it is done and the pages' small objects follow at the end (`file`), because the PDF library
//! would hold the whole document and count its bytes in 32 bits.

mod crew;
mod file;
mod image;
mod page;
mod rows;

use lopdf::{Dictionary, Document, Object, Stream};
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::Channels;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_contract::{Fault, num};
use seamwright_drawing::pdf::{Info, document};

use crate::crew::Limits;
use crate::file::File;
use crate::page::Sheet;

/// This writer, as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "sheets",
    about: "the sheets to print, one PDF page a panel at true size",
    needs: &[Fact::Design, Fact::Panels],
    example: "sheets",
    parse,
};

/// The file this writer makes.
const FILE: &str = "sheets.pdf";

/// The number of the object that holds the attached profile, if there is one.
const PROFILE: u32 = 1;

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(Box::new(Sheets))
}

#[derive(Debug)]
struct Sheets;

impl Writer for Sheets {
    fn write(&self, layout: &Layout, means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let sheets = Sheet::all(layout)?;
        let channels = layout.picture.format().channels;
        let colour = colour_space(layout, channels)?;
        let first_image = PROFILE + u32::from(colour.profile.is_some());
        let document = pages(layout, &sheets, first_image)?;

        let mut to = to.create(FILE)?;
        let mut file = File::begin(to.as_mut())?;
        if let Some(profile) = &colour.profile {
            file.stream(PROFILE, &profile.dict, &profile.content)?;
        }
        let windows: Vec<_> = sheets.iter().map(|sheet| sheet.window).collect();
        let mut id = first_image;
        crew::work(
            &windows,
            &Limits::new(means, layout.picture.format(), &windows),
            |window, pace| image::compressed(layout.picture.as_ref(), window, layout.mirrored, pace),
            |window, bytes| {
                file.stream(id, &image::dictionary(window, channels, &colour.space), &bytes)?;
                id += 1;
                Ok(())
            },
        )?;
        file.finish(&document)
    }
}

/// The pages but for their pictures, which are the objects from `first_image` on; all else has greater numbers.
fn pages(layout: &Layout, sheets: &[Sheet], first_image: u32) -> Result<Document, Fault> {
    let canvases: Vec<_> = sheets.iter().map(|sheet| sheet.canvas.clone()).collect();
    let mut document = document(&canvases, &info(layout, sheets))?;
    document.renumber_objects_with(first_image + num::count(sheets.len()));
    for ((id, sheet), image) in document.get_pages().into_values().zip(sheets).zip(first_image..) {
        sheet
            .complete(&mut document, id, image)
            .map_err(|e| Fault::defect(format!("a page could not be put together: {e}.")))?;
    }
    Ok(document)
}

/// What the images' numbers mean.
struct ColourSpace {
    /// As it stands in an image's dictionary.
    space: Object,
    /// The profile it refers to, shared by all pages.
    profile: Option<Stream>,
}

/// The picture's own channels, with the attached profile where there is one.
fn colour_space(layout: &Layout, channels: Channels) -> Result<ColourSpace, Fault> {
    let (device, signature) = match channels {
        Channels::Gray => ("DeviceGray", b"GRAY"),
        Channels::Rgb => ("DeviceRGB", b"RGB "),
        Channels::Cmyk => ("DeviceCMYK", b"CMYK"),
    };
    let device = Object::from(device);
    let Some(profile) = layout.colour.as_ref().and_then(|colour| colour.attached.as_ref()) else {
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

fn info(layout: &Layout, sheets: &[Sheet]) -> Info {
    let count = sheets.len();
    Info {
        title: layout.job.name.clone(),
        subject: format!(
            "{count} {} to print from {}",
            if count == 1 { "sheet" } else { "sheets" },
            layout.artwork.file
        ),
        identity: format!("{} {}", layout.artwork.sha256, layout.job.name),
    }
}

#[cfg(test)]
mod tests;
