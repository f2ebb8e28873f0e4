//! Marks meet where panels join, whichever lies on top, and whichever way the lay-up is turned.

use std::collections::BTreeMap;

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, LayUp, MarkRole, Panel, Seam, TrimOrder};
use seamwright_contract::{Length, Paper, Point, Sides, Size};

use super::case::{Case, Row};
use super::dice::{all_cases, stepped_cases};
use super::{beyond, edge_of, ends, is_upright, laid, opposite};

/// A seam as the judge sees it: its panels, and the upper one's edge on it.
#[derive(Debug)]
struct Joined<'a> {
    upper: &'a Panel,
    lower: &'a Panel,
    cut: Edge,
}

impl<'a> Joined<'a> {
    fn new(case: &Case, lay_up: &'a LayUp, seam: &Seam) -> Self {
        let of = |number| lay_up.panels.iter().find(|panel| panel.number == number).unwrap();
        let upper = of(seam.upper);
        let lower = of(seam.between.into_iter().find(|number| *number != seam.upper).unwrap());
        let upright = seam.line[0].x == seam.line[1].x;
        let (over, under) = (case.way().to_paper(&upper.cell), case.way().to_paper(&lower.cell));
        let meets = |edge: &Edge| edge_of(&over, *edge) == edge_of(&under, opposite(*edge));
        let mut trimmed = upper.trim.iter().copied().filter(|edge| is_upright(*edge) == upright);
        Self { upper, lower, cut: trimmed.find(meets).expect("it is trimmed there") }
    }

    /// The ends at which both panels still have strips when they are joined, which begin at the same place.
    fn ends(&self, case: &Case) -> Vec<Edge> {
        let joined_before_cut = is_upright(self.cut) && case.order == TrimOrder::RowsFirst;
        let both = [self.upper, self.lower];
        let strips = |end: Edge| {
            both.iter()
                .all(|panel| panel.outer.contains(&end) || (joined_before_cut && panel.trim.contains(&end)))
        };
        let in_line = |end: Edge| {
            let [upper, lower] = both.map(|panel| edge_of(&case.way().to_paper(&panel.face), end));
            upper == lower
        };
        ends(self.cut).into_iter().filter(|end| strips(*end) && in_line(*end)).collect()
    }

    /// A panel's alignment lines beyond an end of the seam: how far each end lies beyond the cut, and where along it.
    fn lines(&self, panel: &Panel, end: Edge, way: Way) -> Vec<[(Length, Length); 2]> {
        let (over, face) = (way.to_paper(&self.upper.cell), way.to_paper(&panel.face));
        let axes = |point: Point<Paper>| {
            let [across, along] = if is_upright(self.cut) { [point.x, point.y] } else { [point.y, point.x] };
            (beyond(&over, self.cut, across), along)
        };
        let lines = laid(panel, MarkRole::Alignment, way).map(|line| line.map(axes));
        lines
            .filter(|line| line.iter().any(|(across, _)| *across == Length::ZERO))
            .filter(|line| line.iter().all(|(_, along)| beyond(&face, end, *along) > Length::ZERO))
            .collect()
    }
}

