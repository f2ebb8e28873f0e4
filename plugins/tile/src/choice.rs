//! Which paper, lying which way.

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::order::Order;
use seamwright_contract::{Fault, Length, Page, Rect, Sides, Size};

use crate::count::panels_across;

/// A sheet as it lies, and how many of it cover the design.
#[derive(Debug, Clone)]
pub(crate) struct Sheet {
    pub(crate) paper: PaperSize,
    pub(crate) orientation: Orientation,
    pub(crate) page: Size,
    pub(crate) live: Rect<Page>,
    pub(crate) columns: u32,
    pub(crate) rows: u32,
}

impl Sheet {
    /// The sheet turned as asked; margins turn with it. The counts are still to be found.
    pub(crate) fn lying(paper: &PaperSize, orientation: Orientation, margins: Sides<Length>) -> Self {
        let (page, margins) = match orientation {
            Orientation::Portrait => (paper.size, margins),
            Orientation::Landscape => (paper.size.turned(), margins.turned_clockwise()),
        };
        let live = Rect::from_edges(
            margins.left,
            margins.top,
            page.width - margins.right,
            page.height - margins.bottom,
        );
        Self { paper: paper.clone(), orientation, page, live, columns: 0, rows: 0 }
    }

    /// The same with its counts, if any number of it covers a design of this size.
    pub(crate) fn covering(self, size: Size, lap: Length) -> Option<Self> {
        let columns = panels_across(size.width, self.live.width, lap)?;
        let rows = panels_across(size.height, self.live.height, lap)?;
        Some(Self { columns, rows, ..self })
    }

    pub(crate) fn sheets(&self) -> u64 {
        u64::from(self.columns) * u64::from(self.rows)
    }

    fn area(&self) -> i128 {
        i128::from(self.page.width.um()) * i128::from(self.page.height.um())
    }
}

/// The sheet chosen, and what it was weighed against.
#[derive(Debug)]
pub(crate) struct Choice {
    pub(crate) sheet: Sheet,
    others: Vec<Sheet>,
}

impl Choice {
    /// What was chosen and why, for the maker.
    pub(crate) fn why(&self) -> String {
        let say = |sheet: &Sheet| {
            let word = if sheet.sheets() == 1 { "sheet" } else { "sheets" };
            format!("{} {word} of {} {}", sheet.sheets(), sheet.paper.name, sheet.orientation.word())
        };
        let rest: Vec<String> = self.others.iter().map(say).collect();
        if rest.is_empty() {
            format!("{}.", say(&self.sheet))
        } else {
            format!("{}, the fewest; weighed against {}.", say(&self.sheet), rest.join(", "))
        }
    }
}

/// The most sheets a job may take; beyond it a size or unit is surely mistaken.
const MOST_SHEETS: u64 = 2_000;

/// Fewest sheets; of those the least paper; of those the first named, upright before turned.
pub(crate) fn best(order: &Order, size: Size, lap: Length) -> Result<Choice, Fault> {
    let ways = order.orientation.map_or(vec![Orientation::Portrait, Orientation::Landscape], |one| vec![one]);
    let lying: Vec<Sheet> = order
        .papers
        .iter()
        .flat_map(|paper| ways.iter().map(|way| Sheet::lying(paper, *way, order.printer.margins)))
        .collect();
    let mut fitting: Vec<Sheet> =
        lying.iter().cloned().filter_map(|sheet| sheet.covering(size, lap)).collect();
    fitting.sort_by_key(|sheet| (sheet.sheets(), i128::from(sheet.sheets()) * sheet.area()));
    if fitting.is_empty() {
        return Err(none_fits(order, &lying, lap));
    }
    let sheet = fitting.remove(0);
    if sheet.sheets() > MOST_SHEETS {
        return Err(Fault::order(
            format!("The design would take {} sheets of {}.", sheet.sheets(), sheet.paper.name),
            format!("Check the size and its unit; at most {MOST_SHEETS} sheets are made for one job."),
        ));
    }
    Ok(Choice { sheet, others: fitting })
}

fn none_fits(order: &Order, lying: &[Sheet], lap: Length) -> Fault {
    let side = lying.iter().map(|sheet| sheet.live.width.min(sheet.live.height)).max().unwrap_or_default();
    Fault::setup(
        format!(
            "No paper of printer {} can be used: its printable side of {} is not longer than the lap of {}.",
            order.printer.name,
            order.units.show(side),
            order.units.show(lap)
        ),
        "Choose a larger paper, smaller printer margins or a smaller `lap`.",
    )
}
