//! What the terminal can show: how wide it is, and whether it knows more than ASCII.

use std::ffi::OsString;
use std::os::fd::AsFd;

/// How many columns it has; nothing where this is none, or one that does not say.
pub(crate) fn columns(of: impl AsFd) -> Option<u16> {
    rustix::termios::tcgetwinsize(of).ok().map(|size| size.ws_col).filter(|columns| *columns > 0)
}

/// Whether its letters are UTF-8: the first of these variables that is set and not empty says it (POSIX.1-2017, 8.2).
pub(crate) fn is_utf8() -> bool {
    names_utf8(["LC_ALL", "LC_CTYPE", "LANG"].map(std::env::var_os))
}

fn names_utf8(said: [Option<OsString>; 3]) -> bool {
    let locale = said.into_iter().flatten().find(|locale| !locale.is_empty());
    let locale = locale.unwrap_or_default().to_string_lossy().to_lowercase();
    locale.contains("utf-8") || locale.contains("utf8")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_variable_that_says_anything_counts() {
        for (said, utf8) in [
            (["", "", "en_GB.UTF-8"], true),
            (["C", "", "en_GB.UTF-8"], false),
            (["", "de_DE.utf8", "C"], true),
            (["", "", "de_DE@euro"], false),
            (["", "", ""], false),
        ] {
            assert_eq!(names_utf8(said.map(|word| Some(word.into()))), utf8, "{said:?}");
        }
        assert!(!names_utf8([None, None, None]), "nothing is known of it");
    }
}
