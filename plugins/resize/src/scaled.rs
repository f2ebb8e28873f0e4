//! A picture scaled onto the design-wide grid, computed where it is asked for.
//!
//! Lanczos with three lobes on the encoded values, the kernel widened when reducing so that nothing aliases (the
//! textbook windowed sinc, sinc(x) sinc(x/3)); the arithmetic is a SIMD library's. Every window is computed from the
//! exact place of its first pixel, and in 16 bits: in 8 bits the library's coefficients are as coarse as the window's
//! largest one allows, and windows of the same place could differ by 2 of 255.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use seamwright_contract::layout::Design;
use seamwright_contract::picture::{Band, Channels, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Face, Fault, Length, Rect, num};

/// How far the kernel reaches, in source pixels where it enlarges.
const REACH: f64 = 3.0;

/// Deviations below this part of a pixel, over the whole picture, are left alone: about 2 µm at 300 ppi.
const SAME: f64 = 0.02;

/// One direction: which grid pixels the picture covers, and where they come from.
#[derive(Debug, Clone)]
struct Axis {
    /// Grid pixels covered by the picture.
    covered: Range<u32>,
    /// Source pixels a grid pixel.
    scale: f64,
    /// Where grid pixel 0 begins, in source pixels.
    origin: f64,
    /// Source pixels there are.
    source: u32,
}

impl Axis {
    fn new(grid: u32, design: Length, start: Length, length: Length, pitch_um: f64, source: u32) -> Self {
        let per_um = f64::from(source) / num::float(length.um());
        let at = |edge: Length| num::pixels(num::float(edge.um()) / pitch_um).min(grid);
        let first = if start <= Length::ZERO { 0 } else { at(start) };
        let last = if start + length >= design { grid } else { at(start + length) };
        Self {
            covered: first..last.max(first),
            scale: pitch_um * per_um,
            origin: -num::float(start.um()) * per_um,
            source,
        }
    }

    /// The source's own pixels, this many further on, if nothing need be computed.
    fn shift(&self) -> Option<i64> {
        let whole = self.origin.round();
        let drift = (self.scale - 1.0).abs() * f64::from(self.covered.end);
        ((self.origin - whole).abs() + drift < SAME).then(|| num::round(whole))
    }

    /// Where a grid pixel begins in the source.
    fn from(&self, grid: u32) -> f64 {
        self.origin + self.scale * f64::from(grid)
    }

    /// The source pixels needed for some grid pixels, kernel included; may reach beyond the source.
    fn needed(&self, grid: &Range<u32>) -> Range<i64> {
        let reach = REACH * self.scale.max(1.0) + 1.0;
        let first = num::round((self.from(grid.start) - reach).floor());
        let last = num::round((self.from(grid.end) + reach).ceil());
        first..last
    }
}

fn shared(one: &Range<u32>, start: u32, length: u32) -> Range<u32> {
    let first = one.start.max(start);
    first..one.end.min(start.saturating_add(length)).max(first)
}

fn length(range: &Range<u32>) -> u32 {
    range.end.saturating_sub(range.start)
}

/// A picture scaled onto the design-wide grid.
#[derive(Debug)]
pub(crate) struct Scaled {
    source: Arc<dyn Picture>,
    size: Pixels,
    across: Axis,
    down: Axis,
}

impl Scaled {
    /// `whole` is where all of the source lies on the face; it may reach beyond the design.
    pub(crate) fn new(source: Arc<dyn Picture>, design: &Design, whole: &Rect<Face>) -> Self {
        let (size, from, pitch) = (design.grid(), source.size(), design.sheet_ppi.pitch_um());
        let across = Axis::new(size.width, design.size.width, whole.x, whole.width, pitch, from.width);
        let down = Axis::new(size.height, design.size.height, whole.y, whole.height, pitch, from.height);
        Self { source, size, across, down }
    }

