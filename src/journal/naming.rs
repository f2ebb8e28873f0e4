//! A job's name: the artwork's stem made safe, a dash, six hex digits of what artwork and order contain.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};

/// The longest stem, in bytes: room for everything that is appended, within what file systems allow.
const LONGEST_STEM: usize = 80;

/// A stem with nothing in it that a shell, a log or a file system could stumble over.
pub(crate) fn safe_stem(stem: &str) -> String {
    let mut safe = String::new();
    for c in stem.chars() {
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

/// The SHA-256 of each file's bytes, and the first six hex digits of the hash over all of them.
pub(crate) fn digest(files: &[&Path]) -> io::Result<(Vec<String>, String)> {
    let mut whole = Sha256::new();
    let mut each = Vec::new();
    for path in files {
        let mut one = Sha256::new();
        let mut file = File::open(path)?;
        let mut block = vec![0; 1 << 18];
        loop {
            let read = file.read(&mut block)?;
            let Some(bytes) = block.get(..read).filter(|bytes| !bytes.is_empty()) else { break };
            one.update(bytes);
        }
        let one = hex(&one.finalize());
        whole.update(one.as_bytes());
        each.push(one);
    }
    let short: String = hex(&whole.finalize()).chars().take(6).collect();
    Ok((each, short))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
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
        assert_eq!(safe_stem("\u{202e}\n"), "artwork");
        assert!(safe_stem(&"é".repeat(300)).len() <= LONGEST_STEM, "long names are cut at a letter");
    }

    #[test]
    fn the_digest_is_sha256() {
        // FIPS 180-4, example "abc" (value from memory, agrees with coreutils' sha256sum).
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        super::super::files::write_whole(&path, b"abc").unwrap();
        let (each, short) = digest(&[&path]).unwrap();
        assert_eq!(each, ["ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"]);
        assert_eq!(short.len(), 6);
    }
}
