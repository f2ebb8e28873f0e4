//! How much ink is heated how often.

use seamwright_contract::{Length, Rect};

use crate::ground::{Frame, Ground};

/// The ink heated at least once and at least twice by rectangles, in square micrometres.
///
/// Between two heights at which a rectangle begins or ends, those that reach there are walked through from the left.
pub(crate) fn once_and_twice(ground: &Ground, rects: &[Rect<Frame>]) -> [u64; 2] {
    let mut heights: Vec<Length> = rects.iter().flat_map(|rect| [rect.y, rect.bottom()]).collect();
    heights.sort_unstable();
    heights.dedup();
    let mut areas = [0, 0];
    for pair in heights.windows(2) {
        let [top, bottom] = pair else { continue };
        let here = rects.iter().filter(|rect| rect.y <= *top && *bottom <= rect.bottom());
        let mut ends: Vec<(Length, i32)> = here.flat_map(|rect| [(rect.x, 1), (rect.right(), -1)]).collect();
        ends.sort_unstable();
        let mut depth = 0;
        for pair in ends.windows(2) {
            let [(left, step), (right, _)] = pair else { continue };
            depth += step;
            if depth > 0 && left < right {
                let ink = ground.ink(&Rect::from_edges(*left, *top, *right, *bottom));
                let [once, twice] = &mut areas;
                *once += ink;
                *twice += if depth > 1 { ink } else { 0 };
            }
        }
    }
    areas
}
