//! What the notes say about one job, from its finished layout.

use seamwright_contract::layout::{Edge, LayUp, Layout, PressPlan, TrimOrder, Weight};
use seamwright_contract::picture::{Channels, Depth, Pixels};
use seamwright_contract::units::{Seconds, Units};
use seamwright_contract::{Fault, Length, Paper, Rect, Sides, Size};

use crate::blocks::{BlankMap, Block, Content, Drawing, Fact, Figure, PanelCell, PanelMap, PressMap, Table};
use crate::plan::{self, Move};
use crate::{tidy, words};

/// The thumbnail's longer side in pixels.
const THUMBNAIL: u32 = 700;

/// What moving the plate takes, on top of the dwell: 20 to 40 s (common practice, no source).
const MOVE_SECONDS: u32 = 30;

/// Everything, in the order in which it is needed.
pub(crate) fn of(layout: &Layout) -> Result<Content, Fault> {
    let lay_up = layout.lay_up()?;
    let mut blocks = Vec::new();
    let warnings: Vec<String> =
        layout.notices.iter().filter(|n| n.weight == Weight::Warning).map(|n| tidy::clean(&n.text)).collect();
    if !warnings.is_empty() {
        blocks.push(Block::Warnings(warnings));
    }
    job(layout, lay_up, &mut blocks)?;
    panels(layout, lay_up, &mut blocks);
    joining(layout, lay_up, &mut blocks)?;
    placing(layout, lay_up, &mut blocks)?;
    if let Some(press) = &layout.press {
        pressing(layout, press, &mut blocks)?;
    }
    blocks.push(Block::Heading(words::CAUTIONS.to_owned()));
    blocks.push(points(&words::SAFETY));
    blocks.push(Block::Heading(words::RESULT.to_owned()));
    blocks.push(Block::Form(words::FORM.map(str::to_owned).to_vec()));
    let inch = |w, h| Size::new(Length::from_um(w), Length::from_um(h));
    let paper = match layout.order.units {
        Units::Inch => inch(215_900, 279_400),
        Units::Metric => inch(210_000, 297_000),
    };
    Ok(Content { paper, job: tidy::clean(&layout.job.name), blocks })
}

fn points(sentences: &[&str]) -> Block {
    Block::Points(sentences.iter().map(|s| (*s).to_owned()).collect())
}

fn fact(name: &str, value: impl Into<String>) -> Fact {
    Fact { name: name.to_owned(), value: value.into() }
}

/// `1`, `1 and 2`, `1, 2 and 3`.
fn list(numbers: &[u32]) -> String {
    let words: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    match words.split_last() {
        None => "none".to_owned(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

fn job(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let (order, design, units) = (&layout.order, layout.design()?, layout.order.units);
    let [across, down] = design.artwork_ppi.map(|ppi| ppi.get());
    let mut facts = vec![
        fact("Blank", tidy::clean(&order.blank.name)),
        fact("Blank's size", units.show_size(order.blank.size.width, order.blank.size.height)),
        fact("Design", units.show_size(design.size.width, design.size.height)),
        fact("Artwork", tidy::clean(&layout.artwork.file)),
        fact("Resolution", format!("{:.0} ppi at this size", across.min(down))),
        fact(
            "Paper",
            format!("{} {}", lay_up.panels.len(), if lay_up.panels.len() == 1 { "sheet" } else { "sheets" }),
        ),
        fact("", format!("{}, {}", lay_up.paper.name, lay_up.orientation.word())),
        fact("Mirrored", mirroring(layout)),
        fact("Copies", order.copies.to_string()),
    ];
    if let Some(note) = &order.note {
        facts.push(fact("Note", tidy::clean(note)));
    }
    blocks.push(Block::Heading(words::JOB.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: thumbnail(layout, design.size)?,
        caption: words::DESIGN_CAPTION.to_owned(),
        words: Vec::new(),
        facts,
    })));
    let mut printing: Vec<String> = words::PRINTING.map(str::to_owned).to_vec();
    if let Some(colour) = &layout.colour {
        printing.insert(0, colour.instruction().to_owned());
    }
    blocks.push(Block::Points(printing));
    Ok(())
}

fn mirroring(layout: &Layout) -> &'static str {
    match (layout.mirrored, layout.order.blank.substrate.seen_through) {
        (true, _) => "yes, in the sheets",
        (false, true) => "no: seen through the goods",
        (false, false) => "NO: the design will read backwards",
    }
}

