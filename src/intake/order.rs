//! An order from its two layers: the sidecar's keys, and below them those of its folder's defaults.

use std::path::{Path, PathBuf};

use seamwright_contract::catalogue::{Blank, PaperSize, Printer};
use seamwright_contract::colour::Intent;
use seamwright_contract::order::{Fit, Lies, Order};
use seamwright_contract::sending::Print;
use seamwright_contract::settings::{Node, Read as _, Value, nearest, one_of};
use seamwright_contract::{Face, Rect, Size};

use super::fields;
use super::list::LIST;
use super::measured;
use super::names::{is_bare_name, is_list_name};
use super::row;
use crate::config::{Config, Distance, Layered, Measure, ORIENTATIONS, ORIGIN, blank_fields, sides};
use crate::registry;

/// What a blank is called that has no name in the catalogue.
pub(crate) const WRITTEN: &str = "as written in the order";

/// The longest note, in characters: it has a line or two in the notes.
const LONGEST_NOTE: usize = 500;

/// The most sheets beyond the fewest that an order may allow.
const MOST_EXTRA: u32 = 20;

/// What lies beside the sidecar.
pub(super) enum Beside<'p> {
    /// The claimed picture.
    Picture(&'p Path),
    /// Nothing yet: the text alone is looked over.
    Nothing {
        /// Whether it is a folder's defaults, which need not be a whole order.
        defaults_alone: bool,
    },
}

/// Reads an order; `None` with complaints in either text.
pub(super) fn read(own: &Node<'_>, under: &Node<'_>, config: &Config, beside: &Beside<'_>) -> Option<Order> {
    let mut keys = Layered::new(own, under)?;
    if let Some(node) = keys.own("artwork") {
        artwork(&node, beside);
    }
    if let Some(node) = keys.under("artwork") {
        node.complain(
            "a folder's defaults name no artwork",
            "Take the line out; each picture is an order of its own.",
        );
    }
    let blank = keys.get("blank");
    if blank.is_none() && !matches!(beside, Beside::Nothing { defaults_alone: true }) {
        let known: Vec<&str> = config.catalogue.blanks.names().collect();
        // Without a sidecar the defaults are the whole order.
        let whole =
            if *own.value() == Value::Nothing && *under.value() != Value::Nothing { under } else { own };
        // A key that is not known, and is nearly this one, is told by itself.
        let nearly = |key: &str| key != "blank" && nearest(&["blank"], key).is_some();
        let meant = matches!(whole.value(), Value::Map(said) if said.iter().any(|(key, _)| nearly(key)));
        if !meant {
            whole.complain_of_all(
                "the order does not say what blank it is for",
                format!("Add `blank: …`. {}", one_of(&known, None)),
            );
        }
    }
    let blank = blank.and_then(|node| read_blank(&node, config));
    let (blank, nominal) = match (blank, keys.get("measured")) {
        (Some(blank), Some(node)) => measured::measured(blank, &node, config.units).unzip(),
        (blank, _) => (blank, None),
    };
    let page = keys.get("page").map_or(Some(1), |node| page(&node));
    let fields = fields::read(&mut keys);
    let size = keys.get("size").map(|node| match beside {
        _ if !says_as_drawn(&node) => read_size(&node),
        Beside::Picture(picture) => {
            let wanted = registry::Wanted { page: page?, fields: fields.clone()? };
            as_drawn(&node, picture, &wanted, config)
        }
        // Whatever it is, it is no larger than the blank's.
        Beside::Nothing { .. } => blank.as_ref().map(Blank::design_area),
    });
    let lies = keys.get("place").map_or(Some([Lies::Centred; 2]), |node| lies(&node));
    let fit = keys.choice("fit", &Fit::WORDS);
    let printer = match keys.get("printer") {
        Some(node) => config.catalogue.printers.find(&node),
        None => config.catalogue.printers.get(&config.printer),
    };
    let intent = keys.choice("intent", &Intent::WORDS);
    let press = match keys.get("press") {
        Some(node) => config.catalogue.presses.find(&node),
        None => config.catalogue.presses.get(&config.press),
    };
    let paper = keys.get("paper");
    let papers = printer.and_then(|printer| papers(paper.as_ref(), printer));
    let orientation = keys.choice("orientation", &ORIENTATIONS);
    let copies = keys.get("copies").map_or(Some(1), |node| copies(&node));
    let print = keys.get("print").map(|node| print(&node, printer));
    let share = keys.read("share").unwrap_or(config.share);
    let note = keys.get("note").map(|node| note(&node));
    let allow_low_ppi = keys.read("allow_low_ppi").unwrap_or(false);
    let extra_sheets = keys.get("extra_sheets").map_or(Some(0), |node| extra_sheets(&node));
    let said = said(&mut keys, config);
    list(&mut keys);
    let row = row::read(&mut keys);
    let zones = keys.get("keep_clear").map(|node| node.items()).unwrap_or_default();
    keys.finish();

    let blank = blank?;
    // What is said of the design is what shall become of it; it lies on the blank before pressing.
    let (before, part_before) = (
        |size| blank.shrink.map_or(size, |shrink| shrink.before(size)),
        |part| blank.shrink.map_or(part, |shrink| shrink.part_before(&part)),
    );
    let size = match size {
        Some(size) => before(size?),
        None => blank.design_area(),
    };
    let keep_clear: Vec<_> = zones.iter().map(|node| zone(node, size, part_before)).collect();
    Some(Order {
        size,
        lies: lies?,
        nominal,
        fit: fit.unwrap_or(Fit::Contain),
        page: page?,
        papers: papers?,
        orientation: orientation.unwrap_or(config.orientation),
        printer: printer?.clone(),
        intent,
        press: press?.clone(),
        keep_clear: keep_clear.into_iter().collect::<Option<_>>()?,
        extra_sheets: extra_sheets?,
        copies: copies?,
        said: said?,
        print: match print {
            Some(asked) => asked?,
            None => printer?.send_to.as_ref().map_or(Print::No, |send_to| send_to.print),
        },
        share,
        note: note.flatten(),
        fields: fields?,
        row: row?,
        allow_low_ppi,
        units: config.units,
        blank,
    })
}

