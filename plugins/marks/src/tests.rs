//! The cutting is simulated: whatever is printed beside the artwork must be gone before pressing.

use std::sync::OnceLock;

use seamwright_contract::catalogue::{Orientation, PaperSize};
use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Edge, Ink, LayUp, Mark, MarkRole, Panel, Seam, SeamClass, TrimOrder};
use seamwright_contract::sample;
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Page, Paper, Point, Rect, Sides, Size};

use crate::draft::box_of;
use crate::{Dropped, draw, runs};

const ROLES: [MarkRole; 6] = [
    MarkRole::CutTick,
    MarkRole::Alignment,
    MarkRole::Label,
    MarkRole::UpArrow,
    MarkRole::CheckLetter,
    MarkRole::Ruler,
];

/// A job's paper, lap and way, and what came of it.
#[derive(Debug)]
struct Case {
    size: Size,
    page: Size,
    margins: Sides<Length>,
    lap: Length,
    cut_at: Length,
    order: TrimOrder,
    mirrored: bool,
    units: Units,
    /// Whether slack is left on inner sides too, where paper stays: no mark may use it.
    centred: bool,
}

impl Case {
    /// 24 x 12.5 in on Letter landscape, margins of 1/4 in, lap 5 mm.
    fn common() -> Self {
        let inches = |text: &str| text.parse::<Length>().expect("a length");
        Self {
            size: Size::new(inches("24in"), inches("12.5in")),
            page: Size::new(inches("11in"), inches("8.5in")),
            margins: Sides::all(inches("1/4in")),
            lap: Length::from_mm(5),
            cut_at: Length::from_um(2_500),
            order: TrimOrder::PanelsFirst,
            mirrored: true,
            units: Units::Inch,
            centred: false,
        }
    }

    fn way(&self) -> Way {
        Way { mirrored: self.mirrored, width: self.size.width }
    }

    fn live(&self) -> Rect<Page> {
        let m = self.margins;
        Rect::from_edges(m.left, m.top, self.page.width - m.right, self.page.height - m.bottom)
    }

    /// Printed from and to, cell from and to, of the fewest even spans over a length.
    fn spans(&self, length: Length, live: Length) -> Vec<[Length; 4]> {
        let reach = |n: i64| live * n - self.lap * (n - 1);
        let n = (1..).find(|n| reach(*n) >= length).expect("it grows");
        let step = |i: i64| (length - self.lap) * i / n;
        let from = |i: i64, cut: Length| if i == 0 { Length::ZERO } else { step(i) + cut };
        let to = |i: i64, cut: Length| if i + 1 == n { length } else { step(i + 1) + cut };
        (0..n)
            .map(|i| [from(i, Length::ZERO), to(i, self.lap), from(i, self.cut_at), to(i, self.cut_at)])
            .collect()
    }

    fn lay_up(&self) -> LayUp {
        let (way, live) = (self.way(), self.live());
        let columns = self.spans(self.size.width, live.width);
        let rows = self.spans(self.size.height, live.height);
        let (across, down) = (u32::try_from(columns.len()).unwrap(), u32::try_from(rows.len()).unwrap());
        let mut panels = Vec::new();
        let mut seams = Vec::new();
        for (row, [top, bottom, cell_top, cell_bottom]) in (1..).zip(&rows) {
            for (column, [left, right, cell_left, cell_right]) in (1..).zip(&columns) {
                let number = (row - 1) * across + column;
                let begin =
                    |start: Length, slack: Length, outer| if outer { start + slack.half() } else { start };
                let face = Rect::from_edges(*left, *top, *right, *bottom);
                let trim: Vec<Edge> = [(Edge::Right, column < across), (Edge::Bottom, row < down)]
                    .iter()
                    .filter_map(|(edge, cut)| cut.then_some(*edge))
                    .collect();
                let outer = [
                    (Edge::Left, column == 1),
                    (Edge::Top, row == 1),
                    (Edge::Right, column == across),
                    (Edge::Bottom, row == down),
                ];
                let corner = Point::new(*cell_right, *cell_bottom);
                for edge in &trim {
                    let (below, from) = match edge {
                        Edge::Right => (number + 1, Point::new(*cell_right, *cell_top)),
                        _ => (number + across, Point::new(*cell_left, *cell_bottom)),
                    };
                    let line = [way.point_to_face(from), way.point_to_face(corner)];
                    seams.push(Seam {
                        between: [number, below],
                        upper: number,
                        line,
                        score: 0.0,
                        class: SeamClass::Bare,
                    });
                }
                panels.push(Panel {
                    number,
                    row,
                    column,
                    page: number,
                    face: way.to_face(&face),
                    cell: way.to_face(&Rect::from_edges(*cell_left, *cell_top, *cell_right, *cell_bottom)),
                    at: Point::new(
                        begin(live.x, live.width - face.width, column == 1 || self.centred),
                        begin(live.y, live.height - face.height, row == 1 || self.centred),
                    ),
                    trim,
                    outer: outer.iter().filter_map(|(edge, is)| is.then_some(*edge)).collect(),
                    on_top_of: Vec::new(),
                    marks: Vec::new(),
                });
            }
        }
        LayUp {
            paper: PaperSize { name: "test".to_owned(), size: self.page },
            orientation: Orientation::Portrait,
            page: self.page,
            live,
            rows: down,
            columns: across,
            panels,
            seams,
            ..sample::lay_up()
        }
    }

