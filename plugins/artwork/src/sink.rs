//! Where decoded rows go: into memory, or, where that would be too much, into an unlinked scratch file.

use std::fs::File;
use std::io::{BufWriter, Write};

use crate::Limits;
use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Depth, Format, Pixels};

/// One row of the picture, to be written.
#[derive(Debug)]
pub(crate) enum Row<'a> {
    /// 8 bits a sample.
    Eight(&'a mut [u8]),
    /// 16 bits a sample.
    Sixteen(&'a mut [u16]),
}

/// The rows that have come so far.
#[derive(Debug)]
pub(crate) enum Rows {
    /// In memory, 8 bits a sample.
    Eight(Vec<u8>),
    /// In memory, 16 bits a sample.
    Sixteen(Vec<u16>),
    /// In a file, one row after another, samples in the machine's byte order.
    Scratch(BufWriter<File>),
}

/// Takes a picture's rows from top to bottom.
#[derive(Debug)]
pub(crate) struct Sink {
    size: Pixels,
    format: Format,
    pub(crate) rows: Rows,
    done: usize,
    line8: Vec<u8>,
    line16: Vec<u16>,
}

impl Sink {
    /// For a picture that comes row by row: in memory if it fits.
    pub(crate) fn streaming(size: Pixels, format: Format, limits: &Limits) -> Result<Self, Fault> {
        if bytes(size, format) <= limits.memory {
            return Self::in_memory(size, format);
        }
        let file = tempfile::tempfile_in(&limits.scratch).map_err(|error| scratch_fault(&error))?;
        let rows = Rows::Scratch(BufWriter::with_capacity(1 << 20, file));
        let stride = num::index(size.width) * format.channels.count();
        let (line8, line16) = match format.depth {
            Depth::Eight => (room(stride)?, Vec::new()),
            Depth::Sixteen => (Vec::new(), room(stride)?),
        };
        Ok(Self { size, format, rows, done: 0, line8, line16 })
    }

    /// For a picture known to fit into memory.
    pub(crate) fn in_memory(size: Pixels, format: Format) -> Result<Self, Fault> {
        let samples = num::index(size.width)
            .saturating_mul(num::index(size.height))
            .saturating_mul(format.channels.count());
        let rows = match format.depth {
            Depth::Eight => Rows::Eight(room(samples)?),
            Depth::Sixteen => Rows::Sixteen(room(samples)?),
        };
        Ok(Self { size, format, rows, done: 0, line8: Vec::new(), line16: Vec::new() })
    }

    /// For 8-bit rows that are all there already.
    pub(crate) fn whole(size: Pixels, format: Format, rows: Vec<u8>) -> Self {
        let done = num::index(size.height);
        Self { size, format, rows: Rows::Eight(rows), done, line8: Vec::new(), line16: Vec::new() }
    }

    /// The picture's size as stored.
    pub(crate) fn size(&self) -> Pixels {
        self.size
    }

    /// The form of its rows.
    pub(crate) fn format(&self) -> Format {
        self.format
    }

    /// Whether every row has come.
    pub(crate) fn complete(&self) -> bool {
        self.done == num::index(self.size.height)
    }

    /// Lets `fill` write the next row.
    pub(crate) fn row(&mut self, fill: impl FnOnce(Row<'_>) -> Result<(), Fault>) -> Result<(), Fault> {
        let stride = num::index(self.size.width) * self.format.channels.count();
        let at = self.done.saturating_mul(stride);
        let reach = at.saturating_add(stride);
        match &mut self.rows {
            Rows::Eight(rows) => fill(Row::Eight(rows.get_mut(at..reach).ok_or_else(one_too_many)?))?,
            Rows::Sixteen(rows) => fill(Row::Sixteen(rows.get_mut(at..reach).ok_or_else(one_too_many)?))?,
            Rows::Scratch(file) => {
                if self.format.depth == Depth::Eight {
                    fill(Row::Eight(&mut self.line8))?;
                } else {
                    fill(Row::Sixteen(&mut self.line16))?;
                    self.line8.clear();
                    self.line8.extend(self.line16.iter().flat_map(|sample| sample.to_ne_bytes()));
                }
                file.write_all(&self.line8).map_err(|error| scratch_fault(&error))?;
            }
        }
        self.done += 1;
        Ok(())
    }
}

/// Bytes a picture takes.
pub(crate) fn bytes(size: Pixels, format: Format) -> u64 {
    size.count().saturating_mul(u64::try_from(format.bytes()).unwrap_or(u64::MAX))
}

/// Memory for so many samples, all zero, or a fault instead of an abort.
pub(crate) fn room<T: Clone + Default>(samples: usize) -> Result<Vec<T>, Fault> {
    let mut room = Vec::new();
    room.try_reserve_exact(samples).map_err(|_| {
        Fault::machine(
            format!("There is not enough memory for {samples} samples of the artwork."),
            "Lower `memory` or `workers`, or close other programs.",
        )
    })?;
    room.resize(samples, T::default());
    Ok(room)
}

/// The scratch file could not be used.
pub(crate) fn scratch_fault(error: &std::io::Error) -> Fault {
    Fault::machine(
        format!("The artwork is too large for memory, and the scratch file for it failed: {error}."),
        "Make room on the studio's disk, or raise `memory`.",
    )
}

fn one_too_many() -> Fault {
    Fault::defect("a decoder gave more rows than the picture has")
}
