//! SVG: looked over as a text, parsed, and drawn by a renderer that follows no reference out of the file.
//!
//! A viewer leaves out what it cannot draw; here that would be a hole in a finished piece. So what is left out in silence
//! by the parser is found before it (`look`) or by what it calls (`pictures`, the fonts): links to other files, words
//! whose glyphs no font has, pictures that cannot be decoded are refused, and the maker is told of scripts and forms that
//! are not drawn. What a small file can grow to, by references from part to part, is reckoned before it is parsed.
//!
//! Words of the order (`fill`) are filled in before anything is drawn.

mod bands;
mod fill;
mod look;
mod pictures;

use std::fmt;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::sync::Arc;

use resvg::tiny_skia::{PixmapMut, Transform};
use resvg::usvg::roxmltree::{Document, Error as XmlError, ParsingOptions};
use resvg::usvg::{Error, ImageHrefResolver, Options, Tree};

use seamwright_fonts::Fonts;

use crate::contract::layout::Drawing;
use crate::contract::picture::Window;
use crate::contract::{Fault, Length, Size, num};
use crate::drawn::{Draws, Pen, Sheet};
use crate::sink::room;
use crate::svg::fill::Filled;
use crate::svg::look::Looked;
use crate::{Limits, Wanted, faults, patience};

/// Micrometres in a pixel of CSS, 96 to the inch, which is what lengths without a unit are.
const PIXEL: f64 = 25_400.0 / 96.0;

/// Reads and parses a drawing.
pub(crate) fn open(file: File, wanted: &Wanted, limits: &Limits) -> Result<Sheet, Fault> {
    let (wanted, own) = (wanted.clone(), limits.clone());
    patience::within(limits.drawing, move || read(&text(file, &own)?, &wanted, &own))
}

/// Whether the last tag of a drawing is there, if that can be told.
pub(crate) fn complete(file: &mut File) -> std::io::Result<Option<bool>> {
    const TAIL: u64 = 1024;
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(length.saturating_sub(TAIL)))?;
    let mut tail = Vec::new();
    file.take(TAIL).read_to_end(&mut tail)?;
    let narrow: Vec<u8> = tail.into_iter().filter(|byte| *byte != 0).collect();
    let tail = narrow.trim_ascii_end();
    let closed = tail.windows(4).any(|part| part == b"svg>") && tail.ends_with(b">");
    // A drawing may be one tag that closes itself, and a comment may be longer than the tail.
    Ok(if closed { Some(true) } else { (!tail.ends_with(b">")).then_some(false) })
}

/// All of its text.
pub(crate) fn text(mut file: File, limits: &Limits) -> Result<String, Fault> {
    file.seek(SeekFrom::Start(0)).map_err(faults::unreadable)?;
    let size = file.metadata().map_err(faults::unreadable)?.len();
    // Parsing takes several times the text.
    let needed = size.saturating_mul(4);
    if needed > limits.memory {
        return Err(look::too_much(needed, limits.memory));
    }
    let mut bytes = Vec::new();
    file.take(size).read_to_end(&mut bytes).map_err(faults::unreadable)?;
    String::from_utf8(bytes).map_err(|_| {
        Fault::artwork(
            "The drawing's text is not in UTF-8.",
            "Open it in the program it comes from and save it again as plain SVG.",
        )
    })
}

/// With the order's fields filled in, where it has any.
fn read(text: &str, wanted: &Wanted, limits: &Limits) -> Result<Sheet, Fault> {
    let text = text.trim_start_matches('\u{feff}');
    let document = document(text, limits)?;
    let Some(filled) = fill::filled(text, &document, &wanted.fields)? else {
        return parsed(&document, None, limits);
    };
    let document = self::document(&filled.text, limits)?;
    filled.reads(&document)?;
    parsed(&document, Some(&filled), limits)
}

fn document<'t>(text: &'t str, limits: &Limits) -> Result<Document<'t>, Fault> {
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: look::most_nodes(limits),
        ..ParsingOptions::default()
    };
    Document::parse_with_options(text, options).map_err(|why| not_xml(&why, limits))
}

