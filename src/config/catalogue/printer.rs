//! A printer's entry: what it prints on, how its colours are reached, what was measured on it, where its sheets go.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use seamwright_contract::catalogue::{Delivers, PaperColour, PaperSize, Printer};
use seamwright_contract::colour::{IccProfile, Intent};
use seamwright_contract::settings::{Fields, Node, Read, Value, list_of, one_of};
use seamwright_contract::{Length, Sides};

use super::entries::Distance;
use super::{Shelf, scaling, sending};

/// The largest profile read, in bytes: device profiles have a few megabytes at most.
pub(crate) const LARGEST_PROFILE: u64 = 16 << 20;

/// A printer from its keys; its profile is looked for beside its own file and beside the configuration.
pub(super) fn printer(
    name: &str,
    fields: &mut Fields<'_>,
    papers: &Shelf<PaperSize>,
    base: Option<&Path>,
) -> Option<Printer> {
    let papers = papers_of(fields, papers);
    let margins = fields.required("margins", "1/4 in").map(|Margins(margins)| margins);
    let colour = paper_colour(fields.get("profile"), fields.get("intent"), base);
    let on_paper = match fields.get("on_paper") {
        Some(node) => on_paper(&node, papers.as_deref().unwrap_or_default(), base),
        None => Some(Vec::new()),
    };
    let full_ink = fields.optional("full_ink").map(|Ink(ink)| ink);
    let embed = fields.choice_or("tag", &[("embed", true), ("none", false)], true);
    let delivers = fields.get("delivers").map(|node| node.choice(&Delivers::WORDS));
    let measured = scaling::measurements(name, fields, base);
    let send_to = fields.get("send_to").map(|node| sending::send_to(&node, papers.as_deref()));
    let mut printer = Printer {
        name: name.to_owned(),
        papers: papers?,
        margins: margins?,
        paper_margins: BTreeMap::new(),
        colour: PaperColour::default(),
        on_paper: BTreeMap::new(),
        full_ink,
        embed,
        scale: BTreeMap::new(),
        delivers: delivers.flatten(),
        send_to: None,
    };
    for (paper, said) in on_paper.iter().flatten().cloned() {
        printer.on_paper.extend(said.colour.map(|colour| (paper.clone(), colour)));
        printer.paper_margins.extend(said.margins.map(|margins| (paper, margins)));
    }
    for (paper, found) in measured {
        printer.scale.insert(paper.clone(), found.scale);
        printer.paper_margins.extend(found.margins.map(|margins| (paper, margins)));
    }
    for paper in printer.papers.iter().filter(|paper| printer.live_on(paper).is_empty()) {
        let cure = "Write smaller margins, or take the paper out of the list.";
        fields.complain(format!("the margins leave nothing of `{}`", paper.name), cure);
    }
    on_paper?;
    printer.colour = colour?;
    if let Some(read) = send_to {
        printer.send_to = Some(read?);
    }
    Some(printer)
}

fn papers_of(fields: &mut Fields<'_>, known: &Shelf<PaperSize>) -> Option<Vec<PaperSize>> {
    let names: Vec<&str> = known.names().collect();
    let cure = || format!("Add for example `papers: [letter]`. {}", one_of(&names, None));
    let listed = fields.must("papers", cure)?;
    let items = listed.items();
    if items.is_empty() {
        listed.complain("the printer takes no paper", cure());
    }
    if let Value::Text(typed) = listed.value()
        && let Some(list) = list_of(&names, typed)
    {
        listed.complain(format!("there is no paper `{typed}`"), list);
        return None;
    }
    items.iter().map(|node| known.find(node).cloned()).collect::<Vec<_>>().into_iter().collect()
}

/// Profile and intent, of the printer or for one of its papers.
fn paper_colour(
    found: Option<Node<'_>>,
    suits: Option<Node<'_>>,
    base: Option<&Path>,
) -> Option<PaperColour> {
    let profile = found.map_or(Some(None), |node| profile(&node, base));
    let intent = suits.map_or(Some(None), |node| node.choice(&Intent::WORDS).map(Some));
    Some(PaperColour { profile: profile?, intent: intent? })
}

/// What is otherwise on one paper.
#[derive(Clone)]
struct OnPaper {
    colour: Option<PaperColour>,
    margins: Option<Sides<Length>>,
}

