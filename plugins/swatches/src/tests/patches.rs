//! What the patches hold.

use seamwright_contract::picture::{Channels, Depth};

use super::fixture::Plan;
use crate::patches::{self, Group};
use crate::regions::Afar;

fn groups(plan: &Plan) -> Vec<Group> {
    let layout = plan.layout();
    patches::of(&layout, &Afar::of(layout.seen()).unwrap()).unwrap()
}

#[test]
fn the_artworks_own_colours_are_those_of_the_sheets() {
    for depth in [Depth::Eight, Depth::Sixteen] {
        let groups = groups(&Plan { depth, ..Plan::default() });
        // 16 bits are told as the sheets tell them: the nearest of 8 bits, v / 257 rounded.
        assert_eq!(groups[0].patches, [[128, 132, 117, 0]; 3], "out of reach: picked at its place");
        // By area: 8 % vivid, 6 % dull, and two of the grating with 2 % each, which look alike or nearly.
        assert_eq!(groups[1].patches[..2], [[233, 8, 35, 0], [128, 132, 117, 0]], "the most first");
        assert!(groups[1].patches.len() <= 4, "alike are one: {:?}", groups[1]);
    }
    assert_eq!(groups(&Plan { range: false, ..Plan::default() }).len(), 2, "nothing known of the reach");
}

#[test]
fn steps_are_in_the_sheets_own_channels() {
    let last = |channels| {
        let plan = Plan { channels, range: false, ..Plan::default() };
        groups(&plan).into_iter().skip(1).flat_map(|group| group.patches).collect::<Vec<_>>()
    };
    // 10 to 100 %: 255 x 0.9, 0.8 ... rounded half up.
    let grays = [230, 204, 179, 153, 128, 102, 77, 51, 26, 0];
    assert_eq!(last(Channels::Gray).iter().map(|ink| ink[0]).collect::<Vec<_>>(), grays);
    let rgb = last(Channels::Rgb);
    assert_eq!(
        rgb[..10].iter().map(|ink| ink[..3].to_vec()).collect::<Vec<_>>(),
        grays.map(|gray| vec![gray; 3])
    );
    assert_eq!(rgb.len(), 16);
    let cmyk = last(Channels::Cmyk);
    assert_eq!(cmyk[..4], [[64, 0, 0, 0], [128, 0, 0, 0], [191, 0, 0, 0], [255, 0, 0, 0]]);
    assert_eq!(cmyk[15..17], [[0, 0, 0, 255], [64, 64, 64, 0]]);
    assert_eq!(cmyk.len(), 20);
}
