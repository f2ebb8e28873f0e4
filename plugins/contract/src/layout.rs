//! All decisions about one job: a closed value that stages change and writers read.

use std::path::PathBuf;
use std::sync::Arc;

use crate::catalogue::{Moves, Orientation, PaperSize};
use crate::colour::{Colour, Source};
use crate::fault::Fault;
use crate::geometry::{Face, OnBlank, Page, Point, Rect, Sides, Size, Way};
use crate::ink::InkMap;
use crate::num;
use crate::order::Order;
use crate::outline::Outline;
use crate::picture::{Picture, Pixels};
use crate::scale;
use crate::settings::Range;
use crate::units::{Length, Ppi, Seconds, Temperature};

/// The job as the daemon names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// The artwork's stem, a dash and six hex digits: also the name of the finished folder.
    pub name: String,
    /// The folder with the studio's own fonts; it need not be there.
    pub fonts: PathBuf,
    /// A folder on a disk with room, for what is needed only while the job is worked. Whoever puts something there takes
    /// it away again.
    pub scratch: PathBuf,
}

/// The artwork file.
#[derive(Debug, Clone, PartialEq)]
pub struct Artwork {
    /// Its file name.
    pub file: String,
    /// SHA-256 of its bytes, in hex.
    pub sha256: String,
    /// Its size as seen (after any Exif orientation); of a drawing, what it is drawn at, which `resize` settles.
    pub size: Pixels,
    /// What it is if it is no picture but a drawing.
    pub drawing: Option<Drawing>,
    /// What its colours mean.
    pub source: Source,
}

/// Artwork without pixels of its own, which is as sharp as it is printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawing {
    /// `SVG` or `PDF`.
    pub kind: &'static str,
    /// The page that is taken, of those that have pages.
    pub page: Option<u32>,
    /// Its size as drawn.
    pub size: Size,
    /// The fewest pixels per inch, at its size as drawn, that a picture in it has.
    pub coarsest: Option<Ppi>,
}

/// The design's size and how the picture lies in it. Given by `resize`.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// The design box on the face, at the face origin.
    pub size: Size,
    /// The part of the design box that the picture covers, clipped to the box.
    pub picture: Rect<Face>,
    /// The design-wide pixel grid: pixels per inch, anchored at the face origin.
    pub sheet_ppi: Ppi,
    /// The artwork's own pixels per inch across and down, at this size; a drawing has the sheets'.
    pub artwork_ppi: [Ppi; 2],
    /// What the blank's outline, grown or shrunk, leaves of the design; beyond it the picture is bare.
    pub outline: Outline<Face>,
}

impl Design {
    /// The size of the design-wide grid: whole pixels, rounded outward.
    #[must_use]
    pub fn grid(&self) -> Pixels {
        let whole = |length| num::pixels((self.sheet_ppi.pixels(length) - GRID_SLACK).ceil().max(1.0));
        Pixels::new(whole(self.size.width), whole(self.size.height))
    }

    /// The window of whole grid pixels, rounded outward, that covers a rectangle of the face.
    #[must_use]
    pub fn window(&self, face: &Rect<Face>) -> crate::picture::Window {
        let grid = self.grid();
        let first =
            |at, most: u32| num::pixels((self.sheet_ppi.pixels(at) + GRID_SLACK).floor().max(0.0)).min(most);
        let last =
            |at, most: u32| num::pixels((self.sheet_ppi.pixels(at) - GRID_SLACK).ceil().max(0.0)).min(most);
        let (left, top) = (first(face.x, grid.width), first(face.y, grid.height));
        let (right, bottom) = (last(face.right(), grid.width), last(face.bottom(), grid.height));
        crate::picture::Window::new(left, top, right.saturating_sub(left), bottom.saturating_sub(top))
    }
}

/// A part of a pixel that is taken as rounding error of the grid arithmetic: about a nanometre.
const GRID_SLACK: f64 = 1e-5;

/// The lap policy. Given by `overlap`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LapPolicy {
    /// The width of the strip printed on both neighbours.
    pub lap: Length,
    /// How far into the strip, from the upper panel's side, the cut line runs; odd micrometres go to the lower panel.
    pub cut_at: Length,
    /// When seams are cut.
    pub order: TrimOrder,
}

/// When the trimmed edges are cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrimOrder {
    /// Each panel before joining.
    PanelsFirst,
    /// The panels of a row joined, then one long cut.
    RowsFirst,
}

impl TrimOrder {
    /// The word used in settings and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::PanelsFirst => "panels-first",
            Self::RowsFirst => "rows-first",
        }
    }
}

/// An edge of a panel as it lies ink side up (paper and page space), or of the blank as it lies face up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Edge {
    /// The left edge.
    Left,
    /// The top edge.
    Top,
    /// The right edge.
    Right,
    /// The bottom edge.
    Bottom,
}

