//! Sheets put together of parts of sheets that are finished: each part lies on its new page as it lay on its old one, only
//! moved. No pixel is computed again: an old page becomes a form (ISO 32000-1, 8.10) that every page may show a part of, and its
//! pictures, fonts and profile are taken over byte by byte, each once, however many files have the same.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;

use lopdf::{Dictionary, Document, Object, ObjectId, Stream};
use seamwright_contract::Fault;
use sha2::{Digest as _, Sha256};

use super::deflate::stream_of;
use super::file::{File, put_object};
use super::place::Place;
use super::taken::{Readable, Taken};
use crate::page::Canvas;
use crate::pdf::{Info, document};

/// How deep objects of a page refer to others: far less than this.
const DEEPEST: u32 = 32;

/// A part of a finished page.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Which of the files it is from, counted from 0, and which page of that, from 1.
    pub page: (usize, u32),
    /// What is shown, where it lies on the new page.
    pub shown: Place,
    /// How far it is moved from where it lay, in points: right and up.
    pub moved: [f64; 2],
}

/// A page of such parts, with what stands beside them.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedSheet {
    /// What stands beside them.
    pub canvas: Canvas,
    /// The parts.
    pub parts: Vec<Part>,
}

/// Writes the file. `open` opens the files that the parts are from, one after the other.
///
/// # Errors
/// [`Fault`] of the machine, of a file that is not as it was written, or whatever `open` fails with.
pub fn write(
    sheets: &[SharedSheet],
    open: &mut dyn FnMut(usize) -> Result<Box<dyn Readable>, Fault>,
    info: &Info,
    to: &mut dyn Write,
) -> Result<(), Fault> {
    let mut copy = Copy { file: File::begin(to)?, next: 1, known: BTreeMap::new() };
    let used: BTreeSet<(usize, u32)> =
        sheets.iter().flat_map(|sheet| &sheet.parts).map(|part| part.page).collect();
    let mut forms: BTreeMap<(usize, u32), u32> = BTreeMap::new();
    let mut files: Vec<usize> = used.iter().map(|(file, _)| *file).collect();
    files.dedup();
    for number in files {
        let mut from = Taken::open(open(number)?)?;
        let pages = from.pages();
        let mut copied = BTreeMap::new();
        for (_, page) in used.iter().filter(|(file, _)| *file == number) {
            let at = usize::try_from(page.saturating_sub(1)).ok().and_then(|at| pages.get(at));
            let at = at.ok_or_else(|| Fault::defect(format!("a file of sheets has no page {page}.")))?;
            forms.insert((number, *page), copy.form(&mut from, *at, &mut copied)?);
        }
    }
    let canvases: Vec<Canvas> = sheets.iter().map(|sheet| sheet.canvas.clone()).collect();
    let mut document = document(&canvases, info)?;
    document.renumber_objects_with(copy.next);
    for (id, sheet) in document.get_pages().into_values().zip(sheets) {
        sheet.complete(&mut document, id, &forms).map_err(|why| failed(&why))?;
    }
    copy.file.finish(&document)
}

fn failed(why: &lopdf::Error) -> Fault {
    Fault::defect(format!("shared sheets could not be put together: {why}."))
}

impl SharedSheet {
    /// Puts the parts into the page that holds the canvas already.
    fn complete(
        &self,
        document: &mut Document,
        page: ObjectId,
        forms: &BTreeMap<(usize, u32), u32>,
    ) -> Result<(), lopdf::Error> {
        let (mut named, mut contents) = (Dictionary::new(), String::new());
        for part in &self.parts {
            let Some(form) = forms.get(&part.page) else { continue };
            let name = format!("Part{form}");
            let (shown, [right, up]) = (part.shown, part.moved);
            contents.push_str(&format!(
                "q\n{:.6} {:.6} {:.6} {:.6} re W n\n1 0 0 1 {right:.6} {up:.6} cm\n/{name} Do\nQ\n",
                shown.left, shown.bottom, shown.width, shown.height
            ));
            named.set(name, Object::Reference((*form, 0)));
        }
        let parts = document.add_object(Stream::new(Dictionary::new(), contents.into_bytes()));
        let page = document.get_dictionary_mut(page)?;
        let canvas = page.get(b"Contents")?.clone();
        page.set("Contents", vec![Object::Reference(parts), canvas]);
        page.get_mut(b"Resources")?.as_dict_mut()?.set("XObject", named);
        Ok(())
    }
}

