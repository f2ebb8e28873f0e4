//! The content of the notes before anyone decides how it looks.

use seamwright_contract::catalogue::Shape;
use seamwright_contract::layout::Edge;
use seamwright_contract::picture::Band;
use seamwright_contract::{Length, OnBlank, Paper, Rect, Sides, Size};

/// All that the notes say.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Content {
    /// The paper the notes themselves are printed on.
    pub(crate) paper: Size,
    /// The job's name, cleaned.
    pub(crate) job: String,
    /// What follows, in order.
    pub(crate) blocks: Vec<Block>,
}

/// One piece of the notes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Block {
    /// The job at one look: the first page.
    Overview(Box<Overview>),
    /// Begins a part.
    Heading(String),
    /// Sentences that must not be overlooked.
    Warnings(Vec<String>),
    /// Things to do in this order, each with its drawing.
    Steps(Vec<Step>),
    /// Things to know in any order.
    Points(Vec<String>),
    /// Rows under heads.
    Table(Table),
    /// A drawing with facts beside it.
    Figure(Box<Figure>),
    /// Fields to fill in by hand.
    Form(Vec<String>),
    /// Blocks that stand on one page.
    Together(Vec<Block>),
}

/// The job at one look.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Overview {
    /// The design as it will be seen, if it can be shown.
    pub(crate) thumbnail: Option<Drawing>,
    /// The job's head.
    pub(crate) facts: Vec<Fact>,
    /// What is set large: the value, and under it what it is.
    pub(crate) figures: Vec<Fact>,
    /// The panel map, and what it shows.
    pub(crate) panels: (Drawing, String),
    /// The press map, and what it shows.
    pub(crate) press: Option<(Drawing, String)>,
}

/// One step of joining.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Step {
    /// What is done.
    pub(crate) text: String,
    /// How it looks.
    pub(crate) drawing: Drawing,
}

/// A name and what it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fact {
    /// The name.
    pub(crate) name: String,
    /// The value.
    pub(crate) value: String,
}

/// Rows under heads; every row has as many cells as there are heads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Table {
    /// The heads.
    pub(crate) heads: Vec<String>,
    /// The rows.
    pub(crate) rows: Vec<Vec<String>>,
}

/// A drawing, what it shows, and the facts that stand beside it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Figure {
    /// What is drawn, if anything.
    pub(crate) drawing: Option<Drawing>,
    /// What it shows and from which side.
    pub(crate) caption: String,
    /// What the form without drawings says instead.
    pub(crate) words: Vec<String>,
    /// Facts beside it.
    pub(crate) facts: Vec<Fact>,
}

/// The drawings of the notes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Drawing {
    /// Pixels, as they are.
    Image(Band),
    /// The lay-up, ink side up.
    Panels(PanelMap),
    /// The lay-up as it grows, ink side up.
    Step(StepMap),
    /// The design on the blank, face up.
    Blank(BlankMap),
    /// The press placements over the blank, face up.
    Press(PressMap),
}

/// The lay-up, ink side up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PanelMap {
    /// The design.
    pub(crate) design: Rect<Paper>,
    /// The sheets as they lie before the final trim.
    pub(crate) sheets: Vec<Rect<Paper>>,
    /// Bare parts of the design without a panel, those large enough to be seen.
    pub(crate) bare: Vec<Rect<Paper>>,
    /// The panels.
    pub(crate) cells: Vec<PanelCell>,
    /// The middle lines of tape, level or upright.
    pub(crate) tape: Vec<Rect<Paper>>,
}

/// The lay-up at one step of joining, ink side up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StepMap {
    /// The box around all panels.
    pub(crate) whole: Rect<Paper>,
    /// Panels that lie there already; no edge of theirs is drawn thick.
    pub(crate) lying: Vec<PanelCell>,
    /// Panels that are laid now, in this order, with the edges that come to lie on others, or are cut.
    pub(crate) laid: Vec<PanelCell>,
    /// A box whose diagonals are measured.
    pub(crate) diagonals: Option<Rect<Paper>>,
}

/// One panel of the map.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PanelCell {
    /// Its number.
    pub(crate) number: u32,
    /// What remains visible of it.
    pub(crate) cell: Rect<Paper>,
    /// Its edges that are drawn thick: cut, or laid on others.
    pub(crate) thick: Vec<Edge>,
}

/// The design on the blank, face up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BlankMap {
    /// The blank's size.
    pub(crate) blank: Size,
    /// The blank's outline.
    pub(crate) shape: Shape,
    /// The design.
    pub(crate) design: Rect<OnBlank>,
    /// The box around the panels, whose middles come to lie on the blank's or not.
    pub(crate) lay_up: Rect<OnBlank>,
    /// The panels' numbers and places.
    pub(crate) cells: Vec<(u32, Rect<OnBlank>)>,
    /// The distances between the blank's edges and the panels', in words; of several pieces none are drawn.
    pub(crate) gaps: Option<Sides<String>>,
}

/// The press placements over the blank, face up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PressMap {
    /// The blank's size.
    pub(crate) blank: Size,
    /// The blank's outline.
    pub(crate) shape: Shape,
    /// The design.
    pub(crate) design: Rect<OnBlank>,
    /// The placements' numbers and plates.
    pub(crate) plates: Vec<(u32, Rect<OnBlank>)>,
    /// How much of a plate's edge, all round, does not heat enough.
    pub(crate) weak_edge: Length,
}
