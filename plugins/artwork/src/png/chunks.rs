//! A walk over a PNG's chunk heads, without reading what is in them.

use std::io::{self, BufReader, Read, Seek, SeekFrom};

/// What the chunk heads show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Chunks {
    /// A profile chunk is there, readable or not.
    pub(crate) profile: bool,
    /// A palette is there whose colours are not whole.
    pub(crate) odd_palette: bool,
    /// The end chunk is there, whole.
    pub(crate) end: bool,
}

/// Walks from the signature to the end chunk or the end of the file.
pub(crate) fn walk<R: Read + Seek>(file: &mut BufReader<R>) -> io::Result<Chunks> {
    let length = file.seek(SeekFrom::End(0))?;
    let mut found = Chunks::default();
    let mut at = 8_u64;
    file.seek(SeekFrom::Start(at))?;
    while at.saturating_add(12) <= length {
        let (mut size, mut kind) = ([0; 4], [0; 4]);
        file.read_exact(&mut size)?;
        file.read_exact(&mut kind)?;
        let rest = 4 + i64::from(u32::from_be_bytes(size));
        at = at.saturating_add(8).saturating_add_signed(rest);
        match &kind {
            b"iCCP" => found.profile = true,
            b"PLTE" => found.odd_palette |= !u32::from_be_bytes(size).is_multiple_of(3),
            b"IEND" => {
                found.end = at <= length;
                break;
            }
            // A file written from front to back with its length set beforehand ends in zeros.
            [0, 0, 0, 0] => break,
            _ => {}
        }
        // Within what is read ahead: a file may be nothing but heads, millions of them.
        file.seek_relative(rest)?;
    }
    Ok(found)
}
