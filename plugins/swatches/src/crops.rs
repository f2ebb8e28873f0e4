//! The crops of this very artwork, the most telling first.

use seamwright_contract::layout::Layout;
use seamwright_contract::{Face, Fault, Length, Rect, Size};

use crate::regions::{Afar, Field, Region};
use crate::words;

/// A part of the design that is printed at true size.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Crop {
    /// Where it lies.
    pub(crate) face: Rect<Face>,
    /// Why it was chosen.
    pub(crate) why: String,
}

/// Up to so many crops of this size, none of them sharing much with another.
pub(crate) fn of(layout: &Layout, afar: &Afar, size: Size, most: usize) -> Result<Vec<Crop>, Fault> {
    let design = layout.design()?.size;
    let mut crops: Vec<Crop> = Vec::new();
    for wish in wishes(layout, afar).into_iter().take_while(|_| most > 0) {
        let taken: Vec<_> = crops.iter().map(|crop| crop.face).collect();
        let found = wish.field.best(design, size, &taken).filter(|region| region.mean >= wish.least);
        crops.extend(found.map(|region| Crop { face: region.face, why: (wish.why)(&region) }));
        if crops.len() >= most {
            break;
        }
    }
    if crops.is_empty() {
        let middle = |all: Length, part: Length| (all - part).half();
        let face = Rect::new(
            middle(design.width, size.width),
            middle(design.height, size.height),
            size.width,
            size.height,
        );
        crops.push(Crop { face, why: words::MIDDLE.to_owned() });
    }
    Ok(crops)
}

/// A measure whose greatest place is worth a look.
struct Wish {
    field: Field,
    /// Below this mean there is nothing to see.
    least: f64,
    why: fn(&Region) -> String,
}

fn wishes(layout: &Layout, afar: &Afar) -> Vec<Wish> {
    let range = layout.colour.as_ref().and_then(|colour| colour.range.as_ref());
    let reach = range.map(|range| Wish {
        field: Field::out_of_reach(&range.map),
        least: 1.0,
        why: |region| words::out_of_reach(region.mean),
    });
    let colourful =
        Wish { field: afar.colourfulness(), least: 5.0, why: |region| words::colourful(region.mean) };
    let dark = Wish { field: afar.dark_detail(), least: 0.5, why: |_| words::DARK_DETAIL.to_owned() };
    reach.into_iter().chain([colourful, dark]).collect()
}
