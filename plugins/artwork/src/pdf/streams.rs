//! What the compressed parts of a PDF grow to, found out before any of them is unpacked into memory.
//!
//! Whatever the file's tables say, its parts stand between two words, `stream` and `endstream`; each that is deflated is
//! inflated here and its bytes counted, not kept, up to what one may have. Pictures say how many pixels they have.

use std::io::{self, Read};

use flate2::bufread::ZlibDecoder;
use hayro::hayro_syntax::Pdf;
use hayro::hayro_syntax::object::Object;

use crate::contract::Fault;
use crate::{Limits, faults};

/// The word before a part.
const BEGIN: &[u8] = b"stream";
/// How often a part may be deflated again, as a rule once.
const NESTED: usize = 4;
/// The part of the memory that one part of the file, or one picture, may take.
const SHARE: u64 = 4;
/// Bytes that a pixel takes while its picture is unpacked and drawn.
const PIXEL: u64 = 10;

/// Refuses a file of which one part, unpacked, takes more than its share of the memory, or all of them together more than
/// twice what there is.
pub(super) fn bounded(file: &[u8], limits: &Limits) -> Result<(), Fault> {
    let (one, mut all) = (limits.memory / SHARE, limits.memory.saturating_mul(2));
    let mut rest = file;
    while let Some(at) = rest.windows(BEGIN.len()).position(|part| part == BEGIN) {
        rest = rest.get(at + BEGIN.len()..).unwrap_or_default();
        let body = rest.strip_prefix(b"\r\n").or(rest.strip_prefix(b"\n")).or(rest.strip_prefix(b"\r"));
        let Some(body) = body else { continue };
        let size = inflated(body, one);
        all = all.saturating_sub(size);
        if size > one || all == 0 {
            return Err(bomb(one));
        }
    }
    Ok(())
}

/// What a part inflates to, at most a little over `most`; nothing where it is not deflated.
fn inflated(body: &[u8], most: u64) -> u64 {
    if !looks_deflated(body) {
        return 0;
    }
    let mut largest = 0;
    // Each time it is unpacked once more, as long as what comes out looks deflated in its turn.
    for times in 1..=NESTED {
        let mut reader: Box<dyn Read + '_> = Box::new(body);
        for _ in 0..times {
            reader = Box::new(ZlibDecoder::new(io::BufReader::new(reader)));
        }
        let mut head = [0; 2];
        let begun = reader.read_exact(&mut head).is_ok();
        // A part that is cut off or damaged counts as far as it goes.
        let size = counted(reader, most);
        largest = largest.max(size);
        if largest > most || !begun || !looks_deflated(&head) {
            break;
        }
    }
    largest
}

fn counted(mut reader: impl Read, most: u64) -> u64 {
    let mut part = [0; 1 << 14];
    let mut size = 0;
    while size <= most {
        match reader.read(&mut part) {
            Ok(0) | Err(_) => break,
            Ok(read) => size += u64::try_from(read).unwrap_or(u64::MAX),
        }
    }
    size
}

/// Whether bytes begin as zlib's do (RFC 1950).
fn looks_deflated(body: &[u8]) -> bool {
    matches!(body, [method, flags, ..] if method & 0x0F == 8 && u16::from_be_bytes([*method, *flags]).is_multiple_of(31))
}

/// Refuses a file with a picture of more pixels than may be unpacked.
pub(super) fn pictures_fit(pdf: &Pdf, limits: &Limits) -> Result<(), Fault> {
    for object in pdf.objects() {
        let Object::Stream(stream) = object else { continue };
        let side =
            |long: &str, short: &str| stream.dict().get::<u32>(long).or(stream.dict().get::<u32>(short));
        let (Some(width), Some(height)) = (side("Width", "W"), side("Height", "H")) else { continue };
        let needed = u64::from(width).saturating_mul(u64::from(height)).saturating_mul(PIXEL);
        if needed > limits.memory / 2 {
            return Err(faults::too_much_memory("page's picture", needed, limits.memory / 2));
        }
    }
    Ok(())
}

fn bomb(limit: u64) -> Fault {
    Fault::artwork(
        format!("A part of the PDF takes more than {} MB when unpacked.", faults::megabytes(limit)),
        "Save it with smaller pictures, save the page as PNG, or raise `memory`.",
    )
}
