//! The rows: which bands the design is cut in, so that all rows together take the fewest sheets and their seams cost least.
//!
//! The problem, stated: a row begins where the one above it ends, sharing a lap, at one of the places offered, or by
//! itself where ink begins below a bare level. It prints at most the live height and is cut as `row` says, with the
//! least number of panels that its ink takes, or more where the number of sheets allows. Wanted are, of all ways
//! within a number of sheets, the fewest gaps, then the least cost of all strips, then the most even rows. Each band is
//! a step between two places and steps add up, so the best way to a place is the best way to a place before it and
//! one step more: all steps are tried, but for those that cannot be part of a way within the number of sheets.

use std::ops::Range;

use seamwright_contract::{Length, Rect, Size};

use crate::ground::Ground;
use crate::row::{Cost, Cut, Reach, Row, Start, hits};

/// Seams are first tried at no more places than about this along a side.
const COARSE: usize = 320;

/// Where seams are tried.
#[derive(Debug, Clone)]
pub(crate) struct Places {
    across: Vec<Length>,
    down: Vec<Length>,
}

impl Places {
    /// Evenly over all of the design, at borders of cells.
    pub(crate) fn all_over(ground: &Ground) -> Self {
        Self { across: ground.columns(COARSE).collect(), down: ground.levels(COARSE).collect() }
    }

    /// At every border of cells near the seams of a plan; nothing where they were tried all over already.
    pub(crate) fn near(plan: &Plan, ground: &Ground) -> Option<Self> {
        let coarse = Self::all_over(ground);
        let every = (ground.columns(usize::MAX), ground.levels(usize::MAX));
        let near = |every: &mut dyn Iterator<Item = Length>, coarse: &[Length], seams: &[Length]| {
            let step =
                coarse.windows(2).map(|pair| pair.iter().copied().max().zip(pair.iter().copied().min()));
            let step = step.flatten().map(|(far, near)| far - near).max().unwrap_or_default();
            let beside = |at: &Length| seams.iter().any(|seam| (*at - *seam).abs() <= step);
            every.filter(beside).chain(seams.iter().copied()).collect::<Vec<_>>()
        };
        let rows: Vec<Length> = plan.rows.iter().map(|row| row.start.at()).collect();
        let columns: Vec<Length> =
            plan.rows.iter().flat_map(|row| row.cut.starts.iter().map(|start| start.at())).collect();
        let (mut columns_all, mut levels_all) = every;
        let fine = Self {
            across: near(&mut columns_all, &coarse.across, &columns),
            down: near(&mut levels_all, &coarse.down, &rows),
        };
        let finer = ground.columns(usize::MAX).count() > coarse.across.len()
            || ground.levels(usize::MAX).count() > coarse.down.len();
        finer.then_some(fine)
    }
}

/// Seams that would meet in four corners keep this far apart where it costs nothing.
const CORNERS: Length = Length::from_mm(10);

/// A row with its cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Band {
    /// Where it begins.
    pub(crate) start: Start,
    /// The last micrometre printed, downwards.
    pub(crate) end: Length,
    /// Its panels.
    pub(crate) cut: Cut,
}

/// A way of cutting the design.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Plan {
    /// The rows, from the top.
    pub(crate) rows: Vec<Band>,
    /// What all their seams cost.
    pub(crate) cost: Cost,
}

impl Plan {
    /// How many sheets it takes.
    pub(crate) fn sheets(&self) -> usize {
        self.rows.iter().map(|row| row.cut.starts.len()).sum()
    }
}

/// All bands there could be, for sheets of one live size.
#[derive(Debug)]
pub(crate) struct Bands<'g> {
    ground: &'g Ground,
    across: Reach,
    down: Reach,
    /// Places for seams across.
    columns: Vec<Length>,
    /// Where rows may begin, rising.
    starts: Vec<Start>,
    /// Steps from a start to the next, the last one beyond the last start; by where they begin.
    steps: Vec<Step>,
    /// The least number of sheets from the top to each start, and from each start to the bottom.
    above: Vec<Option<u32>>,
    below: Vec<Option<u32>>,
}

/// One band that a row could take.
#[derive(Debug, Clone)]
struct Step {
    from: usize,
    to: usize,
    end: Length,
    least: u32,
}

impl<'g> Bands<'g> {
    /// Seams are tried at these places.
    pub(crate) fn new(ground: &'g Ground, live: Size, lap: Length, places: &Places) -> Self {
        let mut bands = Self {
            ground,
            across: Reach { live: live.width, lap },
            down: Reach { live: live.height, lap },
            columns: places.across.clone(),
            starts: Vec::new(),
            steps: Vec::new(),
            above: Vec::new(),
            below: Vec::new(),
        };
        let levels = ground.levels_of_ink();
        bands.starts = bands.all_starts(&levels, &places.down);
        bands.steps = bands.all_steps(levels.last().map_or(Length::ZERO, |run| run.end));
        bands.count();
        bands
    }

