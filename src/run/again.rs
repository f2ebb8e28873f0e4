//! Sheets made again: all of a job, or single panels of it, by what is kept of it. They leave the studio only if they are
//! the same as the first time, to the byte of every picture; else it is said what differs, as after an upgrade.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use seamwright_contract::Fault;
use seamwright_contract::layout::{Layout, Panel};
use serde_json::Value;

use super::Heard;
use super::aside::{self, Aside};
use super::child::Worker;
use super::task::What;
use crate::config::Frozen;
use crate::history::{self, End, Line};
use crate::intake::is_bare_name;

/// What of a record says how the sheets are; the rest is about what is done with them.
const SHEETS: [&str; 14] = [
    "artwork",
    "design",
    "fit",
    "keep_clear",
    "mirrored",
    "paper",
    "orientation",
    "lap_um",
    "trim_order",
    "panels",
    "seams",
    "final_trim_um",
    "left_out",
    "colour",
];

/// What a new record may say otherwise without anything being another.
const SAID: [&str; 6] = ["job", "row", "print", "warnings", "remarks", "files"];

/// More differences than this tell no more.
const MOST: usize = 20;

/// Where the sheets are, how many, and what else has changed since.
#[derive(Debug)]
pub(crate) struct Again {
    pub(crate) at: PathBuf,
    pub(crate) job: String,
    pub(crate) sheets: usize,
    pub(crate) changed: Vec<String>,
}

/// Makes sheets of a finished job again, worked as a job is, by a worker; none of the panels named are all of them.
///
/// # Errors
/// Why they cannot be made, or what of them differs.
pub(crate) async fn again(
    settings: &Frozen,
    worker: &Worker,
    job: &str,
    panels: &[u32],
    heard: Option<Heard>,
) -> Result<Again, Vec<Fault>> {
    let unwell = |why: io::Error| {
        vec![Fault::machine(
            format!("It could not be made again: {why}."),
            "Look at the disk and its rights.",
        )]
    };
    let kept = &settings.config.studio.kept;
    let job = known(job, kept)?;
    make(settings, worker, &job, panels, heard).await.map_err(unwell)?
}

/// The job's whole name; it must be kept, for all of it comes from there.
fn known(job: &str, kept: &Path) -> Result<String, Vec<Fault>> {
    if is_bare_name(job) && kept.join(job).is_dir() {
        return Ok(job.to_owned());
    }
    let unclear =
        |why: String| vec![Fault::order(why, "Write a job's name as `seamwright history` lists it.")];
    let history = history::read(kept).map_err(unclear)?;
    let name = history::finished(&history, job).map_err(unclear)?.name.to_string();
    if is_bare_name(&name) && kept.join(&name).is_dir() {
        Ok(name)
    } else {
        let why = format!("The sources of {name} are not kept any more.");
        Err(vec![Fault::order(why, "Sources that are not in kept/ any more can only be ordered anew.")])
    }
}

async fn make(
    settings: &Frozen,
    worker: &Worker,
    job: &str,
    panels: &[u32],
    heard: Option<Heard>,
) -> io::Result<Result<Again, Vec<Fault>>> {
    let source = settings.config.studio.kept.join(job);
    let aside = Aside { name: job, source, what: What::Again, panels, heard };
    aside::work(&aside, settings, worker, |journal, staging, sheets, changed| {
        let at = journal.publish_folder(staging, &format!("{job}-again"))?;
        journal.tell(&Line { panels: panels.to_vec(), ..Line::now(job, End::Again) });
        Ok(Again { at, job: job.to_owned(), sheets, changed })
    })
    .await
}

/// Leaves only these panels in the layout, or all where none are named; gives all there were.
pub(super) fn only(layout: &mut Layout, panels: &[u32]) -> Result<Vec<Panel>, Fault> {
    let lay_up = layout.lay_up.as_mut().ok_or_else(|| Fault::defect("a job without panels was kept"))?;
    if let Some(unknown) =
        panels.iter().find(|panel| !lay_up.panels.iter().any(|known| known.number == **panel))
    {
        return Err(Fault::order(
            format!("There is no panel {unknown}; the job has {}.", lay_up.panels.len()),
            "Name panels by the numbers on their labels, such as --panels 3,5.",
        ));
    }
    let all = lay_up.panels.clone();
    lay_up.panels.retain(|panel| panels.is_empty() || panels.contains(&panel.number));
    Ok(all)
}

/// Puts all panels back; says how many there were without the others.
pub(super) fn restore(layout: &mut Layout, all: Vec<Panel>) -> usize {
    layout.lay_up.as_mut().map_or(0, |lay_up| std::mem::replace(&mut lay_up.panels, all).len())
}

