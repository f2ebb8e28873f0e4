//! The plan against brute force: every way of cutting small designs is tried, by rules written a second time.
//!
//! Cells are 10 mm, sheets and laps whole cells, so that all places there are lie on the borders of cells.

use std::collections::BTreeMap;

use seamwright_contract::catalogue::Shape;
use seamwright_contract::ink::InkMap;
use seamwright_contract::{Face, Length, Rect, Size};

use super::fixture::{Art, OnSheets as _, numbers};
use crate::ground::Ground;
use crate::rows::{Bands, Places};

const CELL: i64 = 10;

/// A design in cells, and the sheet.
struct Case {
    map: InkMap,
    columns: i64,
    rows: i64,
    live: (i64, i64),
    lap: i64,
    clear: Vec<[i64; 4]>,
}

/// Gaps, then cost.
type Worth = (u32, u64);

impl Case {
    fn random(number: &mut impl FnMut(i64, i64) -> i64) -> (Self, Ground) {
        let (columns, rows) = (number(3, 9), number(2, 7));
        let holes = number(0, 9);
        let dark: Vec<u8> = (0..columns * rows)
            .map(|_| if number(0, 9) < holes { 0 } else { u8::try_from(number(1, 255)).unwrap() })
            .collect();
        let at = |x: f64, y: f64| {
            let (x, y) = (super::fixture::whole(x / 10.0), super::fixture::whole(y / 10.0));
            dark[usize::try_from(y * columns + x).unwrap()]
        };
        let size = Size::new(Length::from_mm(columns * CELL), Length::from_mm(rows * CELL));
        let art = Art { size, shape: Shape::Rectangle, cell: 10.0, dark: &at };
        let lap = number(0, 1);
        let clear: Vec<[i64; 4]> = (0..number(-3, 2))
            .map(|_| {
                let (x, y) = (number(0, columns - 1), number(0, rows - 1));
                [x, y, (x + number(1, 2)).min(columns), (y + number(1, 2)).min(rows)]
            })
            .collect();
        let zones: Vec<Rect<Face>> = clear
            .iter()
            .map(|zone| {
                let [l, t, r, b] = zone.map(|cells| Length::from_mm(cells * CELL));
                Rect::from_edges(l, t, r, b)
            })
            .collect();
        let case = Self {
            map: art.map(),
            columns,
            rows,
            live: (number(2 * lap + 1, 6), number(2 * lap + 1, 6)),
            lap,
            clear,
        };
        let ground = Ground::new(&case.map, &art.outline(), &zones, art.way(false));
        ground.map_or_else(|| Self::random(number), |ground| (case, ground))
    }

    fn inked(&self, x: i64, y: i64) -> bool {
        self.map.row(usize::try_from(y).unwrap())[usize::try_from(x).unwrap()].inked
    }

    /// What a strip of cells costs; one that is no cell wide still touches those on its left.
    fn cost(&self, [left, top, right, bottom]: [i64; 4]) -> u64 {
        let (right, bottom) = (right.max(left + 1), bottom.max(top + 1));
        let mut cost = 0;
        for y in top..bottom {
            for x in left..right {
                let cell = self.map.row(usize::try_from(y).unwrap())[usize::try_from(x).unwrap()];
                cost += u64::from(cell.coverage) + u64::from(cell.detail);
            }
        }
        cost
    }

    /// Whether a strip from `at` may lie there, on the parts to be kept clear that meet the band.
    fn free(&self, at: i64, band: Option<(i64, i64)>) -> bool {
        self.clear.iter().all(|[l, t, r, b]| match band {
            Some((top, bottom)) => !(*t < bottom && top < *b) || at >= *r || at + self.lap <= *l,
            None => at >= *b || at + self.lap <= *t,
        })
    }

    /// For each number of panels, the best way to cut a band.
    fn band(&self, top: i64, bottom: i64) -> BTreeMap<u32, Worth> {
        let ink: Vec<bool> = (0..self.columns).map(|x| (top..bottom).any(|y| self.inked(x, y))).collect();
        let Some(first) = ink.iter().position(|inked| *inked) else { return BTreeMap::new() };
        let last = i64::try_from(ink.iter().rposition(|inked| *inked).unwrap()).unwrap() + 1;
        let first = i64::try_from(first).unwrap();
        let mut best = [BTreeMap::new(), BTreeMap::new()];
        // Panels no narrower than 25 mm where that is possible.
        for (narrow, found) in [3, 0].into_iter().zip(&mut best) {
            self.panels(&ink, (top, bottom), first, last, narrow, (1, (0, 0)), found);
        }
        let [wide, mut all] = best;
        all.extend(wide);
        // With one sheet more than the fewest in all, no band has more than one panel more than its fewest.
        let least = all.first_key_value().map_or(0, |(count, _)| *count);
        all.retain(|count, _| *count <= least + 1);
        all
    }

