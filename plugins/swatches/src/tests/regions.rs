//! The best crop against every crop tried by hand.

use proptest::prelude::*;
use seamwright_contract::picture::Pixels;
use seamwright_contract::{Face, Length, Rect, Size};

use super::fixture::{Plan, mm};
use crate::crops;
use crate::regions::{Afar, Field, Places, crowds};

/// Every place, every cell of it, added up.
fn by_hand(field: &Field, design: Size, crop: Size, taken: &[Rect<Face>]) -> Option<(u64, Rect<Face>)> {
    let places = Places::new(field.size, design, crop);
    let mut best: Option<(u64, Rect<Face>)> = None;
    for y in 0..places.down() {
        for x in 0..places.across() {
            let mut sum = 0;
            for row in y..y + places.crop.height {
                for column in x..x + places.crop.width {
                    sum += u64::from(field.cells[(row * field.size.width + column) as usize]);
                }
            }
            let face = places.face(x, y);
            let free = taken.iter().all(|other| {
                let shared = face.intersection(other).map_or(0.0, |both| both.width.mm() * both.height.mm());
                shared < 0.25 * face.width.mm() * face.height.mm() - 1e-9
            });
            if free && best.is_none_or(|(most, _)| sum > most) {
                best = Some((sum, face));
            }
        }
    }
    best
}

fn field() -> impl Strategy<Value = Field> {
    (1_u32..14, 1_u32..14).prop_flat_map(|(width, height)| {
        let count = (width * height) as usize;
        proptest::collection::vec(0_u32..12, count)
            .prop_map(move |cells| Field { size: Pixels::new(width, height), cells })
    })
}

fn size() -> impl Strategy<Value = Size> {
    (40_i64..900, 40_i64..900).prop_map(|(width, height)| Size::new(mm(width), mm(height)))
}

proptest! {
    #[test]
    fn the_best_place_is_the_one_found_by_hand(field in field(), design in size(), taken in 0_usize..3) {
        let crop = Size::new(mm(45).min(design.width), mm(45).min(design.height));
        let mut faces = Vec::new();
        for _ in 0..=taken {
            let found = field.best(design, crop, &faces);
            let wanted = by_hand(&field, design, crop, &faces);
            prop_assert_eq!(found.map(|region| region.face), wanted.map(|(_, face)| face));
            let Some(region) = found else { break };
            let float = |whole: u64| f64::from(u32::try_from(whole).unwrap());
            let cells = float(Places::new(field.size, design, crop).crop.count());
            let mean = wanted.map_or(0.0, |(sum, _)| float(sum) / cells / 100.0);
            prop_assert!((region.mean - mean).abs() < 1e-9);
            prop_assert!(Rect::of_size(design).contains(&region.face), "within the design");
            prop_assert!(faces.iter().all(|other| !crowds(&region.face, other)), "crowded");
            faces.push(region.face);
        }
    }
}

#[test]
fn each_crop_lies_where_its_measure_is() {
    let plan = Plan::default();
    let layout = plan.layout();
    let afar = Afar::of(layout.seen()).unwrap();
    let found = crops::of(&layout, &afar, Size::new(mm(45), mm(45)), 3).unwrap();
    // The blocks as painted, in shares of the design.
    let part = |x: f64, y: f64, w: f64, h: f64| -> Rect<Face> {
        let (width, height) = (plan.design.width, plan.design.height);
        Rect::new(width.share(x), height.share(y), width.share(w), height.share(h))
    };
    let blocks = [part(0.40, 0.30, 0.20, 0.30), part(0.75, 0.20, 0.20, 0.40), part(0.05, 0.55, 0.10, 0.40)];
    assert_eq!(found.len(), 3);
    for (crop, block) in found.iter().zip(blocks) {
        let inside = crop.face.intersection(&block).map_or(0.0, |both| both.width.mm() * both.height.mm());
        assert!(inside > 0.9 * 45.0 * 45.0, "{crop:?} is not in {block:?}");
    }
    let few = crops::of(&layout, &afar, Size::new(mm(45), mm(45)), 1).unwrap();
    assert_eq!(few, found[..1], "the most telling first");
}

#[test]
fn nothing_to_see_is_the_middle() {
    let mut layout = Plan { range: false, ..Plan::default() }.layout();
    let design = layout.design.clone().unwrap();
    layout.picture = std::sync::Arc::new(seamwright_contract::sample::Pixmap::bare(
        design.grid(),
        seamwright_contract::picture::Format::RGB8,
    ));
    let afar = Afar::of(layout.seen()).unwrap();
    let found = crops::of(&layout, &afar, Size::new(mm(45), mm(45)), 3).unwrap();
    let [crop] = &found[..] else { panic!("one crop, not {found:?}") };
    let middle = (crop.face.x + crop.face.width.half()).mm();
    assert!((middle - Length::from_um(304_800).mm()).abs() < 0.01, "{middle}");
}
