//! How the plate is turned and which way the bands run: whichever takes the fewest placements, then heats the least twice.

use std::rc::Rc;

use seamwright_contract::catalogue::{Moves, Press};
use seamwright_contract::geometry::pieces_to_cover;
use seamwright_contract::order::Order;
use seamwright_contract::{Fault, Length, OnBlank, Point, Rect, Size};

use crate::band::{Care, Plate, spread};
use crate::bands::{Bands, Plan, heights, heights_near};
use crate::ground::{Cells, Frame, Ground};
use crate::throat::Throat;

/// More placements than anybody makes on one piece; beyond it a size or unit is surely mistaken.
const MOST_PLACEMENTS: u64 = 1_000;

/// Nobody moves a plate on by less.
const LEAST_PITCH: Length = Length::from_mm(5);

/// How many places are tried along a pitch at first; near the best of them, every millimetre is.
const STEPS: i64 = 24;

/// Heat alone.
const COOL: Care = Care { steps: STEPS, edges_weigh: false };

/// How much more than the least heat may be repeated to keep edges off seams and even colour: a hundredth.
const FOR_EDGES: u64 = 100;

/// A way to lie: of the plate, and of the bands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Way {
    /// The plate turned a quarter against the blank.
    pub(crate) turned: bool,
    /// The bands run down the blank, not across.
    pub(crate) down: bool,
}

impl Way {
    /// Those that a press allows. Work under a fixed plate is pushed in from band to band, and along the plate's front
    /// within one: its bands run along the plate's width.
    fn all(press: &Press) -> Vec<Self> {
        let ways: &[(bool, bool)] = match press.moves {
            Moves::Plate => &[(false, false), (false, true), (true, false), (true, true)],
            Moves::Work => &[(false, false), (true, true)],
        };
        let all = ways.iter().map(|(turned, down)| Self { turned: *turned, down: *down });
        all.filter(|way| press.turns || !way.turned).collect()
    }

    /// A size on the blank, in the frame of the bands.
    pub(crate) fn size(self, size: Size) -> Size {
        if self.down { size.turned() } else { size }
    }

    /// A rectangle of the frame on the blank.
    pub(crate) fn on_blank(self, rect: &Rect<Frame>, placed: Point<OnBlank>) -> Rect<OnBlank> {
        let (x, y, size) =
            if self.down { (rect.y, rect.x, rect.size().turned()) } else { (rect.x, rect.y, rect.size()) };
        Rect::new(x + placed.x, y + placed.y, size.width, size.height)
    }

    fn plate(self, press: &Press) -> Plate {
        let effective = press.effective();
        let effective = self.size(if self.turned { effective.turned() } else { effective });
        Plate { effective, weak: press.weak_edge, overlap: press.overlap }
    }
}

/// The best plan and how it lies.
#[derive(Debug)]
pub(crate) struct Choice {
    pub(crate) way: Way,
    pub(crate) plate: Plate,
    pub(crate) plan: Plan,
    pub(crate) ground: Rc<Ground>,
    pub(crate) throat: Option<Throat>,
}

/// A way to lie, with what it takes to plan for it.
#[derive(Debug)]
struct Trial {
    way: Way,
    plate: Plate,
    ground: Rc<Ground>,
    throat: Option<Throat>,
}

