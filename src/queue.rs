//! The maker's hand on the queue: what waits is put first, held, released or cancelled, and what was refused is tried
//! again.
//!
//! Each of it is a move of files that the maker could make as well: into a folder `first` or `hold` beside them, and out
//! of it again. It is safe while the daemon runs: files are moved by renames that never replace, sidecars first as the
//! daemon takes them, so whoever comes second finds the first file gone and leaves the rest alone.

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::time::Instant;

use seamwright_contract::Fault;

use crate::config::Folders;
use crate::history::{End, Line, Reason};
use crate::journal::files::move_no_replace;
use crate::journal::{Journal, Standing, Waiting, visible};
use crate::watch::{Group, Place, lying_in};

/// What is to be done with a job that waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// Work it before all others.
    First,
    /// Leave it until it is released.
    Hold,
    /// Back into the order of arrival.
    Release,
    /// Do not work it: it goes to `refused/` with that reason.
    Cancel,
}

/// What waits, one line each: where in the queue, and its files.
///
/// # Errors
/// Why the inbox cannot be looked into.
pub fn waiting(folders: &Folders) -> io::Result<Vec<String>> {
    let mut groups = lying_in(&folders.incoming)?;
    groups.sort_by_key(Group::turn);
    let sets = groups.iter().map(|group| (group.place(), named(group, &folders.incoming)));
    let rows = rows(folders)?.into_iter().map(|row| (row.place, format!("{} of {}", row.job, row.group)));
    let mut all: Vec<(Place, String)> = rows.chain(sets).collect();
    all.sort_by_key(|(place, _)| *place);
    let line = |(place, name): (Place, String)| {
        let place = match place {
            Place::First => "first  ",
            Place::Usual => "waits  ",
            Place::Held => "held   ",
        };
        format!("{place}  {}", visible(&name))
    };
    Ok(all.into_iter().map(line).collect())
}

/// The rows of lists that wait; where nobody ever worked there are none.
fn rows(folders: &Folders) -> io::Result<Vec<Waiting>> {
    Journal::of(folders).waiting_rows()
}

/// Does it with every job so named: its stem, its artwork's file name, or its path in the inbox; the name of a row that
/// waits, or that of a list for all of its rows. Says what was done.
///
/// # Errors
/// In words, why it cannot be done.
pub fn lay(hand: Hand, names: &[String], folders: &Folders) -> Result<Vec<String>, String> {
    let groups =
        lying_in(&folders.incoming).map_err(|why| format!("The inbox cannot be looked into: {why}."))?;
    let rows = rows(folders).map_err(|why| format!("The rows of lists cannot be looked at: {why}."))?;
    let mut chosen = Vec::new();
    for name in names {
        let of_rows = rows.iter().filter(|row| row.job == *name || row.group == *name).map(Chosen::Row);
        let of_rows: Vec<Chosen<'_>> = of_rows.collect();
        if of_rows.is_empty() {
            chosen.push(Chosen::Set(only(&groups, name, folders)?));
        }
        chosen.extend(of_rows);
    }
    chosen.into_iter().map(|chosen| one(hand, chosen, folders)).collect()
}

/// What waits and was named.
#[derive(Clone, Copy)]
enum Chosen<'c> {
    Set(&'c Group),
    Row(&'c Waiting),
}

/// The one set of files that is so named.
fn only<'g>(groups: &'g [Group], name: &str, folders: &Folders) -> Result<&'g Group, String> {
    let mut found = groups.iter().filter(|group| answers(group, name, &folders.incoming));
    match (found.next(), found.next()) {
        (Some(group), None) => Ok(group),
        (None, _) => Err(format!("Nothing called '{}' waits in incoming/.", visible(name))),
        (Some(one), Some(other)) => {
            let both = [one, other].map(|group| named(group, &folders.incoming));
            Err(format!("'{}' may be {} or {}: name it with its folder.", visible(name), both[0], both[1]))
        }
    }
}

