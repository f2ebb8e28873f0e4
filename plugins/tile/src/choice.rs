//! Which paper, lying which way.

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::geometry::pieces_to_cover;
use seamwright_contract::order::Order;
use seamwright_contract::{Fault, Length, Page, Rect, Sides, Size};

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
        let columns = pieces_to_cover(size.width, self.live.width, lap)?;
        let rows = pieces_to_cover(size.height, self.live.height, lap)?;
        Some(Self { columns, rows, ..self })
    }

    pub(crate) fn sheets(&self) -> u64 {
        u64::from(self.columns) * u64::from(self.rows)
    }

    /// How much paper all of them are, in square micrometres.
    fn area(&self) -> i128 {
        i128::from(self.sheets()) * i128::from(self.page.width.um()) * i128::from(self.page.height.um())
    }

    /// How many of what, lying how.
    fn said(&self) -> String {
        let word = if self.sheets() == 1 { "sheet" } else { "sheets" };
        format!("{} {word} of {} {}", self.sheets(), self.paper.name, self.orientation.word())
    }
}

/// The sheet chosen, and what it was weighed against.
#[derive(Debug)]
pub(crate) struct Choice {
    pub(crate) sheet: Sheet,
    others: Vec<Sheet>,
}

/// How many of the others a remark names.
const NAMED: usize = 3;

impl Choice {
    /// What was chosen and why, for the maker.
    pub(crate) fn why(&self) -> String {
        let chosen = self.sheet.said();
        let Some(next) = self.others.first() else {
            return format!("{chosen}: the only paper and orientation allowed that can be used.");
        };
        let reason = if next.sheets() > self.sheet.sheets() {
            "the fewest sheets"
        } else if next.area() > self.sheet.area() {
            "no other takes fewer sheets, nor as few of less paper"
        } else {
            "no other takes fewer sheets or less paper"
        };
        let named: Vec<String> = self.others.iter().take(NAMED).map(Sheet::said).collect();
        let more = match self.others.len().saturating_sub(NAMED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        format!("{chosen}: {reason}; weighed against {}{more}.", named.join(", "))
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
    fitting.sort_by_key(|sheet| (sheet.sheets(), sheet.area()));
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

/// No sheet can be used: its short printable side, the longest of all papers, does not reach beyond the lap.
fn none_fits(order: &Order, lying: &[Sheet], lap: Length) -> Fault {
    let side = lying.iter().map(|sheet| sheet.live.width.min(sheet.live.height)).max().unwrap_or_default();
    let reason = if side > Length::ZERO {
        format!(
            "its printable side of {} is not longer than the lap of {}",
            order.units.show(side),
            order.units.show(lap)
        )
    } else {
        format!("its margins leave nothing to print on, beside a lap of {}", order.units.show(lap))
    };
    Fault::setup(
        format!("No paper of printer {} can be used: {reason}.", order.printer.name),
        "Choose a larger paper, smaller printer margins or a smaller `lap`.",
    )
}
