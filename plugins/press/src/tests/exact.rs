//! The plan against brute force: every way of pressing small designs is tried, by rules written a second time, from the
//! statement at the head of the crate.
//!
//! Cells are 10 mm, plates and overlaps whole cells. With the other axis left as it is, heat is linear in a plate's place
//! between two borders of cells, and so are the rules: no place between is better than both of them.

use std::collections::HashMap;

use seamwright_contract::catalogue::{Moves, Shape};
use seamwright_contract::{Length, Size};

use super::fixture::{Art, Pressed as _, numbers, press};
use crate::bands::Plan;
use crate::choice::Choice;

const CELL: i64 = 10;

/// Placements, then inked cells under them, those under two counted twice.
type Worth = (u32, i64);

/// A design in cells, and the plate as it lies, all as the bands lie: along x.
#[derive(Debug, Clone)]
struct Brute {
    ink: Vec<Vec<bool>>,
    width: i64,
    height: i64,
    overlap: i64,
}

impl Brute {
    fn columns(&self) -> i64 {
        i64::try_from(self.ink[0].len()).unwrap()
    }

    fn rows(&self) -> i64 {
        i64::try_from(self.ink.len()).unwrap()
    }

    fn inked(&self, x: i64, y: i64) -> bool {
        let cell = |at: i64| usize::try_from(at).unwrap_or(usize::MAX);
        self.ink.get(cell(y)).and_then(|row| row.get(cell(x))).copied().unwrap_or(false)
    }

    /// With x and y exchanged.
    fn exchanged(&self) -> Self {
        let column = |x: usize| self.ink.iter().map(|row| row[x]).collect();
        Self {
            ink: (0..self.ink[0].len()).map(column).collect(),
            width: self.height,
            height: self.width,
            overlap: self.overlap,
        }
    }

    /// Bare stretches that part what is inked: as wide as the overlap, and wider than 5 mm.
    fn parts(&self, inked: &[bool]) -> Vec<(i64, i64)> {
        let places: Vec<i64> = (0..).zip(inked).filter(|(_, inked)| **inked).map(|(at, _)| at).collect();
        let gap = |pair: &[i64]| (pair[0] + 1, pair[1]);
        places.windows(2).map(gap).filter(|(a, b)| b - a >= self.overlap.max(1)).collect()
    }

    fn heat(&self, x: i64, y: i64) -> i64 {
        let cells = (y..y + self.height).flat_map(|y| (x..x + self.width).map(move |x| (x, y)));
        i64::try_from(cells.filter(|(x, y)| self.inked(*x, *y)).count()).unwrap()
    }

    /// The best plates in a band from `top` that must heat what lies between two heights.
    fn band(&self, top: i64, must: (i64, i64)) -> Option<Worth> {
        let inked: Vec<bool> =
            (0..self.columns()).map(|x| (must.0..must.1).any(|y| self.inked(x, y))).collect();
        let first = (0..).zip(&inked).find(|(_, inked)| **inked).map(|(at, _)| at)?;
        let last = (1..).zip(&inked).filter(|(_, inked)| **inked).map(|(at, _)| at).last()?;
        let parts = self.parts(&inked);
        // For each place of a plate, the best of it and those after it.
        let mut best: HashMap<i64, Worth> = HashMap::new();
        for x in (first - self.width + 1..last).rev() {
            let (mut after, end) = (None, x + self.width);
            if end >= last {
                after = Some((0, 0));
            }
            for next in x + 1..last {
                let laps = next + self.overlap <= end;
                let parted = parts.iter().any(|(a, b)| *a <= end && next <= *b);
                if laps || parted {
                    after = after.into_iter().chain(best.get(&next).copied()).min();
                }
            }
            if let Some((count, heat)) = after {
                best.insert(x, (count + 1, heat + self.heat(x, top)));
            }
        }
        (first - self.width + 1..=first).filter_map(|x| best.get(&x).copied()).min()
    }

    /// The best bands of all.
    fn all(&self) -> Worth {
        let inked: Vec<bool> =
            (0..self.rows()).map(|y| (0..self.columns()).any(|x| self.inked(x, y))).collect();
        let first = (0..).zip(&inked).find(|(_, inked)| **inked).map(|(at, _)| at).expect("ink");
        let last = (1..).zip(&inked).filter(|(_, inked)| **inked).map(|(at, _)| at).last().expect("ink");
        let parts = self.parts(&inked);
        let mut known = HashMap::new();
        let tops = first - self.height + 1..=first;
        tops.filter_map(|top| self.from(top, first, last, &parts, &mut known))
            .min()
            .expect("it can be heated")
    }

