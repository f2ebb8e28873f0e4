//! Pieces of pages made side by side, written in order.
//!
//! A worker needs a ticket for every piece it begins. As many tickets are given out as compressed pieces may be
//! waiting, and one more for each piece written, so a slow piece or a slow disk holds the others back instead of
//! filling the memory.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::sync::mpsc::channel;
use std::thread;

use seamwright_contract::Fault;
use seamwright_contract::picture::Format;
use seamwright_contract::plugin::Means;
use seamwright_drawing::sheet::Press;

/// Pieces that may wait for each worker: what one is ahead of another by, where some pieces are bare.
const AHEAD: usize = 4;

/// How many threads each make a piece, within half the memory.
pub(crate) fn workers(means: &Means, format: Format) -> usize {
    let affordable = means.memory / 2 / Press::memory(format).max(1);
    usize::try_from(affordable).unwrap_or(usize::MAX).min(means.threads).max(1)
}

/// Makes all these with `make` on so many threads, each with what `begin` gives it, and hands them to `put` in order.
///
/// # Errors
/// The first [`Fault`] that comes of either; what is begun is then finished in vain.
pub(crate) fn work<Piece: Copy + Send + Sync, Made: Send, Own>(
    pieces: &[Piece],
    workers: usize,
    begin: impl Fn() -> Own + Sync,
    make: impl Fn(&mut Own, Piece) -> Result<Made, Fault> + Sync,
    mut put: impl FnMut(Made) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let (ticket, tickets) = channel();
    let tickets = Mutex::new(tickets);
    let (done, results) = channel();
    // A panic over one piece must not leave the others waiting for it.
    let guarded = |own: &mut Own, piece| {
        catch_unwind(AssertUnwindSafe(|| make(own, piece)))
            .unwrap_or_else(|_| Err(Fault::defect("making a piece of a page broke off.")))
    };
    thread::scope(|scope| {
        // Moved in, so that they end with this closure and release the workers, also on an error.
        let (ticket, results) = (ticket, results);
        for _ in 0..workers {
            let (done, tickets, begin, guarded) = (done.clone(), &tickets, &begin, &guarded);
            scope.spawn(move || {
                let mut own = begin();
                let next = || tickets.lock().ok()?.recv().ok();
                while let Some((at, piece)) = next() {
                    if done.send((at, guarded(&mut own, piece))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(done);
        let gone = || Fault::defect("the threads that make pages have gone.");
        let mut unbegun = pieces.iter().copied().enumerate();
        for piece in unbegun.by_ref().take(workers * AHEAD) {
            ticket.send(piece).map_err(|_| gone())?;
        }
        let mut waiting = BTreeMap::new();
        for at in 0..pieces.len() {
            let made = loop {
                if let Some(made) = waiting.remove(&at) {
                    break made;
                }
                let (done, made) = results.recv().map_err(|_| gone())?;
                waiting.insert(done, made?);
            };
            put(made)?;
            if let Some(piece) = unbegun.next() {
                ticket.send(piece).map_err(|_| gone())?;
            }
        }
        Ok(())
    })
}
