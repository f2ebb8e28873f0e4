//! What is seen in a drawing's text before it is parsed: what it links to, and what it grows to.
//!
//! Parts refer to parts: `use` copies them, patterns, masks, markers and effects draw them again. A few hundred bytes can so
//! stand for more parts than any machine holds. The growth is reckoned from below, each part once, as the bytes that
//! parsing it will take, so that it is known whatever the way it is written.

use std::collections::HashMap;

use resvg::usvg::roxmltree::{Document, Node, NodeId};
use resvg::usvg::{Group, Node as Part};

use crate::Limits;
use crate::contract::Fault;
use crate::faults;

/// Bytes that a part takes when parsed, beside its text: about what the parser's own values have.
const PART: u64 = 2048;
/// Bytes that parsing takes for each byte of its text, such as a path's.
const BYTE: u64 = 8;
/// Bytes that a letter takes, drawn as outlines.
const LETTER: u64 = 2048;
/// How deep parts may stand in one another, references followed; programs that draw stay below a hundred.
const DEEPEST: u32 = 256;
/// The name space of what is drawn.
const SVG: &str = "http://www.w3.org/2000/svg";
/// The most places that are named where something is wrong.
const NAMED: usize = 3;

/// What a look found.
pub(super) struct Looked {
    /// Whether there are words to be set.
    pub(super) words: bool,
    /// What the maker should know.
    pub(super) notices: Vec<String>,
}

/// The most parts of a text, before any of them is looked at.
pub(super) fn most_nodes(limits: &Limits) -> u32 {
    u32::try_from(limits.memory / 256).unwrap_or(u32::MAX)
}

/// Looks a drawing over.
pub(super) fn over(document: &Document<'_>, limits: &Limits) -> Result<Looked, Fault> {
    no_links(document)?;
    let mut growth = Growth::of(document);
    let needed = growth.of_node(document.root_element(), 0)?.bytes;
    if needed > limits.memory {
        return Err(too_much(needed, limits.memory));
    }
    let has = |names: &[&str]| document.descendants().any(|node| names.contains(&node.tag_name().name()));
    let mut notices = Vec::new();
    if has(&["script"]) {
        notices.push("The drawing carries a script, which is not run: it is drawn as saved.".to_owned());
    }
    if has(&["foreignObject", "flowRoot", "video", "meshgradient"]) {
        notices.push(
            "The drawing has parts in a form that is not drawn here (text in a flowing frame, a web page, a mesh): look \
             at the proof, and turn them into paths if they are missing."
                .to_owned(),
        );
    }
    if has(&["feTile"]) {
        notices.push(
            "The drawing has an effect that is repeated (feTile), which not every program draws alike: look at the proof."
                .to_owned(),
        );
    }
    if has(&["animate", "animateTransform", "animateMotion", "set"]) {
        notices.push("The drawing moves; it is drawn as it is before it does.".to_owned());
    }
    Ok(Looked { words: has(&["text"]), notices })
}

/// A drawing that takes more memory than there is.
pub(super) fn too_much(needed: u64, limit: u64) -> Fault {
    Fault::artwork(
        format!(
            "Reading this drawing takes more than {} MB of memory, and the limit is {} MB.",
            faults::megabytes(needed),
            faults::megabytes(limit)
        ),
        "Simplify its paths and repeated parts in the program it comes from, save it as PNG, or raise `memory`.",
    )
}

/// Whether anything in a parsed drawing shows.
pub(super) fn shows(group: &Group) -> bool {
    group.children().iter().any(|part| match part {
        Part::Group(group) => shows(group) || !group.filters().is_empty(),
        Part::Path(path) => path.is_visible(),
        Part::Image(image) => image.is_visible(),
        Part::Text(text) => shows(text.flattened()),
    })
}

/// Refuses a drawing that needs another file.
fn no_links(document: &Document<'_>) -> Result<(), Fault> {
    let outside = |to: &&str| !to.is_empty() && !to.starts_with('#') && !to.starts_with("data:");
    // Descriptions are in other name spaces and draw nothing.
    let drawn = |node: &Node<'_, '_>| matches!(node.tag_name().namespace(), None | Some(SVG));
    let mut found = Vec::new();
    for node in document.descendants().filter(drawn) {
        // What is to be clicked on or run draws nothing, and words tell themselves which font they lack.
        if !matches!(node.tag_name().name(), "a" | "script" | "color-profile" | "font-face-uri") {
            found.extend(href(node).filter(outside));
        }
        found.extend(node.attributes().flat_map(|attribute| addresses(attribute.value())).filter(outside));
        let sheet = node.pi().filter(|pi| pi.target == "xml-stylesheet").and_then(|pi| pi.value);
        let import = node.text().filter(|text| node.tag_name().name() == "style" && text.contains("@import"));
        found.extend(sheet.or(import));
    }
    if found.is_empty() {
        return Ok(());
    }
    found.truncate(NAMED);
    Err(elsewhere(&found))
}

/// The drawing needs what lies in another file.
fn elsewhere(links: &[&str]) -> Fault {
    let shown: Vec<String> =
        links.iter().map(|link| link.chars().take(60).filter(|c| !c.is_control()).collect()).collect();
    Fault::artwork(
        format!("The drawing links to other files, which are not followed: '{}'.", shown.join("', '")),
        "Embed linked pictures in the program it comes from, and save it again.",
    )
}

