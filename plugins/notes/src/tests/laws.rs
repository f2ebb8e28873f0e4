//! What must hold for every lay-up there can be.

use std::collections::{BTreeMap, BTreeSet};

use seamwright_contract::layout::{Edge, LayUp};
use seamwright_contract::{Length, Page, Paper, Rect, Size};
use seamwright_drawing::page::Segment;
use seamwright_drawing::{Canvas, Item, Style};

use super::fixture::{cases, layout, sliver};
use super::{blocks_of, pages_of, words_of};
use crate::blocks::{Block, Drawing, PanelCell};
use crate::plan::{self, Move, Piece};
use crate::{cut, maps};

/// The lay-up of each case and its pieces.
fn planned() -> Vec<(LayUp, Vec<Piece>)> {
    let plan = |case| {
        let layout = layout(case);
        let lay_up = layout.lay_up.clone().unwrap();
        let pieces = plan::pieces(&lay_up, layout.way());
        (lay_up, pieces)
    };
    cases().iter().map(plan).collect()
}

#[test]
fn every_panel_with_every_edge_that_is_cut_stands_in_the_words_and_on_the_pages() {
    for case in cases() {
        let (layout, words) = (layout(&case), words_of(&case));
        let pages = pages_of(&case);
        for panel in &layout.lay_up.unwrap().panels {
            let head = format!("Panel: {}; Row, column: {}, {};", panel.number, panel.row, panel.column);
            let line = words.lines().find(|line| line.starts_with(&head)).unwrap();
            for (edge, name) in plan::EDGES.into_iter().zip(["Left", "Top", "Right", "Bottom"]) {
                let said = line.split("; ").find_map(|cell| cell.strip_prefix(&format!("{name}: "))).unwrap();
                assert_eq!(said.starts_with("CUT "), panel.trim.contains(&edge), "{}: {line}", case.what);
                assert_eq!(said.starts_with("last "), panel.outer.contains(&edge), "{}: {line}", case.what);
            }
            // On the maps of lay-up and blank its number is bold.
            let drawn = pages.iter().flat_map(|page| &page.items).filter(|item| {
                matches!(item, Item::Text { style: Style::Bold, text, .. } if *text == panel.number.to_string())
            });
            assert!(drawn.count() >= 2, "{}: panel {} is not drawn", case.what, panel.number);
        }
    }
}

#[test]
fn joining_puts_no_panel_under_one_already_laid_and_forgets_none() {
    for (lay_up, pieces) in planned() {
        let below: BTreeMap<u32, &Vec<u32>> =
            lay_up.panels.iter().map(|panel| (panel.number, &panel.on_top_of)).collect();
        let mut joined = BTreeSet::new();
        for part in pieces.iter().flat_map(|piece| &piece.parts) {
            let mut laid = BTreeSet::new();
            for one in &part.moves {
                let (panel, on) = match one {
                    Move::Put(panel) => (*panel, Vec::new()),
                    Move::On(panel, on) => (*panel, on.clone()),
                };
                assert!(
                    laid.iter().all(|above| !below[above].contains(&panel)),
                    "{panel} must go under {laid:?}"
                );
                let mine: Vec<u32> =
                    below[&panel].iter().copied().filter(|number| part.panels.contains(number)).collect();
                assert_eq!(on, mine, "what panel {panel} lies on");
                laid.insert(panel);
            }
            assert!(laid.iter().eq(&part.panels), "all of the part are laid");
            for panel in &laid {
                assert!(
                    joined.iter().all(|above: &u32| !below[above].contains(panel)),
                    "{panel} must go under"
                );
                assert!(below[panel].iter().all(|number| laid.contains(number) || joined.contains(number)));
            }
            joined.extend(laid);
        }
        assert!(
            joined.iter().copied().eq(lay_up.panels.iter().map(|panel| panel.number)),
            "none is forgotten"
        );
    }
}

#[test]
fn pieces_do_not_touch_and_hang_together() {
    for (lay_up, pieces) in planned() {
        let piece_of = |number: u32| pieces.iter().position(|piece| piece.panels.contains(&number)).unwrap();
        for seam in &lay_up.seams {
            assert_eq!(piece_of(seam.between[0]), piece_of(seam.between[1]));
        }
        // A piece of n panels hangs together by at least n - 1 seams.
        for piece in &pieces {
            let seams = lay_up.seams.iter().filter(|seam| piece.panels.contains(&seam.between[0])).count();
            assert!(seams + 1 >= piece.panels.len());
        }
        let all: usize = pieces.iter().map(|piece| piece.panels.len()).sum();
        assert_eq!(all, lay_up.panels.len());
    }
}

