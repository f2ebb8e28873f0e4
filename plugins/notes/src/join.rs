//! The second part of the work: in which order the panels are laid on each other, and what is cut when they are.

use seamwright_contract::layout::{Edge, LayUp, Layout, SeamClass, TrimOrder};
use seamwright_contract::units::Units;

use crate::blocks::Block;
use crate::content::table;
use crate::plan::{self, Move, OuterStrip, Piece, RowPart};
use crate::{say, words};

pub(crate) fn joining(layout: &Layout, lay_up: &LayUp, pieces: &[Piece], blocks: &mut Vec<Block>) {
    let units = layout.order.units;
    let rows_first = layout.lap.as_ref().is_some_and(|lap| lap.order == TrimOrder::RowsFirst);
    blocks.push(Block::Heading(words::JOIN.to_owned()));
    if pieces.len() > 1 {
        blocks.push(Block::Points(vec![several(pieces)]));
    }
    let mut steps = Vec::new();
    for (number, piece) in (1..).zip(pieces) {
        let of_piece = if pieces.len() > 1 { format!("Piece {number}: ") } else { String::new() };
        let said = piece.parts.iter().flat_map(|part| part_steps(part, piece, rows_first));
        let diagonals = (piece.has_corners && piece.panels.len() > 1).then(|| {
            format!("{}: {} each.", words::DIAGONALS, units.show(plan::diagonal(piece.extent.size())))
        });
        steps.extend(said.chain(diagonals).map(|step| say::begun(&format!("{of_piece}{step}"))));
    }
    let outer = plan::outer_strips(lay_up);
    let alike = is_alike(&outer);
    steps.push(final_trim(&outer, alike, units));
    blocks.push(Block::Steps(steps));
    if !alike {
        let row = |strip: &OuterStrip| {
            vec![strip.edge.word().to_owned(), units.show(strip.paper), say::list(&strip.panels)]
        };
        blocks.push(table(&words::FINAL_TRIM_HEADS, outer.iter().map(row).collect()));
    }
    if !lay_up.seams.is_empty() {
        blocks.push(Block::Points(seams(lay_up)));
    }
}

fn several(pieces: &[Piece]) -> String {
    let panels: Vec<String> = (1..)
        .zip(pieces)
        .map(|(number, piece)| format!("piece {number} is {}", say::numbered("panel", &piece.panels)))
        .collect();
    format!("The lay-up is in {} pieces that do not touch: {}.", pieces.len(), say::joined(&panels))
}

/// What is done with a row part, each beginning small: something may stand before it.
fn part_steps(part: &RowPart, piece: &Piece, rows_first: bool) -> Vec<String> {
    let mut steps = Vec::new();
    let name = name(part);
    let beneath: Vec<&RowPart> = part
        .on
        .iter()
        .filter_map(|on| piece.parts.iter().find(|part| part.panels.first() == Some(on)))
        .collect();
    if part.panels.len() > 1 || beneath.is_empty() {
        steps.push(laid(part));
    }
    if rows_first {
        steps.extend(long_cuts(part));
    }
    if !beneath.is_empty() {
        let panel = match *part.panels {
            [panel] if part.is_row => format!(" (panel {panel})"),
            _ => String::new(),
        };
        steps.push(format!("lay {name}{panel} on {}. {}", names(&beneath), words::ON_THE_BACK));
    }
    steps
}

/// How the panels of a row part are laid on each other.
fn laid(part: &RowPart) -> String {
    let mut put: Vec<u32> = part
        .moves
        .iter()
        .filter_map(|one| match one {
            Move::Put(panel) => Some(*panel),
            Move::On(..) => None,
        })
        .collect();
    put.sort_unstable();
    let on: Vec<String> = part
        .moves
        .iter()
        .filter_map(|one| match one {
            Move::Put(_) => None,
            Move::On(panel, on) => Some(format!("{panel} on {}", say::list(on))),
        })
        .collect();
    let down = format!("in row {}, lay {} down, ink side up", part.row, say::numbered("panel", &put));
    if on.is_empty() {
        format!("{down}.")
    } else {
        format!("{down}, then {}. {}", on.join(", "), words::ON_THE_BACK)
    }
}

