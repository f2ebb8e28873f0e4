//! Pages made side by side, written in order.
//!
//! A worker needs a ticket for every page it begins. As many tickets are given out as compressed pages may be
//! waiting, and one more for each page written, so a slow page or a slow disk holds the others back instead of
//! filling the memory.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::sync::mpsc::channel;
use std::thread;

use seamwright_contract::picture::{Format, Window};
use seamwright_contract::plugin::Means;
use seamwright_contract::{Fault, num};
use seamwright_drawing::sheet::Pace;

/// How much is done at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Limits {
    /// Threads that each make a page.
    workers: usize,
    /// Threads that may run at all.
    threads: usize,
    /// Pages begun and not yet written.
    in_flight: usize,
    /// Rows filled at a time.
    rows: u32,
}

impl Limits {
    /// Half the memory for compressed pages (which may come out larger than they were), a quarter for bands.
    pub(crate) fn new(means: &Means, format: Format, windows: &[Window]) -> Self {
        let pixel = u64::from(num::count(format.channels.count()));
        let page = windows.iter().map(|window| window.size().count() * pixel).max().unwrap_or(0);
        let threads = means.threads.max(1);
        let affordable = means.memory / 2 / (page * 3 / 2).max(1);
        let in_flight = usize::try_from(affordable).unwrap_or(usize::MAX).clamp(1, threads * 2);
        let workers = threads.min(windows.len()).min(in_flight).max(1);
        let widest = windows.iter().map(|window| window.width).max().unwrap_or(0);
        let rows = Pace::rows_within(means.memory / 4, widest, format, threads);
        Self { workers, threads, in_flight, rows }
    }

    /// How a page is worked: with a second thread where threads would else be idle, which is when there are
    /// few pages in all or few left of the last round.
    fn pace(&self, page: usize, pages: usize) -> Pace {
        let last_round = pages % self.workers;
        let idle = self.workers * 2 <= self.threads
            || (page >= pages - last_round && last_round * 2 <= self.threads);
        Pace { rows: self.rows, ahead: idle }
    }
}

/// Makes the pictures of these windows with `make` on several threads and hands them to `put` in order.
///
/// # Errors
/// The first [`Fault`] that comes of either; pages begun are then finished in vain.
pub(crate) fn work(
    windows: &[Window],
    limits: &Limits,
    make: impl Fn(Window, Pace) -> Result<Vec<u8>, Fault> + Sync,
    mut put: impl FnMut(Window, Vec<u8>) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let (ticket, tickets) = channel();
    let tickets = Mutex::new(tickets);
    let (done, results) = channel();
    // A panic over one page must not leave the others waiting for it.
    let guarded = |page, window| {
        let pace = limits.pace(page, windows.len());
        catch_unwind(AssertUnwindSafe(|| make(window, pace)))
            .unwrap_or_else(|_| Err(Fault::defect(format!("making page {} broke off.", page + 1))))
    };
    thread::scope(|scope| {
        // Moved in, so that they end with this closure and release the workers, also on an error.
        let (ticket, results) = (ticket, results);
        for _ in 0..limits.workers {
            let (done, tickets, guarded) = (done.clone(), &tickets, &guarded);
            scope.spawn(move || {
                let next = || tickets.lock().ok()?.recv().ok();
                while let Some((page, window)) = next() {
                    if done.send((page, guarded(page, window))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(done);
        let gone = || Fault::defect("the threads that make pages have gone.");
        let mut unbegun = windows.iter().copied().enumerate();
        for page in unbegun.by_ref().take(limits.in_flight) {
            ticket.send(page).map_err(|_| gone())?;
        }
        let mut waiting = BTreeMap::new();
        for (page, window) in windows.iter().enumerate() {
            while !waiting.contains_key(&page) {
                let (done, made) = results.recv().map_err(|_| gone())?;
                waiting.insert(done, made?);
            }
            if let Some(bytes) = waiting.remove(&page) {
                put(*window, bytes)?;
            }
            if let Some(page) = unbegun.next() {
                ticket.send(page).map_err(|_| gone())?;
            }
        }
        Ok(())
    })
}