fn thumbnail(layout: &Layout, size: Size) -> Result<Option<Drawing>, Fault> {
    let format = layout.seen().format();
    if format.depth != Depth::Eight || format.channels == Channels::Cmyk {
        return Ok(None);
    }
    let longer = size.width.max(size.height).mm();
    let pixels =
        |length: Length| seamwright_contract::num::pixels(length.mm() / longer * f64::from(THUMBNAIL)).max(1);
    let band = layout.seen().reduced(Pixels::new(pixels(size.width), pixels(size.height)))?;
    Ok(Some(Drawing::Thumbnail(band)))
}

fn panels(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) {
    let way = layout.way();
    let design: Rect<Paper> =
        Rect::new(Length::ZERO, Length::ZERO, layout.order.size.width, layout.order.size.height);
    let trim = lay_up.final_trim;
    let map = PanelMap {
        design,
        paper: Rect::from_edges(
            -trim.left,
            -trim.top,
            design.right() + trim.right,
            design.bottom() + trim.bottom,
        ),
        cells: lay_up
            .panels
            .iter()
            .map(|panel| PanelCell {
                number: panel.number,
                cell: way.to_paper(&panel.cell),
                trim: panel.trim.clone(),
            })
            .collect(),
    };
    let rows = lay_up.panels.iter().map(|panel| {
        let edges: Vec<&str> = panel.trim.iter().map(|edge| edge.word()).collect();
        let edges = if edges.is_empty() { "no edge".to_owned() } else { edges.join(" and ") };
        vec![
            panel.number.to_string(),
            panel.row.to_string(),
            panel.column.to_string(),
            edges,
            list(&panel.on_top_of),
        ]
    });
    blocks.push(Block::Heading(words::PANELS.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Panels(map)),
        caption: words::PANELS_CAPTION.to_owned(),
        words: lay_up
            .panels
            .iter()
            .map(|p| format!("Panel {}: row {}, column {}.", p.number, p.row, p.column))
            .collect(),
        facts: cut_facts(layout, lay_up),
    })));
    let heads = ["Panel", "Row", "Column", "Cut off its", "Lies on panels"].map(str::to_owned).to_vec();
    blocks.push(Block::Table(Table { heads, rows: rows.collect() }));
}

fn cut_facts(layout: &Layout, lay_up: &LayUp) -> Vec<Fact> {
    let mut facts: Vec<Fact> = plan::by_trim(&lay_up.panels, |_| true)
        .into_iter()
        .map(|(edges, numbers)| {
            let edges: Vec<&str> = edges.iter().map(|edge| edge.word()).collect();
            let cut = if edges.is_empty() {
                "leave uncut".to_owned()
            } else {
                format!("cut {}", edges.join(" and "))
            };
            fact(&format!("Panel {}", list(&numbers)), cut)
        })
        .collect();
    if let Some(lap) = &layout.lap {
        let units = layout.order.units;
        facts.push(fact("Lap", units.show(lap.lap)));
        facts.push(fact("Cut", format!("{} inside the ink's edge", units.show(lap.lap - lap.cut_at))));
        let order = match lap.order {
            TrimOrder::PanelsFirst => "before joining, the right edge first, then the bottom",
            TrimOrder::RowsFirst => "right edges before joining, bottom edges when the row is joined",
        };
        facts.push(fact("When", order));
    }
    facts
}

fn joining(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let units = layout.order.units;
    blocks.push(Block::Heading(words::JOIN.to_owned()));
    let rows_first = layout.lap.as_ref().is_some_and(|lap| lap.order == TrimOrder::RowsFirst);
    let mut steps = Vec::new();
    for row in plan::rows(lay_up) {
        for one in &row.moves {
            steps.push(match one {
                Move::Put(number) => format!("Row {}: lay panel {number} down, ink side up.", row.row),
                Move::On(number, on) => format!(
                    "Row {}: lay panel {number} on panel {}, and tape it on the back.",
                    row.row,
                    list(on)
                ),
            });
        }
        if rows_first && row.long_cuts.contains(&Edge::Bottom) {
            steps.push(format!("Row {}: cut its bottom edge in one long cut.", row.row));
        }
        if !row.on_rows.is_empty() {
            steps.push(format!(
                "Lay row {} on row {}, and tape it on the back.",
                row.row,
                list(&row.on_rows)
            ));
        }
    }
    let size = layout.design()?.size;
    if plan::has_corners(&lay_up.panels, size) {
        steps.push(format!("Check both diagonals of the design: {} each.", units.show(plan::diagonal(size))));
    }
    let trim = lay_up.final_trim;
    steps.push(format!(
        "Final trim: cut the outer strips off along the ink, ink side up: left {}, top {}, right {}, bottom {} of paper.",
        units.show(trim.left),
        units.show(trim.top),
        units.show(trim.right),
        units.show(trim.bottom)
    ));
    blocks.push(Block::Steps(steps));
    if lay_up.panels.len() > 1 {
        blocks.push(points(&words::TAPING));
    }
    Ok(())
}