/// Compares the record of then with the one just written, which is removed.
pub(super) fn compared(then: &Value, now: &Path) -> Result<Vec<String>, Fault> {
    let read = || -> io::Result<Value> {
        let record = serde_json::from_slice(&fs::read(now)?)?;
        fs::remove_file(now)?;
        Ok(record)
    };
    let now = read().map_err(|why| {
        Fault::machine(format!("The new record cannot be read: {why}."), "Look at the disk and its rights.")
    })?;
    let (sheets, others): (Vec<_>, Vec<_>) = differences(then, &now)
        .into_iter()
        .partition(|difference| SHEETS.iter().any(|key| difference.is_of(key)));
    if sheets.is_empty() {
        return Ok(others.iter().take(MOST).map(Difference::told).collect());
    }
    // Programs of the studio that are others by now are the likeliest reason.
    let programs = others.iter().filter(|difference| difference.is_of("programs"));
    let differ: Vec<&Difference> = programs.chain(&sheets).collect();
    let mut told: Vec<String> = differ.iter().take(MOST).map(|difference| difference.told()).collect();
    if differ.len() > MOST {
        told.push(format!("and {} more", differ.len() - MOST));
    }
    Err(Fault::order(
        format!("This program would make the sheets otherwise than they were: {}.", told.join("; ")),
        "They would not fit those that are printed. To print all of it anew, save its sources from kept/ into incoming/.",
    ))
}

/// One value that is not what it was.
#[derive(Debug)]
struct Difference {
    way: String,
    then: Value,
    now: Value,
}

impl Difference {
    fn is_of(&self, key: &str) -> bool {
        self.way.strip_prefix(key).is_some_and(|rest| rest.is_empty() || rest.starts_with([' ', '.']))
    }

    fn told(&self) -> String {
        let Self { way, then, now } = self;
        format!("{way} was {then} and is {now}")
    }
}

fn differences(then: &Value, now: &Value) -> Vec<Difference> {
    let mut found = Vec::new();
    for key in keys(then, now).filter(|key| !SAID.contains(&key.as_str())) {
        compare(key, at(then, key), at(now, key), &mut found);
    }
    found
}

/// The keys that either has.
fn keys<'v>(one: &'v Value, other: &'v Value) -> impl Iterator<Item = &'v String> {
    let of = |value: &'v Value| value.as_object().into_iter().flat_map(|map| map.keys());
    of(one).chain(of(other).filter(|key| one.get(key.as_str()).is_none()))
}

fn at<'v>(value: &'v Value, key: &str) -> &'v Value {
    value.get(key).unwrap_or(&Value::Null)
}

fn compare(way: &str, then: &Value, now: &Value, found: &mut Vec<Difference>) {
    match (then, now) {
        // Pictures that are not made now, or were not then, are not compared.
        (Value::Null, _) | (_, Value::Null) if way.ends_with("image_sha256") => {}
        (Value::Object(_), Value::Object(_)) => {
            for key in keys(then, now) {
                compare(&format!("{way}.{key}"), at(then, key), at(now, key), found);
            }
        }
        (Value::Array(one), Value::Array(other))
            if one.len() == other.len() && one.iter().any(Value::is_object) =>
        {
            for (number, (one, other)) in (1..).zip(one.iter().zip(other)) {
                compare(&format!("{way} {number}"), one, other, found);
            }
        }
        (then, now) if then != now => {
            found.push(Difference { way: way.to_owned(), then: then.clone(), now: now.clone() });
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_differs_is_told_by_its_way() {
        let then = json!({"job": "a", "panels": [{"panel": 1, "face_um": [0, 0, 5, 5], "image_sha256": "aa"},
            {"panel": 2, "image_sha256": "bb"}], "press": {"heat_c": 195.0}, "warnings": ["x"]});
        let mut now = then.clone();
        now["job"] = json!("b");
        now["warnings"] = json!([]);
        now["panels"][1]["image_sha256"] = Value::Null;
        assert!(differences(&then, &now).is_empty(), "words and pictures not made now");
        now["panels"][0]["face_um"] = json!([0, 0, 6, 5]);
        now["panels"][0]["image_sha256"] = json!("cc");
        now["press"]["heat_c"] = json!(198.5);
        let told: Vec<String> = differences(&then, &now).iter().map(Difference::told).collect();
        assert_eq!(
            told,
            [
                "panels 1.face_um was [0,0,5,5] and is [0,0,6,5]",
                "panels 1.image_sha256 was \"aa\" and is \"cc\"",
                "press.heat_c was 195.0 and is 198.5",
            ]
        );
        let sheets =
            differences(&then, &now).iter().filter(|one| SHEETS.iter().any(|key| one.is_of(key))).count();
        assert_eq!(sheets, 2, "the heat is not about the sheets");
    }
}