impl Edge {
    /// The word used in notes and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Top => "top",
            Self::Right => "right",
            Self::Bottom => "bottom",
        }
    }
}

/// The part of the design that one sheet carries.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Counted from 1 by rows from the top left of the lay-up as it lies ink side up.
    pub number: u32,
    /// Row of the lay-up, from 1 at the top.
    pub row: u32,
    /// Column of the lay-up, from 1 at the left, ink side up.
    pub column: u32,
    /// Page of the sheets file, from 1.
    pub page: u32,
    /// What the page prints, laps included.
    pub face: Rect<Face>,
    /// What remains visible after trimming and taping.
    pub cell: Rect<Face>,
    /// Where the top left of the printed face lies on the page.
    pub at: Point<Page>,
    /// Edges cut back to the cell before joining.
    pub trim: Vec<Edge>,
    /// Edges beyond which no neighbour lies: the last cut, after joining, takes the paper there.
    pub outer: Vec<Edge>,
    /// Numbers of the panels it lies on when seen ink side up, ascending.
    pub on_top_of: Vec<u32>,
    /// Ink beside the artwork, all of it in paper that is cut off before pressing. Given by `marks`.
    pub marks: Vec<Mark>,
    /// The printed face with all its marks, where the panel may lie on a sheet with others. Given by `marks`.
    pub piece: Option<Rect<Page>>,
}

/// How far apart the printed faces of two panels lie at least where they share a sheet: room for a cut between them, and
/// for a short tick on either side of it (1/4 in; common practice, no source).
pub const TRIM_GAP: Length = Length::from_um(6_350);

impl Panel {
    /// The printed face on its page.
    #[must_use]
    pub const fn printed(&self) -> Rect<Page> {
        Rect::new(self.at.x, self.at.y, self.face.width, self.face.height)
    }

    /// A rectangle of the face on this panel's page.
    #[must_use]
    pub fn on_page(&self, face: &Rect<Face>, way: Way) -> Rect<Page> {
        let (mine, theirs) = (way.to_paper(&self.face), way.to_paper(face));
        Rect::new(self.at.x + theirs.x - mine.x, self.at.y + theirs.y - mine.y, theirs.width, theirs.height)
    }
}

/// How a seam crosses the artwork.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeamClass {
    /// It crosses nothing printed.
    Bare,
    /// It crosses even or dark artwork that hides it.
    Quiet,
    /// It crosses detail.
    Busy,
}

impl SeamClass {
    /// The word used in notes and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bare => "bare",
            Self::Quiet => "quiet",
            Self::Busy => "busy",
        }
    }
}

/// The line where one panel's cut edge lies on its neighbour.
#[derive(Debug, Clone, PartialEq)]
pub struct Seam {
    /// The two panels, the lower number first.
    pub between: [u32; 2],
    /// The panel on top, whose edge is cut.
    pub upper: u32,
    /// From and to, on the face.
    pub line: [Point<Face>; 2],
    /// How much it crosses: 0 for nothing, 1 for the darkest ink and the strongest detail all along.
    pub score: f64,
    /// The same in a word.
    pub class: SeamClass,
}

/// A bare place for heat tape, which would block dye or leave a mark on ink.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TapeSpot {
    /// The two panels whose seam it holds, the lower number first; or the one panel that it holds on the blank.
    pub holds: Vec<u32>,
    /// The middle line of the tape, along the seam or the outer edge, on the face.
    pub line: [Point<Face>; 2],
}

/// A sheet that could have been used, and what came of weighing it.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// The paper's name.
    pub paper: String,
    /// Which way it lies.
    pub orientation: Orientation,
    /// How many sheets it takes.
    pub sheets: u32,
    /// How much ink and detail its seams cross in all, in mm2 of full ink; `None` where its count ruled it out.
    pub crossed: Option<f64>,
    /// How much paper that is, in square metres.
    pub paper_m2: f64,
}

/// What more sheets than the fewest would do, or did, for the seams.
#[derive(Debug, Clone, PartialEq)]
pub struct OneMore {
    /// How many sheets there would be.
    pub sheets: u32,
    /// How many busy seams there are, with the fewest sheets and with that many.
    pub busy: [u32; 2],
    /// Whether the order allowed it and it was taken.
    pub taken: bool,
}