/// What the order says to stages, each of which looks over its own.
fn said(keys: &mut Layered<'_>, config: &Config) -> Option<Vec<(&'static str, Value)>> {
    let mut said = Vec::new();
    let mut well = true;
    for stage in registry::STAGES {
        let Some(look) = stage.order else { continue };
        let Some(node) = keys.get(stage.name) else { continue };
        let listed = config.pipeline.stages.iter().any(|(name, _)| *name == stage.name);
        if !listed {
            node.complain(
                format!("the studio's `stages` do not list `{}`", stage.name),
                format!("Add it to `stages` in seamwright.yaml, or take `{}` out of the order.", stage.name),
            );
        }
        well &= listed && look(&node).is_some();
        said.push((stage.name, node.value().clone()));
    }
    well.then_some(said)
}

/// The list the order names lies beside it; where it is a row, its list is done with.
fn list(keys: &mut Layered<'_>) {
    for node in [keys.own(LIST), keys.under(LIST)].into_iter().flatten() {
        let name = String::read(&node).unwrap_or_default();
        if !is_bare_name(&name) || !is_list_name(name.as_ref()) {
            node.complain(
                "this is no list's file name",
                "Write the name alone, such as `list: visitors.csv`; the list lies in the same folder.",
            );
        }
    }
}

/// The picture the sidecar names must be the one beside it, and can be no file anywhere else.
fn artwork(node: &Node<'_>, beside: &Beside<'_>) {
    let Some(name) = String::read(node) else { return };
    if !is_bare_name(&name) {
        return node.complain(
            "this is more than a file name",
            "Write the name alone: the picture lies in the same folder as the sidecar.",
        );
    }
    if let Beside::Picture(picture) = beside
        && picture.file_name() != Some(name.as_str().as_ref())
    {
        let found = super::pair::shown(picture.file_name());
        node.complain(
            format!("there is no '{name}' beside the sidecar, but '{found}'"),
            format!("Write `artwork: {found}`, or leave the line out."),
        );
    }
}

fn read_blank(node: &Node<'_>, config: &Config) -> Option<Blank> {
    if !matches!(node.value(), Value::Map(_)) {
        return config.catalogue.blanks.find(node).cloned();
    }
    let mut fields = node.fields()?;
    let blank = blank_fields(WRITTEN, &mut fields, &config.catalogue.substrates);
    // As the file of a blank may, whose lines are copied here.
    fields.optional::<String>(ORIGIN);
    fields.finish();
    blank
}

pub(super) fn read_size(node: &Node<'_>) -> Option<Size> {
    sides(node, "24in", "12.5in")
}

/// Where the design lies: so far from one edge or from that across from it, in the middle where neither is said.
fn lies(node: &Node<'_>) -> Option<[Lies; 2]> {
    let mut fields = node.fields()?;
    let mut way = |start: &'static str, end: &'static str| match (fields.get(start), fields.get(end)) {
        (None, None) => Some(Lies::Centred),
        (Some(node), None) => Distance::read(&node).map(|Distance(at)| Lies::FromStart(at)),
        (None, Some(node)) => Distance::read(&node).map(|Distance(at)| Lies::FromEnd(at)),
        (Some(_), Some(node)) => {
            node.complain(
                format!("the design cannot be placed from `{start}` and from `{end}`"),
                "Keep one of the two; how wide and high the design is, `size` says.",
            );
            None
        }
    };
    let (across, down) = (way("left", "right"), way("top", "bottom"));
    fields.finish();
    Some([across?, down?])
}

