//! The laws of a lay-up, over random designs: scattered and full, plain and shaped, mirrored and not.

use std::collections::BTreeSet;

use seamwright_contract::catalogue::Shape;
use seamwright_contract::ink::InkMap;
use seamwright_contract::layout::{Edge, LapPolicy, LayUp, Panel, SeamClass, TrimOrder};
use seamwright_contract::scale::Scale;
use seamwright_contract::{Face, Length, Outline, Rect, Sides, Size};

use super::fixture::{Art, OnSheets as _, numbers, policy, sheet};
use crate::choice::Sheet;

/// A random job and all that its laws are about.
struct Job {
    map: InkMap,
    outline: Outline<Face>,
    size: Size,
    lap: LapPolicy,
    mirrored: bool,
    lay_up: LayUp,
}

fn jobs(seed: u64, count: usize) -> Vec<Job> {
    let mut number = numbers(seed);
    let mut jobs = Vec::new();
    while jobs.len() < count {
        let size =
            Size::new(Length::from_um(number(30_000, 900_003)), Length::from_um(number(30_000, 900_003)));
        let shape = [Shape::Rectangle, Shape::Oval, Shape::HalfMoon][usize::try_from(number(0, 2)).unwrap()];
        // Blots of ink on a lattice, from hardly any to all over.
        let (pitch, share) = (f64::from(i32::try_from(number(20, 120)).unwrap()), number(1, 10));
        let blots: Vec<u8> = (0..400)
            .map(|_| if number(1, 10) <= share { u8::try_from(number(20, 255)).unwrap() } else { 0 })
            .collect();
        let dark = |x: f64, y: f64| {
            let at = super::fixture::whole(x / pitch) * 19 + super::fixture::whole(y / pitch);
            blots[usize::try_from(at).unwrap() % blots.len()]
        };
        let art = Art { size, shape, cell: 5.0, dark: &dark };
        let lap = Length::from_um(number(0, 15_001));
        let lap = LapPolicy { cut_at: Length::from_um(number(0, lap.um())), ..policy(lap) };
        let live =
            Size::new(Length::from_um(number(80_000, 300_000)), Length::from_um(number(80_000, 300_000)));
        let mirrored = number(0, 1) == 1;
        let Some(lay_up) = art.laid(&sheet(live), &lap, mirrored) else { continue };
        jobs.push(Job { map: art.map(), outline: art.outline(), size, lap, mirrored, lay_up });
    }
    jobs
}

fn area(rect: &Rect<Face>) -> i128 {
    i128::from(rect.width.um()) * i128::from(rect.height.um())
}

fn panel(lay_up: &LayUp, number: u32) -> &Panel {
    lay_up.panels.iter().find(|panel| panel.number == number).expect("the panel")
}

/// Pairs of panels.
fn pairs(lay_up: &LayUp) -> impl Iterator<Item = (&Panel, &Panel)> {
    let panels = &lay_up.panels;
    panels.iter().enumerate().flat_map(move |(i, one)| panels[i + 1..].iter().map(move |other| (one, other)))
}

#[test]
fn cells_and_what_is_left_out_are_the_design_and_faces_fit_the_sheet() {
    for Job { lay_up, size, .. } in jobs(7, 250) {
        let parts: Vec<Rect<Face>> =
            lay_up.panels.iter().map(|panel| panel.cell).chain(lay_up.left_out.iter().copied()).collect();
        assert_eq!(parts.iter().map(area).sum::<i128>(), area(&Rect::of_size(size)), "nothing lacks");
        for (i, one) in parts.iter().enumerate() {
            assert!(Rect::of_size(size).contains(one) && !one.is_empty());
            assert!(
                parts[i + 1..].iter().all(|other| one.intersection(other).is_none()),
                "nothing is there twice"
            );
        }
        for panel in &lay_up.panels {
            assert!(panel.face.contains(&panel.cell), "a cell is printed");
            assert!(lay_up.live.contains(&panel.printed()), "{:?} is printable", panel.printed());
        }
    }
}

#[test]
fn nothing_inked_is_left_out_and_no_panel_is_bare() {
    for Job { lay_up, map, outline, .. } in jobs(11, 150) {
        let mut seen = BTreeSet::new();
        for (row, down) in map.down().windows(2).enumerate() {
            for cell in map.row(row).iter().filter(|cell| cell.inked) {
                let ink = Rect::from_edges(cell.left, down[0], cell.right, down[1]);
                let lost = lay_up.left_out.iter().filter_map(|part| part.intersection(&ink));
                let inside = |part: &Rect<Face>| {
                    let reach = outline.reach(part.y, part.bottom());
                    reach.is_some_and(|(left, right)| left < part.right() && part.x < right)
                };
                assert!(!lost.into_iter().any(|part| inside(&part)), "{ink:?} is left out");
                seen.extend(
                    lay_up
                        .panels
                        .iter()
                        .filter(|panel| panel.face.intersection(&ink).is_some())
                        .map(|p| p.number),
                );
            }
        }
        assert_eq!(seen.len(), lay_up.panels.len(), "every sheet carries ink");
    }
}

