//! What the notes say about one job, from its finished layout.

use seamwright_contract::layout::{LayUp, Layout, PressPlan, Weight};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Channels, Depth};
use seamwright_contract::units::Units;
use seamwright_contract::{Fault, Length, Size};

use crate::blocks::{Block, Content, Drawing, Fact, Overview, Table};
use crate::{colours, cut, join, place, plan, press, say, tidy, words};

/// The thumbnail's longer side in pixels.
const THUMBNAIL: f64 = 700.0;

/// Everything, in the order in which it is needed.
pub(crate) fn of(layout: &Layout) -> Result<Content, Fault> {
    let lay_up = layout.lay_up()?;
    let pieces = plan::pieces(lay_up, layout.way());
    let mut blocks = vec![Block::Overview(Box::new(overview(layout, lay_up)?))];
    let warnings = said(layout, Weight::Warning);
    if !warnings.is_empty() {
        blocks.push(Block::Warnings(warnings));
    }
    printing(layout, &mut blocks);
    cut::panels(layout, lay_up, &mut blocks);
    join::joining(layout, lay_up, &pieces, &mut blocks);
    place::placing(layout, lay_up, &pieces, &mut blocks)?;
    if let Some(press) = &layout.press {
        press::pressing(layout, press, &mut blocks)?;
    }
    blocks.push(Block::Together(vec![
        Block::Heading(words::CAUTIONS.to_owned()),
        points(&words::SAFETY),
        Block::Heading(words::RESULT.to_owned()),
        Block::Form(words::FORM.map(str::to_owned).to_vec()),
    ]));
    let inch = |w, h| Size::new(Length::from_um(w), Length::from_um(h));
    let paper = match layout.order.units {
        Units::Inch => inch(215_900, 279_400),
        Units::Metric => inch(210_000, 297_000),
    };
    Ok(Content { paper, job: tidy::clean(&layout.job.name), blocks })
}

pub(crate) fn points(sentences: &[&str]) -> Block {
    Block::Points(sentences.iter().map(|s| (*s).to_owned()).collect())
}

pub(crate) fn fact(name: &str, value: impl Into<String>) -> Fact {
    Fact { name: name.to_owned(), value: value.into() }
}

pub(crate) fn table(heads: &[&str], rows: Vec<Vec<String>>) -> Block {
    Block::Table(Table { heads: heads.iter().map(|head| (*head).to_owned()).collect(), rows })
}

/// What the stages say of one weight.
fn said(layout: &Layout, weight: Weight) -> Vec<String> {
    layout.notices.iter().filter(|n| n.weight == weight).map(|n| tidy::clean(&n.text)).collect()
}

/// The blank's size, and the catalogue's where it was measured.
fn blank_size(order: &Order) -> String {
    let size = say::size(order.units, order.blank.size);
    match order.nominal {
        Some(nominal) => format!("{size} as measured; {} in the catalogue", say::size(order.units, nominal)),
        None => size,
    }
}

/// The job at one look.
fn overview(layout: &Layout, lay_up: &LayUp) -> Result<Overview, Fault> {
    let (order, design, units) = (&layout.order, layout.design()?, layout.order.units);
    let at = layout.placed();
    let place = [at.x, at.y].map(|from_edge| say::inwards(units, from_edge));
    let mut facts = vec![
        fact("Blank", tidy::clean(&order.blank.name)),
        fact("Blank's size", blank_size(order)),
        fact("Design", say::size(units, design.size)),
        fact("Design lies", format!("{} from the left, {} from the top", place[0], place[1])),
        fact("Artwork", tidy::clean(&layout.artwork.file)),
        fact("Sheets", paper(layout, lay_up, units)),
        fact("Mirrored", mirroring(layout)),
        fact("Copies", order.copies.to_string()),
    ];
    if !layout.lettering.is_empty() {
        let words: Vec<_> =
            layout.lettering.iter().map(|set| tidy::clean(&set.text.replace('\n', " / "))).collect();
        facts.push(fact("Lettering", words.join("; ")));
    }
    if let Some(row) = &order.row {
        facts.push(fact("Row", tidy::clean(&row.to_string())));
    }
    if let Some(note) = &order.note {
        facts.push(fact("Note", tidy::clean(note)));
    }
    let map = cut::map(layout, lay_up);
    let caption = if map.bare.is_empty() {
        words::PANELS_CAPTION.to_owned()
    } else {
        format!("{} {}", words::PANELS_CAPTION, words::HATCHED)
    };
    let press = layout.press.as_ref();
    let press_map = press.map(|press| press::map(layout, press)).transpose()?;
    Ok(Overview {
        thumbnail: thumbnail(layout)?,
        facts,
        figures: figures(layout, lay_up, press, units),
        panels: (Drawing::Panels(map), caption),
        press: press_map.map(|map| (map, words::PRESS_CAPTION.to_owned())),
    })
}

