//! The arithmetic of scaling one window, and the buffers that each thread keeps for it.
//!
//! Across before down, in single-precision floats from whole samples to whole samples. Between the two, what overshoots is kept
//! within the reach of a sample, as other programs do it whose passes give whole samples. Products are summed in one order on
//! every processor, none fused, so the same artwork gives the same pixels everywhere.

use fearless_simd::prelude::*;
use fearless_simd::{Level, dispatch, f32x8};
use seamwright_contract::picture::{Band, Picture, Samples, Window};
use seamwright_contract::{Fault, num};

use crate::taps::Part;

/// Samples that are worked at once where the direction is across.
pub(crate) const LANES: usize = 8;

/// Samples that are worked at once where it is down: enough to keep the processor's registers busy.
const BLOCK: usize = 32;

/// Rows that share the reading of the weights across.
const ROWS: usize = 4;

/// Samples of the source that are held at a time, about.
const HELD: usize = 1 << 21;

/// Buffers kept from window to window.
#[derive(Debug)]
pub(crate) struct Work {
    /// What the source gave.
    pub(crate) source: Band,
    /// Rows of the source as floats.
    rows: Vec<f32>,
    /// The last rows that were scaled across; where the room ends it begins anew.
    lines: Vec<f32>,
}

impl Default for Work {
    fn default() -> Self {
        Self { source: Band::empty(), rows: Vec::new(), lines: Vec::new() }
    }
}

/// A part of the grid, and how it is made.
pub(crate) struct Task<'a> {
    /// Columns of the grid, with weights spread for the format's channels.
    pub(crate) across: Part<'a>,
    /// Rows of the grid.
    pub(crate) down: Part<'a>,
    /// Where its first pixel lies in the band that is given.
    pub(crate) at: (u32, u32),
}

impl Work {
    /// Scales what `task` needs of `source` into its place in `out`.
    ///
    /// # Errors
    /// [`Fault`] where the source cannot be read.
    pub(crate) fn scale(
        &mut self,
        source: &dyn Picture,
        task: &Task<'_>,
        out: &mut Band,
    ) -> Result<(), Fault> {
        let (columns, rows) = (task.across.needed(), task.down.needed());
        let each = source.format().channels.count();
        let needed = num::index(columns.end - columns.start) * num::index(rows.end - rows.start) * each;
        let tall = (task.down.length() * HELD / needed.max(1)).max(ROWS);
        let mut top = task.at.1;
        for down in task.down.pieces(tall) {
            let rows = down.needed();
            let window =
                Window::new(columns.start, rows.start, columns.end - columns.start, rows.end - rows.start);
            source.fill(window, &mut self.source)?;
            let part = Task { across: task.across, down, at: (task.at.0, top) };
            self.scale_held(&part, each, out)?;
            top += num::count(down.length());
        }
        Ok(())
    }

    /// Scales the part of the source that is held.
    fn scale_held(&mut self, task: &Task<'_>, each: usize, out: &mut Band) -> Result<(), Fault> {
        let (stride, held) = (out.stride().max(1), self.source.stride());
        let left = num::index(task.at.0) * each;
        let span = left..left + task.across.length() * each;
        let top = num::index(task.at.1);
        let mut passes = Passes { task, held, rows: &mut self.rows, lines: &mut self.lines };
        match (&self.source.samples, &mut out.samples) {
            (Samples::Eight(from), Samples::Eight(to)) => {
                let to = to.chunks_exact_mut(stride).skip(top).filter_map(|row| row.get_mut(span.clone()));
                passes.run(from, each, to);
            }
            (Samples::Sixteen(from), Samples::Sixteen(to)) => {
                let to = to.chunks_exact_mut(stride).skip(top).filter_map(|row| row.get_mut(span.clone()));
                passes.run(from, each, to);
            }
            _ => return Err(Fault::defect("a band did not take the depth it was given")),
        }
        Ok(())
    }
}

/// A sample of a picture.
trait Sample: Copy + Into<f32> {
    /// The fullest one.
    const MOST: f32;

    /// The nearest one, within the reach of its bits.
    fn nearest(value: f32) -> Self;
}

impl Sample for u8 {
    const MOST: f32 = 255.0;

    #[inline(always)]
    fn nearest(value: f32) -> Self {
        num::eight(value)
    }
}

impl Sample for u16 {
    const MOST: f32 = 65_535.0;

    #[inline(always)]
    fn nearest(value: f32) -> Self {
        num::sixteen(value)
    }
}

/// The two passes over a part of the source.
struct Passes<'a> {
    task: &'a Task<'a>,
    /// Samples of a row of the source's part.
    held: usize,
    rows: &'a mut Vec<f32>,
    lines: &'a mut Vec<f32>,
}

