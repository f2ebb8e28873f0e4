//! Which paper, lying which way, and how it is cut: fewest sheets, then seams that show least, then least paper.

use std::panic::resume_unwind;
use std::thread;

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::geometry::pieces_to_cover;
use seamwright_contract::layout::Weighed;
use seamwright_contract::order::Order;
use seamwright_contract::scale::Scale;
use seamwright_contract::{Fault, Length, Page, Rect, Sides, Size, num};

use crate::ground::Ground;
use crate::rows::{Bands, Places, Plan};

/// A sheet as it lies.
#[derive(Debug, Clone)]
pub(crate) struct Sheet {
    pub(crate) paper: PaperSize,
    pub(crate) orientation: Orientation,
    pub(crate) page: Size,
    pub(crate) live: Rect<Page>,
    pub(crate) scale: Scale,
    /// The most a panel may print: the live size, less what is kept free for marks.
    pub(crate) most: Size,
}

impl Sheet {
    /// The sheet turned as asked; margins turn with it.
    pub(crate) fn lying(
        paper: &PaperSize,
        orientation: Orientation,
        margins: Sides<Length>,
        scale: Scale,
        free: Length,
    ) -> Self {
        let (page, live) = scale.page(paper.size, orientation, margins);
        let most = Size::new(live.width - free, live.height - free);
        Self { paper: paper.clone(), orientation, page, live, scale, most }
    }

    /// How many of an even grid cover a size: no plan is sought where that is absurd.
    fn grid(&self, size: Size, lap: Length) -> Option<u64> {
        let columns = pieces_to_cover(size.width, self.most.width, lap)?;
        let rows = pieces_to_cover(size.height, self.most.height, lap)?;
        Some(u64::from(columns) * u64::from(rows))
    }

    fn area(&self, sheets: u32) -> i128 {
        i128::from(sheets) * i128::from(self.page.width.um()) * i128::from(self.page.height.um())
    }

    /// How many of what, lying how.
    fn said(&self, sheets: u32) -> String {
        let word = if sheets == 1 { "sheet" } else { "sheets" };
        format!("{sheets} {word} of {} {}", self.paper.name, self.orientation.word())
    }
}

/// A sheet, how many of it are needed, and the best way to cut for it where it is among the fewest.
#[derive(Debug)]
pub(crate) struct Candidate {
    pub(crate) sheet: Sheet,
    pub(crate) least: u32,
    pub(crate) plan: Option<Plan>,
}

/// The sheet chosen, and what it was weighed against.
#[derive(Debug)]
pub(crate) struct Choice {
    pub(crate) sheet: Sheet,
    pub(crate) plan: Plan,
    /// In the order of preference, the chosen first.
    candidates: Vec<Candidate>,
}

/// How many of the others a remark names.
const NAMED: usize = 3;

