//! The floor under a job: its parts by the fastest general-purpose libraries, one thread, nothing in between.
//!
//! Decoding one PNG stream is serial; all else could be split perfectly. On two cores no job can be faster than the
//! decoding alone, nor than half of all parts. What is decoded is written anew in no PDF, nothing is planned or flushed.

use std::error::Error;
use std::fs::File;
use std::io::BufReader;
use std::path::Path;
use std::time::Instant;

use fast_image_resize::images::Image;
use fast_image_resize::{PixelType, ResizeOptions, Resizer};
use moxcms::{ColorProfile, Layout, TransformOptions};

/// Bytes deflated at a time: about a page.
const PAGE: usize = 16 << 20;

fn main() -> Result<(), Box<dyn Error>> {
    let said: Vec<String> = std::env::args().skip(1).collect();
    let [artwork, width, height, profile] = said.as_slice() else {
        return Err("seamwright-floor ARTWORK.png WIDTH HEIGHT PROFILE.icc".into());
    };
    let (width, height): (u32, u32) = (width.parse()?, height.parse()?);
    let (decoded, (pixels, own)) = timed(|| decode(Path::new(artwork)))?;
    let (scaled, pixels) = timed(|| scale(pixels, own, (width, height)))?;
    let (converted, pixels) = timed(|| convert(pixels, &std::fs::read(profile)?))?;
    let (deflated, size) = timed(|| deflate(&pixels, width))?;
    let floor = decoded.max((decoded + scaled + converted + deflated) / 2.0);
    println!(
        "{{\"floor\": {floor:.4}, \"decode\": {decoded:.4}, \"scale\": {scaled:.4}, \"convert\": {converted:.4}, \
         \"deflate\": {deflated:.4}, \"deflated_mb\": {:.1}}}",
        size as f64 / 1e6
    );
    Ok(())
}

fn timed<T>(work: impl FnOnce() -> Result<T, Box<dyn Error>>) -> Result<(f64, T), Box<dyn Error>> {
    let began = Instant::now();
    let made = work()?;
    Ok((began.elapsed().as_secs_f64(), made))
}

fn decode(artwork: &Path) -> Result<(Vec<u8>, (u32, u32)), Box<dyn Error>> {
    let mut reader = png::Decoder::new(BufReader::with_capacity(1 << 18, File::open(artwork)?)).read_info()?;
    let mut pixels = vec![0; reader.output_buffer_size().ok_or("too large")?];
    let frame = reader.next_frame(&mut pixels)?;
    if frame.color_type != png::ColorType::Rgb {
        return Err("only RGB is measured".into());
    }
    Ok((pixels, (frame.width, frame.height)))
}

fn scale(pixels: Vec<u8>, own: (u32, u32), to: (u32, u32)) -> Result<Vec<u8>, Box<dyn Error>> {
    if own == to {
        return Ok(pixels);
    }
    let source = Image::from_vec_u8(own.0, own.1, pixels, PixelType::U8x3)?;
    let mut scaled = Image::new(to.0, to.1, PixelType::U8x3);
    // Lanczos with three lobes is what it does when told nothing.
    Resizer::new().resize(&source, &mut scaled, &ResizeOptions::new())?;
    Ok(scaled.into_vec())
}

fn convert(pixels: Vec<u8>, printer: &[u8]) -> Result<Vec<u8>, Box<dyn Error>> {
    let (from, to) = (ColorProfile::new_srgb(), ColorProfile::new_from_slice(printer)?);
    let transform = from.create_transform_8bit(Layout::Rgb, &to, Layout::Rgb, TransformOptions::default())?;
    let mut out = vec![0; pixels.len()];
    transform.transform(&pixels, &mut out)?;
    Ok(out)
}

/// With the Up predictor.
fn deflate(pixels: &[u8], width: u32) -> Result<usize, Box<dyn Error>> {
    let stride = width as usize * 3;
    let mut above = vec![0; stride];
    let mut size = 0;
    for page in pixels.chunks(PAGE / stride * stride) {
        let mut predicted = Vec::with_capacity(page.len() + page.len() / stride);
        for row in page.chunks_exact(stride) {
            predicted.push(2);
            predicted.extend(row.iter().zip(&above).map(|(sample, up)| sample.wrapping_sub(*up)));
            above.copy_from_slice(row);
        }
        let mut to = fdeflate::Compressor::new(Vec::new())?;
        to.write_data(&predicted)?;
        size += to.finish()?.len();
    }
    Ok(size)
}
