//! What a maker has in the first hour: a catalogue that says where its figures come from.

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::Output;

use crate::studio::Studio;

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn save(path: &Path, bytes: impl AsRef<[u8]>) {
    let mut file = fs::File::create(path).expect("a file");
    file.write_all(bytes.as_ref()).expect("its bytes");
}

#[test]
fn the_catalogue_is_listed_with_the_source_of_every_figure() {
    let studio = Studio::new("");
    fs::create_dir(studio.path("blanks")).expect("a folder");
    let own =
        "width: 24in\nheight: 24in\nshape: round\nsubstrate: polyester-mat\norigin: measured on Monday\n";
    save(&studio.path("blanks/round-mat-24.yaml"), own);
    save(&studio.path("blanks/gull-mat.yaml"), own);
    let all = said(&studio.command("catalogue").output().expect("it runs"));
    for kind in ["BLANKS", "PAPERS", "PRINTERS", "PRESSES", "SUBSTRATES"] {
        assert!(all.lines().any(|line| line == kind), "{kind} in {all}");
    }
    let blanks = said(&studio.command("catalogue").arg("blanks").output().expect("it runs"));
    let line =
        |name: &str| blanks.lines().find(|line| line.starts_with(name)).unwrap_or_else(|| panic!("{blanks}"));
    assert!(line("gull-mat").ends_with("studio                2"), "{blanks}");
    assert!(line("round-mat-24").ends_with("studio, over shipped  2"), "{blanks}");
    assert!(line("door-mat-30x18").ends_with("shipped               1"), "{blanks}");
    assert_eq!(line("source 1"), "source 1: common practice, no source");
    assert_eq!(line("source 2"), "source 2: measured on Monday");
    for word in ["not stated", "PAPERS"] {
        assert!(!blanks.contains(word), "{word} in {blanks}");
    }
}
