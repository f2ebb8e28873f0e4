//! A page being marked: its strips, the marks so far, and the room they take.

use seamwright_contract::geometry::Way;
use seamwright_contract::layout::{Ink, Mark, MarkRole, Panel};
use seamwright_contract::{Length, Page, Paper, Point, Rect, Size};
use seamwright_drawing::Style;
use seamwright_drawing::page::text_box;

use crate::strips::{Strip, grown, origin, strips};

/// Free paper around a block.
const GAP: Length = Length::from_um(1_500);

/// Free paper between ticks: less than they keep from the artwork, so that the two ticks of a corner both stand.
const TIGHT: Length = Length::from_um(500);

/// One panel's page.
#[derive(Debug)]
pub(crate) struct Draft {
    /// The panel's number.
    pub(crate) number: u32,
    /// Its cell on the page.
    pub(crate) cell: Rect<Page>,
    /// Where the page's origin lies on the lay-up.
    origin: Point<Paper>,
    /// The paper that is cut off.
    pub(crate) strips: Vec<Strip>,
    /// The marks so far.
    pub(crate) marks: Vec<Mark>,
    taken: Vec<Rect<Page>>,
}

impl Draft {
    /// A page without marks. `kept` is the paper of all panels that stays, on the lay-up.
    pub(crate) fn new(panel: &Panel, live: &Rect<Page>, kept: &[Rect<Paper>], way: Way) -> Self {
        let origin = origin(panel, way);
        let on_page =
            |rect: &Rect<Paper>| Rect::new(rect.x - origin.x, rect.y - origin.y, rect.width, rect.height);
        let kept: Vec<Rect<Page>> = kept.iter().map(on_page).collect();
        Self {
            number: panel.number,
            cell: panel.on_page(&panel.cell, way),
            origin,
            strips: strips(panel, live, &kept),
            marks: Vec::new(),
            taken: Vec::new(),
        }
    }

    /// Where a strip begins on the lay-up: x of upright strips, y of level ones.
    pub(crate) fn on_lay_up(&self, strip: &Strip) -> Length {
        strip.begins() + if strip.upright() { self.origin.x } else { self.origin.y }
    }

    /// Whether ink would lie within the strip and clear of all other marks, one excepted.
    pub(crate) fn fits(&self, strip: &Strip, ink: &Ink, except: Option<&Ink>) -> bool {
        let mine = box_of(ink);
        let except = except.map(box_of);
        strip.area.contains(&mine) && self.is_free(&mine, TIGHT, except.as_ref())
    }

    fn is_free(&self, place: &Rect<Page>, gap: Length, except: Option<&Rect<Page>>) -> bool {
        let wide = grown(place, gap);
        self.taken.iter().all(|other| Some(other) == except || wide.intersection(other).is_none())
    }

    /// Puts one piece of ink.
    pub(crate) fn put(&mut self, role: MarkRole, ink: Ink) {
        self.taken.push(box_of(&ink));
        self.marks.push(Mark { role, ink });
    }

    /// Puts ink that belongs together and lies within `place`.
    pub(crate) fn put_all(&mut self, role: MarkRole, place: Rect<Page>, inks: impl IntoIterator<Item = Ink>) {
        self.taken.push(place);
        self.marks.extend(inks.into_iter().map(|ink| Mark { role, ink }));
    }

    /// A free place of this size within an area, the uppermost and of those the leftmost. Only places at the area's
    /// corner or just beside another mark are tried: if there is room at all, there is room at one of them.
    pub(crate) fn spot(&self, area: &Rect<Page>, size: Size) -> Option<Rect<Page>> {
        if !area.size().holds(size) {
            return None;
        }
        let near: Vec<&Rect<Page>> =
            self.taken.iter().filter(|taken| grown(taken, GAP).intersection(area).is_some()).collect();
        let places = |first: Length, last: Length, beside: fn(&Rect<Page>) -> Length| {
            let beside = near.iter().map(|taken| beside(taken) + GAP);
            let mut places: Vec<Length> =
                beside.filter(|at| (first..=last).contains(at)).chain([first]).collect();
            places.sort_unstable();
            places.dedup();
            places
        };
        let xs = places(area.x, area.right() - size.width, Rect::right);
        places(area.y, area.bottom() - size.height, Rect::bottom)
            .into_iter()
            .flat_map(|y| xs.iter().map(move |&x| Rect::new(x, y, size.width, size.height)))
            .find(|place| self.is_free(place, GAP, None))
    }
}

/// The box that ink takes; of a line, with half its weight all round.
pub(crate) fn box_of(ink: &Ink) -> Rect<Page> {
    match ink {
        Ink::Line { from, to, weight } => grown(&around(&[*from, *to]), *weight - weight.half()),
        Ink::Polygon(points) => around(points),
        Ink::Text { at, size, upwards, text } => text_box(*at, *size, Style::Regular, *upwards, text),
    }
}

/// The least rectangle around some points.
pub(crate) fn around(points: &[Point<Page>]) -> Rect<Page> {
    let xs = || points.iter().map(|point| point.x);
    let ys = || points.iter().map(|point| point.y);
    Rect::from_edges(
        xs().min().unwrap_or_default(),
        ys().min().unwrap_or_default(),
        xs().max().unwrap_or_default(),
        ys().max().unwrap_or_default(),
    )
}
