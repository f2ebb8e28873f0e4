//! What is decided about colour, and every reason for which it cannot be done.

use std::sync::Arc;

use seamwright_contract::Fault;
use seamwright_contract::catalogue::Printer;
use seamwright_contract::colour::{Colour, Conversion, IccProfile, Intent, Source};
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Channels, Depth, Format, Picture};
use seamwright_contract::plugin::Stage;

use crate::converted::Converted;
use crate::engine::{self, Engine};
use crate::icc::{self, Class, Header};
use crate::report::{self, Printing};
use crate::{ENTRY, exact};

/// A difference, as CIEDE2000, that is hardly seen; the curves made for eyes lose less to 8 bits.
const HARDLY_SEEN: f64 = 1.5;

/// Who converts to the printer's values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Action {
    /// The printer driver, from colours that say what they are.
    Tag,
    /// This stage.
    Convert,
}

/// The stage with its settings.
#[derive(Debug)]
pub(crate) struct Profile {
    pub(crate) action: Action,
    pub(crate) intent: Intent,
}

/// A printer's profile that can be converted to.
struct Target {
    profile: IccProfile,
    header: Header,
    channels: Channels,
    intent: Intent,
}

impl Stage for Profile {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let channels = layout.picture.format().channels;
        let source = source(&layout.artwork.source, channels).map_err(|f| f.at(&layout.artwork.file))?;
        keep_papers_of_one_colour(&mut layout);
        say_what_was_assumed(&mut layout);
        match self.action {
            Action::Tag => tag(&mut layout, source)?,
            Action::Convert => self.convert(&mut layout, &source)?,
        }
        report::say(&mut layout)?;
        Ok(layout)
    }
}

/// Leaves the colours to the printer's driver.
fn tag(layout: &mut Layout, source: IccProfile) -> Result<(), Fault> {
    let artwork = Arc::clone(&layout.picture);
    layout.on_screen = on_screen(layout, &source).map_err(|f| f.at(&layout.artwork.file))?;
    let attached = fine_enough(layout, &source)?;
    let printer = usable_profile(layout);
    let printing = printer.as_ref().map_or(Printing::AsTheyAre, Printing::Nearest);
    let report = report::of(layout, artwork.as_ref(), &source, &printing)?;
    layout.colour = Some(Colour {
        converted: None,
        attached: Some(attached),
        range: report.range,
        contrast: report.contrast,
        ink: report.ink,
    });
    Ok(())
}

/// What the sheets carry. Sheets have 8 bits a sample: 16-bit artwork whose values crowd where that is too coarse, as
/// linear light does in the darks, goes onto them in sRGB, or where that cannot hold it, in a wide space of its curve.
fn fine_enough(layout: &mut Layout, source: &IccProfile) -> Result<IccProfile, Fault> {
    let Format { channels, depth } = layout.picture.format();
    if depth == Depth::Eight || channels == Channels::Cmyk {
        return Ok(source.clone());
    }
    if exact::lost_to_eight_bits(&source.bytes, channels).is_none_or(|most| most <= HARDLY_SEEN) {
        return Ok(source.clone());
    }
    let target = match channels {
        Channels::Gray => icc::srgb_gray()?,
        _ if exact::is_within_srgb(&source.bytes) => icc::srgb()?,
        _ => icc::wide()?,
    };
    let engine = Engine::of((&source.bytes, channels), (&target.bytes, channels), Intent::Relative, false)
        .ok_or_else(|| damaged(source))?;
    let artwork = Arc::clone(&layout.picture);
    layout.on_screen.get_or_insert_with(|| Arc::clone(&artwork));
    layout.picture = Arc::new(Converted::new(artwork, engine, channels));
    layout.remark(
        ENTRY.name,
        format!(
            "The 16-bit values of '{}' are too coarse in 8 bits: the sheets carry the same colours as '{}'.",
            source.name, target.name
        ),
    );
    Ok(target)
}