impl Choice {
    /// What was chosen and why, for the maker.
    pub(crate) fn why(&self) -> String {
        let mut said = self.candidates.iter().map(|one| one.sheet.said(one.least));
        let (chosen, others): (String, Vec<String>) = (said.next().unwrap_or_default(), said.collect());
        let (Some(first), Some(next)) = (self.candidates.first(), self.candidates.get(1)) else {
            return format!("{chosen}: the only paper and orientation allowed that can be used.");
        };
        let crossed = |one: &Candidate| one.plan.as_ref().map(|plan| plan.cost.crossed);
        let reason = if next.least > first.least {
            "the fewest sheets"
        } else if crossed(next) > crossed(first) {
            "none takes fewer sheets, and of as few its seams cross the least"
        } else if next.sheet.area(next.least) > first.sheet.area(first.least) {
            "none takes fewer sheets or has seams that cross less, and it is the least paper"
        } else {
            "no other takes fewer sheets, has seams that cross less, or takes less paper"
        };
        let more = match others.len().saturating_sub(NAMED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        let named = others.into_iter().take(NAMED).collect::<Vec<_>>().join(", ");
        format!("{chosen}: {reason}; weighed against {named}{more}.")
    }

    /// The same as figures.
    pub(crate) fn weighed(&self, ground: &Ground) -> Vec<Weighed> {
        let weigh = |one: &Candidate| Weighed {
            paper: one.sheet.paper.name.clone(),
            orientation: one.sheet.orientation,
            sheets: one.least,
            crossed: one.plan.as_ref().map(|plan| ground.mm2(plan.cost.crossed)),
            paper_m2: f64::from(one.least) * one.sheet.page.width.mm() * one.sheet.page.height.mm() / 1e6,
        };
        self.candidates.iter().map(weigh).collect()
    }
}

/// The most sheets a job may take; beyond it a size or unit is surely mistaken.
const MOST_SHEETS: u32 = 2_000;

/// Fewest sheets; of those the least crossed by seams; of those the least paper; of those the first named, upright
/// before turned.
pub(crate) fn best(order: &Order, ground: &Ground, lap: Length, free: Length) -> Result<Choice, Fault> {
    let ways = order.orientation.map_or(vec![Orientation::Portrait, Orientation::Landscape], |one| vec![one]);
    let lying: Vec<Sheet> = order
        .papers
        .iter()
        .flat_map(|paper| {
            let (margins, scale) =
                (order.printer.margins_on(&paper.name), order.printer.scale_on(&paper.name));
            ways.iter().map(move |way| Sheet::lying(paper, *way, margins, scale, free))
        })
        .collect();
    let size = ground.extent().size();
    let grids = || lying.iter().filter_map(|sheet| Some((sheet, sheet.grid(size, lap)?)));
    let Some((fewest, count)) = grids().min_by_key(|(_, count)| *count) else {
        return Err(none_fits(order, &lying, lap));
    };
    if count > u64::from(MOST_SHEETS) {
        return Err(too_many(count, fewest));
    }
    let usable = grids().filter(|(_, count)| *count <= u64::from(MOST_SHEETS) * 4);
    let counted: Vec<(&Sheet, u32)> = usable
        .filter_map(|(sheet, _)| {
            Some((sheet, Bands::new(ground, sheet.most, lap, &Places::all_over(ground)).least()?))
        })
        .collect();
    let Some(least) = counted.iter().map(|(_, count)| *count).min() else { return Err(kept_clear(order)) };
    let mut candidates: Vec<Candidate> = counted
        .into_iter()
        .map(|(sheet, count)| {
            let plan = if count == least { roomy(ground, sheet, lap, count) } else { None };
            Candidate { sheet: sheet.clone(), least: count, plan }
        })
        .collect();
    candidates.sort_by_key(|one| {
        (one.least, one.plan.as_ref().map(|plan| plan.cost.crossed), one.sheet.area(one.least))
    });
    let chosen = candidates.first().and_then(|one| Some((one.sheet.clone(), one.plan.clone()?)));
    let (sheet, plan) = chosen.ok_or_else(|| Fault::defect("the fewest sheets were counted but not cut."))?;
    Ok(Choice { sheet, plan, candidates })
}

/// The best plan for the sheet chosen with so many more of it than the fewest.
pub(crate) fn with_more(choice: &Choice, ground: &Ground, lap: Length, more: u32) -> Option<Plan> {
    roomy(ground, &choice.sheet, lap, num::count(choice.plan.sheets()) + more)
}

/// How much of a sheet's live width and height is left free for marks, in mm, the most first: ticks, label and ruler want
/// about 8 mm on each side that is cut off, ticks alone 4.
const ROOMS: [(i64, i64); 14] = [
    (24, 24),
    (16, 16),
    (12, 12),
    (8, 8),
    (16, 4),
    (4, 16),
    (8, 4),
    (4, 8),
    (16, 0),
    (0, 16),
    (8, 0),
    (0, 8),
    (4, 0),
    (0, 4),
];

/// How much more than the least seams may cross to leave room for marks, in hundredths: hardly anything that shows.
const FOR_MARKS: u64 = 105;

/// The best plan within a number of sheets that leaves the most room for marks, and yet crosses no more than an even grid.
fn roomy(ground: &Ground, sheet: &Sheet, lap: Length, sheets: u32) -> Option<Plan> {
    let plan = |across: i64, down: i64| {
        let (width, height) = (sheet.most.width, sheet.most.height);
        let free = Size::new(width - Length::from_mm(across), height - Length::from_mm(down));
        let bands = Bands::new(ground, free, lap, &Places::all_over(ground));
        bands.least().filter(|least| *least <= sheets)?;
        let plan = bands.best(sheets)?;
        let Some(places) = Places::near(&plan, ground) else { return Some(plan) };
        let finer = Bands::new(ground, free, lap, &places).best(sheets);
        Some(finer.filter(|finer| finer.cost <= plan.cost).unwrap_or(plan))
    };
    let best = plan(0, 0)?;
    let even = even(ground, sheet.most, lap).unwrap_or(u64::MAX);
    let roomier = |(across, down): (i64, i64)| {
        plan(across, down).filter(|plan| {
            let worth = plan.cost.crossed.saturating_mul(100) <= best.cost.crossed.saturating_mul(FOR_MARKS);
            plan.cost.gaps <= best.cost.gaps && worth && plan.cost.crossed <= even
        })
    };
    first_of(&ROOMS, roomier).or(Some(best))
}

/// What the first of these gives that gives anything; as many are tried at once as there are cores.
fn first_of<T: Copy + Sync, Found: Send>(
    these: &[T],
    find: impl Fn(T) -> Option<Found> + Sync,
) -> Option<Found> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    these.chunks(cores).find_map(|abreast| {
        thread::scope(|scope| {
            let find = &find;
            let tried: Vec<_> = abreast.iter().map(|one| scope.spawn(move || find(*one))).collect();
            tried.into_iter().find_map(|one| one.join().unwrap_or_else(|panic| resume_unwind(panic)))
        })
    })
}

