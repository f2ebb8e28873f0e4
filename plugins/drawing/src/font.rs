//! The two shipped fonts and their measures.

use std::sync::OnceLock;

use seamwright_contract::{Length, num};
use ttf_parser::{Face, OutlineBuilder};

/// One step of the outline of letters, in units of the asked size, x to the right and y down from the baseline's left
/// end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// A contour begins here.
    Move([f32; 2]),
    /// A straight line to here.
    Line([f32; 2]),
    /// A quadratic curve: its control point and its end.
    Quad([f32; 2], [f32; 2]),
    /// A cubic curve: its control points and its end.
    Cubic([f32; 2], [f32; 2], [f32; 2]),
    /// The contour returns to its beginning.
    Close,
}

/// Hands the outline of one letter on, scaled and moved.
struct Outliner<'a> {
    scale: f32,
    left: f32,
    step: &'a mut dyn FnMut(Step),
}

impl Outliner<'_> {
    fn at(&self, x: f32, y: f32) -> [f32; 2] {
        [self.left + x * self.scale, -y * self.scale]
    }
}

impl OutlineBuilder for Outliner<'_> {
    fn move_to(&mut self, x: f32, y: f32) {
        let step = Step::Move(self.at(x, y));
        (self.step)(step);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let step = Step::Line(self.at(x, y));
        (self.step)(step);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let step = Step::Quad(self.at(x1, y1), self.at(x, y));
        (self.step)(step);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let step = Step::Cubic(self.at(x1, y1), self.at(x2, y2), self.at(x, y));
        (self.step)(step);
    }

    fn close(&mut self) {
        (self.step)(Step::Close);
    }
}

/// Which of the shipped fonts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Style {
    /// For reading.
    Regular,
    /// For numbers and headings.
    Bold,
}

impl Style {
    /// The font file.
    #[must_use]
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => include_bytes!("../../../config/fonts/DejaVuSansCondensed.ttf"),
            Self::Bold => include_bytes!("../../../config/fonts/DejaVuSansCondensed-Bold.ttf"),
        }
    }

    /// The shipped font, parsed; `None` only if the shipped file were broken.
    pub(crate) fn face(self) -> Option<&'static Face<'static>> {
        static FACES: [OnceLock<Option<Face<'static>>>; 2] = [OnceLock::new(), OnceLock::new()];
        let slot = match self {
            Self::Regular => &FACES[0],
            Self::Bold => &FACES[1],
        };
        slot.get_or_init(|| Face::parse(self.bytes(), 0).ok()).as_ref()
    }

    /// What is printed for a character: itself, a space for any white space, and a question mark for one the
    /// font lacks, so that a loss is seen.
    #[must_use]
    pub fn shown(self, c: char) -> char {
        if c.is_whitespace() {
            return ' ';
        }
        let known = self.face().and_then(|face| face.glyph_index(c)).is_some_and(|glyph| glyph.0 != 0);
        if known && !c.is_control() { c } else { '?' }
    }

    /// The width of a line of text at a font size, as it is [shown](Self::shown).
    #[must_use]
    pub fn width(self, size: Length, text: &str) -> Length {
        let Some(face) = self.face() else { return Length::ZERO };
        let units: i64 = text.chars().map(|c| i64::from(self.advance(face, c))).sum();
        Length::from_um(num::round(num::float(units * size.um()) / f64::from(face.units_per_em())))
    }

    /// How far a character moves on, in the font's units. Those that nearly all texts are made of are looked up once: lines
    /// are measured again and again until they fit.
    fn advance(self, face: &Face<'_>, c: char) -> u16 {
        static USUAL: [OnceLock<Vec<u16>>; 2] = [OnceLock::new(), OnceLock::new()];
        let look = |c: char| {
            let glyph = face.glyph_index(self.shown(c));
            glyph.and_then(|glyph| face.glyph_hor_advance(glyph)).unwrap_or(0)
        };
        let slot = match self {
            Self::Regular => &USUAL[0],
            Self::Bold => &USUAL[1],
        };
        // To the end of the Latin letters (Unicode, Latin Extended-B).
        let usual = slot.get_or_init(|| ('\0'..='\u{24f}').map(look).collect());
        usize::try_from(u32::from(c)).ok().and_then(|at| usual.get(at)).copied().unwrap_or_else(|| look(c))
    }

    /// The outlines of a line of text at a font size, as it is [shown](Self::shown): for whoever has no PDF to write.
    pub fn outline(self, text: &str, size: f32, mut step: impl FnMut(Step)) {
        let Some(face) = self.face() else { return };
        let scale = size / f32::from(face.units_per_em());
        let mut left = 0.0;
        for glyph in text.chars().filter_map(|c| face.glyph_index(self.shown(c))) {
            // A glyph without an outline is a space.
            _ = face.outline_glyph(glyph, &mut Outliner { scale, left, step: &mut step });
            left += f32::from(face.glyph_hor_advance(glyph).unwrap_or(0)) * scale;
        }
    }

    /// How far capital letters stand above the baseline.
    #[must_use]
    pub fn cap_height(self, size: Length) -> Length {
        let share = self
            .face()
            .and_then(|face| Some(f64::from(face.capital_height()?) / f64::from(face.units_per_em())));
        size.share(share.unwrap_or(0.72))
    }

    /// How far the lowest letters reach below the baseline.
    #[must_use]
    pub fn descent(self, size: Length) -> Length {
        let share = self.face().map(|face| -f64::from(face.descender()) / f64::from(face.units_per_em()));
        size.share(share.unwrap_or(0.22))
    }

    /// Breaks text into lines no wider than `width`, at spaces; a longer word is broken where it must be.
    #[must_use]
    pub fn wrap(self, size: Length, text: &str, width: Length) -> Vec<String> {
        let mut lines = Vec::new();
        for paragraph in text.lines() {
            let mut line = String::new();
            for word in paragraph.split_whitespace() {
                let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
                if self.width(size, &longer) <= width {
                    line = longer;
                    continue;
                }
                if !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
                for c in word.chars() {
                    line.push(c);
                    if self.width(size, &line) > width && line.chars().count() > 1 {
                        line.pop();
                        lines.push(std::mem::replace(&mut line, c.to_string()));
                    }
                }
            }
            lines.push(line);
        }
        lines
    }
}
