//! Pauses after trouble with the machine, each twice as long as the one before.

use std::collections::HashMap;
use std::hash::Hash;
use std::time::Duration;

use tokio::time::Instant;

/// The first pause, and the longest.
const FIRST: Duration = Duration::from_secs(5);
const LONGEST: Duration = Duration::from_secs(300);

/// How often a batch tries before it gives up.
pub(crate) const TRIES: u32 = 3;

/// What had trouble, how often, and until when it is left alone.
#[derive(Debug)]
pub(crate) struct Pauses<What>(HashMap<What, (u32, Instant)>);

impl<What: Eq + Hash> Pauses<What> {
    pub(crate) fn new() -> Self {
        Self(HashMap::new())
    }

    /// Once more; returns how often that makes, and how long the pause is.
    pub(crate) fn add(&mut self, what: What) -> (u32, Duration) {
        let (tries, until) = self.0.entry(what).or_insert((0, Instant::now()));
        let pause = FIRST.saturating_mul(1 << (*tries).min(10)).min(LONGEST);
        (*tries, *until) = (*tries + 1, Instant::now() + pause);
        (*tries, pause)
    }

    pub(crate) fn hold(&self, what: &What) -> bool {
        self.0.get(what).is_some_and(|(_, until)| *until > Instant::now())
    }

    pub(crate) fn tries(&self, what: &What) -> u32 {
        self.0.get(what).map_or(0, |(tries, _)| *tries)
    }

    /// It went well, or is not there any more.
    pub(crate) fn forget(&mut self, what: &What) {
        self.0.remove(what);
    }

    /// Only these are still there.
    pub(super) fn retain(&mut self, is_there: impl Fn(&What) -> bool) {
        self.0.retain(|what, _| is_there(what));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn pauses_double_up_to_the_longest() {
        let mut pauses = Pauses::new();
        let seconds: Vec<u64> = (0..9).map(|_| pauses.add("disk").1.as_secs()).collect();
        assert_eq!(seconds, [5, 10, 20, 40, 80, 160, 300, 300, 300]);
        assert!(pauses.hold(&"disk") && !pauses.hold(&"other"), "each by itself");
        tokio::time::advance(LONGEST).await;
        assert!(!pauses.hold(&"disk"), "it is tried again");
        assert_eq!(pauses.tries(&"disk"), 9);
        pauses.forget(&"disk");
        assert_eq!(pauses.add("disk").1, FIRST);
    }
}