    fn drawn(&self, job: &str) -> (LayUp, Dropped) {
        let mut lay_up = self.lay_up();
        let dropped = draw(&mut lay_up, job, self.way(), self.order, self.units);
        (lay_up, dropped)
    }

    /// What is left of a panel's page on the lay-up once its edges are trimmed and the design's outline is cut out.
    fn kept(&self, panel: &Panel) -> Rect<Paper> {
        let page = on_paper(panel, self.way(), &Rect::of_size(self.page));
        let cell = self.way().to_paper(&panel.cell);
        let right = if panel.trim.contains(&Edge::Right) { cell.right() } else { page.right() };
        let bottom = if panel.trim.contains(&Edge::Bottom) { cell.bottom() } else { page.bottom() };
        let trimmed = Rect::from_edges(page.x, page.y, right, bottom);
        trimmed.intersection(&Rect::of_size(self.size)).expect("something is left")
    }
}

/// Where a rectangle of a panel's page lies on the lay-up.
fn on_paper(panel: &Panel, way: Way, rect: &Rect<Page>) -> Rect<Paper> {
    let face = way.to_paper(&panel.face);
    Rect::new(face.x - panel.at.x + rect.x, face.y - panel.at.y + rect.y, rect.width, rect.height)
}

/// Whether two rectangles share as much as a point.
fn touch<Space: Copy>(a: &Rect<Space>, b: &Rect<Space>) -> bool {
    a.x <= b.right() && b.x <= a.right() && a.y <= b.bottom() && b.y <= a.bottom()
}

/// A small generator of even numbers for the random cases (xorshift, 64 bits; from memory).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, low: i64, high: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let span = u64::try_from(high - low + 1).unwrap();
        low + i64::try_from(self.0 % span).unwrap()
    }

    fn length(&mut self, low_mm: i64, high_mm: i64) -> Length {
        Length::from_um(self.roll(low_mm * 1000, high_mm * 1000))
    }

    fn case(&mut self) -> Case {
        let lap = self.length(0, 14);
        Case {
            size: Size::new(self.length(60, 1_300), self.length(60, 900)),
            page: Size::new(self.length(150, 500), self.length(150, 500)),
            margins: Sides {
                left: self.length(0, 15),
                top: self.length(0, 15),
                right: self.length(0, 15),
                bottom: self.length(0, 15),
            },
            lap,
            cut_at: Length::from_um(self.roll(0, lap.um())),
            order: if self.roll(0, 1) == 0 { TrimOrder::PanelsFirst } else { TrimOrder::RowsFirst },
            mirrored: self.roll(0, 1) == 0,
            units: if self.roll(0, 1) == 0 { Units::Metric } else { Units::Inch },
            centred: self.roll(0, 1) == 0,
        }
    }
}

/// The first `count` of 400 cases, drawn once for all tests.
fn random_cases(count: usize) -> impl Iterator<Item = &'static (Case, LayUp, Dropped)> {
    static CASES: OnceLock<Vec<(Case, LayUp, Dropped)>> = OnceLock::new();
    let cases = CASES.get_or_init(|| {
        let mut dice = Dice(0x5EA3_0001);
        let draw = |_| {
            let case = dice.case();
            let (lay_up, dropped) =
                case.drawn("tide-calendar-for-the-reading-room-of-the-observatory-3f9a21");
            (case, lay_up, dropped)
        };
        (0..400).map(draw).collect()
    });
    cases.iter().take(count)
}

