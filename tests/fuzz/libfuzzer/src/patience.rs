//! How long a run may work, counted in the processor's time: the clock on the wall also counts what others do meanwhile.

use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;
use std::time::Duration;

/// The processor's time at which the present run began; [`IDLE`] between two.
static BEGUN: AtomicU64 = AtomicU64::new(IDLE);

const IDLE: u64 = u64::MAX;

/// Ends the process when a run takes longer.
pub(crate) fn watch(longest: Duration) {
    thread::spawn(move || {
        loop {
            thread::sleep(Duration::from_millis(500));
            let begun = BEGUN.load(Ordering::Relaxed);
            if begun != IDLE && Duration::from_nanos(worked().saturating_sub(begun)) > longest {
                eprintln!("a run takes longer than {longest:?}");
                std::process::abort();
            }
        }
    });
}

/// A run, watched.
pub(crate) fn watched(run: impl FnOnce()) {
    BEGUN.store(worked(), Ordering::Relaxed);
    run();
    BEGUN.store(IDLE, Ordering::Relaxed);
}

/// Nanoseconds of the processor that this process has had.
fn worked() -> u64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    u64::try_from(time.tv_sec).unwrap_or(0) * 1_000_000_000 + u64::try_from(time.tv_nsec).unwrap_or(0)
}
