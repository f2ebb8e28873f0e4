//! `frame`: which part of the artwork is used, and which way up.
//!
//! What an order says under `frame` comes before everything else is decided: a quarter turn or more, clockwise, and then what
//! is cut off at each side of the picture as it stands after that. Photographs that say how the camera was held stand upright
//! before it. Paper is tried upright and lying by `tile`, so no turn is needed to save sheets; `auto` turns a picture whose
//! longer side would lie along the design's shorter one.

mod form;
mod framed;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use seamwright_contract::layout::{Drawing, Layout};
use seamwright_contract::plugin::{Fact, Stage, StageEntry, no_settings};
use seamwright_contract::settings::Node;
use seamwright_contract::turn::Turn;
use seamwright_contract::{Fault, Length, Size, num};

use crate::form::{Amount, Turning, Wanted};
use crate::framed::Framed;

/// This stage, as the registry lists it.
pub const ENTRY: StageEntry = StageEntry {
    name: NAME,
    about: "turns the artwork and cuts off what is not to be used",
    needs: &[],
    gives: &[],
    before: &[Fact::Design],
    example: "frame",
    parse,
    order: Some(|node| form::read(node).map(drop)),
};

const NAME: &str = "frame";

fn parse(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Frame))
}

#[derive(Debug)]
struct Frame;

impl Stage for Frame {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let Some(wanted) = layout.order.said_to(NAME, form::read)? else { return Ok(layout) };
        let own = layout.picture.size();
        let own_sides =
            layout.artwork.drawing.map_or([f64::from(own.width), f64::from(own.height)], |drawing| {
                [drawing.size.width, drawing.size.height].map(|side| num::float(side.um()))
            });
        let turn = match wanted.turning {
            Turning::By(turn) => turn,
            Turning::Auto => lengthwise(own_sides, layout.order.size),
        };
        let cut = cut(&layout, &wanted, turn)?;
        if turn.upright() && cut.iter().all(|share| *share <= 0.0) {
            return Ok(layout);
        }
        if let Some(drawing) = layout.artwork.drawing {
            layout.artwork.drawing = Some(framed(drawing, turn, cut));
        }
        layout.picture = Arc::new(Framed::new(layout.picture, turn, cut));
        layout.remark(NAME, said(turn, cut));
        Ok(layout)
    }
}

/// A quarter, where picture and design are longer in different directions.
fn lengthwise([width, height]: [f64; 2], design: Size) -> Turn {
    let (along, across) = (design.width > design.height, design.width < design.height);
    if along && width < height || across && width > height { Turn::QUARTER } else { Turn::UPRIGHT }
}

/// The shares that are cut off at the left, top, right and bottom of the turned picture.
fn cut(layout: &Layout, wanted: &Wanted, turn: Turn) -> Result<[f64; 4], Fault> {
    let size = turn.size(layout.picture.size());
    let drawn = layout.artwork.drawing.is_some();
    let mut cut = [0.0; 4];
    for ((share, amount), side) in
        cut.iter_mut().zip(wanted.cut).zip([size.width, size.height, size.width, size.height])
    {
        *share = match amount {
            Amount::Share(share) => share,
            Amount::Pixels(0) => 0.0,
            Amount::Pixels(_) if drawn => return Err(no_pixels()),
            Amount::Pixels(pixels) => f64::from(pixels) / f64::from(side.max(1)),
        };
    }
    let [left, top, right, bottom] = cut;
    let least = |side: u32| 1.0 / f64::from(side.max(1));
    if left + right + least(size.width) > 1.0 || top + bottom + least(size.height) > 1.0 {
        return Err(Fault::order(
            format!("Of the picture of {} x {} pixels the frame leaves nothing.", size.width, size.height),
            "Cut off less: what `left` and `right`, and `top` and `bottom`, say together stays below all of it.",
        ));
    }
    Ok(cut)
}

fn no_pixels() -> Fault {
    Fault::order(
        "The frame counts pixels, but the artwork is a drawing and has none.",
        "Write shares, such as `left: 5%`.",
    )
}

/// What is left of a drawing.
fn framed(drawing: Drawing, turn: Turn, [left, top, right, bottom]: [f64; 4]) -> Drawing {
    let size = if turn.is_sideways() { drawing.size.turned() } else { drawing.size };
    let part = |side: Length, share: f64| Length::from_um(num::round(num::float(side.um()) * share).max(1));
    let size = Size::new(part(size.width, 1.0 - left - right), part(size.height, 1.0 - top - bottom));
    Drawing { size, ..drawing }
}

/// In words, if it is any.
fn words(turn: Turn) -> Option<&'static str> {
    match turn {
        Turn::QUARTER => Some("turned a quarter clockwise"),
        Turn::HALF => Some("turned upside down"),
        Turn::BACK => Some("turned a quarter counterclockwise"),
        _ => None,
    }
}

/// In words, for the notes.
fn said(turn: Turn, cut: [f64; 4]) -> String {
    let mut said = Vec::new();
    said.extend(words(turn).map(str::to_owned));
    let sides = ["left", "top", "right", "bottom"].into_iter().zip(cut).filter(|(_, share)| *share > 0.0);
    let sides: Vec<String> =
        sides.map(|(side, share)| format!("{:.1} % at the {side}", share * 100.0)).collect();
    if !sides.is_empty() {
        said.push(format!("without {}", sides.join(", ")));
    }
    format!("The picture is used {}.", said.join(", "))
}
