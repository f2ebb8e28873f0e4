//! The history at the command line: which jobs are asked for, how they are told, and a result noted.

use std::io;
use std::path::Path;

use jiff::civil::Date;
use seamwright_contract::num;

use super::made::in_a_line;
use super::{End, FILE, History, Job, Line, Made, RESULTS, append};
use crate::config::{Config, Folders};
use crate::journal::{clock, visible};
use crate::report::{cost, words};

/// The longest result, in characters: it has a line in the notes of the next job.
const LONGEST_RESULT: usize = 300;

/// Which past jobs are asked for.
#[derive(Debug, Clone, Default, clap::Args)]
pub(crate) struct Asked {
    /// Words that must all stand in a job's name, note, artwork, blank, paper, warnings, reasons or results.
    words: Vec<String>,
    /// Only jobs on this blank.
    #[arg(long)]
    blank: Option<String>,
    /// Only jobs from this day on, such as 2026-11-27.
    #[arg(long, value_name = "DAY")]
    since: Option<Date>,
    /// Only jobs up to this day.
    #[arg(long, value_name = "DAY")]
    until: Option<Date>,
    /// The latest so many.
    #[arg(long, default_value = "30", value_name = "NUMBER")]
    last: usize,
}

impl Asked {
    fn fits(&self, job: &Job) -> bool {
        let made = job.made.as_deref();
        if self.blank.as_deref().is_some_and(|blank| made.is_none_or(|made| made.blank != blank)) {
            return false;
        }
        if self.since.is_some() || self.until.is_some() {
            let day = clock::here(job.at).date();
            if self.since.is_some_and(|since| day < since) || self.until.is_some_and(|until| day > until) {
                return false;
            }
        }
        self.words.is_empty() || {
            let text = all_words(job).to_lowercase();
            self.words.iter().all(|word| text.contains(&word.to_lowercase()))
        }
    }
}

/// Everything that may be looked for.
fn all_words(job: &Job) -> String {
    let mut all = vec![&*job.name, job.end.word()];
    if let Some(made) = job.made.as_deref() {
        all.extend([&*made.artwork, &*made.blank, &*made.substrate, &*made.paper, &*made.printer]);
        all.extend(made.note.as_deref());
        all.extend(made.warnings.iter().map(String::as_str));
        all.extend(made.pressing.as_ref().map(|pressing| pressing.press.as_str()));
    }
    all.extend(job.row.iter().flat_map(|row| [&*row.group, &*row.list]));
    all.extend(job.why.iter().flat_map(|reason| [&*reason.what, &*reason.place, &*reason.cure]));
    all.extend(job.verdicts().iter().map(|verdict| verdict.words.as_str()));
    all.join("\n")
}

/// The jobs asked for, the latest last; one alone with all that is known of it.
///
/// # Errors
/// In words, why the history cannot be read.
pub(crate) fn told(asked: &Asked, config: &Config) -> Result<Vec<String>, String> {
    let history = read(&config.studio.kept)?;
    let found: Vec<&Job> = history.jobs().iter().filter(|job| asked.fits(job)).collect();
    let mut lines = Vec::new();
    if let [job] = found[..] {
        lines.push(brief(job, config));
        lines.extend(whole(job, &history, config));
    } else {
        let shown = found.get(found.len().saturating_sub(asked.last)..).unwrap_or_default();
        if shown.len() < found.len() {
            let earlier = found.len() - shown.len();
            lines.push(format!("{earlier} earlier ones are not shown; --last {} shows all.", found.len()));
        }
        for job in shown {
            lines.push(brief(job, config));
            lines
                .extend(job.verdicts().iter().map(|verdict| format!("{:27}{}", "", words::verdict(verdict))));
        }
    }
    if found.is_empty() {
        lines.push("No job of the past fits that.".to_owned());
    }
    if history.unread() > 0 {
        lines.push(format!("{} lines of the history could not be read.", history.unread()));
    }
    Ok(lines.iter().map(|line| visible(line)).collect())
}

/// All of the log in `kept`.
///
/// # Errors
/// In words, why it cannot be read.
pub(crate) fn read(kept: &Path) -> Result<History, String> {
    History::read(kept).map_err(|why| format!("The history cannot be read: {why}."))
}

/// A job in a line.
fn brief(job: &Job, config: &Config) -> String {
    let at = words::minute(&clock::here(job.at));
    let rows = job.rows.map(|rows| words::counted(num::index(rows), "row")).unwrap_or_default();
    let what = match (job.made.as_deref(), job.why.first()) {
        (Some(made), _) => words::in_short(made, config.units),
        (None, Some(reason)) => reason.what.to_string(),
        (None, None) => rows,
    };
    format!("{at}  {:<9}  {}  {what}", job.end.word(), job.name).trim_end().to_owned()
}

