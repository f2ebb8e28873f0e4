//! Programs of the studio's own: the shipped examples, the check, what is kept of them, and every harm they may do.

mod examples;
mod harms;

use std::fs;
use std::path::Path;

use crate::studio::Studio;

/// The list of stages with a program where pictures may still be changed, at few pixels per inch.
const STAGES: &str = "[{resize: {ppi: 40}}, {program: trick}, {profile: {do: tag}}, mirror, {overlap: {lap: 5mm}}, tile, marks, press]";

const ORDER: &str = "{blank: place-mat-18x12, allow_low_ppi: yes}";

/// A studio with one program, `trick`, in shell.
fn with_trick(manifest: &str, script: &str, more: &str) -> Studio {
    let studio = Studio::new(&format!("stages: {STAGES}\nwriters: [sheets, record]\n{more}"));
    let manifest = format!("command: [sh, \"{{here}}/trick.sh\"]\n{manifest}\n");
    studio.put("../programs/trick.yaml", manifest.as_bytes());
    studio.put("../programs/trick.sh", script.as_bytes());
    studio
}

/// A studio with the shipped examples.
fn with_examples(stages: &str, writers: &str) -> Studio {
    let studio = Studio::new(&format!("stages: {stages}\nwriters: {writers}"));
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/demo/programs");
    for file in fs::read_dir(shipped).expect("the shipped programs") {
        let path = file.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        studio.put(&format!("../programs/{name}"), &fs::read(&path).expect("a file"));
    }
    studio
}

/// Whether a program is there in the only places where programs are looked for; says so where it is not.
#[expect(clippy::print_stdout, reason = "whoever runs the tests is to see what was not")]
fn is_there(program: &str) -> bool {
    let there = ["/usr/local/bin", "/usr/bin", "/bin"].iter().any(|at| Path::new(at).join(program).exists());
    if !there {
        println!("SKIPPED: {program} is not on this machine");
    }
    there
}

/// Whether a process with this among its words runs anywhere.
fn runs(word: &str) -> bool {
    let entries = fs::read_dir("/proc").expect("/proc").flatten();
    entries
        .filter_map(|entry| fs::read(entry.path().join("cmdline")).ok())
        .any(|line| line.split(|byte| *byte == 0).any(|part| part == word.as_bytes()))
}
