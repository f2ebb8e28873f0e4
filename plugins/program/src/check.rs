//! A program tried on a sample: what of it keeps to the protocol and what does not, in plain words.

use std::io;
use std::path::Path;

use seamwright_contract::picture::{Band, Channels, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::plugin::Fact;
use seamwright_contract::settings::{Complaint, Complaints, Node, Value as Settings};
use seamwright_contract::units::Bytes;
use seamwright_contract::{Fault, num};
use serde_json::{Value, json};

use crate::answer::Done;
use crate::attempt::{self, Failed, Ready};
use crate::manifest::{self, Gift, Program};
use crate::raster;
use crate::request;
use crate::scratch::Scratch;
use crate::supervisor::{End, Report};
use crate::{NAME, PROTOCOL};

/// The sample's picture.
const SIZE: Pixels = Pixels::new(360, 240);
const PPI: f64 = 72.0;

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Check {
    /// Whether it is as it should be.
    pub well: bool,
    /// What it is.
    pub what: String,
}

/// Runs the program of a manifest on a sample, twice, in a folder that may be used.
///
/// # Errors
/// What is wrong with the manifest.
pub fn check(settings: &Settings, scratch: &Path) -> Result<Vec<Check>, Vec<Complaint>> {
    let complaints = Complaints::new();
    let program = manifest::read(&Node::root(settings, &complaints));
    let complaints = complaints.into_list();
    let Some(program) = program.filter(|_| complaints.is_empty()) else { return Err(complaints) };
    let mut found = Vec::new();
    let mut say = |well: bool, what: String| found.push(Check { well, what });
    let first = match tried(&program, scratch) {
        Ok(first) => first,
        Err(why) => {
            say(false, format!("It could not be tried: {why}."));
            return Ok(found);
        }
    };
    told(&program, &first, &mut say);
    if let Ok(done) = &first.done {
        match tried(&program, scratch) {
            Ok(Tried { done: Ok(second), .. }) if same(done, &second) => {
                say(true, "It gives the same when it is run again, so sheets can be made again.".to_owned());
            }
            Ok(_) => say(
                false,
                "It gives something else when it is run again: sheets could not be made again to the byte. Let it use no clock and no chance.".to_owned(),
            ),
            Err(why) => say(false, format!("It could not be tried again: {why}.")),
        }
    }
    Ok(found)
}

/// What came of one run.
struct Tried {
    report: Report,
    done: Result<Done, Failed>,
}

fn tried(program: &Program, folder: &Path) -> io::Result<Tried> {
    let scratch = Scratch::new(folder)?;
    let untried = |why: Failed| match why {
        Failed::Machine(fault) | Failed::Refused(fault) => io::Error::other(fault.to_string()),
        Failed::Program(what) => io::Error::other(what),
    };
    let bytes = attempt::picture_bytes(program, &Sample);
    let ready = Ready::new(program, &scratch, bytes).map_err(untried)?;
    let given = if program.wants_picture {
        let given = raster::write(&Sample, PPI, None, Some("sRGB".to_owned()), &scratch);
        Some(given.map_err(|fault| io::Error::other(fault.to_string()))?)
    } else {
        None
    };
    let report = ready.go(&sample(program, given.as_ref().map(request::handed_over))).map_err(untried)?;
    let wanted = program.gives(Gift::Picture).then_some((SIZE, Channels::Rgb));
    let done = attempt::ended(program, &report, &scratch, wanted.as_ref());
    Ok(Tried { report, done })
}

/// What there is to say of a run.
fn told(program: &Program, tried: &Tried, say: &mut impl FnMut(bool, String)) {
    let Tried { report, done } = tried;
    for line in String::from_utf8_lossy(&report.log).lines().filter(|line| !line.trim().is_empty()) {
        say(true, format!("It says for the log: {}", attempt::shown(line)));
    }
    match done {
        Ok(done) => {
            say(true, format!("It ends with code 0 and answers one JSON object of protocol {PROTOCOL}."));
            gifts(program, done, say);
        }
        Err(Failed::Refused(fault)) => {
            say(true, format!("It refuses the sample, as programs may: {} {}", fault.what, fault.cure));
        }
        Err(Failed::Program(what)) => say(false, what.clone()),
        Err(Failed::Machine(fault)) => say(false, fault.to_string()),
    }
    if !matches!(report.end, End::Time | End::Memory) {
        let (took, peak) = (report.took.as_secs_f64(), report.peak.div_ceil(1_000_000));
        let (time, memory) = (program.time.as_secs(), Bytes(program.memory));
        say(true, format!("It took {took:.2} s of {time} s, and {peak} MB of {memory} of memory."));
    }
    if report.left > 0 {
        say(false, format!("It left {} processes running when it ended; they were ended.", report.left));
    }
}

fn gifts(program: &Program, done: &Done, say: &mut impl FnMut(bool, String)) {
    for gift in &program.gives {
        let there = match gift {
            // Without one it would not have come here.
            Gift::Picture => {
                Some(format!("a picture of {} x {} pixels, as it was given", SIZE.width, SIZE.height))
            }
            Gift::KeepClear => {
                Some(done.keep_clear.len()).filter(|n| *n > 0).map(|n| format!("{n} of `keep_clear`"))
            }
            Gift::ExtraSheets => done.extra_sheets.map(|sheets| format!("`extra_sheets`: {sheets}")),
            Gift::Note => done.note.as_ref().map(|note| format!("the note: {note}")),
            Gift::Files => Some(&done.files).filter(|files| !files.is_empty()).map(|files| {
                let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
                format!("files: {}", names.join(", "))
            }),
        };
        match there {
            Some(what) => say(true, format!("It gives {what}.")),
            None => say(true, format!("It may give `{}`, and does not give it here.", gift.word())),
        }
    }
    for text in &done.remarks {
        say(true, format!("It remarks: {text}"));
    }
    for text in &done.warnings {
        say(true, format!("It warns: {text}"));
    }
}

/// Whether two runs gave the same. Files are told apart by their names; what is in them may have a date.
fn same(one: &Done, other: &Done) -> bool {
    let names = |done: &Done| -> Vec<String> { done.files.iter().map(|(name, _)| name.clone()).collect() };
    let pixels = |done: &Done| {
        done.picture.as_ref().map(|picture| {
            let mut band = Band::empty();
            picture.fill(Window::whole(SIZE), &mut band).map(|()| band).map_err(|fault| fault.to_string())
        })
    };
    let facts = |done: &Done| {
        let Done { keep_clear, extra_sheets, note, remarks, warnings, .. } = done;
        (keep_clear.clone(), *extra_sheets, note.clone(), remarks.clone(), warnings.clone())
    };
    facts(one) == facts(other) && names(one) == names(other) && pixels(one) == pixels(other)
}

/// All colours that change into one another, for programs to do something to.
#[derive(Debug)]
struct Sample;

impl Picture for Sample {
    fn size(&self) -> Pixels {
        SIZE
    }

    fn format(&self) -> Format {
        Format::RGB8
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), Format::RGB8);
        let Samples::Eight(samples) = &mut out.samples else {
            return Err(Fault::defect("a band did not take the depth it was given"));
        };
        let byte = |value: u32| u8::try_from(value).unwrap_or(u8::MAX);
        let pixels =
            (want.y..want.y + want.height).flat_map(|y| (want.x..want.x + want.width).map(move |x| (x, y)));
        for ((x, y), pixel) in pixels.zip(samples.as_chunks_mut::<3>().0) {
            *pixel = [byte(x * 255 / SIZE.width), byte(y * 255 / SIZE.height), byte((x + y) / 3)];
        }
        Ok(())
    }

    fn reduced(&self, _size: Pixels) -> Result<Band, Fault> {
        Err(Fault::defect("nobody looks at the sample from afar"))
    }
}

