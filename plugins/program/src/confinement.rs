//! What a program gives up before it begins, and what the kernel holds of that.
//!
//! A process of this very program gives up its rights and becomes the studio's program by exec: no code runs between fork
//! and exec that might not. It does so when a byte on standard input lets it go. Limits (setrlimit) hold everywhere, all else
//! on Linux. With Landlock the program reads its own folder, the system's, and those its manifest names, writes in its
//! scratch folder and nowhere else, and reaches no process but its own. With seccomp it opens no socket, and makes none of
//! the calls that only whoever runs the machine needs. Where the kernel has one of them not, the program runs without;
//! [`containment`] says so.

use std::fs::OpenOptions;
use std::io::{self, Write as _};
use std::os::unix::process::CommandExt as _;
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;
use std::thread;

use rustix::io::{read, retry_on_intr};
use rustix::process::{Resource, Rlimit, setrlimit};
use serde::{Deserialize, Serialize};

use crate::manifest::PATH;

#[cfg_attr(target_os = "linux", path = "confinement/linux.rs")]
#[cfg_attr(not(target_os = "linux"), path = "confinement/elsewhere.rs")]
mod kernel;

/// The hidden verb that starts this.
pub(crate) const VERB: &str = "confine-program";

/// What lets a program go: one byte, before all that it is told itself.
pub(crate) const GO: u8 = b'\n';

/// Files it may have open.
const OPEN_FILES: u64 = 256;

/// What a program is held to.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct Bounds {
    /// What is started, and its words.
    pub(crate) command: Vec<String>,
    /// The folder it is started in, the only one it may write in.
    pub(crate) scratch: PathBuf,
    /// Folders and files that it may read beside the system's.
    pub(crate) reads: Vec<PathBuf>,
    /// Bytes of memory, and of files it writes.
    pub(crate) memory: u64,
    pub(crate) disk: u64,
    pub(crate) network: bool,
}

/// Gives up what `bounds` (in JSON) does not leave, waits to be let go, and becomes the program. Comes back only if that
/// cannot be.
#[must_use]
pub fn confine(bounds: &str) -> io::Error {
    let become_it = || -> io::Result<io::Error> {
        let bounds: Bounds = serde_json::from_str(bounds)?;
        kernel::end_with_parent()?;
        limit(&bounds)?;
        let (program, words) =
            bounds.command.split_first().ok_or_else(|| io::Error::other("nothing to start"))?;
        kernel::hold(&bounds)?;
        wait()?;
        let mut command = Command::new(program);
        command.args(words).env_clear().envs([("PATH", PATH), ("LANG", "C.UTF-8")]);
        Ok(command.env("HOME", &bounds.scratch).env("TMPDIR", &bounds.scratch).exec())
    };
    become_it().unwrap_or_else(|why| why)
}

/// Waits to be let go. Nothing is read beyond that: the rest is the program's.
fn wait() -> io::Result<()> {
    let mut word = [0];
    match retry_on_intr(|| read(io::stdin(), &mut word))? {
        0 => Err(io::Error::other("nobody let it go")),
        _ => Ok(()),
    }
}

fn limit(bounds: &Bounds) -> io::Result<()> {
    // Where memory runs out, this goes first. A system without that file has nothing to set.
    drop(
        OpenOptions::new()
            .write(true)
            .open("/proc/self/oom_score_adj")
            .and_then(|mut file| file.write_all(b"1000")),
    );
    let limits = [
        (Resource::Core, 0),
        // Private memory that may be written to; what several processes hold together the supervisor counts.
        (Resource::Data, bounds.memory),
        (Resource::Fsize, bounds.disk),
        (Resource::Nofile, OPEN_FILES),
    ];
    for (resource, most) in limits {
        setrlimit(resource, Rlimit { current: Some(most), maximum: Some(most) })?;
    }
    Ok(())
}

/// How much of Landlock the kernel has.
#[cfg_attr(not(target_os = "linux"), expect(dead_code, reason = "no other system has any of it"))]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Strength {
    Full,
    Part,
    None,
}

/// What the kernel holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Held {
    files: Strength,
    calls: bool,
}

/// In words, how programs are held on this machine. Found out on a thread that is then held alike, and ends.
#[must_use]
pub fn containment() -> &'static str {
    static SAID: OnceLock<&'static str> = OnceLock::new();
    SAID.get_or_init(|| {
        let bounds = Bounds {
            command: Vec::new(),
            scratch: PathBuf::from("/dev/null"),
            reads: Vec::new(),
            memory: 0,
            disk: 0,
            network: false,
        };
        let held = thread::spawn(move || kernel::hold(&bounds)).join().ok().and_then(Result::ok);
        words(held.unwrap_or(Held { files: Strength::None, calls: false }))
    })
}

fn words(held: Held) -> &'static str {
    match (held.files, held.calls) {
        (Strength::Full, true) => {
            "programs are held by Landlock and seccomp: they write in their own folder alone, and open no socket"
        }
        (Strength::Part, true) => {
            "programs are held by seccomp and by an older Landlock: they write in their own folder alone and open no socket, but may signal other processes of this user"
        }
        (Strength::None, true) => {
            "programs are held by seccomp alone: they open no socket, but this kernel has no Landlock, so they read and write what this user may"
        }
        (Strength::Full | Strength::Part, false) => {
            "programs are held by Landlock alone: they write in their own folder, but this kernel has no seccomp, so they may talk to other programs of this machine"
        }
        (Strength::None, false) => {
            "programs are held by their limits of time and memory alone: this kernel has neither Landlock nor seccomp, so use only what you trust"
        }
    }
}
