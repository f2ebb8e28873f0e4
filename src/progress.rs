//! What is said while a batch is worked: lines for the maker, and below them on a terminal one more, redrawn, that shows
//! how far it is. Where nobody looks (a pipe, a file, a dumb terminal) there are lines alone.

use std::collections::BTreeMap;
use std::io::{self, IsTerminal as _, Write};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use seamwright_contract::num;

use crate::run::{Heard, Word};
use crate::terminal;

/// The line is drawn anew no more often than this.
const LEAST: Duration = Duration::from_millis(80);

/// How many signs the bar itself has.
const BAR: usize = 20;

/// How wide a terminal is taken to be.
const USUAL: usize = 80;

/// Back to the first column, and the rest of the line away.
const ERASE: &str = "\r\x1b[K";

static SCREEN: Mutex<Screen> =
    Mutex::new(Screen { wanted: false, far: Far { done: 0, all: 0, working: BTreeMap::new() }, drawn: None });

struct Screen {
    /// Whether a bar is drawn at all.
    wanted: bool,
    far: Far,
    /// When it was last drawn, if it is there now.
    drawn: Option<Instant>,
}

/// How far a batch is.
#[derive(Debug, Default)]
struct Far {
    /// Jobs that have ended, and all there are.
    done: usize,
    all: usize,
    /// The sheets of those being worked.
    working: BTreeMap<String, Word>,
}

fn screen() -> MutexGuard<'static, Screen> {
    SCREEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// From now on a bar is drawn, if this is a terminal.
pub(crate) fn begin() {
    screen().wanted = io::stderr().is_terminal() && !is_dumb();
}

fn is_dumb() -> bool {
    std::env::var_os("TERM").is_none_or(|term| term.is_empty() || term == "dumb")
}

/// Whether what is said comes to a terminal that has colours, and nobody wants none (no-color.org).
pub(crate) fn has_colours() -> bool {
    let unwanted = std::env::var_os("NO_COLOR").is_some_and(|set| !set.is_empty());
    io::stdout().is_terminal() && !is_dumb() && !unwanted
}

/// Nothing more is to come.
pub(crate) fn end() {
    let mut screen = screen();
    screen.erase();
    screen.wanted = false;
}

/// So many jobs have ended, of so many.
pub(crate) fn jobs(done: usize, all: usize) {
    let mut screen = screen();
    if screen.wanted && (screen.far.done, screen.far.all) != (done, all) {
        (screen.far.done, screen.far.all) = (done, all);
        screen.draw();
    }
}

/// Hears how far a job is, if there is a bar to show it.
pub(crate) fn listener(job: &str) -> Option<Heard> {
    let job = job.to_owned();
    screen().wanted.then(|| {
        let heard: Heard = Arc::new(move |word| {
            let mut screen = screen();
            screen.far.working.insert(job.clone(), word);
            if screen.drawn.is_none_or(|at| at.elapsed() >= LEAST) {
                screen.draw();
            }
        });
        heard
    })
}

/// A job has ended.
pub(crate) fn ended(job: &str) {
    screen().far.working.remove(job);
}

/// A line for the maker. A closed pipe is no reason to stop working.
pub(crate) fn say(line: &str) {
    above(|| writeln!(io::stdout().lock(), "{line}")).unwrap_or_default();
}

/// Writes above the bar.
fn above<T>(write: impl FnOnce() -> io::Result<T>) -> io::Result<T> {
    let mut screen = screen();
    let drawn = screen.drawn.is_some();
    screen.erase();
    let done = write();
    if drawn {
        screen.draw();
    }
    done
}

/// Where the log goes: standard error, above the bar.
#[derive(Debug)]
pub(crate) struct Log;

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        above(|| io::stderr().lock().write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        io::stderr().lock().flush()
    }
}

impl Screen {
    fn erase(&mut self) {
        if self.drawn.take().is_some() {
            put(ERASE);
        }
    }

    fn draw(&mut self) {
        // Some terminals do not know how wide they are.
        let width = terminal::columns(io::stderr()).map_or(USUAL, usize::from);
        put(&format!("{ERASE}{}", self.far.line(width.saturating_sub(1))));
        self.drawn = Some(Instant::now());
    }
}

fn put(text: &str) {
    let mut screen = io::stderr().lock();
    drop(screen.write_all(text.as_bytes()).and_then(|()| screen.flush()));
}

impl Far {
    /// In a line of this width.
    fn line(&self, width: usize) -> String {
        let part = |word: &Word| ratio(word.sheet, word.of.max(1));
        let done = ratio(self.done, 1) + self.working.values().map(part).sum::<f64>();
        let share = (done / ratio(self.all.max(1), 1)).clamp(0.0, 1.0);
        let full = (0..BAR).filter(|sign| ratio(*sign, BAR) < share).count();
        let mut line = format!("[{}{}] ", "#".repeat(full), ".".repeat(BAR - full));
        if self.all > 1 {
            line.push_str(&format!("{} of {} jobs  ", self.done, self.all));
        }
        let sheets: Vec<String> = self
            .working
            .iter()
            .map(|(job, Word { sheet, of })| format!("{job}: sheet {sheet} of {of}"))
            .collect();
        line.push_str(&sheets.join(", "));
        line.trim_end().chars().take(width).collect()
    }
}

fn ratio(part: usize, whole: usize) -> f64 {
    f64::from(num::count(part)) / f64::from(num::count(whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_says_how_far_it_is() {
        let mut far = Far { done: 1, all: 4, working: BTreeMap::new() };
        far.working.insert("chart-3f9a21".to_owned(), Word { sheet: 3, of: 6 });
        assert_eq!(far.line(79), "[########............] 1 of 4 jobs  chart-3f9a21: sheet 3 of 6");
        assert_eq!(far.line(30).chars().count(), 30, "it never takes a second line");
        let all = Far { done: 4, all: 4, working: BTreeMap::new() };
        assert_eq!(all.line(79), format!("[{}] 4 of 4 jobs", "#".repeat(BAR)));
        assert_eq!(Far::default().line(79), format!("[{}]", ".".repeat(BAR)));
    }
}
