//! The three facts of an Exif block that matter here: orientation, colour space, and the interoperability
//! index by which cameras say opRGB.

/// A directory entry's tag: orientation (TIFF 6.0, 274).
const ORIENTATION: u16 = 0x0112;
/// Where the Exif directory is.
const EXIF: u16 = 0x8769;
/// Colour space: 1 is sRGB, 65535 is anything else.
const COLOUR_SPACE: u16 = 0xA001;
/// Where the interoperability directory is.
const INTEROP: u16 = 0xA005;
/// The interoperability index: `R03` is opRGB.
const INTEROP_INDEX: u16 = 1;

/// What an Exif block says about colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Colour {
    /// Nothing.
    #[default]
    Silent,
    /// sRGB.
    Srgb,
    /// opRGB.
    OpRgb,
    /// Neither sRGB nor anything it names.
    Uncalibrated,
}

/// What was read of an Exif block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Exif {
    /// The orientation code, 1 to 8; 0 where there is none.
    pub(crate) orientation: u16,
    /// What it says about colour.
    pub(crate) colour: Colour,
}

/// Reads a block, with or without its `Exif` head. What is broken in it is passed over: it describes the
/// picture, but it is not the picture.
pub(crate) fn read(block: &[u8]) -> Exif {
    let block = Block::new(block.strip_prefix(b"Exif\0\0").unwrap_or(block));
    let mut found = Exif::default();
    let Some(first) = block.u32(4) else { return found };
    found.orientation = block.entry(first, ORIENTATION).and_then(|at| block.u16(at)).unwrap_or(0);
    let Some(inner) = block.pointer(first, EXIF) else { return found };
    let space = block.entry(inner, COLOUR_SPACE).and_then(|at| block.u16(at));
    let index = block
        .pointer(inner, INTEROP)
        .and_then(|interop| block.entry(interop, INTEROP_INDEX))
        .and_then(|at| block.bytes.get(at..at + 3));
    found.colour = match (space, index) {
        (Some(1), _) => Colour::Srgb,
        (_, Some(b"R03")) => Colour::OpRgb,
        (Some(_), _) => Colour::Uncalibrated,
        (None, _) => Colour::Silent,
    };
    found
}

/// A TIFF structure in memory.
struct Block<'a> {
    bytes: &'a [u8],
    little: bool,
}

impl<'a> Block<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, little: bytes.starts_with(b"II") }
    }

    fn u16(&self, at: usize) -> Option<u16> {
        let pair = *self.bytes.get(at..)?.first_chunk()?;
        Some(if self.little { u16::from_le_bytes(pair) } else { u16::from_be_bytes(pair) })
    }

    fn u32(&self, at: usize) -> Option<u32> {
        let four = *self.bytes.get(at..)?.first_chunk()?;
        Some(if self.little { u32::from_le_bytes(four) } else { u32::from_be_bytes(four) })
    }

    /// Where the value field of a tag in a directory is.
    fn entry(&self, directory: u32, tag: u16) -> Option<usize> {
        let directory = usize::try_from(directory).ok()?;
        let entries = usize::from(self.u16(directory)?);
        (0..entries)
            .map(|entry| directory.saturating_add(2 + entry * 12))
            .find(|&at| self.u16(at) == Some(tag))
            .map(|at| at + 8)
    }

    fn pointer(&self, directory: u32, tag: u16) -> Option<u32> {
        self.entry(directory, tag).and_then(|at| self.u32(at))
    }
}