/// A file being written, into which objects of others are taken over.
struct Copy<'a> {
    file: File<'a>,
    /// The number of the next object.
    next: u32,
    /// What is written already, by what it says.
    known: BTreeMap<[u8; 32], u32>,
}

impl Copy<'_> {
    /// A page of a file as a form.
    fn form(
        &mut self,
        from: &mut Taken,
        page: ObjectId,
        copied: &mut BTreeMap<ObjectId, u32>,
    ) -> Result<u32, Fault> {
        let (paper, resources, content) = from.page(page).map_err(|why| failed(&why))?;
        let resources = self.object(from, &Object::Dictionary(resources), copied, 0)?;
        let head = Dictionary::from_iter([
            ("Type", Object::from("XObject")),
            ("Subtype", Object::from("Form")),
            ("BBox", paper),
            ("Resources", resources),
            ("Filter", Object::from("FlateDecode")),
        ]);
        self.stream(head, &stream_of(&content)?)
    }

    /// An object as it is to stand in the new file, all that it refers to written there.
    fn object(
        &mut self,
        from: &mut Taken,
        object: &Object,
        copied: &mut BTreeMap<ObjectId, u32>,
        deep: u32,
    ) -> Result<Object, Fault> {
        if deep > DEEPEST {
            return Err(Fault::defect("objects of a page refer to each other without end."));
        }
        Ok(match object {
            Object::Reference(id) => {
                let known = copied.get(id).copied();
                let new = match known {
                    Some(new) => new,
                    None => self.taken_over(from, *id, copied, deep + 1)?,
                };
                copied.insert(*id, new);
                Object::Reference((new, 0))
            }
            Object::Array(items) => {
                let items = items.iter().map(|item| self.object(from, item, copied, deep + 1));
                Object::Array(items.collect::<Result<_, _>>()?)
            }
            Object::Dictionary(head) => Object::Dictionary(self.dictionary(from, head, copied, deep)?),
            other => other.clone(),
        })
    }

    fn dictionary(
        &mut self,
        from: &mut Taken,
        head: &Dictionary,
        copied: &mut BTreeMap<ObjectId, u32>,
        deep: u32,
    ) -> Result<Dictionary, Fault> {
        let mut new = Dictionary::new();
        for (key, value) in head {
            new.set(key.clone(), self.object(from, value, copied, deep + 1)?);
        }
        Ok(new)
    }

    /// Writes an object of a file; gives its new number.
    fn taken_over(
        &mut self,
        from: &mut Taken,
        id: ObjectId,
        copied: &mut BTreeMap<ObjectId, u32>,
        deep: u32,
    ) -> Result<u32, Fault> {
        let object = from.document.get_object(id).map_err(|why| failed(&why))?.clone();
        match object {
            Object::Stream(mut stream) => {
                // Written anew, and perhaps as an object of its own.
                stream.dict.remove(b"Length");
                let head = self.dictionary(from, &stream.dict, copied, deep)?;
                self.stream(head, &stream.content)
            }
            Object::Dictionary(mut head) if from.long(id.0).is_some() => {
                head.remove(b"Length");
                let head = self.dictionary(from, &head, copied, deep)?;
                let new = self.number(2);
                let stream = self.file.begin_long(new, &head)?;
                from.pour(id.0, &mut |part| self.file.put(part))?;
                self.file.end_long(&stream)?;
                Ok(new)
            }
            other => {
                let object = self.object(from, &other, copied, deep)?;
                let mut text = Vec::new();
                put_object(&mut text, &object);
                self.once(&text, |file, id| file.object(id, &object))
            }
        }
    }

    fn stream(&mut self, head: Dictionary, content: &[u8]) -> Result<u32, Fault> {
        let mut said = Vec::new();
        put_object(&mut said, &Object::Dictionary(head.clone()));
        said.extend(b"stream");
        said.extend(content);
        self.once(&said, |file, id| file.stream(id, &head, content))
    }

    /// Writes what is not written yet.
    fn once(
        &mut self,
        said: &[u8],
        write: impl FnOnce(&mut File<'_>, u32) -> Result<(), Fault>,
    ) -> Result<u32, Fault> {
        let sum: [u8; 32] = Sha256::digest(said).into();
        if let Some(known) = self.known.get(&sum) {
            return Ok(*known);
        }
        let id = self.number(1);
        write(&mut self.file, id)?;
        self.known.insert(sum, id);
        Ok(id)
    }

    /// The next number, of so many that are used.
    fn number(&mut self, used: u32) -> u32 {
        let id = self.next;
        self.next += used;
        id
    }
}