fn text(mark: &Mark) -> Option<&str> {
    match &mark.ink {
        Ink::Text { text, .. } => Some(text),
        Ink::Line { .. } | Ink::Polygon(_) => None,
    }
}

#[test]
fn no_mark_is_left_when_all_is_cut_and_none_touches_the_artwork() {
    let (mut panels, mut marks) = (0, 0);
    for (case, lay_up, _) in random_cases(400) {
        for panel in &lay_up.panels {
            panels += 1;
            for mark in &panel.marks {
                marks += 1;
                let place = box_of(&mark.ink);
                assert!(lay_up.live.contains(&place), "{mark:?} cannot be printed: {case:?}");
                assert!(
                    !touch(&panel.printed(), &place),
                    "{mark:?} touches panel {}: {case:?}",
                    panel.number
                );
                let on_lay_up = on_paper(panel, case.way(), &place);
                assert!(
                    !touch(&case.kept(panel), &on_lay_up),
                    "{mark:?} stays on panel {}: {case:?}",
                    panel.number
                );
            }
        }
    }
    assert!(panels > 1_000 && marks > 10_000, "{panels} panels and {marks} marks are too few to judge by");
}

#[test]
fn marks_keep_apart_unless_they_belong_together() {
    for (case, lay_up, _) in random_cases(150) {
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

/// Ends of a panel's alignment lines on the lay-up.
fn alignment(panel: &Panel, way: Way) -> Vec<[Point<Paper>; 2]> {
    let at = |point: &Point<Page>| {
        on_paper(panel, way, &Rect::new(point.x, point.y, Length::ZERO, Length::ZERO)).origin()
    };
    let lines = panel.marks.iter().filter(|mark| mark.role == MarkRole::Alignment);
    lines
        .map(|mark| match &mark.ink {
            Ink::Line { from, to, .. } => [at(from), at(to)],
            other => panic!("{other:?} does not align"),
        })
        .collect()
}

#[test]
fn arms_meet_across_every_seam_to_the_micrometre() {
    let mut met = 0;
    for (case, lay_up, dropped) in random_cases(400) {
        let short = dropped.get(&MarkRole::Alignment).cloned().unwrap_or_default();
        for seam in &lay_up.seams {
            if seam.between.iter().any(|number| short.contains(number)) {
                continue;
            }
            let of = |number| lay_up.panels.iter().find(|panel| panel.number == number).unwrap();
            let (upper, lower) = (of(seam.between[0]), of(seam.between[1]));
            let cell = case.way().to_paper(&upper.cell);
            let upright = upper.row == lower.row;
            let cut = if upright { cell.right() } else { cell.bottom() };
            // Across the seam first, along it second.
            let axes = |p: &Point<Paper>| if upright { (p.x, p.y) } else { (p.y, p.x) };
            let arms = |panel: &Panel, side: i64| -> Vec<Length> {
                let mut at: Vec<Length> = alignment(panel, case.way())
                    .iter()
                    .map(|line| line.each_ref().map(axes))
                    .filter(|[from, to]| from.1 == to.1 && from.0 != to.0)
                    .filter(|[from, to]| {
                        let ends = [from.0, to.0];
                        ends.contains(&cut) && ends.iter().all(|end| ((*end - cut) * side) >= Length::ZERO)
                    })
                    .map(|[from, _]| from.1)
                    .collect();
                at.sort_unstable();
                at
            };
            let wanted = if upright {
                let bottom = upper.row == lay_up.rows || case.order == TrimOrder::RowsFirst;
                usize::from(upper.row == 1) + usize::from(bottom)
            } else {
                usize::from(upper.column == 1) + usize::from(upper.column == lay_up.columns)
            };
            let (left, right) = (arms(upper, -1), arms(lower, 1));
            assert_eq!(left, right, "seam {:?}: {case:?}", seam.between);
            assert_eq!(left.len(), wanted, "seam {:?}: {case:?}", seam.between);
            let lines = alignment(lower, case.way());
            let on_cut = |line: &&[Point<Paper>; 2]| line.iter().all(|end| axes(end).0 == cut);
            assert_eq!(lines.iter().filter(on_cut).count(), wanted, "seam {:?}: {case:?}", seam.between);
            met += wanted;
        }
    }
    assert!(met > 500, "only {met} ends of seams to judge by");
}

#[test]
fn cuts_are_ticked_or_guided_and_what_is_written_is_true() {
    let (mut guides, mut ample) = (0, 0);
    for (case, lay_up, dropped) in random_cases(300) {
        let short = dropped.get(&MarkRole::CutTick).cloned().unwrap_or_default();
        for panel in &lay_up.panels {
            let cell = panel.on_page(&panel.cell, case.way());
            let lines: Vec<_> = panel
                .marks
                .iter()
                .filter(|mark| mark.role == MarkRole::CutTick)
                .filter_map(|mark| match &mark.ink {
                    Ink::Line { from, to, .. } => Some((*from, *to)),
                    Ink::Polygon(_) | Ink::Text { .. } => None,
                })
                .collect();
            let level = |at: Length| lines.iter().filter(|(a, b)| a.y == at && b.y == at).count();
            let upright = |at: Length| lines.iter().filter(|(a, b)| a.x == at && b.x == at).count();
            let mut guided = Vec::new();
            for words in panel.marks.iter().filter_map(text).filter(|text| text.starts_with("cut ")) {
                let said = words.trim_start_matches("cut ").trim_end_matches(" this line");
                let said = said.trim_end_matches(" left of").trim_end_matches(" above");
                assert_eq!(said.ends_with("in"), case.units == Units::Inch, "{words}");
                let away: Length = said.parse().unwrap();
                let found = if words.contains("left of") {
                    guided.push(Edge::Right);
                    upright(cell.right() + away)
                } else {
                    guided.push(Edge::Bottom);
                    level(cell.bottom() + away)
                };
                assert_eq!(found, 1, "{words}: panel {} of {case:?}", panel.number);
                guides += 1;
            }
            for edge in panel.trim.iter().filter(|_| !short.contains(&panel.number)) {
                let ticks = if *edge == Edge::Right { upright(cell.right()) } else { level(cell.bottom()) };
                assert!(
                    ticks == 2 || guided.contains(edge),
                    "{edge:?} of panel {} has {ticks} ticks: {case:?}",
                    panel.number
                );
                // Only where room is ample: the bottom edge's right tick goes with the right edge.
                ample += usize::from(guided.contains(edge) && ticks == 2);
            }
        }
    }
    assert!(guides > 100, "only {guides} guide lines to judge by");
    assert!(ample > 50, "only {ample} second cuts have a guide beside their ticks");
}

#[test]
fn every_panel_has_each_kind_or_is_named_for_lacking_it() {
    for (case, lay_up, dropped) in random_cases(300) {
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
                assert_eq!(words.contains("right"), panel.trim.contains(&Edge::Right), "{words}");
                assert_eq!(words.contains("bottom"), panel.trim.contains(&Edge::Bottom), "{words}");
            }
        }
    }
}

#[test]
fn rulers_are_as_long_as_they_say() {
    let mut seen = std::collections::BTreeSet::new();
    for (_, lay_up, _) in random_cases(300) {
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
fn a_bottom_edge_can_still_be_cut_when_the_right_edge_is_gone() {
    for order in [TrimOrder::PanelsFirst, TrimOrder::RowsFirst] {
        let case = Case { order, ..Case::common() };
        let (lay_up, _) = case.drawn("star-chart-3f9a21");
        for panel in lay_up.panels.iter().filter(|panel| panel.trim == [Edge::Right, Edge::Bottom]) {
            let cell = panel.on_page(&panel.cell, case.way());
            let left = |mark: &&Mark| box_of(&mark.ink).right() < cell.right();
            let ends = panel.marks.iter().filter(left).filter(|mark| match &mark.ink {
                Ink::Line { from, to, .. } => from.y == cell.bottom() && to.y == cell.bottom(),
                Ink::Text { text, .. } => text.contains("above this line"),
                Ink::Polygon(_) => false,
            });
            let wanted = if panel.column == 1 { 2 } else { 1 };
            assert_eq!(ends.count(), wanted, "tick left of the artwork if it is there, and a guide line");
        }
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