    /// The best bands from one at `top` that must heat what begins at `from`.
    fn from(
        &self,
        top: i64,
        from: i64,
        last: i64,
        parts: &[(i64, i64)],
        known: &mut HashMap<(i64, i64), Option<Worth>>,
    ) -> Option<Worth> {
        if let Some(worth) = known.get(&(top, from)) {
            return *worth;
        }
        let end = top + self.height;
        let mut best = (end >= last).then(|| self.band(top, (from, last))).flatten();
        let mut take = |first: Option<Worth>, rest: Option<Worth>| {
            let both = first.zip(rest).map(|(one, two)| (one.0 + two.0, one.1 + two.1));
            best = best.into_iter().chain(both).min();
        };
        for next in top + 1..last {
            if next > from && next + self.overlap <= end && next + self.overlap < last {
                let rest = self.from(next, next, last, parts, known);
                take(self.band(top, (from, next + self.overlap)), rest);
            }
            for (a, b) in parts {
                if *a > from && *a <= end && next <= *b {
                    let rest = self.from(next, *b, last, parts, known);
                    take(self.band(top, (from, *a)), rest);
                }
            }
        }
        known.insert((top, from), best);
        best
    }

    /// How many placements of the least even grid heat any ink, and how much, in cells.
    fn even(&self) -> (u32, f64) {
        let inked: Vec<(i64, i64)> = (0..self.rows())
            .flat_map(|y| (0..self.columns()).map(move |x| (x, y)))
            .filter(|(x, y)| self.inked(*x, *y))
            .collect();
        let spread = |from: i64, to: i64, each: i64| -> Vec<f64> {
            let (length, each, overlap) = (to - from, f64::from(i32::try_from(each).unwrap()), self.overlap);
            let [length, from, overlap] =
                [length, from, overlap].map(|value| f64::from(i32::try_from(value).unwrap()));
            let count = if length <= each { 1.0 } else { ((length - overlap) / (each - overlap)).ceil() };
            let steps = (0..1000).map(f64::from).take_while(|i| *i < count);
            let of = |i: f64| if count < 2.0 { 0.5 } else { i / (count - 1.0) };
            steps.map(|i| from + (length - each) * of(i)).collect()
        };
        let ends = |of: &dyn Fn(&(i64, i64)) -> i64| {
            (inked.iter().map(of).min().unwrap(), inked.iter().map(of).max().unwrap() + 1)
        };
        let ((left, right), (top, bottom)) = (ends(&|at| at.0), ends(&|at| at.1));
        let (mut count, mut heat) = (0, 0.0);
        for y in spread(top, bottom, self.height) {
            for x in spread(left, right, self.width) {
                let share = |at: i64, from: f64, each: i64| {
                    let at = f64::from(i32::try_from(at).unwrap());
                    let each = f64::from(i32::try_from(each).unwrap());
                    ((at + 1.0).min(from + each) - at.max(from)).max(0.0)
                };
                let here: f64 =
                    inked.iter().map(|(cx, cy)| share(*cx, x, self.width) * share(*cy, y, self.height)).sum();
                count += u32::from(here > 1e-9);
                heat += here;
            }
        }
        (count, heat)
    }

    /// Whether a plan keeps the rules: band by band, each either overlapping the next or parted from it by bare levels.
    fn keeps(&self, plan: &Plan) -> bool {
        let um = |cells: i64| Length::from_mm(cells * CELL);
        let (height, overlap) = (um(self.height), um(self.overlap));
        let levels: Vec<bool> =
            (0..self.rows()).map(|y| (0..self.columns()).any(|x| self.inked(x, y))).collect();
        let parts = self.parts(&levels);
        // What each band must heat begins at one of these.
        let mut begin = vec![Length::from_mm(-1_000)];
        for (at, row) in plan.rows.iter().enumerate() {
            let mut begins = Vec::new();
            let Some(next) = plan.rows.get(at + 1) else {
                return begin.iter().any(|from| self.heats(&row.plates, (*from, um(self.rows()))));
            };
            let end = row.top + height;
            if next.top + overlap <= end
                && begin.iter().any(|from| self.heats(&row.plates, (*from, next.top + overlap)))
            {
                begins.push(next.top);
            }
            for (a, b) in parts.iter().filter(|(a, b)| um(*a) <= end && next.top <= um(*b)) {
                if begin.iter().any(|from| self.heats(&row.plates, (*from, um(*a)))) {
                    begins.push(um(*b));
                }
            }
            begin = begins;
        }
        false
    }

    /// Whether plates heat all ink between two heights, each overlapping the next or parted from it by bare design.
    fn heats(&self, plates: &[Length], must: (Length, Length)) -> bool {
        let um = |cells: i64| Length::from_mm(cells * CELL);
        let width = um(self.width);
        let within = |y: &i64| um(*y) < must.1 && must.0 < um(*y + 1);
        let inked: Vec<bool> =
            (0..self.columns()).map(|x| (0..self.rows()).filter(within).any(|y| self.inked(x, y))).collect();
        let all = (0..).zip(&inked).filter(|(_, inked)| **inked).all(|(x, _)| {
            // A column of cells may be heated by two plates that meet in it.
            let mut to = um(x);
            for at in plates {
                to = if *at <= to { to.max(*at + width) } else { to };
            }
            to >= um(x + 1)
        });
        let parts = self.parts(&inked);
        let next = |pair: &[Length]| {
            let laps = pair[1] + um(self.overlap) <= pair[0] + width;
            laps || parts.iter().any(|(a, b)| um(*a) <= pair[0] + width && pair[1] <= um(*b))
        };
        all && plates.windows(2).all(next)
    }
}

