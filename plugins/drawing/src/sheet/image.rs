//! One page's picture, compressed: filled in bands, laid as on paper, predicted, deflated.

use std::sync::mpsc::{channel, sync_channel};
use std::thread;

use lopdf::{Dictionary, Object};
use seamwright_contract::picture::{Band, Channels, Format, Picture, Window};
use seamwright_contract::{Fault, num};

use super::deflate::{Stream, Way};
use super::rows::{self, Filter};

/// How one page is worked.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    /// Rows filled at a time.
    pub rows: u32,
    /// Whether a second thread fills the next band while this one compresses the last.
    pub ahead: bool,
}

impl Pace {
    /// No more rows than this are filled at once: enough that the rows a resampling filter looks at beyond a band do not
    /// count.
    const TALLEST_BAND: u64 = 256;

    /// How many rows of a picture so wide may be filled at a time by each of some threads, of so much memory in all: two
    /// bands and their predicted bytes for each.
    #[must_use]
    pub fn rows_within(memory: u64, width: u32, format: Format, threads: usize) -> u32 {
        let bytes = |count: usize| u64::from(num::count(count));
        let row =
            u64::from(width) * (bytes(format.bytes()) * 2 + bytes(format.channels.count())) * bytes(threads);
        u32::try_from((memory / row.max(1)).clamp(1, Self::TALLEST_BAND)).unwrap_or(1)
    }
}

/// The zlib stream of a window of a picture, as it lies on the paper.
///
/// # Errors
/// [`Fault`] where the picture cannot be read.
pub fn compressed(
    picture: &dyn Picture,
    window: Window,
    mirrored: bool,
    pace: Pace,
) -> Result<Vec<u8>, Fault> {
    let mut press = Press::new(picture, window, mirrored);
    if pace.ahead {
        fill_ahead(picture, window, pace.rows, &mut press)?;
    } else {
        let mut band = Band::empty();
        for part in bands(window, pace.rows) {
            picture.fill(part, &mut band)?;
            press.take(&band)?;
        }
    }
    press.finish()
}

/// A window in bands of so many rows, from the top.
fn bands(window: Window, rows: u32) -> impl Iterator<Item = Window> {
    let rows = rows.max(1);
    (0..window.height.div_ceil(rows)).map(move |nth| {
        let done = nth * rows;
        Window::new(window.x, window.y + done, window.width, rows.min(window.height - done))
    })
}

/// Fills on a second thread, one band ahead; two bands go round between the threads.
fn fill_ahead(picture: &dyn Picture, window: Window, rows: u32, press: &mut Press) -> Result<(), Fault> {
    thread::scope(|scope| {
        let (full, take) = sync_channel(1);
        let (empty, spare) = channel();
        scope.spawn(move || {
            for part in bands(window, rows) {
                let mut band = spare.try_recv().unwrap_or_else(|_| Band::empty());
                let filled = picture.fill(part, &mut band).map(|()| band);
                let failed = filled.is_err();
                if full.send(filled).is_err() || failed {
                    break;
                }
            }
        });
        for filled in take {
            let band = filled?;
            press.take(&band)?;
            if empty.send(band).is_err() {
                // The filler has finished and needs no more bands.
                continue;
            }
        }
        Ok(())
    })
}

/// Bytes of rows that are compressed alike, about.
const GROUP: usize = 1 << 20;

/// One row in so many is looked at to choose how they are compressed.
const SAMPLED: usize = 32;

/// Below so many bits a sample, rows are so alike that looking for repeats pays, and is fast.
const REPEATING: f64 = 2.0;

/// How common each byte is.
struct Common([u32; 256]);

impl Default for Common {
    fn default() -> Self {
        Self([0; 256])
    }
}

impl Common {
    fn count(&mut self, bytes: &[u8]) {
        for byte in bytes {
            if let Some(count) = self.0.get_mut(usize::from(*byte)) {
                *count += 1;
            }
        }
    }

    /// The entropy of a byte; none where none was counted.
    fn bits(&self) -> f64 {
        let all: f64 = self.0.iter().copied().map(f64::from).sum();
        let counts = self.0.iter().filter(|count| **count > 0).map(|count| f64::from(*count));
        counts.map(|count| count / all * (all / count).log2()).sum()
    }
}

