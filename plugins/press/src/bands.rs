//! The bands: at which heights the plate is set, so that all bands together take the fewest placements.
//!
//! A band either overlaps the one before it, and then both heat all ink of the shared strip, or it begins by itself where
//! ink begins below a bare level. Bands are steps from one height to the next; the least number of placements that a step
//! takes does not depend on the others, nor does its best cost. So the best way to a height is the best way to one before
//! it and a step more: all steps between the heights offered are tried, but for those that no way of fewest placements
//! takes. The heights offered are the first and last at which each band could lie, and even steps between.

use std::collections::BTreeMap;
use std::ops::Range;
use std::rc::Rc;

use seamwright_contract::cells::InkedColumns;
use seamwright_contract::{Length, num};

use crate::band::{Band, Care, Cost, Cut, Plate, spread, step};
use crate::ground::Ground;

/// A band with its plates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Row {
    /// Where the effective plates begin, downwards.
    pub(crate) top: Length,
    /// And from the left.
    pub(crate) plates: Vec<Length>,
}

/// A way of heating all ink.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Plan {
    /// From the top.
    pub(crate) rows: Vec<Row>,
    pub(crate) cost: Cost,
}

impl Plan {
    /// How many placements it takes.
    pub(crate) fn count(&self) -> usize {
        self.rows.iter().map(|row| row.plates.len()).sum()
    }
}

/// Where a band may begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Start {
    /// Where its plates begin.
    at: Length,
    /// Where the ink begins that it must heat: with the plates where it overlaps the band before.
    from: Length,
    /// Whether it begins by itself, below a bare level.
    alone: bool,
}

/// One band between a start and the next, the last one beyond all starts.
#[derive(Debug, Clone, Copy)]
struct Step {
    from: usize,
    to: usize,
    /// Down to where it must heat.
    end: Length,
    least: u32,
}

/// All bands there could be.
#[derive(Debug)]
pub(crate) struct Bands<'g> {
    ground: &'g Ground,
    plate: Plate,
    levels: Vec<Range<Length>>,
    /// Rising.
    starts: Vec<Start>,
    /// By where they begin.
    steps: Vec<Step>,
    /// The least number of placements above each start, and from it on.
    above: Vec<Option<u32>>,
    below: Vec<Option<u32>>,
}

impl<'g> Bands<'g> {
    /// Between these heights.
    pub(crate) fn new(ground: &'g Ground, plate: Plate, heights: &[Length]) -> Self {
        let levels = ground.levels(plate.apart());
        let starts = starts(&levels, plate.effective.height, heights);
        let nodes = starts.len() + 1;
        let mut bands = Self {
            ground,
            plate,
            levels,
            starts,
            steps: Vec::new(),
            above: vec![None; nodes],
            below: vec![None; nodes],
        };
        bands.steps = (0..bands.starts.len()).flat_map(|from| bands.steps_from(from)).collect();
        bands.count();
        bands
    }

    /// The least number of placements; `None` where the heights do not suffice.
    pub(crate) fn least(&self) -> Option<u32> {
        self.above.last().copied().flatten()
    }

    fn top(&self) -> Option<Length> {
        self.levels.first().map(|level| level.start)
    }

    /// All bands that begin at a start.
    fn steps_from(&self, from: usize) -> Vec<Step> {
        let (Some(start), Some(bottom)) = (self.starts.get(from), self.levels.last().map(|one| one.end))
        else {
            return Vec::new();
        };
        let reach = start.at + self.plate.effective.height;
        let parted = |next: &Start| {
            let level = self.levels.partition_point(|level| level.start < next.from);
            self.levels.get(level.checked_sub(1)?).map(|before| before.end)
        };
        let lapped = |next: &Start| Some(next.at + self.plate.overlap).filter(|end| *end < bottom);
        let later = self.starts.iter().enumerate().skip(from + 1);
        let mut ends: Vec<(Length, usize)> = later
            .filter(|(_, next)| next.at > start.at && next.from > start.from)
            .filter_map(|(to, next)| {
                let end = if next.alone { parted(next)? } else { lapped(next)? };
                (start.from < end && end <= reach).then_some((end, to))
            })
            .collect();
        if bottom <= reach {
            ends.push((bottom, self.starts.len()));
        }
        ends.sort_unstable();
        let (mut strip, mut next) = (InkedColumns::default(), 0);
        let step = |(end, to): (Length, usize)| {
            self.ground.widen(&mut strip, &mut next, start.from, end);
            let band = self.band(start.at, &strip)?;
            Some(Step { from, to, end, least: num::count(band.latest().len()) })
        };
        ends.into_iter().filter_map(step).collect()
    }

