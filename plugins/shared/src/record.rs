//! The record of shared sheets: the same as the notes, for programs. Its form is described by
//! `config/schemas/shared.schema.json`; lengths are whole micrometres as they come out, from the page's top left.

use std::collections::BTreeMap;

use seamwright_contract::{Fault, Page, Point, Rect};
use serde::Serialize;

use crate::jobs::RectUm;
use crate::pack::Um;
use crate::plan::{Placed, Plan, Sheet};

/// The number of this form.
const FORM: u32 = 1;

#[derive(Debug, Serialize)]
struct Record<'a> {
    shared: u32,
    job: &'a str,
    jobs: &'a [String],
    print: &'a str,
    copies: u32,
    printer: &'a str,
    mirrored: bool,
    paper: Paper<'a>,
    orientation: &'a str,
    live_um: RectUm,
    gap_um: Um,
    scale: [f64; 2],
    pages: Vec<PageForm<'a>>,
    files: BTreeMap<&'a str, &'static str>,
}

#[derive(Debug, Serialize)]
struct Paper<'a> {
    name: &'a str,
    width_um: Um,
    height_um: Um,
}

#[derive(Debug, Serialize)]
struct PageForm<'a> {
    page: u32,
    pieces: Vec<PieceForm<'a>>,
    cuts_um: Vec<[Um; 4]>,
}

#[derive(Debug, Serialize)]
struct PieceForm<'a> {
    piece: u32,
    job: &'a str,
    panel: u32,
    copy: u32,
    own_page: u32,
    own_printed_um: RectUm,
    printed_um: RectUm,
    piece_um: RectUm,
    shown_um: RectUm,
}

/// Its text.
pub(crate) fn of(plan: &Plan, files: &[&str]) -> Result<Vec<u8>, Fault> {
    let first = &plan.first;
    let record = Record {
        shared: FORM,
        job: &plan.name,
        jobs: &plan.jobs,
        print: &first.print,
        // Every copy is a piece.
        copies: 1,
        printer: &first.printer,
        mirrored: first.mirrored,
        paper: Paper {
            name: &first.paper.name,
            width_um: plan.page.width.um(),
            height_um: plan.page.height.um(),
        },
        orientation: plan.orientation(),
        live_um: rect(&plan.live),
        gap_um: plan.gap,
        scale: plan.scale(),
        pages: (1..).zip(&plan.sheets).map(|(page, sheet)| page_form(page, sheet)).collect(),
        files: files.iter().map(|name| (*name, media_type(name))).collect(),
    };
    let mut text = serde_json::to_vec_pretty(&record)
        .map_err(|why| Fault::defect(format!("the record could not be put into words: {why}")))?;
    text.push(b'\n');
    Ok(text)
}

fn page_form(page: u32, sheet: &Sheet) -> PageForm<'_> {
    let cut = |[from, to]: &[Point<Page>; 2]| [from.x.um(), from.y.um(), to.x.um(), to.y.um()];
    PageForm {
        page,
        pieces: (1..).zip(&sheet.pieces).map(|(piece, placed)| piece_form(piece, placed)).collect(),
        cuts_um: sheet.cuts.iter().map(cut).collect(),
    }
}

fn piece_form(piece: u32, placed: &Placed) -> PieceForm<'_> {
    PieceForm {
        piece,
        job: &placed.name,
        panel: placed.panel,
        copy: placed.copy,
        own_page: placed.own_page,
        own_printed_um: rect(&placed.own_printed),
        printed_um: rect(&placed.printed),
        piece_um: rect(&placed.piece),
        shown_um: rect(&placed.shown),
    }
}

fn rect(rect: &Rect<Page>) -> RectUm {
    [rect.x.um(), rect.y.um(), rect.width.um(), rect.height.um()]
}

fn media_type(file: &str) -> &'static str {
    match file.rsplit_once('.').map(|(_, end)| end) {
        Some("pdf") => "application/pdf",
        Some("json") => "application/json",
        _ => "text/plain",
    }
}
