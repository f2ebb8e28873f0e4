//! What was worked out lately, kept for whoever asks for the same.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// The last so many answers, each with what was asked.
pub struct Recent<Asked, Answer, const KEPT: usize>(Mutex<Vec<(Asked, Slot<Answer>)>>);

/// An answer, or where it will be; held by whoever works it out.
type Slot<Answer> = Arc<Mutex<Option<Answer>>>;

impl<Asked, Answer, const KEPT: usize> Default for Recent<Asked, Answer, KEPT> {
    fn default() -> Self {
        Self::new()
    }
}

impl<Asked, Answer, const KEPT: usize> Recent<Asked, Answer, KEPT> {
    /// Nothing yet.
    #[must_use]
    pub const fn new() -> Self {
        Self(Mutex::new(Vec::new()))
    }
}

impl<Asked, Answer, const KEPT: usize> fmt::Debug for Recent<Asked, Answer, KEPT> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Recent")
    }
}

impl<Asked: PartialEq + Clone, Answer: Clone, const KEPT: usize> Recent<Asked, Answer, KEPT> {
    /// The answer, worked out only if it is not kept. Who asks for what another is working out waits for it; so the work must
    /// not itself ask for the same.
    ///
    /// # Errors
    /// What the work ends in; that is not kept.
    pub fn get<E>(&self, asked: &Asked, work: impl FnOnce() -> Result<Answer, E>) -> Result<Answer, E> {
        let slot = self.slot(asked);
        let mut answer = slot.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(answer) = &*answer {
            return Ok(answer.clone());
        }
        let worked = work()?;
        *answer = Some(worked.clone());
        Ok(worked)
    }

    /// Where the answer is or will be. The oldest goes before there is a new one, so that there is never room taken for more.
    fn slot(&self, asked: &Asked) -> Slot<Answer> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, slot)) = kept.iter().find(|(known, _)| known == asked) {
            return Arc::clone(slot);
        }
        let surplus = (kept.len() + 1).saturating_sub(KEPT);
        kept.drain(..surplus);
        let slot = Slot::default();
        kept.push((asked.clone(), Arc::clone(&slot)));
        slot
    }
}