impl Passes<'_> {
    /// On the widest vectors that this processor has.
    fn run<'o, T: Sample + 'o>(&mut self, from: &[T], each: usize, to: impl Iterator<Item = &'o mut [T]>) {
        match each {
            1 => dispatch!(Level::new(), simd => self.scaled::<_, T, 1>(simd, from, to)),
            3 => dispatch!(Level::new(), simd => self.scaled::<_, T, 3>(simd, from, to)),
            _ => dispatch!(Level::new(), simd => self.scaled::<_, T, 4>(simd, from, to)),
        }
    }

    #[inline(always)]
    fn scaled<'o, S: Simd, T: Sample + 'o, const EACH: usize>(
        &mut self,
        simd: S,
        from: &[T],
        to: impl Iterator<Item = &'o mut [T]>,
    ) {
        let Task { across, down, .. } = self.task;
        // Vectors across may reach beyond the end of a row, where no weight is.
        let (wide, line) = (self.held + LANES, across.length() * EACH);
        // Rows come some at a time, and none may go that is still needed.
        let slots = (down.count + ROWS - 1).next_multiple_of(ROWS);
        self.rows.resize(ROWS * wide, 0.0);
        self.lines.resize(slots * line, 0.0);
        let (top, mut done) = (down.needed().start, 0);
        for ((first, weights), to) in down.each().zip(to) {
            let first = num::index(first - top);
            while done < first + down.count {
                let rows = from.chunks_exact(self.held.max(1)).skip(done);
                for (row, samples) in self.rows.chunks_exact_mut(wide).zip(rows) {
                    row.iter_mut().zip(samples).for_each(|(to, sample)| *to = (*sample).into());
                }
                let slot = done % slots * line;
                let Some(lines) = self.lines.get_mut(slot..slot + ROWS * line) else { return };
                scale_across::<S, EACH>(simd, self.rows, wide, *across, lines, line);
                lines.iter_mut().for_each(|at| *at = within(*at, T::MOST));
                done += ROWS;
            }
            let (last, earlier) = self.lines.split_at(first % slots * line);
            scale_down([earlier, last], line, weights, to);
        }
    }
}

/// Kept within nought and `most`.
#[inline(always)]
fn within(value: f32, most: f32) -> f32 {
    let above = if value > 0.0 { value } else { 0.0 };
    if above < most { above } else { most }
}

/// One row of the grid: the lines from the first on, each with its weight; they lie in two parts.
#[inline(always)]
fn scale_down<T: Sample>(parts: [&[f32]; 2], line: usize, weights: &[f32], out: &mut [T]) {
    let lines = parts.into_iter().flat_map(|part| part.chunks_exact(line.max(1)));
    let weighed: Vec<(&f32, &[f32])> = weights.iter().zip(lines).collect();
    let (blocks, rest) = out.as_chunks_mut::<BLOCK>();
    let mut at = 0;
    for block in blocks {
        let mut sums = [0.0; BLOCK];
        for &(weight, line) in &weighed {
            let Some(samples) = line.get(at..).and_then(|line| line.first_chunk::<BLOCK>()) else { return };
            sums.iter_mut().zip(samples).for_each(|(sum, sample)| *sum += weight * sample);
        }
        block.iter_mut().zip(sums).for_each(|(to, sum)| *to = T::nearest(sum));
        at += BLOCK;
    }
    for (place, to) in (at..).zip(rest) {
        let sample = |line: &[f32]| line.get(place).copied().unwrap_or(0.0);
        let sum = weighed.iter().fold(0.0, |sum, (weight, line)| sum + *weight * sample(line));
        *to = T::nearest(sum);
    }
}

/// Some rows, scaled across: for each pixel, vectors of whole source pixels with their weights, whose lanes are then laid
/// together by channel.
#[inline(always)]
fn scale_across<S: Simd, const EACH: usize>(
    simd: S,
    rows: &[f32],
    wide: usize,
    across: Part<'_>,
    lines: &mut [f32],
    line: usize,
) {
    let step = LANES / EACH * EACH;
    let from = across.needed().start;
    let mut ends = rows.chunks_exact(wide.max(1));
    let rows: [&[f32]; ROWS] = std::array::from_fn(|_| ends.next().unwrap_or_default());
    for (x, (first, weights)) in across.each().enumerate() {
        let at = num::index(first - from) * EACH;
        let weights = weights.as_chunks::<LANES>().0;
        let reach = at..at + weights.len() * step + (LANES - step);
        let parts = rows.map(|row| row.get(reach.clone()).unwrap_or_default());
        for (part, line) in parts.into_iter().zip(lines.chunks_exact_mut(line.max(1))) {
            let mut sum = f32x8::splat(simd, 0.0);
            for (weight, samples) in weights.iter().zip(part.windows(LANES).step_by(step)) {
                let weight: f32x8<S> = (*weight).simd_into(simd);
                sum += weight * f32x8::from_slice(simd, samples);
            }
            let lanes: [f32; LANES] = sum.into();
            if let Some(pixel) = line.get_mut(x * EACH..).and_then(|line| line.first_chunk_mut::<EACH>()) {
                *pixel = std::array::from_fn(|channel| lanes[channel..step].iter().step_by(EACH).sum());
            }
        }
    }
}
