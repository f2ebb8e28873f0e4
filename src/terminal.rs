//! What the terminal can show: how wide it is.

use std::os::fd::AsFd;

/// How many columns it has; nothing where this is none, or one that does not say.
pub(crate) fn columns(of: impl AsFd) -> Option<u16> {
    rustix::termios::tcgetwinsize(of).ok().map(|size| size.ws_col).filter(|columns| *columns > 0)
}