#[test]
fn a_lap_is_printed_on_both_neighbours_and_cut_from_the_upper_one_s_side() {
    for Job { lay_up, lap, mirrored, .. } in jobs(13, 250) {
        for seam in &lay_up.seams {
            let lower = seam.between[usize::from(seam.upper == seam.between[0])];
            let (upper, lower) = (panel(&lay_up, seam.upper), panel(&lay_up, lower));
            let upright = seam.line[0].x == seam.line[1].x && upper.row == lower.row;
            let shared = upper.face.intersection(&lower.face);
            let wide =
                shared.map_or(Length::ZERO, |shared| if upright { shared.width } else { shared.height });
            assert_eq!(wide, lap.lap, "one lap wide");
            // How far the upper one's print reaches beyond the cut is what is cut off.
            let edge = cut_edge(upper, lower, mirrored, upright);
            let beyond = match edge {
                Edge::Bottom => upper.face.bottom() - upper.cell.bottom(),
                Edge::Top => upper.cell.y - upper.face.y,
                Edge::Right | Edge::Left if (edge == Edge::Right) != mirrored => {
                    upper.face.right() - upper.cell.right()
                }
                Edge::Right | Edge::Left => upper.cell.x - upper.face.x,
            };
            assert_eq!(
                beyond,
                lap.lap - lap.cut_at,
                "{edge:?}: the cut line lies that far from the upper one's side"
            );
            assert!(
                upper.trim.contains(&edge) && !upper.outer.contains(&edge),
                "{edge:?} of {:?}",
                upper.trim
            );
            for point in seam.line {
                for cell in [upper.cell, lower.cell] {
                    let on_x = (cell.x..=cell.right()).contains(&point.x);
                    let on_y = (cell.y..=cell.bottom()).contains(&point.y);
                    assert!(on_x && on_y, "{point:?} is not on the rim of {cell:?}");
                }
            }
            assert_ne!(seam.line[0], seam.line[1], "a seam has a length");
        }
    }
}

/// The upper panel's edge that faces the lower one, ink side up.
fn cut_edge(upper: &Panel, lower: &Panel, mirrored: bool, upright: bool) -> Edge {
    if !upright {
        return if upper.row < lower.row { Edge::Bottom } else { Edge::Top };
    }
    if (upper.cell.x < lower.cell.x) == mirrored { Edge::Left } else { Edge::Right }
}

#[test]
fn every_edge_is_cut_or_outer_or_lies_under_a_neighbour() {
    for Job { lay_up, .. } in jobs(17, 150) {
        for panel in &lay_up.panels {
            let cut: BTreeSet<Edge> = panel.trim.iter().copied().collect();
            let outer: BTreeSet<Edge> = panel.outer.iter().copied().collect();
            assert!(cut.is_disjoint(&outer), "{panel:?}");
            let meets = |seam: &&seamwright_contract::layout::Seam| seam.between.contains(&panel.number);
            let mine = lay_up.seams.iter().filter(meets);
            assert_eq!(mine.clone().any(|seam| seam.upper == panel.number), !cut.is_empty(), "{panel:?}");
            assert!(cut.len() + outer.len() <= 4 && (outer.len() == 4) == (mine.count() == 0), "{panel:?}");
            assert!(
                panel.trim.is_sorted_by_key(|edge| matches!(edge, Edge::Top | Edge::Bottom)),
                "sides first"
            );
        }
    }
}

#[test]
fn what_laps_lies_one_on_the_other_and_never_in_a_circle() {
    for Job { lay_up, .. } in jobs(19, 150) {
        for (one, other) in pairs(&lay_up) {
            let lapping = one.face.intersection(&other.face).is_some();
            let on = [one.on_top_of.contains(&other.number), other.on_top_of.contains(&one.number)];
            assert_eq!(
                on.iter().filter(|on| **on).count(),
                usize::from(lapping),
                "{} and {}",
                one.number,
                other.number
            );
            if one.row != other.row && lapping {
                let rows_lie_alike = pairs(&lay_up)
                    .filter(|(a, b)| {
                        (a.row, b.row) == (one.row, other.row) && a.face.intersection(&b.face).is_some()
                    })
                    .all(|(a, b)| a.on_top_of.contains(&b.number) == on[0]);
                assert!(rows_lie_alike, "rows {} and {}", one.row, other.row);
            }
        }
        // Taking away what has nothing beneath it empties the stack.
        let mut left: BTreeSet<u32> = lay_up.panels.iter().map(|panel| panel.number).collect();
        while let Some(free) = left
            .iter()
            .copied()
            .find(|number| panel(&lay_up, *number).on_top_of.iter().all(|below| !left.contains(below)))
        {
            left.remove(&free);
        }
        assert!(left.is_empty(), "a circle among {left:?}");
    }
}

