//! The form of the record: its fields in the order in which they are written.

use std::collections::BTreeMap;
use std::path::Path;

use seamwright_contract::catalogue::Orientation;
use seamwright_contract::colour::Source;
use seamwright_contract::geometry::{Face, Point, Rect, Sides};
use seamwright_contract::layout::{
    self, LayUp, Layout, OneMore, Panel, Placement, PressPlan, Seam, TRIM_GAP, TapeSpot, Weighed, Weight,
};
use seamwright_contract::order::{Order, Row};
use seamwright_contract::scale::Scale;
use seamwright_contract::units::UM_PER_INCH;
use seamwright_contract::{Fault, Lab, Length, colour, num};
use serde::Serialize;

/// The number of this form.
const FORM: u32 = 1;

/// Left, top, width, height in whole micrometres.
type RectUm = [i64; 4];

/// From and to, x before y, in whole micrometres.
type LineUm = [i64; 4];

/// All of it. Field by field what the schema describes; the schema has the words.
#[derive(Debug, Serialize)]
pub(crate) struct Record<'a> {
    record: u32,
    job: &'a str,
    artwork: Artwork<'a>,
    design: Design,
    fit: &'static str,
    copies: u32,
    print: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    share: Option<Share>,
    note: Option<&'a str>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    lettering: Vec<Lettered<'a>>,
    fields: &'a BTreeMap<String, String>,
    row: Option<&'a Row>,
    keep_clear: Vec<RectUm>,
    extra_sheets: u32,
    printer: &'a str,
    blank: Blank<'a>,
    mirrored: bool,
    paper: Paper<'a>,
    orientation: &'static str,
    weighed: Vec<WeighedForm<'a>>,
    one_more: Option<OneMoreForm>,
    lap_um: Option<i64>,
    trim_order: Option<&'static str>,
    panels: Vec<PanelForm<'a>>,
    seams: Vec<SeamForm>,
    tape: Vec<TapeForm>,
    final_trim_um: SidesUm,
    left_out: Vec<RectUm>,
    press: Option<Press<'a>>,
    colour: Option<Colour<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    programs: Vec<Ran<'a>>,
    warnings: Vec<&'a str>,
    remarks: Vec<&'a str>,
    files: BTreeMap<&'a str, &'static str>,
}

#[derive(Debug, Serialize)]
struct Artwork<'a> {
    file: &'a str,
    sha256: &'a str,
    width_px: u32,
    height_px: u32,
    profile: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    drawing: Option<Drawing>,
}

#[derive(Debug, Serialize)]
struct Drawing {
    kind: &'static str,
    page: Option<u32>,
    width_um: i64,
    height_um: i64,
}

#[derive(Debug, Serialize)]
struct Design {
    width_um: i64,
    height_um: i64,
    picture_um: RectUm,
    sheet_ppi: f64,
    artwork_ppi: [f64; 2],
}

#[derive(Debug, Serialize)]
struct Share {
    gap_um: i64,
    live_um: RectUm,
    other_live_um: Option<RectUm>,
}

#[derive(Debug, Serialize)]
struct Lettered<'a> {
    text: &'a str,
    ink_um: RectUm,
    body_um: i64,
}

#[derive(Debug, Serialize)]
struct Ran<'a> {
    program: &'a str,
    sha256: BTreeMap<&'a str, &'a str>,
}

#[derive(Debug, Serialize)]
struct Blank<'a> {
    name: &'a str,
    substrate: &'a str,
    shape: &'static str,
    width_um: i64,
    height_um: i64,
    nominal_um: Option<[i64; 2]>,
    placed_um: [i64; 2],
    colour_lab: [f64; 3],
    #[serde(skip_serializing_if = "Option::is_none")]
    shrink: Option<Shrink>,
}

/// What was measured of the blank under the press.
#[derive(Debug, Serialize)]
struct Shrink {
    marked_um: i64,
    pressed_um: [i64; 2],
}

