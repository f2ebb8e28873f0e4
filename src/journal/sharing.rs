//! Jobs whose panels may lie on sheets with those of others, from when they are worked until they do.
//!
//! Such a job leaves its sheets and its record beside its claim, as `JOB.sharing`, before it counts as worked; that counts once
//! the job is delivered. Those that go together become one claim more: they are moved into `shared-DIGITS.tmp/.members`, and
//! when all are in it, it is a claim like any other, which is worked, published, printed and kept once, whatever happens in
//! between. The digits are those of its members. One that is undone puts them back; what they left goes once the sheets they
//! share are published.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Write as _};
use std::path::Path;

use super::claim::Facts;
use super::files::{move_no_replace, remove_folder, rename_no_replace, sync_contents, sync_folder};
use super::{Claim, FACTS, Journal, claim, names, naming, there};
use crate::deliver::SHEETS;
use crate::registry::{self, Sharing, SharingJob};

/// What such a job is called while it waits, and while what it leaves is put together.
pub(super) const WAITS: &str = ".sharing";
pub(super) const BEGUN: &str = ".linking";

/// Where its members lie in a claim.
pub(super) const MEMBERS: &str = ".members";

/// A job that waits for others to share its sheets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Offered {
    pub(crate) job: String,
    pub(crate) sharing: Sharing,
}

impl Journal {
    /// Leaves what is shared of a job that is worked and not yet published, if it wants that. May be repeated.
    pub(crate) fn offer(&self, claim: &Claim) -> io::Result<()> {
        let (waits, begun) = (self.state(&claim.id, WAITS), self.state(&claim.id, BEGUN));
        let record = self.record(claim).filter(|record| registry::sharing(record).is_some());
        // Published already, before a kill: it was left before that.
        let (Some(record), Some(sheets)) = (record, self.staged_file(claim, SHEETS)?) else { return Ok(()) };
        // Of a try that ended otherwise, it may be of other sheets.
        remove_folder(&waits)?;
        remove_folder(&begun)?;
        fs::create_dir(&begun)?;
        // Another file system, or one without links.
        if fs::hard_link(&sheets, begun.join(registry::SHARED_SHEETS)).is_err() {
            fs::copy(&sheets, begun.join(registry::SHARED_SHEETS))?;
        }
        File::create_new(begun.join(registry::SHARED_RECORD))?.write_all(&record)?;
        sync_contents(&begun)?;
        move_no_replace(&begun, &waits)
    }

    /// The jobs that wait for others, those by name that are delivered.
    pub(crate) fn offered(&self) -> io::Result<Vec<Offered>> {
        let mut offered = Vec::new();
        for name in names(&self.claimed())? {
            let Some(job) = name.strip_suffix(WAITS) else { continue };
            if there(&self.state(job, ""))? || there(&self.state(job, ".done"))? {
                continue;
            }
            let record = fs::read(self.claimed().join(&name).join(registry::SHARED_RECORD))?;
            let sharing = registry::sharing(&record);
            offered.extend(sharing.map(|sharing| Offered { job: job.to_owned(), sharing }));
        }
        Ok(offered)
    }

    /// Makes these jobs one claim, to be worked.
    pub(crate) fn gather(&self, members: &[&str]) -> io::Result<Claim> {
        let mut content: Vec<Vec<u8>> = Vec::new();
        for member in members {
            content.push(fs::read(self.state(member, WAITS).join(registry::SHARED_RECORD))?);
        }
        let content: Vec<&[u8]> = content.iter().map(Vec::as_slice).collect();
        let digits: String = naming::digest_of(&content).chars().take(6).collect();
        let (id, tmp) = self.begin(&format!("shared-{digits}"))?;
        let gathered = self.move_in(members, &tmp).and_then(|()| {
            let folder = self.state(&id, "");
            move_no_replace(&tmp, &folder)?;
            Ok(Claim { id, folder })
        });
        if gathered.is_err()
            && let Err(why) = claim::put_back(&tmp, &self.folders.incoming)
        {
            tracing::error!(%why, claim = %tmp.display(), "a claim could not be undone; it is taken up at the next start");
        }
        gathered
    }

    fn move_in(&self, members: &[&str], tmp: &Path) -> io::Result<()> {
        let folder = tmp.join(MEMBERS);
        fs::create_dir(&folder)?;
        sync_folder(tmp)?;
        for member in members {
            rename_no_replace(&self.state(member, WAITS), &folder.join(member))?;
        }
        sync_folder(&folder)?;
        sync_folder(&self.claimed())?;
        File::create_new(tmp.join(FACTS))?.write_all(&serde_json::to_vec(&Facts::of_nothing())?)?;
        sync_contents(tmp)
    }
}

/// The jobs that share the sheets of a claim; none where it is another.
pub(crate) fn members(claim: &Path) -> io::Result<Vec<SharingJob>> {
    let folder = claim.join(MEMBERS);
    match names(&folder) {
        Err(why) if why.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        found => Ok(found?.into_iter().map(|name| SharingJob { folder: folder.join(&name), name }).collect()),
    }
}

