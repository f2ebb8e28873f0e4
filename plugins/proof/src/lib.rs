//! `proof`: how the finished blank will look, face up, before any ink.
//!
//! Dye is transparent: what is printed multiplies with the blank's own colour, in linear light. The picture shows the
//! blank's outline on a neutral ground, the design in its place, and the seams: dotted where they cross nothing, faint
//! in quiet artwork, plain where they cross detail. Beside it stand, each where it tells something more, the same on
//! white goods, and where the design has colours that the printer lacks. It is an estimate on a screen, not a colour
//! match.

mod paint;
mod raster;
#[cfg(test)]
mod tests;

use std::io::Write;

use image::codecs::jpeg::JpegEncoder;
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::Pixels;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_contract::{Fault, Lab, num};
use seamwright_drawing::Style;

use crate::paint::{BORDER, GROUND, Scene, View};
use crate::raster::Raster;

/// This writer, as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "proof",
    about: "the blank face up with the design in place and the seams faintly drawn, and what the printer lacks",
    needs: &[Fact::Design],
    example: "proof",
    parse,
};

/// The files this writer makes: the proof, and its first view small, for lists of many jobs.
const FILE: &str = "proof.png";
const SMALL_FILE: &str = "proof-small.jpg";

/// The longer side of the small one, in pixels, and its quality, so that a hundred of them make a light page.
const SMALL: u32 = 320;
const QUALITY: u8 = 80;

/// A blank that differs from white by less, as CIEDE2000, needs no second view.
const WHITE_ENOUGH: f64 = 2.0;

/// Less of the design out of the printer's reach than this is not worth a view.
const WORTH_SHOWING: f64 = 0.001;

/// Height of the letters under a view, and of the strip they stand in, in pixels.
const LETTERS: f32 = 26.0;
const STRIP: u32 = 48;

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(Box::new(Writes))
}

#[derive(Debug)]
struct Writes;

impl Writer for Writes {
    fn write(&self, layout: &Layout, _means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let painted = painted(layout)?;
        let mut file = to.create(FILE)?;
        encode(&together(&painted), &mut file).map_err(|why| Fault::unwritten("The proof", why))?;
        let Some((first, _)) = painted.first() else { return Ok(()) };
        let mut file = to.create(SMALL_FILE)?;
        encode_small(&first.within(SMALL), &mut file).map_err(|why| Fault::unwritten("The small proof", why))
    }
}

/// Every view with its words.
fn painted(layout: &Layout) -> Result<Vec<(Raster, String)>, Fault> {
    let scene = Scene::new(layout)?;
    Ok(views(layout).into_iter().map(|(view, words)| (scene.paint(view), words)).collect())
}

/// All views, wide ones below each other and others side by side, each over its words.
fn together(painted: &[(Raster, String)]) -> Raster {
    let one = painted.first().map_or(Pixels::new(1, 1), |(view, _)| view.size);
    let (each, count) = (Pixels::new(one.width, one.height + STRIP), num::count(painted.len()));
    let wide = one.width > one.height;
    let size = if wide {
        Pixels::new(each.width, each.height * count)
    } else {
        Pixels::new(each.width * count, each.height)
    };
    let mut whole = Raster::new(size, GROUND);
    for (place, (view, words)) in (0..).zip(painted) {
        let (x, y) = if wide { (0, each.height * place) } else { (each.width * place, 0) };
        whole.lay(x, y, view);
        whole.write(x + BORDER, y + one.height + STRIP / 4, LETTERS, Style::Regular, words);
    }
    whole
}

/// What is to be seen, and its words.
fn views(layout: &Layout) -> Vec<(View<'_>, String)> {
    let blank = &layout.order.blank;
    let coloured = blank.colour.difference(Lab::WHITE) >= WHITE_ENOUGH;
    let on_blank = if coloured { "On the blank, an estimate" } else { "On the blank (white), an estimate" };
    let mut views = vec![(View::Printed(blank.colour), on_blank.to_owned())];
    if coloured {
        views.push((View::Printed(Lab::WHITE), "The same on white".to_owned()));
    }
    if let Some(range) = layout.colour.as_ref().and_then(|colour| colour.range.as_ref())
        && range.share - range.darker >= WORTH_SHOWING
    {
        let lost = (range.share - range.darker) * 100.0;
        views.push((
            View::OutOfReach(&range.map),
            format!("Red: colours the printer lacks, {lost:.1} % of the design"),
        ));
    }
    views
}

fn encode(proof: &Raster, to: &mut dyn Write) -> Result<(), png::EncodingError> {
    let mut encoder = png::Encoder::new(&mut *to, proof.size.width, proof.size.height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    // Hardly larger, and made in a fraction of the time.
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&proof.pixels)?;
    writer.finish()?;
    to.flush()?;
    Ok(())
}

fn encode_small(small: &Raster, to: &mut dyn Write) -> image::ImageResult<()> {
    let (size, kind) = (small.size, image::ExtendedColorType::Rgb8);
    JpegEncoder::new_with_quality(&mut *to, QUALITY).encode(&small.pixels, size.width, size.height, kind)?;
    to.flush()?;
    Ok(())
}
