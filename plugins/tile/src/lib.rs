//! `tile`: the design cut into panels on the fewest sheets, with seams where they show least.
//!
//! Only what is inked takes paper. The ink map, as it lies on paper (`ground`), is cut in rows (`rows`), each row in
//! panels (`row`), exactly: fewest sheets first, then the least ink and detail under the seams. Which paper, lying which
//! way, is tried out (`choice`). The best plan becomes faces, cells and pages (`lay`), with what lies on what (`stack`),
//! a score for every seam (`weigh`) and places for tape (`tape`). Everything is reckoned in paper space, ink side up, as
//! the lay-up is put together, and carried over to the face at the end.

mod choice;
mod ground;
mod lay;
mod row;
mod rows;
mod stack;
mod tape;
#[cfg(test)]
mod tests;
mod weigh;

use seamwright_contract::catalogue::Delivers;
use seamwright_contract::ink::InkMap;
use seamwright_contract::layout::{LayUp, Layout, OneMore, SeamClass};
use seamwright_contract::num;
use seamwright_contract::plugin::{Fact, Stage, StageEntry};
use seamwright_contract::settings::{DISTANCE, Node, Read as _};
use seamwright_contract::{Fault, Length, Rect};

use choice::Sheet;
use ground::Ground;
use rows::Plan;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: "tile",
    about: "cuts the design into panels on the fewest sheets, with seams where they show least",
    needs: &[Fact::Design, Fact::Lap],
    gives: &[Fact::Panels],
    before: &[],
    example: "{tile: {room_for_marks: 8mm}}",
    parse,
    order: None,
};

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let mut fields = node.fields()?;
    let room = fields.get("room_for_marks").map_or(Some(Length::ZERO), |node| room(&node));
    fields.finish();
    Some(Box::new(Tile { room_for_marks: room? }))
}

/// A strip wider than this leaves no sheet to print on.
const TOO_WIDE: Length = Length::from_mm(100);

fn room(node: &Node<'_>) -> Option<Length> {
    node.looks(DISTANCE);
    let room = Length::read(node)?;
    if !(Length::ZERO..TOO_WIDE).contains(&room) {
        node.complain(
            format!("a strip of {room} cannot be kept free for marks"),
            "Write a length from 0mm to less than 100mm; 8mm holds ticks and a label.",
        );
        return None;
    }
    Some(room)
}

#[derive(Debug)]
struct Tile {
    /// How much of a sheet's printable width and height is kept free, even if that takes more sheets.
    room_for_marks: Length,
}

impl Stage for Tile {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let ink = layout.ink()?;
        say_what_is_faint(&mut layout, &ink);
        let (design, lap, way) = (layout.design()?.clone(), *layout.lap()?, layout.way());
        let ground = Ground::new(&ink, &design.outline, &layout.order.keep_clear, way).ok_or_else(bare)?;
        let choice = choice::best(&layout.order, &ground, lap.lap, self.room_for_marks)?;
        let lay = |plan: &Plan| lay::lay_up(&choice.sheet, plan, &ground, &lap, way, design.size);
        let mut lay_up = lay(&choice.plan);
        layout.remark(ENTRY.name, choice.why());
        if let Some(said) = drawn_longer(&choice.sheet) {
            layout.remark(ENTRY.name, said);
        }
        let more = layout.order.extra_sheets.max(1);
        if busy(&lay_up) > 0
            && let Some(plan) = choice::with_more(&choice, &ground, lap.lap, more)
        {
            let fewest = (lay_up, choice.plan.cost.crossed);
            lay_up = offer(&mut layout, fewest, (lay(&plan), plan.cost.crossed));
        }
        let (blank, placed) = (layout.order.blank.outline(), layout.placed());
        let size = blank.bounds.size();
        let blank = blank.around(Rect::new(-placed.x, -placed.y, size.width, size.height));
        lay_up.tape = tape::spots(&lay_up, &ground, &blank, way);
        lay_up.weighed = choice.weighed(&ground);
        if let Some(said) = layout.order.printer.delivers.and_then(|delivers| stacked(&mut lay_up, delivers))
        {
            layout.remark(ENTRY.name, said);
        }
        layout.lay_up = Some(lay_up);
        Ok(layout)
    }
}

