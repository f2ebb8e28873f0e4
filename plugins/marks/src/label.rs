//! What names a sheet and lets it be checked: label, arrow, check letter, ruler.
//!
//! Each is a block that is tried in the page's strips one after another, those that stay until the final trim first,
//! so that a sheet keeps its name until it is joined. Where a block finds no room, smaller forms of it are tried.

use seamwright_contract::layout::{Ink, MarkRole, Panel};
use seamwright_contract::units::Units;
use seamwright_contract::{Length, Point};

use crate::block::{Block, SMALL, USUAL, words};
use crate::draft::Draft;
use crate::edges::WEIGHT;

/// Font size of 20 pt, for the check letter: large enough to be seen across a table.
const LARGE: Length = Length::from_um(7_056);

/// How many characters of a job's name are kept, the most first.
const NAME: [usize; 3] = [48, 24, 12];

/// Length of the ruler's ticks.
const RULER_TICK: Length = Length::from_mm(3);

/// What a panel's label says.
#[derive(Debug)]
pub(crate) struct Words<'a> {
    job: &'a str,
    number: String,
    place: String,
    trim: String,
    /// Whether there are no other panels.
    alone: bool,
    /// Whether it may say only whose it is, since it shares its sheet and has little room.
    brief: bool,
}

impl<'a> Words<'a> {
    /// For one of `total` panels; `brief` where it may say only whose it is.
    pub(crate) fn of(job: &'a str, panel: &Panel, total: usize, brief: bool) -> Self {
        let edges: Vec<&str> = panel.trim.iter().map(|edge| edge.word()).collect();
        let trim = match edges.as_slice() {
            [] => "no edge to trim".to_owned(),
            [edge] => format!("trim {edge}"),
            [edges @ .., last] => format!("trim {} and {last}", edges.join(", ")),
        };
        Self {
            job,
            number: format!("panel {} of {total}", panel.number),
            place: format!("row {}, column {}", panel.row, panel.column),
            trim,
            alone: total == 1,
            brief,
        }
    }

    /// All that there may be room for: whose it is, and which of its panels.
    fn least(&self, name: usize) -> Option<Vec<String>> {
        let job = shortened(self.job, name);
        self.brief.then(|| vec![if self.alone { job } else { format!("{job}, {}", self.number) }])
    }

    /// The label in one to five lines of at most `name` characters of the job's name.
    fn forms(&self, name: usize) -> Vec<Vec<String>> {
        let (job, up) = (shortened(self.job, name), "ink side up");
        let Self { number, place, trim, .. } = self;
        vec![
            vec![format!("{job}, {number}"), format!("{place}, {trim}, {up}")],
            vec![format!("{job}, {number}, {place}, {trim}, {up}")],
            vec![job.clone(), format!("{number}, {place}"), format!("{trim}, {up}")],
            vec![job, number.clone(), place.clone(), trim.clone(), up.to_owned()],
        ]
    }
}

/// A name of at most `most` characters; the middle goes, since beginnings and endings tell names apart.
fn shortened(name: &str, most: usize) -> String {
    let count = name.chars().count();
    if count <= most {
        return name.to_owned();
    }
    let tail = most / 2;
    let head: String = name.chars().take(most - tail - 1).collect();
    let tail: String = name.chars().skip(count - tail).collect();
    format!("{head}…{tail}")
}

/// Puts what there is room for, the most important first; gives the kinds that found none.
pub(crate) fn place(draft: &mut Draft, label: &Words<'_>, units: Units, colour: &str) -> Vec<MarkRole> {
    let labels = NAME
        .iter()
        .flat_map(|name| label.forms(*name))
        .chain(NAME.iter().filter_map(|name| label.least(*name)))
        .flat_map(|lines| [USUAL, SMALL].map(|size| Block::lines(size, &lines)));
    let kinds: [(MarkRole, Vec<Block>); 4] = [
        (MarkRole::Label, labels.collect()),
        (MarkRole::UpArrow, [12, 8].map(|mm| arrow(Length::from_mm(mm))).to_vec()),
        (MarkRole::CheckLetter, check_letters(colour)),
        (MarkRole::Ruler, rulers(units)),
    ];
    kinds
        .into_iter()
        .filter_map(|(role, forms)| {
            let found = forms.into_iter().any(|block| put(draft, role, block));
            (!found).then_some(role)
        })
        .collect()
}

