//! What Linux holds a program to, by Landlock and seccomp.

use std::collections::BTreeMap;
use std::io;
use std::path::PathBuf;

use landlock::{
    ABI, Access as _, AccessFs, AccessNet, BitFlags, PathBeneath, PathFd, RestrictionStatus, Ruleset,
    RulesetAttr as _, RulesetCreatedAttr as _, RulesetStatus, Scope,
};
use rustix::process::{Signal, set_parent_process_death_signal};
use rustix::thread::set_no_new_privs;
use seccompiler::{BpfProgram, SeccompAction, SeccompFilter, apply_filter};

use super::{Bounds, Held, Strength};

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

/// Lets this process, and what it becomes, end with the one that started it.
pub(super) fn end_with_parent() -> io::Result<()> {
    Ok(set_parent_process_death_signal(Some(Signal::KILL))?)
}

/// Holds this thread, and what it becomes or starts. What of it the kernel has not is left out.
pub(super) fn hold(bounds: &Bounds) -> io::Result<Held> {
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
    let calls: BTreeMap<_, _> =
        FORBIDDEN.into_iter().chain(sockets).map(|call| (wide(call), Vec::new())).collect();
    let refused = SeccompAction::Errno(libc::EPERM.unsigned_abs());
    let machine = std::env::consts::ARCH.try_into().ok()?;
    SeccompFilter::new(calls, SeccompAction::Allow, refused, machine).ok()?.try_into().ok()
}

/// The number of a call is of another width on other machines.
fn wide(call: impl Into<i64>) -> i64 {
    call.into()
}
