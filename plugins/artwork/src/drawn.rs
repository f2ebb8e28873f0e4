//! Drawings: artwork without pixels of its own, drawn in the very pixels of the grid that is asked for.
//!
//! A drawing is drawn once, from the top to the bottom, in bands as high as its share of the memory allows, by a thread of
//! its own; its rows go where decoded rows go, in memory or into the scratch file, and are read while more of them come.
//! So neither the seams' laps nor the survey cost a second drawing. Until a stage says what grid it wants, a small view
//! stands for it.
//!
//! Where the edge of the drawing falls within a pixel of the grid, that pixel takes its neighbour's colour: mixed with
//! white it would print a faint line round the whole design.

use std::fmt;
use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use crate::contract::colour::Source;
use crate::contract::layout;
use crate::contract::picture::{Band, Format, Picture, Pixels, Place, Window};
use crate::contract::recent::Recent;
use crate::contract::survey::{Survey, Wish};
use crate::contract::turn::Turn;
use crate::contract::{Fault, Length, num};
use crate::sink::{Row, Sink};
use crate::stored::Stored;
use crate::{Limits, Opened, Whole, faults, patience};

/// The longer side of the small view, in pixels.
const VIEW: f64 = 1000.0;
/// Micrometres in a pixel of the small view, if that is not too large: those of CSS, 96 to the inch.
const VIEW_PITCH: f64 = 25_400.0 / 96.0;
/// The part of the memory that drawing may take, beside the rows that are drawn.
const SHARE: u64 = 4;

/// What can be drawn: a parsed SVG, a page of a PDF.
pub(crate) trait Draws: fmt::Debug + Send + Sync {
    /// How many rows of a window may be drawn at a time, of the edges given in pixels of the grid, in so much memory.
    fn rows(&self, window: Window, edges: [f64; 4], memory: u64) -> Result<u32, Fault>;

    /// Lends a pen for as long as `with` runs: what is drawn at once may remember what it has read.
    fn lend(&self, with: &mut dyn FnMut(&mut dyn Pen) -> Result<(), Fault>) -> Result<(), Fault>;
}

/// Draws window after window.
pub(crate) trait Pen {
    /// Puts into `out` the window's pixels, red, green, blue and opacity, a byte each, multiplied by opacity; all of the
    /// drawing has the edges given in pixels of the grid.
    fn draw(&mut self, window: Window, edges: [f64; 4], out: &mut Vec<u8>) -> Result<(), Fault>;
}

/// A file that is a drawing.
pub(crate) struct Sheet {
    pub(crate) draws: Arc<dyn Draws>,
    pub(crate) facts: layout::Drawing,
    pub(crate) notices: Vec<String>,
    /// Whether words in it were filled in.
    pub(crate) filled: bool,
}

impl Sheet {
    pub(crate) fn opened(self, name: &str, limits: &Limits) -> Opened {
        let Self { draws, facts, notices, filled } = self;
        let (name, limits) = (name.to_owned(), limits.clone());
        let drawing = Drawing { draws, facts, name, limits, view: OnceLock::new(), drawn: Recent::default() };
        Opened {
            picture: Arc::new(drawing),
            // SVG is sRGB by its standard, and pages are drawn in it.
            source: Source::Srgb { said: true },
            drawing: Some(facts),
            notices,
            filled,
            whole: Whole(None),
        }
    }
}

/// The drawing as a picture.
#[derive(Debug)]
struct Drawing {
    draws: Arc<dyn Draws>,
    facts: layout::Drawing,
    name: String,
    limits: Limits,
    view: OnceLock<Result<Arc<dyn Picture>, Fault>>,
    /// As it was drawn last; jobs of the same artwork have it drawn alike.
    drawn: Recent<Place, Arc<dyn Picture>, 1>,
}

impl Drawing {
    fn view(&self) -> Result<&dyn Picture, Fault> {
        let grid = self.size();
        let whole = [0.0, 0.0, f64::from(grid.width), f64::from(grid.height)];
        let view = self.view.get_or_init(|| self.on(&Place { grid, edges: whole }));
        view.as_deref().map_err(Clone::clone)
    }

    /// Begins to draw it on a grid.
    fn on(&self, place: &Place) -> Result<Arc<dyn Picture>, Fault> {
        let placed = |fault: Fault| fault.at(self.name.as_str());
        let (pixels, most) = (place.grid.count(), self.limits.pixels);
        if pixels > most {
            return Err(placed(too_many(place.grid, most)));
        }
        let memory = self.limits.memory / SHARE;
        let part = Part::of(place);
        let rows = self.draws.rows(part.inner, place.edges, memory).map_err(placed)?;
        let mut sink = Sink::streaming(place.grid, Format::RGB8, &self.limits.beside(memory))?;
        let stored = Arc::clone(&sink.rows);
        let (draws, edges, name) = (Arc::clone(&self.draws), place.edges, self.name.clone());
        patience::thread(move || {
            let work = || draws.lend(&mut |pen| part.draw(rows, edges, pen, &mut sink));
            let ended = catch_unwind(AssertUnwindSafe(work));
            let ended = ended.unwrap_or_else(|_| Err(faults::damaged("the drawing's parts make no sense")));
            sink.end(ended.map_err(|fault| fault.at(name)));
        })?;
        let (late, time) = (Arc::clone(&stored), self.limits.drawing);
        let fault = placed(too_long(time));
        patience::thread(move || late.progress.give_up_after(time, fault))?;
        let name = format!("{}, drawn", self.name);
        Ok(Arc::new(Stored::new(stored, Turn::UPRIGHT, name)))
    }
}

