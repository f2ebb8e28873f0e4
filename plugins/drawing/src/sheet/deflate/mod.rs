//! One zlib stream (RFC 1950) out of parts that are deflated on their own, each in the way that suits it.
//!
//! Photographs leave predicted bytes that hardly repeat: finding repeats there costs most of the time and gains next to
//! nothing, so their bytes are coded by how common they are and by their runs of zeros alone (`huffman`). Drawings leave
//! long repeats, which a library finds fast. Every part ends at a whole byte, so ways may change from part to part, and
//! parts may be made side by side.

mod huffman;
mod lengths;

use seamwright_contract::Fault;
use zlib_rs::adler32::{adler32, adler32_combine};
use zlib_rs::{Deflate, DeflateFlush, Status};

use huffman::Huffman;

/// How a part is deflated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// By how common its bytes are.
    Counted,
    /// By its repeats.
    Repeated,
}

/// Deflate, 32 KiB window; no dictionary (RFC 1950, 2.2).
pub(super) const HEADER: [u8; 2] = [0x78, 0x01];
/// An empty stored block that ends the stream (RFC 1951, 3.2.4).
const END: [u8; 5] = [1, 0, 0, 0xff, 0xff];
/// The level that finds the repeats of drawings as well as higher ones, in half their time.
const LEVEL: i32 = 3;
/// A raw stream's window, in bits.
const WINDOW: u8 = 15;
/// Room for the output that is made at a time.
const ROOM: usize = 1 << 16;

/// A whole stream, by its repeats.
pub(crate) fn stream_of(bytes: &[u8]) -> Result<Vec<u8>, Fault> {
    let part = Deflater::default().deflate(bytes, Way::Repeated)?;
    let mut sum = Sum::new();
    sum.add(&part);
    Ok([&HEADER, part.bytes.as_slice(), &sum.end()].concat())
}

/// Part of a stream.
#[derive(Debug)]
pub struct Deflated {
    pub(super) bytes: Vec<u8>,
    sum: u32,
    /// How many bytes went in.
    length: u64,
}

impl Deflated {
    /// Bytes it takes.
    #[must_use]
    pub fn size(&self) -> usize {
        self.bytes.len()
    }
}

/// The checksum of all bytes that went into a stream's parts.
#[derive(Debug)]
pub(super) struct Sum(u32);

impl Sum {
    /// Of no bytes.
    pub(super) const fn new() -> Self {
        Self(1)
    }

    /// With the bytes of one more part.
    pub(super) fn add(&mut self, part: &Deflated) {
        self.0 = adler32_combine(self.0, part.sum, part.length);
    }

    /// What follows on the last part.
    pub(super) fn end(&self) -> Vec<u8> {
        [END.as_slice(), &self.0.to_be_bytes()].concat()
    }
}

/// Deflates parts, one after another.
#[derive(Default)]
pub(super) struct Deflater {
    huffman: Huffman,
    repeats: Option<Deflate>,
}

impl Deflater {
    pub(super) fn deflate(&mut self, bytes: &[u8], way: Way) -> Result<Deflated, Fault> {
        let mut out = Vec::new();
        match way {
            Way::Counted => self.huffman.deflate(bytes, &mut out),
            Way::Repeated => self.repeated(bytes, &mut out)?,
        }
        let length = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
        Ok(Deflated { bytes: out, sum: adler32(1, bytes), length })
    }

    fn repeated(&mut self, mut bytes: &[u8], out: &mut Vec<u8>) -> Result<(), Fault> {
        let deflate = self.repeats.get_or_insert_with(|| Deflate::new(LEVEL, false, WINDOW));
        deflate.reset();
        loop {
            let (before, from) = (deflate.total_out(), deflate.total_in());
            let start = out.len();
            out.resize(start + ROOM, 0);
            let room = out.get_mut(start..).unwrap_or_default();
            let status = deflate.compress(bytes, room, DeflateFlush::SyncFlush);
            let made = taken(before, deflate.total_out());
            out.truncate(start + made);
            bytes = bytes.get(taken(from, deflate.total_in())..).unwrap_or_default();
            match status {
                // With room left and nothing more to take, all is flushed to a whole byte.
                Ok(Status::Ok) if made == ROOM || !bytes.is_empty() => {}
                Ok(Status::Ok | Status::BufError) => return Ok(()),
                Ok(Status::StreamEnd) => return Err(broken("it ended early")),
                Err(why) => return Err(broken(why.as_str())),
            }
        }
    }
}

fn taken(before: u64, after: u64) -> usize {
    usize::try_from(after - before).unwrap_or(usize::MAX)
}

fn broken(why: &str) -> Fault {
    Fault::defect(format!("a page could not be compressed: {why}."))
}

#[cfg(test)]
mod tests;