impl Profile {
    fn convert(&self, layout: &mut Layout, source: &IccProfile) -> Result<(), Fault> {
        let printer = layout.order.printer.clone();
        let target = self.target(layout, &printer)?;
        if target.header.class == Class::Display {
            layout.warn(
                ENTRY.name,
                format!(
                    "The profile '{}' of printer '{}' describes a display: colours will be off.",
                    target.profile.name, printer.name
                ),
            );
        }
        let artwork = Arc::clone(&layout.picture);
        let native = source.bytes == target.profile.bytes;
        let black_point = !native && engine::matches_black(target.intent, target.header.version);
        let report = if native {
            layout.remark(
                ENTRY.name,
                format!(
                    "The artwork is already in the profile of printer '{}': nothing was converted.",
                    printer.name
                ),
            );
            report::of(layout, artwork.as_ref(), source, &Printing::Native)?
        } else {
            let converted = Arc::new(converted(layout, source, &target, black_point)?);
            let printing = Printing::Converted(&target.profile, &converted);
            let report = report::of(layout, artwork.as_ref(), source, &printing)?;
            layout.picture = converted;
            report
        };
        layout.on_screen = Some(as_printed(layout, &target.profile)?);
        layout.colour = Some(Colour {
            converted: Some(Conversion {
                to: target.profile.name.clone(),
                intent: target.intent,
                black_point,
            }),
            attached: printer.embed.then(|| target.profile.clone()),
            range: report.range,
            contrast: report.contrast,
            ink: report.ink,
        });
        Ok(())
    }

    /// The printer's profile for the job's paper, if it can be converted to.
    fn target(&self, layout: &Layout, printer: &Printer) -> Result<Target, Fault> {
        let name = &printer.name;
        let colour = layout.order.paper_colour();
        let intent = layout.order.intent.or(colour.intent).unwrap_or(self.intent);
        let profile = colour.profile.clone().ok_or_else(|| {
            Fault::setup(
                format!("Sheets are to be converted, but printer '{name}' has no profile."),
                "Name one with `profile:` in the printer's catalogue file, or set `profile: {do: tag}` in the stages.",
            )
        })?;
        let header = Header::read(&profile.bytes).ok_or_else(|| unusable(printer, &profile))?;
        if !matches!(header.class, Class::Output | Class::Display) {
            return Err(Fault::setup(
                format!("The profile '{}' of printer '{name}' is not one of a printer.", profile.name),
                "Give the printer the output profile made for its ink and transfer paper.",
            ));
        }
        let channels = header.channels.ok_or_else(|| {
            Fault::setup(
                format!("The profile '{}' of printer '{name}' is neither RGB, CMYK nor gray.", profile.name),
                "Give the printer an RGB, CMYK or gray output profile, or set `profile: {do: tag}` in the stages.",
            )
        })?;
        match engine::supports(&profile.bytes, intent) {
            Some(true) => Ok(Target { profile, header, channels, intent }),
            None => Err(unusable(printer, &profile)),
            Some(false) => Err(Fault::setup(
                format!(
                    "The profile '{}' of printer '{name}' has no table for the intent '{}'.",
                    profile.name,
                    intent.word()
                ),
                "Set another `intent:` for the stage `profile`, or give the printer a profile that has it.",
            )),
        }
    }
}

/// The artwork in the printer's values.
fn converted(
    layout: &mut Layout,
    source: &IccProfile,
    target: &Target,
    black_point: bool,
) -> Result<Converted, Fault> {
    let from = layout.picture.format().channels;
    let Target { profile, channels, intent, .. } = target;
    let engine = Engine::of((&source.bytes, from), (&profile.bytes, *channels), *intent, black_point)
        .ok_or_else(|| unusable(&layout.order.printer, profile))?;
    if *intent == Intent::Absolute {
        layout.warn(
            ENTRY.name,
            "The absolute intent prints the white of the artwork as a tint, also where the blank should stay bare.",
        );
    }
    Ok(Converted::new(Arc::clone(&layout.picture), engine, *channels))
}

/// How the printer's values look on white paper, in sRGB. Black points are not matched: the print's black is to be seen.
fn as_printed(layout: &Layout, printer: &IccProfile) -> Result<Arc<dyn Picture>, Fault> {
    let screen = icc::srgb()?;
    let channels = layout.picture.format().channels;
    let engine =
        Engine::of((&printer.bytes, channels), (&screen.bytes, Channels::Rgb), Intent::Relative, false)
            .ok_or_else(|| unusable(&layout.order.printer, printer))?;
    Ok(Arc::new(Converted::new(Arc::clone(&layout.picture), engine, Channels::Rgb)))
}

/// The printer's profile for the job's paper, where it says what the printer prints. A profile that does not is no
/// matter as long as nothing is converted to it.
fn usable_profile(layout: &Layout) -> Option<IccProfile> {
    let profile = layout.order.paper_colour().profile.clone()?;
    let header = Header::read(&profile.bytes)?;
    let prints = header.class == Class::Output && header.channels.is_some();
    (prints && engine::supports(&profile.bytes, Intent::Relative) == Some(true)).then_some(profile)
}