impl Picture for Drawing {
    fn size(&self) -> Pixels {
        let pixels = |length: Length| num::pixels(num::float(length.um()) / VIEW_PITCH).max(1);
        Pixels::new(pixels(self.facts.size.width), pixels(self.facts.size.height)).at_most(VIEW)
    }

    fn format(&self) -> Format {
        Format::RGB8
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        self.view()?.fill(want, out)
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        self.view()?.reduced(size)
    }

    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        self.view()?.survey(wish)
    }

    fn drawn(&self, place: &Place) -> Result<Option<Arc<dyn Picture>>, Fault> {
        self.drawn.get(place, || self.on(place)).map(Some)
    }
}

/// What of a grid is drawn.
#[derive(Debug, Clone)]
struct Part {
    grid: Pixels,
    /// The pixels that show the drawing.
    covered: [Range<u32>; 2],
    /// Those that lie in it wholly; they alone are drawn.
    inner: Window,
}

impl Part {
    fn of(place: &Place) -> Self {
        let [left, top, right, bottom] = place.edges;
        let (across, columns) = along(left, right, place.grid.width);
        let (down, rows) = along(top, bottom, place.grid.height);
        let inner = Window::new(columns.start, rows.start, length(&columns), length(&rows));
        Self { grid: place.grid, covered: [across, down], inner }
    }

    fn draw(&self, rows: u32, edges: [f64; 4], pen: &mut dyn Pen, sink: &mut Sink) -> Result<(), Fault> {
        let [across, down] = &self.covered;
        let inner = self.inner;
        let bottom = inner.y + inner.height;
        self.bare(down.start, sink)?;
        let mut band = Vec::new();
        for top in (inner.y..bottom).step_by(num::index(rows.max(1))) {
            let window = Window { y: top, height: rows.max(1).min(bottom - top), ..inner };
            pen.draw(window, edges, &mut band)?;
            let lines = band.chunks_exact(num::index(inner.width.max(1)) * 4);
            for (row, line) in (top..).zip(lines) {
                let above = if row == inner.y { inner.y - down.start } else { 0 };
                let below = if row + 1 == bottom { down.end - bottom } else { 0 };
                for _ in 0..=above + below {
                    sink.row(|out| self.lay(line, across, out))?;
                }
            }
        }
        self.bare(self.grid.height - down.end, sink)
    }

    fn bare(&self, rows: u32, sink: &mut Sink) -> Result<(), Fault> {
        (0..rows).try_for_each(|_| sink.row(|out| self.lay(&[], &(0..0), out)))
    }

    /// A drawn line laid over white on its row of the grid, its ends repeated as far as the drawing shows.
    fn lay(&self, line: &[u8], across: &Range<u32>, out: Row<'_>) -> Result<(), Fault> {
        let Row::Eight(out) = out else { return Err(Fault::defect("a drawing has 8 bits")) };
        out.fill(255);
        let (line, out) = (line.as_chunks::<4>().0, out.as_chunks_mut::<3>().0);
        let last = line.len().saturating_sub(1);
        for (column, pixel) in (across.start..across.end).zip(out.iter_mut().skip(num::index(across.start))) {
            let at = num::index(column.saturating_sub(self.inner.x)).min(last);
            if let Some([red, green, blue, opacity]) = line.get(at) {
                *pixel = [red, green, blue].map(|sample| sample.saturating_add(255 - opacity));
            }
        }
        Ok(())
    }
}

/// A part of a pixel that counts as none.
const HAIR: f64 = 1e-3;

/// In one direction: the pixels that show what lies between two edges, and those that lie in it wholly, or all of the former
/// where it is thinner than two pixels.
fn along(first: f64, last: f64, grid: u32) -> (Range<u32>, Range<u32>) {
    let beyond = f64::from(grid.max(1) - 1);
    let start = if first < 1.0 { 0 } else { num::pixels(first).min(grid.max(1) - 1) };
    let end = if last > beyond + HAIR { grid } else { num::pixels(last).clamp(start + 1, grid) };
    let from = num::pixels((first - HAIR).ceil().max(0.0)).max(start);
    let to = num::pixels((last + HAIR).floor().max(0.0)).min(end);
    let whole = if from < to { from..to } else { start..end };
    (start..end, whole)
}

fn length(range: &Range<u32>) -> u32 {
    range.end.saturating_sub(range.start)
}

fn too_many(grid: Pixels, most: u64) -> Fault {
    Fault::artwork(
        format!(
            "The drawing would have {} x {} pixels, {} in all, and the limit is {most}.",
            grid.width,
            grid.height,
            grid.count()
        ),
        "Set a lower `ppi` for `resize`, make the design smaller, or raise `limits: {pixels: …}` in seamwright.yaml.",
    )
}

/// Drawing takes longer than it may.
pub(crate) fn too_long(time: Duration) -> Fault {
    Fault::artwork(
        format!("Drawing took longer than {} s and was given up.", time.as_secs()),
        "Flatten effects and patterns in the program it comes from, save it as PNG, or raise `limits: {drawing: …}` in seamwright.yaml.",
    )
}
