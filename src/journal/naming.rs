//! A job's name: the artwork's stem made safe, a dash, six hex digits of what artwork and order contain.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};
use unicode_normalization::UnicodeNormalization as _;

use super::files::open_plain;

/// The longest stem, in bytes: room for everything that is appended, within what file systems allow.
const LONGEST_STEM: usize = 80;

/// A stem with nothing in it that a shell, a log or a file system could stumble over.
pub(crate) fn safe_stem(stem: &str) -> String {
    let mut safe = String::new();
    // Some systems store an accent apart from its letter; alone it would be no letter.
    for c in stem.nfc() {
        let c = if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '-' };
        if safe.len() + c.len_utf8() > LONGEST_STEM {
            break;
        }
        if !(safe.is_empty() && matches!(c, '-' | '.')) {
            safe.push(c);
        }
    }
    if safe.is_empty() { "artwork".to_owned() } else { safe }
}

/// Something readable of any text, at most so many bytes of it: small letters, digits and single dashes; empty where there is
/// none of it.
pub(crate) fn slug(text: &str, longest: usize) -> String {
    let mut slug = String::new();
    for c in text.nfc().flat_map(char::to_lowercase) {
        let c = if c.is_alphanumeric() { c } else { '-' };
        if slug.len() + c.len_utf8() > longest {
            break;
        }
        if c != '-' || !(slug.is_empty() || slug.ends_with('-')) {
            slug.push(c);
        }
    }
    slug.trim_end_matches('-').to_owned()
}

/// The SHA-256 of several texts one after the other, in hex.
pub(crate) fn digest_of(parts: &[&[u8]]) -> String {
    let mut sum = Sha256::new();
    parts.iter().for_each(|part| sum.update(part));
    hex(sum)
}

fn hex(sum: Sha256) -> String {
    sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// So much of a file is read for a name. Whatever is longer is told apart by its length: a hole of a terabyte is made in
/// no time, and read through in an hour.
const MOST_READ: u64 = 1 << 28;

/// What tells each file from others, for a name: the CRC-32 of its bytes and their number. Enough for the few digits of a
/// name, and done in a fraction of the time that a cryptographic hash takes on an old machine.
pub(super) fn digests(files: &[&Path]) -> io::Result<Vec<String>> {
    let one = |path: &&Path| {
        let file = open_plain(path)?;
        let length = file.metadata()?.len();
        let mut sum = crc32fast::Hasher::new();
        each_block(file.take(MOST_READ), |bytes| sum.update(bytes))?;
        Ok(format!("{:08x} {length} ", sum.finalize()))
    };
    files.iter().map(one).collect()
}

/// Six hex digits over several.
pub(super) fn short(digests: &[String]) -> String {
    let whole = crc32fast::hash(digests.concat().as_bytes());
    format!("{whole:08x}").chars().take(6).collect()
}

/// The SHA-256 of a file's bytes, in hex.
pub(crate) fn digest(path: &Path) -> io::Result<String> {
    let mut sum = Sha256::new();
    each_block(File::open(path)?, |bytes| sum.update(bytes))?;
    Ok(hex(sum))
}

fn each_block(mut file: impl Read, mut take: impl FnMut(&[u8])) -> io::Result<()> {
    let mut block = vec![0; 1 << 18];
    loop {
        let read = file.read(&mut block)?;
        let Some(bytes) = block.get(..read).filter(|bytes| !bytes.is_empty()) else { return Ok(()) };
        take(bytes);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stems_are_made_safe() {
        assert_eq!(safe_stem("chart"), "chart");
        assert_eq!(safe_stem("../../etc"), "etc".to_owned());
        assert_eq!(safe_stem("-rf; rm *"), "rf--rm--");
        assert_eq!(safe_stem("übersicht 2"), "übersicht-2");
        assert_eq!(safe_stem("u\u{308}bersicht 2"), "übersicht-2");
        assert_eq!(safe_stem("\u{202e}\n"), "artwork");
        assert!(safe_stem(&"é".repeat(300)).len() <= LONGEST_STEM, "long names are cut at a letter");
    }

    #[test]
    fn slugs_are_readable_and_short() {
        for (text, wanted) in [
            ("Ada Lovely", "ada-lovely"),
            (" --Bo & Ely, 3rd! ", "bo-ely-3rd"),
            ("../../etc", "etc"),
            ("E\u{301}te\u{301}", "\u{e9}t\u{e9}"),
            ("\u{202e}\n", ""),
            ("abcdefghij", "abcdefgh"),
            ("abcdefg hij", "abcdefg"),
        ] {
            assert_eq!(slug(text, 8.max(wanted.len())), wanted, "{text:?}");
        }
        assert_eq!(slug(&"\u{e9}".repeat(99), 9).len(), 8, "cut at a letter");
    }

    #[test]
    fn the_digest_is_sha256() {
        // FIPS 180-4, example "abc" (value from memory, agrees with coreutils' sha256sum).
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        super::super::files::write_whole(&path, b"abc").unwrap();
        let sum = digest(&path).unwrap();
        assert_eq!(sum, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(digest_of(&[b"a", b"bc"]), sum);
    }

    #[test]
    fn any_byte_of_any_file_changes_the_name() {
        let folder = tempfile::tempdir().unwrap();
        let mut names = std::collections::BTreeSet::new();
        let contents: [[&[u8]; 2]; 5] = [
            [b"chart", b"blank"],
            [b"chbrt", b"blank"],
            [b"chart", b"blanc"],
            [b"blank", b"chart"],
            [b"", b""],
        ];
        for pair in contents {
            let paths = ["one", "two"].map(|name| folder.path().join(name));
            for (path, bytes) in paths.iter().zip(pair) {
                super::super::files::write_whole(path, bytes).unwrap();
            }
            let name = short(&digests(&paths.each_ref().map(|path| path.as_path())).unwrap());
            assert!(name.len() == 6 && names.insert(name), "{pair:?}: {names:?}");
        }
    }
}
