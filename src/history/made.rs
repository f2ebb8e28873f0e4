//! What was made of a job and with which settings: the part of its record that people ask for later.

use std::collections::BTreeMap;

use seamwright_contract::order::Row;
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};

/// A finished job in brief.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Made {
    /// The artwork's file name.
    pub(crate) artwork: String,
    pub(crate) blank: String,
    pub(crate) substrate: String,
    /// The design.
    pub(crate) width_um: i64,
    pub(crate) height_um: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) note: Option<String>,
    /// The row of a list that it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) row: Option<Row>,
    pub(crate) copies: u32,
    pub(crate) printer: String,
    pub(crate) paper: String,
    pub(crate) orientation: String,
    /// Of one copy.
    pub(crate) sheets: usize,
    pub(crate) ppi: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) lap_um: Option<i64>,
    /// The profile that colours were converted to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) converted: Option<String>,
    /// Ink of one copy, where the printer's was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) ink_ml: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) pressing: Option<Pressing>,
    /// Whether its panels lie on sheets with those of other jobs, which are made then in place of its own.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub(crate) shares: bool,
    /// Of shared sheets, the jobs whose panels they carry.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) carries: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) warnings: Vec<String>,
    /// The names of its files.
    pub(crate) files: Vec<String>,
}

/// How one copy is pressed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Pressing {
    pub(crate) press: String,
    pub(crate) heat_c: f64,
    pub(crate) dwell_s: u32,
    pub(crate) placements: usize,
    /// From the closing of the preheat to the end of the cooling.
    pub(crate) total_s: u32,
}

/// The record, as far as it is read here.
#[derive(Deserialize)]
struct Record {
    artwork: File,
    design: Design,
    copies: u32,
    note: Option<String>,
    row: Option<Row>,
    printer: String,
    blank: Blank,
    paper: Named,
    share: Option<IgnoredAny>,
    orientation: String,
    lap_um: Option<i64>,
    panels: Vec<IgnoredAny>,
    press: Option<Press>,
    colour: Option<Colour>,
    warnings: Vec<String>,
    files: BTreeMap<String, IgnoredAny>,
}

/// That of shared sheets, likewise.
#[derive(Deserialize)]
struct Shared {
    jobs: Vec<String>,
    copies: u32,
    printer: String,
    paper: Named,
    orientation: String,
    pages: Vec<IgnoredAny>,
    files: BTreeMap<String, IgnoredAny>,
}

#[derive(Deserialize)]
struct File {
    file: String,
}

#[derive(Deserialize)]
struct Named {
    name: String,
}

#[derive(Deserialize)]
struct Design {
    width_um: i64,
    height_um: i64,
    sheet_ppi: f64,
}

#[derive(Deserialize)]
struct Blank {
    name: String,
    substrate: String,
}

#[derive(Deserialize)]
struct Press {
    name: String,
    placements: Vec<IgnoredAny>,
    heat_c: f64,
    dwell_s: u32,
    total_s: u32,
}

#[derive(Deserialize)]
struct Colour {
    converted: Option<Conversion>,
    ink: Ink,
}

#[derive(Deserialize)]
struct Conversion {
    to: String,
}

#[derive(Deserialize)]
struct Ink {
    ml: Option<f64>,
}

/// A text of several lines as one.
pub(super) fn in_a_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

impl Made {
    /// What a record says; nothing where it is none.
    pub(crate) fn of_record(record: &[u8]) -> Option<Self> {
        Self::of_job(record).or_else(|| Self::of_shared(record))
    }

    fn of_shared(record: &[u8]) -> Option<Self> {
        let record: Shared = serde_json::from_slice(record).ok()?;
        Some(Self {
            carries: record.jobs,
            copies: record.copies,
            printer: record.printer,
            paper: record.paper.name,
            orientation: record.orientation,
            sheets: record.pages.len(),
            files: record.files.into_keys().collect(),
            ..Self::default()
        })
    }

    fn of_job(record: &[u8]) -> Option<Self> {
        let record: Record = serde_json::from_slice(record).ok()?;
        let (ink_ml, converted) =
            record.colour.map_or((None, None), |colour| (colour.ink.ml, colour.converted));
        Some(Self {
            artwork: record.artwork.file,
            blank: record.blank.name,
            substrate: record.blank.substrate,
            width_um: record.design.width_um,
            height_um: record.design.height_um,
            note: record.note.as_deref().map(in_a_line),
            row: record.row,
            copies: record.copies,
            printer: record.printer,
            paper: record.paper.name,
            orientation: record.orientation,
            sheets: record.panels.len(),
            ppi: record.design.sheet_ppi,
            lap_um: record.lap_um,
            converted: converted.map(|conversion| conversion.to),
            ink_ml,
            pressing: record.press.map(|press| Pressing {
                press: press.name,
                heat_c: press.heat_c,
                dwell_s: press.dwell_s,
                placements: press.placements.len(),
                total_s: press.total_s,
            }),
            shares: record.share.is_some(),
            carries: Vec::new(),
            warnings: record.warnings,
            files: record.files.into_keys().collect(),
        })
    }

    /// Sheets of all copies that are printed for it alone.
    pub(crate) fn all_sheets(&self) -> usize {
        if self.shares {
            return 0;
        }
        self.sheets.saturating_mul(usize::try_from(self.copies).unwrap_or(usize::MAX))
    }

    /// Seconds at the press for all copies.
    pub(crate) fn all_seconds(&self) -> u64 {
        self.pressing
            .as_ref()
            .map_or(0, |pressing| u64::from(pressing.total_s).saturating_mul(u64::from(self.copies)))
    }
}
