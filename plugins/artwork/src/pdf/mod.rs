//! PDF: one page, drawn in sRGB by a renderer written in Rust.
//!
//! The file is looked over before it is parsed (`streams`), for what its compressed parts grow to; then the page is gone
//! through once without drawing (`scout`), for what would be missing, coarse or of uncertain colour. A file without its end
//! mark is refused: the parser would mend it, and what was cut off would be a hole.

mod scout;
mod streams;

use std::fmt;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::sync::{Arc, Mutex, PoisonError};

use hayro::hayro_interpret::font::FontQuery;
use hayro::hayro_interpret::util::TransformExt as _;
use hayro::hayro_interpret::{InterpreterSettings, InterpreterWarning};
use hayro::hayro_syntax::page::Page;
use hayro::hayro_syntax::{LoadPdfError, Pdf};
use hayro::kurbo::Affine;
use hayro::vello_cpu::color::palette::css::WHITE;
use hayro::vello_cpu::{Pixmap, RasterizerSettings, RenderContext, Resources, TargetInit};
use hayro::{RenderCache, RenderSettings, render_into};

use crate::contract::layout::Drawing;
use crate::contract::picture::Window;
use crate::contract::{Fault, Length, Size, num};
use crate::drawn::{Draws, Pen, Sheet};
use crate::sink::room;
use crate::{Limits, Wanted, faults, patience};

/// Micrometres in a point.
const POINT: f64 = 25_400.0 / 72.0;
/// Bytes of a pixel while it is drawn: the renderer's, and ours.
const PIXEL: u64 = 12;
/// The renderer counts pixels across in 16 bits, and is quicker far below that.
const WIDEST: u32 = 16_384;
/// The most rows at a time, for the same reason.
const HIGHEST: u32 = 16_384;
/// Rows that are worth going through a page for.
const LOWEST: u64 = 16;
/// The end mark stands within so many bytes of the end.
const TAIL: u64 = 1024;

/// Reads a file and looks over the page that is wanted.
pub(crate) fn open(file: File, wanted: &Wanted, limits: &Limits) -> Result<Sheet, Fault> {
    let (wanted, own) = (wanted.clone(), limits.clone());
    patience::within(limits.drawing, move || parsed(bytes(file, &own)?, &wanted, &own))
}

/// Whether the end mark is there.
pub(crate) fn complete(file: &mut File) -> std::io::Result<bool> {
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(length.saturating_sub(TAIL)))?;
    let mut tail = Vec::new();
    file.take(TAIL).read_to_end(&mut tail)?;
    Ok(has(&tail, b"%%EOF"))
}

fn bytes(mut file: File, limits: &Limits) -> Result<Vec<u8>, Fault> {
    if !complete(&mut file).map_err(faults::reading)? {
        return Err(faults::damaged("its end mark is missing"));
    }
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    let size = file.metadata().map_err(faults::unreadable)?.len();
    if size > limits.memory / 2 {
        return Err(too_much("The file itself", size, limits.memory / 2));
    }
    let mut bytes = Vec::new();
    file.take(size).read_to_end(&mut bytes).map_err(faults::unreadable)?;
    Ok(bytes)
}

fn parsed(bytes: Vec<u8>, wanted: &Wanted, limits: &Limits) -> Result<Sheet, Fault> {
    if encrypted(&bytes) {
        return Err(locked());
    }
    streams::bounded(&bytes, limits)?;
    let pdf = Pdf::new(bytes).map_err(|why| match why {
        LoadPdfError::Decryption(_) => locked(),
        LoadPdfError::Invalid => faults::damaged("it has no page that can be found"),
    })?;
    streams::pictures_fit(&pdf, limits)?;
    let pages = pdf.pages().len();
    let at = usize::try_from(wanted.page).unwrap_or(usize::MAX).checked_sub(1);
    let (page, at) =
        at.and_then(|at| pdf.pages().get(at).zip(Some(at))).ok_or_else(|| no_page(wanted.page, pages))?;
    let side = size(page)?;
    let missing = Arc::new(Missing::default());
    let settings = missing.settings();
    let seen = scout::over(page, &settings);
    missing.sound()?;
    if !seen.shows {
        return Err(empty(wanted.page, pages));
    }
    let mut notices = missing.notices();
    if seen.ink {
        notices.push(
            "The page has colours in ink (CMYK). They are drawn in sRGB: by their profile, or as a common press would print \
             them where they have none, which may look other than on your screen. Save it in RGB to be sure."
                .to_owned(),
        );
    }
    if pages > 1 && wanted.page == 1 {
        notices.push(format!(
            "The file has {pages} pages; page 1 is used. Write `page: …` in the order for another."
        ));
    }
    let points = |side: f64| Length::from_um(num::round(side * POINT * unit(page)).max(1));
    let facts = Drawing {
        kind: "PDF",
        page: Some(wanted.page),
        size: Size::new(points(side[0]), points(side[1])),
        coarsest: seen.coarsest,
    };
    let draws = Drawn { pdf, at, side, settings, missing };
    Ok(Sheet { draws: Arc::new(draws), facts, notices, filled: false })
}