/// The word for the size that a drawing has of its own.
const AS_DRAWN: &str = "as-drawn";

fn says_as_drawn(node: &Node<'_>) -> bool {
    node.says(AS_DRAWN)
}

/// The size the drawing beside the sidecar has.
fn as_drawn(node: &Node<'_>, picture: &Path, wanted: &registry::Wanted, config: &Config) -> Option<Size> {
    // It is only read here, so nothing needs a scratch file.
    let limits = config.artwork_limits(PathBuf::new());
    match registry::drawn_size(picture, wanted, &limits) {
        Ok(size) => Some(size),
        Err(fault) => {
            node.complain(fault.what.trim_end_matches('.'), fault.cure);
            None
        }
    }
}

fn page(node: &Node<'_>) -> Option<u32> {
    let page = u32::read(node)?;
    if page == 0 {
        node.complain("there is no page 0", "Pages are counted from 1.");
        return None;
    }
    Some(page)
}

/// A part of the design that no seam may cross, as it lies on the blank, clipped to the design.
fn zone(node: &Node<'_>, design: Size, lies: impl Fn(Rect<Face>) -> Rect<Face>) -> Option<Rect<Face>> {
    let mut fields = node.fields()?;
    let (x, y) = (fields.required("x", "5in"), fields.required("y", "2in"));
    let (width, height) = (fields.required("width", "3in"), fields.required("height", "4in"));
    fields.finish();
    let (Distance(x), Distance(y), Measure(width), Measure(height)) = (x?, y?, width?, height?);
    let zone = lies(Rect::new(x, y, width, height)).intersection(&Rect::of_size(design));
    if zone.is_none() {
        node.complain(
            "this part lies beyond the design",
            format!(
                "Measure `x` and `y` from the top left of the design, which is {} wide and {} high.",
                design.width, design.height
            ),
        );
    }
    zone
}

/// The paper named, all of the printer's for `auto`, or its usual one.
fn papers(node: Option<&Node<'_>>, printer: &Printer) -> Option<Vec<PaperSize>> {
    let Some(node) = node else {
        return Some(printer.papers.first().cloned().into_iter().collect());
    };
    if node.says("auto") {
        return Some(printer.papers.clone());
    }
    node.names(&printer.papers.iter().map(|paper| paper.name.as_str()).collect::<Vec<_>>());
    let name = String::read(node)?;
    let found = printer.papers.iter().find(|paper| paper.name == name);
    if found.is_none() {
        let known: Vec<&str> =
            printer.papers.iter().map(|paper| paper.name.as_str()).chain(["auto"]).collect();
        node.complain(
            format!("the printer {} takes no paper `{name}`", printer.name),
            one_of(&known, Some(&name)),
        );
    }
    Some(vec![found?.clone()])
}

fn copies(node: &Node<'_>) -> Option<u32> {
    let copies = u32::read(node)?;
    if !(1..=999).contains(&copies) {
        node.complain(format!("there cannot be {copies} copies"), "Write a number from 1 to 999.");
        return None;
    }
    Some(copies)
}

/// Whether the sheets are handed to the printer; it must be known where they go.
fn print(node: &Node<'_>, printer: Option<&Printer>) -> Option<Print> {
    let print = node.choice(&Print::WORDS)?;
    if let Some(printer) = printer
        && printer.send_to.is_none()
        && print != Print::No
    {
        node.complain(
            format!("it is not said where the sheets of {} go", printer.name),
            format!(
                "Add `send_to: {{uri: \"ipp://…\"}}` to printers/{}.yaml, or write `print: no`.",
                printer.name
            ),
        );
        return None;
    }
    Some(print)
}

fn extra_sheets(node: &Node<'_>) -> Option<u32> {
    let count = u32::read(node)?;
    if count > MOST_EXTRA {
        node.complain(
            format!("{count} sheets more than needed are too many"),
            format!("Write a number from 0 to {MOST_EXTRA}."),
        );
        return None;
    }
    Some(count)
}

fn note(node: &Node<'_>) -> Option<String> {
    let note = String::read(node)?.trim().to_owned();
    let length = note.chars().count();
    if length > LONGEST_NOTE {
        node.complain(
            format!("the note has {length} characters"),
            format!("Keep it to {LONGEST_NOTE}: it is printed in the notes."),
        );
        return None;
    }
    Some(note)
}
