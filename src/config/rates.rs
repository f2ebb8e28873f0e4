//! What things cost in this studio, for estimates; every rate may be left out.

use std::collections::BTreeMap;

use seamwright_contract::settings::{Node, Read};

use super::{Catalogue, Shelf};

/// The longest word for the money.
const LONGEST_CURRENCY: usize = 12;

/// The studio's own rates.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rates {
    /// What the money is called.
    pub currency: String,
    /// A sheet, by paper.
    pub papers: BTreeMap<String, f64>,
    /// A blank, by its name.
    pub blanks: BTreeMap<String, f64>,
    /// A millilitre of ink.
    pub ink_ml: Option<f64>,
    /// An hour at the press: work, power, wear, as the studio reckons it.
    pub press_hour: Option<f64>,
}

/// An amount of money.
struct Money(f64);

impl Read for Money {
    fn read(node: &Node<'_>) -> Option<Self> {
        let amount = f64::read(node)?;
        if !(0.0..=1e6).contains(&amount) {
            node.complain(format!("{amount} is no price"), "Write an amount such as `0.35`.");
            return None;
        }
        Some(Self(amount))
    }
}

/// Reads them; names must be in the catalogue, or a slip of the pen would leave something out for ever.
pub(super) fn read(node: &Node<'_>, catalogue: &Catalogue) -> Option<Rates> {
    let mut keys = node.fields()?;
    let currency = keys.or("currency", String::new());
    if currency.chars().count() > LONGEST_CURRENCY {
        keys.complain("the word for the money is too long", "Write a short one, such as `currency: EUR`.");
    }
    let papers = keys.get("papers").map(|node| by_name(&node, &catalogue.papers)).unwrap_or_default();
    let blanks = keys.get("blanks").map(|node| by_name(&node, &catalogue.blanks)).unwrap_or_default();
    let ink_ml = keys.optional("ink_ml").map(|Money(amount)| amount);
    let press_hour = keys.optional("press_hour").map(|Money(amount)| amount);
    keys.finish();
    Some(Rates { currency, papers, blanks, ink_ml, press_hour })
}

fn by_name<T>(node: &Node<'_>, shelf: &Shelf<T>) -> BTreeMap<String, f64> {
    let rate = |(name, node): (&str, Node<'_>)| {
        shelf.known(name, &node)?;
        Some((name.to_owned(), Money::read(&node)?.0))
    };
    node.named().into_iter().filter_map(rate).collect()
}
