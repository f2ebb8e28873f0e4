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
pub(crate) const PANELS_CAPTION: &str = "The lay-up, INK SIDE UP. Thick edges are cut.";
pub(crate) const PRESS_CAPTION: &str = "Places of the plate, the blank seen from above";
pub(crate) const TOP: &str = "top of the lay-up";

pub(crate) const PRINTING: [&str; 3] = [
    "Print at actual size (100 %), one side, without mirroring in the driver: the sheets are as they must be.",
    "Where a sheet carries a ruler, measure it before the first cut. If it is off, stop: the panels would not meet.",
    "Let the sheets dry flat before cutting.",
];

pub(crate) const TAPING: [&str; 3] = [
    "Use heat tape on the back of the paper, the side without ink. Never put tape over ink or between ink and blank.",
    "Tape the middle of a seam first, then its ends, then its whole length.",
    "Work on a flat board, ink side up, and slide each panel until its cut edge lies on its neighbour's printed line, or the artwork in the lap meets.",
];

pub(crate) const BEFORE_PRESSING: [&str; 3] = [
    "Go over blank and paper with a lint roller; a fibre leaves a speck.",
    "Turn the lay-up over left to right, so that the ink lies on the blank, and tape its outer edges down, outside the ink.",
    "Lay fresh plain paper under the blank and over the lay-up.",
];

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