fn one(hand: Hand, chosen: Chosen<'_>, folders: &Folders) -> Result<String, String> {
    let (name, place_now) = match chosen {
        Chosen::Set(group) => (named(group, &folders.incoming), group.place()),
        Chosen::Row(row) => (row.job.clone(), row.place),
    };
    let (done, place) = match hand {
        Hand::First => ("put first", Place::First),
        Hand::Hold => ("held", Place::Held),
        Hand::Release => ("released", Place::Usual),
        Hand::Cancel => {
            let at = cancel(chosen, folders).map_err(|why| trouble(&name, &why))?;
            return Ok(format!("cancelled  {name} -> {}", shown(&at, folders)));
        }
    };
    if place_now != place {
        let moved = match chosen {
            Chosen::Set(group) => move_to(group, place),
            Chosen::Row(row) => row.move_to(place),
        };
        moved.map_err(|why| trouble(&name, &why))?;
    }
    Ok(format!("{done:<9}  {name}"))
}

fn trouble(name: &str, why: &io::Error) -> String {
    match why.kind() {
        ErrorKind::NotFound => format!("{name} is not there any more; the daemon may just have taken it."),
        ErrorKind::AlreadyExists => format!("{name} cannot be moved: a file of that name is there already."),
        _ => format!("{name} cannot be moved: {why}."),
    }
}

/// All files of a set, or none.
fn move_to(group: &Group, place: Place) -> io::Result<()> {
    let folder = place.folder().map_or_else(|| group.home().to_owned(), |name| group.home().join(name));
    fs::create_dir_all(&folder)?;
    let mut moved: Vec<(PathBuf, PathBuf)> = Vec::new();
    for from in group.in_order() {
        let to = folder.join(from.file_name().unwrap_or_default());
        if let Err(why) = move_no_replace(from, &to) {
            for (from, to) in moved.iter().rev() {
                move_no_replace(to, from)?;
            }
            return Err(why);
        }
        moved.push((from.to_owned(), to));
    }
    Ok(())
}

fn cancel(chosen: Chosen<'_>, folders: &Folders) -> io::Result<PathBuf> {
    let journal = Journal::open(folders)?;
    let claim = match chosen {
        Chosen::Set(group) => journal.claim(&group.clone().into_set(Instant::now()))?,
        Chosen::Row(row) => journal.claim_row(row)?,
    };
    if journal.standing(&claim)? == Standing::Refused {
        let why = journal.reasons(&claim);
        let at = journal.set_aside(&claim.id)?;
        journal.tell(&Line::set_aside(&claim.id, End::Refused, why, &at));
        return Ok(at);
    }
    let fault = Fault::order(
        "The job was cancelled by hand while it waited.",
        format!("To have it made after all: seamwright retry {}", claim.id),
    );
    let at = journal.refuse(&claim, std::slice::from_ref(&fault))?;
    journal.tell(&Line::set_aside(&claim.id, End::Cancelled, vec![Reason::from(&fault)], &at));
    Ok(at)
}

/// Puts the sources of refused jobs back into the inbox. Says what was done.
///
/// # Errors
/// In words, why they cannot be put back.
pub fn retry(jobs: &[String], folders: &Folders) -> Result<Vec<String>, String> {
    let journal = Journal::open(folders).map_err(|why| format!("The studio cannot be worked in: {why}."))?;
    let again = |job: &String| match journal.retry(job) {
        Ok(defaults) => {
            journal.tell(&Line::now(job, End::Retried));
            let too =
                defaults.map(|at| format!(", and for its whole folder {} as mended", shown(&at, folders)));
            Ok(format!("again      {}{}", visible(job), too.unwrap_or_default()))
        }
        Err(why) if why.kind() == ErrorKind::NotFound => {
            Err(format!("There is no job '{}' in refused/.", visible(job)))
        }
        Err(why) => Err(format!("'{}' cannot be put back: {why}.", visible(job))),
    };
    jobs.iter().map(again).collect()
}

fn answers(group: &Group, name: &str, incoming: &Path) -> bool {
    let mut paths = group.files.iter().map(|(path, _, _)| path);
    let folder = group.home().strip_prefix(incoming).unwrap_or(group.home());
    group.stem == name
        || folder.join(&group.stem).as_os_str() == name
        || paths.any(|path| {
            let file = path.file_name().unwrap_or_default();
            file == name
                || folder.join(file).as_os_str() == name
                || path.strip_prefix(incoming).is_ok_and(|path| path.as_os_str() == name)
        })
}