/// Lets the members of a claim that is undone wait again.
pub(super) fn scatter(tmp: &Path) -> io::Result<()> {
    for member in members(tmp)? {
        move_no_replace(&member.folder, &tmp.with_file_name(format!("{}{WAITS}", member.name)))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::super::tests::{Studio, is_there, studio};
    use super::*;
    use crate::journal::RECORD;
    use crate::journal::files::write_whole;

    fn record(job: &str) -> Vec<u8> {
        let rect = [10_000, 10_000, 90_000, 90_000];
        let panel = serde_json::json!({"panel": 1, "page": 1, "scale": [1.0, 1.0], "printed_um": rect, "piece_um": rect});
        serde_json::to_vec(&serde_json::json!({
            "job": job, "copies": 2, "print": "no", "row": null, "printer": "desk", "mirrored": true, "orientation": "portrait",
            "share": {"gap_um": 6_350, "live_um": rect, "other_live_um": null}, "colour": null, "panels": [panel],
            "paper": {"name": "letter", "width_um": 215_900, "height_um": 279_400}
        }))
        .unwrap()
    }

    /// A job that is worked and offered, not yet delivered.
    fn worked(studio: &Studio, name: &str) -> Claim {
        let png = format!("{name}.png");
        studio.put(&png, name.as_bytes());
        let claim = studio.journal.claim(&studio.set(&[&png])).unwrap();
        write_whole(&claim.folder.join(RECORD), &record(&claim.id)).unwrap();
        write_whole(&studio.journal.stage(&claim).unwrap().join(SHEETS), b"a page").unwrap();
        studio.journal.offer(&claim).unwrap();
        claim
    }

    fn waits(studio: &Studio) -> Vec<String> {
        studio.journal.offered().unwrap().into_iter().map(|offered| offered.job).collect()
    }

    fn claimed(studio: &Studio, name: &str) -> PathBuf {
        studio.journal.claimed().join(name)
    }

    #[test]
    fn what_is_shared_counts_from_delivery_and_goes_with_it() {
        let studio = studio();
        let (one, two) = (worked(&studio, "one"), worked(&studio, "two"));
        assert_eq!(waits(&studio), Vec::<String>::new(), "neither is delivered");
        studio.journal.offer(&one).unwrap();
        studio.journal.deliver(&one).unwrap();
        assert_eq!(waits(&studio), std::slice::from_ref(&one.id));
        studio.journal.offer(&one).unwrap();
        studio.journal.deliver(&two).unwrap();
        let mut all = vec![one.id, two.id];
        all.sort();
        assert_eq!(waits(&studio), all);
        assert_eq!(studio.journal.recover().unwrap(), [], "they are no claims");
        assert_eq!(waits(&studio), all, "and wait on");

        let names: Vec<&str> = all.iter().map(String::as_str).collect();
        let claim = studio.journal.gather(&names).unwrap();
        assert!(claim.id.starts_with("shared-"), "{}", claim.id);
        assert_eq!(waits(&studio), Vec::<String>::new());
        let found: Vec<String> =
            members(&claim.folder).unwrap().into_iter().map(|member| member.name).collect();
        assert_eq!(found, all);
        assert_eq!(studio.journal.recover().unwrap(), std::slice::from_ref(&claim));

        let part = studio.journal.stage(&claim).unwrap();
        write_whole(&part.join(SHEETS), b"shared").unwrap();
        studio.journal.deliver(&claim).unwrap();
        assert_eq!(fs::read(studio.folders.outgoing.join(&claim.id).join(SHEETS)).unwrap(), b"shared");
        assert!(!is_there(&studio.folders.kept.join(&claim.id).join(MEMBERS)), "what they left has gone");
        assert_eq!(studio.visible(&studio.journal.claimed()), Vec::<String>::new());
    }

    #[test]
    fn a_claim_that_is_undone_lets_its_members_wait_again() {
        for state in ["half", "whole", "refused"] {
            let studio = studio();
            let mut all = Vec::new();
            for name in ["one", "two"] {
                let claim = worked(&studio, name);
                studio.journal.deliver(&claim).unwrap();
                all.push(claim.id);
            }
            all.sort();
            let names: Vec<&str> = all.iter().map(String::as_str).collect();
            let claim = studio.journal.gather(&names).unwrap();
            match state {
                "half" => {
                    let tmp = claimed(&studio, &format!("{}.tmp", claim.id));
                    move_no_replace(&claim.folder, &tmp).unwrap();
                    let (from, to) =
                        (tmp.join(MEMBERS).join(names[0]), claimed(&studio, &format!("{}{WAITS}", names[0])));
                    move_no_replace(&from, &to).unwrap();
                    assert_eq!(studio.journal.recover().unwrap(), []);
                }
                "whole" => studio.journal.hand_back(&claim).unwrap(),
                _ => {
                    studio
                        .journal
                        .refuse(&claim, &[seamwright_contract::Fault::order("It is torn.", "Mend it.")])
                        .unwrap();
                    assert!(is_there(&studio.folders.refused.join(&claim.id).join(MEMBERS).join(names[1])));
                    studio.journal.retry(&claim.id).unwrap();
                }
            }
            assert_eq!(waits(&studio), all, "{state}");
            assert_eq!(
                studio.journal.gather(&names).unwrap().id,
                claim.id,
                "{state}: the same by its content"
            );
        }
    }
}