#[test]
fn strips_are_what_the_sheet_has_beyond_the_cell() {
    for case in cases() {
        let layout = layout(&case);
        let (lay_up, way) = (layout.lay_up.as_ref().unwrap(), layout.way());
        for panel in &lay_up.panels {
            let (sheet, cell) = (plan::sheet(panel, lay_up, way), way.to_paper(&panel.cell));
            let beyond = [
                cell.x - sheet.x,
                cell.y - sheet.y,
                sheet.right() - cell.right(),
                sheet.bottom() - cell.bottom(),
            ];
            for (edge, beyond) in plan::EDGES.into_iter().zip(beyond) {
                if !panel.trim.contains(&edge) {
                    let strip = plan::strip(panel, edge, lay_up.page, way);
                    assert_eq!(strip, beyond, "panel {}, {edge:?}", panel.number);
                }
            }
        }
    }
}

#[test]
fn every_step_draws_what_it_lays_and_all_that_lies_there() {
    for case in cases() {
        let blocks = blocks_of(&case);
        let steps = blocks.iter().find_map(|block| match block {
            Block::Steps(steps) => Some(steps),
            _ => None,
        });
        let mut before: BTreeSet<u32> = BTreeSet::new();
        for step in steps.unwrap() {
            let Drawing::Step(map) = &step.drawing else { panic!("a step is drawn as one") };
            let numbers = |cells: &[PanelCell]| cells.iter().map(|cell| cell.number).collect::<BTreeSet<_>>();
            let (lying, laid) = (numbers(&map.lying), numbers(&map.laid));
            assert!(lying.is_disjoint(&laid));
            assert!(before.is_subset(&(&lying | &laid)), "{}: {}", case.what, step.text);
            before = &lying | &laid;
        }
        assert_eq!(before.len(), layout(&case).lay_up.unwrap().panels.len());
    }
}

#[test]
fn a_panel_too_thin_for_its_number_has_it_beside_it() {
    let layout = layout(&sliver());
    let map = Drawing::Panels(cut::map(&layout, layout.lay_up.as_ref().unwrap()));
    let mm = Length::from_mm;
    let mut canvas = Canvas::new(Size::new(mm(210), mm(297)));
    maps::draw(&map, &Rect::new(mm(15), mm(15), mm(99), mm(74)), &mut canvas);
    // Cells are filled white, and so is tape.
    let white: Vec<Rect<Page>> = canvas.items.iter().filter_map(filled_white).collect();
    for (at, words) in canvas.text_boxes() {
        let hit = white.iter().any(|cell| cell.intersection(&at).is_some());
        if let Ok(panel) = words.parse::<u32>() {
            assert_eq!(hit, panel != 1, "panel {panel}");
        }
    }
}

/// The box of a white area.
fn filled_white(item: &Item) -> Option<Rect<Page>> {
    let Item::Fill(path, 255) = item else { return None };
    let corners = path.segments.iter().filter_map(|segment| match segment {
        Segment::Line(to) => Some(*to),
        Segment::Curve(..) => None,
    });
    let boxes = corners.map(|corner| Rect::new(corner.x, corner.y, Length::ZERO, Length::ZERO));
    boxes.reduce(|one, other| one.around(&other))
}

#[test]
fn sheets_on_the_map_end_at_cut_edges_and_hold_their_cells() {
    for case in cases() {
        let layout = layout(&case);
        let (lay_up, way) = (layout.lay_up.as_ref().unwrap(), layout.way());
        for panel in &lay_up.panels {
            let (sheet, cell): (Rect<Paper>, _) =
                (plan::sheet(panel, lay_up, way), way.to_paper(&panel.cell));
            assert!(sheet.contains(&cell));
            let ends = [
                (Edge::Left, sheet.x == cell.x),
                (Edge::Top, sheet.y == cell.y),
                (Edge::Right, sheet.right() == cell.right()),
                (Edge::Bottom, sheet.bottom() == cell.bottom()),
            ];
            for (edge, flush) in ends {
                assert_eq!(
                    flush,
                    panel.trim.contains(&edge),
                    "{}: panel {}, {edge:?}",
                    case.what,
                    panel.number
                );
            }
        }
    }
}
