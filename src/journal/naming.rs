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
    Ok(sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
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
    fn the_digest_is_sha256() {
        // FIPS 180-4, example "abc" (value from memory, agrees with coreutils' sha256sum).
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        super::super::files::write_whole(&path, b"abc").unwrap();
        let sum = digest(&path).unwrap();
        assert_eq!(sum, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
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