#[derive(Debug, Serialize)]
struct Paper<'a> {
    name: &'a str,
    width_um: i64,
    height_um: i64,
}

#[derive(Debug, Serialize)]
struct WeighedForm<'a> {
    paper: &'a str,
    orientation: &'static str,
    sheets: u32,
    crossed_mm2: Option<f64>,
    paper_m2: f64,
}

#[derive(Debug, Serialize)]
struct OneMoreForm {
    sheets: u32,
    busy: [u32; 2],
    taken: bool,
}

#[derive(Debug, Serialize)]
struct PanelForm<'a> {
    panel: u32,
    row: u32,
    column: u32,
    page: u32,
    face_um: RectUm,
    cell_um: RectUm,
    page_pt: [f64; 4],
    scale: [f64; 2],
    trim: Vec<&'static str>,
    on_top_of: Vec<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    piece_um: Option<RectUm>,
    #[serde(skip_serializing_if = "Option::is_none")]
    printed_um: Option<RectUm>,
    image_sha256: Option<&'a str>,
}

#[derive(Debug, Serialize)]
struct SeamForm {
    between: [u32; 2],
    face_um: LineUm,
    upper: u32,
    score: f64,
    class: &'static str,
}

#[derive(Debug, Serialize)]
struct TapeForm {
    holds: Vec<u32>,
    face_um: LineUm,
}

#[derive(Debug, Serialize)]
struct SidesUm {
    left: i64,
    top: i64,
    right: i64,
    bottom: i64,
}

#[derive(Debug, Serialize)]
struct Press<'a> {
    name: &'a str,
    placements: Vec<PlacementForm>,
    moves: &'static str,
    weak_edge_um: i64,
    overlap_um: i64,
    heat_c: f64,
    heat_range_c: [f64; 2],
    dwell_s: u32,
    dwell_range_s: [u32; 2],
    origin: &'a str,
    preheat_s: u32,
    pressure: &'a str,
    cool_s: u32,
    peel: &'static str,
    total_s: u32,
    heated_twice: f64,
}

#[derive(Debug, Serialize)]
struct PlacementForm {
    n: u32,
    blank_um: RectUm,
    turned: bool,
    dwell_s: u32,
    start_s: u32,
    overlaps: Vec<u32>,
    new_mm2: f64,
    shift: Option<ShiftForm>,
}

#[derive(Debug, Serialize)]
struct ShiftForm {
    back: &'static str,
    from_first_um: [i64; 2],
    from_before_um: [i64; 2],
}

#[derive(Debug, Serialize)]
struct Colour<'a> {
    source: &'static str,
    converted: Option<Conversion<'a>>,
    attached: Option<&'a str>,
    instruction: &'static str,
    range: Option<RangeForm>,
    contrast: ContrastForm,
    ink: InkForm,
}

#[derive(Debug, Serialize)]
struct RangeForm {
    beyond_ciede2000: f64,
    share: f64,
    only_darker: f64,
    worst: Vec<SwatchForm>,
}

#[derive(Debug, Serialize)]
struct SwatchForm {
    artwork_lab: [f64; 3],
    printed_lab: [f64; 3],
    difference: f64,
    share: f64,
    at_um: [i64; 2],
}

#[derive(Debug, Serialize)]
struct ContrastForm {
    on_white: [f64; 2],
    on_blank: [f64; 2],
}

#[derive(Debug, Serialize)]
struct InkForm {
    coverage: f64,
    ml: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Conversion<'a> {
    to: &'a str,
    intent: &'static str,
    black_point: bool,
}

