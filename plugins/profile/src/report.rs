//! What the notes, the record and the log say about colours, from the figures of [`outcome`].

use seamwright_contract::colour::{Contrast, IccProfile, InkRange, InkUse};
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples};
use seamwright_contract::{Fault, num};

use crate::converted::Converted;
use crate::icc::Header;
use crate::outcome::{self, Seen};
use crate::{ENTRY, exact, stage};

/// From this share of colours out of reach on it is worth a warning, blacks not counted.
const MUCH: f64 = 0.05;

/// A blank darker than this is dark: what is lighter in the artwork cannot show.
const DARK: f64 = 70.0;

/// Less contrast than this, in L*, is hard to read at arm's length (our own judgement).
const FLAT: f64 = 30.0;

/// How the design's colours come onto paper.
pub(crate) enum Printing<'a> {
    /// As they are, for all that is known of the driver.
    AsTheyAre,
    /// By a driver that reaches the nearest colours of this profile.
    Nearest(&'a IccProfile),
    /// They are the printer's own values already.
    Native,
    /// Converted to this printer's values.
    Converted(&'a IccProfile, &'a Converted),
}

/// The figures.
pub(crate) struct Report {
    pub(crate) range: Option<InkRange>,
    pub(crate) contrast: Contrast,
    pub(crate) ink: InkUse,
}

/// Works out the figures; the artwork is the picture before any conversion.
pub(crate) fn of(
    layout: &Layout,
    artwork: &dyn Picture,
    source: &IccProfile,
    printing: &Printing<'_>,
) -> Result<Report, Fault> {
    let design = layout.design()?;
    let unusable = |profile: &IccProfile| stage::unusable(&layout.order.printer, profile);
    let seen = Seen::new(artwork, &source.bytes, design)?.ok_or_else(|| stage::damaged(source))?;
    let (printed, values) = match printing {
        Printing::AsTheyAre => (seen.colours().to_vec(), None),
        Printing::Native => {
            let (values, channels) = seen.samples();
            (seen.colours().to_vec(), (channels == Channels::Cmyk).then(|| values.to_vec()))
        }
        Printing::Nearest(printer) => {
            let nearest = exact::nearest(&printer.bytes, seen.colours());
            (nearest.ok_or_else(|| unusable(printer))?, None)
        }
        Printing::Converted(printer, converted) => {
            let (values, channels) = values(&seen, converted)?;
            let labs = exact::labs(&printer.bytes, channels, &values).ok_or_else(|| unusable(printer))?;
            (labs, (channels == Channels::Cmyk).then_some(values))
        }
    };
    let range = match printing {
        Printing::AsTheyAre | Printing::Native => None,
        Printing::Nearest(printer) | Printing::Converted(printer, _) => {
            // Of a gray or a display profile nothing is asked: the one has no colours, the other prints none.
            let prints = Header::read(&printer.bytes).is_some_and(|header| header.prints_colours());
            prints.then(|| outcome::range(&seen, &printed, &printer.bytes, design)).flatten()
        }
    };
    let full = layout.order.printer.full_ink;
    Ok(Report {
        range,
        contrast: outcome::contrast(&seen, &printed, &layout.order.blank),
        ink: outcome::ink(&seen, &printed, values.as_deref(), design, full),
    })
}

/// The design's different colours in the printer's values.
fn values(seen: &Seen, converted: &Converted) -> Result<(Vec<u16>, Channels), Fault> {
    let (samples, channels) = seen.samples();
    let size = Pixels::new(num::count(samples.len() / channels.count()), 1);
    let mut row = Band::bare(size, Format { channels, depth: Depth::Sixteen });
    row.samples = Samples::Sixteen(samples.to_vec());
    let band = converted.converted(&row)?;
    let values = match &band.samples {
        Samples::Eight(samples) => samples.iter().copied().map(num::widen).collect(),
        Samples::Sixteen(samples) => samples.clone(),
    };
    Ok((values, band.format().channels))
}

/// Says what the maker should know before anything is printed.
pub(crate) fn say(layout: &mut Layout) -> Result<(), Fault> {
    let colour = layout.colour()?.clone();
    let (blank, name) = (layout.order.blank.colour, layout.order.blank.name.clone());
    if let Some(range) = &colour.range
        && range.share > 0.0
    {
        let (text, much) = out_of_reach(range, &layout.order.printer.name);
        if much { layout.warn(ENTRY.name, text) } else { layout.remark(ENTRY.name, text) }
    }
    let [white, on_blank] =
        [colour.contrast.on_white, colour.contrast.on_blank].map(|[dark, light]| light - dark);
    if on_blank < FLAT && white >= FLAT {
        layout.warn(
            ENTRY.name,
            format!(
                "On blank '{name}' the lightest and darkest parts come within {on_blank:.0} of each other in L*, on white within {white:.0}: take a lighter blank, or artwork with more contrast."
            ),
        );
    } else if blank.l < DARK {
        layout.warn(
            ENTRY.name,
            format!(
                "Blank '{name}' is dark (L* {:.0}), and dye cannot lighten it: whatever is lighter in the artwork comes out as the blank.",
                blank.l
            ),
        );
    }
    Ok(())
}

/// How much is out of reach, in words, and whether it is much.
fn out_of_reach(range: &InkRange, printer: &str) -> (String, bool) {
    let lost = range.share - range.darker;
    let mut sentences = Vec::new();
    if lost > 0.0 {
        sentences.push(format!(
            "{} of the design has colours that printer '{printer}' lacks (CIEDE2000 above {}); they come out less vivid.",
            percent(lost),
            InkRange::BEYOND
        ));
    }
    if range.darker > 0.0 {
        sentences.push(format!(
            "{} of the design is darker than the black of printer '{printer}'; it comes out lighter.",
            percent(range.darker)
        ));
    }
    (sentences.join(" "), lost >= MUCH)
}

/// A share in whole per cent; a trace is not called nothing.
fn percent(share: f64) -> String {
    if share > 0.0 && share < 0.01 { "Less than 1 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}
