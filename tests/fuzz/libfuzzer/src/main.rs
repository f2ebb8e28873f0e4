//! libFuzzer's way into the targets: `SEAMWRIGHT_TARGET` names the one to run.
//!
//! Beside panics, a target fails where it holds more memory than [`ALLOWED`], which is far more than its own limits, and
//! where it works longer than [`LONGEST`].

#![no_main]
#![expect(clippy::expect_used, reason = "a fuzzer whose ground is missing stops")]

mod memory;
mod patience;
#[path = "../../targets/mod.rs"]
mod targets;

use std::sync::OnceLock;
use std::time::Duration;

use libfuzzer_sys::fuzz_target;
use targets::{TARGETS, Target};

/// How long a single run may work.
const LONGEST: Duration = Duration::from_secs(5);

/// Bytes a single run may hold.
const ALLOWED: usize = 256 << 20;

#[global_allocator]
static MEMORY: memory::Counted = memory::Counted::new(ALLOWED);

fn chosen() -> Target {
    static CHOSEN: OnceLock<Target> = OnceLock::new();
    *CHOSEN.get_or_init(|| {
        let name = std::env::var("SEAMWRIGHT_TARGET").expect("SEAMWRIGHT_TARGET names a target");
        *TARGETS.iter().find(|(known, _)| *known == name).expect("a target of that name")
    })
}

/// A panic in somebody else's decoder is caught where it is called, and that file is refused as damaged: what remains is
/// to know of it. Any other one is a mistake of ours.
fn keep_on_after_foreign_panics() {
    let ends = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let place = panic.location().map(ToString::to_string).unwrap_or_default();
        if place.contains("/registry/src/") && matches!(chosen().0, "png" | "jpeg" | "tiff" | "webp") {
            eprintln!("FOREIGN PANIC at {place}");
        } else {
            ends(panic);
        }
    }));
}

fn begin() {
    keep_on_after_foreign_panics();
    patience::watch(LONGEST);
}

fuzz_target!(init: begin(), |data: &[u8]| {
    patience::watched(|| (chosen().1)(data));
});
