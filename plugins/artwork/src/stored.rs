//! The opened picture: stored rows, turned upright on their way out.

use std::sync::Arc;

use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use crate::contract::recent::Recent;
use crate::contract::survey::{self, Survey, Wish};
use crate::contract::turn::Turn;
use crate::rows::{Rows, row_of};

/// An opened artwork's pixels.
#[derive(Debug)]
pub(crate) struct Stored {
    pub(crate) rows: Arc<Rows>,
    pub(crate) turn: Turn,
    pub(crate) name: String,
    /// Asked for by one writer and another, and by one job and another of the same artwork.
    surveyed: Recent<Wish, Survey, 2>,
    reduced: Recent<Pixels, Band, 3>,
}

impl Stored {
    pub(crate) fn new(rows: Arc<Rows>, turn: Turn, name: String) -> Self {
        Self { rows, turn, name, surveyed: Recent::default(), reduced: Recent::default() }
    }

    fn reduce(&self, size: Pixels) -> Result<Band, Fault> {
        let to = self.turn.size(size);
        let samples = self.rows.reduced(to)?;
        let mut band = Band::bare(size, self.rows.format);
        if self.turn.upright() {
            band.samples = samples;
            return Ok(band);
        }
        let n = self.rows.format.channels.count();
        let across = num::index(to.width) * n;
        match (&samples, &mut band.samples) {
            (Samples::Eight(rows), Samples::Eight(out)) => self.turn.put(to, n, row_of(rows, across), out),
            (Samples::Sixteen(rows), Samples::Sixteen(out)) => {
                self.turn.put(to, n, row_of(rows, across), out);
            }
            _ => return Err(Fault::defect("a band did not take the depth it was given")),
        }
        Ok(band)
    }
}

impl Picture for Stored {
    fn size(&self) -> Pixels {
        self.turn.size(self.rows.size)
    }

    fn format(&self) -> Format {
        self.rows.format
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size())?;
        out.reshape(want.size(), self.rows.format);
        self.rows.put(self.turn.stored(want, self.rows.size), self.turn, &mut out.samples)
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let own = self.size();
        if size.count() == 0 || size.width > own.width || size.height > own.height {
            return Err(Fault::defect(format!("{} of {own:?} cannot be reduced to {size:?}", self.name)));
        }
        self.reduced.get(&size, || self.reduce(size))
    }

    /// Rows that stand upright are looked at where they lie.
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        self.surveyed.get(wish, || {
            if self.turn.upright() { self.rows.survey(wish) } else { survey::by_filling(self, wish) }
        })
    }

    fn recipe(&self, of: Window) -> Option<String> {
        Some(format!("{of:?} of artwork {} {:?}", self.rows.number, self.turn))
    }
}
