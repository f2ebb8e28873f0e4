//! One band: where along it the plate is set.
//!
//! The band's ink lies in stretches. From the left, each plate is set as far on as it may be and still leave no ink
//! behind; from the right, as far back. Both ways take the same number, the least, and no way with that number sets its
//! n-th plate beyond the n-th of the first or before the n-th of the second. Between the two lie the places tried; what
//! is best from a place on does not depend on how it was reached, so the best way is found plate by plate, exactly.

use std::ops::Range;

use seamwright_contract::{Length, Rect, Size};

use crate::ground::{Frame, Ground};

/// The plate as it lies in a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Plate {
    /// What heats well.
    pub(crate) effective: Size,
    /// What lies round it.
    pub(crate) weak: Length,
    /// By how much neighbours overlap at least.
    pub(crate) overlap: Length,
}

impl Plate {
    /// How far on the next plate is set at most; above zero.
    pub(crate) fn pitch(&self, side: Length) -> Length {
        side - self.overlap
    }

    /// Bare design of this width parts neighbours, so that they need not overlap.
    pub(crate) fn apart(&self) -> Length {
        self.overlap.max(Length::from_mm(5))
    }

    /// What heats well of a plate whose effective corner lies there.
    pub(crate) fn heated(&self, x: Length, y: Length) -> Rect<Frame> {
        Rect::new(x, y, self.effective.width, self.effective.height)
    }

    /// All of it.
    pub(crate) fn platen(&self, x: Length, y: Length) -> Rect<Frame> {
        let whole = self.effective.grown(self.weak);
        Rect::new(x - self.weak, y - self.weak, whole.width, whole.height)
    }
}

/// What a plan costs: heat first, then edges, then how far it is from even ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(crate) struct Cost {
    /// The ink that all plates heat, in square micrometres, ink heated twice counted twice; edges with it where they weigh.
    pub(crate) heat: u64,
    /// What the edges of all plates cost.
    pub(crate) edges: u64,
    /// How far plates are from where the surplus would hang over both ends alike.
    pub(crate) off: u64,
}

impl Cost {
    pub(crate) fn plus(self, other: Self) -> Self {
        Self {
            heat: self.heat.saturating_add(other.heat),
            edges: self.edges.saturating_add(other.edges),
            off: self.off.saturating_add(other.off),
        }
    }
}

/// How far apart the places are that are tried, and whether edges weigh as heat does.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Care {
    pub(crate) steps: i64,
    pub(crate) edges_weigh: bool,
}

/// A way of covering a band.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Cut {
    /// Where the effective plates begin, from the left.
    pub(crate) plates: Vec<Length>,
    pub(crate) cost: Cost,
}

/// A band to be covered.
#[derive(Debug)]
pub(crate) struct Band<'g> {
    pub(crate) ground: &'g Ground,
    pub(crate) plate: Plate,
    /// Where the effective plates begin, downwards.
    pub(crate) top: Length,
    /// What is inked, from the left; not empty.
    pub(crate) runs: Vec<Range<Length>>,
}

