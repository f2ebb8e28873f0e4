//! Where things stand in a YAML text, and what is not wanted in it, found before the text is parsed.
//!
//! The parser behind [`super`] tells no positions and obeys anchors and aliases, by which a small file unfolds
//! into gigabytes. So this one pass walks the text first: blocks by indentation, flow groups by brackets, quotes,
//! comments and block scalars respected. It notes where every key and every value stands, and complains of anchors,
//! aliases, tags, several documents, deep nesting and keys given twice. It judges nothing else: a text that is
//! no YAML merely leaves fewer places noted, and the parser says what is wrong with it.

use std::collections::BTreeMap;
use std::ops::Range;

use seamwright_contract::settings::Part;

/// Deeper than any setting here; also keeps the parser away from texts it takes minutes over.
const DEEPEST: usize = 12;

/// Enough mistakes to show at once.
const MOST_TROUBLES: usize = 20;

/// Something that is refused whatever it means.
#[derive(Debug)]
pub(super) struct Trouble {
    pub(super) at: Range<usize>,
    pub(super) key: String,
    pub(super) what: String,
    pub(super) cure: String,
}

/// Where a key and its value stand, in bytes of the text.
#[derive(Debug, Default)]
struct Spot {
    /// None for an item of a list.
    key: Option<Range<usize>>,
    value: Option<Range<usize>>,
}

/// Where things stand, by their ways (`size.width`, `stages.0.resize`).
#[derive(Debug, Default)]
pub(crate) struct Spots {
    known: BTreeMap<String, Spot>,
    /// The first quote or bracket that is never closed.
    pub(super) unclosed: Option<usize>,
}

impl Spots {
    /// Where that part of what a way leads to stands; of the nearest group around it where it has no place of its own.
    pub(crate) fn of(&self, way: &str, part: Part, text: &str) -> Option<Range<usize>> {
        let mut way = way;
        let mut part = part;
        loop {
            if let Some(spot) = self.known.get(way) {
                let (key, value) = (spot.key.as_ref(), spot.value.as_ref().filter(|value| !value.is_empty()));
                let one_line =
                    |from: usize, to: usize| !text.get(from..to).unwrap_or_default().contains(['\n', '\r']);
                return match part {
                    Part::Key => key.or(value),
                    // What the text as a whole lacks stands nowhere in it.
                    Part::Group if way.is_empty() => None,
                    Part::Group => {
                        let from = |value: &Range<usize>| key.map_or(value.start, |key| key.start);
                        value.filter(|value| one_line(from(value), value.end)).or(key).or(value)
                    }
                    Part::Value => value.filter(|value| one_line(value.start, value.end)).or(key).or(value),
                }
                .cloned();
            }
            if way.is_empty() {
                return None;
            }
            (way, part) = (way.rsplit_once('.').map_or("", |(around, _)| around), Part::Value);
        }
    }
}

/// Walks a text.
pub(super) fn scan(text: &str) -> (Spots, Vec<Trouble>) {
    let mut walk = Walk {
        text: text.as_bytes(),
        at: 0,
        line: 1,
        line_start: 0,
        said: 0,
        way: Vec::new(),
        spots: Spots::default(),
        troubles: Vec::new(),
    };
    walk.documents();
    (walk.spots, walk.troubles)
}

struct Walk<'a> {
    text: &'a [u8],
    at: usize,
    line: usize,
    line_start: usize,
    /// Behind the last sign that said anything.
    said: usize,
    way: Vec<String>,
    spots: Spots,
    troubles: Vec<Trouble>,
}

