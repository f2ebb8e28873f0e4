//! Pages as PDF objects.
//!
//! printpdf turns the items into page contents and fonts into objects; what it says about the document is then
//! put right here: page boxes to the last digit, resources page by page, text advances as measured, an `Info`
//! and `ID` that depend on nothing but the document, and viewers told not to scale. The same pages give the
//! same bytes, in every process.

mod embed;
mod ops;

use std::io::Write;

use lopdf::{Dictionary, Document, Object, ObjectId, StringFormat};
use printpdf::{PdfDocument, PdfSaveOptions};
use seamwright_contract::{Fault, Size, num};
use sha2::{Digest, Sha256};

use crate::page::Canvas;
use crate::sheet::deflate::stream_of;

/// What every file says it was made with.
const MADE_WITH: &str = concat!("Seamwright ", env!("CARGO_PKG_VERSION"));

/// What a document says about itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Info {
    /// Its title.
    pub title: String,
    /// What it is for.
    pub subject: String,
    /// Hex digits that identify its content; the file's `ID` is made from it, so the same job gives the same bytes.
    pub identity: String,
}

/// The pages as a document whose page boxes are the canvases' sizes, not scaled by viewers, fonts subset and embedded.
///
/// # Errors
/// [`Fault::defect`] where the PDF library fails.
pub fn document(pages: &[Canvas], info: &Info) -> Result<Document, Fault> {
    let mut plan = PdfDocument::new("");
    let fonts = embed::fonts(pages, &mut plan.resources)?;
    for (at, canvas) in pages.iter().enumerate() {
        let page = ops::page(at, canvas, &mut plan.resources)?;
        plan.pages.push(page);
    }
    let options = PdfSaveOptions { image_optimization: None, ..PdfSaveOptions::default() };
    let mut document = plan.to_lopdf_document(&options, &mut Vec::new());
    document.version = "1.7".to_owned();
    embed::exact_widths(&mut document, &fonts).map_err(|e| failed(&e))?;
    put_right(&mut document, pages, info).map_err(|e| failed(&e))?;
    document.prune_objects();
    document.renumber_objects();
    compress(&mut document)?;
    Ok(document)
}

/// Compresses the streams that can be. The library itself would take several times as long, for a few bytes in a hundred.
fn compress(document: &mut Document) -> Result<(), Fault> {
    let streams = document.objects.values_mut().filter_map(|object| object.as_stream_mut().ok());
    for stream in streams.filter(|stream| stream.allows_compression && !stream.dict.has(b"Filter")) {
        let compressed = stream_of(&stream.content)?;
        if compressed.len() < stream.content.len() {
            stream.dict.set("Filter", name("FlateDecode"));
            stream.set_content(compressed);
        }
    }
    Ok(())
}

/// Writes a document, every byte or an error.
///
/// # Errors
/// [`Fault`] of the machine.
pub fn save(document: &mut Document, to: &mut dyn Write) -> Result<(), Fault> {
    let mut to = to;
    document.save_to(&mut to).and_then(|()| to.flush()).map_err(|e| Fault::unwritten("the PDF", e))
}

/// Replaces all that the library says about the document and its pages.
fn put_right(document: &mut Document, pages: &[Canvas], info: &Info) -> Result<(), lopdf::Error> {
    for ((_, id), canvas) in document.get_pages().into_iter().zip(pages) {
        let resources = own_resources(document, id)?;
        let page = document.get_dictionary_mut(id)?;
        let boxed = page_box(canvas.size);
        page.set("MediaBox", boxed.clone());
        page.set("TrimBox", boxed);
        page.remove(b"CropBox");
        page.remove(b"Annots");
        page.set("Resources", resources);
    }
    let catalog = document.catalog_mut()?;
    catalog.set("Lang", Object::string_literal("en"));
    catalog.set(
        "ViewerPreferences",
        Dictionary::from_iter([
            ("PrintScaling", name("None")),
            ("PickTrayByPDFSize", Object::Boolean(true)),
            ("Duplex", name("Simplex")),
            ("DisplayDocTitle", Object::Boolean(true)),
        ]),
    );
    let about = Dictionary::from_iter([
        ("Title", text(&info.title)),
        ("Subject", text(&info.subject)),
        ("Creator", text(MADE_WITH)),
        ("Producer", text(MADE_WITH)),
    ]);
    let about = document.add_object(about);
    document.trailer.set("Info", about);
    let digest = Sha256::new()
        .chain_update(&info.identity)
        .chain_update([0])
        .chain_update(&info.title)
        .chain_update([0])
        .chain_update(&info.subject)
        .finalize();
    let id: Vec<u8> = digest.into_iter().take(16).collect();
    let id = Object::String(id, StringFormat::Hexadecimal);
    document.trailer.set("ID", vec![id.clone(), id]);
    Ok(())
}

/// Of the document-wide fonts and images only those that a page's contents name.
fn own_resources(document: &Document, page: ObjectId) -> Result<Dictionary, lopdf::Error> {
    let shared = document.get_dictionary(page)?.get_deref(b"Resources", document)?.as_dict()?;
    let contents = document.get_page_content(page);
    let operations = lopdf::content::Content::decode(&contents)?.operations;
    let mut own = Dictionary::new();
    for (kind, operator) in [("Font", "Tf"), ("XObject", "Do")] {
        let all = shared.get_deref(kind.as_bytes(), document)?.as_dict()?;
        let mut used = Dictionary::new();
        for operation in operations.iter().filter(|operation| operation.operator == operator) {
            if let Some(Object::Name(named)) = operation.operands.first() {
                used.set(named.clone(), all.get(named)?.clone());
            }
        }
        if !used.is_empty() {
            own.set(kind, used);
        }
    }
    Ok(own)
}

/// A page's box in points from its bottom left.
fn page_box(size: Size) -> Object {
    Object::Array(vec![
        Object::Integer(0),
        Object::Integer(0),
        Object::Real(num::single(size.width.points())),
        Object::Real(num::single(size.height.points())),
    ])
}

/// A text string: plain where it is ASCII, else UTF-16 with its byte order mark (ISO 32000-1, 7.9.2.2).
fn text(words: &str) -> Object {
    if words.is_ascii() {
        return Object::string_literal(words);
    }
    let units = std::iter::once(0xFEFF).chain(words.encode_utf16());
    Object::String(units.flat_map(u16::to_be_bytes).collect(), StringFormat::Hexadecimal)
}

fn name(word: &str) -> Object {
    Object::Name(word.as_bytes().to_vec())
}

/// The library refused something that is ours to get right.
fn failed(why: &impl std::fmt::Display) -> Fault {
    Fault::defect(format!("a page could not be laid out as PDF: {why}."))
}
