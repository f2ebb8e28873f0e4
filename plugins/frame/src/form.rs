//! What an order says about its frame: YAML to types.

use seamwright_contract::settings::heard::Look;
use seamwright_contract::settings::{Fields, Node, Read as _};
use seamwright_contract::turn::Turn;

/// What is wanted of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Wanted {
    pub(crate) turning: Turning,
    /// Off the left, top, right and bottom of the turned picture.
    pub(crate) cut: [Amount; 4],
}

/// How the picture is turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Turning {
    By(Turn),
    /// So that its longer side lies along the design's.
    Auto,
}

/// How much is cut off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Amount {
    /// Of the side, 0 to 1.
    Share(f64),
    Pixels(u32),
}

const TURNS: [(&str, Turning); 5] = [
    ("0", Turning::By(Turn::UPRIGHT)),
    ("90", Turning::By(Turn::QUARTER)),
    ("180", Turning::By(Turn::HALF)),
    ("270", Turning::By(Turn::BACK)),
    ("auto", Turning::Auto),
];

/// How an amount looks.
const AMOUNT: Look = Look { pattern: r"^\s*((\d+\.?\d*|\.\d+)\s*%|\d+\s*px)\s*$", examples: &["5%", "40px"] };

/// Reads all that an order says; `None` after complaining.
pub(crate) fn read(node: &Node<'_>) -> Option<Wanted> {
    let mut fields = node.fields()?;
    let turning = fields.choice_or("turn", &TURNS, Turning::By(Turn::UPRIGHT));
    let cut = ["left", "top", "right", "bottom"].map(|side| amount(&mut fields, side));
    fields.finish();
    let [Some(left), Some(top), Some(right), Some(bottom)] = cut else { return None };
    Some(Wanted { turning, cut: [left, top, right, bottom] })
}

fn amount(fields: &mut Fields<'_>, side: &'static str) -> Option<Amount> {
    let Some(node) = fields.get(side) else { return Some(Amount::Share(0.0)) };
    node.looks(AMOUNT);
    let text = String::read(&node)?;
    let found = parsed(&text);
    if found.is_none() {
        node.complain(
            format!("'{text}' is no part of a picture"),
            format!("Write a share of the picture below 100 %, `{side}: 5%`, or pixels, `{side}: 40px`."),
        );
    }
    found
}

fn parsed(text: &str) -> Option<Amount> {
    let text = text.trim();
    if let Some(share) = text.strip_suffix('%') {
        let share: f64 = share.trim_end().parse().ok()?;
        return (0.0..100.0).contains(&share).then_some(Amount::Share(share / 100.0));
    }
    text.strip_suffix("px")?.trim_end().parse().ok().map(Amount::Pixels)
}
