//! The two spaces and the way between them.

use crate::geometry::{Face, Rect, Sides, Way};
use crate::units::Length;

fn rect(x: i64, y: i64, width: i64, height: i64) -> Rect<Face> {
    let um = Length::from_um;
    Rect::new(um(x), um(y), um(width), um(height))
}

#[test]
fn mirroring_twice_is_nothing() {
    for mirrored in [true, false] {
        let way = Way { mirrored, width: Length::from_um(400_001) };
        for face in [rect(0, 0, 400_001, 7), rect(13, 5, 200_000, 9), rect(399_999, 0, 2, 2)] {
            assert_eq!(way.to_face(&way.to_paper(&face)), face);
        }
    }
}

#[test]
fn the_greatest_face_x_lies_at_the_left_of_mirrored_paper() {
    let way = Way { mirrored: true, width: Length::from_mm(400) };
    let paper = way.to_paper(&rect(197_500, 0, 202_500, 152_500));
    assert_eq!((paper.x.um(), paper.right().um()), (0, 202_500));
}

#[test]
fn margins_turn_clockwise_with_the_sheet() {
    // tests/data/geometry/tiles_rect.csv, R021 and R022: the 1/2 in bottom margin of the upright sheet lies left.
    let upright = Sides { left: 1, top: 2, right: 3, bottom: 4 };
    assert_eq!(upright.turned_clockwise(), Sides { left: 4, top: 1, right: 2, bottom: 3 });
}

#[test]
fn rectangles_share_only_area() {
    assert_eq!(rect(0, 0, 10, 10).intersection(&rect(10, 0, 5, 5)), None);
    assert_eq!(rect(0, 0, 10, 10).intersection(&rect(4, 6, 10, 10)), Some(rect(4, 6, 6, 4)));
}