/// Panels on sheets, and how they join. Given by `tile`.
#[derive(Debug, Clone, PartialEq)]
pub struct LayUp {
    /// The paper used.
    pub paper: PaperSize,
    /// Which way it lies.
    pub orientation: Orientation,
    /// The page: the paper as it lies.
    pub page: Size,
    /// The part of the page that the printer can print on. As everything on it, as it comes out of the printer.
    pub live: Rect<Page>,
    /// How much longer lengths are drawn than they come out, in the directions of the page's width and height.
    pub scale: [f64; 2],
    /// Rows of the lay-up.
    pub rows: u32,
    /// Columns of the lay-up's widest row.
    pub columns: u32,
    /// The panels, in the order of their numbers.
    pub panels: Vec<Panel>,
    /// Every seam.
    pub seams: Vec<Seam>,
    /// How much paper the last cut takes off each side of the lay-up, ink side up: from the paper's edge to the design's.
    pub final_trim: Sides<Length>,
    /// Parts of the design that are bare and were given no paper; together with the cells they are the whole design.
    pub left_out: Vec<Rect<Face>>,
    /// Where tape may go.
    pub tape: Vec<TapeSpot>,
    /// The sheets that were weighed, the one chosen first.
    pub weighed: Vec<Weighed>,
    /// What more sheets would do, where they free seams from busy artwork.
    pub one_more: Option<OneMore>,
}

impl LayUp {
    /// Where something is drawn in the file, so that it comes out at `[left, top, width, height]`; micrometres.
    #[must_use]
    pub fn drawn(&self, out: [f64; 4]) -> [f64; 4] {
        scale::drawn(out, self.page, self.scale)
    }

    /// Where a panel's printed face is drawn in the file.
    #[must_use]
    pub fn drawn_face(&self, panel: &Panel) -> [f64; 4] {
        let face = panel.printed();
        self.drawn([face.x, face.y, face.width, face.height].map(|side| num::float(side.um())))
    }
}

/// What a mark is for; also the order in which marks are dropped where paper is short (last first).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MarkRole {
    /// Shows where to cut.
    CutTick,
    /// Shows where the neighbour's cut edge comes to lie.
    Alignment,
    /// Names the panel.
    Label,
    /// Points to the top of the lay-up.
    UpArrow,
    /// Reads the right way round only if nothing mirrored the page once more.
    CheckLetter,
    /// A line of known length.
    Ruler,
}

/// One mark on a page, black, in page space.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// What it is for.
    pub role: MarkRole,
    /// What is drawn.
    pub ink: Ink,
}

/// What can be drawn beside the artwork.
#[derive(Debug, Clone, PartialEq)]
pub enum Ink {
    /// A straight line of this weight with square ends.
    Line {
        /// From here.
        from: Point<Page>,
        /// To here.
        to: Point<Page>,
        /// Line weight.
        weight: Length,
    },
    /// A filled polygon.
    Polygon(Vec<Point<Page>>),
    /// A line of text.
    Text {
        /// Left end of the baseline; when turned, the point about which it is turned.
        at: Point<Page>,
        /// Font size.
        size: Length,
        /// Whether it reads upwards (a quarter turn anticlockwise about `at`).
        upwards: bool,
        /// The words.
        text: String,
    },
}

/// Words set on the design.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lettered {
    /// The words, fields filled in; lines are parted by line feeds.
    pub text: String,
    /// What of the design their ink covers.
    pub ink: Rect<Face>,
    /// The size of their letters: the body (em).
    pub body: Length,
}

/// A program of the studio's own that had a hand in the job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ran {
    /// Its name.
    pub name: String,
    /// What it consists of: what was started, and the files beside its manifest that its command names.
    pub files: Vec<RanFile>,
}

/// One file of a program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RanFile {
    /// As the command names it.
    pub name: String,
    /// SHA-256 of its bytes, in hex.
    pub sha256: String,
}

/// How the lay-up is pressed in sections. Given by `press`.
#[derive(Debug, Clone, PartialEq)]
pub struct PressPlan {
    /// The placements, in the order to press them.
    pub placements: Vec<Placement>,
    /// What is moved between them.
    pub moves: Moves,
    /// How much of the plate's edge, all round, does not count as heating.
    pub weak_edge: Length,
    /// By how much neighbouring heated areas overlap at least, unless bare design parts them.
    pub overlap: Length,
    /// Temperature.
    pub heat: Temperature,
    /// What the substrate takes.
    pub heat_range: Range<Temperature>,
    /// Time for each placement.
    pub dwell: Seconds,
    /// What the substrate takes.
    pub dwell_range: Range<Seconds>,
    /// Where the settings come from.
    pub origin: String,
    /// Time under the closed press before the paper is laid on.
    pub preheat: Seconds,
    /// Pressure, in the trade's words.
    pub pressure: String,
    /// How long the piece cools, flat, before it is handled.
    pub cool: Seconds,
    /// Whether the paper is peeled off hot.
    pub peel_hot: bool,
    /// From the closing of the preheat to the end of the cooling.
    pub total: Seconds,
    /// The share of the inked area that is heated twice or more.
    pub heated_twice: f64,
}

