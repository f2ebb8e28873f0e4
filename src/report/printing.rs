//! What the morning sheet and `status` say of sheets on their way to the printer.

use super::html::{Html, element, own, plain, text};
use crate::deliver::{self, Slip};

/// What is the maker's to do about it.
pub(super) fn needed(slips: &[Slip]) -> Html {
    let said = slips.iter().filter_map(|slip| Some((slip, deliver::needs_you(slip)?)));
    let section = |(slip, (what, cure)): (&Slip, (String, String))| {
        let list = [("What", &what), ("Cure", &cure)]
            .map(|(word, said)| Html::from([plain("dt", word), plain("dd", own(said))]));
        let heading = plain("h3", [text("Not printed: "), own(&slip.job)]);
        element("section", &[("class", "stop")], [heading, plain("dl", Html::from(list))])
    };
    said.map(section).collect()
}

/// How each stands that is not done with.
pub(super) fn standing(slips: &[Slip]) -> Html {
    if slips.is_empty() {
        return Html::default();
    }
    let line = |slip: &Slip| plain("li", [own(&slip.job), text(" "), own(&deliver::in_a_line(slip))]);
    Html::from([
        plain("h2", "On the way to the printer"),
        element("ul", &[("class", "before")], slips.iter().map(line).collect::<Html>()),
    ])
}

/// The same in lines.
pub(super) fn lines(slips: &[Slip]) -> Vec<String> {
    let line = |slip: &Slip| {
        let word = if deliver::needs_you(slip).is_some() { "unprinted" } else { "print" };
        let mut lines = vec![format!("{word:<9}  {} {}", slip.job, deliver::in_a_line(slip))];
        lines.extend(deliver::needs_you(slip).map(|(_, cure)| format!("           {cure}")));
        lines
    };
    slips.iter().flat_map(line).collect()
}