/// A set by its folder in the inbox and its stem.
fn named(group: &Group, incoming: &Path) -> String {
    let folder = group.home().strip_prefix(incoming).unwrap_or(group.home());
    visible(&folder.join(&group.stem).to_string_lossy())
}

fn shown(at: &Path, folders: &Folders) -> String {
    visible(&at.strip_prefix(&folders.root).unwrap_or(at).to_string_lossy())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::{self, FILE};
    use crate::journal::files::write_whole;

    fn studio() -> (tempfile::TempDir, Folders) {
        let folder = tempfile::tempdir().unwrap();
        write_whole(&folder.path().join(FILE), b"").unwrap();
        let folders = config::load(Some(&folder.path().join(FILE))).unwrap().studio;
        fs::create_dir_all(folders.incoming.join("mats")).unwrap();
        for name in ["chart.png", "chart.yaml", "mats/moon.jpg", "mats/folder.yaml", "mats/chart.png"] {
            write_whole(&folders.incoming.join(name), name.as_bytes()).unwrap();
        }
        (folder, folders)
    }

    fn names(words: &[&str]) -> Vec<String> {
        words.iter().map(|word| (*word).to_owned()).collect()
    }

    #[test]
    fn jobs_are_moved_whole_and_back() {
        let (_folder, folders) = studio();
        let there = |name: &str| folders.incoming.join(name).exists();
        lay(Hand::First, &names(&["mats/moon"]), &folders).unwrap();
        assert!(there("mats/first/moon.jpg") && there("mats/folder.yaml"), "defaults stay");
        let lines = waiting(&folders).unwrap();
        assert_eq!(lines[0], "first    mats/moon", "{lines:?}");
        lay(Hand::Hold, &names(&["moon"]), &folders).unwrap();
        assert!(there("mats/hold/moon.jpg"));
        assert_eq!(waiting(&folders).unwrap()[2], "held     mats/moon");
        lay(Hand::Release, &names(&["moon.jpg"]), &folders).unwrap();
        assert!(there("mats/moon.jpg"));
        lay(Hand::Release, &names(&["moon.jpg"]), &folders).unwrap();
        assert!(there("mats/moon.jpg"), "twice is the same");
    }

    #[test]
    fn what_is_meant_must_be_clear() {
        let (_folder, folders) = studio();
        let why = lay(Hand::Hold, &names(&["chart"]), &folders).unwrap_err();
        assert!(why.contains("mats/chart") && why.contains("with its folder"), "{why}");
        let why = lay(Hand::Hold, &names(&["gulls"]), &folders).unwrap_err();
        assert!(why.contains("Nothing called 'gulls'"), "{why}");
        lay(Hand::Hold, &names(&["mats/chart"]), &folders).unwrap();
    }

    #[test]
    fn a_name_that_is_taken_there_moves_nothing() {
        let (_folder, folders) = studio();
        fs::create_dir(folders.incoming.join("hold")).unwrap();
        write_whole(&folders.incoming.join("hold/chart.png"), b"another").unwrap();
        fs::remove_file(folders.incoming.join("mats/chart.png")).unwrap();
        let group = lying_in(&folders.incoming).unwrap();
        let group = group.iter().find(|g| g.stem == "chart" && g.place() == Place::Usual).unwrap();
        assert!(one(Hand::Hold, Chosen::Set(group), &folders).is_err());
        for name in ["chart.png", "chart.yaml"] {
            assert_eq!(fs::read(folders.incoming.join(name)).unwrap(), name.as_bytes(), "still there");
        }
        assert_eq!(
            fs::read(folders.incoming.join("hold/chart.png")).unwrap(),
            b"another",
            "nothing is replaced"
        );
    }

    #[test]
    fn what_was_cancelled_or_refused_comes_back_with_what_was_mended() {
        let (_folder, folders) = studio();
        let lines = lay(Hand::Cancel, &names(&["mats/moon"]), &folders).unwrap();
        assert!(lines[0].starts_with("cancelled  mats/moon -> refused/moon-"), "{lines:?}");
        let job = fs::read_dir(&folders.refused).unwrap().next().unwrap().unwrap();
        let why = fs::read_to_string(job.path().join("why.txt")).unwrap();
        assert!(why.contains("cancelled by hand") && why.contains("seamwright retry moon-"), "{why}");
        // The maker lays a sidecar beside it.
        write_whole(&job.path().join("moon.yaml"), b"blank: x").unwrap();
        let id = job.file_name().into_string().unwrap();
        retry(std::slice::from_ref(&id), &folders).unwrap();
        assert!(!job.path().exists(), "it is not refused any more");
        assert_eq!(fs::read(folders.incoming.join("mats/moon.jpg")).unwrap(), b"mats/moon.jpg");
        assert_eq!(fs::read(folders.incoming.join("mats/moon.yaml")).unwrap(), b"blank: x");
        assert!(retry(&[id], &folders).unwrap_err().contains("no job"), "once");
        assert!(retry(&names(&["../incoming"]), &folders).is_err(), "names lead nowhere");
        let log = fs::read_to_string(folders.kept.join(".history.jsonl")).unwrap();
        assert!(log.contains("cancelled") && log.contains("retried"), "{log}");
    }

    /// Cancels a job of the folder `mats`; returns its name and where it lies.
    fn cancelled(folders: &Folders, name: &str) -> (String, PathBuf) {
        let line = lay(Hand::Cancel, &names(&[name]), folders).unwrap().remove(0);
        let job = folders.root.join(line.rsplit(' ').next().unwrap());
        (job.file_name().unwrap().to_str().unwrap().to_owned(), job)
    }

    #[test]
    fn mended_defaults_become_those_of_the_folder() {
        let (_folder, folders) = studio();
        let own = folders.incoming.join("mats/folder.yaml");
        let text = |path: &Path| fs::read_to_string(path).unwrap();
        let again = |job: &str| retry(&names(&[job]), &folders);

        let (moon, lies) = cancelled(&folders, "mats/moon");
        assert_eq!(text(&lies.join("folder.yaml")), "mats/folder.yaml", "a copy");
        write_whole(&lies.join("folder.yaml"), b"blank: mended").unwrap();
        let said = again(&moon).unwrap().remove(0);
        assert!(said.contains("incoming/mats/folder.yaml"), "{said}");
        assert_eq!(text(&own), "blank: mended");
        assert!(folders.incoming.join("mats/moon.jpg").exists(), "the picture is back too");

        let (moon, lies) = cancelled(&folders, "mats/moon");
        write_whole(&own, b"blank: another").unwrap();
        assert_eq!(again(&moon).unwrap(), [format!("again      {moon}")]);
        assert_eq!(text(&own), "blank: another", "a copy that nobody touched says nothing");
        assert!(!lies.exists(), "it is not refused any more");

        let (moon, lies) = cancelled(&folders, "mats/moon");
        for (path, bytes) in [(&own, "blank: newer"), (&lies.join("folder.yaml"), "blank: mended")] {
            write_whole(path, bytes.as_bytes()).unwrap();
        }
        let why = again(&moon).unwrap_err();
        assert!(why.contains("mats/") && why.contains("make the two alike"), "{why}");
        assert!(lies.join("moon.jpg").exists() && text(&own) == "blank: newer", "nothing is moved");
        fs::remove_file(lies.join("folder.yaml")).unwrap();
        again(&moon).unwrap();
        assert_eq!(text(&own), "blank: newer");

        let (moon, lies) = cancelled(&folders, "mats/moon");
        write_whole(&lies.join("folder.yaml"), b"blank: mended").unwrap();
        fs::remove_dir_all(folders.incoming.join("mats")).unwrap();
        again(&moon).unwrap();
        assert_eq!(text(&own), "blank: mended", "also where the folder was tidied away");
    }

    #[test]
    fn defaults_laid_beside_a_job_that_had_none_go_back_with_it() {
        let (_folder, folders) = studio();
        write_whole(&folders.incoming.join("gulls.png"), b"pixels").unwrap();
        let (gulls, lies) = cancelled(&folders, "gulls");
        write_whole(&lies.join("folder.yaml"), b"blank: x").unwrap();
        retry(&[gulls], &folders).unwrap();
        assert_eq!(fs::read(folders.incoming.join("folder.yaml")).unwrap(), b"blank: x");
    }
}
