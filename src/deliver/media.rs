//! Papers as printers call them (PWG 5101.1, self-describing media size names): by size, whatever the studio calls them.

use seamwright_contract::Size;

/// Micrometres of an inch, and of a hundredth of a millimetre.
const INCH: f64 = 25_400.0;
const HUNDREDTH: i64 = 10;

/// Standard sizes by their two sides, upright, in micrometres (PWG 5101.1, tables 4 to 6).
const STANDARD: [(i64, i64, &str); 19] = [
    (105_000, 148_000, "iso_a6_105x148mm"),
    (148_000, 210_000, "iso_a5_148x210mm"),
    (210_000, 297_000, "iso_a4_210x297mm"),
    (297_000, 420_000, "iso_a3_297x420mm"),
    (322_000, 445_000, "iso_a3-extra_322x445mm"),
    (420_000, 594_000, "iso_a2_420x594mm"),
    (225_000, 320_000, "iso_sra4_225x320mm"),
    (320_000, 450_000, "iso_sra3_320x450mm"),
    (250_000, 353_000, "iso_b4_250x353mm"),
    (101_600, 152_400, "na_index-4x6_4x6in"),
    (127_000, 177_800, "na_5x7_5x7in"),
    (139_700, 215_900, "na_invoice_5.5x8.5in"),
    (203_200, 254_000, "na_govt-letter_8x10in"),
    (215_900, 279_400, "na_letter_8.5x11in"),
    (215_900, 355_600, "na_legal_8.5x14in"),
    (279_400, 431_800, "na_ledger_11x17in"),
    (304_800, 457_200, "na_arch-b_12x18in"),
    (330_200, 482_600, "na_super-b_13x19in"),
    (431_800, 558_800, "na_c_17x22in"),
];

/// Sizes this far apart are the same (PWG 5101.1 rounds to hundredths of a millimetre; catalogues to tenths).
const ALIKE: i64 = 100;

/// Whether two sizes are the same.
pub(super) fn alike(one: Size, other: Size) -> bool {
    [one.width - other.width, one.height - other.height].iter().all(|off| off.abs().um() <= ALIKE)
}

/// The name of an upright paper; one that no standard names is called after its own size.
pub(super) fn name(width_um: i64, height_um: i64) -> String {
    let fits = |(width, height, _): &&(i64, i64, &str)| {
        (width - width_um).abs() <= ALIKE && (height - height_um).abs() <= ALIKE
    };
    if let Some((_, _, name)) = STANDARD.iter().find(fits) {
        return (*name).to_owned();
    }
    let whole = |um: i64, unit: i64| um % unit == 0;
    // Eighths of an inch are what catalogues in inches have.
    if whole(width_um, 3_175) && whole(height_um, 3_175) {
        let side = |um| inches(um).to_string();
        format!("custom_{0}x{1}in_{0}x{1}in", side(width_um), side(height_um))
    } else {
        format!("custom_{0}x{1}mm_{0}x{1}mm", millimetres(width_um), millimetres(height_um))
    }
}

fn inches(um: i64) -> f64 {
    seamwright_contract::num::float(um) / INCH
}

/// To the hundredth.
fn millimetres(um: i64) -> f64 {
    seamwright_contract::num::float(hundredths(um)) / 100.0
}

/// In the unit of `media-size` (PWG 5100.7): hundredths of a millimetre.
pub(super) fn hundredths(um: i64) -> i64 {
    (um + HUNDREDTH / 2) / HUNDREDTH
}

/// The size that a name describes, in micrometres, as far as it describes one.
pub(super) fn size_of(name: &str) -> Option<(i64, i64)> {
    let (_, size) = name.rsplit_once('_')?;
    let (size, unit) = match (size.strip_suffix("mm"), size.strip_suffix("in")) {
        (Some(size), _) => (size, 1_000.0),
        (_, Some(size)) => (size, INCH),
        (None, None) => return None,
    };
    let (width, height) = size.split_once('x')?;
    let side = |text: &str| {
        let side: f64 = text.parse().ok()?;
        (0.0..100_000.0).contains(&side).then(|| seamwright_contract::num::round(side * unit))
    };
    Some((side(width)?, side(height)?))
}

/// The word for an upright paper at a printer that lists these; nothing where it takes no such paper. One that lists
/// nothing is asked by the standard's name.
pub(super) fn word(listed: &[String], width_um: i64, height_um: i64) -> Option<String> {
    let own = name(width_um, height_um);
    if listed.is_empty() || listed.contains(&own) {
        return Some(own);
    }
    let bound =
        |which: &str| listed.iter().filter(|known| known.starts_with(which)).find_map(|name| size_of(name));
    let alike = |name: &&String| {
        size_of(name).is_some_and(|(width, height)| {
            (width - width_um).abs() <= ALIKE && (height - height_um).abs() <= ALIKE
        })
    };
    let sizes = listed.iter().filter(|known| !known.starts_with("custom_m"));
    if let Some(known) = sizes.clone().find(alike) {
        return Some(known.clone());
    }
    let (least, most) = (bound("custom_min_")?, bound("custom_max_")?);
    let within = (least.0..=most.0).contains(&width_um) && (least.1..=most.1).contains(&height_um);
    within.then_some(own)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_are_called_as_the_standard_does() {
        for (width, height, called) in [
            (215_900, 279_400, "na_letter_8.5x11in"),
            (210_000, 297_000, "iso_a4_210x297mm"),
            (330_200, 482_600, "na_super-b_13x19in"),
            (329_000, 483_000, "custom_329x483mm_329x483mm"),
            (304_800, 482_600, "custom_12x19in_12x19in"),
            (212_725, 279_400, "custom_8.375x11in_8.375x11in"),
            (100_005, 200_000, "custom_100.01x200mm_100.01x200mm"),
        ] {
            assert_eq!(name(width, height), called);
            let (w, h) = size_of(called).expect("a size");
            assert!((w - width).abs() <= 5 && (h - height).abs() <= 5, "{called}: {w} x {h}");
        }
        for (width, height, called) in STANDARD {
            assert_eq!(size_of(called), Some((width, height)), "{called}");
        }
        assert_eq!(hundredths(215_900), 21_590);
        assert_eq!(
            (size_of("main"), size_of("na_x_8xin"), size_of("custom_max_infxinfin")),
            (None, None, None)
        );
    }

    #[test]
    fn a_printer_is_asked_by_what_it_lists() {
        let listed =
            ["na_letter_8.5x11in", "oe_wide_12x19in", "custom_min_76.2x127mm", "custom_max_215.9x355.6mm"];
        let listed = listed.map(String::from);
        for (width, height, word_for) in [
            (215_900, 279_400, Some("na_letter_8.5x11in")),
            (304_800, 482_600, Some("oe_wide_12x19in")),
            (203_200, 304_800, Some("custom_8x12in_8x12in")),
            (215_900, 355_600, Some("na_legal_8.5x14in")),
            (330_200, 482_600, None),
            (76_200, 76_200, None),
        ] {
            assert_eq!(word(&listed, width, height).as_deref(), word_for);
        }
        assert_eq!(word(&[], 215_900, 279_400).as_deref(), Some("na_letter_8.5x11in"), "nothing is listed");
    }
}