/// What single papers have of their own.
fn on_paper(node: &Node<'_>, papers: &[PaperSize], base: Option<&Path>) -> Option<Vec<(String, OnPaper)>> {
    let entry = |node: &Node<'_>| {
        let mut fields = node.fields()?;
        let name = fields.required::<String>("paper", "letter");
        let (profile, intent) = (fields.get("profile"), fields.get("intent"));
        let coloured = profile.is_some() || intent.is_some();
        let colour = paper_colour(profile, intent, base)?;
        let margins = fields.optional("margins").map(|Margins(margins)| margins);
        fields.finish();
        let name = name?;
        if !papers.iter().any(|paper| paper.name == name) {
            let known: Vec<&str> = papers.iter().map(|paper| paper.name.as_str()).collect();
            node.complain(format!("the printer takes no paper `{name}`"), one_of(&known, Some(&name)));
            return None;
        }
        Some((name, OnPaper { colour: coloured.then_some(colour), margins }))
    };
    node.items().iter().map(entry).collect::<Vec<_>>().into_iter().collect()
}

/// Ink at full coverage, in ml a square metre.
struct Ink(f64);

impl Read for Ink {
    fn read(node: &Node<'_>) -> Option<Self> {
        let ink = f64::read(node)?;
        if !(0.1..=200.0).contains(&ink) {
            node.complain(
                format!("{ink} ml a square metre is not what printers lay down"),
                "Weigh a sheet before and after a solid black area, or leave the line out.",
            );
            return None;
        }
        Some(Self(ink))
    }
}

/// One length for all sides, or one for each.
pub(super) struct Margins(pub(super) Sides<Length>);

impl Read for Margins {
    fn read(node: &Node<'_>) -> Option<Self> {
        if !matches!(node.value(), Value::Map(_)) {
            return Distance::read(node).map(|Distance(all)| Self(Sides::all(all)));
        }
        let mut fields = node.fields()?;
        let mut side = |key| fields.required(key, "5mm").map(|Distance(margin)| margin);
        let (top, right, bottom, left) = (side("top"), side("right"), side("bottom"), side("left"));
        fields.finish();
        Some(Self(Sides { left: left?, top: top?, right: right?, bottom: bottom? }))
    }
}

/// `none`, or the profile in a file of that name.
#[expect(clippy::option_option, reason = "a mistake, no profile, a profile")]
fn profile(node: &Node<'_>, base: Option<&Path>) -> Option<Option<IccProfile>> {
    if node.says("none") {
        return Some(None);
    }
    let file = String::read(node)?;
    if !crate::intake::is_bare_name(&file) {
        node.complain(
            format!("'{file}' is more than the name of a file"),
            "Put the profile into printers/ and write its file name alone.",
        );
        return None;
    }
    let places = |base: &Path| [base.join("printers").join(&file), base.join(&file)];
    let Some(path) = base.into_iter().flat_map(places).find(|path| path.is_file()) else {
        node.complain(
            format!("there is no profile '{file}' in printers/ or beside the configuration"),
            "Put the file there, or write `profile: none`.",
        );
        return None;
    };
    match read_profile(&path) {
        Ok(bytes) => Some(Some(IccProfile { name: file, bytes: Arc::from(bytes) })),
        Err(why) => {
            node.complain(
                format!("'{file}' is no usable colour profile: {why}"),
                "Export the profile anew, or write `profile: none`.",
            );
            None
        }
    }
}

/// The bytes of a profile whose head is in order (ICC.1, clause 7.2: own length, then `acsp` at byte 36).
fn read_profile(path: &Path) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| {
            std::io::Read::read_to_end(&mut std::io::Read::take(file, LARGEST_PROFILE + 1), &mut bytes)
        })
        .map_err(|why| why.to_string())?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > LARGEST_PROFILE {
        return Err("it is larger than 16 MiB".to_owned());
    }
    let stated = bytes.first_chunk().map(|length| u32::from_be_bytes(*length));
    if bytes.get(36..40) != Some(b"acsp") {
        return Err("it does not start as profiles do".to_owned());
    }
    match stated {
        Some(stated) if usize::try_from(stated).is_ok_and(|stated| stated == bytes.len()) => Ok(bytes),
        _ => Err("its length is not the one it states, so it was cut off or changed".to_owned()),
    }
}
