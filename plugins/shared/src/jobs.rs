//! The jobs whose panels share sheets, by what their records say.

use std::fs;
use std::path::PathBuf;

use seamwright_contract::Fault;
use serde::Deserialize;

use crate::pack::Um;

/// Left, top, width, height.
pub(crate) type RectUm = [Um; 4];

/// A job's finished sheets and its record, in a folder under these names.
#[derive(Debug, Clone)]
pub struct Job {
    /// Its name.
    pub name: String,
    /// The folder.
    pub folder: PathBuf,
}

/// The file names in that folder.
pub const SHEETS: &str = "sheets.pdf";
/// The record's.
pub const RECORD: &str = "record.json";

/// What is known of a job's sheets before any are shared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sharing {
    /// Jobs with the same may lie on the same sheets: paper, printer, colours, and all that is done to a whole sheet.
    pub key: String,
    /// Whether it is a row of a list.
    pub row: bool,
    /// How many pieces there are of it, all copies counted.
    pub pieces: usize,
}

/// The record, as far as it is read here.
#[derive(Debug, Deserialize)]
pub(crate) struct Record {
    pub(crate) job: String,
    pub(crate) copies: u32,
    pub(crate) print: String,
    pub(crate) share: Option<Share>,
    row: Option<serde::de::IgnoredAny>,
    pub(crate) printer: String,
    pub(crate) mirrored: bool,
    pub(crate) paper: Paper,
    pub(crate) orientation: String,
    pub(crate) panels: Vec<Panel>,
    pub(crate) colour: Option<Colour>,
}

/// What it says of the sheets that it may share.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Share {
    pub(crate) gap_um: Um,
    /// What comes out printed of a sheet as it lies, and of one that lies the other way, if they may.
    pub(crate) live_um: RectUm,
    pub(crate) other_live_um: Option<RectUm>,
}

#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Paper {
    pub(crate) name: String,
    pub(crate) width_um: Um,
    pub(crate) height_um: Um,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Panel {
    pub(crate) panel: u32,
    pub(crate) page: u32,
    pub(crate) scale: [f64; 2],
    /// The printed face alone, and with its marks.
    pub(crate) printed_um: RectUm,
    pub(crate) piece_um: RectUm,
}

#[derive(Debug, Deserialize)]
pub(crate) struct Colour {
    pub(crate) instruction: String,
    attached: Option<String>,
    converted: Option<Conversion>,
}

#[derive(Debug, Deserialize)]
struct Conversion {
    to: String,
}

impl Record {
    fn of(bytes: &[u8]) -> Option<Self> {
        serde_json::from_slice(bytes).ok()
    }

    /// Reads that of a job which shares its sheets.
    pub(crate) fn read(job: &Job) -> Result<(Self, Share), Fault> {
        let bytes = fs::read(job.folder.join(RECORD)).map_err(|why| {
            Fault::machine(
                format!("The record of {} could not be read: {why}.", job.name),
                "See that the disk is well.",
            )
        })?;
        let unknown = || Fault::defect(format!("{} does not say how it shares its sheets.", job.name));
        let record = Self::of(&bytes).ok_or_else(unknown)?;
        let share = record.share.clone().ok_or_else(unknown)?;
        Ok((record, share))
    }

    /// Lengths are drawn so much longer than they come out, in the page's two directions.
    pub(crate) fn scale(&self) -> [f64; 2] {
        self.panels.first().map_or([1.0, 1.0], |panel| panel.scale)
    }

    /// Of all that must be alike.
    fn key(&self, share: &Share) -> String {
        let colour = self.colour.as_ref();
        let attached = colour.and_then(|colour| colour.attached.as_deref());
        let converted = colour.and_then(|colour| colour.converted.as_ref()).map(|to| to.to.as_str());
        let words = [
            self.printer.as_str(),
            &self.print,
            &self.paper.name,
            &self.orientation,
            colour.map_or("", |colour| colour.instruction.as_str()),
            attached.unwrap_or_default(),
            converted.unwrap_or_default(),
        ];
        let paper = [self.paper.width_um, self.paper.height_um];
        format!("{words:?} {paper:?} {:?} {} {share:?}", self.scale(), self.mirrored)
    }
}

/// What a record says of sharing; nothing where its job has its sheets for itself.
#[must_use]
pub fn sharing(record: &[u8]) -> Option<Sharing> {
    let record = Record::of(record)?;
    let share = record.share.as_ref()?;
    let copies = usize::try_from(record.copies).unwrap_or(usize::MAX);
    Some(Sharing {
        key: record.key(share),
        row: record.row.is_some(),
        pieces: record.panels.len().saturating_mul(copies),
    })
}
