//! The decision: size, place, resolution.

use std::sync::Arc;

use seamwright_contract::layout::{Design, Layout};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Picture, Pixels};
use seamwright_contract::plugin::Stage;
use seamwright_contract::{Face, Fault, Length, Ppi, Rect};

use crate::place::place;
use crate::scaled::Scaled;
use crate::{ENTRY, masked};

/// What the sheets carry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum SheetPpi {
    /// This many pixels per inch.
    Fixed(Ppi),
    /// The artwork's own, the finer axis where they differ.
    Native,
}

/// More pixels than any artwork or sheet can need; beyond it a size or unit is surely mistaken.
const MOST_PIXELS: u64 = 20_000_000_000;

#[derive(Debug)]
pub(crate) struct Resize {
    pub(crate) ppi: SheetPpi,
}

impl Stage for Resize {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let order = &layout.order;
        fits_the_blank(order)?;
        let pixels = layout.picture.size();
        let whole = place(pixels, order.size, order.fit);
        let artwork_ppi = artwork_ppi(pixels, &whole)?;
        let design = Design {
            size: order.size,
            picture: whole.intersection(&Rect::of_size(order.size)).unwrap_or_default(),
            sheet_ppi: match self.ppi {
                SheetPpi::Fixed(ppi) => ppi,
                SheetPpi::Native => finer(artwork_ppi),
            },
            artwork_ppi,
            outline: order.blank.design_outline(order.size),
        };
        can_be_made(&design)?;
        sharp_enough(&mut layout, artwork_ppi)?;
        let scaled = |picture: Arc<dyn Picture>| -> Arc<dyn Picture> {
            masked::to_outline(Arc::new(Scaled::new(picture, &design, &whole)), &design)
        };
        (layout.picture, layout.on_screen) = (scaled(layout.picture), layout.on_screen.map(&scaled));
        layout.design = Some(design);
        Ok(layout)
    }
}

fn fits_the_blank(order: &Order) -> Result<(), Fault> {
    let (size, area, units) = (order.size, order.blank.design_area(), order.units);
    if size.width <= Length::ZERO || size.height <= Length::ZERO {
        return Err(Fault::order(
            format!("A design of {} has no area.", units.show_size(size.width, size.height)),
            "Write a `size` with width and height above zero.",
        ));
    }
    if area.holds(size) {
        return Ok(());
    }
    Err(Fault::order(
        format!(
            "The design of {} is larger than the design area of {}, which is {}.",
            units.show_size(size.width, size.height),
            order.blank.name,
            units.show_size(area.width, area.height)
        ),
        "Make `size` smaller, leave it out to fill the design area, or choose a larger blank.",
    ))
}

/// Pixels per placed inch, across and down.
fn artwork_ppi(pixels: Pixels, placed: &Rect<Face>) -> Result<[Ppi; 2], Fault> {
    match (Ppi::of(pixels.width, placed.width), Ppi::of(pixels.height, placed.height)) {
        (Some(across), Some(down)) => Ok([across, down]),
        _ => Err(Fault::artwork("The picture has no pixels.", "Save it again.")),
    }
}

fn finer([across, down]: [Ppi; 2]) -> Ppi {
    if across > down { across } else { down }
}

fn can_be_made(design: &Design) -> Result<(), Fault> {
    let grid = design.grid();
    if grid.count() <= MOST_PIXELS && grid.width < u32::MAX / 2 && grid.height < u32::MAX / 2 {
        return Ok(());
    }
    Err(Fault::order(
        format!(
            "The design would have {} x {} pixels at {:.0} ppi.",
            grid.width,
            grid.height,
            design.sheet_ppi.get()
        ),
        "Check the size and its unit, or set a lower `ppi` for `resize`.",
    ))
}

/// States the resolution on the coarser axis; below the blank's floor it is a warning, below its limit a refusal.
fn sharp_enough(layout: &mut Layout, [across, down]: [Ppi; 2]) -> Result<(), Fault> {
    let ppi = across.get().min(down.get());
    let blank = &layout.order.blank;
    let (floor, refuse, name) = (blank.ppi_floor.get(), blank.ppi_refuse.get(), blank.name.clone());
    let state = format!("The picture has {ppi:.0} pixels per inch at this size");
    if ppi < refuse && !layout.order.allow_low_ppi {
        return Err(Fault::artwork(
            format!("{state}, too coarse for {name}, which needs at least {refuse:.0}."),
            "Save a larger picture, make the design smaller, or write `allow_low_ppi: yes` in the order to print it all the same.",
        ));
    }
    if ppi < floor {
        layout.warn(ENTRY.name, format!("{state}; {name} should have {floor:.0}. Edges will look soft."));
    } else {
        layout.remark(ENTRY.name, format!("{state}."));
    }
    Ok(())
}
