//! A walk over a JPEG's segments: frame, colour markers, profile pieces, Exif, and whether the end is there.
//!
//! Decoders fill a cut-off JPEG up with gray and call it done, guess ink polarity, and drop a profile of which
//! a piece is missing without a word. So the file is walked once before, and this walk decides.

/// A start-of-frame's facts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Frame {
    /// Bits a sample.
    pub(crate) precision: u8,
    /// Columns.
    pub(crate) width: u16,
    /// Rows.
    pub(crate) height: u16,
    /// The components' identifiers.
    pub(crate) components: Vec<u8>,
    /// Whether the whole picture's coefficients have to be kept while decoding.
    pub(crate) progressive: bool,
}

/// One piece of an embedded profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece<'a> {
    number: u8,
    of: u8,
    bytes: &'a [u8],
}

/// What the segments show.
#[derive(Debug, Default)]
pub(crate) struct Scan<'a> {
    /// The frame, of the first picture in the file.
    pub(crate) frame: Option<Frame>,
    /// Whether a JFIF marker is there.
    pub(crate) jfif: bool,
    /// The colour transform of the APP14 marker, if there is one: 0 none, 1 YCbCr, 2 YCCK.
    pub(crate) app14: Option<u8>,
    /// The first Exif block.
    pub(crate) exif: Option<&'a [u8]>,
    /// Whether the end mark is there, after at least one scan.
    pub(crate) end: bool,
    pieces: Vec<Piece<'a>>,
    /// Where the entropy-coded bytes of each scan end.
    ends: Vec<usize>,
}

/// What is put after each scan: ones, of which no Huffman code may consist (ITU-T T.81, annex C), written the way
/// entropy-coded bytes have them, and enough to run through a started coefficient.
const DEAD_END: [u8; 16] = [0xFF, 0, 0xFF, 0, 0xFF, 0, 0xFF, 0, 0xFF, 0, 0xFF, 0, 0xFF, 0, 0xFF, 0];

/// The name by which the APP14 colour marker is known.
const APP14_NAME: &[u8] = &[0x41, 0x64, 0x6F, 0x62, 0x65];

impl<'a> Scan<'a> {
    /// Walks a file.
    pub(crate) fn new(file: &'a [u8]) -> Self {
        let mut scan = Self::default();
        let mut rest = file.get(2..).unwrap_or_default();
        let (mut scanned, mut open) = (false, false);
        while let Some((marker, after)) = next_marker(rest) {
            rest = after;
            if open && !matches!(marker, 0xD0..=0xD7) {
                scan.ends.push(file.len() - after.len() - 2);
                open = false;
            }
            match marker {
                0xD9 => {
                    scan.end = scanned;
                    return scan;
                }
                // Restart marks, and those without content.
                0x01 | 0xD0..=0xD8 => continue,
                _ => {}
            }
            let Some((segment, after)) = segment(rest) else { return scan };
            rest = after;
            open = marker == 0xDA;
            scanned |= open;
            scan.take(marker, segment);
        }
        scan
    }

    /// A sequential file with a dead end after each scan. A decoder that has all its rows never gets there; one whose data
    /// stop too early, with an end mark behind, runs into it and fails, and does not fill the rest up with gray.
    pub(crate) fn with_dead_ends(&self, file: &[u8]) -> Vec<u8> {
        let mut guarded = Vec::with_capacity(file.len() + self.ends.len() * DEAD_END.len());
        let mut from = 0;
        for &end in &self.ends {
            guarded.extend_from_slice(file.get(from..end).unwrap_or_default());
            guarded.extend_from_slice(&DEAD_END);
            from = end;
        }
        guarded.extend_from_slice(file.get(from..).unwrap_or_default());
        guarded
    }

    fn take(&mut self, marker: u8, segment: &'a [u8]) {
        match marker {
            0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF if self.frame.is_none() => {
                self.frame = frame(marker, segment);
            }
            0xE0 if segment.starts_with(b"JFIF\0") => self.jfif = true,
            0xE1 if self.exif.is_none() && segment.starts_with(b"Exif\0") => self.exif = Some(segment),
            0xE2 => {
                if let Some([number, of, bytes @ ..]) = segment.strip_prefix(b"ICC_PROFILE\0") {
                    self.pieces.push(Piece { number: *number, of: *of, bytes });
                }
            }
            0xEE if segment.starts_with(APP14_NAME) => self.app14 = segment.get(11).copied(),
            _ => {}
        }
    }

    /// The embedded profile put together from its pieces, in whatever order they stand: `None` where there is
    /// none, an error where pieces are missing or contradict each other.
    pub(crate) fn profile(&self) -> Result<Option<Vec<u8>>, &'static str> {
        let mut pieces = self.pieces.clone();
        let Some(&first) = pieces.first() else { return Ok(None) };
        pieces.sort_by_key(|piece| piece.number);
        let ordered = pieces.iter().zip(1..=u8::MAX).all(|(piece, number)| piece.number == number);
        if !ordered
            || pieces.iter().any(|piece| piece.of != first.of)
            || pieces.len() != usize::from(first.of)
        {
            return Err("pieces of it are missing or doubled");
        }
        Ok(Some(pieces.iter().flat_map(|piece| piece.bytes).copied().collect()))
    }
}

/// The next marker and what follows it; entropy-coded bytes and fill are passed over.
fn next_marker(mut rest: &[u8]) -> Option<(u8, &[u8])> {
    loop {
        let at = rest.iter().position(|&byte| byte == 0xFF)?;
        rest = rest.get(at + 1..)?;
        match rest.first()? {
            0x00 => rest = rest.get(1..)?,
            0xFF => {}
            &marker => return Some((marker, rest.get(1..)?)),
        }
    }
}

fn segment(rest: &[u8]) -> Option<(&[u8], &[u8])> {
    let length = usize::from(u16::from_be_bytes(*rest.first_chunk()?));
    Some((rest.get(2..length)?, rest.get(length..)?))
}

fn frame(marker: u8, segment: &[u8]) -> Option<Frame> {
    let [precision, h1, h0, w1, w0, count, components @ ..] = segment else { return None };
    let components: Vec<u8> = components
        .chunks_exact(3)
        .take(usize::from(*count))
        .filter_map(|part| part.first().copied())
        .collect();
    (components.len() == usize::from(*count)).then(|| Frame {
        precision: *precision,
        width: u16::from_be_bytes([*w1, *w0]),
        height: u16::from_be_bytes([*h1, *h0]),
        components,
        progressive: matches!(marker, 0xC2 | 0xC6 | 0xCA | 0xCE),
    })
}
