//! One zlib stream (RFC 1950) out of parts that are each deflated in the way that suits them.
//!
//! Photographs leave predicted bytes that hardly repeat: finding repeats there costs most of the time and gains next to
//! nothing, so their bytes are coded by how common they are and by their runs of zeros alone (`huffman`). Drawings leave
//! long repeats, which a library finds fast. Every part ends at a whole byte, so ways may change from part to part.

mod huffman;
mod lengths;

use seamwright_contract::Fault;
use zlib_rs::adler32::adler32;
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
const HEADER: [u8; 2] = [0x78, 0x01];
/// An empty stored block that ends the stream (RFC 1951, 3.2.4).
const END: [u8; 5] = [1, 0, 0, 0xff, 0xff];
/// The level that finds the repeats of drawings as well as higher ones, in half their time.
const LEVEL: i32 = 3;
/// A raw stream's window, in bits.
const WINDOW: u8 = 15;
/// Room for the output that is made at a time.
const ROOM: usize = 1 << 16;

/// A stream that is being written.
pub(super) struct Stream {
    out: Vec<u8>,
    sum: u32,
    huffman: Huffman,
    repeats: Option<Deflate>,
}

impl Stream {
    pub(super) fn new() -> Self {
        Self { out: HEADER.to_vec(), sum: 1, huffman: Huffman::new(), repeats: None }
    }

    /// Takes the next bytes.
    pub(super) fn take(&mut self, bytes: &[u8], way: Way) -> Result<(), Fault> {
        self.sum = adler32(self.sum, bytes);
        match way {
            Way::Counted => {
                self.huffman.deflate(bytes, &mut self.out);
                Ok(())
            }
            Way::Repeated => self.repeated(bytes),
        }
    }

    fn repeated(&mut self, mut bytes: &[u8]) -> Result<(), Fault> {
        let deflate = self.repeats.get_or_insert_with(|| Deflate::new(LEVEL, false, WINDOW));
        deflate.reset();
        loop {
            let (before, from) = (deflate.total_out(), deflate.total_in());
            let start = self.out.len();
            self.out.resize(start + ROOM, 0);
            let room = self.out.get_mut(start..).unwrap_or_default();
            let status = deflate.compress(bytes, room, DeflateFlush::SyncFlush);
            let made = taken(before, deflate.total_out());
            self.out.truncate(start + made);
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

    pub(super) fn finish(mut self) -> Vec<u8> {
        self.out.extend_from_slice(&END);
        self.out.extend_from_slice(&self.sum.to_be_bytes());
        self.out
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
