//! `seamwright explain`: what would be done with an artwork, or was done in a job, and why, on the terminal.
//!
//! All of it is read from a record. A finished job has one. For artwork that is not given yet a worker runs the stages, as
//! for a job, and writes nothing but the record; that is read and goes again. So both are told by the same words, and what
//! is foretold is what will be.

mod drawing;
mod record;
#[cfg(test)]
mod tests;

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use seamwright_contract::units::Units;

use crate::config::Config;
use crate::history;
use crate::intake::{is_artwork_name, is_sidecar_name, named_by};
use crate::journal::{RECORD, visible};
use crate::registry;
use crate::report::words::{self, counted};
use crate::terminal;
use drawing::{Cell, Signs};
use record::{Press, Record, Seam};

/// How wide the drawing is at most.
const WIDEST: u16 = 72;

/// So many placements are told one by one; the notes have all.
const MOST_PLACES: usize = 12;

/// What is to be explained.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Subject {
    /// A finished job, by its record.
    Record(Vec<u8>),
    /// An artwork that is not given yet.
    Artwork(PathBuf),
}

/// What a word at the command line means: a file where one lies there, else a finished job.
///
/// # Errors
/// In words, why it means nothing.
pub(crate) fn subject(said: &Path, config: &Config) -> Result<Subject, String> {
    let shown = visible(&said.to_string_lossy());
    if !said.is_file() {
        let file = said.file_name().is_some_and(|name| is_artwork_name(name) || is_sidecar_name(name));
        if file || said.components().count() > 1 {
            return Err(format!("There is no file {shown}. Correct its name."));
        }
        return finished(&said.to_string_lossy(), config).map(Subject::Record);
    }
    if !said.file_name().is_some_and(is_sidecar_name) {
        return Ok(Subject::Artwork(said.to_owned()));
    }
    let named = named_by(said);
    if named.list.is_some() {
        return Err(format!(
            "{shown} is an order list, of which each row is a job: `seamwright check {shown}` looks all of them over."
        ));
    }
    let beside = artwork_beside(said, named.artwork.as_deref()).map_err(|why| format!("{shown}: {why}."))?;
    beside.map(Subject::Artwork).ok_or_else(|| {
        format!("There is no artwork beside {shown}. Save the picture beside it under the same name, or name the picture.")
    })
}

/// The artwork that a sidecar names, or that bears its stem.
fn artwork_beside(sidecar: &Path, named: Option<&str>) -> io::Result<Option<PathBuf>> {
    if let Some(name) = named {
        return Ok(Some(sidecar.with_file_name(name)).filter(|file| file.is_file()));
    }
    let folder = sidecar.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.file_stem() == sidecar.file_stem() && path.file_name().is_some_and(is_artwork_name) {
            found.push(path);
        }
    }
    found.sort();
    Ok(found.into_iter().next())
}

/// The record of a finished job, from what is kept of it or from its folder.
fn finished(name: &str, config: &Config) -> Result<Vec<u8>, String> {
    let studio = &config.studio;
    let history = history::read(&studio.kept)?;
    let name = &*history::finished(&history, name)?.name;
    let kept = studio.kept.join(name).join(RECORD.trim_start_matches('.'));
    let given = studio.outgoing.join(name).join(registry::RECORD_FILE);
    match fs::read(kept) {
        Err(why) if why.kind() == ErrorKind::NotFound => fs::read(given),
        read => read,
    }
    .map_err(|why| format!("The record of {} cannot be read: {why}.", visible(name)))
}

/// What a record says, line by line.
///
/// # Errors
/// In words, where it is none.
pub(crate) fn lines(record: &[u8], config: &Config, is_done: bool) -> Result<Vec<String>, String> {
    let record: Record =
        serde_json::from_slice(record).map_err(|why| format!("The record cannot be understood: {why}."))?;
    let units = config.units;
    let mut lines = Vec::new();
    let mut add = |word: &str, text: String| lines.push(format!("{word:<10}{text}"));
    if is_done {
        add("job", format!("{}, finished", record.job));
    } else {
        add("plan", "what would be done; nothing is moved, nothing is made".to_owned());
    }
    design(&record, units, &mut add);
    sheets(&record, units, &mut add);
    seams(&record, &mut add);
    colour(&record, &mut add);
    if let Some(press) = &record.press {
        pressing(press, units, &mut add);
    }
    record.warnings.iter().for_each(|warning| add("warning", warning.clone()));
    record.remarks.iter().for_each(|remark| add("why", remark.clone()));
    let signs = if terminal::is_utf8() { Signs::Boxes } else { Signs::Ascii };
    let width = terminal::columns(io::stdout()).unwrap_or(WIDEST).min(WIDEST);
    lines.extend(lay_up(&record, usize::from(width), signs));
    Ok(lines.iter().map(|line| visible(line)).collect())
}

type Add<'a> = &'a mut dyn FnMut(&str, String);

/// The artwork on its blank.
fn design(record: &Record, units: Units, add: Add<'_>) {
    let (artwork, blank, design) = (&record.artwork, &record.blank, &record.design);
    let size = |width, height| format!("{} x {}", words::length(width, units), words::length(height, units));
    add("artwork", artwork.file.clone());
    add(
        "blank",
        format!(
            "{}, {}, {} ({})",
            blank.name,
            blank.shape,
            size(blank.width_um, blank.height_um),
            blank.substrate
        ),
    );
    let [x, y] = blank.placed_um.map(|at| words::length(at, units));
    add(
        "design",
        format!(
            "{}, {}, from the blank's left {x} and top {y}, face up",
            size(design.width_um, design.height_um),
            record.fit
        ),
    );
    let sheet = format!("the sheets carry {:.0}", design.sheet_ppi);
    add(
        "ppi",
        match &artwork.drawing {
            Some(drawing) => format!("a drawing ({}), sharp at any size; {sheet}", drawing.kind),
            None => {
                let [across, down] = design.artwork_ppi;
                let coarsest = across.min(down);
                let (width, height) = (artwork.width_px, artwork.height_px);
                format!("{coarsest:.0} of the picture's own, {width} x {height} px at this size; {sheet}")
            }
        },
    );
}

