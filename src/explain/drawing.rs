//! The lay-up drawn with signs: each panel a box with its number.
//!
//! A sign is about twice as high as it is wide (common practice, no source), so lengths across count double. Panels of one
//! row share its height; each row has seams of its own. Edges that would fall together are moved apart, so that no panel is
//! lost, however small: the drawing is true only as far as signs go, and no length is read off it.

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::num;

/// A panel to be drawn: its number and row, and left, top, width and height as it lies.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    pub(super) number: u32,
    pub(super) row: u32,
    pub(super) at: [i64; 4],
}

/// What the lines are drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Signs {
    Ascii,
    /// The box drawing of Unicode.
    Boxes,
}

/// Which of its neighbours a sign is joined with.
const UP: usize = 1;
const RIGHT: usize = 2;
const DOWN: usize = 4;
const LEFT: usize = 8;

/// Signs by what they join (Unicode, chapter Box Drawing).
const BOXES: [char; 16] = [' ', '╵', '╶', '└', '╷', '│', '┌', '├', '╴', '┘', '─', '┴', '┐', '┤', '┬', '┼'];

/// The drawing may be as high as a page of a terminal.
const HIGHEST: i64 = 36;

/// The lines of a drawing of these panels that is about so many signs wide.
pub(super) fn lines(cells: &[Cell], width: usize, signs: Signs) -> Vec<String> {
    let right = cells.iter().map(|cell| cell.at[0] + cell.at[2]).max().unwrap_or_default();
    let bottom = cells.iter().map(|cell| cell.at[1] + cell.at[3]).max().unwrap_or_default();
    let left = cells.iter().map(|cell| cell.at[0]).min().unwrap_or_default();
    let top = cells.iter().map(|cell| cell.at[1]).min().unwrap_or_default();
    let (wide, high) = ((right - left).max(1), (bottom - top).max(1));
    let across = i64::from(num::count(width)).max(2) - 1;
    // Half as many signs down as across, for the same length.
    let down = ((across * high + wide) / (wide * 2)).max(1);
    let (across, down) =
        if down > HIGHEST { ((HIGHEST * 2 * wide / high).max(1), HIGHEST) } else { (across, down) };
    let ys = apart(edges(cells, 1), top, [down, high], 2);
    let mut canvas = Canvas::default();
    for row in cells.iter().map(|cell| cell.row).collect::<BTreeSet<u32>>() {
        let row: Vec<Cell> = cells.iter().filter(|cell| cell.row == row).copied().collect();
        let room = row.iter().map(|cell| cell.number.to_string().len()).max().unwrap_or_default();
        let xs = apart(edges(&row, 0), left, [across, wide], room + 1);
        for cell in row {
            let [x, y, width, height] = cell.at;
            let place = |map: &BTreeMap<i64, usize>, at: i64| map.get(&at).copied().unwrap_or_default();
            canvas.panel(
                [place(&xs, x), place(&xs, x + width)],
                [place(&ys, y), place(&ys, y + height)],
                &cell.number.to_string(),
            );
        }
    }
    canvas.lines(signs)
}

/// Where panels begin and end, across (0) or down (1).
fn edges(cells: &[Cell], way: usize) -> BTreeSet<i64> {
    cells
        .iter()
        .flat_map(|cell| {
            let [x, y, width, height] = cell.at;
            if way == 0 { [x, x + width] } else { [y, y + height] }
        })
        .collect()
}

/// The sign at which each edge is drawn: `signs` for every `length` from `begin`, and so many apart at least.
fn apart(edges: BTreeSet<i64>, begin: i64, [signs, length]: [i64; 2], least: usize) -> BTreeMap<i64, usize> {
    let mut next = 0;
    let mut placed = BTreeMap::new();
    for edge in edges {
        let at = ((edge - begin) * signs + length / 2) / length;
        let at = usize::try_from(at).unwrap_or_default().max(next);
        placed.insert(edge, at);
        next = at + least;
    }
    placed
}

/// What is drawn at each place, by row and column.
#[derive(Debug, Default)]
struct Canvas {
    joins: BTreeMap<(usize, usize), usize>,
    letters: BTreeMap<(usize, usize), char>,
}

impl Canvas {
    fn panel(&mut self, [left, right]: [usize; 2], [top, bottom]: [usize; 2], number: &str) {
        for x in left..right {
            for y in [top, bottom] {
                self.join((y, x), RIGHT);
                self.join((y, x + 1), LEFT);
            }
        }
        for y in top..bottom {
            for x in [left, right] {
                self.join((y, x), DOWN);
                self.join((y + 1, x), UP);
            }
        }
        let begin = (left + right + 1).saturating_sub(number.len()) / 2;
        for (x, letter) in (begin..).zip(number.chars()) {
            self.letters.insert((usize::midpoint(top, bottom), x), letter);
        }
    }

    fn join(&mut self, at: (usize, usize), way: usize) {
        *self.joins.entry(at).or_default() |= way;
    }

    fn lines(&self, signs: Signs) -> Vec<String> {
        let rows = self.joins.keys().map(|(row, _)| row + 1).max().unwrap_or_default();
        let columns = self.joins.keys().map(|(_, column)| column + 1).max().unwrap_or_default();
        let sign = |at: (usize, usize)| match self.letters.get(&at) {
            Some(letter) => *letter,
            None => drawn(self.joins.get(&at).copied().unwrap_or_default(), signs),
        };
        let line = |row| (0..columns).map(|column| sign((row, column))).collect::<String>();
        (0..rows).map(|row| line(row).trim_end().to_owned()).collect()
    }
}

fn drawn(joins: usize, signs: Signs) -> char {
    if signs == Signs::Boxes {
        return BOXES.get(joins).copied().unwrap_or(' ');
    }
    match (joins & (UP | DOWN) > 0, joins & (LEFT | RIGHT) > 0) {
        (false, false) => ' ',
        (true, false) => '|',
        (false, true) => '-',
        (true, true) => '+',
    }
}
