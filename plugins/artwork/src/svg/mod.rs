//! SVG: looked over as a text, parsed, and drawn by a renderer that follows no reference out of the file.
//!
//! A viewer leaves out what it cannot draw; here that would be a hole in a finished piece. So what is left out in silence
//! by the parser is found before it (`look`) or by the parts it calls (`pictures`, `words`): links to other files, words
//! whose glyphs no font has, pictures that cannot be decoded are refused, and the maker is told of scripts and forms that
//! are not drawn. What a small file can grow to, by references from part to part, is reckoned before it is parsed.
//!
//! The text of the file becomes a tree of its parts before anything is drawn; whoever fills in words for an order does it
//! between the two.

mod bands;
mod look;
mod pictures;
mod words;

use std::fmt;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::sync::Arc;

use resvg::tiny_skia::{PixmapMut, Transform};
use resvg::usvg::roxmltree::{Document, Error as XmlError, ParsingOptions};
use resvg::usvg::{Error, ImageHrefResolver, Options, Tree};

use crate::contract::layout::Drawing;
use crate::contract::picture::Window;
use crate::contract::{Fault, Length, Size, num};
use crate::drawn::{Draws, Pen, Sheet};
use crate::sink::room;
use crate::svg::look::Looked;
use crate::{Limits, faults, patience};

/// Micrometres in a pixel of CSS, 96 to the inch, which is what lengths without a unit are.
const PIXEL: f64 = 25_400.0 / 96.0;

/// Reads and parses a drawing.
pub(crate) fn open(file: File, limits: &Limits) -> Result<Sheet, Fault> {
    let own = limits.clone();
    patience::within(limits.drawing, move || parsed(&text(file, &own)?, &own))
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

fn text(mut file: File, limits: &Limits) -> Result<String, Fault> {
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

fn parsed(text: &str, limits: &Limits) -> Result<Sheet, Fault> {
    let text = text.trim_start_matches('\u{feff}');
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: look::most_nodes(limits),
        ..ParsingOptions::default()
    };
    let document = Document::parse_with_options(text, options).map_err(|why| not_xml(&why, limits))?;
    let Looked { words, mut notices } = look::over(&document, limits)?;
    let (pictures, words) = (pictures::Pictures::new(limits), words::Words::new(words, limits));
    let tree = {
        let options = Options {
            image_href_resolver: ImageHrefResolver {
                resolve_data: Box::new(|_, data, _| pictures.take(data)),
                resolve_string: Box::new(|_, _| pictures.elsewhere()),
            },
            font_resolver: words.resolver(),
            fontdb: words.fonts(),
            font_family: words::UNSAID.to_owned(),
            ..Options::default()
        };
        Tree::from_xmltree(&document, &options).map_err(|why| not_svg(&why))?
    };
    pictures.sound()?;
    notices.extend(words.sound(&tree)?);
    if !look::shows(tree.root()) {
        return Err(empty());
    }
    let pixels = |side: f32| Length::from_um(num::round(f64::from(side) * PIXEL).max(1));
    let size = Size::new(pixels(tree.size().width()), pixels(tree.size().height()));
    let facts = Drawing { kind: "SVG", page: None, size, coarsest: pictures::coarsest(tree.root()) };
    let draws = Drawn { reach: bands::Reach::of(&tree), tree };
    Ok(Sheet { draws: Arc::new(draws), facts, notices })
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
