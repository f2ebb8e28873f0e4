//! Files of sheets written here, read once more so that their pages can be taken over ([`super::shared`]).
//!
//! Pictures are long, and what is done to them is nothing: they go from one file to the other as they are. So a file is read
//! without them; where each lies in it is enough. That can be told because [`super::file`] writes objects one after the other and
//! a plain table of where they begin.

use std::collections::BTreeMap;
use std::io::{self, Read, Seek, SeekFrom};

use lopdf::{Dictionary, Document, Object, ObjectId};
use seamwright_contract::Fault;

use super::file::STREAM_END;

/// A file that can be read at any place.
pub trait Readable: Read + Seek {}

impl<File: Read + Seek> Readable for File {}

/// Objects longer than this are left in the file.
const LONG: u64 = 1 << 16;

/// A long one's dictionary ends within so many bytes, and all that is not a picture within so many.
const HEAD: u64 = 1 << 12;
const TABLE: u64 = 1 << 24;

/// Before a stream's bytes.
const STREAM: &[u8] = b"\nstream\n";

/// What ends the file: where its table begins.
const START: &[u8] = b"startxref\n";

/// A file of sheets.
pub(super) struct Taken {
    file: Box<dyn Readable>,
    /// All of it but the bytes of long streams, which are dictionaries here.
    pub(super) document: Document,
    /// Where those lie: the first byte, and how many.
    long: BTreeMap<u32, (u64, u64)>,
}

impl Taken {
    /// Reads all but the pictures.
    pub(super) fn open(file: Box<dyn Readable>) -> Result<Self, Fault> {
        Self::read(file).map_err(|why| {
            Fault::order(
                format!("Finished sheets could not be read again: {why}."),
                "Print each job's own sheets: seamwright print and its name.",
            )
        })
    }

    fn read(mut file: Box<dyn Readable>) -> io::Result<Self> {
        let end = file.seek(SeekFrom::End(0))?;
        let tail = bytes(file.as_mut(), end.saturating_sub(64), 64.min(end))?;
        let start = find(&tail, START)
            .and_then(|at| tail.get(at + START.len()..))
            .and_then(|rest| std::str::from_utf8(rest).ok()?.lines().next()?.parse::<u64>().ok())
            .filter(|start| *start < end && end - start <= TABLE)
            .ok_or_else(|| other("its end is not as it was written"))?;
        let table = bytes(file.as_mut(), start, end - start)?;
        let offsets = offsets(&table).filter(|offsets| offsets.values().all(|at| *at < start));
        let offsets = offsets.ok_or_else(|| other("its table is not as it was written"))?;
        let mut all: Vec<(u64, u32)> = offsets.into_iter().map(|(id, at)| (at, id)).collect();
        all.sort_unstable();
        let (mut short, mut long, mut moved) = (b"%PDF-1.7\n".to_vec(), BTreeMap::new(), BTreeMap::new());
        for (place, (at, id)) in all.iter().enumerate() {
            let next = all.get(place + 1).map_or(start, |(next, _)| *next);
            moved.insert(*id, short.len());
            if next - at <= LONG {
                short.extend(bytes(file.as_mut(), *at, next - at)?);
                continue;
            }
            let head = bytes(file.as_mut(), *at, HEAD)?;
            let cut = find(&head, STREAM).ok_or_else(|| other("a long object of it is no stream"))?;
            let begin = at + length(cut + STREAM.len());
            let stream = (next - begin).checked_sub(length(STREAM_END.len()));
            long.insert(*id, (begin, stream.ok_or_else(|| other("a stream of it has no end"))?));
            short.extend(head.get(..cut).unwrap_or_default());
            short.extend(b"\nendobj\n");
        }
        let from = short.len();
        let size = moved.last_key_value().map_or(1, |(last, _)| last + 1);
        short.extend(format!("xref\n0 {size}\n0000000000 65535 f \n").bytes());
        for id in 1..size {
            let line = moved
                .get(&id)
                .map_or_else(|| "0000000000 00000 f \n".to_owned(), |at| format!("{at:010} 00000 n \n"));
            short.extend(line.bytes());
        }
        let trailer = find(&table, b"trailer").zip(find(&table, START));
        let trailer = trailer.and_then(|(from, to)| table.get(from..to));
        short.extend(trailer.ok_or_else(|| other("it has no trailer"))?);
        short.extend(format!("startxref\n{from}\n%%EOF\n").bytes());
        let document = Document::load_mem(&short).map_err(io::Error::other)?;
        Ok(Self { file, document, long })
    }

    /// The pages, in their order.
    pub(super) fn pages(&self) -> Vec<ObjectId> {
        self.document.get_pages().into_values().collect()
    }

    /// The page's box and resources, and all that is drawn on it.
    pub(super) fn page(&self, page: ObjectId) -> Result<(Object, Dictionary, Vec<u8>), lopdf::Error> {
        let head = self.document.get_dictionary(page)?;
        let resources = head.get_deref(b"Resources", &self.document)?.as_dict()?.clone();
        Ok((head.get(b"MediaBox")?.clone(), resources, self.document.get_page_content(page)))
    }

    /// The length of a stream that was left in the file, if that is one.
    pub(super) fn long(&self, id: u32) -> Option<u64> {
        self.long.get(&id).map(|(_, length)| *length)
    }

    /// Gives the bytes of such a stream part by part.
    pub(super) fn pour(
        &mut self,
        id: u32,
        put: &mut dyn FnMut(&[u8]) -> Result<(), Fault>,
    ) -> Result<(), Fault> {
        let Some((at, mut left)) = self.long.get(&id).copied() else { return Ok(()) };
        let unread = |why: io::Error| {
            Fault::machine(
                format!("Finished sheets could not be read again: {why}."),
                "See that the disk is well.",
            )
        };
        self.file.seek(SeekFrom::Start(at)).map_err(unread)?;
        let mut part = vec![0; 1 << 16];
        while left > 0 {
            let most = usize::try_from(left).unwrap_or(usize::MAX).min(part.len());
            let part = part.get_mut(..most).unwrap_or_default();
            self.file.read_exact(part).map_err(unread)?;
            put(part)?;
            left -= length(most);
        }
        Ok(())
    }
}

fn other(why: &'static str) -> io::Error {
    io::Error::other(why)
}

fn length(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}

fn bytes(file: &mut dyn Readable, at: u64, count: u64) -> io::Result<Vec<u8>> {
    file.seek(SeekFrom::Start(at))?;
    let mut bytes = Vec::new();
    file.take(count).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn find(text: &[u8], what: &[u8]) -> Option<usize> {
    text.windows(what.len()).position(|part| part == what)
}

/// Where the objects begin, from a table of one section (ISO 32000-1, 7.5.4).
fn offsets(table: &[u8]) -> Option<BTreeMap<u32, u64>> {
    let text = table.get(..find(table, b"trailer")?)?;
    let mut lines = std::str::from_utf8(text).ok()?.lines();
    (lines.next()? == "xref").then_some(())?;
    let count: u32 = lines.next()?.strip_prefix("0 ")?.parse().ok()?;
    let mut offsets = BTreeMap::new();
    for id in 0..count {
        let mut words = lines.next()?.split_whitespace();
        let (at, _, kind) = (words.next()?, words.next()?, words.next()?);
        if kind == "n" {
            offsets.insert(id, at.parse().ok()?);
        }
    }
    Some(offsets)
}
