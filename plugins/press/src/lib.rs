//! `press`: the plan of pressing a design in sections.
//!
//! The plate heats well only inside its weak edge; the effective areas of neighbouring placements overlap, so that
//! every point of the design is heated well at least once. Placements are spread evenly over the design, fewest
//! first; temperature and time are the middle of the substrate's range, whose origin the notes state.

use seamwright_contract::catalogue;
use seamwright_contract::geometry::pieces_to_cover;
use seamwright_contract::layout::{Layout, Placement, PressPlan};
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::{Node, Range};
use seamwright_contract::units::{Seconds, Temperature};
use seamwright_contract::{Fault, Length, OnBlank, Point, Rect, Size};

#[cfg(test)]
mod tests;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "press",
    about: "where to set the plate, how often, how hot and how long",
    needs: &[Fact::Design],
    gives: &[Fact::Press],
    before: &[],
    example: "press",
    parse,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Press))
}

#[derive(Debug)]
struct Press;

impl Stage for Press {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let size = layout.design()?.size;
        let press = &layout.order.press;
        let substrate = &layout.order.blank.substrate;
        let placements = least(size, press)?.placements(size, press.platen, layout.placed());
        layout.press = Some(PressPlan {
            placements,
            heat: Temperature::between(substrate.heat.low, substrate.heat.high),
            dwell: middle(substrate.dwell),
            preheat: substrate.preheat,
            pressure: substrate.pressure.clone(),
            origin: substrate.origin.clone(),
        });
        Ok(layout)
    }
}

/// More placements than anybody makes on one piece; beyond it a size or unit is surely mistaken.
const MOST_PLACEMENTS: u64 = 1_000;

/// The grid of fewest placements over a design, the plate unturned where turning it saves none.
fn least(size: Size, press: &catalogue::Press) -> Result<Grid, Fault> {
    let ways = if press.turns { &[false, true][..] } else { &[false][..] };
    let grids = ways.iter().filter_map(|turned| Grid::over(size, press.effective(), press.overlap, *turned));
    let Some(grid) = grids.min_by_key(Grid::count) else {
        return Err(Fault::setup(
            format!("The plate of press {} has no effective area wider than its overlap.", press.name),
            "Correct `platen`, `weak_edge` or `overlap` of the press.",
        ));
    };
    if grid.count() > MOST_PLACEMENTS {
        return Err(Fault::order(
            format!("The design would take {} placements of press {}.", grid.count(), press.name),
            format!(
                "Check the size and its unit, and the press's `weak_edge` and `overlap`; at most {MOST_PLACEMENTS} placements are planned."
            ),
        ));
    }
    Ok(grid)
}

/// The middle of a range of times, to whole five seconds where such a time lies in the range.
fn middle(range: Range<Seconds>) -> Seconds {
    let exact = range.low.0.midpoint(range.high.0);
    let rounded = exact.saturating_add(2) / 5 * 5;
    Seconds(if (range.low.0..=range.high.0).contains(&rounded) { rounded } else { exact })
}

/// An even grid of effective areas over a design.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Grid {
    /// The effective area, as it lies.
    effective: Size,
    turned: bool,
    columns: u32,
    rows: u32,
}

impl Grid {
    /// The least grid that covers `size` with effective areas overlapping by at least `overlap`.
    pub(crate) fn over(size: Size, effective: Size, overlap: Length, turned: bool) -> Option<Self> {
        let effective = if turned { effective.turned() } else { effective };
        let columns = pieces_to_cover(size.width, effective.width, overlap)?;
        let rows = pieces_to_cover(size.height, effective.height, overlap)?;
        Some(Self { effective, turned, columns, rows })
    }

    pub(crate) fn count(&self) -> u64 {
        u64::from(self.columns) * u64::from(self.rows)
    }

    /// The whole plates over the blank, row by row; `placed` is the design's corner on the blank.
    pub(crate) fn placements(&self, size: Size, platen: Size, placed: Point<OnBlank>) -> Vec<Placement> {
        let platen = if self.turned { platen.turned() } else { platen };
        let edge = Size::new(
            (platen.width - self.effective.width).half(),
            (platen.height - self.effective.height).half(),
        );
        let cells = (0..self.rows).flat_map(|row| (0..self.columns).map(move |column| (row, column)));
        (1..)
            .zip(cells)
            .map(|(number, (row, column))| {
                let x = placed.x + start(size.width, self.effective.width, self.columns, column) - edge.width;
                let y = placed.y + start(size.height, self.effective.height, self.rows, row) - edge.height;
                Placement {
                    number,
                    platen: Rect::new(x, y, platen.width, platen.height),
                    turned: self.turned,
                }
            })
            .collect()
    }
}

/// Where the `index`th of `count` lengths begins when they are spread evenly; one alone is centred.
fn start(length: Length, each: Length, count: u32, index: u32) -> Length {
    if count <= 1 {
        (length - each).half()
    } else {
        (length - each) * i64::from(index) / i64::from(count - 1)
    }
}
