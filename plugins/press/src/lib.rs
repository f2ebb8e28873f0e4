//! `press`: the plan of pressing a design in sections.
//!
//! The problem, stated. What must be heated is the design's ink, or all of the design where it is bare. The plate heats
//! well inside its weak edge; it may hang over the edge of the blank. Placements stand in bands across the blank or down
//! it, the plate unturned in all or turned a quarter in all; each band has places of its own. Every inked place must be
//! heated, and neighbouring heated areas overlap by at least the press's `overlap`, in a band and from band to band,
//! unless bare design as wide as that (and at least 5 mm) parts what they heat. Wanted are the fewest placements; of
//! those the least heat, that is the area of ink under each placement, summed: what is more than all ink is heated again,
//! so the surplus of the plates hangs over the ends. Of those the platen edges run least beside seams and over even
//! colour; a hundredth more repeated heat is given for that, if the plates still repeat no more than spread evenly. Of
//! those the surplus is shared by both ends.
//!
//! It is solved exactly over places: `band` for one band, `bands` for all, `choice` for how plate and bands lie. Places
//! are the first and last that each plate can take, with even steps between; then every millimetre near the best.
//!
//! `ground` sums up ink, seams and even colour. `throat` says what of the work comes under a fixed plate, `sequence` in
//! which order and when it is pressed, `heated` how often.

mod band;
mod bands;
mod choice;
mod ground;
mod heated;
mod sequence;
#[cfg(test)]
mod tests;
mod throat;

use seamwright_contract::catalogue::{Measured, Press, Substrate};
use seamwright_contract::layout::{Layout, Placement, PressPlan};
use seamwright_contract::num;
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::{Node, Range};
use seamwright_contract::units::{Seconds, Temperature, Units};
use seamwright_contract::{Fault, Length, Rect};

use choice::Choice;
use ground::{Cells, Frame};
use sequence::Shifts;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "press",
    about: "where to set the plate, in which order, how hot and how long",
    needs: &[Fact::Design, Fact::Panels],
    gives: &[Fact::Press],
    before: &[],
    example: "press",
    parse,
    order: None,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(PressStage))
}

#[derive(Debug)]
struct PressStage;

impl Stage for PressStage {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let ink = layout.ink()?;
        let cells = Cells::new(&ink, layout.design()?.size, &layout.lay_up()?.seams);
        let choice = choice::best(&layout.order, &cells, layout.placed())?;
        let (press, substrate) = (&layout.order.press, &layout.order.blank.substrate);
        let settings = settings(press, substrate);
        let (placements, heated_twice) = placements(&choice, &layout, settings.dwell);
        let last = placements.last().map_or(substrate.preheat, |last| last.start);
        let total = last.0.saturating_add(settings.dwell.0).saturating_add(substrate.cool.0);
        let plan = PressPlan {
            placements,
            moves: press.moves,
            weak_edge: press.weak_edge,
            overlap: press.overlap,
            heat: settings.heat,
            heat_range: substrate.heat,
            dwell: settings.dwell,
            dwell_range: substrate.dwell,
            origin: settings.origin,
            preheat: substrate.preheat,
            pressure: substrate.pressure.clone(),
            cool: substrate.cool,
            peel_hot: substrate.peel_hot,
            total: Seconds(total),
            heated_twice,
        };
        if let Some(outside) = outside(&plan, press, substrate, layout.order.units) {
            layout.warn(ENTRY.name, outside);
        }
        layout.press = Some(plan);
        Ok(layout)
    }
}

/// The studio's own settings for this substrate on this press, or the middle of what it takes.
fn settings(press: &Press, substrate: &Substrate) -> Measured {
    press.settings.get(&substrate.name).cloned().unwrap_or_else(|| Measured {
        heat: Temperature::between(substrate.heat.low, substrate.heat.high),
        dwell: middle(substrate.dwell),
        origin: substrate.origin.clone(),
    })
}

/// The middle of a range of times, to whole five seconds where such a time lies in the range.
fn middle(range: Range<Seconds>) -> Seconds {
    let exact = range.low.0.midpoint(range.high.0);
    let rounded = exact.saturating_add(2) / 5 * 5;
    Seconds(if (range.low.0..=range.high.0).contains(&rounded) { rounded } else { exact })
}

/// What to say where measured settings lie outside what the substrate takes.
fn outside(plan: &PressPlan, press: &Press, substrate: &Substrate, units: Units) -> Option<String> {
    let (heat, dwell) = (plan.heat_range, plan.dwell_range);
    let inside =
        (heat.low..=heat.high).contains(&plan.heat) && (dwell.low..=dwell.high).contains(&plan.dwell);
    let show = |heat| units.show_heat(heat);
    (!inside).then(|| {
        format!(
            "The settings of press {} for {}, {} for {}, lie outside what the substrate takes: {} to {}, {} to {}. They are used all the same, as they were measured ({}).",
            press.name, substrate.name, show(plan.heat), plan.dwell, show(heat.low), show(heat.high), dwell.low, dwell.high, plan.origin
        )
    })
}

/// The placements in the order of pressing, and the share of the ink that is heated twice or more.
fn placements(choice: &Choice, layout: &Layout, dwell: Seconds) -> (Vec<Placement>, f64) {
    let Choice { way, plate, plan, ground, throat } = choice;
    let rows = sequence::ordered(&plan.rows);
    let tops: Vec<Length> = rows.iter().map(|row| row.top).collect();
    let backs = throat.as_ref().map(|throat| throat.backs(plate, &tops));
    let preheat = layout.order.blank.substrate.preheat;
    let (mut heated, mut shifts): (Vec<Rect<Frame>>, _) = (Vec::new(), Shifts::default());
    let mut placements: Vec<Placement> = Vec::new();
    for (row, band) in rows.iter().enumerate() {
        for at in &band.plates {
            let index = num::count(placements.len());
            let here = plate.heated(*at, band.top);
            let platen = way.on_blank(&plate.platen(*at, band.top), layout.placed());
            let shared: Vec<(u32, Rect<Frame>)> = (1..)
                .zip(&heated)
                .filter_map(|(number, earlier)| Some((number, earlier.intersection(&here)?)))
                .collect();
            let parts: Vec<Rect<Frame>> = shared.iter().map(|(_, part)| *part).collect();
            let [again, _] = heated::once_and_twice(ground, &parts);
            let back = backs.as_ref().and_then(|backs| backs.get(row));
            placements.push(Placement {
                number: index + 1,
                platen,
                turned: way.turned,
                start: sequence::start(index, preheat, dwell),
                overlaps: shared.iter().map(|(number, _)| *number).collect(),
                new_mm2: mm2(ground.ink(&here).saturating_sub(again)),
                shift: back.map(|back| shifts.next(&platen, *back)),
            });
            heated.push(here);
        }
    }
    let [once, twice] = heated::once_and_twice(ground, &heated);
    (placements, mm2(twice) / mm2(once).max(f64::MIN_POSITIVE))
}

/// Square micrometres in square millimetres.
fn mm2(area: u64) -> f64 {
    num::float(i64::try_from(area).unwrap_or(i64::MAX)) / 1e6
}