/// What is set large.
fn figures(layout: &Layout, lay_up: &LayUp, press: Option<&PressPlan>, units: Units) -> Vec<Fact> {
    let sheets = lay_up.panels.len();
    let of = if layout.order.share {
        format!("{} on shared {} sheets", if sheets == 1 { "panel" } else { "panels" }, lay_up.paper.name)
    } else {
        format!("{} of {}, {}", sheet_word(sheets), lay_up.paper.name, lay_up.orientation.word())
    };
    let mut figures = vec![Fact { name: of, value: sheets.to_string() }];
    if let Some(press) = press {
        let (f, c) = (format!("{:.0} F", press.heat.fahrenheit()), format!("{:.0} C", press.heat.celsius()));
        let (value, also) = match units {
            Units::Inch => (f, c),
            Units::Metric => (c, f),
        };
        let places = match press.placements.len() {
            1 => words::ONE_PLACE.to_owned(),
            count => format!("at each of {count} places"),
        };
        figures.extend([
            Fact { name: format!("of heat ({also})"), value },
            Fact { name: places, value: press.dwell.to_string() },
            Fact { name: words::IN_ALL.to_owned(), value: press.total.to_string() },
        ]);
    }
    figures
}

/// What is done before any cutting.
fn printing(layout: &Layout, blocks: &mut Vec<Block>) {
    let mut said: Vec<String> = words::PRINTING.map(str::to_owned).to_vec();
    if let Some(colour) = &layout.colour {
        said.insert(0, colour.instruction().to_owned());
    }
    if layout.order.share {
        said = words::SHARED.map(str::to_owned).to_vec();
    }
    said.extend(self::said(layout, Weight::Remark));
    if let Some(colour) = &layout.colour {
        said.extend(colours::facts(colour).iter().map(|fact| format!("{}: {}.", fact.name, fact.value)));
    }
    blocks.push(Block::Heading(words::PRINT.to_owned()));
    blocks.push(Block::Points(said));
    colours::lacking(layout, blocks);
}

fn sheet_word(count: usize) -> &'static str {
    if count == 1 { "sheet" } else { "sheets" }
}

fn paper(layout: &Layout, lay_up: &LayUp, units: Units) -> String {
    if layout.order.share {
        return format!("{} {}", words::ON_SHARED, lay_up.paper.name);
    }
    let count = lay_up.panels.len();
    let (word, size) = (sheet_word(count), say::size(units, lay_up.page));
    format!("{count} {word} of {}, {}: {size}", lay_up.paper.name, lay_up.orientation.word())
}

fn mirroring(layout: &Layout) -> &'static str {
    match (layout.mirrored, layout.order.blank.substrate.seen_through) {
        (true, _) => words::MIRRORED,
        (false, true) => words::NOT_MIRRORED,
        (false, false) => words::WRONGLY_NOT_MIRRORED,
    }
}

fn thumbnail(layout: &Layout) -> Result<Option<Drawing>, Fault> {
    let seen = layout.seen();
    let format = seen.format();
    if format.depth != Depth::Eight || format.channels == Channels::Cmyk {
        return Ok(None);
    }
    Ok(Some(Drawing::Image(seen.reduced(seen.size().at_most(THUMBNAIL))?)))
}