/// The page's sides in its own units, as it stands when read.
fn size(page: &Page<'_>) -> Result<[f64; 2], Fault> {
    let shown = page.intersected_crop_box();
    if !(shown.width() > 0.0 && shown.height() > 0.0) {
        return Err(Fault::artwork(
            "The page has no size.",
            "Set the page's size in the program it comes from and save it again.",
        ));
    }
    let (width, height) = page.render_dimensions();
    Ok([width.into(), height.into()])
}

/// Points in a unit of the page.
fn unit(page: &Page<'_>) -> f64 {
    page.raw().get::<f64>("UserUnit").filter(|unit| unit.is_finite() && *unit > 0.0).unwrap_or(1.0)
}

/// A file that can be read only with a password, or that says what may not be done with it.
fn encrypted(bytes: &[u8]) -> bool {
    const MARK: &[u8] = b"/Encrypt";
    let value = |at: usize| bytes.get(at + MARK.len()..).unwrap_or_default();
    let is_one = |rest: &[u8]| match rest.trim_ascii_start() {
        [b'0'..=b'9', ..] => rest.first().is_some_and(u8::is_ascii_whitespace),
        [b'<', b'<', ..] => true,
        _ => false,
    };
    bytes.windows(MARK.len()).enumerate().any(|(at, part)| part == MARK && is_one(value(at)))
}

fn has(text: &[u8], mark: &[u8]) -> bool {
    text.windows(mark.len()).any(|part| part == mark)
}

/// What the renderer says it could not do.
#[derive(Default)]
struct Missing {
    fonts: Mutex<Vec<String>>,
    wrong: Mutex<Option<InterpreterWarning>>,
}

impl Missing {
    fn settings(self: &Arc<Self>) -> InterpreterSettings {
        let usual = InterpreterSettings::default();
        let (fonts, wrong, resolver) = (Arc::clone(self), Arc::clone(self), Arc::clone(&usual.font_resolver));
        InterpreterSettings {
            font_resolver: Arc::new(move |query| {
                if let FontQuery::Fallback(font) = query {
                    let name = font.post_script_name.as_ref().or(font.font_name.as_ref());
                    fonts.lacks(name.map_or("without a name", String::as_str));
                }
                resolver(query)
            }),
            warning_sink: Arc::new(move |warning| {
                wrong.wrong.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(warning);
            }),
            ..usual
        }
    }

    fn lacks(&self, font: &str) {
        let mut fonts = self.fonts.lock().unwrap_or_else(PoisonError::into_inner);
        let name: String = font.chars().filter(|c| !c.is_control()).take(60).collect();
        if !fonts.contains(&name) {
            fonts.push(name);
        }
    }

    /// Whether all of the page could be drawn so far.
    fn sound(&self) -> Result<(), Fault> {
        let Some(warning) = *self.wrong.lock().unwrap_or_else(PoisonError::into_inner) else { return Ok(()) };
        let what = match warning {
            InterpreterWarning::UnsupportedFont => "a font in it",
            InterpreterWarning::ImageDecodeFailure => "a picture in it",
            _ => "a note or form field on it",
        };
        Err(Fault::artwork(
            format!("The page cannot be drawn wholly: {what} is damaged or of a kind that is not read here."),
            "Print it to a new PDF, or save the page as PNG, in the program it comes from.",
        ))
    }

    fn notices(&self) -> Vec<String> {
        let fonts = self.fonts.lock().unwrap_or_else(PoisonError::into_inner);
        let told = fonts.iter().map(|font| {
            format!(
                "The font '{font}' is not in the file, and one like it is taken: words may run wider. Embed the fonts when \
                 saving, or turn the words into paths."
            )
        });
        told.collect()
    }
}

/// A page.
struct Drawn {
    pdf: Pdf,
    at: usize,
    /// Its sides in its own units.
    side: [f64; 2],
    settings: InterpreterSettings,
    missing: Arc<Missing>,
}

impl fmt::Debug for Drawn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Drawn(page {} of {:?})", self.at + 1, self.side)
    }
}