/// The fewest placements; of those the least heat; of those an unturned plate; of those the edges that show least.
pub(crate) fn best(order: &Order, cells: &Cells, placed: Point<OnBlank>) -> Result<Choice, Fault> {
    let trials = trials(order, cells, placed)?;
    let counted: Vec<(&Trial, Bands<'_>)> = trials.iter().map(|trial| (trial, trial.bands())).collect();
    let Some(fewest) = counted.iter().filter_map(|(_, bands)| bands.least()).min() else {
        let would_do = trials.iter().filter_map(|trial| {
            let plan = Bands::new(&trial.ground, trial.plate, &heights(&trial.ground, &trial.plate, STEPS));
            Some(trial.throat.as_ref()?.wanted(&trial.plate, &plan.best(COOL)?))
        });
        return Err(crate::throat::too_shallow(order, would_do.min()));
    };
    let among = counted.iter().filter(|(_, bands)| bands.least() == Some(fewest));
    let planned = among.filter_map(|(trial, bands)| Some((*trial, bands, trial.finest(bands, COOL)?)));
    let cost = |(trial, _, plan): &(&Trial, &Bands<'_>, Plan)| {
        (plan.cost.heat, trial.way.turned, plan.cost.edges, trial.way.down)
    };
    let Some((trial, bands, cool)) = planned.min_by_key(cost) else {
        return Err(Fault::defect("the fewest placements were counted but not set."));
    };
    let plan = trial.clear(bands, &cool).unwrap_or(cool);
    Ok(Choice {
        way: trial.way,
        plate: trial.plate,
        plan,
        ground: Rc::clone(&trial.ground),
        throat: trial.throat,
    })
}

fn trials(order: &Order, cells: &Cells, placed: Point<OnBlank>) -> Result<Vec<Trial>, Fault> {
    let ground = |cells: &Cells| {
        Ground::new(cells).map(Rc::new).ok_or_else(|| Fault::defect("nothing is to be heated."))
    };
    let (across, down) = (ground(cells)?, ground(&cells.exchanged())?);
    let trial = |way: Way| {
        let ground = Rc::clone(if way.down { &down } else { &across });
        let plate = way.plate(&order.press);
        not_absurd(ground.extent().size(), &plate, &order.press)?;
        Ok(Trial { way, plate, ground, throat: Throat::of(order, way, placed)? })
    };
    Way::all(&order.press).into_iter().map(trial).collect()
}

impl Trial {
    /// All bands between the heights tried first.
    fn bands(&self) -> Bands<'_> {
        self.between(heights(&self.ground, &self.plate, STEPS))
    }

    /// All bands between those of these heights at which the plate can be set.
    fn between(&self, mut heights: Vec<Length>) -> Bands<'_> {
        heights.retain(|at| self.throat.is_none_or(|throat| throat.reaches(&self.plate, *at)));
        Bands::new(&self.ground, self.plate, &heights)
    }

    /// Between the heights tried first, then between all near the best of them, then with plates at every millimetre.
    fn finest(&self, bands: &Bands<'_>, care: Care) -> Option<Plan> {
        let finer = |bands: &Bands<'_>, care: Care, plan: Plan| {
            let found =
                bands.best(care).filter(|found| found.count() == plan.count() && found.cost <= plan.cost);
            found.unwrap_or(plan)
        };
        let plan = bands.best(care)?;
        let plan = finer(&self.between(heights_near(&plan, &self.plate, STEPS)), care, plan);
        let tops = plan.rows.iter().map(|row| row.top).collect();
        Some(finer(&self.between(tops), Care { steps: i64::MAX, ..care }, plan))
    }

    /// A plan whose edges keep off seams and even colour for hardly more heat, if there is one.
    fn clear(&self, bands: &Bands<'_>, cool: &Plan) -> Option<Plan> {
        let repeated = cool.cost.heat.saturating_sub(self.ground.all_ink());
        let even = even(&self.ground, &self.plate).filter(|(count, _)| *count <= cool.count());
        let even = even.map_or(u64::MAX, |(_, heat)| heat).max(cool.cost.heat);
        let most = even.min(cool.cost.heat + repeated / FOR_EDGES);
        let mut clear = self.finest(bands, Care { edges_weigh: true, ..COOL })?;
        clear.cost.heat = heat(&self.ground, &self.plate, &clear);
        (clear.cost.edges < cool.cost.edges && clear.cost.heat <= most).then_some(clear)
    }
}

/// The ink that all plates of a plan heat.
fn heat(ground: &Ground, plate: &Plate, plan: &Plan) -> u64 {
    let row = |row: &crate::bands::Row| -> u64 {
        row.plates.iter().map(|at| ground.ink(&plate.heated(*at, row.top))).sum()
    };
    plan.rows.iter().map(row).sum()
}

/// How many plates of the least even grid over the ink heat any, and how much.
fn even(ground: &Ground, plate: &Plate) -> Option<(usize, u64)> {
    let ink = ground.extent();
    let columns = spread(ink.x, ink.right(), plate, plate.effective.width);
    let rows = spread(ink.y, ink.bottom(), plate, plate.effective.height);
    let places = rows.iter().flat_map(|y| columns.iter().map(|x| ground.ink(&plate.heated(*x, *y))));
    let heats: Vec<u64> = places.filter(|heat| *heat > 0).collect();
    (!heats.is_empty()).then(|| (heats.len(), heats.iter().sum()))
}

fn not_absurd(size: Size, plate: &Plate, press: &Press) -> Result<(), Fault> {
    let effective = plate.effective;
    let columns = pieces_to_cover(size.width, effective.width, plate.overlap);
    let rows = pieces_to_cover(size.height, effective.height, plate.overlap);
    let count = columns.zip(rows).map(|(columns, rows)| u64::from(columns) * u64::from(rows));
    if let Some(count) = count.filter(|count| *count > MOST_PLACEMENTS) {
        return Err(Fault::order(
            format!("The design would take {count} placements of press {}.", press.name),
            format!(
                "Check the size and its unit, and the press's `weak_edge` and `overlap`; at most {MOST_PLACEMENTS} placements are planned."
            ),
        ));
    }
    if count.is_none() || plate.pitch(effective.width.min(effective.height)) < LEAST_PITCH {
        return Err(Fault::setup(
            format!(
                "The plate of press {} has no effective area wider than its overlap by {LEAST_PITCH}.",
                press.name
            ),
            "Correct `platen`, `weak_edge` or `overlap` of the press.",
        ));
    }
    Ok(())
}