fn placing(layout: &Layout, lay_up: &LayUp, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let (units, blank, size) = (layout.order.units, &layout.order.blank, layout.design()?.size);
    let at = layout.placed();
    let gap = |length: Length| {
        if length < Length::ZERO { format!("over by {}", units.show(-length)) } else { units.show(length) }
    };
    let gaps = Sides {
        left: gap(at.x),
        top: gap(at.y),
        right: gap(blank.size.width - at.x - size.width),
        bottom: gap(blank.size.height - at.y - size.height),
    };
    let way = layout.way();
    let map = BlankMap {
        blank: blank.size,
        shape: blank.shape,
        design: Rect::new(at.x, at.y, size.width, size.height),
        cells: lay_up
            .panels
            .iter()
            .map(|p| (p.number, plan::on_blank(layout, &way.to_paper(&p.cell))))
            .collect(),
        gaps: gaps.clone(),
    };
    let mut facts = vec![
        fact("From the left", gaps.left),
        fact("From the top", gaps.top),
        fact("From the right", gaps.right),
        fact("From the bottom", gaps.bottom),
    ];
    for line in plan::seam_lines(layout, lay_up) {
        let (side, other) = if line.upright { ("left", "right") } else { ("top", "bottom") };
        let place =
            format!("{} from the {side}, {} from the {other}", units.show(line.near), units.show(line.far));
        facts.push(fact(if line.upright { "Upright seam" } else { "Level seam" }, place));
    }
    blocks.push(Block::Heading(words::PLACE.to_owned()));
    let turned = if layout.order.blank.substrate.seen_through {
        "Blank seen from its face. The paper lies behind it."
    } else {
        "Blank seen from above, FACE UP. The paper lies on it ink side down: what was left is now right."
    };
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Blank(map)),
        caption: turned.to_owned(),
        words: Vec::new(),
        facts,
    })));
    blocks.push(points(&words::BEFORE_PRESSING));
    Ok(())
}

fn pressing(layout: &Layout, press: &PressPlan, blocks: &mut Vec<Block>) -> Result<(), Fault> {
    let (units, blank, size, at) =
        (layout.order.units, &layout.order.blank, layout.design()?.size, layout.placed());
    let count = u32::try_from(press.placements.len()).unwrap_or(u32::MAX);
    let total = Seconds(
        press.preheat.0.saturating_add(count.saturating_mul(press.dwell.0.saturating_add(MOVE_SECONDS))),
    );
    let facts = vec![
        fact("Heat", units.show_heat(press.heat)),
        fact("Each place", press.dwell.to_string()),
        fact("Preheat", format!("{}, without paper", press.preheat)),
        fact("Pressure", tidy::clean(&press.pressure)),
        fact("In all", format!("about {total}, an estimate")),
        fact("Origin", tidy::clean(&press.origin)),
    ];
    blocks.push(Block::Heading(words::PRESS.to_owned()));
    blocks.push(Block::Figure(Box::new(Figure {
        drawing: Some(Drawing::Press(PressMap {
            blank: blank.size,
            shape: blank.shape,
            design: Rect::new(at.x, at.y, size.width, size.height),
            plates: press.placements.iter().map(|p| (p.number, p.platen)).collect(),
        })),
        caption: words::PRESS_CAPTION.to_owned(),
        words: Vec::new(),
        facts,
    })));
    let from = |length: Length| {
        if length < Length::ZERO {
            format!("hangs over by {}", units.show(-length))
        } else {
            units.show(length)
        }
    };
    let rows = press.placements.iter().map(|place| {
        let turned = if place.turned { "turned" } else { "as it is" };
        vec![
            place.number.to_string(),
            from(place.platen.x),
            from(place.platen.y),
            turned.to_owned(),
            press.dwell.to_string(),
        ]
    });
    let heads = ["Place", "Plate from the left edge", "Plate from the top edge", "Plate", "Time"];
    blocks.push(Block::Table(Table { heads: heads.map(str::to_owned).to_vec(), rows: rows.collect() }));
    blocks.push(points(&words::AFTER_PRESSING));
    Ok(())
}
