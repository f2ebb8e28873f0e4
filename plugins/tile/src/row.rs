//! One row: the panels that cover a band's ink, and where their seams cost least.
//!
//! The problem, stated: the band's ink lies in stretches from the left. A panel prints at most the live width. Panels
//! next to each other either share a lap, whose strip begins at one of the places offered and lies on no part to be kept
//! clear, or leave bare design between them, the second beginning where a stretch of ink does. Wanted of all ways with
//! a given number of panels: the fewest gaps, then the least cost of what the strips cross, then the seams nearest to
//! an even grid's. It is solved exactly, panel by panel: what is best from a seam on does not depend on how it was
//! reached. How many panels are needed from a place on never falls when the place moves left; so the first places from
//! which one, two, three panels suffice are found one after the other, and the least number with them.

use std::collections::VecDeque;
use std::ops::Range;

use seamwright_contract::{Length, Rect, num};

use crate::ground::Ground;

/// Visible width below which a panel is avoided where others do as well (common practice, no source).
const NARROW: Length = Length::from_mm(25);

/// How wide sheets print, and how much neighbours share.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reach {
    /// The live side of a sheet.
    pub(crate) live: Length,
    /// The lap.
    pub(crate) lap: Length,
}

/// Where a panel begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Start {
    /// With the lap shared with the panel before: the strip begins here.
    Lap(Length),
    /// By itself, where ink begins; the panel before ended at the first place.
    Alone(Length, Length),
}

impl Start {
    /// The first micrometre printed.
    pub(crate) fn at(self) -> Length {
        match self {
            Self::Lap(at) | Self::Alone(_, at) => at,
        }
    }
}

/// What a way of cutting costs: gaps first, then what its strips cross, then how far it is from even.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(crate) struct Cost {
    pub(crate) gaps: u32,
    pub(crate) crossed: u64,
    pub(crate) uneven: u64,
}

impl Cost {
    pub(crate) fn plus(self, other: Self) -> Self {
        Self {
            gaps: self.gaps + other.gaps,
            crossed: self.crossed + other.crossed,
            uneven: self.uneven.saturating_add(other.uneven),
        }
    }
}

/// A way of cutting a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Cut {
    /// Where the panels begin, from the left.
    pub(crate) starts: Vec<Start>,
    /// Where the last one ends.
    pub(crate) end: Length,
    pub(crate) cost: Cost,
}

/// A band to be cut.
#[derive(Debug)]
pub(crate) struct Row<'g> {
    ground: &'g Ground,
    reach: Reach,
    /// From the first to the last micrometre the row prints, downwards.
    height: Range<Length>,
    /// The stretches of ink.
    ink: Vec<Range<Length>>,
    /// Stretches that no strip may touch.
    clear: Vec<Range<Length>>,
    /// The first place from which one panel suffices, two, and so on, down to the ink's beginning.
    suffices: Vec<Length>,
}

impl<'g> Row<'g> {
    /// `None` where no number of panels covers the band.
    pub(crate) fn new(
        ground: &'g Ground,
        reach: Reach,
        height: Range<Length>,
        ink: Vec<Range<Length>>,
    ) -> Option<Self> {
        let clear = ground
            .keep_clear
            .iter()
            .filter(|zone| zone.y < height.end && height.start < zone.bottom())
            .map(|zone| zone.x..zone.right())
            .collect();
        let mut row = Self { ground, reach, height, ink, clear, suffices: Vec::new() };
        let mut from = row.last() - reach.live;
        row.suffices.push(from);
        while from > row.first() {
            let before = row.before(from).filter(|before| *before < from)?;
            row.suffices.push(before);
            from = before;
        }
        Some(row)
    }

    fn first(&self) -> Length {
        self.ink.first().map_or(Length::ZERO, |run| run.start)
    }

    fn last(&self) -> Length {
        self.ink.last().map_or(Length::ZERO, |run| run.end)
    }

    /// The bare stretches between ink: where a panel ends and where the next begins.
    fn gaps(&self) -> impl Iterator<Item = Range<Length>> {
        self.ink.windows(2).filter_map(|pair| match pair {
            [one, other] => Some(one.end..other.start),
            _ => None,
        })
    }