/// The rest that is known of a job, line by line.
fn whole(job: &Job, history: &History, config: &Config) -> Vec<String> {
    let mut lines = Vec::new();
    let mut add = |word: &str, text: String| lines.push(format!("  {word:<10}{text}"));
    if let Some(row) = &job.row {
        add("list", format!("{}, {row}", row.group));
    }
    let carries = job.made.as_deref().map_or(&[][..], |made| &made.carries);
    if !carries.is_empty() {
        add("carries", carries.join(", "));
    }
    if let Some(shared) = history.carrying(&job.name) {
        add("sheets", format!("shared: {}", shared.name));
    }
    if let Some(made) = job.made.as_deref() {
        settings(made, config, &mut add);
        made.warnings.iter().for_each(|warning| add("warning", warning.clone()));
        if let Some(cost) = config.rates.as_ref().and_then(|rates| cost::of_job(made, rates)) {
            add("estimate", cost.to_string());
        }
    }
    for reason in &*job.why {
        add("what", reason.what.to_string());
        add("where", reason.place.to_string());
        reason.shown.lines().for_each(|line| add("", line.to_owned()));
        add("cure", reason.cure.to_string());
    }
    for (at, end, how) in job.printing() {
        let at = clock::local(at).map_or_else(|| at.clone(), |at| words::minute(&at));
        add(end.word(), format!("{at}, {how}"));
    }
    if job.again() > 0 {
        add("again", words::times(job.again()));
    }
    job.verdicts().iter().for_each(|verdict| add("result", words::verdict(verdict)));
    let last = job.made.as_ref().filter(|made| made.carries.is_empty());
    let last = last.and_then(|made| history.last_on(&made.blank));
    if let Some((other, verdict)) = last.filter(|(other, _)| other.name != job.name) {
        add("blank", format!("last result on it, {}: {}", other.name, words::verdict(verdict)));
    }
    lines.retain(|line| line.trim_end().len() > 12);
    lines
}

/// What a job was made with.
fn settings(made: &Made, config: &Config, add: &mut impl FnMut(&str, String)) {
    add("artwork", made.artwork.clone());
    add("note", made.note.clone().unwrap_or_default());
    let on = format!("{}, {} {}", made.printer, made.paper, made.orientation);
    if !made.carries.is_empty() {
        return add("printer", on);
    }
    add("blank", format!("{}, {}", made.blank, made.substrate));
    add("design", words::size(made, config.units));
    add("printer", format!("{on}, {} ppi", made.ppi));
    add("lap", made.lap_um.map_or_else(String::new, |lap| words::length(lap, config.units)));
    add("colours", made.converted.as_ref().map_or_else(String::new, |to| format!("converted to {to}")));
    if let Some(pressing) = &made.pressing {
        add("press", words::pressing(pressing, config.units));
    }
}

/// Notes how a job turned out. Says what was noted.
///
/// # Errors
/// In words, why it cannot be noted.
pub(crate) fn note_result(
    name: &str,
    good: bool,
    said: &[String],
    folders: &Folders,
) -> Result<Vec<String>, String> {
    let said = visible(&in_a_line(&said.join(" ")));
    if !good && said.is_empty() {
        return Err("Say what was wrong: seamwright result JOB --bad edges pale on the right".to_owned());
    }
    if said.chars().count() > LONGEST_RESULT {
        return Err(format!(
            "Keep it to {LONGEST_RESULT} characters: it is printed in the notes of the next job."
        ));
    }
    let history = read(&folders.kept)?;
    let job = finished(&history, name)?;
    let line = Line {
        blank: job.made.as_ref().map(|made| made.blank.clone()).filter(|blank| !blank.is_empty()),
        words: Some(said).filter(|said| !said.is_empty()),
        ..Line::now(&job.name, if good { End::Good } else { End::Bad })
    };
    add_both(&folders.kept, &line).map_err(|why| format!("It cannot be noted: {why}."))?;
    Ok(vec![format!("noted      {}  {}", job.name, line.end.word())])
}

/// Notes what came of handing a job to its printer.
pub(crate) fn note_printing(kept: &Path, job: &str, end: End, how: &str) {
    let line = Line { words: Some(visible(how)), ..Line::now(job, end) };
    add_both(kept, &line).unwrap_or_else(|why| {
        tracing::warn!(%job, %why, "how it was printed could not be noted");
    });
}

/// Adds a line on a finished job to what is kept of it and to the log.
fn add_both(kept: &Path, line: &Line) -> io::Result<()> {
    let own = kept.join(&line.job);
    // Sources that are kept no longer take no results either.
    if own.is_dir() {
        append(&own.join(RESULTS), line)?;
    }
    append(&kept.join(FILE), line)
}

/// The finished job so called, by its name or as much of its beginning as tells it from others.
pub(crate) fn finished<'h>(history: &'h History, name: &str) -> Result<&'h Job, String> {
    let done = |job: &&Job| job.end == End::Done;
    if let Some(job) = history.latest(name).filter(done) {
        return Ok(job);
    }
    let mut fits: Vec<&Job> =
        history.jobs().iter().filter(done).filter(|job| job.name.starts_with(name)).collect();
    fits.dedup_by(|one, other| one.name == other.name);
    match fits[..] {
        [job] => Ok(job),
        [] => Err(format!(
            "There is no finished job '{}'; `seamwright history` lists those there are.",
            visible(name)
        )),
        _ => {
            let names: Vec<&str> = fits.iter().rev().take(5).map(|job| &*job.name).collect();
            Err(format!("'{}' may be {}: give its whole name.", visible(name), names.join(" or ")))
        }
    }
}
