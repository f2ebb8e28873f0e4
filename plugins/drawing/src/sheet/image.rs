//! One page's picture, compressed in parts of some rows: filled, laid as on paper, predicted, deflated.
//!
//! Parts are made independently, so that a page is worked on all threads and only a few parts are ever in memory. The
//! same rows give the same bytes, whoever makes them.

use lopdf::{Dictionary, Object};
use seamwright_contract::picture::{Band, Channels, Format, Picture, Window};
use seamwright_contract::{Fault, num};

use super::deflate::{Deflated, Deflater, Way};
use super::rows::{self, Filter};

/// Bytes of a part as on paper, about: enough that the rows a resampling filter looks at beyond it do not count.
const PART: usize = 1 << 20;

/// One row in so many is looked at to choose how a part is compressed.
const SAMPLED: usize = 32;

/// Below so many bits a sample, rows are so alike that looking for repeats pays, and is fast.
const REPEATING: f64 = 2.0;

/// Some rows of a page's picture, to be compressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    /// The pixels.
    pub window: Window,
    /// Whether it is the page's first, above which there is nothing.
    pub first: bool,
}

/// A page's window in pieces, from the top; at least one.
pub(super) fn pieces(page: Window, channels: Channels) -> impl Iterator<Item = Piece> {
    let stride = num::index(page.width) * channels.count();
    let rows = num::count((PART / stride.max(1)).max(1));
    (0..page.height.div_ceil(rows).max(1)).map(move |nth| {
        let done = nth * rows;
        let window = Window::new(page.x, page.y + done, page.width, rows.min(page.height - done));
        Piece { window, first: nth == 0 }
    })
}

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

/// Compresses pieces, one after another, in room of its own.
#[expect(missing_debug_implementations, reason = "the library's compressor has none")]
pub struct Press {
    band: Band,
    /// Rows as on paper, the first of them the one above the piece.
    rows: Vec<u8>,
    predicted: Vec<u8>,
    deflater: Deflater,
}

impl Default for Press {
    fn default() -> Self {
        Self { band: Band::empty(), rows: Vec::new(), predicted: Vec::new(), deflater: Deflater::default() }
    }
}

impl Press {
    /// Bytes that one takes at work, about: the band, the same as on paper, predicted, and deflated.
    #[must_use]
    pub fn memory(format: Format) -> u64 {
        let part = u64::from(num::count(PART));
        let band =
            part * u64::from(num::count(format.bytes())) / u64::from(num::count(format.channels.count()));
        band + part * 3
    }

    /// A piece of a picture, as it lies on the paper.
    ///
    /// # Errors
    /// [`Fault`] where the picture cannot be read.
    pub fn compress(
        &mut self,
        picture: &dyn Picture,
        piece: Piece,
        mirrored: bool,
    ) -> Result<Deflated, Fault> {
        let Window { x, y, width, height } = piece.window;
        let above = u32::from(!piece.first);
        let channels = picture.format().channels;
        let stride = num::index(width) * channels.count();
        picture.fill(Window::new(x, y - above, width, height + above), &mut self.band)?;
        self.straighten(width, height + above, channels, mirrored)?;
        if piece.first {
            // Above a page's picture lies nothing.
            self.rows.splice(..0, std::iter::repeat_n(0, stride));
        }
        let (mut above, rows) = self.rows.split_at_checked(stride).unwrap_or_default();
        let rows = rows.chunks_exact(stride.max(1));
        let (filter, way) = choice(rows.clone(), channels, &mut self.predicted);
        self.predicted.clear();
        for row in rows {
            filter.append(row, above, channels.count(), &mut self.predicted);
            above = row;
        }
        self.deflater.deflate(&self.predicted, way)
    }

    /// The band's rows as they lie on the paper.
    fn straighten(
        &mut self,
        width: u32,
        height: u32,
        channels: Channels,
        mirrored: bool,
    ) -> Result<(), Fault> {
        let band = &self.band;
        let (size, stride) = (band.size(), num::index(width) * channels.count());
        let whole = band.samples.len() == band.stride() * num::index(height);
        if size.width != width || size.height != height || band.format().channels != channels || !whole {
            return Err(Fault::defect(format!(
                "a picture gave {size:?} of {:?} where {width} x {height} were asked for.",
                band.format(),
            )));
        }
        self.rows.resize(stride * num::index(height), 0);
        for (at, row) in self.rows.chunks_exact_mut(stride.max(1)).enumerate() {
            rows::straighten(band, at, mirrored, row);
        }
        Ok(())
    }
}

/// Which filter leaves the fewest bits a sample in some of the rows, and how what is left is deflated.
fn choice<'a>(
    rows: impl Iterator<Item = &'a [u8]> + Clone,
    channels: Channels,
    room: &mut Vec<u8>,
) -> (Filter, Way) {
    let mut tried = Filter::ALL.map(|filter| (filter, Common::default()));
    for (above, row) in rows.clone().zip(rows.skip(1)).step_by(SAMPLED) {
        for (filter, common) in &mut tried {
            room.clear();
            filter.append(row, above, channels.count(), room);
            common.count(room);
        }
    }
    let bits = tried.iter().map(|(filter, common)| (*filter, common.bits()));
    let (filter, bits) = bits.min_by(|one, other| one.1.total_cmp(&other.1)).unwrap_or((Filter::Paeth, 0.0));
    (filter, if bits < REPEATING { Way::Repeated } else { Way::Counted })
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