    fn band(&self, top: Length, strip: &InkedColumns) -> Option<Band<'g>> {
        let runs = self.ground.runs(strip, self.plate.apart());
        (!runs.is_empty()).then_some(Band { ground: self.ground, plate: self.plate, top, runs })
    }

    /// Counts placements from both ends.
    fn count(&mut self) {
        let top = self.top();
        for (start, above) in self.starts.iter().zip(&mut self.above) {
            *above = (Some(start.from) == top).then_some(0);
        }
        if let Some(last) = self.below.last_mut() {
            *last = Some(0);
        }
        for step in &self.steps {
            relax(&mut self.above, step.from, step.to, step.least);
        }
        for step in self.steps.iter().rev() {
            relax(&mut self.below, step.to, step.from, step.least);
        }
    }

    /// The best way with the fewest placements.
    pub(crate) fn best(&self, care: Care) -> Option<Plan> {
        let least = self.least()?;
        let centred = middle(&self.levels, &self.plate);
        let mut cuts: Cuts = BTreeMap::new();
        let mut best: Vec<Option<Reached>> = vec![None; self.starts.len() + 1];
        for step in &self.steps {
            let at = |counts: &[Option<u32>], node: usize| counts.get(node).copied().flatten();
            let (above, below) = (at(&self.above, step.from), at(&self.below, step.to));
            if above.zip(below).map(|(above, below)| above + step.least + below) != Some(least) {
                continue;
            }
            let Some(start) = self.starts.get(step.from) else { continue };
            let first = Some(start.from) == self.top();
            let before = best.get(step.from).and_then(|reached| reached.as_ref()).map(|reached| reached.cost);
            let Some(before) = before.or(first.then(Cost::default)) else { continue };
            let Some(cut) = self.cut(start, step.end, care, &mut cuts) else { continue };
            let off = centred.iter().map(|at| (*at - start.at).um().abs()).min().unwrap_or(0);
            let off = Cost { off: u64::try_from(off).unwrap_or(u64::MAX), ..Cost::default() };
            let cost = before.plus(cut.cost).plus(off);
            if let Some(found) = best.get_mut(step.to)
                && found.as_ref().is_none_or(|found| cost < found.cost)
            {
                *found = Some(Reached { cost, from: step.from, first, cut });
            }
        }
        self.traced(&best)
    }

    /// A band's best way, found once for what it must heat from one height.
    fn cut(&self, start: &Start, end: Length, care: Care, cuts: &mut Cuts) -> Option<Rc<Cut>> {
        let (mut strip, mut next) = (InkedColumns::default(), 0);
        self.ground.widen(&mut strip, &mut next, start.from, end);
        let band = self.band(start.at, &strip)?;
        let known = cuts.entry(start.at).or_default();
        if let Some((_, cut)) = known.iter().find(|(runs, _)| *runs == band.runs) {
            return Some(Rc::clone(cut));
        }
        let cut = Rc::new(band.cut(care)?);
        known.push((band.runs, Rc::clone(&cut)));
        Some(cut)
    }

    fn traced(&self, best: &[Option<Reached>]) -> Option<Plan> {
        let mut here = best.last()?.as_ref()?;
        let cost = here.cost;
        let mut rows = Vec::new();
        loop {
            let top = self.starts.get(here.from)?.at;
            rows.push(Row { top, plates: here.cut.plates.clone() });
            if here.first {
                break;
            }
            here = best.get(here.from)?.as_ref()?;
        }
        rows.reverse();
        Some(Plan { rows, cost })
    }
}

