//! Pixels in a file: written for a program, and read from where it left them.

use std::fs::File;
use std::io;
use std::ops::AddAssign;
use std::os::unix::fs::FileExt as _;
use std::panic::resume_unwind;
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread;

use seamwright_contract::colour::Source;
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Band, Channels, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::{Fault, num};

use crate::scratch::Scratch;
use crate::tiff;

/// The name under which a program finds the picture.
pub(crate) const PICTURE: &str = "picture.tif";

/// How much of a picture is computed at a time by all cores together, in bytes, and the fewest rows: who scales begins anew
/// with each band.
const AT_ONCE: u64 = 8 << 20;
const FEWEST: u32 = 16;

/// Rows of a file looked at together.
const LOOKED_AT: u32 = 64;

/// A picture in a program's folder.
#[derive(Debug)]
pub(crate) struct HandedOver {
    pub(crate) file: &'static str,
    pub(crate) size: Pixels,
    pub(crate) format: Format,
    /// What its profile calls itself; `sRGB` where none is needed to say so, nothing where nobody knows.
    pub(crate) profile: Option<String>,
}

/// Writes the picture of a layout into a program's folder, on all cores.
pub(crate) fn hand_over(layout: &Layout, scratch: &Scratch) -> Result<HandedOver, Fault> {
    let picture = layout.picture.as_ref();
    let (name, profile) = profile(layout, picture.format().channels);
    write(picture, layout.design()?.sheet_ppi.get(), profile, name, scratch)
}

/// The same of any picture.
pub(crate) fn write(
    picture: &dyn Picture,
    ppi: f64,
    profile: Option<&[u8]>,
    name: Option<String>,
    scratch: &Scratch,
) -> Result<HandedOver, Fault> {
    let (size, format) = (picture.size(), picture.format());
    let head = tiff::head(size, format, ppi, profile).ok_or_else(|| {
        Fault::setup(
            format!(
                "The picture has {} x {} pixels, more than a TIFF holds for a program.",
                size.width, size.height
            ),
            "Order it at fewer pixels per inch, or take the program out of the stages.",
        )
    })?;
    let unwritten = |why: io::Error| Fault::unwritten(PICTURE, why);
    let file = File::create_new(scratch.path().join(PICTURE)).map_err(unwritten)?;
    file.write_all_at(&head, 0).map_err(unwritten)?;
    let begin = u64::try_from(head.len()).unwrap_or_default();
    in_bands(size, tall(size, format), |band, top, rows| {
        picture.fill(Window::new(0, top, size.width, rows), band)?;
        let bytes = match &mut band.samples {
            Samples::Eight(samples) => samples.as_slice(),
            Samples::Sixteen(samples) => {
                samples.iter_mut().for_each(|sample| *sample = sample.to_le());
                bytemuck::cast_slice(samples)
            }
        };
        let at = begin + u64::from(top) * row_bytes(size, format);
        file.write_all_at(bytes, at).map_err(unwritten)
    })?;
    Ok(HandedOver { file: PICTURE, size, format, profile: name })
}

/// What the picture's colours mean at this point: the printer's once they were converted, the artwork's before.
fn profile(layout: &Layout, channels: Channels) -> (Option<String>, Option<&[u8]>) {
    let converted = layout.colour.as_ref().filter(|colour| colour.converted.is_some());
    let profile = match (converted, &layout.artwork.source) {
        (Some(colour), _) => colour.attached.as_ref(),
        (None, Source::Embedded(profile) | Source::Described(profile)) => Some(profile),
        (None, Source::Srgb { .. }) => None,
    };
    match profile {
        Some(profile) => (Some(profile.name.clone()), Some(&profile.bytes)),
        None if converted.is_some() || channels == Channels::Cmyk => (None, None),
        None => (Some("sRGB".to_owned()), None),
    }
}

fn row_bytes(size: Pixels, format: Format) -> u64 {
    u64::from(size.width) * u64::try_from(format.bytes()).unwrap_or(8)
}

/// How many rows are computed at a time.
fn tall(size: Pixels, format: Format) -> u32 {
    let cores = num::count(cores());
    let room = AT_ONCE / u64::from(cores) / row_bytes(size, format).max(1);
    u32::try_from(room).unwrap_or(u32::MAX).min(size.height.div_ceil(cores)).max(FEWEST)
}

