//! The ceiling on a worker's memory.
//!
//! What the program does itself is reckoned beforehand and keeps to the memory it is given. Other people's code on a
//! hostile drawing may not: then the worker ends itself with a refusal, before the machine does with it, or with its
//! neighbours, as it likes. At a second task it ends without: what it held from the first may be too much, so another
//! worker is to try. Where the system does not tell what a process holds, nothing is watched.

use std::fs::File;
use std::os::unix::fs::FileExt as _;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use seamwright_contract::Fault;

use super::task::{Answer, FaultForm, Task};

/// What a worker takes for itself beside pixels: the program, its tables and fonts.
const PROGRAM: u64 = 48 << 20;

/// How often it looks; in this time a process can take some megabytes.
const EVERY: Duration = Duration::from_millis(4);

/// The ceiling of the task that is worked.
#[derive(Debug, Clone, Default)]
pub(super) struct Ceiling(Arc<Mutex<Limit>>);

#[derive(Debug, Default)]
struct Limit {
    /// Bytes; none before the first task.
    most: Option<u64>,
    /// What the daemon is told.
    refusal: Option<Answer>,
}

impl Ceiling {
    /// Watches from now on, and ends this process as soon as it holds more than its task may; `tell` is told a refusal.
    pub(super) fn watched(tell: impl Fn(&Answer) + Send + 'static) -> Self {
        let ceiling = Self::default();
        let Ok(statm) = File::open("/proc/self/statm") else { return ceiling };
        let limit = Arc::clone(&ceiling.0);
        thread::spawn(move || {
            loop {
                let Some(held) = held(&statm) else { return };
                let limit = limit.lock().unwrap_or_else(PoisonError::into_inner);
                if limit.most.is_some_and(|most| held > most) {
                    limit.refusal.as_ref().map(&tell);
                    std::process::exit(i32::from(limit.refusal.is_none()));
                }
                drop(limit);
                thread::sleep(EVERY);
            }
        });
        ceiling
    }

    /// Is that of this task from now on.
    pub(super) fn set(&self, task: &Task) {
        let mut limit = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let first = limit.most.is_none();
        limit.most = Some(task.memory.saturating_add(PROGRAM));
        limit.refusal = first.then(|| too_much(task));
    }
}
/// Bytes of memory this process holds: the second number of `statm` (Linux, proc(5)), in pages.
fn held(statm: &File) -> Option<u64> {
    let mut text = [0; 128];
    let read = statm.read_at(&mut text, 0).ok()?;
    let text = std::str::from_utf8(text.get(..read)?).ok()?;
    let pages: u64 = text.split_whitespace().nth(1)?.parse().ok()?;
    let page = u64::try_from(rustix::param::page_size()).ok()?;
    pages.checked_mul(page)
}

fn too_much(task: &Task) -> Answer {
    let fault = Fault::artwork(
        format!("Working this job takes more than the {} MB of memory it may take.", task.memory / 1_000_000),
        "Simplify the drawing in the program it comes from, save it as PNG, or raise `memory` in seamwright.yaml.",
    );
    Answer::Faults(vec![FaultForm::from(fault.at(&*task.name))])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_held_is_counted() {
        let statm = File::open("/proc/self/statm").unwrap();
        let before = held(&statm).unwrap();
        let taken = vec![1_u8; 64 << 20];
        let after = held(&statm).unwrap();
        assert!(after >= before + (32 << 20), "{before} and then {after} with {} more", taken.len());
    }
}
