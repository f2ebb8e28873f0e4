//! Whether a file has its format's end: asked while waiting for slow writers, so cheap and without decoding.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use crate::jpeg::scan::Scan;
use crate::kind::{FileKind, sniff};
use crate::{png, webp};

/// Whether the format's trailer is there: PNG's end chunk, JPEG's end mark, the length in WebP's head.
/// `None` where the format, or a file that is none of them, does not tell.
///
/// # Errors
/// Where the file cannot be read.
pub fn looks_complete(path: &Path) -> std::io::Result<Option<bool>> {
    let mut file = File::open(path)?;
    let mut head = Vec::new();
    file.by_ref().take(16).read_to_end(&mut head)?;
    Ok(match sniff(&head) {
        Some(FileKind::Png) => Some(png::chunks::walk(&mut BufReader::with_capacity(64, file))?.end),
        Some(FileKind::Jpeg) => {
            file.read_to_end(&mut head)?;
            Some(Scan::new(&head).end)
        }
        Some(FileKind::WebP) => Some(webp::complete(&mut file)?),
        Some(FileKind::Tiff) | None => None,
    })
}
