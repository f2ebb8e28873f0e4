//! How running jobs share memory and threads.
//!
//! Memory is never promised twice. Up to as many jobs run side by side as there are workers and as memory suffices
//! for, each with an equal part; a job that is alone gets everything, and who comes later waits until it is done.

use seamwright_contract::plugin::Means;

/// With less memory than this a job is worked slowly, so fewer run side by side.
const COMFORTABLE: u64 = 256 << 20;

/// What there is to share.
#[derive(Debug)]
pub(super) struct Share {
    memory: u64,
    workers: usize,
    /// How many may run side by side.
    most: usize,
    /// Whether the one that runs has everything.
    alone: bool,
}

impl Share {
    pub(super) fn new(memory: u64, workers: usize) -> Self {
        let most = usize::try_from(memory / COMFORTABLE).unwrap_or(workers).clamp(1, workers.max(1));
        Self { memory, workers, most, alone: false }
    }

    /// The part of one more job, if it can be had now: `running` have theirs, and `more` says whether others wait
    /// behind it.
    pub(super) fn grant(&mut self, running: usize, more: bool) -> Option<Means> {
        if running == 0 {
            self.alone = !more;
        } else if self.alone || running >= self.most {
            return None;
        }
        let parts = if self.alone { 1 } else { self.most };
        Some(Means {
            memory: self.memory / u64::try_from(parts).unwrap_or(1),
            threads: self.workers.div_ceil(parts).max(1),
            keep: 0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_is_never_promised_twice() {
        for (memory, workers) in [(1 << 30, 1), (1 << 30, 2), (1 << 30, 16), (64 << 20, 8), (64 << 30, 3)] {
            for more in [false, true] {
                let mut share = Share::new(memory, workers);
                let mut given = Vec::new();
                while let Some(means) = share.grant(given.len(), more) {
                    given.push(means);
                }
                let whole: u64 = given.iter().map(|means| means.memory).sum();
                assert!(whole <= memory && !given.is_empty() && given.len() <= workers, "{given:?}");
                assert!(
                    given.iter().map(|means| means.threads).sum::<usize>() >= workers,
                    "none idle: {given:?}"
                );
            }
        }
    }

    #[test]
    fn alone_it_has_everything() {
        let mut share = Share::new(1 << 30, 4);
        assert_eq!(share.grant(0, false), Some(Means { memory: 1 << 30, threads: 4, keep: 0 }));
        assert_eq!(share.grant(1, true), None, "the next waits");
        assert_eq!(share.grant(0, true), Some(Means { memory: 256 << 20, threads: 1, keep: 0 }));
        assert_eq!(share.grant(1, false), Some(Means { memory: 256 << 20, threads: 1, keep: 0 }));
    }
}
