//! Every sheet names itself and can be checked, or is named for lacking it.

use std::collections::BTreeSet;

use seamwright_contract::layout::{Edge, Ink, Mark, MarkRole, Panel, TrimOrder};
use seamwright_contract::units::Units;
use seamwright_contract::{Page, Rect, Size};

use super::case::Case;
use super::dice::all_cases;
use super::{EDGES, text};
use crate::draft::box_of;
use crate::room::Room;
use crate::{draw, runs};

const ROLES: [MarkRole; 6] = [
    MarkRole::CutTick,
    MarkRole::Alignment,
    MarkRole::Label,
    MarkRole::UpArrow,
    MarkRole::CheckLetter,
    MarkRole::Ruler,
];

#[test]
fn every_panel_has_each_kind_or_is_named_for_lacking_it() {
    for (case, lay_up, dropped) in all_cases() {
        for panel in &lay_up.panels {
            for role in ROLES.into_iter().filter(|role| *role > MarkRole::Alignment) {
                let has = panel.marks.iter().any(|mark| mark.role == role);
                let named = dropped.get(&role).is_some_and(|panels| panels.contains(&panel.number));
                assert!(has != named, "{role:?} of panel {}: {case:?}", panel.number);
            }
            let words: Vec<&str> =
                panel.marks.iter().filter(|mark| mark.role == MarkRole::Label).filter_map(text).collect();
            if !words.is_empty() {
                let words = words.join(" ");
                let said = format!("panel {} of {}", panel.number, lay_up.panels.len());
                let place = format!("row {}, column {}", panel.row, panel.column);
                assert!(words.contains(&said) && words.contains(&place), "{words}");
                assert!(words.contains("ink side up") && words.contains("21"), "{words}");
                for edge in EDGES {
                    assert_eq!(words.contains(edge.word()), panel.trim.contains(&edge), "{words}");
                }
            }
        }
    }
}

#[test]
fn rulers_are_as_long_as_they_say() {
    let mut seen = BTreeSet::new();
    for (_, lay_up, _) in all_cases() {
        for panel in &lay_up.panels {
            let ruler: Vec<&Mark> = panel.marks.iter().filter(|mark| mark.role == MarkRole::Ruler).collect();
            let Some(said) = ruler.iter().find_map(|mark| text(mark)) else { continue };
            let said = said.trim_start_matches("this line is ").trim_end_matches(" long");
            let longest = ruler.iter().filter_map(|mark| match &mark.ink {
                Ink::Line { from, to, .. } => Some((to.x - from.x).abs().max((to.y - from.y).abs())),
                Ink::Polygon(_) | Ink::Text { .. } => None,
            });
            assert_eq!(longest.max(), Some(said.parse().unwrap()), "{said}");
            seen.insert(said.to_owned());
        }
    }
    assert_eq!(seen.into_iter().collect::<Vec<_>>(), ["100 mm", "2 in", "4 in", "50 mm"]);
}

#[test]
fn a_label_is_whole_and_seen_when_the_sheets_of_the_common_job_are_joined() {
    let case = Case::common();
    let (lay_up, _) = case.drawn("star-chart-3f9a21");
    for panel in &lay_up.panels {
        let cell = panel.on_page(&panel.cell, case.way());
        let beside = |place: Rect<Page>| {
            let level = cell.x <= place.x && place.right() <= cell.right();
            let outer = if panel.row == 1 { place.bottom() < cell.y } else { place.y > cell.bottom() };
            level && outer
        };
        let lines = panel.marks.iter().filter(|mark| mark.role == MarkRole::Label);
        assert!(lines.clone().count() > 0, "it has a label");
        assert!(lines.map(|mark| box_of(&mark.ink)).all(beside), "panel {}", panel.number);
    }
}

#[test]
fn the_common_job_drops_nothing() {
    for order in [TrimOrder::PanelsFirst, TrimOrder::RowsFirst] {
        for units in [Units::Inch, Units::Metric] {
            for mirrored in [true, false] {
                let case = Case { order, units, mirrored, ..Case::common() };
                let (lay_up, dropped) = case.drawn("star-chart-3f9a21");
                assert_eq!(lay_up.panels.len(), 6, "3 x 2 sheets of Letter landscape");
                assert!(dropped.is_empty(), "{dropped:?}");
                let ruler = |panel: &Panel| {
                    panel
                        .marks
                        .iter()
                        .any(|m| text(m).is_some_and(|t| t.contains("4 in") || t.contains("100 mm")))
                };
                assert!(lay_up.panels.iter().all(ruler), "the long ruler");
            }
        }
    }
}

#[test]
fn paper_without_slack_carries_no_mark_and_every_kind_is_named() {
    let case = Case::common();
    let live = case.live();
    let size = Size::new(live.width * 2 - case.lap, live.height * 2 - case.lap);
    let (lay_up, dropped) = Case { size, ..case }.drawn("star-chart-3f9a21");
    assert_eq!(lay_up.panels.len(), 4);
    assert!(lay_up.panels.iter().all(|panel| panel.marks.is_empty()), "no paper, no mark");
    assert_eq!(dropped.keys().copied().collect::<Vec<_>>(), ROLES);
    assert!(dropped.values().all(|panels| runs(panels) == "1 to 4"), "{dropped:?}");
}

#[test]
fn runs_of_numbers_are_drawn_together() {
    assert_eq!(runs(&[1, 2, 3, 5, 7, 8].into()), "1 to 3, 5, 7, 8");
}

#[test]
fn a_label_names_the_edges_in_the_order_in_which_they_are_cut() {
    let (lay_up, _) = Case::common().drawn("star-chart-3f9a21");
    let said = |trim: &[Edge]| {
        let mut lay_up = lay_up.clone();
        lay_up.panels[0].trim = trim.to_vec();
        let case = Case::common();
        draw(&mut lay_up, &case.words("star-chart-3f9a21"), case.way(), case.order, Room::All);
        let words: Vec<&str> = lay_up.panels[0].marks.iter().filter_map(text).collect();
        words.join(", ")
    };
    let first = said(&[Edge::Left, Edge::Bottom]);
    assert!(first.contains(", trim left and bottom, ink side up"), "{first}");
    let first = said(&[Edge::Left, Edge::Right, Edge::Top]);
    assert!(first.contains(", trim left, right and top, ink side up"), "{first}");
    assert!(said(&[]).contains(", no edge to trim, ink side up"));
}
