//! What a seam crosses, as a figure and in a word.

use seamwright_contract::layout::SeamClass;
use seamwright_contract::{Paper, Rect, num};

use crate::ground::{Ground, MOST};

/// A seam is busy where more than one in so many of the cells under it is.
const BUSY: u64 = 10;

/// Score and class of a strip: 0 for nothing, 1 for the darkest ink and the strongest detail all along.
pub(crate) fn seam(ground: &Ground, strip: &Rect<Paper>) -> (f64, SeamClass) {
    let crossed = ground.crossed(strip);
    let float = |value: u64| num::float(i64::try_from(value).unwrap_or(i64::MAX));
    let score = float(crossed.cost) / (float(crossed.cells) * f64::from(MOST)).max(1.0);
    let class = if crossed.inked == 0 {
        SeamClass::Bare
    } else if crossed.busy * BUSY > crossed.cells {
        SeamClass::Busy
    } else {
        SeamClass::Quiet
    };
    (score, class)
}
