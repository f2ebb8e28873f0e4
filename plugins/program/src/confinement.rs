//! What a program gives up before it begins, and what the kernel holds of that.
//!
//! A process of this very program gives up its rights and becomes the studio's program by exec: no code runs between fork
//! and exec that might not. It does so when a byte on standard input lets it go. Limits (setrlimit) and the ban on gaining
//! rights hold everywhere. With Landlock the program reads its own folder, the system's, and those its manifest names,
//! writes in its scratch folder and nowhere else, and reaches no process but its own. With seccomp it opens no socket, and
//! makes none of the calls that only whoever runs the machine needs. Where the kernel has one of them not, the program runs
//! without; [`containment`] says so.

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{self, Write as _};
use std::os::unix::process::CommandExt as _;
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;
use std::thread;

use landlock::{
    ABI, Access as _, AccessFs, AccessNet, BitFlags, PathBeneath, PathFd, RestrictionStatus, Ruleset,
    RulesetAttr as _, RulesetCreatedAttr as _, RulesetStatus, Scope,
};
use rustix::io::{read, retry_on_intr};
use rustix::process::{Resource, Rlimit, Signal, set_parent_process_death_signal, setrlimit};
use rustix::thread::set_no_new_privs;
use seccompiler::{BpfProgram, SeccompAction, SeccompFilter, apply_filter};
use serde::{Deserialize, Serialize};

use crate::manifest::PATH;

/// The hidden verb that starts this.
pub(crate) const VERB: &str = "confine-program";

/// What lets a program go: one byte, before all that it is told itself.
pub(crate) const GO: u8 = b'\n';

/// The newest form of Landlock whose rights are known to this program; an older kernel holds what it knows of them.
const LANDLOCK: ABI = ABI::V7;

/// What programs of any language read: libraries, their tables, and what the machine is.
const SYSTEM: [&str; 12] = [
    "/usr",
    "/bin",
    "/sbin",
    "/lib",
    "/lib32",
    "/lib64",
    "/etc",
    "/opt",
    "/nix/store",
    "/proc",
    "/sys/devices/system",
    "/dev/urandom",
];

/// What swallows and gives nothing.
const DEVICES: [&str; 2] = ["/dev/null", "/dev/zero"];

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
        set_parent_process_death_signal(Some(Signal::KILL))?;
        limit(&bounds)?;
        let (program, words) =
            bounds.command.split_first().ok_or_else(|| io::Error::other("nothing to start"))?;
        hold(&bounds)?;
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

/// Holds this thread, and what it becomes or starts. What of it the kernel has not is left out.
fn hold(bounds: &Bounds) -> io::Result<Held> {
    set_no_new_privs(true)?;
    let files = landlocked(bounds).map_or(Strength::None, |status| match status.ruleset {
        RulesetStatus::FullyEnforced => Strength::Full,
        RulesetStatus::PartiallyEnforced => Strength::Part,
        RulesetStatus::NotEnforced => Strength::None,
    });
    let calls = filter(bounds.network).is_some_and(|filter| apply_filter(&filter).is_ok());
    Ok(Held { files, calls })
}

fn landlocked(bounds: &Bounds) -> Result<RestrictionStatus, landlock::RulesetError> {
    let read = AccessFs::from_read(LANDLOCK);
    let write = AccessFs::from_all(LANDLOCK) & !(AccessFs::MakeChar | AccessFs::MakeBlock);
    let swallow: BitFlags<AccessFs> = AccessFs::ReadFile | AccessFs::WriteFile;
    let mut ruleset =
        Ruleset::default().handle_access(AccessFs::from_all(LANDLOCK))?.scope(Scope::from_all(LANDLOCK))?;
    if !bounds.network {
        ruleset = ruleset.handle_access(AccessNet::from_all(LANDLOCK))?;
    }
    let mut ruleset = ruleset.create()?;
    let system =
        SYSTEM.iter().map(PathBuf::from).chain(bounds.reads.iter().cloned()).map(|path| (path, read));
    let devices = DEVICES.iter().map(PathBuf::from).map(|path| (path, swallow));
    for (path, access) in system.chain(devices).chain([(bounds.scratch.clone(), write)]) {
        // What is not there need not be read.
        let Ok(opened) = PathFd::new(&path) else { continue };
        let access = if path.is_dir() { access } else { access & AccessFs::from_file(LANDLOCK) };
        ruleset = ruleset.add_rule(PathBeneath::new(opened, access))?;
    }
    ruleset.restrict_self()
}

/// Calls that fail for a program. `io_uring` makes others unseen, and opens sockets too.
const FORBIDDEN: [libc::c_long; 36] = [
    libc::SYS_acct,
    libc::SYS_add_key,
    libc::SYS_bpf,
    libc::SYS_chroot,
    libc::SYS_clock_settime,
    libc::SYS_delete_module,
    libc::SYS_finit_module,
    libc::SYS_fsopen,
    libc::SYS_init_module,
    libc::SYS_io_uring_setup,
    libc::SYS_kexec_load,
    libc::SYS_keyctl,
    libc::SYS_memfd_create,
    libc::SYS_mount,
    libc::SYS_move_mount,
    libc::SYS_open_by_handle_at,
    libc::SYS_open_tree,
    libc::SYS_perf_event_open,
    libc::SYS_pidfd_getfd,
    libc::SYS_pivot_root,
    libc::SYS_process_vm_readv,
    libc::SYS_process_vm_writev,
    libc::SYS_ptrace,
    libc::SYS_quotactl,
    libc::SYS_reboot,
    libc::SYS_request_key,
    libc::SYS_setdomainname,
    libc::SYS_sethostname,
    libc::SYS_setns,
    libc::SYS_settimeofday,
    libc::SYS_swapoff,
    libc::SYS_swapon,
    libc::SYS_syslog,
    libc::SYS_umount2,
    libc::SYS_unshare,
    libc::SYS_userfaultfd,
];

/// The filter, on the machines that the library knows.
fn filter(network: bool) -> Option<BpfProgram> {
    let sockets = (!network).then_some(libc::SYS_socket);
    let calls: BTreeMap<_, _> = FORBIDDEN.into_iter().chain(sockets).map(|call| (call, Vec::new())).collect();
    let refused = SeccompAction::Errno(libc::EPERM.unsigned_abs());
    let machine = std::env::consts::ARCH.try_into().ok()?;
    SeccompFilter::new(calls, SeccompAction::Allow, refused, machine).ok()?.try_into().ok()
}

/// How much of Landlock the kernel has.
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
        let held = thread::spawn(move || hold(&bounds)).join().ok().and_then(Result::ok);
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