/// Calls for bands of so many rows, on all cores, until all are done or one fails. Each core keeps its room from band to
/// band: memory that is new each time costs as much as what is written into it.
fn in_bands(
    size: Pixels,
    tall: u32,
    each: impl Fn(&mut Band, u32, u32) -> Result<(), Fault> + Sync,
) -> Result<(), Fault> {
    let next = AtomicU32::new(0);
    let work = || {
        let mut room = Band::empty();
        loop {
            let top = next.fetch_add(1, Ordering::Relaxed).saturating_mul(tall);
            if top >= size.height {
                return Ok(());
            }
            each(&mut room, top, tall.min(size.height - top))?;
        }
    };
    thread::scope(|scope| {
        let begun: Vec<_> = (0..cores()).map(|_| scope.spawn(work)).collect();
        begun.into_iter().try_for_each(|thread| thread.join().unwrap_or_else(|panic| resume_unwind(panic)))
    })
}

fn cores() -> usize {
    thread::available_parallelism().map_or(1, usize::from)
}

/// A picture that lies in a file, uncompressed, in strips of whole rows.
#[derive(Debug)]
pub(crate) struct Raster {
    file: File,
    size: Pixels,
    format: Format,
    /// Rows of a strip, and where each strip begins.
    rows: u32,
    strips: Vec<u64>,
    /// Whether samples of 16 bits have their high byte first.
    big: bool,
}

impl Raster {
    /// The strips lie within the file.
    pub(crate) fn new(
        file: File,
        size: Pixels,
        format: Format,
        rows: u32,
        strips: Vec<u64>,
        big: bool,
    ) -> Self {
        Self { file, size, format, rows, strips, big }
    }

    /// Reads rows of a window into bytes, as they lie in the file.
    fn read(&self, want: Window, bytes: &mut [u8]) -> Result<(), Fault> {
        let each = u64::try_from(self.format.bytes()).unwrap_or(8);
        let row = row_bytes(self.size, self.format);
        // Whole rows that follow one another are read at once.
        let whole = want.width == self.size.width;
        let stride = num::index(want.width) * self.format.bytes();
        let (mut y, mut rest) = (want.y, bytes);
        while y < want.y + want.height {
            let in_strip = y % self.rows;
            let tall = if whole { (self.rows - in_strip).min(want.y + want.height - y) } else { 1 };
            let strip = self.strips.get(num::index(y / self.rows)).copied().unwrap_or_default();
            let at = strip + u64::from(in_strip) * row + u64::from(want.x) * each;
            let (part, after) = rest
                .split_at_mut_checked(stride * num::index(tall))
                .ok_or_else(|| Fault::defect("a window of a program's picture has no room"))?;
            self.file.read_exact_at(part, at).map_err(|why| {
                Fault::machine(
                    format!("A program's picture could not be read: {why}."),
                    "See that the disk is well; the job is tried again.",
                )
            })?;
            (y, rest) = (y + tall, after);
        }
        Ok(())
    }

    /// The rows `from..to` as one row of the mean of each part between two columns.
    fn mean_row(
        &self,
        columns: &[u32],
        from: u32,
        to: u32,
        Room { band, eight, sixteen }: &mut Room,
    ) -> Result<Vec<u32>, Fault> {
        let n = self.format.channels.count();
        let mut sums = vec![0_u64; columns.len().saturating_sub(1) * n];
        for top in (from..to).step_by(num::index(LOOKED_AT)) {
            self.fill(Window::new(0, top, self.size.width, LOOKED_AT.min(to - top)), band)?;
            match &band.samples {
                Samples::Eight(samples) => add(samples, band.stride(), eight, columns, &mut sums),
                Samples::Sixteen(samples) => add(samples, band.stride(), sixteen, columns, &mut sums),
            }
        }
        let wide = columns.windows(2).flat_map(|part| match part {
            [left, right] => vec![u64::from(right - left); n],
            _ => Vec::new(),
        });
        let high = u64::from(to - from);
        let mean = |(sum, wide): (&u64, u64)| {
            let count = (wide * high).max(1);
            u32::try_from((sum + count / 2) / count).unwrap_or(u32::MAX)
        };
        Ok(sums.iter().zip(wide).map(mean).collect())
    }
}

