//! What a driverless printer says of itself, as far as an entry needs it (RFC 8011; PWG 5100.7 for media; PWG 5100.13 for
//! print-scaling and trays).

use std::collections::BTreeMap;

use ::ipp::attribute::{IppAttribute, IppAttributeGroup};
use ::ipp::value::{IppName, IppValue};
use seamwright_contract::catalogue::Delivers;
use seamwright_contract::{Length, Sides, Size};

use super::super::ipp::{numbers, words};
use super::super::media;

/// A hundredth of a millimetre, the unit of sizes and margins.
const UNIT: i64 = 10;

/// What a printer says of itself.
#[derive(Debug, Default)]
pub(super) struct Told {
    pub(super) model: String,
    pub(super) formats: Vec<String>,
    pub(super) scalings: Vec<String>,
    pub(super) sides: Vec<String>,
    pub(super) colours: Vec<String>,
    pub(super) qualities: Vec<i32>,
    /// Its words for kinds of paper, and for the trays it takes paper from.
    pub(super) kinds: Vec<String>,
    pub(super) trays: Vec<String>,
    /// Its words for the papers it takes, and for those that are loaded.
    pub(super) media: Vec<String>,
    pub(super) ready: Vec<String>,
    /// How sheets come to lie on each other, where it says the same of all trays they come out into.
    pub(super) delivers: Option<Delivers>,
    pub(super) sheets: Vec<Sheet>,
}

/// A size of paper with every set of margins it is listed with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sheet {
    pub(super) size: Size,
    /// Each set once, without that of borderless printing.
    pub(super) bordered: Vec<Sides<Length>>,
    /// Whether it is also printed on without margins.
    pub(super) borderless: bool,
}

impl Sheet {
    /// What cannot be printed on, whichever tray and kind of paper: the largest margin of each side; nothing where none is
    /// listed.
    pub(super) fn margins(&self) -> Option<Sides<Length>> {
        self.bordered.iter().copied().reduce(|one, other| Sides {
            left: one.left.max(other.left),
            top: one.top.max(other.top),
            right: one.right.max(other.right),
            bottom: one.bottom.max(other.bottom),
        })
    }

    fn add(&mut self, margins: Sides<Length>) {
        if margins == Sides::all(Length::ZERO) {
            self.borderless = true;
        } else if !self.bordered.contains(&margins) {
            self.bordered.push(margins);
        }
    }
}

impl Told {
    /// What is asked for. The database must be named: it is not among all that printers tell unasked.
    pub(super) const WANTED: [&'static str; 17] = [
        "printer-make-and-model",
        "document-format-supported",
        "print-scaling-supported",
        "sides-supported",
        "print-color-mode-supported",
        "print-quality-supported",
        "media-type-supported",
        "media-source-supported",
        "media-supported",
        "media-ready",
        "media-col-database",
        "media-col-ready",
        "media-left-margin-supported",
        "media-top-margin-supported",
        "media-right-margin-supported",
        "media-bottom-margin-supported",
        "printer-output-tray",
    ];

    pub(super) fn read(group: &IppAttributeGroup) -> Self {
        let mut told = Self {
            model: words(group, "printer-make-and-model").join(" "),
            formats: words(group, "document-format-supported"),
            scalings: words(group, "print-scaling-supported"),
            sides: words(group, "sides-supported"),
            colours: words(group, "print-color-mode-supported"),
            qualities: numbers(group, "print-quality-supported"),
            kinds: words(group, "media-type-supported"),
            trays: words(group, "media-source-supported"),
            media: words(group, "media-supported"),
            ready: words(group, "media-ready"),
            delivers: delivers(group),
            sheets: Vec::new(),
        };
        for name in ["media-col-database", "media-col-ready"] {
            all(group, name).iter().filter_map(listed).for_each(|(size, margins)| told.list(size, margins));
        }
        if told.sheets.is_empty() {
            // Sizes that a printer takes by their names alone have the margins that all of them have.
            let margins = everywhere(group);
            let sizes: Vec<Size> = told.media.iter().filter_map(|word| upright(word)).collect();
            sizes.into_iter().for_each(|size| told.list(size, margins));
        }
        told
    }