    /// All ways to go on from a panel that begins at `from`.
    #[expect(clippy::too_many_arguments, reason = "a recursion that shows all it knows")]
    fn panels(
        &self,
        ink: &[bool],
        band: (i64, i64),
        from: i64,
        last: i64,
        narrow: i64,
        (count, worth): (u32, Worth),
        found: &mut BTreeMap<u32, Worth>,
    ) {
        let apart = self.lap.max(narrow).max(1);
        if last <= from + self.live.0 {
            let entry = found.entry(count).or_insert(worth);
            *entry = worth.min(*entry);
        }
        for strip in from + 1..last {
            let short = strip - from < apart || last - strip < apart || strip + self.lap >= last;
            if short || strip + self.lap > from + self.live.0 || !self.free(strip, Some(band)) {
                continue;
            }
            let cost = self.cost([strip, band.0, strip + self.lap, band.1]);
            self.panels(ink, band, strip, last, narrow, (count + 1, (worth.0, worth.1 + cost)), found);
        }
        for end in from + 1..last {
            let is = |x: i64| ink[usize::try_from(x).unwrap()];
            if end > from + self.live.0 || !is(end - 1) || is(end) {
                continue;
            }
            let next = (end..last).find(|x| is(*x)).expect("the ink goes on");
            self.panels(ink, band, next, last, narrow, (count + 1, (worth.0 + 1, worth.1)), found);
        }
    }

    /// For each number of sheets, the best way to cut all of it.
    fn all(&self) -> BTreeMap<u32, Worth> {
        let ink: Vec<bool> = (0..self.rows).map(|y| (0..self.columns).any(|x| self.inked(x, y))).collect();
        let first = i64::try_from(ink.iter().position(|inked| *inked).unwrap()).unwrap();
        let last = i64::try_from(ink.iter().rposition(|inked| *inked).unwrap()).unwrap() + 1;
        let mut found = BTreeMap::new();
        self.levels(&ink, first, last, (0, (0, 0)), &mut BTreeMap::new(), &mut found);
        found
    }

    fn levels(
        &self,
        ink: &[bool],
        from: i64,
        last: i64,
        (sheets, worth): (u32, Worth),
        bands: &mut BTreeMap<(i64, i64), BTreeMap<u32, Worth>>,
        found: &mut BTreeMap<u32, Worth>,
    ) {
        let mut step = |end: i64, next: Option<(i64, Worth)>| {
            if end > from + self.live.1 {
                return;
            }
            let band = bands.entry((from, end)).or_insert_with(|| self.band(from, end)).clone();
            for (count, (gaps, cost)) in band {
                let so_far = (sheets + count, (worth.0 + gaps, worth.1 + cost));
                match next {
                    None => {
                        let entry = found.entry(so_far.0).or_insert(so_far.1);
                        *entry = so_far.1.min(*entry);
                    }
                    Some((next, (gap, seam))) => {
                        let on = (so_far.0, (so_far.1.0 + gap, so_far.1.1 + seam));
                        self.levels(ink, next, last, on, bands, found);
                    }
                }
            }
        };
        step(last, None);
        let all = |y: i64| {
            let inked: Vec<i64> =
                (0..self.columns).filter(|x| (0..self.rows).any(|y| self.inked(*x, y))).collect();
            self.cost([inked[0], y, inked[inked.len() - 1] + 1, y + self.lap])
        };
        for strip in from + self.lap.max(1)..last {
            if strip + self.lap < last && self.free(strip, None) {
                step(strip + self.lap, Some((strip, (0, all(strip)))));
            }
        }
        for end in from + 1..last {
            let is = |y: i64| ink[usize::try_from(y).unwrap()];
            if is(end - 1) && !is(end) {
                let next = (end..last).find(|y| is(*y)).expect("the ink goes on");
                step(end, Some((next, (1, 0))));
            }
        }
    }

    /// The fewest sheets of a grid of whole live areas, slid to any place, sheets without ink left out.
    fn best_grid(&self) -> usize {
        let (across, down) = (self.live.0 - self.lap, self.live.1 - self.lap);
        let tile = |x: i64, y: i64| {
            (y.max(0)..(y + self.live.1).min(self.rows))
                .any(|y| (x.max(0)..(x + self.live.0).min(self.columns)).any(|x| self.inked(x, y)))
        };
        let grid = |dx: i64, dy: i64| {
            (0..=self.rows / down + 1)
                .flat_map(|r| (0..=self.columns / across + 1).map(move |c| (c * across - dx, r * down - dy)))
                .filter(|(x, y)| tile(*x, *y))
                .count()
        };
        (0..across).flat_map(|dx| (0..down).map(move |dy| grid(dx, dy))).min().expect("a grid")
    }
}

#[test]
fn no_way_takes_fewer_sheets_and_none_of_as_few_crosses_less() {
    let mut number = numbers(2026);
    for case in 0..10_000 {
        let (design, ground) = Case::random(&mut number);
        let live = Size::new(Length::from_mm(design.live.0 * CELL), Length::from_mm(design.live.1 * CELL));
        let bands = Bands::new(&ground, live, Length::from_mm(design.lap * CELL), &Places::all_over(&ground));
        let all = design.all();
        let Some((sheets, worth)) = all.first_key_value() else {
            assert_eq!(bands.least(), None, "case {case}: there is no way");
            continue;
        };
        assert_eq!(bands.least(), Some(*sheets), "case {case}");
        let plan = bands.best(*sheets).expect("a plan");
        assert_eq!(plan.sheets(), usize::try_from(*sheets).unwrap(), "case {case}");
        assert_eq!((plan.cost.gaps, plan.cost.crossed), *worth, "case {case}: {sheets} sheets");
        if design.clear.is_empty() {
            assert!(plan.sheets() <= design.best_grid(), "case {case}: no grid takes fewer");
        }
        if case % 4 == 0 {
            let within = all.range(..=sheets + 1).map(|(_, worth)| *worth).min().expect("a way");
            let more = bands.best(sheets + 1).expect("a plan");
            assert_eq!((more.cost.gaps, more.cost.crossed), within, "case {case}: with one more");
        }
    }
}
