//! The opened picture: decoded rows in memory or in a scratch file, turned upright on their way out.

use std::fmt;
use std::fs::File;
use std::io::Write;

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Band, Depth, Format, Picture, Pixels, Samples, Window};
use crate::contract::survey::{self, Survey, Surveyor, Wish};
use crate::reduce::Reducer;
use crate::sink::{Rows, Sink, room, scratch_fault};
use crate::turn::Turn;

/// Rows read from a scratch file at once, in bytes.
const PIECE: usize = 4 << 20;

/// Decoded rows at rest.
enum Store {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
    Scratch(Scratch),
}

/// An opened artwork's pixels.
pub(crate) struct Stored {
    /// As stored, before turning.
    size: Pixels,
    format: Format,
    turn: Turn,
    store: Store,
    name: String,
}

impl fmt::Debug for Stored {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Stored({}, {:?}, {:?})", self.recipe(), self.format, self.turn)
    }
}

impl Stored {
    /// From a decoder's rows.
    pub(crate) fn new(sink: Sink, turn: Turn, name: &str) -> Result<Self, Fault> {
        if !sink.complete() {
            return Err(Fault::defect("a decoder stopped before the last row"));
        }
        let (size, format) = (sink.size(), sink.format());
        let store = match sink.rows {
            Rows::Eight(rows) => Store::Eight(rows),
            Rows::Sixteen(rows) => Store::Sixteen(rows),
            Rows::Scratch(mut writer) => {
                writer.flush().map_err(|error| scratch_fault(&error))?;
                let file = writer.into_inner().map_err(|error| scratch_fault(error.error()))?;
                Store::Scratch(Scratch::new(file))
            }
        };
        Ok(Self { size, format, turn, store, name: name.to_owned() })
    }

    fn samples(&self) -> usize {
        self.format.channels.count()
    }

    /// The bytes of a stored window, from the scratch file.
    fn read(&self, scratch: &Scratch, window: Window) -> Result<Vec<u8>, Fault> {
        let pixel = self.format.bytes();
        let across = num::index(window.width) * pixel;
        let stride = num::index(self.size.width) * pixel;
        let mut bytes = room(across * num::index(window.height))?;
        if across == 0 {
            return Ok(bytes);
        }
        let start = |row: u32| u64::from(row) * wide(stride) + u64::from(window.x) * wide(pixel);
        if across == stride {
            scratch.read(&mut bytes, start(window.y))?;
            return Ok(bytes);
        }
        for (row, bytes) in (window.y..).zip(bytes.chunks_exact_mut(across)) {
            scratch.read(bytes, start(row))?;
        }
        Ok(bytes)
    }

    /// Calls `each` with all stored rows in turn, as bytes from the scratch file.
    fn each_row(&self, scratch: &Scratch, mut each: impl FnMut(&[u8])) -> Result<(), Fault> {
        let stride = num::index(self.size.width) * self.format.bytes();
        let rows = num::count((PIECE / stride.max(1)).max(1));
        let mut top = 0;
        while top < self.size.height {
            let height = rows.min(self.size.height - top);
            let bytes = self.read(scratch, Window::new(0, top, self.size.width, height))?;
            bytes.chunks_exact(stride.max(1)).for_each(&mut each);
            top += height;
        }
        Ok(())
    }

    /// The stored picture scaled down, before turning.
    fn reduced_rows(&self, to: Pixels) -> Result<Samples, Fault> {
        let n = self.samples();
        let stride = num::index(self.size.width) * n;
        match &self.store {
            Store::Eight(rows) => Ok(Samples::Eight(reduced(rows, self.size, to, n, stride))),
            Store::Sixteen(rows) => Ok(Samples::Sixteen(reduced(rows, self.size, to, n, stride))),
            Store::Scratch(scratch) if self.format.depth == Depth::Eight => {
                let mut reducer = Reducer::<u8>::new(self.size, to, n);
                self.each_row(scratch, |row| reducer.push(row))?;
                Ok(Samples::Eight(reducer.finish()))
            }
            Store::Scratch(scratch) => {
                let mut reducer = Reducer::<u16>::new(self.size, to, n);
                self.each_row(scratch, |row| reducer.push(&words(row)))?;
                Ok(Samples::Sixteen(reducer.finish()))
            }
        }
    }
}

impl Picture for Stored {
    fn size(&self) -> Pixels {
        self.turn.size(self.size)
    }

