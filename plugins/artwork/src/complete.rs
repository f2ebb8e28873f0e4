//! Whether a file has its format's end: asked while waiting for slow writers, so cheap and without decoding.

use std::fs::File;
use std::io::{BufReader, Read};

use crate::jpeg::scan::Scan;
use crate::kind::{FileKind, sniff};
use crate::{kind, pdf, png, svg, webp};

/// The longest JPEG that is looked through, in bytes: it has to be in memory for that, and whoever asks has little of it.
const LONGEST: u64 = 64 << 20;

/// Whether the format's trailer is there: PNG's end chunk, JPEG's end mark, the length in WebP's head,
/// SVG's last tag, PDF's end mark.
/// `None` where the format does not tell, or nobody looks: a file that is none of them, a very long JPEG.
///
/// # Errors
/// Where the file cannot be read.
pub fn looks_complete(mut file: File) -> std::io::Result<Option<bool>> {
    let mut head = Vec::new();
    file.by_ref().take(kind::HEAD).read_to_end(&mut head)?;
    Ok(match sniff(&head) {
        Some(FileKind::Png) => Some(png::chunks::walk(&mut BufReader::with_capacity(1 << 12, file))?.end),
        Some(FileKind::Jpeg) if file.metadata()?.len() <= LONGEST => {
            file.read_to_end(&mut head)?;
            Some(Scan::new(&head).end)
        }
        Some(FileKind::WebP) => Some(webp::complete(&mut file)?),
        Some(FileKind::Svg) => svg::complete(&mut file)?,
        Some(FileKind::Pdf) => Some(pdf::complete(&mut file)?),
        Some(FileKind::Jpeg | FileKind::Tiff) | None => None,
    })
}
