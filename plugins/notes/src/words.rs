//! Every sentence of the notes that does not depend on figures, so that a translation is one file.

pub(crate) const TITLE: &str = "Notes for";
pub(crate) const SUBJECT: &str = "How to cut, join, place and press";

pub(crate) const JOB: &str = "The job";
pub(crate) const PANELS: &str = "1. Cut the panels";
pub(crate) const JOIN: &str = "2. Join them";
pub(crate) const PLACE: &str = "3. Place the lay-up on the blank";
pub(crate) const PRESS: &str = "4. Press";
pub(crate) const CAUTIONS: &str = "Cautions";
pub(crate) const RESULT: &str = "Result";

pub(crate) const DESIGN_CAPTION: &str = "The design, face up, as it will be seen";
pub(crate) const SWATCHES_CAPTION: &str =
    "Colours the printer lacks: above as in the artwork, below as they print on white";
pub(crate) const SWATCHES: &str = "Colours the printer lacks, and how far off they come out, as CIEDE2000.";
pub(crate) const MIRRORED: &str = "yes, in the sheets";
pub(crate) const NOT_MIRRORED: &str = "no";
pub(crate) const WRONGLY_NOT_MIRRORED: &str = "NO: the design will read backwards";

pub(crate) const PRINTING: [&str; 3] = [
    "Print at actual size (100 %), one side, without mirroring in the driver: the sheets are as they must be.",
    "Where a sheet carries a ruler, measure it before the first cut. If it is off, stop: the panels would not meet.",
    "Let the sheets dry flat before cutting.",
];

pub(crate) const INK_SIDE_UP: &str = "Left, top, right and bottom are meant with the INK SIDE UP.";
pub(crate) const PANELS_CAPTION: &str =
    "The lay-up, INK SIDE UP. Thick edges are cut. Gray is paper beside the artwork.";
pub(crate) const HATCHED: &str = "Hatched parts of the design are bare and have no panel.";
pub(crate) const BOXES: &str = "Small boxes are places for tape.";
pub(crate) const TOP: &str = "top of the lay-up";
pub(crate) const PANEL_HEADS: [&str; 5] = ["Panel", "Row", "Column", "Cut off its", "Lies on panels"];
pub(crate) const NO_EDGE: &str = "no edge";
pub(crate) const UNCUT: &str = "leave uncut";
pub(crate) const BEFORE_JOINING: &str = "before joining";

pub(crate) const ON_THE_BACK: &str = "Tape on the back.";
pub(crate) const DIAGONALS: &str = "check both diagonals between the corners of the outer cut lines";
pub(crate) const FINAL_TRIM: &str = "Final trim: cut the outer strips off along the outer ticks, ink side up";
pub(crate) const FINAL_TRIM_HEADS: [&str; 3] = ["Final trim", "Paper cut off", "On panels"];
pub(crate) const BUSY_SEAMS: &str = "Seams across detail";
pub(crate) const TAKE_CARE: &str = "Take care: what crosses them must meet exactly before it is taped.";
pub(crate) const BARE_SEAMS: &str = "Seams across nothing printed";
pub(crate) const QUIET_SEAMS: &str = "The other seams run through artwork that hides them.";
pub(crate) const ALL_QUIET: &str = "All seams run through artwork that hides them.";
pub(crate) const TAPE_ON_BACK: &str = "Use heat tape on the back of the paper, the side without ink. Never put tape on the ink or between ink and blank.";
pub(crate) const TAPE_AT_BOXES: &str = "Tape a seam where the panel map has its small boxes: nothing is printed there, so that the tape leaves no mark.";
pub(crate) const WITHOUT_BOX: &str = "Seams without a bare place for tape";
pub(crate) const ALL_BUT: &str = "all but";
pub(crate) const TAPE_ALL_ALONG: &str =
    "Tape their middle first, then their ends, then their whole length, thin and flat.";
pub(crate) const ALL: &str = "all";
pub(crate) const MEET: &str = "Work on a flat board, ink side up, and slide each panel until its cut edge lies on its neighbour's printed line, or the artwork in the lap meets.";

pub(crate) const FACE_UP: &str =
    "Blank seen from above, FACE UP. The paper lies on it ink side down: what was left is now right.";
pub(crate) const FROM_ITS_FACE: &str = "Blank seen from its face. The paper lies behind it.";
pub(crate) const OUTER_EDGES: &str = "Distances are those of the panels; the design is dashed.";
pub(crate) const SEAM_HEADS: [&str; 3] = ["Seams", "In rows", "On the blank"];
pub(crate) const LINT: &str = "Go over blank and paper with a lint roller; a fibre leaves a speck.";
pub(crate) const TURN_OVER: &str = "Turn the lay-up over left to right, so that the ink lies on the blank.";
pub(crate) const TAPE_OUTSIDE: &str = "Tape its outer edges down, outside the ink.";
pub(crate) const TAPE_OUTSIDE_AT_BOXES: &str =
    "Tape its outer edges down where the panel map has small boxes on them, elsewhere outside the ink.";
pub(crate) const PLAIN_PAPER: &str = "Lay fresh plain paper under the blank and over the lay-up.";

pub(crate) const PRESS_CAPTION: &str = "Places of the plate, the blank seen from above";
pub(crate) const PRESS_HEADS: [&str; 6] =
    ["Place", "Plate from the left edge", "Plate from the top edge", "Plate", "Close at", "Open at"];
pub(crate) const SHIFT_HEADS: [&str; 4] =
    ["Place", "Edge at the column", "Move the work from the place before", "From the first place"];
pub(crate) const STAYS: &str = "as it lies";
pub(crate) const PEEL_HOT: &str = "peel the paper off hot, after the last place";
pub(crate) const PEEL_COLD: &str = "peel the paper off when it is cold";
pub(crate) const PLATE_TURNED: &str = "turned";
pub(crate) const PLATE_STRAIGHT: &str = "as it is";
pub(crate) const AFTER_PRESSING: [&str; 2] = [
    "Do not lift or shift the paper between two places of the plate. Open the press straight up.",
    "Peel in one pull, and let the piece cool flat under a board.",
];

pub(crate) const SAFETY: [&str; 5] = [
    "The plate is about 200 C (390 F) hot and burns the skin within a second. Wear gloves, and keep a place ready for the hot board.",
    "Hot dye and hot backings give off vapour: press under extraction or with open windows.",
    "A press loads a household circuit nearly fully: let it have its own, and leave wiring to licensed hands.",
    "Settings here are starting points. The makers' instructions for blank, paper, ink and press come first, and so do local codes.",
    "Try the settings on a scrap of the same stock before the piece itself.",
];

pub(crate) const FORM: [&str; 4] =
    ["Pressed on, by", "Heat, time, pressure used", "Good, or what went wrong", "Panels printed again"];
