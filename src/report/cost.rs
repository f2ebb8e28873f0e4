//! What a job costs, by the studio's own rates: an estimate, each part with its basis, and what is not in it by name.

use std::collections::BTreeMap;
use std::fmt;

use seamwright_contract::num;

use super::words;
use crate::config::Rates;
use crate::history::Made;

/// An estimate.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cost {
    pub(crate) total: f64,
    currency: String,
    /// Each part with how it comes about.
    parts: Vec<(f64, String)>,
    /// What has no rate or was not measured.
    pub(crate) lacks: Vec<String>,
}

/// What all copies of a job cost; nothing where the rates say nothing about it.
pub(crate) fn of_job(made: &Made, rates: &Rates) -> Option<Cost> {
    let copies = f64::from(made.copies);
    let sheets = num::float(i64::try_from(made.all_sheets()).unwrap_or(i64::MAX));
    let hours = num::float(i64::try_from(made.all_seconds()).unwrap_or(i64::MAX)) / 3600.0;
    let ink = made.ink_ml.map(|ml| ml * copies);
    // Shared sheets cost paper and nothing else; the jobs on them all but that.
    let parts = if made.shares {
        1..4
    } else if made.carries.is_empty() {
        0..4
    } else {
        0..1
    };
    let each = [
        (
            rates.papers.get(&made.paper),
            Some(sheets),
            words::sheets(made),
            format!("the paper, {}", made.paper),
        ),
        (
            rates.blanks.get(&made.blank),
            Some(copies),
            words::counted(num::index(made.copies), &made.blank),
            format!("the blank, {}", made.blank),
        ),
        (
            rates.ink_ml.as_ref(),
            ink,
            format!("{:.1} ml of ink", ink.unwrap_or_default()),
            "ink, not measured for this printer".to_owned(),
        ),
        (
            rates.press_hour.as_ref(),
            made.pressing.as_ref().map(|_| hours),
            format!("{} at the press", words::minutes(made.all_seconds())),
            "time at the press".to_owned(),
        ),
    ];
    let mut cost =
        Cost { total: 0.0, currency: rates.currency.clone(), parts: Vec::new(), lacks: Vec::new() };
    for (rate, amount, basis, lacking) in each.into_iter().take(parts.end).skip(parts.start) {
        match (rate, amount) {
            (Some(rate), Some(amount)) => {
                cost.total += rate * amount;
                cost.parts.push((rate * amount, basis));
            }
            _ => cost.lacks.push(lacking),
        }
    }
    (!cost.parts.is_empty()).then_some(cost)
}

/// What several jobs cost together, by kind of what lacks; nothing where none has an estimate.
pub(crate) fn of_all<'m>(
    jobs: impl Iterator<Item = &'m Made>,
    rates: &Rates,
) -> Option<(f64, BTreeMap<String, usize>)> {
    let mut total = None;
    let mut lacks = BTreeMap::new();
    for cost in jobs.filter_map(|made| of_job(made, rates)) {
        *total.get_or_insert(0.0) += cost.total;
        for lacking in cost.lacks {
            *lacks.entry(lacking).or_insert(0) += 1;
        }
    }
    Some((total?, lacks))
}

/// An amount of the studio's money.
pub(crate) fn amount(total: f64, currency: &str) -> String {
    format!("{total:.2} {currency}").trim_end().to_owned()
}

impl fmt::Display for Cost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts: Vec<String> =
            self.parts.iter().map(|(amount, basis)| format!("{amount:.2} for {basis}")).collect();
        write!(f, "about {}: {}", amount(self.total, &self.currency), parts.join(", "))?;
        if !self.lacks.is_empty() {
            write!(f, "; not counted: {}", self.lacks.join(", and "))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::Pressing;

    fn rates() -> Rates {
        Rates {
            currency: "EUR".to_owned(),
            papers: BTreeMap::from([("letter".to_owned(), 0.35)]),
            blanks: BTreeMap::from([("table-mat".to_owned(), 12.5)]),
            ink_ml: Some(0.4),
            press_hour: Some(18.0),
        }
    }

    fn made() -> Made {
        Made {
            paper: "letter".to_owned(),
            blank: "table-mat".to_owned(),
            sheets: 6,
            copies: 2,
            ink_ml: Some(4.0),
            pressing: Some(Pressing { total_s: 600, ..Pressing::default() }),
            ..Made::default()
        }
    }

    #[test]
    fn every_part_counts_for_every_copy() {
        // 12 x 0.35 + 2 x 12.50 + 8 x 0.40 + 1/3 h x 18.00, by hand.
        let cost = of_job(&made(), &rates()).unwrap();
        assert!((cost.total - (4.2 + 25.0 + 3.2 + 6.0)).abs() < 1e-9, "{cost}");
        assert!(cost.to_string().starts_with("about 38.40 EUR: 4.20 for 12 letter sheets"), "{cost}");
        assert!(cost.lacks.is_empty(), "{cost}");
    }

    #[test]
    fn what_is_not_known_is_named_and_not_guessed() {
        let made = Made { ink_ml: None, blank: "other".to_owned(), ..made() };
        let cost = of_job(&made, &rates()).unwrap();
        assert!(
            cost.to_string()
                .ends_with("not counted: the blank, other, and ink, not measured for this printer"),
            "{cost}"
        );
        assert_eq!(of_job(&made, &Rates::default()), None, "without rates nothing is said");
        let (total, lacks) = of_all([&made, &made].into_iter(), &rates()).unwrap();
        assert!((total - 20.4).abs() < 1e-9 && lacks["the blank, other"] == 2, "{total} {lacks:?}");
    }
}
