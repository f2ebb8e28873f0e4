//! The refusals that several formats share.

use std::fmt::Display;

use crate::contract::Fault;
use crate::contract::num;

/// The file is broken or cut off.
pub(crate) fn damaged(why: impl Display) -> Fault {
    Fault::artwork(
        format!("The picture is damaged or was cut off: {why}."),
        "Open it in the program it comes from and save it again, or copy it again.",
    )
}

/// The file uses something that is not read here.
pub(crate) fn unsupported(what: impl Display) -> Fault {
    Fault::artwork(
        format!("The picture uses something that is not read here: {what}."),
        "Save it as PNG, or as TIFF with LZW compression, RGB or gray.",
    )
}

/// The machine could not read the file.
pub(crate) fn unreadable(error: std::io::Error) -> Fault {
    Fault::machine(
        format!("The file cannot be read: {error}."),
        "Check the folder's rights and the disk or network it is on.",
    )
}

/// An error while decoding: a file that ends too early is damaged, any other trouble is the machine's.
pub(crate) fn reading(error: std::io::Error) -> Fault {
    match error.kind() {
        std::io::ErrorKind::UnexpectedEof => damaged("it ends before the last row"),
        std::io::ErrorKind::InvalidData | std::io::ErrorKind::InvalidInput | std::io::ErrorKind::Other => {
            damaged(error)
        }
        _ => unreadable(error),
    }
}

/// Checks one figure against its limit.
pub(crate) fn at_most(what: &str, found: u64, limit: u64) -> Result<(), Fault> {
    if found <= limit {
        return Ok(());
    }
    Err(Fault::artwork(
        format!("The artwork is too large: {found} {what}, and the limit is {limit}."),
        "Save it smaller, or raise the limit in the studio's settings if the machine can take it.",
    ))
}

/// Checks the size of an embedded profile against the most it may have.
pub(crate) fn profile_at_most(found: u64, limit: u64) -> Result<(), Fault> {
    if found <= limit {
        return Ok(());
    }
    Err(Fault::artwork(
        format!(
            "The colour profile inside the file is too large: it has {found} bytes, and at most {limit} are read."
        ),
        "Save the picture again with the ordinary profile of its colours, or convert it to sRGB.",
    ))
}

/// A picture that can only be decoded as a whole and does not fit into memory.
pub(crate) fn too_much_memory(what: &str, needed: u64, limit: u64) -> Fault {
    Fault::artwork(
        format!(
            "Decoding this {what} takes {} MB of memory at once, and the limit is {} MB.",
            megabytes(needed),
            megabytes(limit)
        ),
        "Save it as PNG without interlacing or as TIFF in low strips or tiles, which are read piece by piece, or raise `memory`.",
    )
}

pub(crate) fn megabytes(bytes: u64) -> String {
    let bytes = num::float(i64::try_from(bytes).unwrap_or(i64::MAX));
    format!("{:.1}", bytes / 1e6)
}
