//! When jobs that share their sheets are brought together: rows of lists, and what may lie beside them, once nothing is left to
//! work; others once none has come for as long as artwork waits for its sidecar, so that what is saved one after the other by
//! hand comes together too. A batch has nothing to wait for.

use std::collections::BTreeMap;
use std::io;
use std::time::Duration;

use tokio::time::Instant;

use crate::journal::{Claim, Journal, Offered};

/// No more pieces than this are laid on sheets together: beyond it nothing is saved, and nobody parts so many at one table.
const MOST_PIECES: usize = 3_000;

/// What is still to be brought together.
#[derive(Debug)]
pub(super) struct Shares {
    /// When the last job ended.
    since: Instant,
    /// Whether there may be rows, and others.
    rows: bool,
    others: bool,
}

impl Shares {
    pub(super) fn new() -> Self {
        Self { since: Instant::now(), rows: true, others: true }
    }

    /// A job has ended.
    pub(super) fn more(&mut self) {
        *self = Self::new();
    }

    /// The claims of what is to be brought together now that nothing is left to work.
    pub(super) fn due(&mut self, journal: &Journal, wait: Duration) -> io::Result<Vec<Claim>> {
        let rested = self.since.elapsed() >= wait;
        if !(self.rows || self.others && rested) {
            return Ok(Vec::new());
        }
        (self.rows, self.others) = (false, self.others && !rested);
        let mut groups: BTreeMap<String, Vec<Offered>> = BTreeMap::new();
        for offered in journal.offered()? {
            groups.entry(offered.sharing.key.clone()).or_default().push(offered);
        }
        let mut claims = Vec::new();
        for group in groups.into_values().filter(|group| rested || group.iter().any(|job| job.sharing.row)) {
            for part in parts(&group) {
                claims.push(journal.gather(&part)?);
            }
        }
        Ok(claims)
    }
}

/// As many jobs as may come together, and so on; by name, so that those of one list follow each other.
fn parts(group: &[Offered]) -> Vec<Vec<&str>> {
    let (mut parts, mut left): (Vec<Vec<&str>>, usize) = (Vec::new(), 0);
    for job in group {
        match parts.last_mut().filter(|_| job.sharing.pieces <= left) {
            Some(part) => part.push(&job.job),
            None => {
                parts.push(vec![&job.job]);
                left = MOST_PIECES;
            }
        }
        left = left.saturating_sub(job.sharing.pieces);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::registry::Sharing;

    #[test]
    fn no_more_come_together_than_one_table_holds() {
        let job = |name: &str, pieces| Offered {
            job: name.to_owned(),
            sharing: Sharing { key: String::new(), row: false, pieces },
        };
        let jobs = [job("a", 2_000), job("b", 1_000), job("c", 1), job("d", 999_000), job("e", 1)];
        assert_eq!(parts(&jobs), [vec!["a", "b"], vec!["c"], vec!["d"], vec!["e"]]);
        assert_eq!(parts(&[]), Vec::<Vec<&str>>::new());
    }
}
