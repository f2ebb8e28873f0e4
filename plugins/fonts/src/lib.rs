//! The fonts that words are set in: the studio's own, those shipped, those of the system, in this order.
//!
//! Whoever parses SVG with them learns what was missing. Another font than was asked for may be wider, so the maker is told
//! of it. A letter that no font has would be left out in silence; that is refused, with the letter.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use resvg::usvg::fontdb::{Database, Family, ID, Query, Stretch, Style, Weight};
use resvg::usvg::{Font, FontFamily, FontResolver, FontStretch, FontStyle, Group, Node, Options, Tree};
use seamwright_contract::Fault;
use seamwright_drawing::Style as Shipped;

/// The family of words that name none.
const UNSAID: &str = "sans-serif";
/// The family of the shipped fonts.
pub const SHIPPED: &str = "DejaVu Sans";
/// What families without a name are set in, where the system does not say: the first that is there.
const USUAL: [(Family<'_>, [&str; 3]); 5] = [
    (Family::Serif, ["Liberation Serif", "DejaVu Serif", "Noto Serif"]),
    (Family::SansSerif, ["Liberation Sans", "DejaVu Sans", "Noto Sans"]),
    (Family::Monospace, ["Liberation Mono", "DejaVu Sans Mono", "Noto Sans Mono"]),
    (Family::Cursive, ["Liberation Serif", "DejaVu Serif", "Noto Serif"]),
    (Family::Fantasy, ["Liberation Sans", "DejaVu Sans", "Noto Sans"]),
];
/// The most letters that are named.
const NAMED: usize = 8;

/// Finds fonts, and remembers what it did not find.
#[derive(Debug)]
pub struct Fonts {
    there: Arc<Database>,
    missing: Mutex<Missing>,
}

#[derive(Debug, Default)]
struct Missing {
    letters: BTreeSet<char>,
    /// What was taken for a family that is not there.
    families: BTreeMap<String, String>,
}

impl Fonts {
    /// None at all, for what has no words.
    #[must_use]
    pub fn none() -> Self {
        Self { there: Arc::default(), missing: Mutex::default() }
    }

    /// Those there are, with the studio's own folder of them, which need not be there.
    #[must_use]
    pub fn of(studio: &Path) -> Self {
        let mut fonts = Database::new();
        fonts.load_fonts_dir(studio);
        for style in [Shipped::Regular, Shipped::Bold] {
            fonts.load_font_data(style.bytes().to_vec());
        }
        fonts.load_system_fonts();
        settle(&mut fonts);
        Self { there: Arc::new(fonts), missing: Mutex::default() }
    }

    /// How an SVG is parsed with them.
    #[must_use]
    pub fn options(&self) -> Options<'_> {
        Options {
            font_resolver: self.resolver(),
            fontdb: Arc::clone(&self.there),
            font_family: UNSAID.to_owned(),
            ..Options::default()
        }
    }

    /// The names of their families, sorted.
    #[must_use]
    pub fn families(&self) -> BTreeSet<&str> {
        self.there.faces().flat_map(|face| &face.families).map(|(name, _)| name.as_str()).collect()
    }

    fn resolver(&self) -> FontResolver<'_> {
        let letter = FontResolver::default_fallback_selector();
        FontResolver {
            select_font: Box::new(move |wanted, fonts| {
                let found = nearest(wanted, fonts);
                self.compare(wanted, found, fonts);
                found
            }),
            select_fallback: Box::new(move |c, tried, fonts| {
                let found = letter(c, tried, fonts);
                if found.is_none() && shows(c) {
                    self.missing().letters.insert(c);
                }
                found
            }),
        }
    }

    /// Which families were asked for and are not there, and what was taken instead. The parser asks for a font for one
    /// missing letter of a line, so all that were set are looked at.
    ///
    /// # Errors
    /// [`Blame::Artwork`](seamwright_contract::Blame) where a letter that shows has no glyph in any font, with the letter.
    pub fn sound(&self, tree: &Tree) -> Result<BTreeMap<String, String>, Fault> {
        let mut missing = self.missing();
        unset(tree.root(), &mut missing.letters);
        if !missing.letters.is_empty() {
            return Err(no_glyph(&missing.letters));
        }
        Ok(missing.families.clone())
    }

    fn missing(&self) -> MutexGuard<'_, Missing> {
        self.missing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn compare(&self, wanted: &Font, found: Option<ID>, fonts: &Database) {
        let Some(FontFamily::Named(first)) = wanted.families().first() else { return };
        let Some(face) = found.and_then(|found| fonts.face(found)) else { return };
        if first != UNSAID && !face.families.iter().any(|(name, _)| name.eq_ignore_ascii_case(first)) {
            let name = face.families.first().map(|(name, _)| name.clone()).unwrap_or_default();
            let shown = first.chars().filter(|c| !c.is_control()).take(60).collect();
            self.missing().families.insert(shown, name);
        }
    }
}

