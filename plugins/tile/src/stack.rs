//! What lies on what: of two panels that share a strip, the one whose cut edge shows less.
//!
//! Just beyond a cut edge the lower panel's ink is held off the blank by the upper one's paper and prints a little paler
//! (common practice, no source). That hides where nothing is printed, or in the dark. The trade's rule, right and bottom
//! edges trimmed, stays unless the other side is bare or clearly darker.

use seamwright_contract::{Length, Paper, Rect};

use crate::ground::{Crossed, Ground};

/// Which of two neighbours lies on top and is trimmed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Upper {
    /// The left one, or the upper row: the trade's rule.
    First,
    /// The right one, or the lower row.
    Second,
}

/// How much darker, of 255, a side must be before the rule is left.
const DARKER: u64 = 64;

/// Of two panels side by side, along the strip they share.
pub(crate) fn upright(ground: &Ground, strip: &Rect<Paper>) -> Upper {
    let (middle, reach) = (strip.x + strip.width.half(), beside(strip.width));
    let side = |from, to| ground.crossed(&Rect::from_edges(from, strip.y, to, strip.bottom()));
    decide(side(middle - reach, middle), side(middle, middle + reach))
}

/// Of two rows, along the strip they share.
pub(crate) fn level(ground: &Ground, strip: &Rect<Paper>) -> Upper {
    let (middle, reach) = (strip.y + strip.height.half(), beside(strip.height));
    let side = |from, to| ground.crossed(&Rect::from_edges(strip.x, from, strip.right(), to));
    decide(side(middle - reach, middle), side(middle, middle + reach))
}

/// How far beside the cut it is looked.
fn beside(lap: Length) -> Length {
    lap.max(Length::from_mm(2))
}

/// With the first on top the paler line falls on the second's side, and the other way round.
fn decide(first: Crossed, second: Crossed) -> Upper {
    let mean = |side: Crossed| side.dark.checked_div(side.cells).unwrap_or(0);
    let bare_first = first.inked == 0 && second.inked > 0;
    let dark_first = second.inked > 0 && mean(first) >= mean(second) + DARKER;
    if bare_first || dark_first { Upper::Second } else { Upper::First }
}