impl Band<'_> {
    fn gaps(&self) -> impl DoubleEndedIterator<Item = Range<Length>> {
        self.runs.windows(2).filter_map(|pair| match pair {
            [one, next] => Some(one.end..next.start),
            _ => None,
        })
    }

    /// Each plate as far on as it may be.
    pub(crate) fn latest(&self) -> Vec<Length> {
        let (Some(first), Some(last)) = (self.runs.first(), self.runs.last()) else { return Vec::new() };
        let width = self.plate.effective.width;
        let (mut at, mut plates) = (first.start, vec![first.start]);
        while at + width < last.end {
            let lapped = at + self.plate.pitch(width);
            // Plates may also part at bare design, where the one before reaches it.
            let alone = self.gaps().rfind(|gap| gap.start <= at + width).map_or(lapped, |gap| gap.end);
            at = lapped.max(alone);
            plates.push(at);
        }
        plates
    }

    /// Each plate as far back as it may be.
    fn earliest(&self) -> Vec<Length> {
        let (Some(first), Some(last)) = (self.runs.first(), self.runs.last()) else { return Vec::new() };
        let width = self.plate.effective.width;
        let mut at = last.end - width;
        let mut plates = vec![at];
        while at > first.start {
            let lapped = at - self.plate.pitch(width);
            let alone = self.gaps().find(|gap| gap.end >= at).map_or(lapped, |gap| gap.start - width);
            at = lapped.min(alone);
            plates.push(at);
        }
        plates.reverse();
        plates
    }

    /// The last place from which a plate before may begin if the next begins at `at`.
    fn least_before(&self, at: Length) -> Length {
        let width = self.plate.effective.width;
        let lapped = at - self.plate.pitch(width);
        self.gaps().find(|gap| gap.end >= at).map_or(lapped, |gap| lapped.min(gap.start - width))
    }

    /// Places to try for each plate, rising: from its last place back in even steps, the first, the middle, and where it
    /// would be if plates were spread evenly over all ink.
    fn places(&self, steps: i64) -> Vec<Vec<Length>> {
        let step = step(self.plate.pitch(self.plate.effective.width), steps);
        let even = spread(
            self.ground.extent().x,
            self.ground.extent().right(),
            &self.plate,
            self.plate.effective.width,
        );
        let of = |(first, last): (Length, Length)| {
            let count = (last - first).um() / step.um();
            let mut places: Vec<Length> = (0..=count).map(|i| last - step * i).collect();
            places.extend([first, first + (last - first).half()]);
            places.extend(even.iter().copied().filter(|at| (first..=last).contains(at)));
            places.sort_unstable();
            places.dedup();
            places
        };
        self.earliest().into_iter().zip(self.latest()).map(of).collect()
    }

    /// The best way of covering it with the least plates.
    pub(crate) fn cut(&self, care: Care) -> Option<Cut> {
        let mut layers: Vec<Vec<State>> = Vec::new();
        for places in self.places(care.steps) {
            let middle = *places.first()? + (*places.last()? - *places.first()?).half();
            let before = layers.last();
            let best = before.map(|layer| best_from(layer));
            let reach = |at: Length| match (before, &best) {
                (Some(before), Some(best)) => {
                    let from = before.partition_point(|state| state.at < self.least_before(at));
                    let from = *best.get(from)?;
                    Some((Some(from), before.get(from)?.cost))
                }
                _ => Some((None, Cost::default())),
            };
            let layer = places.iter().filter_map(|at| {
                let (from, cost) = reach(*at)?;
                let off = u64::try_from((*at - middle).um().abs()).unwrap_or(u64::MAX);
                Some(State { at: *at, cost: cost.plus(Cost { off, ..self.weigh(*at, care) }), from })
            });
            let layer: Vec<State> = layer.collect();
            layers.push(layer);
        }
        let last = layers.last()?.iter().min_by_key(|state| state.cost)?;
        let (cost, mut plates, mut here) = (last.cost, vec![last.at], last.from);
        for layer in layers.iter().rev().skip(1) {
            let state = layer.get(here?)?;
            plates.push(state.at);
            here = state.from;
        }
        plates.reverse();
        Some(Cut { plates, cost })
    }

    fn weigh(&self, at: Length, care: Care) -> Cost {
        let edges = self.ground.edges(&self.plate.platen(at, self.top));
        let heat = self.ground.ink(&self.plate.heated(at, self.top));
        Cost { heat: heat + if care.edges_weigh { edges } else { 0 }, edges, off: 0 }
    }
}

/// A plate's place and the best way to it.
#[derive(Debug, Clone, Copy)]
struct State {
    at: Length,
    cost: Cost,
    /// Which state of the plate before it comes from.
    from: Option<usize>,
}

/// For each state, which of it and those after it is cheapest.
fn best_from(states: &[State]) -> Vec<usize> {
    let mut best: Vec<usize> = Vec::with_capacity(states.len());
    let mut cheapest = states.len().saturating_sub(1);
    let cost = |at: usize| states.get(at).map(|state| state.cost);
    for at in (0..states.len()).rev() {
        if cost(at) < cost(cheapest) {
            cheapest = at;
        }
        best.push(cheapest);
    }
    best.reverse();
    best
}

/// So many places to a pitch, whole millimetres from each other.
pub(crate) fn step(pitch: Length, steps: i64) -> Length {
    Length::from_mm((pitch.um() / 1_000 / steps.max(1)).max(1))
}

/// Where the least number of plates begin when they are spread evenly from end to end; one alone stands in the middle.
pub(crate) fn spread(from: Length, to: Length, plate: &Plate, side: Length) -> Vec<Length> {
    let rest = to - from - side;
    match seamwright_contract::geometry::pieces_to_cover(to - from, side, plate.overlap).map(i64::from) {
        Some(1) => vec![from + rest.half()],
        Some(count) => (0..count).map(|i| from + rest * i / (count - 1)).collect(),
        None => Vec::new(),
    }
}
