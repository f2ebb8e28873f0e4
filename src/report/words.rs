//! Figures in words, alike on the page and in the terminal.

use seamwright_contract::Length;
use seamwright_contract::units::{Temperature, Units};

use crate::history::{Made, Pressing, Verdict};
use crate::journal::clock::Zoned;

/// `1 sheet`, `6 sheets`.
pub(crate) fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// `once`, `3 times`.
pub(crate) fn times(count: usize) -> String {
    if count == 1 { "once".to_owned() } else { format!("{count} times") }
}

/// To the minute, as it sorts.
pub(crate) fn minute(at: &Zoned) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}

/// A day for people.
pub(crate) fn day(at: &Zoned) -> String {
    at.strftime("%A %-d %B %Y").to_string()
}

/// A while, rounded up to whole minutes: who plans by it should not be late.
pub(crate) fn minutes(seconds: u64) -> String {
    let minutes = seconds.div_ceil(60);
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// Degrees as measured in the record.
pub(crate) fn heat(celsius: f64, units: Units) -> String {
    let heat: Result<Temperature, _> = format!("{celsius}C").parse();
    heat.map_or_else(|_| format!("{celsius} C"), |heat| units.show_heat(heat))
}

/// A length in the studio's units.
pub(crate) fn length(um: i64, units: Units) -> String {
    units.show(Length::from_um(um))
}

/// The design's size.
pub(crate) fn size(made: &Made, units: Units) -> String {
    units.show_size(Length::from_um(made.width_um), Length::from_um(made.height_um))
}

/// `6 letter sheets`, of all copies.
pub(crate) fn sheets(made: &Made) -> String {
    if made.shares {
        let copies = if made.copies > 1 { format!(", {} copies", made.copies) } else { String::new() };
        return format!("on shared {} sheets{copies}", made.paper);
    }
    let copies =
        if made.copies > 1 { format!(" ({} copies of {})", made.copies, made.sheets) } else { String::new() };
    format!("{}{copies}", counted(made.all_sheets(), &format!("{} sheet", made.paper)))
}

/// What was made, in a line.
pub(crate) fn in_short(made: &Made, units: Units) -> String {
    let what = if made.carries.is_empty() { made.blank.clone() } else { counted(made.carries.len(), "job") };
    let mut said = vec![what, sheets(made)];
    if let Some(pressing) = &made.pressing {
        said.push(format!("{} at {}", minutes(made.all_seconds()), heat(pressing.heat_c, units)));
    }
    if !made.warnings.is_empty() {
        said.push(counted(made.warnings.len(), "warning"));
    }
    said.join(", ")
}

/// How a copy is pressed.
pub(crate) fn pressing(pressing: &Pressing, units: Units) -> String {
    format!(
        "{}, {}, {} s each at {}, {} in all",
        pressing.press,
        counted(pressing.placements, "placement"),
        pressing.dwell_s,
        heat(pressing.heat_c, units),
        minutes(u64::from(pressing.total_s))
    )
}

/// `good`, or `bad: edges pale`.
pub(crate) fn verdict(verdict: &Verdict) -> String {
    let how = if verdict.good { "good" } else { "bad" };
    if verdict.words.is_empty() { how.to_owned() } else { format!("{how}: {}", verdict.words) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_while_is_rounded_up() {
        let said: Vec<String> = [0, 1, 60, 61, 3_600, 3_661, 7_500].into_iter().map(minutes).collect();
        assert_eq!(said, ["0 min", "1 min", "1 min", "2 min", "1 h", "1 h 2 min", "2 h 5 min"]);
        assert_eq!(heat(195.0, Units::Metric), "195 C (383 F)");
        assert_eq!(heat(198.9, Units::Inch), "390 F (199 C)");
    }
}