impl Walk<'_> {
    fn ahead(&self, by: usize) -> u8 {
        self.text.get(self.at + by).copied().unwrap_or(0)
    }

    fn peek(&self) -> u8 {
        self.ahead(0)
    }

    fn ended(&self) -> bool {
        self.at >= self.text.len()
    }

    /// How far the next byte stands from the line's start.
    fn column(&self) -> usize {
        self.at - self.line_start
    }

    fn step(&mut self) {
        // A lone carriage return ends a line too.
        let ends_line = match self.peek() {
            b'\n' => true,
            b'\r' => self.ahead(1) != b'\n',
            _ => false,
        };
        self.at += 1;
        if ends_line {
            self.line += 1;
            self.line_start = self.at;
        }
    }

    /// Complains of what stands at the cursor, up to the next blank.
    fn trouble(&mut self, what: impl Into<String>, cure: &str) {
        let rest = self.text.get(self.at..).unwrap_or_default();
        let word =
            rest.iter().take_while(|byte| !matches!(byte, b' ' | b'\t' | b'\n' | b'\r' | b',')).count();
        self.trouble_at(self.at..self.at + word.max(1), what, cure);
    }

    fn trouble_at(&mut self, at: Range<usize>, what: impl Into<String>, cure: &str) {
        if self.troubles.len() < MOST_TROUBLES {
            let key = self.way.join(".");
            self.troubles.push(Trouble { at, key, what: what.into(), cure: cure.to_owned() });
        }
    }

    /// Notes that what was stepped over says something.
    fn said(&mut self) {
        let passed = self.text.get(..self.at).unwrap_or_default();
        self.said = passed.trim_ascii_end().len().max(self.said);
    }

    fn give_up(&mut self) {
        self.at = self.text.len();
    }

    /// Past spaces and a comment, not past the line's end.
    fn skip_in_line(&mut self) {
        while matches!(self.peek(), b' ' | b'\t') {
            self.step();
        }
        let open = self.column() == 0 || matches!(self.text.get(self.at.wrapping_sub(1)), Some(b' ' | b'\t'));
        if self.peek() == b'#' && open {
            while !self.ended() && !self.at_line_end() {
                self.step();
            }
        }
    }

    fn at_line_end(&self) -> bool {
        matches!(self.peek(), b'\n' | b'\r')
    }

    /// Past spaces, comments and empty lines, to the next thing written.
    fn skip(&mut self) {
        loop {
            self.skip_in_line();
            if !self.at_line_end() {
                return;
            }
            self.step();
        }
    }

    /// Whether a `-`, `?` or `:` here is a sign of its own and not the start of a word.
    fn is_sign(&self, sign: u8) -> bool {
        self.peek() == sign && matches!(self.ahead(1), 0 | b' ' | b'\t' | b'\n' | b'\r')
    }

    fn at_document_mark(&self) -> bool {
        let mark = self.text.get(self.at..self.at + 3);
        self.column() == 0
            && matches!(mark, Some(b"---" | b"..."))
            && matches!(self.ahead(3), 0 | b' ' | b'\t' | b'\n' | b'\r')
    }

    fn documents(&mut self) {
        self.skip();
        if self.peek() == b'%' {
            self.trouble("a line starting with `%` is not used here", "Take the line out.");
            return self.give_up();
        }
        if self.at_document_mark() && self.peek() == b'-' {
            self.at += 3;
            self.skip();
        }
        self.node(None, 0);
        self.skip();
        while self.at_document_mark() && self.peek() == b'.' {
            self.at += 3;
            self.skip();
        }
        if self.at_document_mark() {
            self.trouble(
                "a second document starts here",
                "Keep one document a file: take out the `---` and what does not belong.",
            );
        }
    }

    /// A value at the cursor. `parent` is the column of the block it hangs under: what is written further right
    /// on later lines still belongs to it.
    fn node(&mut self, parent: Option<usize>, depth: usize) {
        if depth > DEEPEST {
            self.trouble(
                "the keys are nested too deep",
                "Nothing here needs more than a few levels: look for a bracket too many.",
            );
            return self.give_up();
        }
        self.properties();
        if self.ended() || self.at_line_end() {
            return;
        }
        let start = self.at;
        self.value(parent, depth);
        self.valued(start);
    }

    /// Notes that the value of the way at hand goes from there to here.
    fn valued(&mut self, start: usize) {
        let value = start..self.said.max(start);
        self.spots.known.entry(self.way.join(".")).or_default().value.get_or_insert(value);
    }

    fn value(&mut self, parent: Option<usize>, depth: usize) {
        let column = self.column();
        if self.is_sign(b'-') {
            self.block_list(column, depth);
        } else if self.is_sign(b'?') {
            self.trouble("a `?` does not start a key here", "Write `key: value`.");
            self.give_up();
        } else if matches!(self.peek(), b'|' | b'>') {
            self.block_scalar(parent);
        } else if matches!(self.peek(), b'{' | b'[') {
            self.flow(depth);
        } else {
            let (start, line) = (self.at, self.line);
            let word = self.scalar(false);
            if self.is_sign(b':') && self.line == line {
                self.block_map(column, (word, start..self.said), depth);
            } else {
                self.continuation(parent);
            }
        }
    }

    /// Anchors, aliases and tags before a value; all refused.
    fn properties(&mut self) {
        loop {
            match self.peek() {
                b'&' | b'*' => self.trouble(
                    "anchors and aliases (`&name`, `*name`) are not used here",
                    "Write the value out, or put quotes round a text that starts with `&` or `*`.",
                ),
                b'!' => self.trouble(
                    "tags (`!name`) are not used here",
                    "Take the tag out, or put quotes round a text that starts with `!`.",
                ),
                _ => return,
            }
            while !self.ended() && !matches!(self.peek(), b' ' | b'\t' | b'\n' | b'\r' | b',' | b']' | b'}') {
                self.step();
            }
            self.skip_in_line();
        }
    }

    /// A quoted text, or a word up to the sign that ends it on this line.
    fn scalar(&mut self, flow: bool) -> String {
        let start = self.at;
        if matches!(self.peek(), b'"' | b'\'') {
            self.quoted();
            self.said();
            let inner = self.text.get(start + 1..self.at.saturating_sub(1)).unwrap_or_default();
            let word = String::from_utf8_lossy(inner).into_owned();
            self.skip_in_line();
            return word;
        }
        while !self.ended() && !self.at_line_end() {
            let ends = match self.peek() {
                b':' => {
                    self.is_sign(b':') || flow && matches!(self.ahead(1), b',' | b'[' | b']' | b'{' | b'}')
                }
                b',' | b'[' | b']' | b'{' | b'}' => flow,
                b'#' => matches!(self.text.get(self.at.wrapping_sub(1)), Some(b' ' | b'\t')),
                _ => false,
            };
            if ends {
                break;
            }
            self.step();
        }
        self.said();
        String::from_utf8_lossy(self.text.get(start..self.at).unwrap_or_default()).trim().to_owned()
    }

    fn quoted(&mut self) {
        let (start, quote) = (self.at, self.peek());
        self.step();
        while !self.ended() {
            let doubled = quote == b'\'' && self.peek() == quote && self.ahead(1) == quote;
            if doubled || (quote == b'"' && self.peek() == b'\\') {
                self.step();
            } else if self.peek() == quote {
                return self.step();
            }
            self.step();
        }
        self.spots.unclosed.get_or_insert(start);
    }

    /// The further lines of a text without quotes: all that is written right of `parent`.
    fn continuation(&mut self, parent: Option<usize>) {
        self.skip();
        while !self.ended() && parent.is_none_or(|parent| self.column() > parent) && !self.at_document_mark()
        {
            while !self.ended() && !self.at_line_end() {
                self.step();
            }
            self.said();
            self.skip();
        }
    }

    /// A text after `|` or `>`: all lines that are empty or written right of `parent`.
    fn block_scalar(&mut self, parent: Option<usize>) {
        loop {
            while !self.ended() && !self.at_line_end() {
                self.step();
            }
            self.said();
            while self.at_line_end() {
                self.step();
            }
            while self.peek() == b' ' {
                self.step();
            }
            let belongs = self.at_line_end() || parent.is_none_or(|parent| self.column() > parent);
            if self.ended() || !belongs || self.at_document_mark() {
                return;
            }
        }
    }

    fn block_list(&mut self, column: usize, depth: usize) {
        let mut item = 0_usize;
        while self.column() == column && self.is_sign(b'-') && !self.at_document_mark() {
            self.step();
            self.said();
            self.enter(item.to_string(), None);
            self.below(column, false, depth);
            self.way.pop();
            item += 1;
            self.skip();
        }
    }

    fn block_map(&mut self, column: usize, first: (String, Range<usize>), depth: usize) {
        let mut known: Vec<(String, usize)> = Vec::new();
        let (mut key, mut spot) = first;
        loop {
            let line = self.line;
            self.key(&mut known, key, (line, spot));
            self.step();
            self.said();
            self.below(column, true, depth);
            self.way.pop();
            self.skip();
            if self.ended() || self.column() != column || self.at_document_mark() {
                return;
            }
            self.properties();
            let (start, line) = (self.at, self.line);
            key = self.scalar(false);
            spot = start..self.said;
            if !self.is_sign(b':') || self.line != line {
                return;
            }
        }
    }

    /// The value after a `-` or a `:`, on the same line or below it.
    fn below(&mut self, column: usize, of_key: bool, depth: usize) {
        let line = self.line;
        if of_key {
            self.hash_colour();
        }
        self.skip();
        let list_at_key = of_key && self.column() == column && self.is_sign(b'-');
        if self.ended() || (self.line != line && self.column() <= column && !list_at_key) {
            return;
        }
        self.node(Some(column), depth + 1);
    }

    /// A colour such as `#aabbcc` without quotes is a comment to YAML, and would silently be no colour at all.
    fn hash_colour(&mut self) {
        let rest = self.text.get(self.at..).unwrap_or_default().trim_ascii_start();
        let digits = rest.strip_prefix(b"#").unwrap_or_default();
        let six = digits.iter().take_while(|byte| byte.is_ascii_hexdigit()).count() == 6;
        let spaces = rest.len() < self.text.len() - self.at && !self.at_line_end();
        if six && spaces && !digits.get(6).is_some_and(u8::is_ascii_alphanumeric) {
            let start = self.text.len() - rest.len();
            let colour = String::from_utf8_lossy(rest.get(..7).unwrap_or_default());
            let cure = format!("Put the colour in quotes: `\"{colour}\"`.");
            self.trouble_at(start..start + 7, "YAML takes what follows a `#` for a remark", &cure);
        }
    }

    /// A group in brackets, over as many lines as it likes.
    fn flow(&mut self, depth: usize) {
        if depth > DEEPEST {
            self.trouble(
                "the keys are nested too deep",
                "Nothing here needs more than a few levels: look for a bracket too many.",
            );
            return self.give_up();
        }
        let (start, of_keys) = (self.at, self.peek() == b'{');
        let mut known = Vec::new();
        let mut item = 0_usize;
        self.step();
        loop {
            self.skip();
            match self.peek() {
                _ if self.ended() => {
                    self.spots.unclosed.get_or_insert(start);
                    return;
                }
                b'}' | b']' => {
                    self.step();
                    self.said();
                    return self.skip_in_line();
                }
                b',' => {
                    self.step();
                    item += 1;
                    continue;
                }
                _ => {}
            }
            if of_keys {
                self.flow_entry(&mut known, depth);
            } else {
                self.enter(item.to_string(), None);
                let start = self.at;
                self.flow_entry(&mut Vec::new(), depth);
                self.valued(start);
                self.way.pop();
            }
        }
    }

    /// One value in brackets, or one key with its value.
    fn flow_entry(&mut self, known: &mut Vec<(String, usize)>, depth: usize) {
        self.properties();
        if matches!(self.peek(), b'{' | b'[') {
            return self.flow(depth + 1);
        }
        let (start, line) = (self.at, self.line);
        let quoted = matches!(self.peek(), b'"' | b'\'');
        let word = self.scalar(true);
        let spot = start..self.said;
        self.skip();
        if self.peek() == b':'
            && (quoted || self.is_sign(b':') || matches!(self.ahead(1), b',' | b'}' | b']'))
        {
            self.key(known, word, (line, spot));
            self.step();
            self.said();
            self.hash_colour();
            self.skip();
            self.properties();
            let start = self.at;
            match self.peek() {
                b',' | b'}' | b']' => {}
                b'{' | b'[' => self.flow(depth + 1),
                _ => {
                    // A text in brackets may run over several lines.
                    let mut from = self.at;
                    while !self.ended() && !matches!(self.peek(), b',' | b'}' | b']' | b'{' | b'[') {
                        self.scalar(true);
                        self.skip();
                        if self.at == from {
                            self.step();
                        }
                        from = self.at;
                    }
                }
            }
            self.valued(start);
            self.way.pop();
        } else if self.at == start {
            self.step();
        }
    }

    fn enter(&mut self, word: String, key: Option<Range<usize>>) {
        self.way.push(word);
        self.spots.known.entry(self.way.join(".")).or_insert(Spot { key, value: None });
    }

    /// Enters a key; one that was there before is a mistake, for only one of the two can be meant.
    fn key(&mut self, known: &mut Vec<(String, usize)>, word: String, (line, spot): (usize, Range<usize>)) {
        let before = known.iter().find(|(key, _)| *key == word).map(|(_, line)| *line);
        known.push((word.clone(), line));
        self.enter(word, Some(spot.clone()));
        if let Some(before) = before {
            let word = self.way.last().cloned().unwrap_or_default();
            let what = format!("the key `{word}` is given twice, first in line {before}");
            self.trouble_at(spot, what, "Keep one of the two.");
        }
    }
}