    /// The source's own pixels, laid over the window.
    fn copy(&self, window: Window, shift: (i64, i64), out: &mut Band) -> Result<(), Fault> {
        let (across, down) = (
            shared(&self.across.covered, window.x, window.width),
            shared(&self.down.covered, window.y, window.height),
        );
        let take = (clamped(&across, shift.0, self.across.source), clamped(&down, shift.1, self.down.source));
        let part = Window::new(take.0.start, take.1.start, length(&take.0), length(&take.1));
        if part.size() == window.size() {
            return self.source.fill(part, out);
        }
        out.reset(window.size(), self.format());
        if part.size().count() == 0 {
            return Ok(());
        }
        WORK.with_borrow_mut(|work| {
            self.source.fill(part, &mut work.source)?;
            lay(&work.source, out, across.start - window.x, down.start - window.y);
            Ok(())
        })
    }

    fn scale(&self, window: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(window.size(), self.format());
        let (across, down) = (
            shared(&self.across.covered, window.x, window.width),
            shared(&self.down.covered, window.y, window.height),
        );
        let part = Pixels::new(length(&across), length(&down));
        if part.count() == 0 {
            return Ok(());
        }
        WORK.with_borrow_mut(|work| {
            let (needed_x, needed_y) = (self.across.needed(&across), self.down.needed(&down));
            work.fetch(self.source.as_ref(), &needed_x, &needed_y)?;
            let crop = [
                self.across.from(across.start) - num::float(needed_x.start),
                self.down.from(down.start) - num::float(needed_y.start),
                self.across.scale * f64::from(part.width),
                self.down.scale * f64::from(part.height),
            ];
            if part == window.size() {
                return work.resize(crop, out);
            }
            let mut inner = std::mem::replace(&mut work.part, Band::empty());
            inner.reset(part, self.format());
            let done = work.resize(crop, &mut inner);
            lay(&inner, out, across.start - window.x, down.start - window.y);
            work.part = inner;
            done
        })
    }
}

/// Grid pixels as source pixels `shift` further on, kept within the source.
fn clamped(grid: &Range<u32>, shift: i64, source: u32) -> Range<u32> {
    let at = |pixel: u32| u32::try_from((i64::from(pixel) + shift).clamp(0, i64::from(source))).unwrap_or(0);
    at(grid.start)..at(grid.end)
}

impl Picture for Scaled {
    fn size(&self) -> Pixels {
        self.size
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        if !want.within(self.size) {
            return Err(Fault::defect(format!("{want:?} reaches beyond a picture of {:?}", self.size)));
        }
        match (self.across.shift(), self.down.shift()) {
            (Some(x), Some(y)) => self.copy(want, (x, y), out),
            _ => self.scale(want, out),
        }
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let size = Pixels::new(size.width.clamp(1, self.size.width), size.height.clamp(1, self.size.height));
        let (wide, high) = (
            f64::from(self.size.width) / f64::from(size.width),
            f64::from(self.size.height) / f64::from(size.height),
        );
        let own = self.source.size();
        let ask = |source: u32, scale: f64, per: f64| {
            num::pixels(f64::from(source) / (scale * per)).clamp(1, source)
        };
        let small = self.source.reduced(Pixels::new(
            ask(own.width, self.across.scale, wide),
            ask(own.height, self.down.scale, high),
        ))?;
        let columns = nearest(&self.across, size.width, wide, small.size().width);
        let rows = nearest(&self.down, size.height, high, small.size().height);
        let mut out = Band::bare(size, self.format());
        pick(&small, &columns, &rows, &mut out);
        Ok(out)
    }

    fn recipe(&self) -> String {
        format!("scaled to {}x{} of {}", self.size.width, self.size.height, self.source.recipe())
    }
}