/// Of several papers only those are left to choose from on which the printer's colours are reached as on the first.
fn keep_papers_of_one_colour(layout: &mut Layout) {
    let (papers, printer) = (&layout.order.papers, &layout.order.printer);
    let Some(first) = papers.first() else { return };
    let same = |name: &str| printer.colour_on(name) == layout.order.paper_colour();
    let (kept, left): (Vec<_>, Vec<_>) = papers.iter().cloned().partition(|paper| same(&paper.name));
    if !left.is_empty() {
        let names: Vec<&str> = left.iter().map(|paper| paper.name.as_str()).collect();
        let text = format!(
            "{} not weighed: printer '{}' has another profile or intent for it than for {}. Name it as `paper:` to use it.",
            names.join(", "),
            printer.name,
            first.name
        );
        layout.order.papers = kept;
        layout.remark(ENTRY.name, text);
    }
}

pub(crate) fn unusable(printer: &Printer, profile: &IccProfile) -> Fault {
    Fault::setup(
        format!(
            "The profile '{}' of printer '{}' cannot be used: it is damaged.",
            profile.name, printer.name
        ),
        "Fetch or make the printer's profile again, or set `profile: {do: tag}` in the stages.",
    )
}

/// The profile that says what the artwork's colours are.
fn source(source: &Source, channels: Channels) -> Result<IccProfile, Fault> {
    let profile = match (source, channels) {
        (Source::Embedded(profile) | Source::Described(profile), _) => profile,
        (Source::Srgb { .. }, Channels::Rgb) => return icc::srgb(),
        (Source::Srgb { .. }, Channels::Gray) => return icc::srgb_gray(),
        (Source::Srgb { .. }, Channels::Cmyk) => {
            return Err(Fault::artwork(
                "The artwork is CMYK without a profile, so its colours cannot be known.",
                "Save it as RGB, or embed the CMYK profile it was made for.",
            ));
        }
    };
    let header = Header::read(&profile.bytes).ok_or_else(|| damaged(profile))?;
    if header.class == Class::Other {
        return Err(Fault::artwork(
            format!("The profile '{}' in the artwork does not describe colours of a picture.", profile.name),
            CURE,
        ));
    }
    if header.channels != Some(channels) {
        return Err(Fault::artwork(
            format!(
                "The artwork is {}, but the profile '{}' in it is for {}.",
                icc::word(Some(channels)),
                profile.name,
                icc::word(header.channels)
            ),
            CURE,
        ));
    }
    Ok(profile.clone())
}

const CURE: &str = "Save it again with its right profile, or convert it to sRGB.";

pub(crate) fn damaged(profile: &IccProfile) -> Fault {
    Fault::artwork(
        format!("The profile '{}' in the artwork cannot be used: it is damaged.", profile.name),
        CURE,
    )
}

/// The picture before any conversion in 8-bit sRGB; `None` where it is that already.
fn on_screen(layout: &Layout, source: &IccProfile) -> Result<Option<Arc<dyn Picture>>, Fault> {
    let (picture, format) = (Arc::clone(&layout.picture), layout.picture.format());
    match (&layout.artwork.source, format.depth) {
        (Source::Srgb { .. }, Depth::Eight) => Ok(None),
        (Source::Srgb { .. }, Depth::Sixteen) => Ok(Some(Arc::new(Converted::narrowed(picture)))),
        (Source::Embedded(_) | Source::Described(_), _) => {
            let screen = icc::srgb()?;
            let engine = Engine::of(
                (&source.bytes, format.channels),
                (&screen.bytes, Channels::Rgb),
                Intent::Relative,
                true,
            )
            .ok_or_else(|| damaged(source))?;
            Ok(Some(Arc::new(Converted::new(picture, engine, Channels::Rgb))))
        }
    }
}

fn say_what_was_assumed(layout: &mut Layout) {
    let text = match &layout.artwork.source {
        Source::Srgb { said: false } => {
            "The artwork carries no colour profile: its colours are taken as sRGB.".to_owned()
        }
        Source::Described(profile) => format!(
            "The artwork describes its colours without a profile: they are taken as '{}'.",
            profile.name
        ),
        Source::Embedded(_) | Source::Srgb { said: true } => return,
    };
    layout.remark(ENTRY.name, text);
}
