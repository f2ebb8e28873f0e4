//! Threads for other people's code on hostile drawings: with much room for recursion, and given up when they take too long.
//!
//! A thread cannot be ended. One that is given up works on until its process ends, which for a worker is soon.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc;
use std::thread::Builder;
use std::time::Duration;

use crate::contract::Fault;
use crate::sink::no_thread;
use crate::{drawn, faults};

/// Room for recursion, in bytes; only what is used is taken.
const STACK: usize = 64 << 20;

/// Begins a thread.
pub(crate) fn thread(work: impl FnOnce() + Send + 'static) -> Result<(), Fault> {
    let begun = Builder::new().name("artwork".to_owned()).stack_size(STACK).spawn(work);
    begun.map(drop).map_err(|why| no_thread(&why))
}

/// What the work comes to, or a refusal where it panics or takes longer than this.
pub(crate) fn within<T: Send + 'static>(
    time: Duration,
    work: impl FnOnce() -> Result<T, Fault> + Send + 'static,
) -> Result<T, Fault> {
    let (tell, told) = mpsc::sync_channel(1);
    thread(move || {
        let done = catch_unwind(AssertUnwindSafe(work));
        // Nobody listens any more where it was given up.
        drop(tell.send(done.unwrap_or_else(|_| Err(faults::damaged("the decoder gave up on it")))));
    })?;
    told.recv_timeout(time).unwrap_or_else(|_| Err(drawn::too_long(time)))
}
