//! Telling the kind of a file from its first bytes.

/// How many of a file's first bytes tell its kind: the most that may stand before a drawing's first tag.
pub(crate) const HEAD: u64 = 8192;

/// How far into a file its mark as a PDF may stand.
const PDF_WITHIN: usize = 1024;

/// The kinds of artwork file that are read.
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
    /// Scalable Vector Graphics, as plain text.
    Svg,
    /// Portable Document Format.
    Pdf,
}

/// The kind of a file that starts with `head`: 12 bytes are enough for pictures, some thousands for drawings.
#[must_use]
pub fn sniff(head: &[u8]) -> Option<FileKind> {
    match head {
        [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Some(FileKind::Png),
        [0xFF, 0xD8, 0xFF, ..] => Some(FileKind::Jpeg),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(FileKind::Tiff),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(FileKind::WebP),
        _ if has(head.get(..PDF_WITHIN).unwrap_or(head), b"%PDF-") => Some(FileKind::Pdf),
        _ if is_svg(head) => Some(FileKind::Svg),
        _ => None,
    }
}

/// Whether the first tag of a text is `svg`, with any prefix, behind declarations and comments.
fn is_svg(head: &[u8]) -> bool {
    // Texts of two bytes a letter begin with a mark; dropping every nought leaves their Latin letters.
    let wide = matches!(head, [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..]);
    let text: Vec<u8> = head.iter().copied().filter(|byte| !wide || *byte != 0).collect();
    let text = text.strip_prefix(b"\xEF\xBB\xBF").or(text.get(2..).filter(|_| wide)).unwrap_or(&text);
    let mut rest = text.trim_ascii_start();
    loop {
        let end: &[u8] = match rest {
            [b'<', b'?', ..] => b"?>",
            [b'<', b'!', b'-', b'-', ..] => b"-->",
            // A declaration of the kind of document may have declarations of its own within brackets.
            [b'<', b'!', ..]
                if rest.iter().position(|b| *b == b'[') < rest.iter().position(|b| *b == b'>')
                    && has(rest, b"[") =>
            {
                b"]"
            }
            [b'<', b'!', ..] => b">",
            [b']', ..] => b">",
            _ => break,
        };
        let Some(at) = rest.windows(end.len()).position(|part| part == end) else { return false };
        let next = if end == b"]" { at } else { at + end.len() };
        rest = rest.get(next..).unwrap_or_default().trim_ascii_start();
    }
    let Some(tag) = rest.strip_prefix(b"<") else { return false };
    let name = tag
        .split(|byte| byte.is_ascii_whitespace() || matches!(byte, b'>' | b'/'))
        .next()
        .unwrap_or_default();
    name.rsplit(|byte| *byte == b':').next() == Some(b"svg")
}

fn has(text: &[u8], mark: &[u8]) -> bool {
    text.windows(mark.len()).any(|part| part == mark)
}