#[test]
fn bare_seams_and_tape_lie_on_nothing_printed() {
    for Job { lay_up, map, outline, .. } in jobs(23, 100) {
        let inked = |place: &Rect<Face>| {
            map.down().windows(2).enumerate().any(|(row, down)| {
                let level = place.y < down[1] && down[0] < place.bottom();
                level
                    && map
                        .row(row)
                        .iter()
                        .any(|cell| cell.inked && cell.left < place.right() && place.x < cell.right)
            })
        };
        let along = |line: [seamwright_contract::Point<Face>; 2], grow: i64| {
            let grow = Length::from_um(grow);
            let (left, right) = (line[0].x.min(line[1].x), line[0].x.max(line[1].x));
            let (top, bottom) = (line[0].y.min(line[1].y), line[0].y.max(line[1].y));
            let (x, y) = if left == right { (grow, Length::ZERO) } else { (Length::ZERO, grow) };
            Rect::from_edges(left - x, top - y, right + x, bottom + y)
        };
        for seam in &lay_up.seams {
            assert!((0.0..=1.0).contains(&seam.score));
            assert_eq!(seam.class == SeamClass::Bare, seam.score == 0.0, "{seam:?}");
            if seam.class == SeamClass::Bare {
                assert!(!inked(&along(seam.line, 1)), "{seam:?}");
            }
        }
        for spot in &lay_up.tape {
            let tape = along(spot.line, 4_999);
            if spot.holds.len() == 2 {
                assert!(!inked(&tape), "{spot:?}");
            } else {
                assert!(outline.contains(&tape), "on the blank: {spot:?}");
            }
        }
    }
}

#[test]
fn slack_goes_to_paper_that_is_cut_off() {
    let margins = Sides {
        left: Length::from_mm(3),
        top: Length::from_mm(4),
        right: Length::from_mm(5),
        bottom: Length::from_mm(6),
    };
    let mut number = numbers(29);
    for _ in 0..60 {
        let upright = Size::new(Length::from_mm(number(100, 300)), Length::from_mm(number(300, 500)));
        let size =
            Size::new(Length::from_um(number(50_000, 900_001)), Length::from_um(number(50_000, 900_001)));
        let paper = seamwright_contract::catalogue::PaperSize { name: "test".to_owned(), size: upright };
        let sheet = Sheet::lying(
            &paper,
            seamwright_contract::catalogue::Orientation::Portrait,
            margins,
            Scale::default(),
            Length::ZERO,
        );
        let lay_up = Art::full(size).laid(&sheet, &policy(Length::from_mm(5)), true).expect("it fits");
        for panel in &lay_up.panels {
            let (printed, live) = (panel.printed(), lay_up.live);
            for ([near, far], [before, after]) in [
                ([Edge::Left, Edge::Right], [printed.x - live.x, live.right() - printed.right()]),
                ([Edge::Top, Edge::Bottom], [printed.y - live.y, live.bottom() - printed.bottom()]),
            ] {
                let off = |edge| panel.trim.contains(&edge) || panel.outer.contains(&edge);
                match (off(near), off(far)) {
                    (false, true) => assert_eq!(before, Length::ZERO, "{panel:?}"),
                    (true, false) => assert_eq!(after, Length::ZERO, "{panel:?}"),
                    _ => assert!((after - before).abs() <= Length::from_um(1), "{panel:?}"),
                }
            }
        }
        // Rows may begin at different places of their sheets; each side's figure is that of a panel there.
        let trim = lay_up.final_trim;
        let at = |column: u32| lay_up.panels.iter().filter(move |panel| panel.column == column);
        assert!(at(1).any(|panel| panel.at.x == trim.left), "{trim:?}");
        let beyond = |panel: &Panel| upright.width - panel.printed().right();
        assert!(at(lay_up.columns).any(|panel| beyond(panel) == trim.right), "{trim:?}");
        let (first, last) = (&lay_up.panels[0], &lay_up.panels[lay_up.panels.len() - 1]);
        assert_eq!((first.at.y, upright.height - last.printed().bottom()), (trim.top, trim.bottom));
    }
}

#[test]
fn the_darker_or_bare_side_takes_the_step() {
    // A column of panels left and right of a strip in the middle; one half of the strip is bare, or much darker.
    let (size, live) = (
        Size::new(Length::from_mm(300), Length::from_mm(100)),
        Size::new(Length::from_mm(160), Length::from_mm(110)),
    );
    let lap = LapPolicy { order: TrimOrder::RowsFirst, ..policy(Length::from_mm(20)) };
    for (left, right, trimmed) in [
        (100, 100, Edge::Right),
        (100, 0, Edge::Right),
        (0, 100, Edge::Left),
        (40, 200, Edge::Right),
        (200, 40, Edge::Left),
        (140, 100, Edge::Right),
    ] {
        // Exactly two panels of 160 mm: the strip can only lie from 140 to 160 mm. Mirrored, so face left is paper right.
        let dark = |x: f64, _: f64| match x {
            x if (120.0..150.0).contains(&x) => right,
            x if (150.0..180.0).contains(&x) => left,
            _ => 100,
        };
        let art = Art { size, shape: Shape::Rectangle, cell: 5.0, dark: &dark };
        let lay_up = art.laid(&sheet(live), &lap, true).expect("it fits");
        let trims: Vec<Edge> = lay_up.panels.iter().flat_map(|panel| panel.trim.iter().copied()).collect();
        assert_eq!(trims, [trimmed], "{left} left of it on paper, {right} right of it");
    }
}
