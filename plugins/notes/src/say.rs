//! Numbers, lengths, edges and seams put into words.

use seamwright_contract::layout::Edge;
use seamwright_contract::units::{UM_PER_INCH, Units};
use seamwright_contract::{Length, Size, num};

/// Numbers that follow each other are drawn together from so many on.
const RUN: usize = 4;

/// `1`, `1 and 2`, `1, 2 and 3`, `1 to 4, 7 and 9`; ascending numbers.
pub(crate) fn list(numbers: &[u32]) -> String {
    if numbers.is_empty() {
        return "none".to_owned();
    }
    let runs = numbers.chunk_by(|one, next| one.checked_add(1) == Some(*next));
    let words = runs.flat_map(|run| match run {
        [first, .., last] if run.len() >= RUN => vec![format!("{first} to {last}")],
        _ => run.iter().map(ToString::to_string).collect(),
    });
    joined(&words.collect::<Vec<_>>())
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn joined<S: AsRef<str>>(words: &[S]) -> String {
    let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
    match words.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// `panel 1`, `panels 1 and 2`; the same with rows, seams and whatever else is numbered.
pub(crate) fn numbered(what: &str, numbers: &[u32]) -> String {
    format!("{what}{} {}", if numbers.len() == 1 { "" } else { "s" }, list(numbers))
}

/// `right and bottom`.
pub(crate) fn edges(edges: &[Edge]) -> String {
    joined(&edges.iter().map(|edge| edge.word()).collect::<Vec<_>>())
}

/// `1-2`, `1-2 and 1-4`: pairs of panels, for their seams.
pub(crate) fn pairs(pairs: &[[u32; 2]]) -> String {
    joined(&pairs.iter().map(|[low, high]| format!("{low}-{high}")).collect::<Vec<_>>())
}

/// With its first letter large, as at the beginning of a sentence.
pub(crate) fn begun(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A length to measure by, above zero: to the nearest 1/16 in or 1 mm, as on a rule. Where that is not the length itself, that
/// stands beside it in brackets, to 1/1000 in or 1/100 mm: `8 1/16 in (8.058)`, `205 mm (204.83)`.
pub(crate) fn length(units: Units, length: Length) -> String {
    let (whole, unit, exact) = match units {
        Units::Inch => (sixteenths(length), "in", format!("{:.3}", length.inches())),
        Units::Metric => (millimetres(length), "mm", format!("{:.2}", length.mm())),
    };
    let (on_rule, rounded) = whole;
    if (length - rounded).abs() <= slack(units) {
        format!("{on_rule} {unit}")
    } else {
        format!("{on_rule} {unit} ({})", exact.trim_end_matches('0').trim_end_matches('.'))
    }
}

/// What the last digit of an exact length leaves open.
const fn slack(units: Units) -> Length {
    match units {
        Units::Inch => Length::from_um(13),
        Units::Metric => Length::from_um(5),
    }
}

/// The nearest sixteenth of an inch, as written, and how long that is.
fn sixteenths(length: Length) -> (String, Length) {
    let count = num::round(length.inches() * 16.0);
    let (whole, rest) = (count / 16, count % 16);
    let written = match (whole, rest) {
        (whole, 0) => whole.to_string(),
        (whole, rest) => {
            let shared = 1 << rest.trailing_zeros();
            let fraction = format!("{}/{}", rest / shared, 16 / shared);
            if whole == 0 { fraction } else { format!("{whole} {fraction}") }
        }
    };
    (written, Length::from_um(count * UM_PER_INCH) / 16)
}

/// The nearest millimetre, as written, and how long that is.
fn millimetres(length: Length) -> (String, Length) {
    let count = num::round(length.mm());
    (count.to_string(), Length::from_mm(count))
}

/// Width and height to measure by: `35 in x 23 in`.
pub(crate) fn size(units: Units, size: Size) -> String {
    format!("{} x {}", length(units, size.width), length(units, size.height))
}

/// A distance inwards from an edge: below zero it hangs over the edge by so much.
pub(crate) fn inwards(units: Units, from_edge: Length) -> String {
    if from_edge < Length::ZERO {
        format!("over by {}", length(units, -from_edge))
    } else {
        length(units, from_edge)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_those_of_a_rule_and_never_hide_how_long_they_are() {
        for (units, um, said) in [
            (Units::Inch, 0, "0 in"),
            (Units::Inch, 12_700, "1/2 in"),
            (Units::Inch, 25_400, "1 in"),
            (Units::Inch, 204_788, "8 1/16 in"),
            (Units::Inch, 204_673, "8 1/16 in (8.058)"),
            (Units::Inch, 203_700, "8 in (8.02)"),
            (Units::Inch, 25_200, "1 in (0.992)"),
            (Units::Inch, 400, "0 in (0.016)"),
            (Units::Metric, 205_000, "205 mm"),
            (Units::Metric, 204_830, "205 mm (204.83)"),
            (Units::Metric, 204_500, "205 mm (204.5)"),
            (Units::Metric, 2_005, "2 mm"),
        ] {
            assert_eq!(length(units, Length::from_um(um)), said);
        }
        assert_eq!(inwards(Units::Metric, Length::from_mm(-3)), "over by 3 mm");
    }
}