/// The paper and why it was taken.
fn sheets(record: &Record, units: Units, add: Add<'_>) {
    let sheets = counted(record.panels.len(), &format!("{} sheet", record.paper.name));
    let lap = record.lap_um.map(|lap| format!(", lapping by {}", words::length(lap, units)));
    let copies = if record.copies > 1 { format!(", {} times", record.copies) } else { String::new() };
    add(
        "sheets",
        format!("{sheets}{copies}, {}, by {}{}", record.orientation, record.printer, lap.unwrap_or_default()),
    );
    if !record.left_out.is_empty() {
        add("", "bare parts of the design get no paper".to_owned());
    }
    let mirrored = if record.mirrored {
        "yes: the paper lies ink side down on the blank"
    } else {
        "no: the print is seen through the goods, or the studio does not mirror"
    };
    add("mirrored", mirrored.to_owned());
}

fn seams(record: &Record, add: Add<'_>) {
    let of = |class: &str| -> Vec<&Seam> { record.seams.iter().filter(|seam| seam.class == class).collect() };
    let (bare, quiet, busy) = (of("bare"), of("quiet"), of("busy"));
    if record.seams.is_empty() {
        add("seams", "none".to_owned());
        return;
    }
    add(
        "seams",
        format!(
            "{}: {} across nothing printed, {} that artwork hides, {} across detail",
            record.seams.len(),
            bare.len(),
            quiet.len(),
            busy.len()
        ),
    );
    if !busy.is_empty() {
        let pairs: Vec<String> =
            busy.iter().map(|seam| format!("{}-{}", seam.between[0], seam.between[1])).collect();
        add("", format!("across detail: between panels {}", pairs.join(", ")));
    }
    if !record.keep_clear.is_empty() {
        add("", format!("kept clear of seams: {}", counted(record.keep_clear.len(), "place")));
    }
    if let Some(more) = record.one_more.as_ref() {
        let [few, many] = more.busy;
        add(
            "",
            match more.taken {
                true => format!(
                    "{} were taken, for {many} across detail in place of {few}",
                    counted_sheets(more.sheets)
                ),
                false => format!(
                    "with {} it would be {many} across detail in place of {few}: `extra_sheets` in the order allows it",
                    counted_sheets(more.sheets)
                ),
            },
        );
    }
}

fn counted_sheets(sheets: u32) -> String {
    counted(usize::try_from(sheets).unwrap_or(usize::MAX), "sheet")
}

fn colour(record: &Record, add: Add<'_>) {
    let Some(colour) = &record.colour else { return };
    let named = record.artwork.profile.as_deref().unwrap_or("sRGB");
    let source = match colour.source.as_str() {
        "embedded" => format!("by the file's own profile, {named}"),
        "described" => format!("as the file describes them, {named}"),
        "srgb" => "sRGB, as the file says".to_owned(),
        _ => "taken as sRGB, for the file does not say".to_owned(),
    };
    let converted = colour.converted.as_ref().map_or_else(String::new, |conversion| {
        format!("; converted to {}, {}", conversion.to, conversion.intent)
    });
    add("colour", format!("{source}{converted}"));
    add("", colour.instruction.clone());
    if let Some(range) = &colour.range {
        add("", format!("{:.1} % of the design is beyond what the printer reaches", range.share * 100.0));
    }
    if let Some(ink) = &colour.ink {
        let ml = ink.ml.map_or_else(String::new, |ml| format!(", about {ml:.1} ml"));
        add("ink", format!("{:.0} % of full coverage{ml}", ink.coverage * 100.0));
    }
}

fn pressing(press: &Press, units: Units, add: Add<'_>) {
    let places = counted(press.placements.len(), "placement");
    let total = words::minutes(u64::from(press.total_s));
    add(
        "press",
        format!(
            "{}, {places}, {} s each at {}, {total} in all",
            press.name,
            press.dwell_s,
            words::heat(press.heat_c, units)
        ),
    );
    add("", format!("heat and time: {}", press.origin));
    if press.placements.len() > 1 {
        let what = if press.moves == "work" { "the work is moved" } else { "the plate is moved" };
        add("", format!("{what}; {:.1} % of the ink is heated again", press.heated_twice * 100.0));
    }
    if press.placements.len() <= MOST_PLACES {
        let place = |place: &record::Placement| {
            let [x, y, ..] = place.blank_um;
            format!("{}: {}, {}", place.n, words::length(x, units), words::length(y, units))
        };
        let all: Vec<String> = press.placements.iter().map(place).collect();
        add("", format!("the plate's left and top from the blank's, face up: {}", all.join("; ")));
    }
}

/// The panels as they lie, and which side is up.
fn lay_up(record: &Record, width: usize, signs: Signs) -> Vec<String> {
    let cell = |panel: &record::Panel| {
        let [x, y, width, height] = panel.cell_um;
        let across = if record.mirrored { record.design.width_um - x - width } else { x };
        Cell { number: panel.panel, row: panel.row, at: [across, y, width, height] }
    };
    let cells: Vec<Cell> = record.panels.iter().map(cell).collect();
    let side = if record.mirrored { "; on the blank left and right are exchanged" } else { "" };
    let mut lines = vec![String::new(), format!("The lay-up, INK SIDE UP{side}:"), String::new()];
    lines.extend(drawing::lines(&cells, width, signs));
    lines
}
