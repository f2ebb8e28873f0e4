//! Stages and writers, and how a list of them is checked before anything runs.

use std::collections::BTreeMap;
use std::fmt;
use std::io::Write;

use crate::colour::Colour;
use crate::fault::Fault;
use crate::layout::{Design, LapPolicy, LayUp, Layout, PressPlan};
use crate::settings::Node;

/// What stages give and others need. A closed list: a new fact is a change of the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fact {
    /// [`Layout::design`].
    Design,
    /// [`Layout::colour`].
    Colour,
    /// [`Layout::mirrored`] is settled.
    Way,
    /// [`Layout::lap`].
    Lap,
    /// [`Layout::lay_up`].
    Panels,
    /// The marks on the panels.
    Marks,
    /// [`Layout::press`].
    Press,
}

impl Fact {
    /// In words, for messages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Design => "the design's size",
            Self::Colour => "the colour decision",
            Self::Way => "the mirroring",
            Self::Lap => "the lap",
            Self::Panels => "the panels",
            Self::Marks => "the marks",
            Self::Press => "the press plan",
        }
    }
}

/// A step that decides something and writes it into the layout. No full-size pixels are computed.
pub trait Stage: fmt::Debug + Send + Sync {
    /// Takes the layout and gives it back with more decided.
    ///
    /// # Errors
    /// [`Fault`] where the order cannot be done; the job is then set aside with that reason.
    fn apply(&self, layout: Layout) -> Result<Layout, Fault>;

    /// Facts that it needs by its settings, beside those of its entry.
    fn needs(&self) -> &[Fact] {
        &[]
    }

    /// Facts that by its settings must not have been given before it, beside those of its entry.
    fn before(&self) -> &[Fact] {
        &[]
    }
}

/// A stage as the registry lists it.
#[derive(Debug, Clone, Copy)]
pub struct StageEntry {
    /// The word in `stages:`.
    pub name: &'static str,
    /// What it does, in one line.
    pub about: &'static str,
    /// Facts that must have been given before.
    pub needs: &'static [Fact],
    /// Facts it gives.
    pub gives: &'static [Fact],
    /// Facts that must not have been given before it, since they depend on what it settles.
    pub before: &'static [Fact],
    /// Its settings as they could stand in the config; parsed by a test.
    pub example: &'static str,
    /// Reads its settings (nothing where only the name is written); complains through the node.
    pub parse: fn(&Node<'_>) -> Option<Box<dyn Stage>>,
    /// Looks over what an order says to it under its name ([`Order::said`](crate::order::Order::said)); complains through
    /// the node. None where orders say nothing to it.
    pub order: Option<fn(&Node<'_>) -> Option<()>>,
}

/// Where a writer puts its files. Files appear to the world together, when the job is delivered.
pub trait Outbox {
    /// Starts a file of the finished job. The writer flushes its buffers; that the bytes are on the disk
    /// before anyone sees them is the daemon's part.
    ///
    /// # Errors
    /// [`Fault`] of the machine where the file cannot be made.
    fn create(&mut self, name: &str) -> Result<Box<dyn Write + Send>, Fault>;

    /// The files written so far, in order.
    fn files(&self) -> Vec<String>;

    /// Hears that the picture of a panel is written, with what tells it from any other: the SHA-256 of its stream, in hex.
    fn note_panel(&mut self, panel: u32, sha256: String);

    /// What it heard, by panel.
    fn panels(&self) -> &BTreeMap<u32, String>;
}

/// What a job may use while it is worked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Means {
    /// Memory for pixels, in bytes.
    pub memory: u64,
    /// Threads.
    pub threads: usize,
    /// As much of the memory may hold what a further job of the same artwork could use again
    /// ([`Picture::recipe`](crate::picture::Picture::recipe)); none where no such job follows.
    pub keep: u64,
}

/// A step that reads the finished layout and writes files.
pub trait Writer: fmt::Debug + Send + Sync {
    /// Writes its files.
    ///
    /// # Errors
    /// [`Fault`] where pixels cannot be had or the outbox fails.
    fn write(&self, layout: &Layout, means: &Means, to: &mut dyn Outbox) -> Result<(), Fault>;

    /// Facts that it needs by its settings, beside those of its entry.
    fn needs(&self) -> &[Fact] {
        &[]
    }
}

/// A writer as the registry lists it.
#[derive(Debug, Clone, Copy)]
pub struct WriterEntry {
    /// The word in `writers:`.
    pub name: &'static str,
    /// What it writes, in one line.
    pub about: &'static str,
    /// Facts that the stages must have given.
    pub needs: &'static [Fact],
    /// Its settings as they could stand in the config; parsed by a test.
    pub example: &'static str,
    /// Reads its settings; complains through the node.
    pub parse: fn(&Node<'_>) -> Option<Box<dyn Writer>>,
}

/// Complains at `node` for a step that takes no settings but was given some.
#[must_use]
pub fn no_settings(node: &Node<'_>) -> Option<()> {
    node.fields()?.finish();
    Some(())
}

impl Layout {
    /// The design; a defect if `resize` has not run, which the check of the stage list rules out.
    ///
    /// # Errors
    /// [`Fault::defect`].
    pub fn design(&self) -> Result<&Design, Fault> {
        given(self.design.as_ref(), Fact::Design)
    }

    /// The colour decision.
    ///
    /// # Errors
    /// [`Fault::defect`] where no stage gave it.
    pub fn colour(&self) -> Result<&Colour, Fault> {
        given(self.colour.as_ref(), Fact::Colour)
    }

    /// The lap policy.
    ///
    /// # Errors
    /// [`Fault::defect`] where no stage gave it.
    pub fn lap(&self) -> Result<&LapPolicy, Fault> {
        given(self.lap.as_ref(), Fact::Lap)
    }

    /// Panels and seams.
    ///
    /// # Errors
    /// [`Fault::defect`] where no stage gave them.
    pub fn lay_up(&self) -> Result<&LayUp, Fault> {
        given(self.lay_up.as_ref(), Fact::Panels)
    }

    /// The press plan.
    ///
    /// # Errors
    /// [`Fault::defect`] where no stage gave it.
    pub fn press(&self) -> Result<&PressPlan, Fault> {
        given(self.press.as_ref(), Fact::Press)
    }
}

fn given<T>(value: Option<&T>, fact: Fact) -> Result<&T, Fault> {
    value.ok_or_else(|| Fault::defect(format!("a step asked for {} before any stage gave it", fact.word())))
}
