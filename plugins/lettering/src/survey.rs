//! The survey of a picture on which letters were set: cells that they reach are counted anew.

use seamwright_contract::picture::{Picture, Pixels, Samples, Window};
use seamwright_contract::survey::{Survey, Wish, of_window};
use seamwright_contract::{Fault, num};

/// Counts the cells of a survey anew that one of the windows reaches.
pub(crate) fn renew(
    survey: &mut Survey,
    picture: &dyn Picture,
    windows: &[Window],
    wish: &Wish,
) -> Result<(), Fault> {
    let size = picture.size();
    let (columns, rows) = (spans(&survey.across, size.width), spans(&survey.down, size.height));
    for (row, [top, bottom]) in rows.iter().enumerate() {
        for (column, [left, right]) in columns.iter().enumerate() {
            let cell = Window::new(*left, *top, right - left, bottom - top);
            if windows.iter().any(|window| window.shared(cell).is_some()) {
                count(survey, row * columns.len() + column, row, cell, picture, wish)?;
            }
        }
    }
    Ok(())
}

/// The whole pixels of each column or row of cells, whose borders need not fall between pixels.
fn spans(borders: &[f64], most: u32) -> Vec<[u32; 2]> {
    let ends = borders.windows(2);
    ends.map(|ends| {
        let first = num::pixels(ends[0].floor()).min(most.saturating_sub(1));
        [first, num::pixels(ends[1].ceil()).clamp(first + 1, most.max(first + 1))]
    })
    .collect()
}

fn count(
    survey: &mut Survey,
    at: usize,
    row: usize,
    window: Window,
    picture: &dyn Picture,
    wish: &Wish,
) -> Result<(), Fault> {
    let one = of_window(picture, window, &Wish { cells: Pixels::new(1, 1), ..*wish })?;
    // A tall cell is counted in several, one upon the other.
    let parts = one.cells.len().max(1);
    let mean = |value: fn(&seamwright_contract::survey::SurveyCell) -> u8| {
        let sum: u32 = one.cells.iter().map(|cell| u32::from(value(cell))).sum();
        u8::try_from(sum.div_ceil(num::count(parts))).unwrap_or(u8::MAX)
    };
    let inked = one.cells.iter().zip(&one.inked).filter(|(cell, _)| cell.ink > 0);
    let (left, top) = (num::single(window.x.into()), f64::from(window.y));
    let reach = inked.fold(None, |reach: Option<([f32; 2], [f64; 2])>, (cell, down)| {
        let (across, down) = ([left + cell.left, left + cell.right], [top + down[0], top + down[1]]);
        Some(reach.map_or((across, down), |(a, d)| {
            ([a[0].min(across[0]), a[1].max(across[1])], [d[0].min(down[0]), d[1].max(down[1])])
        }))
    });
    let had_ink = row_has_ink(survey, row);
    if let Some(cell) = survey.cells.get_mut(at) {
        cell.ink = mean(|cell| cell.ink);
        cell.faint = mean(|cell| cell.faint);
        if let Some((across, _)) = reach {
            [cell.left, cell.right] = across;
        }
    }
    if let (Some((_, down)), Some(inked)) = (reach, survey.inked.get_mut(row)) {
        *inked = if had_ink { [inked[0].min(down[0]), inked[1].max(down[1])] } else { down };
    }
    let each = survey.means.format().channels.count();
    if let (Samples::Eight(from), Samples::Eight(to)) = (&one.means.samples, &mut survey.means.samples)
        && let Some(to) = to.chunks_exact_mut(each).nth(at)
    {
        for (sample, to) in to.iter_mut().enumerate() {
            let sum: u32 = from.iter().skip(sample).step_by(each).map(|mean| u32::from(*mean)).sum();
            *to = u8::try_from(sum / num::count(parts)).unwrap_or(u8::MAX);
        }
    }
    Ok(())
}

fn row_has_ink(survey: &Survey, row: usize) -> bool {
    let columns = survey.across.len().saturating_sub(1);
    survey.cells.iter().skip(row * columns).take(columns).any(|cell| cell.ink > 0)
}