    /// The least number of sheets; `None` where no number covers the ink.
    pub(crate) fn least(&self) -> Option<u32> {
        self.below.first().copied().flatten()
    }

    fn all_starts(&self, levels: &[Range<Length>], offered: &[Length]) -> Vec<Start> {
        let (Some(first), Some(last)) = (levels.first(), levels.last()) else { return Vec::new() };
        let (top, bottom, lap, live) = (first.start, last.end, self.down.lap, self.down.live);
        let clear: Vec<Range<Length>> =
            self.ground.keep_clear.iter().map(|zone| zone.y..zone.bottom()).collect();
        let mut laps: Vec<Length> = offered.to_vec();
        // As far as rows go, from either end of every inked level.
        let step = live - lap;
        let ends = levels.iter().flat_map(|run| [(run.start, true), (run.end - live, false)]);
        for (from, down) in ends.filter(|_| step > Length::ZERO) {
            let mut at = if down { from + step } else { from };
            while at > top && at < bottom {
                laps.push(at);
                at = if down { at + step } else { at - step };
            }
        }
        laps.extend(clear.iter().flat_map(|zone| [zone.start - lap, zone.end]));
        laps.retain(|at| *at > top && *at + lap < bottom && !hits(&clear, *at, lap));
        let gaps = levels.windows(2).filter_map(|pair| match pair {
            [one, other] => Some(Start::Alone(one.end, other.start)),
            _ => None,
        });
        let mut starts: Vec<Start> = laps.into_iter().map(Start::Lap).chain(gaps).collect();
        starts.push(Start::Alone(Length::ZERO, top));
        starts.sort_unstable_by_key(|start| (start.at(), matches!(start, Start::Lap(_))));
        starts.dedup();
        starts
    }

    fn all_steps(&self, bottom: Length) -> Vec<Step> {
        // Where a row ends if the next begins there.
        let mut ends: Vec<(Length, usize)> = self
            .starts
            .iter()
            .enumerate()
            .skip(1)
            .map(|(to, start)| {
                let end = match start {
                    Start::Lap(at) => *at + self.down.lap,
                    Start::Alone(end, _) => *end,
                };
                (end, to)
            })
            .collect();
        ends.push((bottom, self.starts.len()));
        ends.sort_unstable();
        let mut steps = Vec::new();
        for (from, start) in self.starts.iter().enumerate() {
            let (top, last) = (start.at(), start.at() + self.down.live);
            let apart = self.down.lap.max(Length::from_um(1));
            let (mut ink, mut done) = (seamwright_contract::cells::InkedColumns::default(), top);
            let first = ends.partition_point(|(end, _)| *end <= top);
            for (end, to) in ends.iter().skip(first).take_while(|(end, _)| *end <= last) {
                let parted = match self.starts.get(*to) {
                    Some(Start::Lap(at)) => *at >= top + apart,
                    Some(Start::Alone(..)) | None => *end >= top + apart || matches!(start, Start::Alone(..)),
                };
                if *to <= from || !parted {
                    continue;
                }
                self.ground.widen(&mut ink, &mut done, top, *end);
                let runs = self.ground.runs(&ink, top, *end);
                let least =
                    (!runs.is_empty()).then(|| Row::new(self.ground, self.across, top..*end, runs)).flatten();
                steps.extend(least.map(|row| Step { from, to: *to, end: *end, least: row.least() }));
            }
        }
        steps
    }

    /// Counts sheets from both ends.
    fn count(&mut self) {
        let nodes = self.starts.len() + 1;
        let (mut above, mut below) = (vec![None; nodes], vec![None; nodes]);
        if let (Some(first), Some(last)) = (above.first_mut(), below.last_mut()) {
            (*first, *last) = (Some(0), Some(0));
        }
        for step in &self.steps {
            relax(&mut above, step.from, step.to, step.least);
        }
        for step in self.steps.iter().rev() {
            relax(&mut below, step.to, step.from, step.least);
        }
        (self.above, self.below) = (above, below);
    }

    /// The best way within a number of sheets.
    pub(crate) fn best(&self, sheets: u32) -> Option<Plan> {
        let nodes = self.starts.len() + 1;
        // For each place, for each number of sheets so far, the best way to it.
        let mut best: Vec<Vec<Option<Reached>>> = vec![Vec::new(); nodes];
        best.first_mut()?.push(Some(Reached { cost: Cost::default(), before: None, row: None }));
        for step in &self.steps {
            let (Some(above), Some(below)) = (self.at(&self.above, step.from), self.at(&self.below, step.to))
            else {
                continue;
            };
            let Some(spare) = sheets.checked_sub(above + step.least + below) else { continue };
            let reached = best.get(step.from).cloned().unwrap_or_default();
            for more in 0..=spare {
                let Some(row) = self.row(step, step.least + more) else { continue };
                self.advance(step, &row, &reached, (above, sheets - below), &mut best);
            }
        }
        self.traced(&best)
    }

    fn at(&self, counts: &[Option<u32>], node: usize) -> Option<u32> {
        counts.get(node).copied().flatten()
    }