    /// The first place from which a panel reaches so far that the next can begin at `next` or later.
    fn before(&self, next: Length) -> Option<Length> {
        let Reach { live, lap } = self.reach;
        let by_lap = earliest(&self.clear, next, lap)
            .filter(|strip| *strip + lap < self.last() && live >= lap + self.apart(Length::ZERO))
            .map(|strip| strip + lap - live);
        let by_gap = self.gaps().find(|gap| gap.end >= next).map(|gap| gap.start - live);
        by_lap.into_iter().chain(by_gap).min()
    }

    /// The least number of panels.
    pub(crate) fn least(&self) -> u32 {
        num::count(self.suffices.len())
    }

    /// The first place from which this many panels suffice.
    fn suffices(&self, count: u32) -> Length {
        let first = self.first();
        num::index(count)
            .checked_sub(1)
            .and_then(|at| self.suffices.get(at))
            .map_or(first, |at| (*at).max(first))
    }

    /// How far a strip begins behind the beginning of its panel: strips never lie on each other.
    fn apart(&self, visible: Length) -> Length {
        self.reach.lap.max(visible).max(Length::from_um(1))
    }

    /// Where strips may begin, rising: the places offered, those as far as panels go from either end, those beside what
    /// is kept clear.
    pub(crate) fn places(&self, offered: &[Length]) -> Vec<Length> {
        let (first, last, lap) = (self.first(), self.last(), self.reach.lap);
        let inside = |at: &Length| *at > first && *at + lap < last;
        let mut places: Vec<Length> = offered.iter().copied().filter(inside).collect();
        places.extend(self.suffices.iter().filter_map(|from| earliest(&self.clear, *from, lap)));
        places.extend(self.farthest());
        places.extend(self.clear.iter().flat_map(|zone| [zone.start - lap, zone.end]));
        places.retain(|at| inside(at) && !hits(&self.clear, *at, lap));
        places.sort_unstable();
        places.dedup();
        places
    }

    /// Where strips begin when every panel goes as far as it can, from the beginning of each stretch of ink.
    fn farthest(&self) -> Vec<Length> {
        let Reach { live, lap } = self.reach;
        let mut places = Vec::new();
        for run in &self.ink {
            let mut at = run.start;
            while at + live < run.end {
                let Some(strip) = latest(&self.clear, at + live - lap, lap).filter(|strip| *strip > at)
                else {
                    break;
                };
                places.push(strip);
                at = strip;
            }
        }
        places
    }

    /// The best way with `count` panels, strips at `places` only.
    pub(crate) fn cut(&self, count: u32, places: &[Length]) -> Option<Cut> {
        self.solve(count, places, NARROW).or_else(|| self.solve(count, places, Length::ZERO))
    }

    fn solve(&self, count: u32, places: &[Length], visible: Length) -> Option<Cut> {
        let begin = State { start: Start::Alone(Length::ZERO, self.first()), cost: Cost::default(), from: 0 };
        let mut layers = vec![vec![begin]];
        for used in 1..count {
            let before = layers.last()?;
            let from = self.suffices(count - used);
            let mut layer =
                self.laps(before, &places[places.partition_point(|at| *at < from)..], (used, count), visible);
            layer.extend(self.alone(before, from));
            layer.sort_by_key(|state| state.start.at());
            layers.push(layer);
        }
        let done = |state: &State| match state.start {
            Start::Lap(at) => self.last() >= at + self.apart(visible) && self.last() <= at + self.reach.live,
            Start::Alone(_, at) => self.last() <= at + self.reach.live,
        };
        let (mut at, best) = layers
            .last()?
            .iter()
            .enumerate()
            .filter(|(_, state)| done(state))
            .min_by_key(|(_, state)| state.cost)?;
        let cost = best.cost;
        let mut starts = Vec::new();
        for layer in layers.iter().rev() {
            let state = layer.get(at)?;
            starts.push(state.start);
            at = state.from;
        }
        starts.reverse();
        Some(Cut { starts, end: self.last(), cost })
    }

