//! Designs without pixels, laid out on sheets.

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{LapPolicy, LayUp, TrimOrder};
pub(super) use seamwright_contract::sample::{Art, inches, length, numbers};
use seamwright_contract::scale::Scale;
use seamwright_contract::{Length, Sides, Size, num};

use crate::choice::Sheet;
use crate::ground::Ground;
use crate::lay::lay_up;
use crate::rows::{Bands, Places};
use crate::tape::spots;

pub(super) fn policy(lap: Length) -> LapPolicy {
    LapPolicy { lap, cut_at: lap.half(), order: TrimOrder::PanelsFirst }
}

/// A sheet whose live area is all of it.
pub(super) fn sheet(live: Size) -> Sheet {
    let paper = PaperSize { name: "test".to_owned(), size: live };
    Sheet::lying(&paper, Orientation::Portrait, Sides::all(Length::ZERO), Scale::default(), Length::ZERO)
}

/// Laid out on sheets.
pub(super) trait OnSheets {
    fn way(&self, mirrored: bool) -> Way;

    fn ground(&self, mirrored: bool) -> Option<Ground>;

    /// The best lay-up on a sheet.
    fn laid(&self, sheet: &Sheet, lap: &LapPolicy, mirrored: bool) -> Option<LayUp>;
}

impl OnSheets for Art<'_> {
    fn way(&self, mirrored: bool) -> Way {
        Way { mirrored, width: self.size.width }
    }

    fn ground(&self, mirrored: bool) -> Option<Ground> {
        Ground::new(&self.map(), &self.outline(), &[], self.way(mirrored))
    }

    fn laid(&self, sheet: &Sheet, lap: &LapPolicy, mirrored: bool) -> Option<LayUp> {
        let ground = self.ground(mirrored)?;
        let bands = Bands::new(&ground, sheet.live.size(), lap.lap, &Places::all_over(&ground));
        let plan = bands.best(bands.least()?)?;
        let mut lay_up = lay_up(sheet, &plan, &ground, lap, self.way(mirrored), self.size);
        lay_up.tape = spots(&lay_up, &ground, &self.outline(), self.way(mirrored));
        Some(lay_up)
    }
}

/// Rounded down.
pub(super) fn whole(value: f64) -> i64 {
    num::round(value.floor())
}

/// The rows of a table without its head.
pub(super) fn rows(table: &str) -> Vec<Vec<&str>> {
    table.lines().skip(1).map(|row| row.split(',').collect()).collect()
}
