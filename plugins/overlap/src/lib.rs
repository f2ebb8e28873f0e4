//! `overlap`: the lap policy, stated before the design is cut into panels.
//!
//! The lap is a strip printed on both neighbours; the upper panel is cut inside it, so that a cutting error of up
//! to half a lap still ends in ink. Trade habit is 1/8 to 1/2 in, usually 0.2 in or 5 mm (common practice, no source).

use seamwright_contract::layout::{LapPolicy, Layout, TrimOrder};
use seamwright_contract::plugin::{Fact, Stage, StageEntry};
use seamwright_contract::settings::{Fields, Node, Read};
use seamwright_contract::{Fault, Length, num};

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "overlap",
    about: "how wide neighbouring panels lap, where in the lap the cut runs, when it is cut",
    needs: &[],
    gives: &[Fact::Lap],
    before: &[Fact::Panels],
    example: "{overlap: {lap: 5mm, cut: 0.5, trim: panels-first}}",
    parse,
    order: None,
};

/// A lap stays below this; a wider one is surely a mistaken unit.
const TOO_WIDE: Length = Length::from_mm(100);

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let mut fields = node.fields()?;
    let policy = policy(&mut fields);
    fields.finish();
    Some(Box::new(Overlap(policy)))
}

/// Reads the three keys, each with its default; complaints stand at the key they are about.
fn policy(fields: &mut Fields<'_>) -> LapPolicy {
    let lap = within(fields, "lap", Length::from_mm(5), |lap| {
        (*lap < Length::ZERO || *lap >= TOO_WIDE).then(|| {
            (
                format!("panels cannot lap by {lap}"),
                "Write a `lap` from 0mm to less than 100mm; 5mm is usual, 0mm butts the panels.",
            )
        })
    });
    let cut = within(fields, "cut", 0.5, |cut| {
        (!(0.0..=1.0).contains(cut)).then(|| {
            (
                format!("the cut line at {cut} is outside the lap"),
                "Write a `cut` from 0 to 1; 0.5 is the middle of the lap.",
            )
        })
    });
    let words = [TrimOrder::PanelsFirst, TrimOrder::RowsFirst].map(|order| (order.word(), order));
    let order = fields.choice_or("trim", &words, TrimOrder::PanelsFirst);
    LapPolicy { lap, cut_at: cut_at(lap, cut), order }
}

/// The value of a key or its default; `wrong` says what is the matter with a value and the cure.
fn within<T: Read>(
    fields: &mut Fields<'_>,
    key: &'static str,
    default: T,
    wrong: impl Fn(&T) -> Option<(String, &'static str)>,
) -> T {
    let Some(node) = fields.get(key) else { return default };
    let Some(value) = T::read(&node) else { return default };
    if let Some((what, cure)) = wrong(&value) {
        node.complain(what, cure);
    }
    value
}

/// How far into the lap, from the upper panel's side, the cut runs: rounded down, so that an odd micrometre
/// goes to the lower panel. The share is taken as written, in millionths, since binary fractions fall short of
/// tenths and rounding down would lose a micrometre.
fn cut_at(lap: Length, cut: f64) -> Length {
    const WHOLE: i64 = 1_000_000;
    lap * num::round(cut * num::float(WHOLE)).clamp(0, WHOLE) / WHOLE
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
    use seamwright_contract::settings::{Complaint, Complaints, Value};

    use super::*;

    fn text(word: &str) -> Value {
        Value::Text(word.to_owned())
    }

    /// The policy read from keys and values, and what was complained of.
    fn read(entries: &[(&str, Value)]) -> (LapPolicy, Vec<Complaint>) {
        let value =
            Value::Map(entries.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect());
        let complaints = Complaints::new();
        let mut fields = Node::root(&value, &complaints).fields().expect("keys");
        let policy = policy(&mut fields);
        fields.finish();
        (policy, complaints.into_list())
    }

    #[test]
    fn nothing_written_is_five_millimetres_cut_in_the_middle_panels_first() {
        let five = Length::from_mm(5);
        let usual = LapPolicy { lap: five, cut_at: five.half(), order: TrimOrder::PanelsFirst };
        assert_eq!(read(&[]), (usual, Vec::new()));
    }

    #[test]
    fn what_is_written_is_taken() {
        let (policy, complaints) =
            read(&[("lap", text("0.2in")), ("cut", Value::Number(0.25)), ("trim", text("rows-first"))]);
        assert_eq!(complaints, Vec::new());
        assert_eq!((policy.lap.um(), policy.cut_at.um()), (5_080, 1_270));
        assert_eq!(policy.order, TrimOrder::RowsFirst);
        let (butted, complaints) = read(&[("lap", text("0mm"))]);
        assert_eq!((butted.lap, butted.cut_at, complaints), (Length::ZERO, Length::ZERO, Vec::new()));
    }

    #[test]
    fn mistakes_are_named_at_their_key() {
        for (key, value) in [
            ("lap", text("-1mm")),
            ("lap", text("100mm")),
            ("lap", text("5")),
            ("cut", Value::Number(-0.1)),
            ("cut", Value::Number(1.01)),
            ("cut", text("half")),
            ("trim", text("columns-first")),
            ("laps", text("5mm")),
        ] {
            let (_, complaints) = read(&[(key, value.clone())]);
            let keys: Vec<&str> = complaints.iter().map(|complaint| complaint.key.as_str()).collect();
            assert_eq!(keys, [key], "{value:?}");
            assert!(complaints.iter().all(|complaint| !complaint.cure.is_empty()), "{complaints:?}");
        }
        assert_eq!(read(&[("lap", text("99.999mm")), ("cut", Value::Number(1.0))]).1, Vec::new());
    }

    #[test]
    fn odd_micrometres_go_to_the_lower_panel() {
        let at = |um, cut| cut_at(Length::from_um(um), cut).um();
        assert_eq!([at(5_080, 0.5), at(5_081, 0.5)], [2_540, 2_540]);
        assert_eq!([at(5_000, 0.0), at(5_000, 1.0)], [0, 5_000]);
        // A quarter of 5083 is 1270.75: the upper panel gets the smaller whole.
        assert_eq!(at(5_083, 0.25), 1_270);
        // In binary fractions 0.29 x 100 falls short of 29.
        assert_eq!(at(100, 0.29), 29);
        assert_eq!(at(5_000, 1.0 / 3.0), 1_666);
    }
}
