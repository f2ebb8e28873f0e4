//! The decision: size, place, resolution.

use std::sync::Arc;

use seamwright_contract::ink::InkMap;
use seamwright_contract::layout::{Design, Drawing, Layout};
use seamwright_contract::order::{Fit, Order};
use seamwright_contract::picture::{Picture, Pixels, Place};
use seamwright_contract::plugin::Stage;
use seamwright_contract::{Face, Fault, Length, Ppi, Rect, Size, num};

use crate::place::place;
use crate::scaled::Scaled;
use crate::{ENTRY, masked};

/// What the sheets carry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum SheetPpi {
    /// This many pixels per inch.
    Fixed(Ppi),
    /// The artwork's own, the finer axis where they differ; a drawing, which has none, is drawn at the usual.
    Native {
        /// That.
        usual: Ppi,
    },
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
        let drawing = layout.artwork.drawing;
        let pixels = layout.picture.size();
        let own = [pixels.width, pixels.height].map(i64::from);
        let proportions = drawing.map_or(own, |drawing| [drawing.size.width.um(), drawing.size.height.um()]);
        let proportions = order.blank.shrink.map_or(proportions, |shrink| shrink.proportions(proportions));
        let whole = place(proportions, order.size, order.fit);
        let artwork_ppi = match drawing {
            None => artwork_ppi(pixels, &whole)?,
            Some(_) => [self.drawn_at(); 2],
        };
        let design = Design {
            size: order.size,
            picture: whole.intersection(&Rect::of_size(order.size)).unwrap_or_default(),
            sheet_ppi: match self.ppi {
                SheetPpi::Fixed(ppi) => ppi,
                SheetPpi::Native { .. } => finer(artwork_ppi),
            },
            artwork_ppi,
            outline: order.design_outline(),
        };
        can_be_made(&design)?;
        shrinks(&mut layout, design.size);
        fills(&mut layout, &design);
        match drawing {
            None => sharp_enough(&mut layout, artwork_ppi)?,
            Some(drawing) => {
                drawn_sharp(&mut layout, &drawing, &design, &whole);
                let side = |length| num::pixels(design.sheet_ppi.pixels(length)).max(1);
                layout.artwork.size = Pixels::new(side(whole.width), side(whole.height));
            }
        }
        let fitted = |picture: Arc<dyn Picture>| -> Result<Arc<dyn Picture>, Fault> {
            let drawn = picture.drawn(&on_grid(&design, &whole))?;
            let fitted = drawn.unwrap_or_else(|| Arc::new(Scaled::new(picture, &design, &whole)));
            Ok(masked::to_outline(fitted, &design))
        };
        layout.picture = fitted(layout.picture)?;
        layout.on_screen = layout.on_screen.map(&fitted).transpose()?;
        InkMap::look_ahead(&layout.picture, &design);
        layout.design = Some(design);
        Ok(layout)
    }
}

impl Resize {
    /// What a drawing is drawn at: it has no pixels of its own to go by.
    fn drawn_at(&self) -> Ppi {
        match self.ppi {
            SheetPpi::Fixed(ppi) => ppi,
            SheetPpi::Native { usual } => usual,
        }
    }
}

/// Where all of a drawing lies on the design's grid.
fn on_grid(design: &Design, whole: &Rect<Face>) -> Place {
    let edges = [whole.x, whole.y, whole.right(), whole.bottom()].map(|edge| design.sheet_ppi.pixels(edge));
    Place { grid: design.grid(), edges }
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
        return lies_within(order);
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

/// A design that is small enough may still be placed beyond the area.
fn lies_within(order: &Order) -> Result<(), Fault> {
    let (area, units) = (order.design_outline().bounds, order.units);
    let design: Rect<Face> = Rect::of_size(order.size);
    // What lies in the middle of odd lengths may be off by a micrometre.
    let hair = Length::from_um(1);
    if area.x <= hair
        && area.y <= hair
        && area.right() + hair >= design.right()
        && area.bottom() + hair >= design.bottom()
    {
        return Ok(());
    }
    let at = order.placed();
    Err(Fault::order(
        format!(
            "The design of {} lies {} from the left and {} from the top of {}, beyond its design area, which begins {} and {} \
             from there and is {}.",
            units.show_size(order.size.width, order.size.height),
            units.show(at.x),
            units.show(at.y),
            order.blank.name,
            units.show(at.x + area.x),
            units.show(at.y + area.y),
            units.show_size(area.width, area.height)
        ),
        "Write other distances in `place`, or leave it out to lie in the middle.",
    ))
}

/// Says by how much the design is printed larger than it shall be, on a blank that shrinks.
fn shrinks(layout: &mut Layout, printed: Size) {
    let (units, blank) = (layout.order.units, &layout.order.blank);
    let Some(shrink) = blank.shrink else { return };
    let Size { width, height } = shrink.pressed;
    let after = shrink.after(printed);
    let said = format!(
        "Under the press {} becomes smaller: {} marked on it measured {} across and {} down afterwards. The design is printed \
         {}, and will be {}. All lengths in these notes are those before pressing.",
        blank.name,
        shrink.marked,
        width,
        height,
        units.show_size(printed.width, printed.height),
        units.show_size(after.width, after.height)
    );
    layout.remark(ENTRY.name, said);
}

/// Bare strips narrower than this beside a picture do not show.
const HAIR: Length = Length::from_um(500);

/// Says what stays bare of a design that has other proportions than its picture, and what would fill it.
fn fills(layout: &mut Layout, design: &Design) {
    let (units, order) = (layout.order.units, &layout.order);
    let beside = (design.size.width - design.picture.width).half();
    let above = (design.size.height - design.picture.height).half();
    if order.fit != Fit::Contain || beside.max(above) < HAIR {
        return;
    }
    let (strip, sides) = if beside > above { (beside, "left and right") } else { (above, "above and below") };
    let said = format!(
        "The picture has other proportions than the design: {} stay bare {sides}. `fit: cover` fills the design and cuts off \
         what is too much.",
        units.show(strip)
    );
    layout.remark(ENTRY.name, said);
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

/// Says that a drawing has no resolution to fall short of; the pictures in it have, and are warned of below the blank's
/// floor, since some may be meant to be soft.
fn drawn_sharp(layout: &mut Layout, drawing: &Drawing, design: &Design, whole: &Rect<Face>) {
    let state = format!(
        "The artwork is drawn ({}), sharp at any size: {:.0} pixels per inch here",
        drawing.kind,
        design.sheet_ppi.get()
    );
    let shrunk = num::float(drawing.size.width.um()) / num::float(whole.width.um());
    let coarsest = drawing.coarsest.map(|ppi| ppi.get() * shrunk);
    let (floor, name) = (layout.order.blank.ppi_floor.get(), layout.order.blank.name.clone());
    match coarsest.filter(|ppi| *ppi < floor) {
        Some(ppi) => layout.warn(
            ENTRY.name,
            format!("{state}. But a picture in it has only {ppi:.0}; {name} should have {floor:.0}. It will look soft."),
        ),
        None => layout.remark(ENTRY.name, format!("{state}.")),
    }
}
