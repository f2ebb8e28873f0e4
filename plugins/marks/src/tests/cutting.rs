//! No mark is left on paper that is pressed, none touches what it must not, and every cut can be found.

use seamwright_contract::layout::{Edge, LayUp, Mark, MarkRole, Panel, TrimOrder};
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Page, Paper, Point, Rect, Sides, Size};

use super::case::{Case, Row};
use super::dice::{all_cases, even_cases, stepped_cases};
use super::{EDGES, beyond, edge_of, ends, is_upright, laid, lines, on_paper, opposite, text, touch};
use crate::draft::box_of;

/// What a cut along these edges of its cell leaves of a panel's paper.
fn cut(paper: &Rect<Paper>, cell: &Rect<Paper>, edges: &[Edge]) -> Rect<Paper> {
    let side = |edge| edge_of(if edges.contains(&edge) { cell } else { paper }, edge);
    Rect::from_edges(side(Edge::Left), side(Edge::Top), side(Edge::Right), side(Edge::Bottom))
}

/// What a cut along an edge of what is left takes off.
fn off(paper: &Rect<Paper>, left: &Rect<Paper>, edge: Edge) -> Rect<Paper> {
    let at = edge_of(left, edge);
    match edge {
        Edge::Left => Rect::from_edges(paper.x, paper.y, at, paper.bottom()),
        Edge::Top => Rect::from_edges(paper.x, paper.y, paper.right(), at),
        Edge::Right => Rect::from_edges(at, paper.y, paper.right(), paper.bottom()),
        Edge::Bottom => Rect::from_edges(paper.x, at, paper.right(), paper.bottom()),
    }
}

/// A panel's paper on the lay-up when the rows are joined, and after the final trim.
fn papers(case: &Case, panel: &Panel) -> [Rect<Paper>; 2] {
    let page = on_paper(panel, case.way(), &Rect::of_size(case.page));
    let cell = case.way().to_paper(&panel.cell);
    let joined = cut(&page, &cell, &panel.trim);
    [joined, cut(&joined, &cell, &panel.outer)]
}

#[test]
fn no_mark_is_left_when_all_is_cut_and_none_touches_the_artwork() {
    let (mut panels, mut marks) = (0, 0);
    for (case, lay_up, _) in all_cases() {
        for panel in &lay_up.panels {
            panels += 1;
            let [_, pressed] = papers(case, panel);
            for mark in &panel.marks {
                marks += 1;
                let place = box_of(&mark.ink);
                assert!(lay_up.live.contains(&place), "{mark:?} cannot be printed: {case:?}");
                let number = panel.number;
                assert!(!touch(&panel.printed(), &place), "{mark:?} touches panel {number}: {case:?}");
                let on_lay_up = on_paper(panel, case.way(), &place);
                assert!(!touch(&pressed, &on_lay_up), "{mark:?} stays on panel {number}: {case:?}");
            }
        }
    }
    assert!(panels > 3_000 && marks > 30_000, "{panels} panels and {marks} marks are too few to judge by");
}

#[test]
fn what_the_final_trim_takes_has_no_mark_over_or_under_paper_that_stays() {
    let mut steps = 0;
    for (case, lay_up, _) in all_cases() {
        let papers: Vec<[Rect<Paper>; 2]> = lay_up.panels.iter().map(|panel| papers(case, panel)).collect();
        for (panel, [joined, pressed]) in lay_up.panels.iter().zip(&papers) {
            let others = || papers.iter().map(|[_, other]| other).filter(|other| *other != pressed);
            let crossed = |edge: &&Edge| {
                let strip = off(joined, pressed, **edge);
                others().any(|other| strip.intersection(other).is_some())
            };
            steps += panel.outer.iter().filter(crossed).count();
            for mark in &panel.marks {
                let place = on_paper(panel, case.way(), &box_of(&mark.ink));
                if touch(joined, &place) {
                    let one = Length::from_mm(1);
                    let around = Rect::from_edges(
                        place.x - one,
                        place.y - one,
                        place.right() + one,
                        place.bottom() + one,
                    );
                    let under = others().find(|other| around.intersection(other).is_some());
                    assert_eq!(under, None, "{mark:?} of panel {}: {case:?}", panel.number);
                }
            }
        }
    }
    assert!(steps > 300, "only {steps} strips cross a step");
}

