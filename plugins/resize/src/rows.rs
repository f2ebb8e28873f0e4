//! Rows of samples copied from band to band: laid over one another, picked singly.

use seamwright_contract::num;
use seamwright_contract::picture::{Band, Samples};

/// Lays a band over another of the same format, its first pixel at `x`, `y`.
pub(crate) fn lay(from: &Band, to: &mut Band, x: u32, y: u32) {
    fn rows<T: Copy>(from: &[T], to: &mut [T], strides: [usize; 2], left: usize, top: usize) {
        let [from_stride, to_stride] = strides.map(|stride| stride.max(1));
        let lines = to.chunks_exact_mut(to_stride).skip(top);
        for (source, line) in from.chunks_exact(from_stride).zip(lines) {
            if let Some(part) = line.get_mut(left..left + source.len()) {
                part.copy_from_slice(source);
            }
        }
    }
    let strides = [from.stride(), to.stride()];
    let (left, top) = (num::index(x) * from.format().channels.count(), num::index(y));
    match (&from.samples, &mut to.samples) {
        (Samples::Eight(from), Samples::Eight(to)) => rows(from, to, strides, left, top),
        (Samples::Sixteen(from), Samples::Sixteen(to)) => rows(from, to, strides, left, top),
        (Samples::Eight(_), Samples::Sixteen(_)) | (Samples::Sixteen(_), Samples::Eight(_)) => {}
    }
}

/// Picks pixels of a band singly; where none is named, `to` is left as it is.
pub(crate) fn pick(from: &Band, columns: &[Option<u32>], rows: &[Option<u32>], to: &mut Band) {
    fn copy<T: Copy>(
        from: &[T],
        [stride, each]: [usize; 2],
        to: &mut [T],
        columns: &[Option<u32>],
        rows: &[Option<u32>],
    ) {
        let width = columns.len() * each;
        for (row, line) in rows.iter().zip(to.chunks_exact_mut(width.max(1))) {
            let Some(row) = row else { continue };
            let source = from.chunks_exact(stride.max(1)).nth(num::index(*row)).unwrap_or_default();
            for (column, pixel) in columns.iter().zip(line.chunks_exact_mut(each)) {
                let start = column.map(|column| num::index(column) * each);
                if let Some(found) = start.and_then(|start| source.get(start..start + each)) {
                    pixel.copy_from_slice(found);
                }
            }
        }
    }
    let measures = [from.stride(), from.format().channels.count()];
    match (&from.samples, &mut to.samples) {
        (Samples::Eight(from), Samples::Eight(to)) => copy(from, measures, to, columns, rows),
        (Samples::Sixteen(from), Samples::Sixteen(to)) => copy(from, measures, to, columns, rows),
        (Samples::Eight(_), Samples::Sixteen(_)) | (Samples::Sixteen(_), Samples::Eight(_)) => {}
    }
}
