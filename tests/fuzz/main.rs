//! What fuzzing found worth keeping, through the very functions it was found with.
//!
//! `corpus/` holds a folder for each target with small inputs that lead down different ways, among them each that once
//! failed. DEVELOPERS.md says how to look for more.

#![expect(clippy::expect_used, reason = "a target whose ground is missing fails")]

mod targets;

use std::fs;
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use targets::{TARGETS, Target};

/// A run that takes longer counts as one that hangs.
const LONGEST: Duration = Duration::from_secs(5);

/// All inputs together stay small enough to be kept with the source.
const MOST_BYTES: u64 = 1 << 20;

fn inputs(target: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let entries = fs::read_dir(&folder).unwrap_or_else(|why| panic!("{}: {why}", folder.display()));
    let mut inputs: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    inputs.sort();
    inputs
}

/// What is wrong with a target on one input; it has already said more.
fn failure((name, run): Target, input: &Path) -> Option<String> {
    let data = fs::read(input).expect("an input");
    let start = Instant::now();
    let ended = catch_unwind(|| run(&data));
    let wrong = match ended {
        Err(_) => "failed",
        Ok(()) if start.elapsed() > LONGEST => "took too long",
        Ok(()) => return None,
    };
    Some(format!("{name} {wrong} on {}", input.display()))
}

#[test]
fn every_kept_input_is_taken_or_refused() {
    let mut failures = Vec::new();
    for target in TARGETS {
        let inputs = inputs(target.0);
        assert!(!inputs.is_empty(), "{} has no inputs", target.0);
        failures.extend(inputs.iter().filter_map(|input| failure(*target, input)));
    }
    assert!(failures.is_empty(), "{failures:#?}");
}

#[test]
fn the_inputs_are_few_and_each_has_its_target() {
    let mut kept = inputs("");
    kept.retain(|folder| !TARGETS.iter().any(|(name, _)| folder.ends_with(name)));
    assert!(kept.is_empty(), "no target is called {kept:?}");
    let bytes: u64 = TARGETS
        .iter()
        .flat_map(|(name, _)| inputs(name))
        .map(|input| input.metadata().expect("an input").len())
        .sum();
    assert!(bytes <= MOST_BYTES, "{bytes} bytes of inputs");
}
