//! A survey of the artwork's own pixels, laid onto the grid.
//!
//! Scaling blurs an edge over some pixels, so what is ink and where it ends is settled on the artwork's pixels, and
//! their borders are mapped with fractions of a grid pixel. Where the picture does not reach, bare cells are added;
//! what the design cuts off is not looked at.

use seamwright_contract::picture::{Band, Picture, Pixels, Window};
use seamwright_contract::survey::{self, Survey, SurveyCell, Wish};
use seamwright_contract::{Fault, num};

use crate::axis::{Axis, SAME, length};
use crate::rows::pick;

/// Surveys a picture that lies on a grid of this size as the axes say, in cells about as fine as wished over the grid.
pub(crate) fn on_grid(
    source: &dyn Picture,
    [across, down]: [&Axis; 2],
    grid: Pixels,
    wish: &Wish,
) -> Result<Survey, Fault> {
    let (x, y) = (across.shown(grid.width), down.shown(grid.height));
    let window = Window::new(x.start, y.start, length(&x), length(&y));
    let wide = f64::from(grid.width) / f64::from(wish.cells.width.max(1));
    let high = f64::from(grid.height) / f64::from(wish.cells.height.max(1));
    let cells = Pixels::new(
        num::pixels((f64::from(window.width) / across.scale / wide).ceil()),
        num::pixels((f64::from(window.height) / down.scale / high).ceil()),
    );
    let wish = Wish { cells, ..*wish };
    let seen = if window == Window::whole(source.size()) {
        source.survey(&wish)?
    } else {
        survey::of_window(source, window, &wish)?
    };
    let columns = Line { axis: across, first: x.start, grid: grid.width }.cells(&seen.across, wide);
    let rows = Line { axis: down, first: y.start, grid: grid.height }.cells(&seen.down, high);
    Ok(laid(&seen, columns, rows))
}

/// A survey's cells in new places, bare where none of them lies.
fn laid(seen: &Survey, columns: Cells<'_>, rows: Cells<'_>) -> Survey {
    let size = Pixels::new(num::count(columns.from.len()), num::count(rows.from.len()));
    let mut means = Band::bare(size, seen.means.format());
    pick(&seen.means, &columns.from, &rows.from, &mut means);
    let across = num::index(seen.size().width);
    let cell = |row: Option<u32>, column: Option<u32>| -> Option<SurveyCell> {
        let cell = *seen.cells.get(num::index(row?) * across + num::index(column?))?;
        let to = |at: f32| num::single(columns.line.to(f64::from(at)));
        Some(SurveyCell { left: to(cell.left), right: to(cell.right), ..cell })
    };
    let cells = rows.from.iter().flat_map(|row| columns.from.iter().map(|column| cell(*row, *column)));
    let ends =
        |row: Option<u32>| seen.inked.get(num::index(row?)).map(|ends| ends.map(|at| rows.line.to(at)));
    Survey {
        cells: cells.map(Option::unwrap_or_default).collect(),
        inked: rows.from.iter().map(|row| ends(*row).unwrap_or_default()).collect(),
        means,
        across: columns.borders,
        down: rows.borders,
    }
}

/// One direction: a survey whose pixel 0 is the source's pixel `first`, and the grid it is laid on.
#[derive(Debug, Clone, Copy)]
struct Line<'a> {
    axis: &'a Axis,
    first: u32,
    grid: u32,
}

/// The cells of one direction on the grid.
#[derive(Debug)]
struct Cells<'a> {
    line: Line<'a>,
    /// Their borders, in grid pixels.
    borders: Vec<f64>,
    /// Which of the survey's each one is, if any.
    from: Vec<Option<u32>>,
}

impl<'a> Line<'a> {
    /// A place of the survey in grid pixels, kept within the grid.
    fn to(self, at: f64) -> f64 {
        self.axis.to(f64::from(self.first) + at).clamp(0.0, f64::from(self.grid))
    }

    /// The survey's cells between these borders, and bare ones of about this size beside them.
    fn cells(self, borders: &[f64], size: f64) -> Cells<'a> {
        let mut cells = Cells { line: self, borders: vec![0.0], from: Vec::new() };
        let mut places = borders.iter().map(|at| self.to(*at));
        cells.bare_to(places.next().unwrap_or_default(), size);
        for (at, place) in (0..).zip(places) {
            cells.borders.push(place);
            cells.from.push(Some(at));
        }
        cells.bare_to(f64::from(self.grid), size);
        if let Some(last) = cells.borders.last_mut() {
            *last = f64::from(self.grid);
        }
        cells
    }
}

impl Cells<'_> {
    /// Adds bare cells up to a place, unless it is a hair away.
    fn bare_to(&mut self, place: f64, size: f64) {
        let from = self.borders.last().copied().unwrap_or_default();
        let gap = place - from;
        if gap < SAME {
            return;
        }
        let count = num::pixels((gap / size).ceil()).max(1);
        self.borders.extend((1..=count).map(|i| from + gap * f64::from(i) / f64::from(count)));
        self.from.extend((0..count).map(|_| None));
    }
}
