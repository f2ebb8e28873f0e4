//! Sheets that panels of several jobs share: small designs, leftover panels, many copies, a list of names.
//!
//! The jobs are finished, each with sheets of its own, which are not printed. What of a page belongs to a panel, its printed face
//! with the marks beside it, is a piece; all pieces of all copies are laid on as few sheets as can be found (`pack`, `plan`), and
//! come out as `sheets.pdf`, in which the jobs' pages are taken over and no pixel is computed again; as `notes.pdf` and
//! `notes.txt`, which say what lies where and how to part it (`notes`); and as `record.json`, which says the same to programs
//! (`record`). Which jobs go together is said by [`sharing`]; when, is the daemon's part.

mod jobs;
mod notes;
mod pack;
mod plan;
mod record;
#[cfg(test)]
mod tests;

use std::fs::File;
use std::io::Write as _;

use seamwright_contract::Fault;
use seamwright_contract::plugin::Outbox;
use seamwright_contract::units::Units;
use seamwright_drawing::pdf::{self, Info};
use seamwright_drawing::sheet::{Readable, shared};

pub use jobs::{Job, RECORD, SHEETS, Sharing, sharing};

use plan::Plan;

/// Writes the sheets that these jobs share, and all that belongs to them; gives how many there are.
///
/// # Errors
/// [`Fault`] of the machine, or where what the jobs left is not as it was.
pub fn write(name: &str, jobs: &[Job], units: Units, to: &mut dyn Outbox) -> Result<usize, Fault> {
    let plan = Plan::of(name, jobs)?;
    let sheets = plan.sheets(units);
    let count = sheets.len();
    let said = |what: &str| Info {
        title: format!("{what}{name}"),
        subject: format!("Panels of {} jobs on {count} sheets", jobs.len()),
        identity: plan.identity(),
    };
    let mut open = |number: usize| -> Result<Box<dyn Readable>, Fault> {
        let job =
            jobs.get(number).ok_or_else(|| Fault::defect("there is no such job among those that share."))?;
        let file = File::open(job.folder.join(SHEETS)).map_err(|why| {
            Fault::machine(
                format!("The sheets of {} could not be read: {why}.", job.name),
                "See that the disk is well.",
            )
        })?;
        Ok(Box::new(file))
    };
    shared::write(&sheets, &mut open, &said(""), &mut to.create(SHEETS)?)?;
    let notes = notes::of(&plan, units);
    pdf::save(&mut pdf::document(&notes.pages, &said("Notes for "))?, &mut to.create(notes::PDF)?)?;
    put(to, notes::TEXT, notes.text.as_bytes())?;
    let written = to.files();
    let files: Vec<&str> = written.iter().map(String::as_str).chain([RECORD]).collect();
    let record = record::of(&plan, &files)?;
    put(to, RECORD, &record)?;
    Ok(count)
}

fn put(to: &mut dyn Outbox, name: &'static str, bytes: &[u8]) -> Result<(), Fault> {
    let mut out = to.create(name)?;
    out.write_all(bytes).and_then(|()| out.flush()).map_err(|why| Fault::unwritten(name, why))
}
