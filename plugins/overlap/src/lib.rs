//! `overlap`: the lap policy, stated before the design is cut into panels.
//!
//! The lap is a strip printed on both neighbours; the upper panel is cut inside it, so that a cutting error of up
//! to half a lap still ends in ink. Trade habit is 1/8 to 1/2 in, usually 0.2 in or 5 mm (common practice, no source).

use seamwright_contract::layout::{LapPolicy, Layout, TrimOrder};
use seamwright_contract::plugin::{Fact, Stage, StageEntry};
use seamwright_contract::settings::Node;
use seamwright_contract::{Fault, Length};

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "overlap",
    about: "how wide neighbouring panels lap, where in the lap the cut runs, when it is cut",
    needs: &[],
    gives: &[Fact::Lap],
    before: &[Fact::Panels],
    example: "{overlap: {lap: 5mm, cut: 0.5, trim: panels-first}}",
    parse,
};

const WIDEST: Length = Length::from_mm(100);

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let mut fields = node.fields()?;
    let lap = fields.or("lap", Length::from_mm(5));
    if lap < Length::ZERO || lap > WIDEST {
        fields
            .node()
            .complain(format!("a lap of {lap} cannot be"), "Write a `lap` from 0mm to 100mm; 5mm is usual.");
    }
    let cut: f64 = fields.or("cut", 0.5);
    if !(0.0..=1.0).contains(&cut) {
        fields.node().complain(
            format!("the cut line at {cut} is outside the lap"),
            "Write a `cut` from 0 to 1; 0.5 is the middle of the lap.",
        );
    }
    let words = [TrimOrder::PanelsFirst, TrimOrder::RowsFirst].map(|order| (order.word(), order));
    let order = fields.choice_or("trim", &words, TrimOrder::PanelsFirst);
    fields.finish();
    Some(Box::new(Overlap(LapPolicy { lap, cut_at: cut_at(lap, cut), order })))
}

/// How far into the lap, from the upper panel's side, the cut runs: rounded down, so that an odd micrometre
/// goes to the lower panel.
fn cut_at(lap: Length, cut: f64) -> Length {
    if (cut - 0.5).abs() < f64::EPSILON { lap.half() } else { lap.share(cut) }
}

#[derive(Debug)]
struct Overlap(LapPolicy);

impl Stage for Overlap {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        layout.lap = Some(self.0);
        Ok(layout)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cut_runs_in_the_middle_and_odd_micrometres_go_to_the_lower_panel() {
        assert_eq!(cut_at(Length::from_um(5_080), 0.5).um(), 2_540);
        assert_eq!(cut_at(Length::from_um(5_081), 0.5).um(), 2_540);
        assert_eq!(cut_at(Length::from_um(5_000), 0.0).um(), 0);
        assert_eq!(cut_at(Length::from_um(5_000), 1.0).um(), 5_000);
    }
}
