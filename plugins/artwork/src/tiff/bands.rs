//! The pixels of a TIFF, band by band: a band is one strip, or one row of tiles, with all its planes.

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::Pixels;
use crate::sink::room;
use crate::{Limits, faults};

use super::form::Form;
use super::{Reader, fault};

/// Reads all bands and hands on each row, its samples side by side.
pub(super) fn read(
    reader: &mut Reader,
    grid: &Grid,
    form: Form,
    size: Pixels,
    limits: &Limits,
    mut each: impl FnMut(&[u8]) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let mut band = room(grid.stride * num::index(grid.rows.min(size.height)))?;
    let mut chunk = Vec::new();
    for row in 0..grid.down {
        let rows = grid.rows.min(size.height - row * grid.rows);
        for plane in 0..grid.planes {
            for column in 0..grid.across {
                let index = plane * grid.across * grid.down + row * grid.across + column;
                let line = load(reader, index, form.depth, limits, &mut chunk)?;
                grid.place(&chunk, line, column, plane, &mut band);
            }
        }
        for line in band.chunks_exact(grid.stride).take(num::index(rows)) {
            each(line)?;
        }
    }
    Ok(())
}

/// How strips or tiles lie in the picture.
pub(super) struct Grid {
    /// Bytes of memory that a band and one chunk of it take.
    pub(super) held: u64,
    across: u32,
    down: u32,
    planes: u32,
    /// Rows and columns of a chunk.
    rows: u32,
    columns: u32,
    /// Bytes of a sample, of a pixel in the band, and of a row of the band.
    sample: usize,
    pixel: usize,
    stride: usize,
    texel: usize,
}

impl Grid {
    /// Refuses where a band does not fit into memory.
    pub(super) fn new(reader: &Reader, form: Form, size: Pixels, limits: &Limits) -> Result<Self, Fault> {
        let (columns, rows) = reader.chunk_dimensions();
        let (across, down) = (size.width.div_ceil(columns.max(1)), size.height.div_ceil(rows.max(1)));
        let sample = form.raw.sample_bytes();
        let pixel = sample * form.raw.samples();
        let held = u64::from(rows.min(size.height))
            .saturating_mul(u64::from(size.width.max(columns)))
            .saturating_mul(u64::try_from(pixel).unwrap_or(u64::MAX))
            .saturating_mul(2);
        if held > limits.memory {
            return Err(faults::too_much_memory("TIFF in one strip or in tall ones", held, limits.memory));
        }
        let planes = if form.planes { num::count(form.raw.samples()) } else { 1 };
        let stride = num::index(size.width) * pixel;
        Ok(Self { held, across, down, planes, rows, columns, sample, pixel, stride, texel: form.texel })
    }

    /// Puts a chunk, whose rows are `line` bytes, where it belongs in the band.
    fn place(&self, chunk: &[u8], line: usize, column: u32, plane: u32, band: &mut [u8]) {
        let left =
            num::index(column) * num::index(self.columns) * self.pixel + num::index(plane) * self.sample;
        let width = self.texel * self.sample;
        for (from, to) in chunk.chunks_exact(line.max(1)).zip(band.chunks_exact_mut(self.stride)) {
            let Some(to) = to.get_mut(left..) else { return };
            if width == self.pixel {
                let across = from.len().min(to.len());
                if let (Some(to), Some(from)) = (to.get_mut(..across), from.get(..across)) {
                    to.copy_from_slice(from);
                }
            } else {
                for (to, from) in to.chunks_mut(self.pixel).zip(from.chunks_exact(width)) {
                    if let Some(to) = to.get_mut(..width) {
                        to.copy_from_slice(from);
                    }
                }
            }
        }
    }
}

/// Decodes one chunk into `chunk` and says how many bytes its rows have.
fn load(
    reader: &mut Reader,
    index: u32,
    depth: u16,
    limits: &Limits,
    chunk: &mut Vec<u8>,
) -> Result<usize, Fault> {
    let layout = reader.image_chunk_buffer_layout(index).map_err(fault)?;
    let line = layout.row_stride.map_or(1, std::num::NonZero::get);
    let length = u64::try_from(layout.len).unwrap_or(u64::MAX);
    if length > limits.memory {
        return Err(faults::too_much_memory("TIFF in very tall tiles", length, limits.memory));
    }
    chunk.clear();
    chunk.resize(layout.len, 0);
    reader.read_chunk_bytes(index, chunk).map_err(fault)?;
    if depth >= 8 {
        return Ok(line);
    }
    *chunk = chunk.iter().flat_map(|&byte| unpacked(byte, depth)).collect();
    Ok(line * usize::from(8 / depth))
}

/// The samples of one byte, first one in the high bits, spread over 0 to 255.
fn unpacked(byte: u8, depth: u16) -> impl Iterator<Item = u8> {
    let full = (1_u8 << depth) - 1;
    (0..8 / depth).map(move |place| ((byte >> (8 - depth * (place + 1))) & full) * (255 / full))
}
