//! What the maker asked for, with every name resolved.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::catalogue::{Blank, Orientation, PaperColour, PaperSize, Press, Printer};
use crate::colour::Intent;
use crate::fault::Fault;
use crate::geometry::{Face, OnBlank, Point, Rect, Size};
use crate::outline::Outline;
use crate::sending::Print;
use crate::settings::{Complaints, Node, Value};
use crate::units::{Length, Units};

/// How a picture fills the design.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fit {
    /// All of the picture, centred, bare blank beside it.
    Contain,
    /// All of the design, the picture's surplus cut off evenly.
    Cover,
    /// All of both, the picture's proportions given up.
    Stretch,
}

impl Fit {
    /// The words used in sidecars.
    pub const WORDS: [(&'static str, Self); 3] =
        [("contain", Self::Contain), ("cover", Self::Cover), ("stretch", Self::Stretch)];

    /// The word used in sidecars and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Contain => "contain",
            Self::Cover => "cover",
            Self::Stretch => "stretch",
        }
    }
}

/// Where a design lies on its blank, one way: across or down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lies {
    /// In the middle.
    #[default]
    Centred,
    /// So far from the blank's left or top edge.
    FromStart(Length),
    /// So far from its right or bottom edge.
    FromEnd(Length),
}

impl Lies {
    /// Where something begins on a blank, of these lengths.
    fn begins(self, blank: Length, design: Length) -> Length {
        match self {
            Self::Centred => (blank - design).half(),
            Self::FromStart(at) => at,
            Self::FromEnd(at) => blank - design - at,
        }
    }
}

/// Where an order comes from that is a row of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// The list's file name.
    pub list: String,
    /// The line it begins on, from 1.
    pub line: u32,
    /// What all rows of that list have in common: the name of the job that the list was.
    pub group: String,
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}", self.list, self.line)
    }
}

/// An order, parsed and resolved.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The article, of the size that counts: the one measured where the order says it.
    pub blank: Blank,
    /// The catalogue's size of a blank whose size was measured.
    pub nominal: Option<Size>,
    /// The design's size: the order's, or the blank's design area.
    pub size: Size,
    /// Where the design lies on the blank, across and down.
    pub lies: [Lies; 2],
    /// How the picture fills it.
    pub fit: Fit,
    /// Which page of the artwork is taken, from 1.
    pub page: u32,
    /// The papers to choose from: one, or all the printer takes.
    pub papers: Vec<PaperSize>,
    /// The orientation asked for, or `None` for whichever takes fewer sheets.
    pub orientation: Option<Orientation>,
    /// The printer.
    pub printer: Printer,
    /// The rendering intent asked for, or `None` for the printer's or the studio's.
    pub intent: Option<Intent>,
    /// The press.
    pub press: Press,
    /// Parts of the design that no seam may cross.
    pub keep_clear: Vec<Rect<Face>>,
    /// How many sheets more than the fewest may be taken where that frees seams from busy artwork.
    pub extra_sheets: u32,
    /// How many of the article; pages are never repeated for it.
    pub copies: u32,
    /// Whether its panels may lie on sheets with those of other jobs.
    pub share: bool,
    /// What it says to stages, by their names; each has looked over its own.
    pub said: Vec<(&'static str, Value)>,
    /// Whether its sheets are handed to the printer.
    pub print: Print,
    /// The maker's own words, shown in the notes.
    pub note: Option<String>,
    /// What is another on each article, a visitor's name for example, by the maker's own keys; texts as they were written.
    pub fields: BTreeMap<String, String>,
    /// The row of a list that it was made from.
    pub row: Option<Row>,
    /// Whether a picture too coarse for the blank is printed all the same.
    pub allow_low_ppi: bool,
    /// The units people read.
    pub units: Units,
}

impl Order {
    /// What it says to a stage, as the stage reads it; it was looked over when the order was read.
    ///
    /// # Errors
    /// A defect, where it is read differently a second time.
    pub fn said_to<T>(
        &self,
        stage: &str,
        read: impl FnOnce(&Node<'_>) -> Option<T>,
    ) -> Result<Option<T>, Fault> {
        let Some((_, said)) = self.said.iter().find(|(name, _)| *name == stage) else { return Ok(None) };
        let complaints = Complaints::new();
        let read = read(&Node::root(said, &complaints));
        read.map(Some)
            .ok_or_else(|| Fault::defect(format!("an order's {stage} is read differently a second time")))
    }

    /// The design's face origin from the blank's top left.
    #[must_use]
    pub fn placed(&self) -> Point<OnBlank> {
        let (blank, design) = (self.blank.size, self.size);
        let [across, down] = self.lies;
        Point::new(across.begins(blank.width, design.width), down.begins(blank.height, design.height))
    }

    /// The outline of the blank's design area, as it lies on the design.
    #[must_use]
    pub fn design_outline(&self) -> Outline<Face> {
        let (blank, area, at) = (&self.blank, self.blank.design_area(), self.placed());
        let begins = |blank, area, at| Lies::Centred.begins(blank, area) - at;
        let (x, y) =
            (begins(blank.size.width, area.width, at.x), begins(blank.size.height, area.height, at.y));
        Outline::new(blank.shape, Rect::new(x, y, area.width, area.height), blank.reach)
    }

    /// How the printer's colours are reached on the paper: on the first where there are several to choose from.
    #[must_use]
    pub fn paper_colour(&self) -> &PaperColour {
        self.papers.first().map_or(&self.printer.colour, |paper| self.printer.colour_on(&paper.name))
    }
}

/// Whether a word can name a field of an order.
#[must_use]
pub fn is_field(name: &str) -> bool {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '_' | '-');
    name.starts_with(|c: char| c.is_ascii_lowercase()) && name.chars().all(plain)
}

/// Fills `{field}` in with what the fields say; `{{` and `}}` are braces.
///
/// # Errors
/// The first name that no field has.
pub fn fill_in(text: &str, fields: &BTreeMap<String, String>) -> Result<String, String> {
    let mut filled = String::with_capacity(text.len());
    for piece in pieces(text) {
        filled.push_str(match piece {
            Piece::Words(words) => words,
            Piece::Field(name) => fields.get(name).ok_or_else(|| name.to_owned())?,
        });
    }
    Ok(filled)
}

/// The fields that a text asks for.
pub fn fields_in(text: &str) -> impl Iterator<Item = &str> {
    pieces(text).filter_map(|piece| match piece {
        Piece::Words(_) => None,
        Piece::Field(name) => Some(name),
    })
}

/// A part of a text that is filled in.
enum Piece<'t> {
    Words(&'t str),
    Field(&'t str),
}

fn pieces(text: &str) -> impl Iterator<Item = Piece<'_>> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let (piece, after) = first_piece(rest)?;
        rest = after;
        Some(piece)
    })
}

/// The first part of a text, and what is after it; nothing where there is no text.
fn first_piece(text: &str) -> Option<(Piece<'_>, &str)> {
    let (words, rest) = text.split_at(text.find(['{', '}']).unwrap_or(text.len()));
    if !words.is_empty() {
        return Some((Piece::Words(words), rest));
    }
    let (brace, after) = rest.split_at_checked(1)?;
    if let Some(after) = after.strip_prefix(brace) {
        return Some((Piece::Words(brace), after));
    }
    // No name goes on beyond the next brace.
    let (name, end) = after.split_at(after.find(['{', '}']).unwrap_or(after.len()));
    match end.strip_prefix('}') {
        Some(after) if brace == "{" && is_field(name) => Some((Piece::Field(name), after)),
        _ => Some((Piece::Words(brace), after)),
    }
}
