//! A mistake in a file of the studio's, said so that someone with a text editor can mend it.

use std::fmt;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use seamwright_contract::{Blame, Fault};

use crate::journal::block;

/// How wide an excerpt may be, in columns; of longer lines what is marked is shown.
const WIDEST: usize = 72;

/// One mistake: where, what, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnosis {
    /// The file as people know it: `chart.yaml`, `blanks/table-mat-36x24.yaml`.
    pub file: String,
    /// The place in it, where there is one.
    pub excerpt: Option<Box<Excerpt>>,
    /// The way to the key (`size.width`); empty where the file as a whole is meant.
    pub key: String,
    /// What is wrong.
    pub what: String,
    /// What to do about it.
    pub cure: String,
}

/// A line of a file, with what of it is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excerpt {
    /// Counted from 1.
    pub line: usize,
    /// The line as it stands there.
    pub text: String,
    /// In bytes of the line.
    pub marked: Range<usize>,
}

impl Excerpt {
    /// What stands at these bytes of a text; of several lines the first.
    pub(crate) fn of(text: &str, marked: Range<usize>) -> Self {
        let whole =
            |at: usize| (0..=at.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
        let (start, end) = (whole(marked.start), whole(marked.end));
        let before = text.get(..start).unwrap_or_default();
        let from = before.rfind(['\n', '\r']).map_or(0, |at| at + 1);
        let crossed = before.matches("\r\n").count();
        let line = before.matches(['\n', '\r']).count() - crossed + 1;
        let shown = text.get(from..).unwrap_or_default().split(['\n', '\r']).next().unwrap_or_default();
        let marked = text.get(start..end.min(from + shown.len()).max(start)).unwrap_or_default().trim_end();
        Self { line, text: shown.to_owned(), marked: start - from..start - from + marked.len() }
    }

    /// The line and what of it is meant, underlined.
    fn drawn(&self, renderer: &Renderer) -> String {
        let mark = AnnotationKind::Primary.span(self.marked.clone());
        let snippet = Snippet::source(self.text.as_str()).line_start(self.line).annotation(mark);
        renderer.render(&[Group::with_level(Level::ERROR).element(snippet)])
    }
}

impl Diagnosis {
    /// A mistake that concerns a file as a whole.
    pub(crate) fn of_file(file: impl Into<String>, what: impl Into<String>, cure: impl Into<String>) -> Self {
        Self { file: file.into(), excerpt: None, key: String::new(), what: what.into(), cure: cure.into() }
    }

    /// The same mistake with its place in the file.
    #[must_use]
    pub(crate) fn at(self, excerpt: Excerpt) -> Self {
        Self { excerpt: Some(Box::new(excerpt)), ..self }
    }

    /// The line, counted from 1.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        self.excerpt.as_ref().map(|excerpt| excerpt.line)
    }

    /// Where it is: file, line and key.
    #[must_use]
    pub fn place(&self) -> String {
        let mut place = self.file.clone();
        if let Some(line) = self.line() {
            place.push_str(&format!(", line {line}"));
        }
        if !self.key.is_empty() {
            place.push_str(&format!(", `{}`", self.key));
        }
        place
    }

    /// As a fault of whoever must mend it.
    #[must_use]
    pub fn blamed(self, blame: Blame) -> Fault {
        let place = self.place();
        let plain = Renderer::plain().term_width(WIDEST);
        let shown = self.excerpt.map(|excerpt| excerpt.drawn(&plain)).unwrap_or_default();
        Fault::new(blame, sentence(&self.what), self.cure).at(place).showing(shown)
    }

    /// All that is known of it, for a terminal with colours.
    pub(crate) fn coloured(&self) -> String {
        let styled = Renderer::styled().term_width(WIDEST);
        let drawn = self.excerpt.as_ref().map(|excerpt| excerpt.drawn(&styled));
        let fault = self.clone().blamed(Blame::Setup);
        block(&fault, drawn.as_deref().unwrap_or_default())
    }
}

impl fmt::Display for Diagnosis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place(), sentence(&self.what))?;
        if !self.cure.is_empty() {
            write!(f, " {}", self.cure)?;
        }
        Ok(())
    }
}

/// A complaint with its full stop.
fn sentence(what: &str) -> String {
    let ended = what.ends_with(['.', '!', '?', ':']);
    if ended { what.to_owned() } else { format!("{what}.") }
}
