//! A PDF file written forwards only: every object goes to the disk as it comes, only its offset is kept.
//!
//! Offsets are counted in 64 bits and written in the ten digits that a cross-reference table has
//! (ISO 32000-1, 7.5.4), so a file may grow to 10 GB.

use std::collections::BTreeMap;
use std::io::Write;

use lopdf::{Dictionary, Document, Object};
use seamwright_contract::Fault;

/// The greatest offset that has ten digits.
const FARTHEST: u64 = 9_999_999_999;

/// What follows a stream's bytes.
pub(super) const STREAM_END: &[u8] = b"\nendstream\nendobj\n";

/// A file being written.
pub(super) struct File<'a> {
    to: &'a mut dyn Write,
    at: u64,
    offsets: BTreeMap<u32, u64>,
}

/// A stream whose parts are being written.
pub(super) struct Long {
    id: u32,
    start: u64,
}

impl<'a> File<'a> {
    /// Writes the head of the file; the second line tells transfer programs that it is binary.
    pub(super) fn begin(to: &'a mut dyn Write) -> Result<Self, Fault> {
        let mut file = Self { to, at: 0, offsets: BTreeMap::new() };
        file.put(b"%PDF-1.7\n%\xBB\xAD\xC0\xDE\n")?;
        Ok(file)
    }

    /// Writes an object that is not a stream.
    pub(super) fn object(&mut self, id: u32, object: &Object) -> Result<(), Fault> {
        let mut text = self.start(id);
        put_object(&mut text, object);
        text.extend(b"\nendobj\n");
        self.put(&text)
    }

    /// Writes a stream; its length is set here.
    pub(super) fn stream(&mut self, id: u32, head: &Dictionary, content: &[u8]) -> Result<(), Fault> {
        let length = i64::try_from(content.len()).unwrap_or(i64::MAX);
        self.begin_stream(id, head, Object::Integer(length))?;
        self.put(content)?;
        self.put(STREAM_END)
    }

    /// Begins a stream that comes part by part; its length is to follow as an object of its own, whose number is the next
    /// one (ISO 32000-1, 7.3.8.2).
    pub(super) fn begin_long(&mut self, id: u32, head: &Dictionary) -> Result<Long, Fault> {
        self.begin_stream(id, head, Object::Reference((id + 1, 0)))?;
        Ok(Long { id, start: self.at })
    }

    /// Ends what [`Self::begin_long`] began.
    pub(super) fn end_long(&mut self, stream: &Long) -> Result<(), Fault> {
        let length = i64::try_from(self.at - stream.start).unwrap_or(i64::MAX);
        self.put(STREAM_END)?;
        self.object(stream.id + 1, &Object::Integer(length))
    }

    fn begin_stream(&mut self, id: u32, head: &Dictionary, length: Object) -> Result<(), Fault> {
        let mut head = head.clone();
        head.set("Length", length);
        let mut text = self.start(id);
        put_dictionary(&mut text, &head);
        text.extend(b"\nstream\n");
        self.put(&text)
    }

    /// Writes the objects of a document, whose numbers follow on those written, and the end of the file.
    pub(super) fn finish(mut self, document: &Document) -> Result<(), Fault> {
        for ((id, _), object) in &document.objects {
            match object {
                Object::Stream(stream) => self.stream(*id, &stream.dict, &stream.content)?,
                other => self.object(*id, other)?,
            }
        }
        let start = self.at;
        if start > FARTHEST {
            return Err(Fault::order(
                "the sheets would be larger than the 10 GB that a PDF file can hold.",
                "Choose a lower `ppi` for `resize`, or divide the artwork.",
            ));
        }
        let mut trailer = document.trailer.clone();
        let size = self.offsets.last_key_value().map_or(1, |(last, _)| last + 1);
        trailer.set("Size", i64::from(size));
        let mut text = format!("xref\n0 {size}\n0000000000 65535 f \n").into_bytes();
        for id in 1..size {
            let line = match self.offsets.get(&id) {
                Some(offset) => format!("{offset:010} 00000 n \n"),
                None => "0000000000 00000 f \n".to_owned(),
            };
            text.extend(line.bytes());
        }
        text.extend(b"trailer\n");
        put_dictionary(&mut text, &trailer);
        text.extend(format!("\nstartxref\n{start}\n%%EOF\n").bytes());
        self.put(&text)?;
        self.to.flush().map_err(|e| Fault::unwritten("the sheets", e))
    }

    /// Notes where an object begins; gives its first line.
    fn start(&mut self, id: u32) -> Vec<u8> {
        self.offsets.insert(id, self.at);
        format!("{id} 0 obj\n").into_bytes()
    }

    /// Writes bytes of a stream.
    pub(super) fn put(&mut self, bytes: &[u8]) -> Result<(), Fault> {
        self.to.write_all(bytes).map_err(|e| Fault::unwritten("the sheets", e))?;
        self.at += u64::try_from(bytes.len()).unwrap_or(u64::MAX);
        Ok(())
    }
}

pub(super) fn put_object(out: &mut Vec<u8>, object: &Object) {
    match object {
        Object::Null => out.extend(b"null"),
        Object::Boolean(value) => out.extend(value.to_string().bytes()),
        Object::Integer(value) => out.extend(value.to_string().bytes()),
        Object::Real(value) => out.extend(value.to_string().bytes()),
        Object::Name(name) => put_name(out, name),
        Object::String(bytes, _) => put_hex(out, bytes),
        Object::Array(items) => {
            out.push(b'[');
            for item in items {
                put_object(out, item);
                out.push(b' ');
            }
            out.push(b']');
        }
        // A stream inside another object does not occur in PDF; its dictionary is what can be written.
        Object::Dictionary(dictionary) | Object::Stream(lopdf::Stream { dict: dictionary, .. }) => {
            put_dictionary(out, dictionary);
        }
        Object::Reference((id, generation)) => out.extend(format!("{id} {generation} R").bytes()),
    }
}

fn put_dictionary(out: &mut Vec<u8>, dictionary: &Dictionary) {
    out.extend(b"<<");
    for (key, value) in dictionary {
        put_name(out, key);
        out.push(b' ');
        put_object(out, value);
        out.push(b'\n');
    }
    out.extend(b">>");
}

/// A name; anything but letters, digits and plain signs is written as two hex digits.
fn put_name(out: &mut Vec<u8>, name: &[u8]) {
    out.push(b'/');
    for byte in name {
        if byte.is_ascii_alphanumeric() || b"+-_.".contains(byte) {
            out.push(*byte);
        } else {
            out.extend(format!("#{byte:02X}").bytes());
        }
    }
}

fn put_hex(out: &mut Vec<u8>, bytes: &[u8]) {
    out.push(b'<');
    bytes.iter().for_each(|byte| out.extend(format!("{byte:02X}").bytes()));
    out.push(b'>');
}