/// For each pixel of a reduced design, the pixel of the reduced source that lies there, if any does.
fn nearest(axis: &Axis, count: u32, per: f64, source: u32) -> Vec<Option<u32>> {
    (0..count)
        .map(|pixel| {
            let grid = (f64::from(pixel) + 0.5) * per;
            let covered = grid >= f64::from(axis.covered.start) && grid < f64::from(axis.covered.end);
            let part = (axis.origin + axis.scale * grid) / f64::from(axis.source);
            covered.then(|| {
                num::pixels((part * f64::from(source)).floor().max(0.0)).min(source.saturating_sub(1))
            })
        })
        .collect()
}

fn pick(from: &Band, columns: &[Option<u32>], rows: &[Option<u32>], to: &mut Band) {
    fn copy<T: Copy>(
        from: &[T],
        stride: usize,
        to: &mut [T],
        columns: &[Option<u32>],
        rows: &[Option<u32>],
        each: usize,
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
    let (stride, each) = (from.stride(), from.format().channels.count());
    match (&from.samples, &mut to.samples) {
        (Samples::Eight(from), Samples::Eight(to)) => copy(from, stride, to, columns, rows, each),
        (Samples::Sixteen(from), Samples::Sixteen(to)) => copy(from, stride, to, columns, rows, each),
        (Samples::Eight(_), Samples::Sixteen(_)) | (Samples::Sixteen(_), Samples::Eight(_)) => {}
    }
}

/// Lays a band over another of the same format, its first pixel at `x`, `y`.
fn lay(from: &Band, to: &mut Band, x: u32, y: u32) {
    fn rows<T: Copy>(
        from: &[T],
        from_stride: usize,
        to: &mut [T],
        to_stride: usize,
        left: usize,
        top: usize,
    ) {
        let lines = to.chunks_exact_mut(to_stride.max(1)).skip(top);
        for (source, line) in from.chunks_exact(from_stride.max(1)).zip(lines) {
            if let Some(part) = line.get_mut(left..left + source.len()) {
                part.copy_from_slice(source);
            }
        }
    }
    let (from_stride, to_stride) = (from.stride(), to.stride());
    let (left, top) = (num::index(x) * from.format().channels.count(), num::index(y));
    match (&from.samples, &mut to.samples) {
        (Samples::Eight(from), Samples::Eight(to)) => rows(from, from_stride, to, to_stride, left, top),
        (Samples::Sixteen(from), Samples::Sixteen(to)) => rows(from, from_stride, to, to_stride, left, top),
        (Samples::Eight(_), Samples::Sixteen(_)) | (Samples::Sixteen(_), Samples::Eight(_)) => {}
    }
}

thread_local! {
    /// Each thread's buffers, kept from band to band.
    static WORK: RefCell<Work> = RefCell::new(Work::default());
}

struct Work {
    resizer: Resizer,
    source: Band,
    padded: Band,
    part: Band,
    /// The source in 16 bits.
    fine: Vec<u16>,
    /// The result in 16 bits.
    result: Vec<u16>,
    /// Whether `padded` holds what is to be resized, rather than `source`.
    use_padded: bool,
}

impl Default for Work {
    fn default() -> Self {
        Self {
            resizer: Resizer::new(),
            source: Band::empty(),
            padded: Band::empty(),
            part: Band::empty(),
            fine: Vec::new(),
            result: Vec::new(),
            use_padded: false,
        }
    }
}

impl Work {
    /// The source pixels of a window that may reach beyond the source, whose edges are then repeated.
    fn fetch(&mut self, source: &dyn Picture, across: &Range<i64>, down: &Range<i64>) -> Result<(), Fault> {
        let size = source.size();
        let (x, left, right) = inside(across, size.width);
        let (y, top, bottom) = inside(down, size.height);
        source.fill(Window::new(x.start, y.start, length(&x), length(&y)), &mut self.source)?;
        self.use_padded = left + right + top + bottom > 0;
        if self.use_padded {
            let whole =
                Pixels::new(length(&x) + num::count(left + right), length(&y) + num::count(top + bottom));
            self.padded.reset(whole, source.format());
            lay(&self.source, &mut self.padded, num::count(left), num::count(top));
            repeat_edges(&mut self.padded, left, right, top, bottom);
        }
        Ok(())
    }

    fn resize(&mut self, [x, y, width, height]: [f64; 4], out: &mut Band) -> Result<(), Fault> {
        let from = if self.use_padded { &self.padded } else { &self.source };
        let kind = pixel_type(from.format().channels);
        let (source, target) = (from.size(), out.size());
        let wrong = |e: &dyn std::fmt::Display| {
            Fault::defect(format!("scaling {source:?} to {target:?} failed: {e}"))
        };
        let options = ResizeOptions::new()
            .resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3))
            .crop(x, y, width, height)
            .use_alpha(false);
        let fine = match &from.samples {
            Samples::Eight(samples) => {
                self.fine.clear();
                self.fine.extend(samples.iter().copied().map(num::widen));
                &self.fine
            }
            Samples::Sixteen(samples) => samples,
        };
        self.result.resize(out.samples.len(), 0);
        let result = match &mut out.samples {
            Samples::Eight(_) => &mut self.result,
            Samples::Sixteen(samples) => samples,
        };
        let view = ImageRef::new(source.width, source.height, bytemuck::cast_slice(fine), kind)
            .map_err(|e| wrong(&e))?;
        let mut image =
            Image::from_slice_u8(target.width, target.height, bytemuck::cast_slice_mut(result), kind)
                .map_err(|e| wrong(&e))?;
        self.resizer.resize(&view, &mut image, &options).map_err(|e| wrong(&e))?;
        if let Samples::Eight(samples) = &mut out.samples {
            samples.iter_mut().zip(&self.result).for_each(|(sample, fine)| *sample = num::narrow(*fine));
        }
        Ok(())
    }
}