/// Takes bands, gives a zlib stream, the same whatever the bands' heights: rows are compressed in groups of their own.
struct Press {
    width: u32,
    rows_left: u32,
    channels: Channels,
    mirrored: bool,
    /// Bytes of a row.
    stride: usize,
    /// Bytes of a whole group.
    full: usize,
    /// Rows as on paper that are not compressed yet.
    group: Vec<u8>,
    /// The row above them.
    above: Vec<u8>,
    predicted: Vec<u8>,
    stream: Stream,
}

impl Press {
    fn new(picture: &dyn Picture, window: Window, mirrored: bool) -> Self {
        let channels = picture.format().channels;
        let stride = num::index(window.width) * channels.count();
        Self {
            width: window.width,
            rows_left: window.height,
            channels,
            mirrored,
            stride,
            full: stride * (GROUP / stride.max(1)).max(1),
            group: Vec::new(),
            above: vec![0; stride],
            predicted: Vec::new(),
            stream: Stream::new(),
        }
    }

    fn take(&mut self, band: &Band) -> Result<(), Fault> {
        let size = band.size();
        let fits = size.width == self.width && band.format().channels == self.channels;
        let whole = band.samples.len() == band.stride() * num::index(size.height);
        if !fits || !whole || size.height > self.rows_left {
            return Err(Fault::defect(format!(
                "a picture gave {size:?} of {:?} where a band of {} columns was asked for.",
                band.format(),
                self.width
            )));
        }
        self.rows_left -= size.height;
        for at in 0..num::index(size.height) {
            let start = self.group.len();
            self.group.resize(start + self.stride, 0);
            rows::straighten(band, at, self.mirrored, self.group.get_mut(start..).unwrap_or_default());
            if self.group.len() >= self.full {
                self.compress()?;
            }
        }
        Ok(())
    }

    /// Compresses the rows of the group.
    fn compress(&mut self) -> Result<(), Fault> {
        let (filter, way) = self.choice();
        self.predicted.clear();
        let mut above = self.above.as_slice();
        for row in self.group.chunks_exact(self.stride.max(1)) {
            filter.append(row, above, self.channels.count(), &mut self.predicted);
            above = row;
        }
        self.above = above.to_vec();
        self.group.clear();
        self.stream.take(&self.predicted, way)
    }

    /// Which filter leaves the fewest bits a sample in some rows of the group, and how what is left is deflated.
    fn choice(&mut self) -> (Filter, Way) {
        let rows: Vec<_> = self.group.chunks_exact(self.stride.max(1)).collect();
        let mut tried = Filter::ALL.map(|filter| (filter, Common::default()));
        for pair in rows.windows(2).step_by(SAMPLED) {
            let &[above, row] = pair else { continue };
            for (filter, common) in &mut tried {
                self.predicted.clear();
                filter.append(row, above, self.channels.count(), &mut self.predicted);
                common.count(&self.predicted);
            }
        }
        let bits = tried.iter().map(|(filter, common)| (*filter, common.bits()));
        let (filter, bits) =
            bits.min_by(|one, other| one.1.total_cmp(&other.1)).unwrap_or((Filter::Paeth, 0.0));
        (filter, if bits < REPEATING { Way::Repeated } else { Way::Counted })
    }

    fn finish(mut self) -> Result<Vec<u8>, Fault> {
        if self.rows_left > 0 {
            return Err(Fault::defect(format!("{} rows of a page were never filled.", self.rows_left)));
        }
        if !self.group.is_empty() {
            self.compress()?;
        }
        Ok(self.stream.finish())
    }
}

/// The dictionary of an image stream; its length is added when it is written.
pub(super) fn dictionary(window: Window, channels: Channels, space: &Object) -> Dictionary {
    let count = Object::Integer(i64::from(num::count(channels.count())));
    let (width, height) = (Object::Integer(window.width.into()), Object::Integer(window.height.into()));
    let parms = Dictionary::from_iter([
        ("Predictor", Object::Integer(15)),
        ("Colors", count),
        ("BitsPerComponent", Object::Integer(8)),
        ("Columns", width.clone()),
    ]);
    Dictionary::from_iter([
        ("Type", Object::from("XObject")),
        ("Subtype", Object::from("Image")),
        ("Width", width),
        ("Height", height),
        ("BitsPerComponent", Object::Integer(8)),
        ("ColorSpace", space.clone()),
        ("Filter", Object::from("FlateDecode")),
        ("DecodeParms", Object::Dictionary(parms)),
    ])
}
