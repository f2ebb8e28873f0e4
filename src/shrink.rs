//! `seamwright shrink`: how to measure what becomes of a blank under the press, and what was measured, kept for all jobs on it.

use std::fs;
use std::path::Path;

use seamwright_contract::scale::Shrink;
use seamwright_contract::settings::one_of;
use seamwright_contract::{Length, Size};

use crate::config::{self, Config};
use crate::journal::files::write_whole;

/// Says how it is measured.
///
/// # Errors
/// That there is no such blank.
pub(crate) fn how(blank: &str, config: &Config) -> Result<Vec<String>, String> {
    let name = known(blank, config)?;
    Ok(vec![
        "Goods of cloth become smaller when they are heated. By how much depends on the stock, and on how large the piece is."
            .to_owned(),
        format!("1. On a spare {name}, mark two points 600 mm apart across it and two 600 mm apart down it, as far apart as fits."),
        "2. Press all of it as you press work: the same heat, time, pressure and placements. Mind the makers' cautions.".to_owned(),
        "3. Let it cool flat, and measure both distances to half a millimetre.".to_owned(),
        format!("4. Enter them: seamwright shrink {name} --marked 600mm --width 588mm --height 594mm"),
    ])
}

/// Keeps what was measured. `base` is where the configuration lies.
///
/// # Errors
/// In words, why that cannot be, or cannot be kept.
pub(crate) fn enter(
    blank: &str,
    marked: Length,
    pressed: Size,
    base: &Path,
    config: &Config,
) -> Result<Vec<String>, String> {
    let name = known(blank, config)?;
    if [marked, pressed.width, pressed.height].iter().any(|length| *length <= Length::ZERO) {
        return Err("A length that was measured is above zero. Write it for example as 588mm.".to_owned());
    }
    let shrink = config::plausible_shrink(Shrink { marked, pressed })
        .map_err(|why| format!("{why}. See that all three are in the right units, and measure again."))?;
    let file = config::shrink_file(base, name);
    let keep = || {
        file.parent().map_or(Ok(()), fs::create_dir_all)?;
        write_whole(&file, config::shrink_text(&shrink).as_bytes())
    };
    keep().map_err(|why| format!("It cannot be kept in {}: {why}.", file.display()))?;
    let [across, down] = shrink.factors();
    Ok(vec![format!(
        "From now on designs for {name} are printed {across:.5} times as wide and {down:.5} times as high as they are to be."
    )])
}

fn known<'c>(blank: &str, config: &'c Config) -> Result<&'c str, String> {
    config.catalogue.blanks.get(blank).map(|blank| blank.name.as_str()).ok_or_else(|| {
        let known: Vec<&str> = config.catalogue.blanks.names().collect();
        format!("There is no blank '{blank}'. {}", one_of(&known, Some(blank)))
    })
}