fn long_cuts(part: &RowPart) -> Option<String> {
    let cuts: Vec<String> = part
        .long_cuts
        .iter()
        .map(|(edge, panels)| {
            let of = if *panels == part.panels { name(part) } else { say::numbered("panel", panels) };
            format!("the {} edge of {of}", edge.word())
        })
        .collect();
    let each = if cuts.len() > 1 { ", each" } else { "" };
    (!cuts.is_empty()).then(|| format!("cut {}{each} in one long cut.", say::joined(&cuts)))
}

/// `row 2`, or `panels 4 and 5 of row 2` where that is not all of it.
fn name(part: &RowPart) -> String {
    if part.is_row {
        say::numbered("row", &[part.row])
    } else {
        format!("{} of row {}", say::numbered("panel", &part.panels), part.row)
    }
}

fn names(parts: &[&RowPart]) -> String {
    if parts.iter().all(|part| part.is_row) {
        say::numbered("row", &parts.iter().map(|part| part.row).collect::<Vec<_>>())
    } else {
        say::joined(&parts.iter().map(|part| name(part)).collect::<Vec<_>>())
    }
}

/// Whether one figure holds for each side.
fn is_alike(outer: &[OuterStrip]) -> bool {
    [Edge::Left, Edge::Top, Edge::Right, Edge::Bottom]
        .iter()
        .all(|edge| outer.iter().filter(|strip| strip.edge == *edge).count() <= 1)
}

fn final_trim(outer: &[OuterStrip], alike: bool, units: Units) -> String {
    if !alike {
        return format!("{}. The table says how much on which panels.", words::FINAL_TRIM);
    }
    let sides: Vec<String> =
        outer.iter().map(|strip| format!("{} {}", strip.edge.word(), units.show(strip.paper))).collect();
    format!("{}: {} of paper.", words::FINAL_TRIM, sides.join(", "))
}

/// Which seams need care, and where they are taped.
fn seams(lay_up: &LayUp) -> Vec<String> {
    let of = |class| {
        let seams = lay_up.seams.iter().filter(|seam| seam.class == class);
        seams.map(|seam| seam.between).collect::<Vec<_>>()
    };
    let which = |some: &[[u32; 2]]| {
        if some.len() == lay_up.seams.len() { words::ALL.to_owned() } else { say::pairs(some) }
    };
    let (busy, bare) = (of(SeamClass::Busy), of(SeamClass::Bare));
    let mut said = Vec::new();
    if !busy.is_empty() {
        said.push(format!("{}: {}. {}", words::BUSY_SEAMS, which(&busy), words::TAKE_CARE));
    }
    if !bare.is_empty() {
        said.push(format!("{}: {}.", words::BARE_SEAMS, which(&bare)));
    }
    match lay_up.seams.len() - busy.len() - bare.len() {
        0 => {}
        count if count == lay_up.seams.len() => said.push(words::ALL_QUIET.to_owned()),
        _ => said.push(words::QUIET_SEAMS.to_owned()),
    }
    said.extend([words::MEET, words::TAPE_ON_BACK].map(str::to_owned));
    said.extend(tape(lay_up));
    said
}

fn tape(lay_up: &LayUp) -> Vec<String> {
    let has_box = |pair: &[u32; 2]| lay_up.tape.iter().any(|spot| spot.holds == *pair);
    let (with, without): (Vec<_>, Vec<_>) = lay_up.seams.iter().map(|seam| seam.between).partition(has_box);
    let at_boxes = || words::TAPE_AT_BOXES.to_owned();
    let elsewhere = |which: String| format!("{}: {which}. {}", words::WITHOUT_BOX, words::TAPE_ALL_ALONG);
    match (with.as_slice(), without.as_slice()) {
        ([], _) => vec![elsewhere(words::ALL.to_owned())],
        (_, []) => vec![at_boxes()],
        // The shorter list is the one to read.
        (with, without) if with.len() < without.len() => {
            vec![at_boxes(), elsewhere(format!("{} {}", words::ALL_BUT, say::pairs(with)))]
        }
        (_, without) => vec![at_boxes(), elsewhere(say::pairs(without))],
    }
}
