//! Every sentence of the notes that does not depend on figures, so that a translation is one file.

pub(crate) const TITLE: &str = "Notes for";
pub(crate) const SUBJECT: &str = "How to cut, join, place and press";

pub(crate) const PRINT: &str = "1. Print the sheets";
pub(crate) const PANELS: &str = "2. Cut the panels";
pub(crate) const JOIN: &str = "3. Join them";
pub(crate) const PLACE: &str = "4. Place the lay-up on the blank";
pub(crate) const PRESS: &str = "5. Press";
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

pub(crate) const ONE_PLACE: &str = "at one place";
pub(crate) const IN_ALL: &str = "in all, about";

pub(crate) const INK_SIDE_UP: &str = "Left, top, right and bottom are meant with the INK SIDE UP.";
pub(crate) const STRIPS: &str = "The table has the strip of paper beyond each edge of a panel, as wide as it is from the paper's edge to the line. Where ticks or the picture's edge show the line, go by them.";
pub(crate) const STRIPS_SHARED: &str = "The table has what becomes of the paper beyond each edge of a panel. Go by the ticks, or by the picture's edge.";
pub(crate) const ON_SHARED: &str = "on sheets shared with other jobs, of";
pub(crate) const SHARED: [&str; 2] = [
    "The panels of this job lie on sheets that it shares with other jobs. Those have a folder of their own, whose name begins with shared-; the morning sheet says which it is. Print the sheets there, and cut the panels apart as its notes say.",
    "The sheets.pdf beside these notes has the same panels on sheets of their own. Print it only if you want them once more.",
];
pub(crate) const CUT: &str = "CUT";
pub(crate) const CUT_RUNS: &str = "The line runs";
pub(crate) const CUT_INSIDE: &str = "inside the picture's edge, so that the cut ends in ink.";
pub(crate) const LAST: &str = "last";
pub(crate) const LAST_MEANS: &str =
    "last: leave this strip on; it is cut off with the final trim, when all is joined.";
pub(crate) const UNDER: &str = "under";
pub(crate) const UNDER_MEANS: &str =
    "under: never cut; the strip goes under a neighbour, whose cut edge lies on the line.";
pub(crate) const PANELS_CAPTION: &str =
    "The lay-up, INK SIDE UP. Thick edges are cut. Gray is paper beside the artwork.";
pub(crate) const HATCHED: &str = "Hatched parts of the design are bare and have no panel.";
pub(crate) const TOP: &str = "top of the lay-up";
pub(crate) const PANEL_HEADS: [&str; 7] =
    ["Panel", "Row, column", "Lies on", "Left", "Top", "Right", "Bottom"];
pub(crate) const BEFORE_JOINING: &str = "before joining";

pub(crate) const STEPS_CAPTION: &str = "The drawings show the lay-up INK SIDE UP: white is laid down now, its thick edges on top of what they meet; gray lies there already.";
pub(crate) const TAPE_HEADS: [&str; 3] = ["Tape", "From its end at the", "At"];
pub(crate) const TAPE_CAPTION: &str = "The lay-up, INK SIDE UP. Small boxes are places for tape.";
pub(crate) const ON_THE_BACK: &str = "Tape on the back.";
pub(crate) const DIAGONALS: &str = "check both diagonals between the corners of the outer cut lines";
pub(crate) const FINAL_TRIM: &str =
    "final trim: cut off all strips called last, along the outer ticks, ink side up.";
pub(crate) const BUSY_SEAMS: &str = "Seams across detail";
pub(crate) const TAKE_CARE: &str = "Take care: what crosses them must meet exactly before it is taped.";
pub(crate) const BARE_SEAMS: &str = "Seams across nothing printed";
pub(crate) const QUIET_SEAMS: &str = "The other seams run through artwork that hides them.";
pub(crate) const ALL_QUIET: &str = "All seams run through artwork that hides them.";
pub(crate) const TAPE_ON_BACK: &str = "Use heat tape on the back of the paper, the side without ink. Never put tape on the ink or between ink and blank.";
pub(crate) const TAPE_AT_BOXES: &str = "Tape a seam where the drawing below has its small boxes: nothing is printed there, so that the tape leaves no mark.";
pub(crate) const WITHOUT_BOX: &str = "Seams without a bare place for tape";
pub(crate) const ALL_BUT: &str = "all but";
pub(crate) const TAPE_ALL_ALONG: &str =
    "Tape their middle first, then their ends, then their whole length, thin and flat.";
