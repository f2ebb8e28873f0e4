//! Telling the kind of a file from its first bytes.

/// The kinds of picture file that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// Portable Network Graphics.
    Png,
    /// JPEG, alone or with Exif.
    Jpeg,
    /// TIFF, also with 64-bit offsets.
    Tiff,
    /// WebP.
    WebP,
}

/// The kind of a file that starts with `head`, of which 12 bytes are enough.
#[must_use]
pub fn sniff(head: &[u8]) -> Option<FileKind> {
    match head {
        [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Some(FileKind::Png),
        [0xFF, 0xD8, 0xFF, ..] => Some(FileKind::Jpeg),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(FileKind::Tiff),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(FileKind::WebP),
        _ => None,
    }
}
