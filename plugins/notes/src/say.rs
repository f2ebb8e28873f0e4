//! Numbers, edges and seams put into words.

use seamwright_contract::layout::Edge;

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
