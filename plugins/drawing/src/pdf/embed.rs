//! The shipped fonts in a document: only the glyphs it uses, with their exact advances.

use std::collections::{BTreeMap, BTreeSet};

use lopdf::{Document, Object};
use printpdf::{FontId, FontMetrics, ParsedFont, PdfFont, PdfResources};
use seamwright_contract::{Fault, num};
use sha2::{Digest, Sha256};
use subsetter::GlyphRemapper;
use ttf_parser::{Face, GlyphId};

use crate::font::Style;
use crate::page::{Canvas, Item};

/// The name under which page contents call a font.
pub(super) fn id(style: Style) -> FontId {
    FontId(resource(style).to_owned())
}

fn resource(style: Style) -> &'static str {
    match style {
        Style::Regular => "Regular",
        Style::Bold => "Bold",
    }
}

/// One font as it went into the document.
pub(super) struct Embedded {
    style: Style,
    /// Advances of its glyphs in thousandths of the font size, in glyph order.
    advances: Vec<f64>,
}

/// Subsets the fonts that the pages use and adds them to the resources.
pub(super) fn fonts(pages: &[Canvas], resources: &mut PdfResources) -> Result<Vec<Embedded>, Fault> {
    let mut embedded = Vec::new();
    for style in [Style::Regular, Style::Bold] {
        let used = used(pages, style);
        if !used.is_empty() {
            let (font, advances) = subset(style, &used)?;
            resources.fonts.map.insert(id(style), PdfFont::new(font));
            embedded.push(Embedded { style, advances });
        }
    }
    Ok(embedded)
}

/// The characters that the pages show in a style.
fn used(pages: &[Canvas], style: Style) -> BTreeSet<char> {
    pages
        .iter()
        .flat_map(|page| &page.items)
        .filter_map(|item| match item {
            Item::Text { style: own, text, .. } if *own == style => Some(text),
            Item::Text { .. } | Item::Stroke(..) | Item::Fill(..) | Item::Image(..) => None,
        })
        .flat_map(|text| text.chars().map(|c| style.shown(c)))
        .collect()
}

/// A font of only these characters' glyphs with how they map, and the glyphs' advances.
fn subset(style: Style, used: &BTreeSet<char>) -> Result<(ParsedFont, Vec<f64>), Fault> {
    let face = style.face().ok_or_else(|| Fault::defect("a shipped font does not parse."))?;
    let mut remapper = GlyphRemapper::new();
    let mut glyphs = BTreeMap::new();
    for c in used {
        if let Some(glyph) = face.glyph_index(*c) {
            glyphs.insert(u32::from(*c), remapper.remap(glyph.0));
        }
    }
    let upm = face.units_per_em();
    let widths: BTreeMap<u16, u16> = (0..)
        .zip(remapper.remapped_gids().map(|old| face.glyph_hor_advance(GlyphId(old)).unwrap_or(0)))
        .collect();
    let advances = widths.values().map(|width| f64::from(*width) * 1000.0 / f64::from(upm)).collect();
    let bytes = subsetter::subset(style.bytes(), 0, &remapper)
        .map_err(|e| Fault::defect(format!("a shipped font could not be subset: {e}.")))?;
    let name =
        format!("{}+DejaVuSansCondensed{}", tag(used), if style == Style::Bold { "-Bold" } else { "" });
    let metrics = FontMetrics { ascent: face.ascender(), descent: face.descender() };
    let mut font = ParsedFont::with_glyph_data(bytes, 0, Some(name), glyphs, widths, upm, metrics);
    describe(face, &mut font);
    Ok((font, advances))
}

/// The measures that a font descriptor carries.
fn describe(face: &Face<'_>, font: &mut ParsedFont) {
    let bounds = face.global_bounding_box();
    font.pdf_font_metrics.x_min = bounds.x_min;
    font.pdf_font_metrics.y_min = bounds.y_min;
    font.pdf_font_metrics.x_max = bounds.x_max;
    font.pdf_font_metrics.y_max = bounds.y_max;
    font.pdf_font_metrics.us_weight_class = face.weight().to_number();
}

/// The six capitals that mark a subset, the same for the same characters (ISO 32000-1, 9.6.4).
fn tag(used: &BTreeSet<char>) -> String {
    let digest = Sha256::digest(used.iter().collect::<String>());
    digest.iter().take(6).map(|byte| char::from(b'A' + byte % 26)).collect()
}

/// Puts the advances into the font dictionaries as they are measured: the library cuts them to whole
/// thousandths, which adds up to a visible shift in a long line.
pub(super) fn exact_widths(document: &mut Document, fonts: &[Embedded]) -> Result<(), lopdf::Error> {
    let Some(first) = document.get_pages().values().next().copied() else { return Ok(()) };
    for font in fonts {
        let shared = document.get_dictionary(first)?.get_deref(b"Resources", document)?.as_dict()?;
        let all = shared.get_deref(b"Font", document)?.as_dict()?;
        let own = all.get(resource(font.style).as_bytes())?.as_reference()?;
        let descendants = document.get_dictionary_mut(own)?.get_mut(b"DescendantFonts")?.as_array_mut()?;
        let widths: Vec<Object> =
            font.advances.iter().map(|advance| Object::Real(num::single(*advance))).collect();
        for descendant in descendants {
            descendant.as_dict_mut()?.set("W", vec![Object::Integer(0), Object::Array(widths.clone())]);
        }
    }
    Ok(())
}
