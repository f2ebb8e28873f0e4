//! The record, as far as it is explained.

use serde::Deserialize;
use serde::de::IgnoredAny;

/// Left, top, width, height in micrometres.
pub(super) type RectUm = [i64; 4];

#[derive(Debug, Deserialize)]
pub(super) struct Record {
    pub(super) job: String,
    pub(super) artwork: Artwork,
    pub(super) design: Design,
    pub(super) fit: String,
    pub(super) copies: u32,
    pub(super) printer: String,
    pub(super) blank: Blank,
    pub(super) mirrored: bool,
    pub(super) paper: Paper,
    pub(super) orientation: String,
    #[serde(default)]
    pub(super) one_more: Option<OneMore>,
    #[serde(default)]
    pub(super) keep_clear: Vec<IgnoredAny>,
    pub(super) lap_um: Option<i64>,
    pub(super) panels: Vec<Panel>,
    pub(super) seams: Vec<Seam>,
    pub(super) left_out: Vec<RectUm>,
    pub(super) press: Option<Press>,
    pub(super) colour: Option<Colour>,
    pub(super) warnings: Vec<String>,
    #[serde(default)]
    pub(super) remarks: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Artwork {
    pub(super) file: String,
    pub(super) width_px: u32,
    pub(super) height_px: u32,
    pub(super) profile: Option<String>,
    #[serde(default)]
    pub(super) drawing: Option<Drawing>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Drawing {
    pub(super) kind: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Design {
    pub(super) width_um: i64,
    pub(super) height_um: i64,
    pub(super) sheet_ppi: f64,
    pub(super) artwork_ppi: [f64; 2],
}

#[derive(Debug, Deserialize)]
pub(super) struct Blank {
    pub(super) name: String,
    pub(super) substrate: String,
    pub(super) shape: String,
    pub(super) width_um: i64,
    pub(super) height_um: i64,
    pub(super) placed_um: [i64; 2],
}

#[derive(Debug, Deserialize)]
pub(super) struct Paper {
    pub(super) name: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct OneMore {
    pub(super) sheets: u32,
    pub(super) busy: [u32; 2],
    pub(super) taken: bool,
}

#[derive(Debug, Deserialize)]
pub(super) struct Panel {
    pub(super) panel: u32,
    pub(super) row: u32,
    pub(super) cell_um: RectUm,
}

#[derive(Debug, Deserialize)]
pub(super) struct Seam {
    pub(super) between: [u32; 2],
    pub(super) class: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Press {
    pub(super) name: String,
    pub(super) placements: Vec<Placement>,
    pub(super) moves: String,
    pub(super) heat_c: f64,
    pub(super) dwell_s: u32,
    pub(super) origin: String,
    pub(super) total_s: u32,
    pub(super) heated_twice: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Placement {
    pub(super) n: u32,
    pub(super) blank_um: RectUm,
}

#[derive(Debug, Deserialize)]
pub(super) struct Colour {
    pub(super) source: String,
    pub(super) converted: Option<Conversion>,
    pub(super) instruction: String,
    #[serde(default)]
    pub(super) range: Option<Range>,
    #[serde(default)]
    pub(super) ink: Option<Ink>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Conversion {
    pub(super) to: String,
    pub(super) intent: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Range {
    pub(super) share: f64,
}

#[derive(Debug, Deserialize)]
pub(super) struct Ink {
    pub(super) coverage: f64,
    pub(super) ml: Option<f64>,
}