    /// Whether it draws a job at its own size when asked to.
    pub(super) fn keeps_size(&self) -> bool {
        self.scalings.iter().any(|scaling| scaling == "none")
    }

    fn list(&mut self, size: Size, margins: Option<Sides<Length>>) {
        let at = self.sheets.iter().position(|sheet| media::alike(sheet.size, size)).unwrap_or_else(|| {
            self.sheets.push(Sheet { size, bordered: Vec::new(), borderless: false });
            self.sheets.len() - 1
        });
        if let (Some(sheet), Some(margins)) = (self.sheets.get_mut(at), margins) {
            sheet.add(margins);
        }
    }
}

/// What all trays say that sheets come out into: `…;pagedelivery=faceUp;…` (PWG 5100.13).
fn delivers(group: &IppAttributeGroup) -> Option<Delivers> {
    let says = |value: &IppValue| {
        let IppValue::OctetString(said) = value else { return None };
        let said = String::from_utf8_lossy(said).to_lowercase();
        let word = said.split(';').find_map(|part| part.trim().strip_prefix("pagedelivery="))?;
        match word {
            "faceup" => Some(Delivers::FaceUp),
            "facedown" => Some(Delivers::FaceDown),
            _ => None,
        }
    };
    let mut trays = all(group, "printer-output-tray").iter().map(says);
    let first = trays.next()??;
    trays.all(|tray| tray == Some(first)).then_some(first)
}

type Members = BTreeMap<IppName, IppValue>;

/// All values of an attribute; a collection is one of them.
fn all<'g>(group: &'g IppAttributeGroup, name: &str) -> &'g [IppValue] {
    match group.get(name).map(IppAttribute::value) {
        Some(IppValue::Array(values)) => values,
        Some(value) => std::slice::from_ref(value),
        None => &[],
    }
}

/// An upright size and its margins, as a database lists them. Ranges of sizes are none.
fn listed(value: &IppValue) -> Option<(Size, Option<Sides<Length>>)> {
    let IppValue::Collection(members) = value else { return None };
    let Some(IppValue::Collection(size)) = members.get("media-size") else { return None };
    let size = Size::new(length(size, "x-dimension")?, length(size, "y-dimension")?);
    let margin = |side: &str| length(members, &format!("media-{side}-margin"));
    let margins = || {
        Some(Sides {
            left: margin("left")?,
            top: margin("top")?,
            right: margin("right")?,
            bottom: margin("bottom")?,
        })
    };
    is_upright(size).then(|| (size, margins()))
}

fn length(members: &Members, name: &str) -> Option<Length> {
    match members.get(name) {
        Some(IppValue::Integer(hundredths)) if *hundredths >= 0 => {
            Some(Length::from_um(i64::from(*hundredths) * UNIT))
        }
        _ => None,
    }
}

fn upright(word: &str) -> Option<Size> {
    let bound = word.starts_with("custom_m");
    let (width, height) = media::size_of(word).filter(|_| !bound)?;
    let size = Size::new(Length::from_um(width), Length::from_um(height));
    is_upright(size).then_some(size)
}

/// What is listed lying is fed with its long edge first: the margins would be those of other edges.
fn is_upright(size: Size) -> bool {
    size.width > Length::ZERO && size.width <= size.height
}

/// The largest margins that a printer has on any paper.
fn everywhere(group: &IppAttributeGroup) -> Option<Sides<Length>> {
    let most = |side: &str| {
        let most = numbers(group, &format!("media-{side}-margin-supported")).into_iter().max()?;
        (most > 0).then(|| Length::from_um(i64::from(most) * UNIT))
    };
    Some(Sides { left: most("left")?, top: most("top")?, right: most("right")?, bottom: most("bottom")? })
}