fn bare() -> Fault {
    Fault::artwork(
        "The artwork prints nothing: all of it is bare, or so nearly white that it would not show.",
        "Save the picture with its colours, or check that it is not empty or wholly transparent.",
    )
}

/// What the file's lengths are, where they are not those of the paper.
fn drawn_longer(sheet: &Sheet) -> Option<String> {
    (!sheet.scale.is_plain()).then(|| {
        let [x, y] = sheet.scale.lying(sheet.orientation);
        format!(
            "Lengths are drawn {x:.5} times as wide and {y:.5} times as high as they come out: so this printer was measured on {}.",
            sheet.paper.name
        )
    })
}

/// Gives every panel the page from which the stack comes out with the first panel on top; says how, if there are several.
fn stacked(lay_up: &mut LayUp, delivers: Delivers) -> Option<String> {
    let count = num::count(lay_up.panels.len());
    for panel in &mut lay_up.panels {
        panel.page = delivers.page(panel.number, count);
    }
    (count > 1).then(|| match delivers {
        Delivers::FaceUp => format!(
            "The pages run backwards: page 1 is panel {count}, and page {count} is panel 1. This printer delivers face up, so the stack comes out with panel 1 on top, ink up, and the others below it in their order."
        ),
        Delivers::FaceDown => "The pages run as the panels: page 1 is panel 1. This printer delivers face down, so turn the whole stack over when it is printed: then panel 1 lies on top, ink up, and the others below it in their order.".to_owned(),
    })
}

fn busy(lay_up: &LayUp) -> u32 {
    num::count(lay_up.seams.iter().filter(|seam| seam.class == SeamClass::Busy).count())
}

/// More sheets are taken where the order allows them, if all seams together then cross at least a quarter less; otherwise
/// one is proposed, if that also frees a seam from busy artwork.
fn offer(
    layout: &mut Layout,
    (fewest, crossed): (LayUp, u64),
    (other, other_crossed): (LayUp, u64),
) -> LayUp {
    let (now, then, sheets) = (busy(&fewest), busy(&other), num::count(other.panels.len()));
    let taken = layout.order.extra_sheets > 0;
    if other_crossed > crossed - crossed / 4 || (!taken && then >= now) {
        return fewest;
    }
    let seams = |count| if count == 1 { "1 seam runs".to_owned() } else { format!("{count} seams run") };
    let (now_said, then_said) = (seams(now), if then == 0 { "none".to_owned() } else { then.to_string() });
    let few = fewest.panels.len();
    layout.remark(
        ENTRY.name,
        if taken {
            format!("{sheets} sheets were taken, as the order allows, and not the {few} needed, so that seams cross less: {now_said} through busy artwork with those, {then_said} with these.")
        } else {
            format!("{now_said} through busy artwork; with one sheet more, {sheets} in all, {then_said} would. To have that, write `extra_sheets: 1` in the order.")
        },
    );
    let one_more = Some(OneMore { sheets, busy: [now, then], taken });
    if taken { LayUp { one_more, ..other } } else { LayUp { one_more, ..fewest } }
}

/// The least share of the design that is worth a word when it is nearly white.
const WORTH_SAYING: f64 = 0.01;

fn say_what_is_faint(layout: &mut Layout, ink: &InkMap) {
    if ink.faint >= WORTH_SAYING {
        layout.warn(
            ENTRY.name,
            format!(
                "About {:.0} % of the design is nearly white, but not white: it prints as a faint tint. Make it white in the artwork, or put the stage `bare` into the list, before `overlap`.",
                (ink.faint * 100.0).max(1.0)
            ),
        );
    }
}