fn href<'a>(node: Node<'a, '_>) -> Option<&'a str> {
    node.attributes().find(|attribute| attribute.name() == "href").map(|attribute| attribute.value().trim())
}

/// What stands in `url(…)`.
fn addresses(value: &str) -> impl Iterator<Item = &str> {
    let after = value.split("url(").skip(1);
    after.map(|rest| rest.split(')').next().unwrap_or(rest).trim().trim_matches(['"', '\'']).trim())
}

/// What parts come to.
#[derive(Debug, Clone, Copy)]
struct Grown {
    bytes: u64,
    deep: u32,
}

struct Growth<'a, 'input> {
    named: HashMap<&'a str, Node<'a, 'input>>,
    /// Nothing while a part is being reckoned: whoever asks then stands inside it.
    known: HashMap<NodeId, Option<Grown>>,
    /// What style sheets may let any part refer to.
    styled: Vec<Node<'a, 'input>>,
}

impl<'a, 'input> Growth<'a, 'input> {
    fn of(document: &'a Document<'input>) -> Self {
        let parts = || document.descendants().filter(Node::is_element);
        let named: HashMap<&str, Node<'_, '_>> =
            parts().filter_map(|node| Some((node.attribute("id")?, node))).collect();
        let sheets = parts().filter(|node| node.tag_name().name() == "style").filter_map(|node| node.text());
        let mut styled: Vec<_> =
            sheets.flat_map(addresses).filter_map(|to| named.get(to.strip_prefix('#')?).copied()).collect();
        // Gradients have no parts of their own to draw.
        styled.retain(|node| !node.tag_name().name().ends_with("Gradient"));
        styled.sort_by_key(|node| node.id().get());
        styled.dedup_by_key(|node| node.id());
        Self { named, known: HashMap::new(), styled }
    }

    fn of_node(&mut self, node: Node<'a, 'input>, depth: u32) -> Result<Grown, Fault> {
        if depth > DEEPEST {
            return Err(too_deep());
        }
        match self.known.get(&node.id()) {
            Some(Some(grown)) => return Ok(*grown),
            Some(None) => return Err(in_itself()),
            None => {}
        }
        self.known.insert(node.id(), None);
        let grown = self.reckoned(node, depth)?;
        self.known.insert(node.id(), Some(grown));
        Ok(grown)
    }

    fn reckoned(&mut self, node: Node<'a, 'input>, depth: u32) -> Result<Grown, Fault> {
        let text: usize = node.attributes().map(|attribute| attribute.value().len()).sum();
        let mut bytes = PART.saturating_add(to_u64(text).saturating_mul(BYTE));
        if node.tag_name().name() == "image" {
            // Kept as it is.
            bytes = PART.saturating_add(to_u64(text).saturating_mul(2));
        }
        let mut deep = 0;
        let mut add = |grown: Grown, times: u64| {
            bytes = bytes.saturating_add(grown.bytes.saturating_mul(times));
            deep = deep.max(grown.deep + 1);
        };
        for child in node.children() {
            if child.is_element() {
                add(self.of_node(child, depth + 1)?, 1);
            } else if child.is_text() && node.tag_name().name() != "style" {
                let letters = child.text().map_or(0, |text| text.chars().count());
                add(Grown { bytes: to_u64(letters).saturating_mul(LETTER), deep: 0 }, 1);
            }
        }
        // A gradient that takes its colours from another copies nothing, and the parser knows circles of them.
        if !node.tag_name().name().ends_with("Gradient") {
            for (part, times) in self.referred(node) {
                add(self.of_node(part, depth + 1)?, times);
            }
        }
        if deep > DEEPEST {
            return Err(too_deep());
        }
        Ok(Grown { bytes, deep })
    }

    /// What a part refers to, and how often it may draw it.
    fn referred(&self, node: Node<'a, 'input>) -> Vec<(Node<'a, 'input>, u64)> {
        let find = |to: &str| self.named.get(to.strip_prefix('#')?).copied();
        let mut found: Vec<(Node<'a, 'input>, u64)> = Vec::new();
        if node.tag_name().name() != "a" {
            found.extend(href(node).and_then(find).map(|part| (part, 1)));
        }
        let drawn =
            !matches!(node.tag_name().name(), "style" | "defs" | "stop" | "title" | "desc" | "metadata");
        let styled = self.styled.iter().filter(|_| drawn).map(|part| (*part, 1));
        let said = node.attributes().flat_map(|attribute| addresses(attribute.value())).filter_map(find);
        found.extend(said.map(|part| (part, 1)));
        // One of its own ancestors is meant only by a mistake that the parser mends.
        found.extend(styled.filter(|(part, _)| !node.ancestors().any(|above| above.id() == part.id())));
        // Markers stand at every corner.
        let corners = node.attribute("d").or(node.attribute("points")).map_or(1, |d| 1 + to_u64(d.len()) / 4);
        for (part, times) in &mut found {
            if part.tag_name().name() == "marker" {
                *times = corners;
            }
        }
        found
    }
}

fn too_deep() -> Fault {
    Fault::artwork(
        format!("The drawing's groups stand in one another deeper than {DEEPEST} times."),
        "Ungroup them in the program it comes from, and save it again.",
    )
}

fn in_itself() -> Fault {
    Fault::artwork(
        "A part of the drawing uses itself.",
        "Look for a clone, pattern or mask that stands in itself, take it out and save again.",
    )
}

fn to_u64(value: usize) -> u64 {
    u64::try_from(value).unwrap_or(u64::MAX)
}