    /// Takes a step from every number of sheets with which its beginning was reached.
    fn advance(
        &self,
        step: &Step,
        row: &Band,
        reached: &[Option<Reached>],
        (above, most): (u32, u32),
        best: &mut [Vec<Option<Reached>>],
    ) {
        let (Some(least), Some(slots)) = (self.at(&self.above, step.to), best.get_mut(step.to)) else {
            return;
        };
        let added =
            row.cut.cost.plus(self.seam(step.to)).plus(Cost { uneven: squared(row), ..Cost::default() });
        for (slot, from) in reached.iter().enumerate() {
            let Some(from) = from else { continue };
            let used = above + num(slot) + num(row.cut.starts.len());
            let cost = from.cost.plus(added);
            let Some(place) = used.checked_sub(least).filter(|_| used <= most).map(index) else { continue };
            if slots.len() <= place {
                slots.resize(place + 1, None);
            }
            if let Some(found) = slots.get_mut(place)
                && found.as_ref().is_none_or(|found| cost < found.cost)
            {
                *found = Some(Reached { cost, before: Some((step.from, slot)), row: Some(row.clone()) });
            }
        }
    }

    fn traced(&self, best: &[Vec<Option<Reached>>]) -> Option<Plan> {
        let last = best.last()?.iter().flatten().min_by_key(|reached| reached.cost)?;
        let mut rows = Vec::new();
        let mut here = last;
        while let (Some((node, slot)), Some(row)) = (here.before, &here.row) {
            rows.push(row.clone());
            here = best.get(node)?.get(slot)?.as_ref()?;
        }
        rows.reverse();
        self.part_corners(&mut rows);
        Some(Plan { rows, cost: last.cost })
    }

    /// What the strip above a row costs.
    fn seam(&self, start: usize) -> Cost {
        match self.starts.get(start) {
            Some(Start::Lap(at)) => {
                let ink = self.ground.extent();
                let lap = self.down.lap.max(Length::from_um(1));
                let strip = Rect::from_edges(ink.x, *at, ink.right(), *at + lap);
                Cost { crossed: self.ground.cost(&strip), ..Cost::default() }
            }
            Some(Start::Alone(..)) => Cost { gaps: 1, ..Cost::default() },
            None => Cost::default(),
        }
    }

    /// A step's band, cut.
    fn row(&self, step: &Step, panels: u32) -> Option<Band> {
        let start = *self.starts.get(step.from)?;
        let row = self.band(start, step.end)?;
        let cut = row.cut(panels, &row.places(&self.columns))?;
        Some(Band { start, end: step.end, cut })
    }

    fn band(&self, start: Start, end: Length) -> Option<Row<'g>> {
        let ink = self.ground.band(start.at(), end);
        Row::new(self.ground, self.across, start.at()..end, self.ground.runs(&ink, start.at(), end))
    }

    /// Moves seams that would meet those of the row above, where that costs nothing.
    fn part_corners(&self, rows: &mut [Band]) {
        let mut above: Vec<Length> = Vec::new();
        for band in rows {
            let near = |at: Length| above.iter().any(|other| (at - *other).abs() < self.across.lap + CORNERS);
            let laps = |cut: &Cut| -> Vec<Length> {
                let lap = |start: &Start| matches!(start, Start::Lap(_)).then(|| start.at());
                cut.starts.iter().filter_map(lap).collect()
            };
            let joined = matches!(band.start, Start::Lap(_));
            if joined && laps(&band.cut).into_iter().any(near) {
                let other = self.band(band.start, band.end).and_then(|row| {
                    let places: Vec<Length> =
                        row.places(&self.columns).into_iter().filter(|at| !near(*at)).collect();
                    row.cut(num(band.cut.starts.len()), &places)
                });
                let same = |cut: &Cut| {
                    (cut.cost.gaps, cut.cost.crossed) == (band.cut.cost.gaps, band.cut.cost.crossed)
                };
                band.cut = other.filter(same).unwrap_or_else(|| band.cut.clone());
            }
            above = laps(&band.cut);
        }
    }
}

/// The best way to a place.
#[derive(Debug, Clone)]
struct Reached {
    cost: Cost,
    /// The place before, and which of its numbers of sheets.
    before: Option<(usize, usize)>,
    /// The row between.
    row: Option<Band>,
}

fn relax(counts: &mut [Option<u32>], from: usize, to: usize, least: u32) {
    let Some(Some(base)) = counts.get(from).copied() else { return };
    if let Some(count) = counts.get_mut(to) {
        let new = base.saturating_add(least);
        *count = Some(count.map_or(new, |old| old.min(new)));
    }
}

/// The square of a row's height in mm: the sum of squares is least where rows are even.
fn squared(row: &Band) -> u64 {
    let mm = u64::try_from((row.end - row.start.at()).um() / 1_000).unwrap_or(0);
    mm.saturating_mul(mm)
}

fn num(count: usize) -> u32 {
    seamwright_contract::num::count(count)
}

fn index(count: u32) -> usize {
    seamwright_contract::num::index(count)
}