#[test]
fn marks_keep_apart_unless_they_belong_together() {
    for (case, lay_up, _) in even_cases().iter().take(150).chain(stepped_cases().iter().take(150)) {
        for panel in &lay_up.panels {
            for (i, one) in panel.marks.iter().enumerate() {
                for other in &panel.marks[i + 1..] {
                    let alike = one.role == MarkRole::Ruler && other.role == MarkRole::Ruler;
                    let ticks = |mark: &Mark| mark.role <= MarkRole::Alignment && text(mark).is_none();
                    let pair = ticks(one) && ticks(other) && one.role.max(other.role) == MarkRole::Alignment;
                    assert!(
                        alike || pair || !touch(&box_of(&one.ink), &box_of(&other.ink)),
                        "{one:?} and {other:?}: {case:?}"
                    );
                }
            }
        }
    }
}

/// Ticks on the cut line of an edge beyond its two ends, as the cell lies on the page.
fn ticks(panel: &Panel, cell: &Rect<Page>, edge: Edge) -> [usize; 2] {
    let axes = |point: Point<Page>| if is_upright(edge) { (point.x, point.y) } else { (point.y, point.x) };
    let on_line = |line: &[Point<Page>; 2]| line.iter().all(|point| axes(*point).0 == edge_of(cell, edge));
    ends(edge).map(|end| {
        let past = |line: &[Point<Page>; 2]| {
            line.iter().all(|point| beyond(cell, end, axes(*point).1) > Length::ZERO)
        };
        lines(panel, MarkRole::CutTick).filter(on_line).filter(past).count()
    })
}

/// The edges with a guide line; what is written must be true.
fn guided(case: &Case, panel: &Panel, cell: &Rect<Page>) -> Vec<Edge> {
    let words = panel.marks.iter().filter_map(text).filter_map(|text| text.strip_prefix("cut "));
    words
        .map(|words| {
            let sides = ["right of", "below", "left of", "above"];
            let said = |(_, side): &(Edge, &str)| words.ends_with(&format!(" {side} this line"));
            let (edge, side) = EDGES.into_iter().zip(sides).find(said).expect("a side");
            let away = words.strip_suffix(&format!(" {side} this line")).unwrap();
            assert_eq!(away.ends_with("in"), case.units == Units::Inch, "{words}");
            let away: Length = away.parse().unwrap();
            let across = |point: Point<Page>| if is_upright(edge) { point.x } else { point.y };
            let found = lines(panel, MarkRole::CutTick)
                .filter(|line| line.iter().all(|point| beyond(cell, edge, across(*point)) == away));
            assert_eq!(found.count(), 1, "{words}: panel {} of {case:?}", panel.number);
            edge
        })
        .collect()
}

#[test]
fn trimmed_edges_are_ticked_at_both_ends_or_guided_or_named() {
    let (mut guides, mut ample, mut unusual) = (0, 0, 0);
    for (case, lay_up, dropped) in all_cases() {
        let short = dropped.get(&MarkRole::CutTick).cloned().unwrap_or_default();
        for panel in &lay_up.panels {
            let cell = panel.on_page(&panel.cell, case.way());
            let guided = guided(case, panel, &cell);
            guides += guided.len();
            for edge in panel.trim.iter().filter(|_| !short.contains(&panel.number)) {
                let ticks = ticks(panel, &cell, *edge);
                let number = panel.number;
                assert!(
                    ticks == [1, 1] || guided.contains(edge),
                    "{edge:?} of panel {number} has {ticks:?} ticks: {case:?}"
                );
                // In a row that is joined first, what was trimmed before is gone.
                if case.order == TrimOrder::RowsFirst && !is_upright(*edge) {
                    for (end, count) in ends(*edge).into_iter().zip(ticks) {
                        assert!(count == 0 || panel.outer.contains(&end), "{end:?} of {number}: {case:?}");
                    }
                }
                // Only where room is ample: a level edge's tick goes with the upright edge that is cut before.
                ample += usize::from(guided.contains(edge) && ticks == [1, 1]);
                unusual += usize::from(matches!(edge, Edge::Left | Edge::Top));
            }
        }
    }
    assert!(guides > 300, "only {guides} guide lines to judge by");
    assert!(ample > 100, "only {ample} second cuts have a guide beside their ticks");
    assert!(unusual > 100, "only {unusual} left and top edges are trimmed");
}

