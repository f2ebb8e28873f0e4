//! The ceiling on a worker's memory.
//!
//! What the program does itself is reckoned beforehand and keeps to the memory it is given. Other people's code on a
//! hostile drawing may not: then the worker ends itself with a refusal, before the machine does with it, or with its
//! neighbours, as it likes. Where the system does not tell what a process holds, nothing is watched.

use std::fs::File;
use std::os::unix::fs::FileExt as _;
use std::thread;
use std::time::Duration;

use seamwright_contract::Fault;

use super::worker::{Answer, FaultForm, Task};

/// What a worker takes for itself beside pixels: the program, its tables and fonts.
const PROGRAM: u64 = 48 << 20;

/// How often it looks; in this time a process can take some megabytes.
const EVERY: Duration = Duration::from_millis(4);

/// Ends this process with a refusal, told to `tell`, as soon as it holds more than the task may.
pub(crate) fn end_at_the_ceiling(task: &Task, tell: impl Fn(&Answer) + Send + 'static) {
    let Ok(statm) = File::open("/proc/self/statm") else { return };
    let (most, refusal) = (task.memory.saturating_add(PROGRAM), too_much(task));
    thread::spawn(move || {
        while held(&statm).is_some_and(|held| held <= most) {
            thread::sleep(EVERY);
        }
        if held(&statm).is_some() {
            tell(&refusal);
            std::process::exit(0);
        }
    });
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