    /// The best ways of beginning the panel after `used` of `count` with a lap.
    fn laps(
        &self,
        before: &[State],
        places: &[Length],
        (used, count): (u32, u32),
        visible: Length,
    ) -> Vec<State> {
        let Reach { live, lap } = self.reach;
        let Some(farthest) = before.last().map(|state| state.start.at() + live - lap) else {
            return Vec::new();
        };
        let places = &places[..places.partition_point(|at| *at <= farthest)];
        let even = self.first() + (self.last() - self.first() - lap) * i64::from(used) / i64::from(count);
        let windows = places.iter().map(|at| *at + lap - live..*at - self.apart(visible));
        places
            .iter()
            .zip(least_in(before, windows))
            .filter_map(|(at, from)| {
                let from = from?;
                let strip = Rect::from_edges(
                    *at,
                    self.height.start,
                    *at + lap.max(Length::from_um(1)),
                    self.height.end,
                );
                let crossed = self.ground.cost(&strip);
                let uneven = u64::try_from((*at - even).um().abs()).unwrap_or(u64::MAX);
                let cost = before.get(from)?.cost.plus(Cost { gaps: 0, crossed, uneven });
                Some(State { start: Start::Lap(*at), cost, from })
            })
            .collect()
    }

    /// The best ways of beginning a panel by itself, at `from` or later.
    fn alone(&self, before: &[State], from: Length) -> Vec<State> {
        let gaps: Vec<Range<Length>> = self.gaps().filter(|gap| gap.end >= from).collect();
        let windows = gaps.iter().map(|gap| gap.start - self.reach.live..gap.start - Length::from_um(1));
        gaps.iter()
            .zip(least_in(before, windows))
            .filter_map(|(gap, from)| {
                let from = from?;
                let cost = before.get(from)?.cost.plus(Cost { gaps: 1, ..Cost::default() });
                Some(State { start: Start::Alone(gap.start, gap.end), cost, from })
            })
            .collect()
    }
}

/// A panel's beginning and the best way to it.
#[derive(Debug, Clone, Copy)]
struct State {
    start: Start,
    cost: Cost,
    /// Which state of the layer before it comes from.
    from: usize,
}

/// For each window of places, bounds included, both rising from window to window, the cheapest state that begins in it.
fn least_in(states: &[State], windows: impl Iterator<Item = Range<Length>>) -> Vec<Option<usize>> {
    let mut next = 0;
    // Places in the window, rising, and costs rising with them: the first is the cheapest.
    let mut best: VecDeque<(usize, Cost)> = VecDeque::new();
    let at = |index: usize| states.get(index).map(|state| state.start.at());
    windows
        .map(|window| {
            while let Some(state) = states.get(next).filter(|state| state.start.at() <= window.end) {
                while best.back().is_some_and(|(_, cost)| *cost > state.cost) {
                    best.pop_back();
                }
                best.push_back((next, state.cost));
                next += 1;
            }
            while best.front().is_some_and(|(index, _)| at(*index) < Some(window.start)) {
                best.pop_front();
            }
            best.front().map(|(index, _)| *index)
        })
        .collect()
}

/// Whether a strip of one lap from `at` touches a stretch to be kept clear.
pub(crate) fn hits(clear: &[Range<Length>], at: Length, lap: Length) -> bool {
    clear.iter().any(|zone| at < zone.end && zone.start < at + lap)
}

/// The last place not after `at` where a strip of one lap is clear.
fn latest(clear: &[Range<Length>], at: Length, lap: Length) -> Option<Length> {
    let mut at = at;
    for _ in 0..=clear.len() {
        match clear.iter().find(|zone| at < zone.end && zone.start < at + lap) {
            Some(zone) => at = zone.start - lap,
            None => return Some(at),
        }
    }
    None
}

/// The first place not before `at` where a strip of one lap is clear.
fn earliest(clear: &[Range<Length>], at: Length, lap: Length) -> Option<Length> {
    let mut at = at;
    for _ in 0..=clear.len() {
        match clear.iter().find(|zone| at < zone.end && zone.start < at + lap) {
            Some(zone) => at = zone.end,
            None => return Some(at),
        }
    }
    None
}