impl<'a> Record<'a> {
    /// What the layout says, which files the job has, and what tells the panels' pictures from others.
    pub(crate) fn of(
        layout: &'a Layout,
        files: &'a [String],
        pictures: &'a BTreeMap<u32, String>,
    ) -> Result<Self, Fault> {
        let (design, lay_up, order) = (layout.design()?, layout.lay_up()?, &layout.order);
        let placed = layout.placed();
        let said = |weight| {
            layout.notices.iter().filter(move |n| n.weight == weight).map(|n| n.text.as_str()).collect()
        };
        Ok(Self {
            record: FORM,
            job: &layout.job.name,
            artwork: Artwork {
                file: &layout.artwork.file,
                sha256: &layout.artwork.sha256,
                width_px: layout.artwork.size.width,
                height_px: layout.artwork.size.height,
                profile: profile_name(&layout.artwork.source),
                drawing: layout.artwork.drawing.map(drawing),
            },
            design: Design {
                width_um: design.size.width.um(),
                height_um: design.size.height.um(),
                picture_um: rect(&design.picture),
                sheet_ppi: design.sheet_ppi.get(),
                artwork_ppi: design.artwork_ppi.map(|ppi| rounded(ppi.get())),
            },
            fit: order.fit.word(),
            copies: order.copies,
            print: order.print.word(),
            share: order.share.then(|| share(order, lay_up)),
            note: order.note.as_deref(),
            lettering: layout.lettering.iter().map(lettered).collect(),
            fields: &order.fields,
            row: order.row.as_ref(),
            keep_clear: order.keep_clear.iter().map(rect).collect(),
            extra_sheets: order.extra_sheets,
            printer: &order.printer.name,
            blank: Blank {
                name: &order.blank.name,
                substrate: &order.blank.substrate.name,
                shape: order.blank.shape.word(),
                width_um: order.blank.size.width.um(),
                height_um: order.blank.size.height.um(),
                nominal_um: order.nominal.map(|size| [size.width.um(), size.height.um()]),
                placed_um: [placed.x.um(), placed.y.um()],
                colour_lab: lab(order.blank.colour),
                shrink: order.blank.shrink.map(|shrink| Shrink {
                    marked_um: shrink.marked.um(),
                    pressed_um: [shrink.pressed.width.um(), shrink.pressed.height.um()],
                }),
            },
            mirrored: layout.mirrored,
            paper: Paper {
                name: &lay_up.paper.name,
                width_um: lay_up.page.width.um(),
                height_um: lay_up.page.height.um(),
            },
            orientation: lay_up.orientation.word(),
            weighed: lay_up.weighed.iter().map(weighed_form).collect(),
            one_more: lay_up.one_more.as_ref().map(one_more_form),
            lap_um: layout.lap.map(|policy| policy.lap.um()),
            trim_order: layout.lap.map(|policy| policy.order.word()),
            panels: lay_up
                .panels
                .iter()
                .map(|panel| panel_form(panel, order.share, lay_up, pictures))
                .collect(),
            seams: lay_up.seams.iter().map(seam_form).collect(),
            tape: lay_up.tape.iter().map(tape_form).collect(),
            final_trim_um: sides(lay_up.final_trim),
            left_out: lay_up.left_out.iter().map(rect).collect(),
            press: layout.press.as_ref().map(|plan| press_form(plan, &order.press.name)),
            colour: layout.colour.as_ref().map(|colour| colour_form(&layout.artwork.source, colour)),
            programs: layout.programs.iter().map(ran).collect(),
            warnings: said(Weight::Warning),
            remarks: said(Weight::Remark),
            files: files.iter().map(|name| (name.as_str(), media_type(name))).collect(),
        })
    }
}

/// What a job that shares sheets says of them.
fn share(order: &Order, lay_up: &LayUp) -> Share {
    Share { gap_um: TRIM_GAP.um(), live_um: rect(&lay_up.live), other_live_um: other_live(order, lay_up) }
}

