//! What the maker reads on the terminal when a job ends.

use std::path::Path;

use super::job::End;
use crate::journal::{in_words, visible};
use crate::report::words::counted;

/// The lines, with places as seen from the studio. None for what is no end.
pub(super) fn lines(end: &End, studio: &Path) -> Vec<String> {
    let place = |at: &Path| visible(&at.strip_prefix(studio).unwrap_or(at).to_string_lossy());
    let name = |at: &Path| visible(&at.file_name().unwrap_or_default().to_string_lossy());
    match end {
        End::Finished { at, made } => {
            let (counts, warnings) = match made {
                Some((sheets, warnings)) if warnings.is_empty() => {
                    (format!(": {}", counted(*sheets, "sheet")), &warnings[..])
                }
                Some((sheets, warnings)) => {
                    let more = counted(warnings.len(), "warning");
                    (format!(": {}, {more}", counted(*sheets, "sheet")), &warnings[..])
                }
                None => (String::new(), &[][..]),
            };
            let first = format!("done     {}{counts} -> {}", name(at), place(at));
            let more = warnings.iter().map(|warning| format!("         warning: {}", visible(warning)));
            std::iter::once(first).chain(more).collect()
        }
        End::Unfolded { at, rows, remark } => {
            let first = format!("list     {}: {} -> {}", name(at), counted(*rows, "row"), place(at));
            let more = remark.iter().map(|remark| format!("         {}", visible(remark)));
            std::iter::once(first).chain(more).collect()
        }
        End::Refused { at, faults } => {
            let first = format!("refused  {} -> {}", name(at), place(at));
            let mut lines = vec![first];
            for fault in faults {
                lines.extend(in_words(fault).lines().map(|line| format!("         {line}")));
            }
            lines
        }
        End::Trouble(_) | End::HandedBack | End::Gone => Vec::new(),
    }
}
