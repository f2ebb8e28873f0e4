//! `proof`: how the finished blank will look, face up, before any ink.
//!
//! Dye is transparent: what is printed multiplies with the blank's own colour, in linear light. The picture shows the
//! blank's outline on a neutral ground, the design in its place, and the seams: dotted where they cross nothing, faint
//! in quiet artwork, plain where they cross detail. It is an estimate on a screen, not a colour match.

mod paint;
#[cfg(test)]
mod tests;

use std::io::Write;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Means, Outbox, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;

use crate::paint::{Proof, paint};

/// This writer, as the registry lists it.
pub const ENTRY: WriterEntry = WriterEntry {
    name: "proof",
    about: "the blank face up with the design in place and the seams faintly drawn",
    needs: &[Fact::Design],
    example: "proof",
    parse,
};

/// The file this writer makes.
const FILE: &str = "proof.png";

fn parse(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(Box::new(Writes))
}

#[derive(Debug)]
struct Writes;

impl Writer for Writes {
    fn write(&self, layout: &Layout, _means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let proof = paint(layout)?;
        let mut file = to.create(FILE)?;
        encode(&proof, &mut file).map_err(|why| Fault::unwritten("The proof", why))
    }
}

fn encode(proof: &Proof, to: &mut dyn Write) -> Result<(), png::EncodingError> {
    let mut encoder = png::Encoder::new(&mut *to, proof.width, proof.height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&proof.pixels)?;
    writer.finish()?;
    to.flush()?;
    Ok(())
}