fn parsed(document: &Document<'_>, filled: Option<&Filled>, limits: &Limits) -> Result<Sheet, Fault> {
    let Looked { words, mut notices } = look::over(document, limits)?;
    let pictures = pictures::Pictures::new(limits);
    let fonts = if words { Fonts::of(&limits.fonts) } else { Fonts::none() };
    let tree = {
        let options = Options {
            image_href_resolver: ImageHrefResolver {
                resolve_data: Box::new(|_, data, _| pictures.take(data)),
                resolve_string: Box::new(|_, _| pictures.elsewhere()),
            },
            ..fonts.options()
        };
        Tree::from_xmltree(document, &options).map_err(|why| not_svg(&why))?
    };
    pictures.sound()?;
    notices.extend(fonts.sound(&tree)?.iter().map(|(wanted, found)| other_font(wanted, found)));
    if let Some(filled) = filled {
        filled.shows(&tree)?;
    }
    if !look::shows(tree.root()) {
        return Err(empty());
    }
    let pixels = |side: f32| Length::from_um(num::round(f64::from(side) * PIXEL).max(1));
    let size = Size::new(pixels(tree.size().width()), pixels(tree.size().height()));
    let facts = Drawing { kind: "SVG", page: None, size, coarsest: pictures::coarsest(tree.root()) };
    let draws = Drawn { reach: bands::Reach::of(&tree), tree };
    Ok(Sheet { draws: Arc::new(draws), facts, notices, filled: filled.is_some() })
}

fn other_font(wanted: &str, found: &str) -> String {
    format!(
        "The drawing is set in '{wanted}', which is not on this machine; '{found}' is taken instead. Put the font into the \
         studio's folder `fonts`, or turn the words into paths."
    )
}

/// A parsed drawing.
struct Drawn {
    tree: Tree,
    reach: bands::Reach,
}

impl fmt::Debug for Drawn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Drawn({:?})", self.tree.size())
    }
}

impl Drawn {
    /// From the drawing's own pixels to those of the grid.
    fn scale(&self, [left, top, right, bottom]: [f64; 4]) -> [f64; 2] {
        let size = self.tree.size();
        [(right - left) / f64::from(size.width()), (bottom - top) / f64::from(size.height())]
    }
}

impl Draws for Drawn {
    fn rows(&self, window: Window, edges: [f64; 4], memory: u64) -> Result<u32, Fault> {
        self.reach.rows(window.size(), self.scale(edges), memory)
    }

    fn lend(&self, with: &mut dyn FnMut(&mut dyn Pen) -> Result<(), Fault>) -> Result<(), Fault> {
        with(&mut &*self)
    }
}

impl Pen for &Drawn {
    fn draw(&mut self, window: Window, edges: [f64; 4], out: &mut Vec<u8>) -> Result<(), Fault> {
        let [across, down] = self.scale(edges).map(num::single);
        let left = num::single(edges[0] - f64::from(window.x));
        let top = num::single(edges[1] - f64::from(window.y));
        *out = room(num::index(window.width) * num::index(window.height) * 4)?;
        let mut pixels = PixmapMut::from_bytes(out, window.width, window.height)
            .ok_or_else(|| Fault::defect(format!("{window:?} cannot be drawn")))?;
        resvg::render(&self.tree, Transform::from_row(across, 0.0, 0.0, down, left, top), &mut pixels);
        Ok(())
    }
}

fn not_xml(why: &XmlError, limits: &Limits) -> Fault {
    match why {
        XmlError::NodesLimitReached => look::too_much(limits.memory.saturating_mul(2), limits.memory),
        XmlError::EntityReferenceLoop(_) => Fault::artwork(
            "The drawing's text grows without end: its entities stand for one another.",
            "Save it again as plain SVG, without entities.",
        ),
        other => faults::damaged(other),
    }
}

fn not_svg(why: &Error) -> Fault {
    match why {
        Error::InvalidSize => Fault::artwork(
            "The drawing has no size: its width, height or viewBox is nought.",
            "Set the page's size in the program it comes from and save it again.",
        ),
        other => faults::damaged(other),
    }
}

fn empty() -> Fault {
    Fault::artwork(
        "The drawing is empty: nothing in it is drawn.",
        "Look whether its layers are shown, and save it again.",
    )
}
