//! Random cases, the same in every run.

use std::sync::OnceLock;

use seamwright_contract::layout::{LayUp, TrimOrder};
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Sides, Size};

use super::case::{Case, Row};
use crate::Dropped;

/// A small generator of even numbers (xorshift, 64 bits; from memory).
#[derive(Debug)]
pub(crate) struct Dice(u64);

impl Dice {
    fn roll(&mut self, low: i64, high: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let span = u64::try_from(high - low + 1).unwrap();
        low + i64::try_from(self.0 % span).unwrap()
    }

    /// Of whole pairs of micrometres, so that slack can be halved without rest and a lay-up reflected exactly.
    fn length(&mut self, low_mm: i64, high_mm: i64) -> Length {
        Length::from_um(2) * self.roll(low_mm * 500, high_mm * 500)
    }

    /// True so many times in a hundred.
    fn chance(&mut self, percent: i64) -> bool {
        self.roll(1, 100) <= percent
    }

    /// An even grid in the usual stacking.
    fn even(&mut self) -> Case {
        let lap = self.length(0, 14);
        Case {
            size: Size::new(self.length(60, 1_300), self.length(60, 900)),
            rows: Vec::new(),
            page: Size::new(self.length(150, 500), self.length(150, 500)),
            margins: Sides {
                left: self.length(0, 15),
                top: self.length(0, 15),
                right: self.length(0, 15),
                bottom: self.length(0, 15),
            },
            lap,
            cut_at: Length::from_um(2) * self.roll(0, lap.um() / 2),
            order: if self.roll(0, 1) == 0 { TrimOrder::PanelsFirst } else { TrimOrder::RowsFirst },
            mirrored: self.roll(0, 1) == 0,
            units: if self.roll(0, 1) == 0 { Units::Metric } else { Units::Inch },
            centred: self.roll(0, 1) == 0,
        }
    }

    /// Rows of any width, with seams of their own, holes and bare bands between them, stacked at random.
    fn stepped(&mut self) -> Case {
        let case = self.even();
        let most = |live: Length| live - case.lap * 2;
        let most = Size::new(most(case.live().width), most(case.live().height));
        let mut rows: Vec<Row> = Vec::new();
        for _ in 0..self.roll(1, 4) {
            let row = self.row(rows.last(), most);
            rows.push(row);
        }
        let right = rows.iter().flat_map(|row| &row.cells).map(|cell| cell[1]).max().unwrap();
        let bottom = rows.last().unwrap().bottom;
        let size = Size::new(right + self.length(0, 60), bottom + self.length(0, 60));
        Case { size, rows, ..case }
    }

    /// A row below another, of cells up to a size.
    fn row(&mut self, above: Option<&Row>, most: Size) -> Row {
        let least = Length::from_mm(20);
        let apart = if above.is_none() || self.chance(15) { self.length(1, 120) } else { Length::ZERO };
        let top = above.map_or(Length::ZERO, |above| above.bottom) + apart;
        let height = if self.chance(40) { most.height } else { self.length(20, most.height.um() / 1000) };
        let mut cells = match above {
            Some(above) if self.chance(20) => above.cells.clone(),
            _ => self.cells(above, most.width),
        };
        let right = above.and_then(|above| above.cells.last()).map(|cell| cell[1]);
        if let (Some(right), Some(last)) = (right, cells.last_mut())
            && (least..=most.width).contains(&(right - last[0]))
            && self.chance(70)
        {
            last[1] = right;
        }
        if cells.len() > 2 && self.chance(20) {
            cells.remove(1);
        }
        Row {
            top,
            bottom: top + height,
            right_on_top: (1..cells.len()).map(|_| self.chance(40)).collect(),
            on_top: self.chance(40),
            cells,
        }
    }

    fn cells(&mut self, above: Option<&Row>, most: Length) -> Vec<[Length; 2]> {
        let flush = above.filter(|_| self.chance(45)).map(|above| above.cells[0][0]);
        let mut at = flush.unwrap_or_else(|| self.length(0, 300));
        let mut cells = Vec::new();
        for _ in 0..self.roll(1, 4) {
            let width = if self.chance(25) { most } else { self.length(20, most.um() / 1000) };
            cells.push([at, at + width]);
            at += width + if self.chance(12) { self.length(1, 80) } else { Length::ZERO };
        }
        cells
    }
}

/// A case, and what came of it.
pub(crate) type Drawn = (Case, LayUp, Dropped);

fn drawn(seed: u64, count: usize, draw: fn(&mut Dice) -> Case) -> Vec<Drawn> {
    let mut dice = Dice(seed);
    (0..count)
        .map(|_| {
            let case = draw(&mut dice);
            let (lay_up, dropped) =
                case.drawn("tide-calendar-for-the-reading-room-of-the-observatory-3f9a21");
            (case, lay_up, dropped)
        })
        .collect()
}

/// Even grids, drawn once for all tests.
pub(crate) fn even_cases() -> &'static [Drawn] {
    static CASES: OnceLock<Vec<Drawn>> = OnceLock::new();
    CASES.get_or_init(|| drawn(0x5EA3_0001, 400, Dice::even))
}

/// Lay-ups with steps and mixed stacking, drawn once for all tests.
pub(crate) fn stepped_cases() -> &'static [Drawn] {
    static CASES: OnceLock<Vec<Drawn>> = OnceLock::new();
    CASES.get_or_init(|| drawn(0x5EA3_0002, 400, Dice::stepped))
}

/// Both.
pub(crate) fn all_cases() -> impl Iterator<Item = &'static Drawn> {
    even_cases().iter().chain(stepped_cases())
}