/// What the seams of the least even grid over the ink cross.
fn even(ground: &Ground, most: Size, lap: Length) -> Option<u64> {
    let ink = ground.extent();
    let strips = |length: Length, each: Length| {
        let count = i64::from(pieces_to_cover(length, each, lap)?);
        Some((1..count).map(move |i| (length - lap) * i / count))
    };
    let lap = lap.max(Length::from_um(1));
    let upright = strips(ink.width, most.width)?.map(|at| Rect::new(ink.x + at, ink.y, lap, ink.height));
    let level = strips(ink.height, most.height)?.map(|at| Rect::new(ink.x, ink.y + at, ink.width, lap));
    Some(upright.chain(level).map(|strip| ground.cost(&strip)).sum())
}

fn too_many(count: u64, sheet: &Sheet) -> Fault {
    Fault::order(
        format!("The design would take {count} sheets of {}.", sheet.paper.name),
        format!("Check the size and its unit; at most {MOST_SHEETS} sheets are made for one job."),
    )
}

/// Some sheet could be used, but no way of cutting keeps clear of what it shall.
fn kept_clear(order: &Order) -> Fault {
    let widest = order.keep_clear.iter().max_by_key(|zone| zone.width.max(zone.height));
    let said = widest.map_or_else(String::new, |zone| {
        format!(", the largest of them {}", order.units.show_size(zone.width, zone.height))
    });
    Fault::order(
        format!("No way of cutting keeps the seams out of the parts in `keep_clear`{said}."),
        "Make those parts smaller than the printable area of a sheet less the laps, move them apart, or allow a larger paper.",
    )
}

/// No sheet can be used: its short printable side, the longest of all papers, does not reach beyond the lap.
fn none_fits(order: &Order, lying: &[Sheet], lap: Length) -> Fault {
    let side = lying.iter().map(|sheet| sheet.most.width.min(sheet.most.height)).max().unwrap_or_default();
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
