//! What is missing in the log, made again from what lies in the studio: a finished job has its record in `kept/`, with
//! the maker's words on it, and a refused one its reasons in `refused/`.

use std::collections::HashSet;
use std::fs;
use std::io::{self, BufRead as _};
use std::path::Path;
use std::time::SystemTime;

use super::{End, History, Line, Made, RESULTS, add};
use crate::config::Folders;
use crate::journal::{FACTS, PLAN, Plan, RECORD, WHY, clock, reasons};

/// Reads the log and adds the lines that are missing, those of the earliest jobs first; returns how many.
///
/// # Errors
/// Why the log or a folder cannot be read. One job that cannot be read does not keep the others out.
pub(crate) fn mend(history: &mut History, folders: &Folders) -> io::Result<usize> {
    history.catch_up()?;
    let done = history.jobs().iter().filter(|job| matches!(job.end, End::Done | End::List));
    let done: HashSet<&str> = done.map(|job| &*job.name).collect();
    let mut missing = Vec::new();
    for name in jobs_in(&folders.kept)? {
        if !done.contains(name.as_str())
            && let Some(mut lines) = kept(&folders.kept.join(&name), &name)
        {
            missing.append(&mut lines);
        }
    }
    for name in jobs_in(&folders.refused)? {
        let known = history.latest(&name).is_some_and(|job| matches!(job.end, End::Refused | End::Cancelled));
        if !known && let Some(line) = refused(&folders.refused.join(&name), &name) {
            missing.push(line);
        }
    }
    missing.sort_by(|one, other| one.at.cmp(&other.at));
    missing.iter().for_each(|line| add(&folders.kept, line));
    Ok(missing.len())
}

/// The names of the jobs that lie in a folder of ours.
fn jobs_in(folder: &Path) -> io::Result<Vec<String>> {
    let entries = match fs::read_dir(folder) {
        Err(why) if why.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let mut names = Vec::new();
    for entry in entries {
        names.extend(entry?.file_name().into_string().ok().filter(|name| !name.starts_with('.')));
    }
    Ok(names)
}

/// The lines of a finished job; nothing for what is no job of ours.
fn kept(folder: &Path, name: &str) -> Option<Vec<Line>> {
    if let Ok(Some(plan)) = Plan::of(folder) {
        let at = stamp(&crate::journal::kept_file(folder, PLAN))?;
        return Some(vec![Line {
            at,
            rows: u32::try_from(plan.rows.len()).ok(),
            ..Line::now(name, End::List)
        }]);
    }
    let record = crate::journal::kept_file(folder, RECORD);
    let bytes = fs::read(&record).ok()?;
    let done = Line {
        at: stamp(&record)?,
        made: Some(Box::new(Made::of_record(&bytes)?)),
        ..Line::now(name, End::Done)
    };
    let mut lines = vec![done];
    if let Ok(results) = fs::File::open(folder.join(RESULTS)) {
        let results = io::BufReader::new(results).lines().map_while(Result::ok);
        lines.extend(results.filter_map(|line| serde_json::from_str(&line).ok()));
    }
    Some(lines)
}

/// The line of a refused job; nothing for what is no job of ours.
fn refused(folder: &Path, name: &str) -> Option<Line> {
    let why = folder.join(WHY);
    let text = fs::read_to_string(&why).ok().filter(|_| folder.join(FACTS).is_file())?;
    let line = Line::set_aside(name, End::Refused, reasons(&text), folder);
    Some(Line { at: stamp(&why)?, ..line })
}

/// When a file was written; it is written when the job ends.
fn stamp(file: &Path) -> Option<String> {
    let written: SystemTime = file.metadata().ok()?.modified().ok()?;
    Some(clock::stamp_of(written))
}