pub(crate) const ALL: &str = "all";
pub(crate) const MEET: &str = "Work on a flat board, ink side up, and slide each panel until its cut edge lies on its neighbour's printed line, or the artwork in the lap meets.";

pub(crate) const FACE_UP: &str =
    "Blank seen from above, FACE UP. The paper lies on it ink side down: what was left is now right.";
pub(crate) const FROM_ITS_FACE: &str = "Blank seen from its face. It lies face down, the paper on its back: what is left here is right on the table.";
pub(crate) const PLACE_CAPTION: &str = "Distances are those of the panels; the design is dashed. Long ticks are the blank's middles, triangles those of the lay-up.";
pub(crate) const ROW_PLACES: &str =
    "Where the edges and seams of each row come to lie, from the blank's edges: check them before you tape.";
pub(crate) const ROW_HEADS: [&str; 4] =
    ["Row", "Panels from the left", "Edges and seams from the blank's left", "From its top"];
pub(crate) const ON_MIDDLE: &str = "the lay-up's on the blank's";
pub(crate) const LEFT_OF: &str = "left of";
pub(crate) const RIGHT_OF: &str = "right of";
pub(crate) const ABOVE: &str = "above";
pub(crate) const BELOW: &str = "below";
pub(crate) const THE_MIDDLE: &str = "the blank's middle";
pub(crate) const DRY_BLANK: &str =
    "Preheat the blank without paper, as said under 5: it drives the moisture out.";
pub(crate) const COATED_SIDE: &str = "The side of the paper with the ink goes against the side of the blank that takes dye: the coated or pile side.";
pub(crate) const LINT: &str = "Go over blank and paper with a lint roller; a fibre leaves a speck.";
pub(crate) const TURN_OVER: &str = "Turn the lay-up over left to right, so that the ink lies on the blank.";
pub(crate) const TAPE_OUTSIDE: &str = "Tape its outer edges down, outside the ink.";
pub(crate) const TAPE_OUTSIDE_AT_BOXES: &str = "Tape its outer edges down where the drawing of the tape has small boxes on them, elsewhere outside the ink.";
pub(crate) const PLAIN_PAPER: &str = "Lay fresh plain paper under the blank and over the lay-up.";

pub(crate) const PRESS_CAPTION: &str = "Places of the plate in their order: its edge dashed, within it what heats enough. The thick line is the blank.";
pub(crate) const PRESS_HEADS: [&str; 7] =
    ["Place", "Plate from the left", "Plate from the top", "Plate", "Close at", "Open at", "Overlaps places"];
pub(crate) const SHIFT_HEADS: [&str; 4] =
    ["Place", "Edge at the column", "Move the work from the place before", "From the first place"];
pub(crate) const STAYS: &str = "as it lies";
pub(crate) const WEAK_EDGE: &str = "all round does not heat enough";
pub(crate) const PEEL_HOT: &str = "Peel the paper off hot, in one pull, after the last place.";
pub(crate) const PEEL_COLD: &str = "Peel the paper off in one pull, when it is cold.";
pub(crate) const COOL_FLAT: &str = "Let the piece cool flat under a board for";
pub(crate) const PLATE_TURNED: &str = "turned";
pub(crate) const PLATE_STRAIGHT: &str = "as it is";
pub(crate) const BEFORE_PRESSING: [&str; 2] = [
    "Warm the press up, with its lower plate, and let it settle at the heat.",
    "The clock of the table starts when the press closes for the preheat; between opening and closing is time to move.",
];
pub(crate) const AFTER_PRESSING: [&str; 1] =
    ["Do not lift or shift the paper between two places of the plate. Open the press straight up."];
pub(crate) const BOTH_SIDES: &str = "A blank for both sides: let the first side cool, lay fresh plain paper under it, then press the second. No part of these notes tells front from back.";

pub(crate) const SAFETY: [&str; 5] = [
    "The plate is about 200 C (390 F) hot and burns the skin within a second. Wear gloves, and keep a place ready for the hot board.",
    "Hot dye and hot backings give off vapour: press under extraction or with open windows.",
    "A press loads a household circuit nearly fully: let it have its own, and leave wiring to licensed hands.",
    "Settings here are starting points. The makers' instructions for blank, paper, ink and press come first, and so do local codes.",
    "Try the settings on a scrap of the same stock before the piece itself.",
];

pub(crate) const FORM: [&str; 4] =
    ["Pressed on, by", "Heat, time, pressure used", "Good, or what went wrong", "Panels printed again"];
