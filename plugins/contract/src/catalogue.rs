//! The studio's things: blanks and what they are made of, papers, printers and presses.

use std::collections::BTreeMap;

use crate::colour::{IccProfile, Intent};
use crate::geometry::{OnBlank, Page, Rect, Sides, Size};
use crate::lab::Lab;
use crate::outline::Outline;
use crate::scale::{Scale, Shrink};
use crate::sending::SendTo;
use crate::settings::Range;
use crate::units::{Length, Ppi, Seconds, Temperature};

/// The outline of a blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Four straight edges.
    Rectangle,
    /// Four straight edges with round corners of this radius.
    Rounded(Length),
    /// An ellipse over width and height.
    Oval,
    /// A circle; width and height are equal.
    Round,
    /// Half an ellipse: the flat edge at the bottom, its centre the middle of that edge.
    HalfMoon,
}

impl Shape {
    /// The word used in catalogue files and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Rectangle => "rectangle",
            Self::Rounded(_) => "rounded",
            Self::Oval => "oval",
            Self::Round => "round",
            Self::HalfMoon => "half-moon",
        }
    }

    /// Whether something of this size can have it.
    #[must_use]
    pub fn fits(self, size: Size) -> bool {
        match self {
            Self::Round => size.width == size.height,
            Self::Rounded(radius) => radius * 2 <= size.width.min(size.height),
            Self::Rectangle | Self::Oval | Self::HalfMoon => true,
        }
    }
}

/// Whether anything is left to print on of this size with so much bleed, or below zero inset.
#[must_use]
pub fn leaves_room(reach: Length, size: Size) -> bool {
    reach * -2 < size.width.min(size.height)
}

/// The article to decorate.
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    /// Its name in the catalogue, or the job's own for one written in the order.
    pub name: String,
    /// Its outline.
    pub shape: Shape,
    /// Its outside size.
    pub size: Size,
    /// How far the design area reaches beyond the outline (above zero: bleed) or stays inside it (below zero: inset).
    pub reach: Length,
    /// What it is made of.
    pub substrate: Substrate,
    /// Below this the notes warn.
    pub ppi_floor: Ppi,
    /// Below this the job is refused unless the order allows it.
    pub ppi_refuse: Ppi,
    /// Its own colour, where nothing is printed.
    pub colour: Lab,
    /// What it becomes under the press, where that was measured. All lengths here are those before.
    pub shrink: Option<Shrink>,
}

impl Blank {
    /// The size of the design area's bounding box: the outline grown by the bleed or shrunk by the inset.
    #[must_use]
    pub fn design_area(&self) -> Size {
        self.size.grown(self.reach)
    }

    /// Its own outline.
    #[must_use]
    pub fn outline(&self) -> Outline<OnBlank> {
        Outline::new(self.shape, Rect::of_size(self.size), Length::ZERO)
    }
}

/// What a blank is made of and how it wants to be pressed.
#[derive(Debug, Clone, PartialEq)]
pub struct Substrate {
    /// Its name in the catalogue.
    pub name: String,
    /// Press temperature.
    pub heat: Range<Temperature>,
    /// Press time.
    pub dwell: Range<Seconds>,
    /// Time under the closed press before the paper is laid on.
    pub preheat: Seconds,
    /// Pressure, in the trade's words.
    pub pressure: String,
    /// How long it cools, flat, after the last pressing before it is handled.
    pub cool: Seconds,
    /// Whether the paper is peeled off hot, and not when cold.
    pub peel_hot: bool,
    /// Whether the print is seen through the goods from behind, and so is not mirrored.
    pub seen_through: bool,
    /// Where the figures come from.
    pub origin: String,
}

/// A sheet size, upright: width is not above height.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PaperSize {
    /// Its name in the catalogue.
    pub name: String,
    /// Upright size.
    pub size: Size,
}

/// Which way the sheet lies on the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Orientation {
    /// Upright.
    Portrait,
    /// Turned a quarter clockwise, margins with it.
    Landscape,
}

impl Orientation {
    /// The word used in settings.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Portrait => "portrait",
            Self::Landscape => "landscape",
        }
    }
}