/// What comes out printed of the paper lying the other way, where nothing speaks against that: not the order, and no stretch
/// that differs along the sheet and across it, which panels are drawn against for the way they lie.
fn other_live(order: &Order, lay_up: &LayUp) -> Option<RectUm> {
    let other = match lay_up.orientation {
        Orientation::Portrait => Orientation::Landscape,
        Orientation::Landscape => Orientation::Portrait,
    };
    let (paper, [across, down]) = (&lay_up.paper, lay_up.scale);
    (order.orientation.is_none() && across.total_cmp(&down).is_eq()).then(|| {
        let scale = Scale { across, along: down };
        rect(&scale.page(paper.size, other, order.printer.margins_on(&paper.name)).1)
    })
}

fn panel_form<'a>(
    panel: &Panel,
    shares: bool,
    lay_up: &LayUp,
    pictures: &'a BTreeMap<u32, String>,
) -> PanelForm<'a> {
    let [left, top, width, height] = lay_up.drawn_face(panel);
    let bottom = num::float(lay_up.page.height.um()) - top - height;
    PanelForm {
        panel: panel.number,
        row: panel.row,
        column: panel.column,
        page: panel.page,
        face_um: rect(&panel.face),
        cell_um: rect(&panel.cell),
        page_pt: [left, bottom, width, height].map(points),
        scale: lay_up.scale.map(rounded),
        trim: panel.trim.iter().map(|edge| edge.word()).collect(),
        on_top_of: panel.on_top_of.clone(),
        piece_um: shares.then(|| rect(&panel.piece.unwrap_or(panel.printed()))),
        printed_um: shares.then(|| rect(&panel.printed())),
        image_sha256: pictures.get(&panel.number).map(String::as_str),
    }
}

fn weighed_form(weighed: &Weighed) -> WeighedForm<'_> {
    WeighedForm {
        paper: &weighed.paper,
        orientation: weighed.orientation.word(),
        sheets: weighed.sheets,
        crossed_mm2: weighed.crossed.map(rounded),
        paper_m2: rounded(weighed.paper_m2),
    }
}

fn one_more_form(one_more: &OneMore) -> OneMoreForm {
    OneMoreForm { sheets: one_more.sheets, busy: one_more.busy, taken: one_more.taken }
}

fn tape_form(spot: &TapeSpot) -> TapeForm {
    TapeForm { holds: spot.holds.clone(), face_um: line(spot.line) }
}

fn seam_form(seam: &Seam) -> SeamForm {
    SeamForm {
        between: seam.between,
        face_um: line(seam.line),
        upper: seam.upper,
        score: rounded(seam.score),
        class: seam.class.word(),
    }
}

fn press_form<'a>(plan: &'a PressPlan, name: &'a str) -> Press<'a> {
    Press {
        name,
        placements: plan.placements.iter().map(|placement| placement_form(placement, plan.dwell.0)).collect(),
        moves: plan.moves.word(),
        weak_edge_um: plan.weak_edge.um(),
        overlap_um: plan.overlap.um(),
        heat_c: plan.heat.celsius(),
        heat_range_c: [plan.heat_range.low.celsius(), plan.heat_range.high.celsius()],
        dwell_s: plan.dwell.0,
        dwell_range_s: [plan.dwell_range.low.0, plan.dwell_range.high.0],
        origin: &plan.origin,
        preheat_s: plan.preheat.0,
        pressure: &plan.pressure,
        cool_s: plan.cool.0,
        peel: if plan.peel_hot { "hot" } else { "cold" },
        total_s: plan.total.0,
        heated_twice: rounded(plan.heated_twice),
    }
}

fn placement_form(placement: &Placement, dwell_s: u32) -> PlacementForm {
    let um = |way: [Length; 2]| way.map(Length::um);
    PlacementForm {
        n: placement.number,
        blank_um: rect(&placement.platen),
        turned: placement.turned,
        dwell_s,
        start_s: placement.start.0,
        overlaps: placement.overlaps.clone(),
        new_mm2: rounded(placement.new_mm2),
        shift: placement.shift.map(|shift| ShiftForm {
            back: shift.back.word(),
            from_first_um: um(shift.from_first),
            from_before_um: um(shift.from_before),
        }),
    }
}

