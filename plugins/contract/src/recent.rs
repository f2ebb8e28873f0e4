//! What was worked out lately, kept for whoever asks for the same.

use std::fmt;
use std::sync::{Mutex, PoisonError};

/// The last so many answers, each with what was asked.
pub struct Recent<Asked, Answer, const KEPT: usize>(Mutex<Vec<(Asked, Answer)>>);

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
    /// The answer, worked out only if it is not kept. Two that ask at once may both work.
    ///
    /// # Errors
    /// What the work ends in; that is not kept.
    pub fn get<E>(&self, asked: &Asked, work: impl FnOnce() -> Result<Answer, E>) -> Result<Answer, E> {
        let kept = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        {
            let mut kept = kept();
            if let Some((_, answer)) = kept.iter().find(|(known, _)| known == asked) {
                return Ok(answer.clone());
            }
            // Before the work, so that there is never room taken for more.
            let surplus = (kept.len() + 1).saturating_sub(KEPT);
            kept.drain(..surplus);
        }
        let answer = work()?;
        let mut kept = kept();
        if kept.len() < KEPT {
            kept.push((asked.clone(), answer.clone()));
        }
        Ok(answer)
    }
}
