//! `seamwright calibrate`: a page to measure a printer by, and what was measured, kept for all sheets to come.

use std::fs;
use std::path::Path;

use seamwright_contract::catalogue::{PaperSize, Printer};
use seamwright_contract::scale::{Scale, factor};
use seamwright_contract::{Length, Sides};

use crate::config::{self, Config, MeasuredPrinter, Measurements};
use crate::journal::Journal;
use crate::journal::files::write_whole;
use crate::registry;

/// Beyond this, a measurement is taken, but looked at twice.
const UNUSUAL: f64 = 0.01;

/// What part of a sheet's side a margin is at most.
const WIDEST_MARGIN: i64 = 4;

/// What a maker has read off the page.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found<'f> {
    /// How long the line along the sheet is.
    pub(crate) along: Option<Length>,
    /// How long the line across it is.
    pub(crate) across: Option<Length>,
    /// The first step that is printed at the top, right, bottom and left; none where that was not looked at.
    pub(crate) margins: &'f [Length],
}

/// Puts the page of a printer and paper beside the finished jobs, and says what to do with it.
///
/// # Errors
/// In words, why it cannot be made.
pub(crate) fn page(printer: &str, paper: &str, config: &Config) -> Result<Vec<String>, String> {
    let (printer, paper) = find(printer, paper, config)?;
    let make = || {
        let journal = Journal::open(&config.studio)?;
        let part = journal.stage_aside(&format!("calibration-{}", std::process::id()))?;
        let mut bytes = Vec::new();
        if let Err(fault) = registry::write_calibration(printer, paper, &mut bytes) {
            return Ok(Err(fault.to_string()));
        }
        write_whole(&part.join("calibration.pdf"), &bytes)?;
        journal.publish_files(&part, &format!("{}-{}", printer.name, paper.name)).map(Ok)
    };
    let files = make().map_err(|why: std::io::Error| format!("The page cannot be made: {why}."))??;
    let mut lines: Vec<String> = files.iter().map(|file| file.to_string_lossy().into_owned()).collect();
    lines.push("Print it as sheets are printed, and enter what it says to measure and to read.".to_owned());
    Ok(lines)
}

/// Keeps what was measured. `base` is where the configuration lies.
///
/// # Errors
/// In words, why that cannot be, or cannot be kept.
pub(crate) fn enter(
    (printer, paper): (&str, &str),
    found: Found<'_>,
    base: &Path,
    config: &Config,
) -> Result<Vec<String>, String> {
    let (printer, paper) = find(printer, paper, config)?;
    let lines = registry::calibration_lines(printer, paper)
        .ok_or_else(|| format!("The paper {} is too small to measure on.", paper.name))?;
    let before = printer.scale_on(&paper.name);
    let scale = Scale {
        along: found.along.map_or(Ok(before.along), |along| plausible("along", lines.along, along))?,
        across: found.across.map_or(Ok(before.across), |across| plausible("across", lines.across, across))?,
    };
    let file = config::scale_file(base, &printer.name);
    let mut all = if file.is_file() { config::measured_scales(&file)? } else { of_entry(printer) };
    let measured = all.entry(paper.name.clone()).or_default();
    measured.scale = scale;
    if !found.margins.is_empty() {
        measured.margins = Some(margins(found.margins, paper)?);
    }
    let measured = *measured;
    let keep = || {
        file.parent().map_or(Ok(()), fs::create_dir_all)?;
        write_whole(&file, config::scale_text(&all).as_bytes())
    };
    keep().map_err(|why| format!("It cannot be kept in {}: {why}.", file.display()))?;
    Ok(said(printer, paper, &measured, found))
}

/// What an entry has measured of its own.
fn of_entry(printer: &Printer) -> Measurements {
    let measured = |scale: &Scale| MeasuredPrinter { scale: *scale, margins: None };
    printer.scale.iter().map(|(paper, scale)| (paper.clone(), measured(scale))).collect()
}

fn said(printer: &Printer, paper: &PaperSize, measured: &MeasuredPrinter, found: Found<'_>) -> Vec<String> {
    let mut said = Vec::new();
    let scale = measured.scale;
    if found.along.is_some() || found.across.is_some() {
        said.push(format!(
            "From now on sheets for {} on {} are drawn {:.5} times as long along and {:.5} times across the sheet.",
            printer.name, paper.name, scale.along, scale.across
        ));
        if [scale.along, scale.across].iter().any(|factor| (factor - 1.0).abs() > UNUSUAL) {
            said.push("That is much for a printer: print the page of `seamwright calibrate` once more and make sure nothing scaled it.".to_owned());
        }
    }
    if let Some(Sides { top, right, bottom, left }) = measured.margins.filter(|_| !found.margins.is_empty()) {
        said.push(format!(
            "From now on sheets for {} on {} keep {top} free at the top, {right} at the right, {bottom} at the bottom and {left} at the left.",
            printer.name, paper.name
        ));
    }
    said
}

/// The margins read off the page, in the order of reading.
fn margins(read: &[Length], paper: &PaperSize) -> Result<Sides<Length>, String> {
    let &[top, right, bottom, left] = read else {
        return Err(format!(
            "A sheet has four edges, and there are {} margins. Write `--margins 3mm,3mm,5mm,3mm` for top, right, bottom and left.",
            read.len()
        ));
    };
    let (width, height) = (paper.size.width / WIDEST_MARGIN, paper.size.height / WIDEST_MARGIN);
    for (edge, margin, most) in
        [("top", top, height), ("right", right, width), ("bottom", bottom, height), ("left", left, width)]
    {
        if margin < Length::ZERO || margin > most {
            return Err(format!(
                "{margin} at the {edge} is no margin of any printer. Read the smallest number whose step is printed whole."
            ));
        }
    }
    Ok(Sides { left, top, right, bottom })
}

/// The factor of a measured line.
fn plausible(which: &str, nominal: Length, found: Length) -> Result<f64, String> {
    let factor = factor(nominal, found).filter(|factor| config::PLAUSIBLE_SCALE.contains(factor));
    factor.ok_or_else(|| {
        format!(
            "The line {which} the sheet is {nominal} on the page; {found} is too far from that for any printer. See that the page was printed at 100 %, and measure again."
        )
    })
}

fn find<'c>(printer: &str, paper: &str, config: &'c Config) -> Result<(&'c Printer, &'c PaperSize), String> {
    let known: Vec<&str> = config.catalogue.printers.names().collect();
    let printer = config.catalogue.printers.get(printer).ok_or_else(|| {
        let cure = seamwright_contract::settings::one_of(&known, Some(printer));
        format!("There is no printer '{printer}'. {cure}")
    })?;
    let found = printer.papers.iter().find(|known| known.name == paper).ok_or_else(|| {
        let known: Vec<&str> = printer.papers.iter().map(|paper| paper.name.as_str()).collect();
        let cure = seamwright_contract::settings::one_of(&known, Some(paper));
        format!("The printer {} takes no paper '{paper}'. {cure}", printer.name)
    })?;
    Ok((printer, found))
}
