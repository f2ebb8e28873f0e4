//! Decoded rows at rest, in bands: in memory, and from where that would be too much in an unlinked scratch file. They may
//! be read while more of them come.

use std::fmt;
use std::fs::File;
use std::ops::Range;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Depth, Format, Pixels, Samples, Window};
use crate::contract::survey::{self, Survey, Wish};
use crate::contract::turn::Turn;
use crate::progress::Progress;
use crate::reduce::{Averaged, Reducer};
use crate::sink::{room, scratch_fault};

/// Bands of about so many bytes: few enough to be read while the next comes, so many that waiting costs nothing.
const BAND: usize = 2 << 20;

/// The rows in memory.
pub(crate) enum Held {
    Eight(Bands<u8>),
    Sixteen(Bands<u16>),
}

/// A picture's rows as stored, before turning.
pub(crate) struct Rows {
    /// No others have the same.
    pub(crate) number: u64,
    pub(crate) size: Pixels,
    pub(crate) format: Format,
    /// The first ones.
    pub(crate) held: Held,
    /// How many these are.
    pub(crate) count: usize,
    /// The others, one after another, samples in the machine's byte order.
    pub(crate) scratch: Option<Scratch>,
    pub(crate) progress: Progress,
}

impl fmt::Debug for Rows {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Rows({:?}, {:?}, {:?})", self.size, self.format, self.progress)
    }
}

/// Rows in memory; a band is there as soon as it is complete.
#[derive(Debug)]
pub(crate) struct Bands<T> {
    bands: Vec<OnceLock<Vec<T>>>,
    /// Rows of a band.
    tall: usize,
    /// Samples of a row.
    stride: usize,
}

impl<T> Bands<T> {
    /// So many rows of a picture, none of them there yet.
    pub(crate) fn new(size: Pixels, format: Format, rows: usize) -> Self {
        let tall = tall(size, format);
        let bands = rows.div_ceil(tall);
        Self { bands: (0..bands).map(|_| OnceLock::new()).collect(), tall, stride: stride(size, format) }
    }

    /// All of them there.
    pub(crate) fn whole(size: Pixels, format: Format, rows: Vec<T>) -> Self {
        let tall = num::index(size.height).max(1);
        Self { bands: vec![OnceLock::from(rows)], tall, stride: stride(size, format) }
    }

    /// The band that has this row is there.
    pub(crate) fn put(&self, row: usize, band: Vec<T>) -> Result<(), Fault> {
        let place = self.bands.get(row / self.tall).ok_or_else(one_too_many)?;
        place.set(band).map_err(|_| one_too_many())
    }

    /// All the rows that are in one band with this one, from the band's first.
    fn band(&self, row: usize) -> &[T] {
        self.bands.get(row / self.tall).and_then(OnceLock::get).map(Vec::as_slice).unwrap_or_default()
    }

    /// Part of a row, or, from the row `below` on, what is elsewhere of it; nothing where it has not been waited for.
    fn row_or<'a>(
        &'a self,
        at: usize,
        part: &Range<usize>,
        below: usize,
        rest: &impl Fn(usize) -> &'a [T],
    ) -> &'a [T] {
        if at >= below {
            return rest(at - below);
        }
        let first = at % self.tall * self.stride;
        self.band(at).get(first + part.start..first + part.end).unwrap_or_default()
    }
}

/// Rows of a band.
pub(crate) fn tall(size: Pixels, format: Format) -> usize {
    (BAND / (num::index(size.width) * format.bytes()).max(1)).clamp(1, num::index(size.height).max(1))
}

/// Samples of a row.
pub(crate) fn stride(size: Pixels, format: Format) -> usize {
    num::index(size.width) * format.channels.count()
}

pub(crate) fn one_too_many() -> Fault {
    Fault::defect("a decoder gave more rows than the picture has")
}

static NUMBERS: AtomicU64 = AtomicU64::new(1);

impl Rows {
    /// All of them in memory.
    pub(crate) fn new(size: Pixels, format: Format, held: Held) -> Self {
        let (number, count) = (NUMBERS.fetch_add(1, Ordering::Relaxed), num::index(size.height));
        Self { number, size, format, held, count, scratch: None, progress: Progress::default() }
    }

    /// A window turned into `out`, which has its size.
    pub(crate) fn put(&self, window: Window, turn: Turn, out: &mut Samples) -> Result<(), Fault> {
        self.progress.wait_for(num::index(window.y + window.height))?;
        let (n, size) = (self.format.channels.count(), window.size());
        let (first, left) = (num::index(window.y), num::index(window.x) * n);
        let across = left..left + num::index(window.width) * n;
        let last = first + num::index(window.height);
        let below = self.count.clamp(first, last);
        let rest = self.read(window, below..last)?;
        match (&self.held, out) {
            (Held::Eight(bands), Samples::Eight(out)) => {
                let rest = row_of(&rest, across.len());
                turn.put(size, n, |row| bands.row_or(first + row, &across, below, &rest), out);
            }
            (Held::Sixteen(bands), Samples::Sixteen(out)) => {
                let rest = words(&rest);
                let rest = row_of(&rest, across.len());
                turn.put(size, n, |row| bands.row_or(first + row, &across, below, &rest), out);
            }
            _ => return Err(Fault::defect("a band did not take the depth it was given")),
        }
        Ok(())
    }

    /// Scaled down.
    pub(crate) fn reduced(&self, to: Pixels) -> Result<Samples, Fault> {
        Ok(match self.format.depth {
            Depth::Eight => Samples::Eight(self.averaged(to, |rows| rows.eight())?),
            Depth::Sixteen => Samples::Sixteen(self.averaged(to, |rows| rows.sixteen())?),
        })
    }

