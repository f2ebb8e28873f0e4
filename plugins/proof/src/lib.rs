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

/// The file this writer makes.
const FILE: &str = "proof.png";

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
        let proof = proof(layout)?;
        let mut file = to.create(FILE)?;
        encode(&proof, &mut file).map_err(|why| Fault::unwritten("The proof", why))
    }
}

/// All views, wide ones below each other and others side by side, each over its words.
fn proof(layout: &Layout) -> Result<Raster, Fault> {
    let scene = Scene::new(layout)?;
    let views = views(layout);
    let (each, count) = (Pixels::new(scene.size.width, scene.size.height + STRIP), num::count(views.len()));
    let wide = scene.size.width > scene.size.height;
    let size = if wide {
        Pixels::new(each.width, each.height * count)
    } else {
        Pixels::new(each.width * count, each.height)
    };
    let mut whole = Raster::new(size, GROUND);
    for (place, (view, words)) in (0..).zip(&views) {
        let (x, y) = if wide { (0, each.height * place) } else { (each.width * place, 0) };
        whole.lay(x, y, &scene.paint(*view));
        whole.write(x + BORDER, y + scene.size.height + STRIP / 4, LETTERS, Style::Regular, words);
    }
    Ok(whole)
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
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&proof.pixels)?;
    writer.finish()?;
    to.flush()?;
    Ok(())
}
