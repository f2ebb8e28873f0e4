//! How far a picture has come that one thread decodes while others read it.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::contract::Fault;

/// Rows that are there, from the top.
#[derive(Debug, Default)]
pub(crate) struct Progress {
    state: Mutex<State>,
    moved: Condvar,
}

#[derive(Debug, Default)]
struct State {
    rows: usize,
    ended: Option<Result<(), Fault>>,
}

impl Progress {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// So many rows are there.
    pub(crate) fn reach(&self, rows: usize) {
        self.state().rows = rows;
        self.moved.notify_all();
    }

    /// No more will come. What was said first stands.
    pub(crate) fn end(&self, result: Result<(), Fault>) {
        self.state().ended.get_or_insert(result);
        self.moved.notify_all();
    }

    /// Waits so long for the end and then makes this one; whatever still comes is looked at by nobody.
    pub(crate) fn give_up_after(&self, time: Duration, fault: Fault) {
        let waited = self.moved.wait_timeout_while(self.state(), time, |state| state.ended.is_none());
        drop(waited);
        self.end(Err(fault));
    }

    /// Waits until so many rows are there.
    pub(crate) fn wait_for(&self, rows: usize) -> Result<(), Fault> {
        let mut state = self.state();
        while state.rows < rows && state.ended.is_none() {
            state = self.moved.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        match &state.ended {
            Some(Err(fault)) => Err(fault.clone()),
            Some(Ok(())) if state.rows < rows => Err(Fault::defect("a decoder stopped before the last row")),
            _ => Ok(()),
        }
    }

    /// Waits until no more will come.
    pub(crate) fn wait(&self) -> Result<(), Fault> {
        let mut state = self.state();
        loop {
            if let Some(ended) = &state.ended {
                return ended.clone();
            }
            state = self.moved.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }
}