impl Draws for Drawn {
    fn rows(&self, window: Window, _edges: [f64; 4], memory: u64) -> Result<u32, Fault> {
        let row = u64::from(window.width).saturating_mul(PIXEL).max(1);
        let rows = memory / row;
        if rows < LOWEST {
            return Err(too_much(
                "Drawing a few rows of it at this size",
                row.saturating_mul(LOWEST),
                memory,
            ));
        }
        Ok(u32::try_from(rows).unwrap_or(u32::MAX).min(HIGHEST).min(window.height.max(1)))
    }

    fn lend(&self, with: &mut dyn FnMut(&mut dyn Pen) -> Result<(), Fault>) -> Result<(), Fault> {
        let page = self.pdf.pages().get(self.at).ok_or_else(|| Fault::defect("a page is gone"))?;
        with(&mut PagePen { drawn: self, page, cache: RenderCache::new() })
    }
}

/// Draws a page, and remembers its fonts and shapes from band to band.
struct PagePen<'a> {
    drawn: &'a Drawn,
    page: &'a Page<'a>,
    cache: RenderCache<'a>,
}

impl Pen for PagePen<'_> {
    fn draw(&mut self, window: Window, edges: [f64; 4], out: &mut Vec<u8>) -> Result<(), Fault> {
        let stride = num::index(window.width) * 4;
        *out = room(stride * num::index(window.height))?;
        for left in (0..window.width).step_by(num::index(WIDEST)) {
            let part = Window { x: window.x + left, width: WIDEST.min(window.width - left), ..window };
            let drawn = self.part(part, edges)?;
            let (from, across) = (num::index(left) * 4, num::index(part.width) * 4);
            let rows = out.chunks_exact_mut(stride).zip(drawn.data_as_u8_slice().chunks_exact(across));
            rows.for_each(|(out, drawn)| {
                if let Some(out) = out.get_mut(from..from + across) {
                    out.copy_from_slice(drawn);
                }
            });
        }
        self.drawn.missing.sound()
    }
}

impl PagePen<'_> {
    fn part(&self, part: Window, [left, top, right, bottom]: [f64; 4]) -> Result<Pixmap, Fault> {
        let side =
            |pixels: u32| u16::try_from(pixels).map_err(|_| Fault::defect(format!("{part:?} is too large")));
        let (width, height) = (side(part.width)?, side(part.height)?);
        let [across, down] = self.drawn.side;
        let to = Affine::translate((left - f64::from(part.x), top - f64::from(part.y)))
            * Affine::scale_non_uniform((right - left) / across, (bottom - top) / down)
            * self.page.initial_transform(true).to_kurbo();
        // Hinting and glyphs kept for use elsewhere move outlines to whole or quarter pixels; pictures of few pixels are to
        // look smooth, as those that are scaled do.
        let render = RenderSettings {
            hinting: false,
            glyph_caching: false,
            force_image_interpolation: true,
            ..RenderSettings::default()
        };
        let mut context = RenderContext::new(width, height);
        render_into(self.page, &self.cache, &self.drawn.settings, &render, &mut context, to);
        context.flush();
        let mut pixels = Pixmap::new(width, height);
        let white =
            RasterizerSettings { target_init: TargetInit::Clear(WHITE), ..RasterizerSettings::default() };
        context.render_with(&mut pixels, &mut Resources::default(), white);
        Ok(pixels)
    }
}

fn locked() -> Fault {
    Fault::artwork(
        "The PDF is encrypted: it wants a password, or says what may not be done with it.",
        "Save it without a password and without restrictions, or print it to a new PDF.",
    )
}

fn no_page(page: u32, pages: usize) -> Fault {
    if pages == 0 {
        return Fault::artwork("The PDF has no pages.", "Save it again.");
    }
    let cure = match pages {
        1 => "Take the line `page: …` out of the order.".to_owned(),
        _ => format!("Write `page:` with a number from 1 to {pages} in the order."),
    };
    Fault::order(format!("There is no page {page}: the file has {pages}."), cure)
}

fn empty(page: u32, pages: usize) -> Fault {
    let cure = if pages > 1 {
        "Name another page in the order, `page: …`, or save it again."
    } else {
        "Save it again."
    };
    Fault::artwork(format!("Page {page} is empty: nothing on it is drawn."), cure)
}

fn too_much(what: &str, needed: u64, limit: u64) -> Fault {
    Fault::artwork(
        format!(
            "{what} takes {} MB of memory, and may take {} MB.",
            faults::megabytes(needed),
            faults::megabytes(limit)
        ),
        "Save it with smaller pictures, save the page as PNG, or raise `memory`.",
    )
}
