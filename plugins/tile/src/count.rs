//! How many panels cover a length.

use seamwright_contract::Length;

/// The least number of panels of `live` length, each lapping the next by `lap`, that cover `length`.
///
/// n = 1 where one suffices, else ceil((length - lap) / (live - lap)): n panels reach n live - (n - 1) lap. Whole
/// micrometres throughout; binary fractions answer one too many at exact fits. `None` where no number suffices.
#[must_use]
pub fn panels_across(length: Length, live: Length, lap: Length) -> Option<u32> {
    if live <= Length::ZERO || lap < Length::ZERO {
        return None;
    }
    if length <= live {
        return Some(1);
    }
    let (rest, step) = ((length - lap).um(), (live - lap).um());
    if step <= 0 {
        return None;
    }
    u32::try_from((rest + step - 1) / step).ok()
}