    fn averaged<T: Averaged>(&self, to: Pixels, of: fn(Part<'_>) -> &[T]) -> Result<Vec<T>, Fault> {
        let mut reducer = Reducer::new(self.size, to, self.format.channels.count());
        let stride = stride(self.size, self.format).max(1);
        let all = 0..num::index(self.size.height);
        self.each_band(all, |rows| of(rows).chunks_exact(stride).for_each(|row| reducer.push(row)))?;
        Ok(reducer.finish())
    }

    /// Surveyed where they lie.
    pub(crate) fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        survey::on_all_cores(self.size, self.format, wish, |rows, surveyor| {
            self.each_band(num::index(rows.start)..num::index(rows.end), |rows| match rows {
                Part::Eight(rows) => surveyor.take(rows),
                Part::Sixteen(rows) => surveyor.take_fine(rows),
            })
        })
    }

    /// Calls `each` with these rows in turn, many at a time, as they come.
    fn each_band(&self, all: Range<usize>, mut each: impl FnMut(Part<'_>)) -> Result<(), Fault> {
        let stride = stride(self.size, self.format);
        let tall = match &self.held {
            Held::Eight(bands) => bands.tall,
            Held::Sixteen(bands) => bands.tall,
        };
        let mut top = all.start;
        while top < all.end {
            let end = ((top / tall + 1) * tall).min(all.end);
            self.progress.wait_for(end)?;
            if top >= self.count {
                let bytes = self.read(Window::whole(self.size), top..end)?;
                match self.format.depth {
                    Depth::Eight => each(Part::Eight(&bytes)),
                    Depth::Sixteen => each(Part::Sixteen(&words(&bytes))),
                }
            } else {
                let part = top % tall * stride..(top % tall + end - top) * stride;
                match &self.held {
                    Held::Eight(bands) => each(Part::Eight(bands.band(top).get(part).unwrap_or_default())),
                    Held::Sixteen(bands) => {
                        each(Part::Sixteen(bands.band(top).get(part).unwrap_or_default()));
                    }
                }
            }
            top = end;
        }
        Ok(())
    }

    /// The bytes of some rows, as wide as a window, from the scratch file.
    fn read(&self, window: Window, rows: Range<usize>) -> Result<Vec<u8>, Fault> {
        let pixel = self.format.bytes();
        let across = num::index(window.width) * pixel;
        let stride = num::index(self.size.width) * pixel;
        let mut bytes = room(across * rows.len())?;
        let Some(scratch) = self.scratch.as_ref().filter(|_| !bytes.is_empty()) else { return Ok(bytes) };
        let start = |row: usize| {
            wide(row.saturating_sub(self.count)) * wide(stride) + u64::from(window.x) * wide(pixel)
        };
        if across == stride {
            scratch.read(&mut bytes, start(rows.start))?;
            return Ok(bytes);
        }
        for (row, bytes) in rows.zip(bytes.chunks_exact_mut(across)) {
            scratch.read(bytes, start(row))?;
        }
        Ok(bytes)
    }
}

/// Some rows.
enum Part<'a> {
    Eight(&'a [u8]),
    Sixteen(&'a [u16]),
}

impl<'a> Part<'a> {
    /// Samples of 8 bits; none where they have 16.
    fn eight(self) -> &'a [u8] {
        if let Self::Eight(samples) = self { samples } else { &[] }
    }

    /// Samples of 16 bits; none where they have 8.
    fn sixteen(self) -> &'a [u16] {
        if let Self::Sixteen(samples) = self { samples } else { &[] }
    }
}

/// The rows of a block of its own, so many samples each.
pub(crate) fn row_of<'a, T>(rows: &'a [T], across: usize) -> impl Fn(usize) -> &'a [T] {
    move |row| rows.get(row * across..(row + 1) * across).unwrap_or_default()
}

fn words(bytes: &[u8]) -> Vec<u16> {
    bytes.as_chunks().0.iter().map(|&pair| u16::from_ne_bytes(pair)).collect()
}

fn wide(value: usize) -> u64 {
    u64::try_from(value).unwrap_or(u64::MAX)
}

/// A file that is read at any place from any thread.
#[cfg(unix)]
pub(crate) struct Scratch(File);

#[cfg(unix)]
impl Scratch {
    pub(crate) fn new(file: File) -> Self {
        Self(file)
    }

    /// Appends.
    pub(crate) fn write(&self, bytes: &[u8]) -> Result<(), Fault> {
        std::io::Write::write_all(&mut &self.0, bytes).map_err(|error| scratch_fault(&error))
    }

    fn read(&self, bytes: &mut [u8], at: u64) -> Result<(), Fault> {
        std::os::unix::fs::FileExt::read_exact_at(&self.0, bytes, at).map_err(|error| scratch_fault(&error))
    }
}

/// A file that is read at any place, one thread after the other.
#[cfg(not(unix))]
pub(crate) struct Scratch(std::sync::Mutex<File>);

#[cfg(not(unix))]
impl Scratch {
    pub(crate) fn new(file: File) -> Self {
        Self(std::sync::Mutex::new(file))
    }

    /// Appends.
    pub(crate) fn write(&self, bytes: &[u8]) -> Result<(), Fault> {
        use std::io::{Seek, SeekFrom, Write};
        let mut file = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        file.seek(SeekFrom::End(0)).and_then(|_| file.write_all(bytes)).map_err(|error| scratch_fault(&error))
    }

    fn read(&self, bytes: &mut [u8], at: u64) -> Result<(), Fault> {
        use std::io::{Read, Seek, SeekFrom};
        let mut file = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        file.seek(SeekFrom::Start(at))
            .and_then(|_| file.read_exact(bytes))
            .map_err(|error| scratch_fault(&error))
    }
}
