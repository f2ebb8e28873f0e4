//! The part about joining: in which order the panels are laid on each other, and what is cut when they are.

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::layout::{Edge, LayUp, Layout, SeamClass, TrimOrder};
use seamwright_contract::units::Units;
use seamwright_contract::{Paper, Rect};

use crate::blocks::{Block, Drawing, Figure, PanelCell, Step, StepMap};
use crate::content::table;
use crate::plan::{self, Move, Piece, RowPart, Taped};
use crate::{cut, say, words};

pub(crate) fn joining(layout: &Layout, lay_up: &LayUp, pieces: &[Piece], blocks: &mut Vec<Block>) {
    let rows_first = layout.lap.as_ref().is_some_and(|lap| lap.order == TrimOrder::RowsFirst);
    let mut growing = Growing::new(layout, lay_up, pieces);
    for (number, piece) in (1..).zip(pieces) {
        let of_piece = if pieces.len() > 1 { format!("Piece {number}: ") } else { String::new() };
        growing.begin(of_piece);
        for part in &piece.parts {
            part_steps(part, piece, rows_first, &mut growing);
        }
        if piece.has_corners && piece.panels.len() > 1 {
            growing.diagonals(piece, layout.order.units);
        }
    }
    growing.begin(String::new());
    growing.add(
        words::FINAL_TRIM.to_owned(),
        lay_up.panels.iter().map(|panel| (panel.number, panel.outer.clone())),
    );
    let mut said = Vec::new();
    if pieces.len() > 1 {
        said.push(several(pieces));
    }
    if !lay_up.seams.is_empty() {
        said.extend([words::MEET, words::TAPE_ON_BACK].map(str::to_owned));
    }
    said.push(words::STEPS_CAPTION.to_owned());
    blocks.push(Block::Together(vec![
        Block::Heading(words::JOIN.to_owned()),
        Block::Points(said),
        Block::Steps(growing.steps),
    ]));
    if !lay_up.seams.is_empty() {
        blocks.push(Block::Points(seams(lay_up)));
    }
    taping(layout, lay_up, blocks);
}

/// The steps, and what lies there after them.
struct Growing {
    whole: Rect<Paper>,
    cells: BTreeMap<u32, Rect<Paper>>,
    /// What stands before each step.
    of_piece: String,
    lying: BTreeSet<u32>,
    steps: Vec<Step>,
}

impl Growing {
    fn new(layout: &Layout, lay_up: &LayUp, pieces: &[Piece]) -> Self {
        let extents = pieces.iter().map(|piece| piece.extent);
        Self {
            whole: extents.reduce(|one, other| one.around(&other)).unwrap_or_default(),
            cells: lay_up
                .panels
                .iter()
                .map(|panel| (panel.number, layout.way().to_paper(&panel.cell)))
                .collect(),
            of_piece: String::new(),
            lying: BTreeSet::new(),
            steps: Vec::new(),
        }
    }

    fn begin(&mut self, of_piece: String) {
        self.of_piece = of_piece;
    }

    /// A step at which these panels are laid, or cut, at these edges.
    fn add(&mut self, text: String, laid: impl Iterator<Item = (u32, Vec<Edge>)>) {
        let laid: Vec<PanelCell> = laid.filter_map(|(number, thick)| self.cell(number, thick)).collect();
        let is_laid = |number: &u32| laid.iter().any(|cell| cell.number == *number);
        let lying = self.lying.iter().filter(|number| !is_laid(number));
        let lying = lying.filter_map(|number| self.cell(*number, Vec::new())).collect();
        self.lying.extend(laid.iter().map(|cell| cell.number));
        self.push(text, StepMap { whole: self.whole, lying, laid, diagonals: None });
    }

    /// The step at which a joined piece is measured.
    fn diagonals(&mut self, piece: &Piece, units: Units) {
        let lying = self.lying.iter().filter_map(|number| self.cell(*number, Vec::new())).collect();
        let text = format!(
            "{}: {} each.",
            words::DIAGONALS,
            say::length(units, plan::diagonal(piece.extent.size()))
        );
        self.push(
            text,
            StepMap { whole: self.whole, lying, laid: Vec::new(), diagonals: Some(piece.extent) },
        );
    }

    fn cell(&self, number: u32, thick: Vec<Edge>) -> Option<PanelCell> {
        self.cells.get(&number).map(|cell| PanelCell { number, cell: *cell, thick })
    }

    fn push(&mut self, text: String, map: StepMap) {
        let text = say::begun(&format!("{}{text}", self.of_piece));
        self.steps.push(Step { text, drawing: Drawing::Step(map) });
    }
}

fn several(pieces: &[Piece]) -> String {
    let panels: Vec<String> = (1..)
        .zip(pieces)
        .map(|(number, piece)| format!("piece {number} is {}", say::numbered("panel", &piece.panels)))
        .collect();
    format!("The lay-up is in {} pieces that do not touch: {}.", pieces.len(), say::joined(&panels))
}

/// What is done with a row part, each step beginning small: something may stand before it.
fn part_steps(part: &RowPart, piece: &Piece, rows_first: bool, growing: &mut Growing) {
    let beneath: Vec<&RowPart> = part
        .on
        .iter()
        .filter_map(|on| piece.parts.iter().find(|part| part.panels.first() == Some(on)))
        .collect();
    if part.panels.len() > 1 || beneath.is_empty() {
        growing.add(laid(part), part.moves.iter().map(|one| (one.panel(), one.lapping())));
    }
    if let Some(text) = long_cuts(part).filter(|_| rows_first) {
        growing.add(text, part.panels.iter().map(|panel| (*panel, part.long_cut_edges(*panel))));
    }
    if !beneath.is_empty() {
        let panel = match *part.panels {
            [panel] if part.is_row => format!(" (panel {panel})"),
            _ => String::new(),
        };
        let text = format!("lay {}{panel} on {}. {}", name(part), names(&beneath), words::ON_THE_BACK);
        growing.add(text, part.panels.iter().map(|panel| (*panel, part.long_cut_edges(*panel))));
    }
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
    said.extend(tape_or_not(lay_up));
    said
}

/// Where the tape goes, drawn and in figures.
fn taping(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) {
    if lay_up.tape.is_empty() {
        return;
    }
    let way = layout.way();
    let mut map = cut::map(layout, lay_up);
    map.tape = lay_up.tape.iter().map(|spot| plan::line_on_paper(way, spot.line)).collect();
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Panels(map)),
        caption: words::TAPE_CAPTION.to_owned(),
        words: Vec::new(),
        facts: Vec::new(),
    })));
    let rows = plan::taped(lay_up, way).iter().map(|taped| tape(taped, layout.order.units)).collect();
    blocks.push(table(&words::TAPE_HEADS, rows));
}

/// Where the tape of a seam or an outer edge goes.
fn tape(taped: &Taped<'_>, units: Units) -> Vec<String> {
    let spots: Vec<String> =
        taped.spots.iter().map(|spot| spot.map(|at| say::length(units, at)).join(" to ")).collect();
    let end = match taped.edge {
        Edge::Left | Edge::Right => "top",
        Edge::Top | Edge::Bottom => "left",
    };
    let what = match *taped.holds {
        [low, high] => format!("seam {}", say::pairs(&[[low, high]])),
        _ => format!("panel {} on the blank, {} edge", say::list(taped.holds), taped.edge.word()),
    };
    vec![what, end.to_owned(), say::joined(&spots)]
}

fn tape_or_not(lay_up: &LayUp) -> Vec<String> {
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
