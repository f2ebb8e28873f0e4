//! All processes that come from this one, as the system tells of them (Linux, proc(5)); others tell of none.

use std::collections::BTreeSet;
use std::fs;
use std::io;

use rustix::process::{Pid, Signal, getpid, kill_process, kill_process_group};

/// How many there are, and how much memory they hold.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) count: usize,
    pub(crate) bytes: u64,
}

/// Counts them; those that end meanwhile count as nothing. Files that are mapped are no memory of theirs.
pub(crate) fn tally() -> Tally {
    let family = all();
    let held = |pid: &Pid| -> Option<u64> {
        let text = fs::read_to_string(format!("/proc/{}/status", pid.as_raw_nonzero())).ok()?;
        let own = |line: &&str| OWN.iter().any(|key| line.starts_with(key));
        let kilobytes = |line: &str| line.split_whitespace().nth(1)?.parse::<u64>().ok();
        Some(text.lines().filter(own).filter_map(kilobytes).sum())
    };
    let kilobytes: u64 = family.iter().filter_map(held).sum();
    Tally { count: family.len(), bytes: kilobytes.saturating_mul(1024) }
}

/// The memory of a process that is in no file, in kB.
const OWN: [&str; 3] = ["RssAnon:", "RssShmem:", "VmSwap:"];

/// Adopts what loses its parent among them, where the system lets it.
pub(crate) fn adopt() -> io::Result<()> {
    #[cfg(target_os = "linux")]
    rustix::process::set_child_subreaper(Some(getpid()))?;
    Ok(())
}

/// Ends them all, as far as they are there at this moment; where they are not told of, those in the group of `first`.
pub(crate) fn end(first: Pid) {
    if cfg!(not(target_os = "linux")) {
        kill_process_group(first, Signal::KILL).unwrap_or_default();
    }
    for pid in all() {
        // What has ended already needs no ending.
        kill_process(pid, Signal::KILL).unwrap_or_default();
    }
}

/// Children, their children, and so on.
fn all() -> Vec<Pid> {
    let (mut known, mut found) = (BTreeSet::new(), Vec::new());
    let mut next = vec![getpid()];
    while let Some(pid) = next.pop() {
        for child in children(pid) {
            if known.insert(child.as_raw_nonzero()) {
                found.push(child);
                next.push(child);
            }
        }
    }
    found
}

/// The children of a process: told by the kernel, or found among all processes where it does not tell.
fn children(of: Pid) -> Vec<Pid> {
    let of = of.as_raw_nonzero();
    let Ok(threads) = fs::read_dir(format!("/proc/{of}/task")) else { return Vec::new() };
    let mut found = Vec::new();
    for thread in threads.flatten() {
        match fs::read_to_string(thread.path().join("children")) {
            Ok(text) => found.extend(text.split_whitespace().filter_map(pid)),
            // This kernel does not tell; a thread that has ended meanwhile has no folder either.
            Err(why) if why.kind() == io::ErrorKind::NotFound && thread.path().exists() => {
                return by_parent(of.get());
            }
            Err(_) => {}
        }
    }
    found
}

fn by_parent(of: i32) -> Vec<Pid> {
    let parent = |pid: Pid| -> Option<i32> {
        let text = fs::read_to_string(format!("/proc/{}/stat", pid.as_raw_nonzero())).ok()?;
        // The name before it may hold anything, also brackets.
        let (_, after) = text.rsplit_once(')')?;
        after.split_whitespace().nth(1)?.parse().ok()
    };
    let entries = fs::read_dir("/proc").into_iter().flatten().flatten();
    entries
        .filter_map(|entry| pid(entry.file_name().to_str()?))
        .filter(|pid| parent(*pid) == Some(of))
        .collect()
}

fn pid(text: &str) -> Option<Pid> {
    text.parse().ok().and_then(Pid::from_raw)
}

#[cfg(test)]
mod tests {
    use std::process::{Command, Stdio};

    use super::*;

    #[test]
    fn a_child_and_its_child_are_found_both_ways() {
        let mut shell = Command::new("sh")
            .args(["-c", "sleep 100 & echo $!; wait"])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        io::BufRead::read_line(&mut io::BufReader::new(shell.stdout.take().unwrap()), &mut line).unwrap();
        let (child, grandchild) = (pid(&shell.id().to_string()).unwrap(), pid(line.trim()).unwrap());
        let family = all();
        assert!(family.contains(&child) && family.contains(&grandchild), "{family:?}");
        assert!(by_parent(getpid().as_raw_nonzero().get()).contains(&child));
        assert_eq!(by_parent(child.as_raw_nonzero().get()), [grandchild]);
        assert!(tally().count >= 2 && tally().bytes > 100_000, "{:?}", tally());
        for pid in [grandchild, child] {
            kill_process(pid, Signal::KILL).unwrap();
        }
        shell.wait().unwrap();
    }
}
