//! The laws of the proof.

use crate::paint::multiplied;

#[test]
fn bare_places_show_the_blank_and_black_stays_black() {
    for ground in 0..=255 {
        assert_eq!((multiplied(ground, 255), multiplied(ground, 0)), (ground, 0));
    }
    // IEC 61966-2-1: code 128 is 0.21586 of full light; on a ground of the same code the light is its square.
    assert_eq!(multiplied(128, 128), 61);
}