/// Words as they stand in the text of an SVG; what no text of XML holds becomes a space.
#[must_use]
pub fn as_xml(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Sees to it that families without a name are there.
fn settle(fonts: &mut Database) {
    let has =
        |fonts: &Database, family| fonts.query(&Query { families: &[family], ..Query::default() }).is_some();
    for (family, usual) in USUAL {
        if has(fonts, family) {
            continue;
        }
        let there = usual.into_iter().find(|name| has(fonts, Family::Name(name))).unwrap_or(SHIPPED);
        match family {
            Family::Serif => fonts.set_serif_family(there),
            Family::SansSerif => fonts.set_sans_serif_family(there),
            Family::Monospace => fonts.set_monospace_family(there),
            Family::Cursive => fonts.set_cursive_family(there),
            Family::Fantasy => fonts.set_fantasy_family(there),
            Family::Name(_) => {}
        }
    }
}

/// Letters that were set without a glyph.
fn unset(group: &Group, found: &mut BTreeSet<char>) {
    for part in group.children() {
        match part {
            Node::Group(group) => unset(group, found),
            Node::Text(text) => {
                let glyphs = text.layouted().iter().flat_map(|span| &span.positioned_glyphs);
                let none = glyphs.filter(|glyph| glyph.id.0 == 0).flat_map(|glyph| glyph.text.chars());
                found.extend(none.filter(|c| shows(*c)));
            }
            Node::Path(_) | Node::Image(_) => {}
        }
    }
}

/// The font that comes nearest: of the first of its families that is there, or of one without serifs.
fn nearest(wanted: &Font, fonts: &Database) -> Option<ID> {
    let families: Vec<Family<'_>> = wanted
        .families()
        .iter()
        .map(|family| match family {
            FontFamily::Serif => Family::Serif,
            FontFamily::SansSerif => Family::SansSerif,
            FontFamily::Cursive => Family::Cursive,
            FontFamily::Fantasy => Family::Fantasy,
            FontFamily::Monospace => Family::Monospace,
            FontFamily::Named(name) => Family::Name(name),
        })
        .chain([Family::SansSerif, Family::Name(SHIPPED)])
        .collect();
    let style = match wanted.style() {
        FontStyle::Normal => Style::Normal,
        FontStyle::Italic => Style::Italic,
        FontStyle::Oblique => Style::Oblique,
    };
    let stretch = match wanted.stretch() {
        FontStretch::UltraCondensed => Stretch::UltraCondensed,
        FontStretch::ExtraCondensed => Stretch::ExtraCondensed,
        FontStretch::Condensed => Stretch::Condensed,
        FontStretch::SemiCondensed => Stretch::SemiCondensed,
        FontStretch::Normal => Stretch::Normal,
        FontStretch::SemiExpanded => Stretch::SemiExpanded,
        FontStretch::Expanded => Stretch::Expanded,
        FontStretch::ExtraExpanded => Stretch::ExtraExpanded,
        FontStretch::UltraExpanded => Stretch::UltraExpanded,
    };
    fonts.query(&Query { families: &families, weight: Weight(wanted.weight()), stretch, style })
}

/// Whether a letter is seen: white space, marks of direction and choices of form are not.
fn shows(c: char) -> bool {
    let unseen = matches!(
        c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{e0000}'..='\u{e0fff}'
    );
    !unseen && !c.is_whitespace() && !c.is_control()
}

fn no_glyph(letters: &BTreeSet<char>) -> Fault {
    let named: Vec<String> =
        letters.iter().take(NAMED).map(|c| format!("'{c}' (U+{:04X})", u32::from(*c))).collect();
    let more = if letters.len() > NAMED { ", and more" } else { "" };
    Fault::artwork(
        format!("No font on this machine has these letters: {}{more}.", named.join(", ")),
        "Put a font that has them into the studio's folder `fonts`, or write the words otherwise.",
    )
}