fn colour_form<'a>(source: &Source, colour: &'a colour::Colour) -> Colour<'a> {
    let lightness = |[dark, light]: [f64; 2]| [rounded(dark), rounded(light)];
    Colour {
        range: colour.range.as_ref().map(range_form),
        contrast: ContrastForm {
            on_white: lightness(colour.contrast.on_white),
            on_blank: lightness(colour.contrast.on_blank),
        },
        ink: InkForm { coverage: rounded(colour.ink.coverage), ml: colour.ink.ml.map(rounded) },
        source: match source {
            Source::Embedded(_) => "embedded",
            Source::Described(_) => "described",
            Source::Srgb { said: true } => "srgb",
            Source::Srgb { said: false } => "assumed-srgb",
        },
        converted: colour.converted.as_ref().map(|conversion| Conversion {
            to: &conversion.to,
            intent: conversion.intent.word(),
            black_point: conversion.black_point,
        }),
        attached: colour.attached.as_ref().map(|profile| profile.name.as_str()),
        instruction: colour.instruction(),
    }
}

fn range_form(range: &colour::InkRange) -> RangeForm {
    let swatch = |swatch: &colour::Swatch| SwatchForm {
        artwork_lab: lab(swatch.artwork),
        printed_lab: lab(swatch.printed),
        difference: rounded(swatch.difference),
        share: rounded(swatch.share),
        at_um: [swatch.at.x.um(), swatch.at.y.um()],
    };
    RangeForm {
        beyond_ciede2000: colour::InkRange::BEYOND,
        share: rounded(range.share),
        only_darker: rounded(range.darker),
        worst: range.worst.iter().map(swatch).collect(),
    }
}

fn lab(lab: Lab) -> [f64; 3] {
    [lab.l, lab.a, lab.b].map(rounded)
}

/// What the artwork's profile calls itself; nothing where the file says nothing.
fn drawing(drawing: layout::Drawing) -> Drawing {
    let layout::Drawing { kind, page, size, .. } = drawing;
    Drawing { kind, page, width_um: size.width.um(), height_um: size.height.um() }
}

fn profile_name(source: &Source) -> Option<&str> {
    match source {
        Source::Embedded(profile) | Source::Described(profile) => Some(&profile.name),
        Source::Srgb { said } => said.then_some("sRGB"),
    }
}

fn media_type(file: &str) -> &'static str {
    match Path::new(file).extension().and_then(|end| end.to_str()) {
        Some("pdf") => "application/pdf",
        Some("png") => "image/png",
        Some("jpg") => "image/jpeg",
        Some("json") => "application/json",
        Some("txt") => "text/plain",
        Some("csv") => "text/csv",
        Some("svg") => "image/svg+xml",
        _ => "application/octet-stream",
    }
}

fn lettered(set: &layout::Lettered) -> Lettered<'_> {
    Lettered { text: &set.text, ink_um: rect(&set.ink), body_um: set.body.um() }
}

fn ran(ran: &layout::Ran) -> Ran<'_> {
    let sha256 = ran.files.iter().map(|file| (file.name.as_str(), file.sha256.as_str())).collect();
    Ran { program: &ran.name, sha256 }
}

fn rect<Space: Copy>(rect: &Rect<Space>) -> RectUm {
    [rect.x.um(), rect.y.um(), rect.width.um(), rect.height.um()]
}

fn line([from, to]: [Point<Face>; 2]) -> LineUm {
    [from.x.um(), from.y.um(), to.x.um(), to.y.um()]
}

fn sides(sides: Sides<Length>) -> SidesUm {
    SidesUm { left: sides.left.um(), top: sides.top.um(), right: sides.right.um(), bottom: sides.bottom.um() }
}

/// Micrometres in points, to a millionth: less than a nanometre.
fn points(um: f64) -> f64 {
    rounded(um * 72.0 / num::float(UM_PER_INCH))
}

/// To six decimals, so that the text stays short and the same everywhere.
fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}
