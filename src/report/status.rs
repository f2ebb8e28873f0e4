//! What `status` says: how the daemon is, what waits, and the night in a few lines.

use crate::config::Config;
use crate::deliver::Slips;
use crate::journal::{clock, visible};
use crate::{history, queue, run};

use super::morning::Morning;
use super::{cost, printing, words};

/// How things stand now, line by line.
///
/// # Errors
/// In words, why the history cannot be read.
pub(crate) fn status(config: &Config) -> Result<Vec<String>, String> {
    let folders = &config.studio;
    let history = history::read(&folders.kept)?;
    let morning = Morning::of(&history, folders, &clock::now());
    let waiting = queue::waiting(folders).map_or(0, |lines| lines.len());
    let mut lines: Vec<String> = run::ask_health(folders).0.lines().map(str::to_owned).collect();
    if waiting > 0 {
        lines
            .push(format!("{} in incoming/; seamwright waiting lists them.", words::counted(waiting, "job")));
    }
    lines.push(format!(
        "Since {}: {} ready, {} refused, {} settled.",
        morning.since.strftime("%A %-d %B, %H:%M"),
        morning.ready().count(),
        morning.refused.len(),
        morning.settled.len()
    ));
    for job in &morning.refused {
        lines.push(format!("{:<9}  {}", job.end.word(), job.name));
        for reason in &*job.why {
            let said = [&*reason.place, &*reason.what, &*reason.cure];
            let said: Vec<&str> = said.into_iter().filter(|said| !said.is_empty()).collect();
            lines.push(format!("           {}", said.join(" ")));
            lines.extend(reason.shown.lines().map(|line| format!("           {line}")));
        }
    }
    lines.extend(printing::lines(&Slips::of(folders).all()));
    for ready in &morning.shared {
        lines.push(format!("shared     {}  {}", ready.job.name, words::in_short(ready.made, config.units)));
    }
    for ready in morning.ready() {
        lines.push(format!("ready      {}  {}", ready.job.name, words::in_short(ready.made, config.units)));
        lines.extend(ready.made.warnings.iter().map(|warning| format!("           warning: {warning}")));
    }
    for ((paper, printer), sheets) in &morning.load {
        lines.push(format!("load       {} of {paper}, {printer}", words::counted(*sheets, "sheet")));
    }
    if morning.seconds > 0 {
        let changes = words::counted(morning.changes_of_heat(), "change");
        lines.push(format!("press      {}, {changes} of heat", words::minutes(morning.seconds)));
    }
    if let Some(rates) = &config.rates
        && let Some((total, _)) = cost::of_all(morning.made(), rates)
    {
        lines.push(format!("estimate   {} by the studio's rates", cost::amount(total, &rates.currency)));
    }
    Ok(lines.iter().map(|line| visible(line)).collect())
}
