//! The demo: a night's batch for the gift workshop of an invented seaside observatory.
//!
//! Six pictures, drawn here from nothing and the same every time, with the orders that a workshop would write beside
//! them: a star chart that covers a table mat, a mostly white line drawing, a round mat on which a visitor's name is set,
//! a place mat that is ordered by its folder alone, and two coasters that share their sheets. They show the forms a sidecar
//! can take: a blank by name, a blank written out, fields and lettering, and a folder's defaults. Two programs of the workshop's
//! own show how a studio adds a step in a language of its choice: one deepens the middle tones of a picture, the other writes a
//! slip for the workbench.

mod canvas;
mod coaster;
mod letters;
mod moon_phases;
mod noise;
mod observatory;
mod star_chart;
mod tide_calendar;

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;
use std::thread;

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder as _, ImageResult};
use seamwright_contract::Fault;

use crate::canvas::Canvas;

/// Draws a picture at a scale and puts it into a file.
type Drawing = fn(f64, &mut dyn Write) -> ImageResult<()>;

/// What the demo's folder `incoming/` holds beside the pictures: names in it, and texts.
const ORDERS: [(&str, &str); 5] = [
    ("star-chart.yaml", include_str!("orders/star-chart.yaml")),
    ("observatory.yaml", include_str!("orders/observatory.yaml")),
    ("moon-phases.yaml", include_str!("orders/moon-phases.yaml")),
    ("place-mats/folder.yaml", include_str!("orders/place-mats.yaml")),
    ("coasters/folder.yaml", include_str!("orders/coasters.yaml")),
];

/// A program of the workshop's own: what it is written in, its files, and what of the shipped settings lists it.
struct Program {
    written_in: &'static str,
    files: [(&'static str, &'static str); 2],
    /// How it stands in the settings, before and after.
    listed: (&'static str, &'static str),
}

const PROGRAMS: [Program; 2] = [
    Program {
        written_in: "python3",
        files: [
            ("programs/deepen.yaml", include_str!("../../../config/demo/programs/deepen.yaml")),
            ("programs/deepen.py", include_str!("../../../config/demo/programs/deepen.py")),
        ],
        listed: ("  # - program: deepen  ", "  - program: deepen    "),
    },
    Program {
        written_in: "sh",
        files: [
            ("programs/slip.yaml", include_str!("../../../config/demo/programs/slip.yaml")),
            ("programs/slip.sh", include_str!("../../../config/demo/programs/slip.sh")),
        ],
        listed: ("[sheets, notes, proof, record]", "[sheets, notes, proof, {program: slip}, record]"),
    },
];

/// Whether what a program is written in is there, where programs are looked for.
fn runs(program: &Program) -> bool {
    ["/usr/local/bin", "/usr/bin", "/bin"]
        .iter()
        .any(|folder| Path::new(folder).join(program.written_in).is_file())
}

/// What is put for what in the shipped settings, so that the workshop's programs are listed that run on this machine; and
/// what is not there that others are written in.
#[must_use]
pub fn programs() -> (Vec<(&'static str, &'static str)>, Vec<&'static str>) {
    let (run, not): (Vec<&Program>, Vec<&Program>) = PROGRAMS.iter().partition(|program| runs(program));
    (
        run.iter().map(|program| program.listed).collect(),
        not.iter().map(|program| program.written_in).collect(),
    )
}

/// Draws the pictures and writes them with their orders into `incoming/` of a studio, which is made if it is missing.
///
/// # Errors
/// [`Fault`] of the machine where a file cannot be written; of the set-up where one of that name lies there already.
pub fn write(studio: &Path) -> Result<(), Fault> {
    draw_all(studio, 1.0)
}

/// The same with `scale` pixels for each at full size.
fn draw_all(studio: &Path, scale: f64) -> Result<(), Fault> {
    let incoming = studio.join("incoming");
    for folder in [incoming.join("place-mats"), incoming.join("coasters"), studio.join("programs")] {
        fs::create_dir_all(&folder).map_err(|e| unwritten(&folder, &e))?;
    }
    let programs =
        PROGRAMS.iter().flat_map(|program| program.files).map(|(name, text)| (studio.join(name), text));
    let orders = ORDERS.iter().map(|(name, text)| (incoming.join(name), *text));
    for (path, text) in orders.chain(programs) {
        let mut file = create(&path)?;
        file.write_all(text.as_bytes()).and_then(|()| file.flush()).map_err(|e| unwritten(&path, &e))?;
    }
    let drawings: [(&str, Drawing); 6] = [
        ("star-chart.jpg", |scale, to| jpeg(star_chart::draw(scale), to)),
        ("observatory.png", |scale, to| png(observatory::draw(scale), to)),
        ("moon-phases.png", |scale, to| clear_png(moon_phases::draw(scale), to)),
        ("place-mats/tide-calendar.png", |scale, to| png(tide_calendar::draw(scale), to)),
        ("coasters/first-light.png", |scale, to| png(coaster::crescent(scale), to)),
        ("coasters/full-moon.png", |scale, to| png(coaster::full(scale), to)),
    ];
    thread::scope(|scope| {
        let running: Vec<_> = drawings
            .map(|(name, draw)| {
                let path = incoming.join(name);
                scope.spawn(move || {
                    let mut file = create(&path)?;
                    draw(scale, &mut file).map_err(|e| unwritten(&path, &e))?;
                    file.flush().map_err(|e| unwritten(&path, &e))
                })
            })
            .into();
        running.into_iter().try_for_each(|thread| {
            thread.join().unwrap_or_else(|_| Err(Fault::defect("the demo's pictures could not be drawn.")))
        })
    })
}

fn jpeg(canvas: Canvas, to: &mut dyn Write) -> ImageResult<()> {
    let (width, height) = canvas.size();
    JpegEncoder::new_with_quality(to, 90).write_image(
        &canvas.into_rgb(),
        width,
        height,
        ExtendedColorType::Rgb8,
    )
}

fn png(canvas: Canvas, to: &mut dyn Write) -> ImageResult<()> {
    let (width, height) = canvas.size();
    PngEncoder::new_with_quality(to, CompressionType::Fast, FilterType::Up).write_image(
        &canvas.into_rgb(),
        width,
        height,
        ExtendedColorType::Rgb8,
    )
}

fn clear_png(canvas: Canvas, to: &mut dyn Write) -> ImageResult<()> {
    let (width, height) = canvas.size();
    PngEncoder::new_with_quality(to, CompressionType::Fast, FilterType::Up).write_image(
        &canvas.into_rgba(moon_phases::alpha),
        width,
        height,
        ExtendedColorType::Rgba8,
    )
}

/// A new file: what a maker has lying there is never overwritten.
fn create(path: &Path) -> Result<BufWriter<File>, Fault> {
    File::create_new(path).map(BufWriter::new).map_err(|e| {
        if e.kind() == std::io::ErrorKind::AlreadyExists {
            let what = "The demo would overwrite this file.";
            Fault::setup(what, "Name another folder for the demo, or move the file away.")
                .at(path.display().to_string())
        } else {
            unwritten(path, &e)
        }
    })
}

fn unwritten(path: &Path, why: &dyn std::fmt::Display) -> Fault {
    Fault::machine(
        format!("The demo could not be written: {why}."),
        "Name a folder that can be written, on a disk with 100 MB free.",
    )
    .at(path.display().to_string())
}

#[cfg(test)]
mod tests;
