//! A picture scaled onto the design-wide grid, computed where it is asked for.
//!
//! Lanczos with three lobes on the encoded values, each pixel weighed from its exact place (`taps`) and worked in vectors
//! (`work`). Where the artwork's pixels are the grid's, they are passed on.

use std::cell::RefCell;
use std::sync::{Arc, OnceLock};

use seamwright_contract::layout::Design;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::survey::{Survey, Wish};
use seamwright_contract::{Face, Fault, Rect, num};

use crate::axis::{Axis, length};
use crate::rows::{lay, pick};
use crate::survey;
use crate::taps::Taps;
use crate::work::{LANES, Task, Work};

thread_local! {
    /// Each thread's buffers. Taken, never borrowed: the source may itself be a scaled picture on this thread.
    static WORK: RefCell<Work> = RefCell::new(Work::default());
}

/// A picture scaled onto the design-wide grid.
#[derive(Debug)]
pub(crate) struct Scaled {
    source: Arc<dyn Picture>,
    size: Pixels,
    across: Axis,
    down: Axis,
    /// The weights across and down, once pixels are asked for.
    taps: OnceLock<[Taps; 2]>,
}

impl Scaled {
    /// `whole` is where all of the source lies on the face; it may reach beyond the design.
    pub(crate) fn new(source: Arc<dyn Picture>, design: &Design, whole: &Rect<Face>) -> Self {
        let (size, from, pitch) = (design.grid(), source.size(), design.sheet_ppi.pitch_um());
        let across = Axis::new(size.width, design.size.width, whole.x, whole.width, pitch, from.width);
        let down = Axis::new(size.height, design.size.height, whole.y, whole.height, pitch, from.height);
        Self { source, size, across, down, taps: OnceLock::new() }
    }

    /// The source's own pixels, laid over the window.
    fn copy(&self, window: Window, shift: (i64, i64), work: &mut Work, out: &mut Band) -> Result<(), Fault> {
        let across = self.across.shared(window.x, window.width);
        let down = self.down.shared(window.y, window.height);
        let (columns, rows) = (self.across.shifted(&across, shift.0), self.down.shifted(&down, shift.1));
        let part = Window::new(columns.start, rows.start, length(&columns), length(&rows));
        if part.size() == window.size() {
            return self.source.fill(part, out);
        }
        out.reset(window.size(), self.format());
        if part.size().count() > 0 {
            self.source.fill(part, &mut work.source)?;
            lay(&work.source, out, across.start - window.x, down.start - window.y);
        }
        Ok(())
    }

    /// The source scaled, laid over the window.
    fn scale(&self, window: Window, work: &mut Work, out: &mut Band) -> Result<(), Fault> {
        let across = self.across.shared(window.x, window.width);
        let down = self.down.shared(window.y, window.height);
        if Pixels::new(length(&across), length(&down)) == window.size() {
            out.reshape(window.size(), self.format());
        } else {
            out.reset(window.size(), self.format());
        }
        if across.is_empty() || down.is_empty() {
            return Ok(());
        }
        let at = (across.start - window.x, down.start - window.y);
        let [columns, rows] = self.taps.get_or_init(|| {
            let across = Taps::new(&self.across).spread::<LANES>(self.format().channels.count());
            [across, Taps::new(&self.down)]
        });
        let task = Task { across: columns.part(&across), down: rows.part(&down), at };
        work.scale(self.source.as_ref(), &task, out)
    }
}

impl Picture for Scaled {
    fn size(&self) -> Pixels {
        self.size
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size)?;
        let mut work = WORK.take();
        let done = match (self.across.shift(), self.down.shift()) {
            (Some(x), Some(y)) => self.copy(want, (x, y), &mut work, out),
            _ => self.scale(want, &mut work, out),
        };
        WORK.set(work);
        done
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let size = Pixels::new(size.width.clamp(1, self.size.width), size.height.clamp(1, self.size.height));
        let wide = f64::from(self.size.width) / f64::from(size.width);
        let high = f64::from(self.size.height) / f64::from(size.height);
        let ask = |axis: &Axis, per: f64| {
            num::pixels(f64::from(axis.source) / (axis.scale * per)).clamp(1, axis.source)
        };
        let asked = Pixels::new(ask(&self.across, wide), ask(&self.down, high));
        let small = self.source.reduced(asked)?;
        let columns = self.across.nearest(size.width, wide, small.size().width);
        let rows = self.down.nearest(size.height, high, small.size().height);
        let mut out = Band::bare(size, self.format());
        pick(&small, &columns, &rows, &mut out);
        Ok(out)
    }

    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        survey::on_grid(self.source.as_ref(), [&self.across, &self.down], self.size, wish)
    }

    fn recipe(&self, of: Window) -> Option<String> {
        let all = self.source.recipe(Window::whole(self.source.size()))?;
        Some(format!("{of:?} of {:?} scaled {:?} {:?} from {all}", self.size, self.across, self.down))
    }
}