/// A random small design under a random plate.
struct Case {
    dark: Vec<Vec<u8>>,
    plate: (i64, i64),
    overlap: i64,
    weak: i64,
    turns: bool,
}

impl Case {
    fn random(number: &mut impl FnMut(i64, i64) -> i64) -> Self {
        let (columns, rows, bare) = (number(1, 10), number(1, 8), number(0, 9));
        let overlap = number(0, 2);
        let mut dark: Vec<Vec<u8>> = (0..rows)
            .map(|_| {
                let cell = |_| if number(0, 9) < bare { 0 } else { u8::try_from(number(1, 255)).unwrap() };
                (0..columns).map(cell).collect()
            })
            .collect();
        dark[0][0] = dark[0][0].max(1);
        let plate = (number(overlap + 1, 6), number(overlap + 1, 6));
        Self { dark, plate, overlap, weak: number(0, 15), turns: number(0, 1) == 1 }
    }

    fn choice(&self) -> Choice {
        let side = |count: usize| Length::from_mm(i64::try_from(count).unwrap() * CELL);
        let size = Size::new(side(self.dark[0].len()), side(self.dark.len()));
        let cell = |mm: f64| usize::try_from(seamwright_contract::num::round((mm / 10.0).floor())).unwrap();
        let dark = |x: f64, y: f64| self.dark[cell(y)][cell(x)];
        let art = Art { size, shape: Shape::Rectangle, cell: 10.0, dark: &dark };
        let mm = |cells: i64| Length::from_mm(cells * CELL);
        let weak = Length::from_mm(self.weak);
        let platen = Size::new(mm(self.plate.0), mm(self.plate.1)).grown(weak);
        let mut press = press(platen, weak, mm(self.overlap));
        press.turns = self.turns;
        press.moves = Moves::Plate;
        art.choice(press, &[]).unwrap_or_else(|why| panic!("{why}"))
    }

    /// By turned and by bands down.
    fn brute(&self, turned: bool, down: bool) -> Brute {
        let ink = self.dark.iter().map(|row| row.iter().map(|dark| *dark > 0).collect()).collect();
        let (width, height) = if turned { (self.plate.1, self.plate.0) } else { self.plate };
        let brute = Brute { ink, width, height, overlap: self.overlap };
        if down { brute.exchanged() } else { brute }
    }
}

#[test]
fn no_way_of_pressing_small_designs_is_better() {
    let mut number = numbers(20);
    let (mut saved, mut cooler, mut exact) = (0, 0, 0);
    for round in 0..5_000 {
        let case = Case::random(&mut number);
        let choice = case.choice();
        let said = || {
            format!("{round}: {:?}, {:?}, {:?} over {:?}", case.dark, choice.plan, case.plate, case.overlap)
        };
        let ways: Vec<Brute> = [(false, false), (false, true), (true, false), (true, true)]
            .into_iter()
            .filter(|(turned, _)| case.turns || !turned)
            .map(|(turned, down)| case.brute(turned, down))
            .collect();
        let (count, heat) = ways.iter().map(Brute::all).min().unwrap();
        let square = u64::try_from(CELL * CELL).unwrap() * 1_000_000;
        assert_eq!(choice.plan.count(), usize::try_from(count).unwrap(), "{}", said());
        let (real, least) = (choice.plan.cost.heat, u64::try_from(heat).unwrap() * square);
        let repeated = least - choice.ground.all_ink();
        assert!(real >= least && real <= least + repeated / 100, "{real} of {least}: {}", said());
        exact += u32::from(real == least);
        let brute = case.brute(choice.way.turned, choice.way.down);
        assert!(brute.keeps(&choice.plan), "{}", said());
        // For the edges a hundredth more may be repeated; never more than spread evenly.
        let real = crate::mm2(real);
        let even =
            ways.iter().map(Brute::even).min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))).unwrap();
        if even.0 == count {
            assert!(real <= even.1 * 100.0 + 1e-3, "{real} mm2, evenly {}: {}", even.1 * 100.0, said());
            cooler += u32::from(real < even.1 * 100.0 - 1.0);
        } else {
            saved += even.0 - count;
        }
    }
    assert!(exact > 4_000, "{exact} plans without heat given for edges");
    assert!(saved > 1_000 && cooler > 1_000, "{saved} placements saved, {cooler} plans cooler than evenly");
}