/// What a thread keeps from row to row while it takes means: the rows, and the sums of their columns, which for a band of
/// 8 bits need no more than 16, and for one of 16 no more than 32.
struct Room {
    band: Band,
    eight: Vec<u16>,
    sixteen: Vec<u32>,
}

impl Room {
    fn new() -> Self {
        Self { band: Band::empty(), eight: Vec::new(), sixteen: Vec::new() }
    }
}

/// Adds the rows of a band to the sums of the parts between columns, `down` first: that becomes vector instructions.
fn add<T: Copy, S: Copy + Default + From<T> + AddAssign + Into<u64>>(
    rows: &[T],
    stride: usize,
    down: &mut Vec<S>,
    columns: &[u32],
    sums: &mut [u64],
) {
    down.clear();
    down.resize(stride, S::default());
    for row in rows.chunks_exact(stride.max(1)) {
        down.iter_mut().zip(row).for_each(|(sum, sample)| *sum += S::from(*sample));
    }
    let n = sums.len() / columns.len().saturating_sub(1).max(1);
    for (part, sums) in columns.windows(2).zip(sums.chunks_exact_mut(n.max(1))) {
        let &[left, right] = part else { continue };
        let span = num::index(left) * n..num::index(right) * n;
        for pixel in down.get(span).unwrap_or_default().chunks_exact(n.max(1)) {
            sums.iter_mut().zip(pixel).for_each(|(sum, down)| *sum += Into::<u64>::into(*down));
        }
    }
}

/// Whole borders of so many parts of a length.
fn borders(length: u32, parts: u32) -> Vec<u32> {
    let at = |part: u32| u64::from(length) * u64::from(part) / u64::from(parts.max(1));
    (0..=parts).map(|part| u32::try_from(at(part)).unwrap_or(length)).collect()
}

impl Picture for Raster {
    fn size(&self) -> Pixels {
        self.size
    }

    fn format(&self) -> Format {
        self.format
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size)?;
        out.reshape(want.size(), self.format);
        match &mut out.samples {
            Samples::Eight(samples) => self.read(want, samples),
            Samples::Sixteen(samples) => {
                self.read(want, bytemuck::cast_slice_mut(samples))?;
                let word = if self.big { u16::from_be } else { u16::from_le };
                samples.iter_mut().for_each(|sample| *sample = word(*sample));
                Ok(())
            }
        }
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        if size.count() == 0 || size.width > self.size.width || size.height > self.size.height {
            return Err(Fault::defect(format!("a program's picture cannot be reduced to {size:?}")));
        }
        let (columns, rows) = (borders(self.size.width, size.width), borders(self.size.height, size.height));
        let parts: Vec<&[u32]> = rows.windows(2).collect();
        let each = parts.len().div_ceil(cores()).max(1);
        let means = thread::scope(|scope| {
            let part = |rows: &[&[u32]]| -> Result<Vec<Vec<u32>>, Fault> {
                let mut room = Room::new();
                rows.iter()
                    .map(|row| match row {
                        [from, to] => self.mean_row(&columns, *from, *to, &mut room),
                        _ => Ok(Vec::new()),
                    })
                    .collect()
            };
            let begun: Vec<_> = parts.chunks(each).map(|rows| scope.spawn(move || part(rows))).collect();
            let ended =
                begun.into_iter().map(|part| part.join().unwrap_or_else(|panic| resume_unwind(panic)));
            ended.collect::<Result<Vec<_>, Fault>>()
        })?;
        let means = means.into_iter().flatten().flatten();
        let mut band = Band::bare(size, self.format);
        match &mut band.samples {
            Samples::Eight(samples) => {
                let byte = |mean: u32| u8::try_from(mean).unwrap_or(u8::MAX);
                samples.iter_mut().zip(means).for_each(|(sample, mean)| *sample = byte(mean));
            }
            Samples::Sixteen(samples) => {
                let word = |mean: u32| u16::try_from(mean).unwrap_or(u16::MAX);
                samples.iter_mut().zip(means).for_each(|(sample, mean)| *sample = word(mean));
            }
        }
        Ok(band)
    }
}
