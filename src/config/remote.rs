//! Whether a folder lies on a network drive, where writers stall for longer and nobody is told of changes.

use std::path::Path;

/// What such file systems call themselves (statfs(2), linux/magic.h): NFS, SMB, CIFS, SMB2, 9P, AFS, Ceph, FUSE (which may
/// be anything, also SSHFS).
const REMOTE: [i64; 8] =
    [0x0000_6969, 0x0000_517B, 0xFF53_4D42, 0xFE53_4D42, 0x0102_1997, 0x5346_414F, 0x00C3_6400, 0x6573_5546];

/// What cannot be asked counts as local.
pub(super) fn is_remote(folder: &Path) -> bool {
    // The number is 32 bits wide, in a field that is wider, and on some machines signed.
    let bits = |kind: i64| kind & 0xFFFF_FFFF;
    rustix::fs::statfs(folder).is_ok_and(|facts| REMOTE.contains(&bits(wide(facts.f_type))))
}

/// The field is of another width on other machines.
fn wide(kind: impl Into<i64>) -> i64 {
    kind.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_disk_of_this_machine_is_no_network_drive() {
        assert!(!is_remote(Path::new("/proc")), "a file system of the kernel");
        assert!(!is_remote(Path::new("/no/such/folder")), "what is not there");
    }
}