/// What a program is told of the sample: no more than it says it needs, for more need not be there.
pub(crate) fn sample(program: &Program, picture: Option<Value>) -> Value {
    let um = |pixels: u32| num::round(f64::from(pixels) / PPI * 25_400.0);
    let (width, height) = (um(SIZE.width), um(SIZE.height));
    let with = |fact: Fact, value: Value| if program.needs.contains(&fact) { value } else { Value::Null };
    let whole = [0, 0, width, height];
    json!({
        "protocol": PROTOCOL,
        "program": program.name,
        "job": "sample-0a1b2c",
        "artwork": {"file": "sample.png", "sha256": "0".repeat(64), "width_px": SIZE.width, "height_px": SIZE.height},
        "picture": picture,
        "order": {
            "copies": 2,
            "note": "by the door, please",
            "fields": {"name": "Ada"},
            "printer": "desk-letter",
            "press": "hand-12x10",
            "keep_clear": [],
            "extra_sheets": 0,
        },
        "blank": {
            "name": "sample-mat",
            "substrate": "polyester-mat",
            "shape": "rectangle",
            "width_um": width,
            "height_um": height,
            "placed_um": [0, 0],
        },
        "design": with(Fact::Design, json!({
            "width_um": width, "height_um": height, "picture_um": whole, "sheet_ppi": PPI,
        })),
        "mirrored": true,
        "lap_um": with(Fact::Lap, json!(5000)),
        "paper": with(Fact::Panels, json!({"name": "letter", "width_um": 279_400, "height_um": 215_900})),
        "panels": with(Fact::Panels, json!([{
            "panel": 1, "row": 1, "column": 1, "page": 1,
            "face_um": whole, "cell_um": whole, "trim": [], "on_top_of": [],
        }])),
        "press": with(Fact::Press, json!({
            "placements": [{"n": 1, "blank_um": [0, 0, 304_800, 254_000], "turned": false, "start_s": 10}],
            "heat_c": 195.0, "dwell_s": 53, "total_s": 243,
        })),
        "warnings": [format!("{NAME}: this is a sample")],
        "remarks": [],
    })
}
