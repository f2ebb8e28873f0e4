//! Every sentence of the test print.

use seamwright_contract::Length;
use seamwright_contract::colour::Colour;
use seamwright_contract::layout::Layout;
use seamwright_contract::units::Units;

pub(crate) const TITLE: &str = "Test print of";
pub(crate) const SUBJECT: &str = "Patches and crops of the artwork at true size";
pub(crate) const CUT: &str = "cut off above this line before pressing";
pub(crate) const MAKERS: &str = "The makers' instructions for blank, paper, ink and press come first. Try it on a scrap of the same stock.";

pub(crate) const MIDDLE: &str = "the middle of the design";
pub(crate) const DARK_DETAIL: &str = "finest detail in the darks";
pub(crate) const WORST: &str = "farthest out of the printer's reach, the worst first";
pub(crate) const COMMONEST: &str = "what covers most of the design, the most first";
pub(crate) const GRAYS: &str = "grays, 10 to 100 %";
pub(crate) const GRAYS_AND_FULL: &str =
    "grays, 10 to 100 %, then full red, green, blue, cyan, magenta and yellow";
pub(crate) const INKS: &str = "cyan, magenta, yellow and black, each at 25, 50, 75 and 100 %";
pub(crate) const MIXED_GRAY: &str = "cyan, magenta and yellow alike, at 25, 50, 75 and 100 %";
pub(crate) const LINE: &str = "this line is";

pub(crate) fn out_of_reach(mean: f64) -> String {
    format!("farthest out of reach, by {mean:.1} on average")
}

pub(crate) fn colourful(mean: f64) -> String {
    format!("most colourful, chroma {mean:.0} on average")
}

/// How far a crop's top left lies from the design's left and top edges.
pub(crate) fn place(units: Units, left: Length, top: Length) -> String {
    format!("{} from the left, {} from the top", units.show(left), units.show(top))
}

/// The paragraphs above the cut.
pub(crate) fn head(layout: &Layout, paper: &str, line: &str) -> Vec<String> {
    let order = &layout.order;
    let lies = if layout.mirrored {
        "It is mirrored, and reads rightly once pressed."
    } else {
        "It is not mirrored: this is for goods that are seen through from behind, or already mirrored elsewhere."
    };
    let colour = layout.colour.as_ref().map_or_else(String::new, colour_way);
    let printing = format!(
        "Print it as the sheets are printed: at actual size (100 %), one side, without mirroring in the driver. {lies} \
         Measure the line at the foot first: {line}."
    );
    vec![
        format!("Printer {} on {paper}. {colour}", order.printer.name).trim_end().to_owned(),
        printing,
        pressing(layout),
    ]
}

fn colour_way(colour: &Colour) -> String {
    let profile = match (&colour.converted, &colour.attached) {
        (Some(done), _) => format!(
            "Profile {}, {} intent{}. ",
            done.to,
            done.intent.word(),
            if done.black_point { " with black-point compensation" } else { "" }
        ),
        (None, Some(attached)) => format!("The sheets carry the profile {}. ", attached.name),
        (None, None) => "The sheets carry no profile. ".to_owned(),
    };
    profile + colour.instruction()
}

fn pressing(layout: &Layout) -> String {
    let (order, units) = (&layout.order, layout.order.units);
    let substrate = &order.blank.substrate;
    let range = |low: String, high: String| if low == high { low } else { format!("{low} to {high}") };
    let heat = range(units.show_heat(substrate.heat.low), units.show_heat(substrate.heat.high));
    let dwell = range(substrate.dwell.low.to_string(), substrate.dwell.high.to_string());
    let planned = layout.press.as_ref().map_or_else(String::new, |plan| {
        format!(" Planned for this job: {}, {}.", units.show_heat(plan.heat), plan.dwell)
    });
    format!(
        "Press {}: {heat}, {dwell}, {} pressure ({}).{planned} {MAKERS}",
        substrate.name, substrate.pressure, substrate.origin
    )
}