/// Whether a panel's outer edge runs on past its end along a neighbour's that is still there.
fn runs_on(case: &Case, lay_up: &LayUp, panel: &Panel, edge: Edge, end: Edge) -> bool {
    let cell = case.way().to_paper(&panel.cell);
    lay_up.panels.iter().any(|other| {
        let next = case.way().to_paper(&other.cell);
        let joined_first = case.order == TrimOrder::RowsFirst && !is_upright(edge);
        let lasts = other.outer.contains(&edge) || (joined_first && other.trim.contains(&edge));
        let in_line = edge_of(&case.way().to_paper(&other.face), edge) == edge_of(&cell, edge);
        let [first, last] = ends(end).map(|side| beyond(&next, side, edge_of(&cell, edge)) <= Length::ZERO);
        lasts && in_line && first && last && beyond(&cell, end, edge_of(&next, opposite(end))) == Length::ZERO
    })
}

#[test]
fn outer_edges_are_ticked_in_corners_and_guided_at_steps_or_named() {
    let (mut corners, mut steps) = (0, 0);
    for (case, lay_up, dropped) in all_cases() {
        let short = dropped.get(&MarkRole::CutTick).cloned().unwrap_or_default();
        for panel in lay_up.panels.iter().filter(|panel| !short.contains(&panel.number)) {
            let cell = panel.on_page(&panel.cell, case.way());
            let guided = guided(case, panel, &cell);
            for &edge in &panel.outer {
                for (end, count) in ends(edge).into_iter().zip(ticks(panel, &cell, edge)) {
                    let corner = panel.outer.contains(&end);
                    assert_eq!(count, usize::from(corner), "{edge:?} of {}: {case:?}", panel.number);
                    if !corner && !runs_on(case, lay_up, panel, edge, end) {
                        assert!(guided.contains(&edge), "{edge:?} of {}: {case:?}", panel.number);
                        steps += 1;
                    }
                    corners += count;
                }
            }
        }
    }
    assert!(corners > 1_000 && steps > 100, "only {corners} corners and {steps} steps to judge by");
}

#[test]
fn beside_a_step_a_strip_is_used_as_far_as_nothing_of_the_other_row_stays() {
    let mm = Length::from_mm;
    let row = |top, bottom, left| Row {
        top: mm(top),
        bottom: mm(bottom),
        cells: vec![[mm(left), mm(300)]],
        ..Row::default()
    };
    // The lower row is wider. On top it is trimmed, and the upper row's left strip is free as far as the seam; below,
    // it keeps its lap of 2 mm, the 4 mm of slack that go to no cut side here, and a margin of 5 mm.
    for (on_top, free) in [(true, 150), (false, 150 - 2 - 4 - 5)] {
        let case = Case {
            size: Size::new(mm(300), mm(298)),
            rows: vec![row(0, 150, 100), Row { on_top, ..row(150, 298, 0) }],
            page: Size::new(mm(360), mm(168)),
            margins: Sides::all(mm(5)),
            cut_at: mm(2),
            order: TrimOrder::PanelsFirst,
            units: Units::Metric,
            centred: true,
            ..Case::common()
        };
        let (lay_up, _) = case.drawn("star-chart-3f9a21");
        let panel = &lay_up.panels[0];
        let guide = laid(panel, MarkRole::CutTick, case.way())
            .find(|line| line.iter().all(|point| point.x == mm(90)))
            .expect("a guide line 10 mm left of the upper row");
        // Guide lines keep 6 mm from the ends, marks 1 mm from what stays.
        assert_eq!(guide.map(|point| point.y), [mm(6), mm(free - 6 - 1)], "on top: {on_top}");
    }
}

#[test]
fn a_bottom_edge_can_still_be_cut_when_the_right_edge_is_gone() {
    for order in [TrimOrder::PanelsFirst, TrimOrder::RowsFirst] {
        let case = Case { order, ..Case::common() };
        let (lay_up, _) = case.drawn("star-chart-3f9a21");
        for panel in lay_up.panels.iter().filter(|panel| panel.trim == [Edge::Right, Edge::Bottom]) {
            let cell = panel.on_page(&panel.cell, case.way());
            let [left, _] = ticks(panel, &cell, Edge::Bottom);
            assert_eq!(left, usize::from(panel.column == 1), "a tick left of the artwork if it is there");
            assert!(guided(&case, panel, &cell).contains(&Edge::Bottom), "and a guide line");
        }
    }
}