/// Puts a block into the first strip with room for it, if it can be beside the cell, where no cut parts it and no
/// neighbour covers it. An arrow keeps pointing up, all else reads along its strip.
fn put(draft: &mut Draft, role: MarkRole, block: Block) -> bool {
    let turns = role != MarkRole::UpArrow;
    let found = draft.strips.iter().find_map(|strip| {
        let upwards = turns && strip.upright();
        let size = block.size_laid(upwards);
        let spot = draft.spot(&strip.beside(&draft.cell), size).or_else(|| draft.spot(&strip.area, size));
        Some((spot?, upwards))
    });
    let Some((spot, upwards)) = found else { return false };
    draft.put_all(role, spot, block.laid(spot.origin(), upwards));
    true
}

/// An arrow pointing up, two thirds as wide as high.
fn arrow(height: Length) -> Block {
    let sixth = height / 6;
    let outline = [(2, 0), (4, 3), (3, 3), (3, 6), (1, 6), (1, 3), (0, 3)];
    Block::new(vec![Ink::Polygon(outline.map(|(x, y)| Point::new(sixth * x, sixth * y)).to_vec())])
}

/// The letter with what to look for and how to print the colours, or where that is too much, without the latter.
fn check_letters(colour: &str) -> Vec<Block> {
    let texts: [&[&str]; 2] = [&[RIGHT_WAY, colour], &[RIGHT_WAY]];
    let sized = |texts: &&[&str]| [LARGE, USUAL].map(|size| check_letter(size, texts));
    texts.iter().filter(|texts| texts.iter().all(|text| !text.is_empty())).flat_map(sized).collect()
}

const RIGHT_WAY: &str = "must read the right way round";

/// The letter that reads the right way round, and lines of text beside it.
fn check_letter(size: Length, texts: &[&str]) -> Block {
    let letter = Block::line(size, "R").size;
    let lines: Vec<String> = texts.iter().map(|text| (*text).to_owned()).collect();
    let text = Block::lines(SMALL, &lines);
    let down = (letter.height - text.size.height).half().max(Length::ZERO);
    let beside = Point::new(letter.width + Length::from_mm(1), down);
    let mut inks = vec![words(Point::new(Length::ZERO, Length::ZERO), size, "R")];
    inks.extend(text.laid(beside, false));
    Block::new(inks)
}

/// Rulers in the maker's units, the longer first.
fn rulers(units: Units) -> Vec<Block> {
    let one = match units {
        Units::Metric => Length::from_mm(10),
        Units::Inch => Length::from_inches(1),
    };
    let steps: [i64; 2] = match units {
        Units::Metric => [10, 5],
        Units::Inch => [4, 2],
    };
    steps.map(|steps| ruler(one, steps, units)).to_vec()
}

/// A line of so many steps with a tick at each, measured from middle to middle of the outermost ticks.
fn ruler(one: Length, steps: i64, units: Units) -> Block {
    let edge = WEIGHT.half();
    let line = |from, to| Ink::Line { from, to, weight: WEIGHT };
    let at = |step: i64, down: Length| Point::new(edge + one * step, edge + down);
    let length = match units {
        Units::Metric => format!("this line is {} mm long", steps * 10),
        Units::Inch => format!("this line is {steps} in long"),
    };
    let mut inks = vec![line(at(0, Length::ZERO), at(steps, Length::ZERO))];
    inks.extend((0..=steps).map(|step| line(at(step, Length::ZERO), at(step, RULER_TICK))));
    inks.push(words(at(0, RULER_TICK + Length::from_mm(1)), SMALL, &length));
    Block::new(inks)
}