/// The part of a range inside `0..size`, and how many pixels are missing before and after it. A range wholly
/// outside becomes the nearest pixel.
fn inside(range: &Range<i64>, size: u32) -> (Range<u32>, usize, usize) {
    let last = i64::from(size);
    let start = range.start.clamp(0, (last - 1).max(0));
    let end = range.end.clamp(start + 1, last.max(1));
    let missing = |count: i64| usize::try_from(count).unwrap_or(0);
    let pixel = |at: i64| u32::try_from(at).unwrap_or(0);
    (pixel(start)..pixel(end), missing(start - range.start), missing(range.end - end))
}

fn repeat_edges(band: &mut Band, left: usize, right: usize, top: usize, bottom: usize) {
    fn repeat<T: Copy>(samples: &mut [T], stride: usize, each: usize, sides: [usize; 4]) {
        let [left, right, top, bottom] = sides;
        let rows = samples.len() / stride.max(1);
        for line in samples.chunks_exact_mut(stride.max(1)).skip(top).take(rows.saturating_sub(top + bottom))
        {
            for pixel in 0..left {
                line.copy_within(left * each..(left + 1) * each, pixel * each);
            }
            let end = stride - right * each;
            for pixel in 0..right {
                line.copy_within(end - each..end, end + pixel * each);
            }
        }
        for row in 0..top {
            samples.copy_within(top * stride..(top + 1) * stride, row * stride);
        }
        let end = (rows - bottom) * stride;
        for row in 0..bottom {
            samples.copy_within(end - stride..end, end + row * stride);
        }
    }
    let (stride, each) = (band.stride(), band.format().channels.count());
    match &mut band.samples {
        Samples::Eight(samples) => repeat(samples, stride, each, [left, right, top, bottom]),
        Samples::Sixteen(samples) => repeat(samples, stride, each, [left, right, top, bottom]),
    }
}

fn pixel_type(channels: Channels) -> PixelType {
    match channels {
        Channels::Gray => PixelType::U16,
        Channels::Rgb => PixelType::U16x3,
        Channels::Cmyk => PixelType::U16x4,
    }
}