/// One pressing position.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// Counted from 1 in pressing order.
    pub number: u32,
    /// The whole platen over the blank; it may hang over the edge.
    pub platen: Rect<OnBlank>,
    /// Whether the platen is turned a quarter, or the work under a fixed one.
    pub turned: bool,
    /// When it closes, from the closing of the preheat.
    pub start: Seconds,
    /// Numbers of earlier placements whose heated areas it overlaps, ascending.
    pub overlaps: Vec<u32>,
    /// How much ink it is the first to heat, in mm2.
    pub new_mm2: f64,
    /// How the work comes to lie under a fixed plate.
    pub shift: Option<Shift>,
}

/// How the work is moved under a fixed plate, seen from the open front: rightwards, and inwards to the column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shift {
    /// The blank's edge that points to the column.
    pub back: Edge,
    /// From where the work lay at the first placement with this edge at the back.
    pub from_first: [Length; 2],
    /// From where it lay at the placement before; nothing at the first with this edge at the back.
    pub from_before: [Length; 2],
}

/// How grave a notice is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Something the maker may want to know.
    Remark,
    /// Something that may spoil the piece.
    Warning,
}

/// A remark or warning that travels with the job into notes, record and log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// How grave.
    pub weight: Weight,
    /// The stage that says it.
    pub from: &'static str,
    /// One or two plain sentences with figures.
    pub text: String,
}

/// Everything known and decided about one job so far.
#[derive(Debug, Clone)]
pub struct Layout {
    /// The job's name.
    pub job: Job,
    /// What was asked.
    pub order: Order,
    /// The file it is made from.
    pub artwork: Artwork,
    /// The picture as the stages have wrapped it so far.
    pub picture: Arc<dyn Picture>,
    /// The same design in sRGB, for people to look at; set by whoever changes the colours of `picture`.
    pub on_screen: Option<Arc<dyn Picture>>,
    /// What the design prints where; surveyed once, when first asked for.
    ink: Option<Arc<InkMap>>,
    /// Size and place of the picture. From `resize`.
    pub design: Option<Design>,
    /// Words set on the design, in the order of the order.
    pub lettering: Vec<Lettered>,
    /// Colour decisions. From `profile`.
    pub colour: Option<Colour>,
    /// Whether paper is the face mirrored. From `mirror`.
    pub mirrored: bool,
    /// The lap. From `overlap`.
    pub lap: Option<LapPolicy>,
    /// Panels and seams. From `tile`.
    pub lay_up: Option<LayUp>,
    /// The press plan. From `press`.
    pub press: Option<PressPlan>,
    /// Programs of the studio that were run, in that order.
    pub programs: Vec<Ran>,
    /// Remarks and warnings of all stages.
    pub notices: Vec<Notice>,
}

impl Layout {
    /// The beginning: an order and its opened artwork, nothing decided.
    #[must_use]
    pub fn new(job: Job, order: Order, artwork: Artwork, picture: Arc<dyn Picture>) -> Self {
        Self {
            job,
            order,
            artwork,
            picture,
            on_screen: None,
            ink: None,
            design: None,
            lettering: Vec::new(),
            colour: None,
            mirrored: false,
            lap: None,
            lay_up: None,
            press: None,
            programs: Vec::new(),
            notices: Vec::new(),
        }
    }

    /// What the design prints where. Pulled from the picture once, when first asked for, and then kept: the stages
    /// that change the picture stand before the first that asks.
    ///
    /// # Errors
    /// [`Fault`] where the picture cannot be read, or no stage gave the design.
    pub fn ink(&mut self) -> Result<Arc<InkMap>, Fault> {
        if let Some(ink) = &self.ink {
            return Ok(Arc::clone(ink));
        }
        let design = self.design()?;
        let survey = self.picture.survey(&InkMap::wish(design))?;
        let ink = Arc::new(InkMap::new(&survey, design));
        self.ink = Some(Arc::clone(&ink));
        Ok(ink)
    }

    /// The design for people to look at: gray or RGB in sRGB, or the picture itself where no stage said how it looks.
    #[must_use]
    pub fn seen(&self) -> &dyn Picture {
        self.on_screen.as_deref().unwrap_or(self.picture.as_ref())
    }

    /// How the face lies on paper, at the design's width.
    #[must_use]
    pub fn way(&self) -> Way {
        let width = self.design.as_ref().map_or(self.order.size.width, |design| design.size.width);
        Way { mirrored: self.mirrored, width }
    }

    /// The design's face origin from the blank's top left.
    #[must_use]
    pub fn placed(&self) -> Point<OnBlank> {
        self.order.placed()
    }

    /// Adds a remark.
    pub fn remark(&mut self, from: &'static str, text: impl Into<String>) {
        self.notices.push(Notice { weight: Weight::Remark, from, text: text.into() });
    }

    /// Adds a warning.
    pub fn warn(&mut self, from: &'static str, text: impl Into<String>) {
        self.notices.push(Notice { weight: Weight::Warning, from, text: text.into() });
    }
}