#[test]
fn arms_meet_at_every_end_of_a_seam_with_strips_to_the_micrometre() {
    let (mut met, mut turned) = (0, 0);
    for (case, lay_up, dropped) in all_cases() {
        let short = dropped.get(&MarkRole::Alignment).cloned().unwrap_or_default();
        let mut wanted: BTreeMap<u32, usize> = BTreeMap::new();
        let mut lacking = Vec::new();
        for seam in &lay_up.seams {
            let joined = Joined::new(case, lay_up, seam);
            for end in joined.ends(case) {
                let upper = joined.lines(joined.upper, end, case.way());
                let lower = joined.lines(joined.lower, end, case.way());
                if upper.is_empty() && lower.is_empty() {
                    lacking.extend(seam.between);
                    continue;
                }
                // One arm on the upper panel, up to its cut edge; a line there and an arm onward on the lower one.
                let [arm] = upper.as_slice() else { panic!("{upper:?} at {seam:?}: {case:?}") };
                let [line, onward] = lower.as_slice() else { panic!("{lower:?} at {seam:?}: {case:?}") };
                let four = Length::from_mm(4);
                assert_eq!(arm.map(|at| at.0), [-four, Length::ZERO], "{seam:?}: {case:?}");
                assert_eq!(onward.map(|at| at.0), [Length::ZERO, four], "{seam:?}: {case:?}");
                assert_eq!(line.map(|at| at.0), [Length::ZERO; 2], "{seam:?}: {case:?}");
                assert_eq!(arm.map(|at| at.1), onward.map(|at| at.1), "{seam:?}: {case:?}");
                assert_eq!(arm[0].1, arm[1].1, "{seam:?}: {case:?}");
                *wanted.entry(joined.upper.number).or_default() += 1;
                *wanted.entry(joined.lower.number).or_default() += 2;
                met += 1;
                turned += usize::from(matches!(joined.cut, Edge::Left | Edge::Top));
            }
        }
        assert_eq!(short, lacking.into_iter().collect(), "{case:?}");
        for panel in &lay_up.panels {
            let wanted = wanted.get(&panel.number).copied().unwrap_or_default();
            let found = laid(panel, MarkRole::Alignment, case.way()).count();
            assert_eq!(found, wanted, "panel {}: {case:?}", panel.number);
        }
    }
    assert!(met > 1_000 && turned > 100, "only {met} ends of seams, {turned} of them cut left or at the top");
}

/// The lay-up seen in a mirror that turns left and right, or top and bottom.
fn reflected(case: &Case, upright: bool) -> Case {
    let Case { mut rows, mut margins, size, .. } = case.clone();
    if upright {
        for row in &mut rows {
            row.cells =
                row.cells.iter().rev().map(|[from, to]| [size.width - *to, size.width - *from]).collect();
            row.right_on_top = row.right_on_top.iter().rev().map(|right| !right).collect();
        }
        margins = Sides { left: margins.right, right: margins.left, ..margins };
    } else {
        let lies_on: Vec<bool> = rows.iter().skip(1).map(|row| !row.on_top).chain([false]).collect();
        let turned = |(row, on_top): (&Row, bool)| Row {
            top: size.height - row.bottom,
            bottom: size.height - row.top,
            on_top,
            ..row.clone()
        };
        rows = rows.iter().zip(lies_on).rev().map(turned).collect();
        margins = Sides { top: margins.bottom, bottom: margins.top, ..margins };
    }
    Case { rows, margins, ..case.clone() }
}

/// Ticks, guide lines and arms of all panels on the lay-up; `None` where some found no room.
fn lines_on_lay_up(
    case: &Case,
    turn: impl Fn(Point<Paper>) -> Point<Paper>,
) -> Option<Vec<[Point<Paper>; 2]>> {
    const ROLES: [MarkRole; 2] = [MarkRole::CutTick, MarkRole::Alignment];
    let (lay_up, dropped) = case.drawn("star-chart-3f9a21");
    let on_lay_up = |panel| ROLES.into_iter().flat_map(move |role| laid(panel, role, case.way()));
    let mut lines: Vec<_> = lay_up.panels.iter().flat_map(on_lay_up).map(|line| line.map(&turn)).collect();
    lines.iter_mut().for_each(|line| line.sort_unstable());
    lines.sort_unstable();
    ROLES.iter().all(|role| !dropped.contains_key(role)).then_some(lines)
}

#[test]
fn a_lay_up_seen_in_a_mirror_is_marked_in_a_mirror() {
    let mut seen = 0;
    for (case, ..) in stepped_cases().iter().take(200) {
        let Size { width, height } = case.size;
        let straight = lines_on_lay_up(case, |at| at);
        let across = lines_on_lay_up(&reflected(case, true), |at| Point::new(width - at.x, at.y));
        let down = lines_on_lay_up(&reflected(case, false), |at| Point::new(at.x, height - at.y));
        // Where room is short, it depends on what is tried first.
        for other in [across, down].into_iter().filter(|other| other.is_some() && straight.is_some()) {
            assert_eq!(straight, other, "{case:?}");
            seen += 1;
        }
    }
    assert!(seen > 100, "only {seen} lay-ups to judge by");
}
