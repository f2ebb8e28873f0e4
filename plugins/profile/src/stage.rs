//! What is decided about colour, and every reason for which it cannot be done.

use std::sync::Arc;

use seamwright_contract::Fault;
use seamwright_contract::catalogue::Printer;
use seamwright_contract::colour::{Colour, Conversion, IccProfile, Intent, Source};
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Channels, Depth, Picture};
use seamwright_contract::plugin::Stage;

use crate::ENTRY;
use crate::converted::Converted;
use crate::engine::{self, Engine};
use crate::icc::{self, Class, Header};

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

impl Stage for Profile {
    fn apply(&self, mut layout: Layout) -> Result<Layout, Fault> {
        let channels = layout.picture.format().channels;
        let source = source(&layout.artwork.source, channels).map_err(|f| f.at(&layout.artwork.file))?;
        layout.on_screen = on_screen(&layout, &source).map_err(|f| f.at(&layout.artwork.file))?;
        say_what_was_assumed(&mut layout);
        match self.action {
            Action::Tag => layout.colour = Some(Colour { converted: None, attached: Some(source) }),
            Action::Convert => self.convert(&mut layout, &source)?,
        }
        Ok(layout)
    }
}

impl Profile {
    fn convert(&self, layout: &mut Layout, source: &IccProfile) -> Result<(), Fault> {
        let printer = layout.order.printer.clone();
        let (profile, header, channels) = self.target(&printer)?;
        if header.class == Class::Display {
            layout.warn(
                ENTRY.name,
                format!(
                    "The profile '{}' of printer '{}' describes a display: colours will be off.",
                    profile.name, printer.name
                ),
            );
        }
        let mut black_point = engine::matches_black(self.intent, header.version);
        if source.bytes == profile.bytes {
            black_point = false;
            layout.remark(
                ENTRY.name,
                format!(
                    "The artwork is already in the profile of printer '{}': nothing was converted.",
                    printer.name
                ),
            );
        } else {
            self.wrap(layout, source, profile, channels, black_point)?;
        }
        layout.colour = Some(Colour {
            converted: Some(Conversion { to: profile.name.clone(), intent: self.intent, black_point }),
            attached: printer.embed.then(|| profile.clone()),
        });
        Ok(())
    }

    fn wrap(
        &self,
        layout: &mut Layout,
        source: &IccProfile,
        profile: &IccProfile,
        channels: Channels,
        black_point: bool,
    ) -> Result<(), Fault> {
        let from = layout.picture.format().channels;
        let engine = Engine::new((&source.bytes, from), (&profile.bytes, channels), self.intent)
            .ok_or_else(|| unusable(&layout.order.printer, profile))?;
        if self.intent == Intent::Absolute {
            layout.warn(
                ENTRY.name,
                "The absolute intent prints the white of the artwork as a tint, also where the blank should stay bare.",
            );
        }
        let black = if black_point { ", black points matched" } else { "" };
        let how = format!("converted to {} ({}{black})", profile.name, self.intent.word());
        let artwork = Arc::clone(&layout.picture);
        // Artwork in 8-bit sRGB was its own picture on screen; the printer's values are not.
        layout.on_screen.get_or_insert_with(|| Arc::clone(&artwork));
        layout.picture = Arc::new(Converted::new(artwork, engine, channels, how));
        Ok(())
    }

    /// The printer's profile, if it can be converted to.
    fn target<'p>(&self, printer: &'p Printer) -> Result<(&'p IccProfile, Header, Channels), Fault> {
        let name = &printer.name;
        let profile = printer.profile.as_ref().ok_or_else(|| {
            Fault::setup(
                format!("Sheets are to be converted, but printer '{name}' has no profile."),
                "Name one with `profile:` in the printer's catalogue file, or set `profile: {do: tag}` in the stages.",
            )
        })?;
        let header = Header::read(&profile.bytes).ok_or_else(|| unusable(printer, profile))?;
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
        match engine::supports(&profile.bytes, self.intent) {
            Some(true) => Ok((profile, header, channels)),
            None => Err(unusable(printer, profile)),
            Some(false) => Err(Fault::setup(
                format!(
                    "The profile '{}' of printer '{name}' has no table for the intent '{}'.",
                    profile.name,
                    self.intent.word()
                ),
                "Set another `intent:` for the stage `profile`, or give the printer a profile that has it.",
            )),
        }
    }
}

fn unusable(printer: &Printer, profile: &IccProfile) -> Fault {
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

fn damaged(profile: &IccProfile) -> Fault {
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
            let engine = Engine::new(
                (&source.bytes, format.channels),
                (&screen.bytes, Channels::Rgb),
                Intent::Relative,
            )
            .ok_or_else(|| damaged(source))?;
            let how = "shown in sRGB".to_owned();
            Ok(Some(Arc::new(Converted::new(picture, engine, Channels::Rgb, how))))
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