/// For each height, the best ways of covering a band from it, by what it must heat.
type Cuts = BTreeMap<Length, Vec<(Vec<Range<Length>>, Rc<Cut>)>>;

/// The best way to a start.
#[derive(Debug, Clone)]
struct Reached {
    cost: Cost,
    from: usize,
    /// Whether its band is the first.
    first: bool,
    cut: Rc<Cut>,
}

fn relax(counts: &mut [Option<u32>], from: usize, to: usize, least: u32) {
    let Some(Some(base)) = counts.get(from).copied() else { return };
    if let Some(count) = counts.get_mut(to) {
        let new = base.saturating_add(least);
        *count = Some(count.map_or(new, |old| old.min(new)));
    }
}

/// At each height a band that overlaps the one before; and one that begins by itself, if its plates reach the next ink.
fn starts(levels: &[Range<Length>], height: Length, heights: &[Length]) -> Vec<Start> {
    let Some(top) = levels.first().map(|level| level.start) else { return Vec::new() };
    let mut starts: Vec<Start> = Vec::new();
    for at in heights.iter().copied() {
        if at > top {
            starts.push(Start { at, from: at, alone: false });
        }
        let next = levels.get(levels.partition_point(|level| level.start < at));
        let next = next.filter(|next| next.start < at + height);
        starts.extend(next.map(|next| Start { at, from: next.start, alone: true }));
    }
    starts.sort_unstable();
    starts.dedup();
    starts
}

/// Heights to try: where the first bands could begin at the latest and so many steps before, the last ones at the
/// earliest, both for every level of ink by itself, and where bands spread evenly over all ink would.
pub(crate) fn heights(ground: &Ground, plate: &Plate, steps: i64) -> Vec<Length> {
    let (height, pitch) = (plate.effective.height, plate.pitch(plate.effective.height));
    let levels = ground.levels(plate.apart());
    let (Some(first), Some(last)) = (levels.first(), levels.last()) else { return Vec::new() };
    let (top, bottom) = (first.start, last.end);
    let chain = |from: Length, to: Length| (0..=(to - from).um().max(0) / pitch.um()).map(move |i| pitch * i);
    let step = step(pitch, steps);
    let back = 0..pitch.um() / step.um();
    let mut heights: Vec<Length> =
        chain(top, bottom + pitch).flat_map(|on| back.clone().map(move |i| top + on - step * i)).collect();
    heights.extend(chain(top, bottom).map(|back| bottom - height - back));
    for level in &levels {
        heights.extend(chain(level.start, level.end).map(|on| level.start + on));
        heights.extend(chain(level.start, level.end).map(|back| level.end - height - back));
    }
    heights.extend(middle(&levels, plate));
    heights.extend(spread(ground.extent().y, ground.extent().bottom(), plate, height));
    heights.retain(|at| *at > top - height && *at < bottom);
    heights.sort_unstable();
    heights.dedup();
    heights
}

/// Heights near those of a plan, a millimetre from each other, as far as the steps between those tried first.
pub(crate) fn heights_near(plan: &Plan, plate: &Plate, steps: i64) -> Vec<Length> {
    let reach = step(plate.pitch(plate.effective.height), steps).um() / 1_000;
    let near = |row: &Row| (-reach..=reach).map(move |mm| row.top + Length::from_mm(mm)).collect::<Vec<_>>();
    let mut heights: Vec<Length> = plan.rows.iter().flat_map(near).collect();
    heights.sort_unstable();
    heights.dedup();
    heights
}

/// Where the least number of bands over all levels begin when the surplus hangs over both ends alike.
fn middle(levels: &[Range<Length>], plate: &Plate) -> Vec<Length> {
    let (Some(top), Some(bottom)) =
        (levels.first().map(|level| level.start), levels.last().map(|level| level.end))
    else {
        return Vec::new();
    };
    let height = plate.effective.height;
    let count = seamwright_contract::geometry::pieces_to_cover(bottom - top, height, plate.overlap);
    let count = i64::from(count.unwrap_or(0));
    let pitch = plate.pitch(height);
    let surplus = pitch * (count - 1) + height - (bottom - top);
    (0..count).map(|i| top - surplus.half() + pitch * i).collect()
}
