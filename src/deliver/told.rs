//! The maker's side of printing: how it stands, in words, and `seamwright print`.

use std::fs;
use std::time::Duration;

use tokio::time::{Instant, sleep};

use super::slip::SHEETS;
use super::{PATIENCE, Slip, Slips, Spool, State};
use crate::config::Config;
use crate::history::{self, End};
use crate::journal::{RECORD, kept_file};
use crate::report::words;

/// How often a command at the terminal looks how far it is.
const LOOK: Duration = Duration::from_millis(50);

/// How it stands with a slip, in a line.
pub(crate) fn in_a_line(slip: &Slip) -> String {
    let Slip { job, printer, why, tries, .. } = slip;
    match &slip.state {
        State::Held => format!("is held; to {printer} by: seamwright print {job}"),
        State::Stopped { .. } => format!("did not go to {printer}: {why}"),
        State::Taken { id, .. } if why.is_empty() => format!("is with {printer} as its job {id}"),
        State::Taken { id, .. } => format!("is with {printer} as its job {id}, which {why}"),
        State::Waiting | State::Begun { .. } if why.is_empty() => format!("goes to {printer}"),
        State::Waiting | State::Begun { .. } => format!(
            "waits for {printer}: {why}; tried {}, and again by itself",
            words::times(usize::try_from(*tries).unwrap_or(usize::MAX))
        ),
    }
}

/// What of a slip is the maker's to do, and how.
pub(crate) fn needs_you(slip: &Slip) -> Option<(String, String)> {
    let Slip { job, printer, why, .. } = slip;
    match &slip.state {
        State::Stopped { cure } => {
            let cure = match cure.strip_suffix("seamwright print") {
                Some(_) => format!("{cure} {job}"),
                None => format!("{cure} Then hand it over: seamwright print {job}"),
            };
            Some((format!("Its sheets did not go to {printer}: {why}."), cure))
        }
        State::Waiting | State::Begun { .. } if slip.tries >= PATIENCE => Some((
            format!("Its sheets wait for {printer}: {why}."),
            format!("See to the printer; it is tried again by itself, at once by: seamwright print {job}"),
        )),
        _ => None,
    }
}

/// The maker wants a job to be printed now: its slip is told so, or made. Its name.
///
/// # Errors
/// In words, why it cannot be.
pub(crate) fn ask_for(name: &str, once_more: bool, config: &Config) -> Result<String, String> {
    let studio = &config.studio;
    let slips = Slips::of(studio);
    let history = history::read(&studio.kept)?;
    let job = history::finished(&history, name)?;
    let made = job.made.as_deref().ok_or("Its record is lost.")?;
    let lost = |why: std::io::Error| format!("It cannot be put on the list of what is printed: {why}.");
    if slips.read(&job.name).map_err(lost)?.is_some() {
        slips.wish(&job.name, once_more).map_err(lost)?;
        return Ok(job.name.to_string());
    }
    let sent: Vec<_> = job.printing().iter().filter(|(_, end, _)| *end != End::Unprinted).collect();
    if let Some((at, _, how)) = sent.last().filter(|_| !once_more) {
        return Err(format!(
            "It went to {how}, at {at}. To print it once more: seamwright print {} --once-more",
            job.name
        ));
    }
    if made.shares && !once_more {
        let on = history
            .carrying(&job.name)
            .map(|shared| format!("; print those: seamwright print {}", shared.name));
        return Err(format!(
            "Its panels lie on shared sheets{}. To print its own all the same: seamwright print {} --once-more",
            on.unwrap_or_else(|| ", which come out once nothing is left to work".to_owned()),
            job.name
        ));
    }
    if config.catalogue.printers.get(&made.printer).is_none_or(|printer| printer.send_to.is_none()) {
        return Err(format!(
            "It is not said where sheets of {0} go. Add `send_to: {{uri: \"ipp://…\"}}` to printers/{0}.yaml.",
            made.printer
        ));
    }
    let sheets = studio.outgoing.join(&*job.name).join(SHEETS);
    if !sheets.is_file() {
        return Err(format!(
            "Its sheets are not in outgoing/ any more; they are made anew by: seamwright again {}",
            job.name
        ));
    }
    let kept = studio.kept.join(&*job.name);
    let record = fs::read(kept_file(&kept, RECORD)).map_err(lost)?;
    let rounds = u32::try_from(job.printing().len()).unwrap_or(u32::MAX);
    slips.anew(&job.name, &record, &sheets, rounds.saturating_add(1)).map_err(lost)?;
    Ok(job.name.to_string())
}

/// Hands a job over where no daemon does; what came of it, in a line, and whether it went well.
pub(crate) async fn work_off(job: &str, config: &Config) -> (String, bool) {
    let mut spool = Spool::only(&config.studio, job);
    let slips = Slips::of(&config.studio);
    let began = Instant::now();
    loop {
        spool.ring();
        spool.turn(config);
        let slip = match slips.read(job) {
            Ok(Some(slip)) => slip,
            Ok(None) => return (format!("{job}  went to its printer"), true),
            Err(why) => return (format!("{job}  cannot be told: {why}"), false),
        };
        let heard = slips.wished(job).is_none();
        let gone_on = slip.tries > 0 || began.elapsed() > Duration::from_secs(600);
        match slip.state {
            State::Taken { .. } if heard => return (format!("{job}  {}", in_a_line(&slip)), true),
            State::Stopped { .. } if heard => {
                let said = needs_you(&slip).map_or_else(String::new, |(what, cure)| format!("{what} {cure}"));
                return (format!("{job}  {said}"), false);
            }
            _ if heard && gone_on => {
                spool.wind_up().await;
                let said = in_a_line(&slip);
                return (format!("{job}  {said}, once `seamwright watch` runs"), false);
            }
            _ => {}
        }
        tokio::select! {
            () = spool.ended() => {}
            () = sleep(LOOK) => {}
        }
    }
}