/// A printer.
#[derive(Debug, Clone, PartialEq)]
pub struct Printer {
    /// Its name in the catalogue.
    pub name: String,
    /// The papers it takes, the usual one first.
    pub papers: Vec<PaperSize>,
    /// What it cannot print on, on the upright sheet.
    pub margins: Sides<Length>,
    /// The same on single papers, by their names.
    pub paper_margins: BTreeMap<String, Sides<Length>>,
    /// How its colours are reached, on papers that have no entry of their own.
    pub colour: PaperColour,
    /// The same for single papers, by their names.
    pub on_paper: BTreeMap<String, PaperColour>,
    /// How much ink it lays down at full coverage of all colours, in ml a square metre, where the studio measured it.
    pub full_ink: Option<f64>,
    /// Whether converted sheets carry the printer's profile (`embed`) or stay untagged.
    pub embed: bool,
    /// How lengths are drawn so that they come out true, by papers; what was not measured is drawn as it is.
    pub scale: BTreeMap<String, Scale>,
    /// How its sheets come to lie on each other, where the studio said it.
    pub delivers: Option<Delivers>,
    /// Where its sheets go, if the studio has them handed over.
    pub send_to: Option<SendTo>,
}

/// How sheets come out of a printer, one on the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delivers {
    /// Ink up: the sheet printed last lies on top.
    FaceUp,
    /// Ink down: in the stack turned over, ink up, the sheet printed first lies on top.
    FaceDown,
}

impl Delivers {
    /// The words used in catalogue files.
    pub const WORDS: [(&'static str, Self); 2] = [("face-up", Self::FaceUp), ("face-down", Self::FaceDown)];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::FaceUp => "face-up",
            Self::FaceDown => "face-down",
        }
    }

    /// Which page of so many a panel is printed on, so that in the stack, ink up, the first panel lies on top.
    #[must_use]
    pub const fn page(self, panel: u32, panels: u32) -> u32 {
        match self {
            Self::FaceUp => (panels + 1).saturating_sub(panel),
            Self::FaceDown => panel,
        }
    }
}

/// How a printer's colours are reached on a paper.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PaperColour {
    /// Its profile for this ink and paper, if there is one.
    pub profile: Option<IccProfile>,
    /// The intent that suits it, if the studio said one.
    pub intent: Option<Intent>,
}

impl Printer {
    /// How its colours are reached on a paper.
    #[must_use]
    pub fn colour_on(&self, paper: &str) -> &PaperColour {
        self.on_paper.get(paper).unwrap_or(&self.colour)
    }

    /// What it cannot print on, on an upright sheet of this paper.
    #[must_use]
    pub fn margins_on(&self, paper: &str) -> Sides<Length> {
        self.paper_margins.get(paper).copied().unwrap_or(self.margins)
    }

    /// What it can draw on, of an upright sheet.
    #[must_use]
    pub fn live_on(&self, paper: &PaperSize) -> Rect<Page> {
        let Sides { left, top, right, bottom } = self.margins_on(&paper.name);
        Rect::from_edges(left, top, paper.size.width - right, paper.size.height - bottom)
    }

    /// How lengths are drawn on a paper.
    #[must_use]
    pub fn scale_on(&self, paper: &str) -> Scale {
        self.scale.get(paper).copied().unwrap_or_default()
    }
}

/// A heat press.
#[derive(Debug, Clone, PartialEq)]
pub struct Press {
    /// Its name in the catalogue.
    pub name: String,
    /// The hot plate.
    pub platen: Size,
    /// How much of the plate's edge, all round, does not heat well.
    pub weak_edge: Length,
    /// By how much neighbouring effective areas overlap at least.
    pub overlap: Length,
    /// What is moved between placements.
    pub moves: Moves,
    /// Whether plate or work may be turned a quarter.
    pub turns: bool,
    /// How far the work reaches in under a fixed plate: from the plate's front edge back to the column; `None` where nothing
    /// stands behind it.
    pub throat: Option<Length>,
    /// The board that carries the work under a fixed plate, its middle under the blank's.
    pub board: Option<Size>,
    /// What the studio has measured on this press, by the substrate's name.
    pub settings: BTreeMap<String, Measured>,
}

/// Heat and time that a studio has found for one substrate on one press.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// Press temperature.
    pub heat: Temperature,
    /// Press time.
    pub dwell: Seconds,
    /// How it was found.
    pub origin: String,
}

/// What is moved between two placements.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// The plate, over the resting work.
    Plate,
    /// The work, under a fixed plate.
    Work,
}

impl Moves {
    /// The word used in catalogue files and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Plate => "plate",
            Self::Work => "work",
        }
    }
}

impl Press {
    /// The part of the plate that heats well.
    #[must_use]
    pub fn effective(&self) -> Size {
        self.platen.grown(-self.weak_edge)
    }
}