    fn format(&self) -> Format {
        self.format
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        if !want.within(self.size()) {
            return Err(Fault::defect(format!("{want:?} reaches beyond {}", self.recipe())));
        }
        out.reset(want.size(), self.format);
        let window = self.turn.stored(want, self.size);
        let n = self.samples();
        match (&self.store, &mut out.samples) {
            (Store::Eight(rows), Samples::Eight(out)) => {
                self.turn.put(window.size(), n, part_of(rows, self.size, window, n), out);
            }
            (Store::Sixteen(rows), Samples::Sixteen(out)) => {
                self.turn.put(window.size(), n, part_of(rows, self.size, window, n), out);
            }
            (Store::Scratch(scratch), Samples::Eight(out)) => {
                let rows = self.read(scratch, window)?;
                let block = Window::whole(window.size());
                self.turn.put(window.size(), n, part_of(&rows, window.size(), block, n), out);
            }
            (Store::Scratch(scratch), Samples::Sixteen(out)) => {
                let rows = words(&self.read(scratch, window)?);
                let block = Window::whole(window.size());
                self.turn.put(window.size(), n, part_of(&rows, window.size(), block, n), out);
            }
            _ => return Err(Fault::defect("a band did not take the depth it was given")),
        }
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let own = self.size();
        if size.count() == 0 || size.width > own.width || size.height > own.height {
            return Err(Fault::defect(format!("{} cannot be reduced to {size:?}", self.recipe())));
        }
        let to = self.turn.size(size);
        let n = self.samples();
        let whole = Window::whole(to);
        let mut band = Band::bare(size, self.format);
        match (self.reduced_rows(to)?, &mut band.samples) {
            (Samples::Eight(rows), Samples::Eight(out)) if self.turn.upright() => *out = rows,
            (Samples::Sixteen(rows), Samples::Sixteen(out)) if self.turn.upright() => *out = rows,
            (Samples::Eight(rows), Samples::Eight(out)) => {
                self.turn.put(to, n, part_of(&rows, to, whole, n), out);
            }
            (Samples::Sixteen(rows), Samples::Sixteen(out)) => {
                self.turn.put(to, n, part_of(&rows, to, whole, n), out);
            }
            _ => return Err(Fault::defect("a band did not take the depth it was given")),
        }
        Ok(band)
    }

    /// Rows that stand upright are looked at where they lie.
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        if !self.turn.upright() {
            return survey::by_filling(self, wish);
        }
        let mut surveyor = Surveyor::new(self.size, self.format, wish);
        match &self.store {
            Store::Eight(rows) => surveyor.take(rows),
            Store::Sixteen(rows) => surveyor.take_fine(rows),
            Store::Scratch(scratch) if self.format.depth == Depth::Eight => {
                self.each_row(scratch, |row| surveyor.take(row))?;
            }
            Store::Scratch(scratch) => self.each_row(scratch, |row| surveyor.take_fine(&words(row)))?,
        }
        Ok(surveyor.finish())
    }

    fn recipe(&self) -> String {
        let size = self.size();
        format!("{} {}x{}", self.name, size.width, size.height)
    }
}

fn reduced<T: crate::reduce::Averaged>(
    rows: &[T],
    from: Pixels,
    to: Pixels,
    samples: usize,
    stride: usize,
) -> Vec<T> {
    let mut reducer = Reducer::new(from, to, samples);
    rows.chunks_exact(stride.max(1)).for_each(|row| reducer.push(row));
    reducer.finish()
}

/// The rows of a window inside rows of a picture of size `whole`.
fn part_of<'a, T>(rows: &'a [T], whole: Pixels, window: Window, samples: usize) -> impl Fn(usize) -> &'a [T] {
    let stride = num::index(whole.width) * samples;
    let across = num::index(window.width) * samples;
    let first = num::index(window.y) * stride + num::index(window.x) * samples;
    move |row| {
        let at = first + row * stride;
        rows.get(at..at + across).unwrap_or_default()
    }
}

fn words(bytes: &[u8]) -> Vec<u16> {
    bytes.as_chunks().0.iter().map(|&pair| u16::from_ne_bytes(pair)).collect()
}

fn wide(value: usize) -> u64 {
    u64::try_from(value).unwrap_or(u64::MAX)
}

/// A file that is read at any place from any thread.
#[cfg(unix)]
struct Scratch(File);

#[cfg(unix)]
impl Scratch {
    fn new(file: File) -> Self {
        Self(file)
    }

    fn read(&self, bytes: &mut [u8], at: u64) -> Result<(), Fault> {
        std::os::unix::fs::FileExt::read_exact_at(&self.0, bytes, at).map_err(|error| scratch_fault(&error))
    }
}

/// A file that is read at any place, one thread after the other.
#[cfg(not(unix))]
struct Scratch(std::sync::Mutex<File>);

#[cfg(not(unix))]
impl Scratch {
    fn new(file: File) -> Self {
        Self(std::sync::Mutex::new(file))
    }

    fn read(&self, bytes: &mut [u8], at: u64) -> Result<(), Fault> {
        use std::io::{Read, Seek, SeekFrom};
        let mut file = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        file.seek(SeekFrom::Start(at))
            .and_then(|_| file.read_exact(bytes))
            .map_err(|error| scratch_fault(&error))
    }
}
