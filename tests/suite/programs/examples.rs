//! The shipped examples at work, the check, and what is kept of a program.

use std::fs;

use serde_json::json;

use super::{ORDER, is_there, with_examples, with_trick};
use crate::studio::{Studio, name, png, record};

const STAGES: &str = "[{resize: {ppi: 40}}, {program: deepen}, {profile: {do: tag}}, mirror, {overlap: {lap: 5mm}}, tile, marks, press]";
const WRITERS: &str = "[sheets, {program: slip}, record]";

fn put_one(studio: &Studio) {
    studio.put("chart.png", &png(360, 240));
    studio.put("chart.yaml", ORDER.as_bytes());
}

/// What a command says, and whether it ended well.
fn told(studio: &Studio, words: &[&str]) -> (String, bool) {
    let output = studio.command(words[0]).args(&words[1..]).output().expect("the program runs");
    let said = [output.stdout, output.stderr].concat();
    (String::from_utf8_lossy(&said).into_owned(), output.status.success())
}

#[test]
fn both_examples_have_their_part_in_a_job() {
    if !is_there("python3") {
        return;
    }
    let studio = with_examples(STAGES, WRITERS);
    put_one(&studio);
    let output = studio.once();
    assert!(output.status.success(), "{output:?}");
    let job = studio.finished().remove(0);
    let slip = fs::read_to_string(job.join("slip.txt")).expect("the slip");
    let record = record(&job);
    let sheets = record["panels"].as_array().expect("panels").len();
    let places = record["press"]["placements"].as_array().expect("placements").len();
    for expected in [
        format!("{}\non place-mat-18x12, 1 of it\n", name(&job)),
        format!("[ ] {sheets} sheets printed"),
        format!("pressed at {places} places, {} s each", record["press"]["dwell_s"]),
    ] {
        assert!(slip.contains(&expected), "{expected:?} in {slip}");
    }
    assert_eq!(record["files"]["slip.txt"], "text/plain");
    assert_eq!(record["programs"][0]["program"], "deepen");
    assert!(record["programs"][0]["sha256"]["deepen.py"].is_string(), "{}", record["programs"]);
    let remark = json!("deepen: The middle tones are deepened by a power of 1.12.");
    assert!(record["remarks"].as_array().expect("remarks").contains(&remark));
    let log = String::from_utf8_lossy(&output.stderr);
    assert!(log.contains("middle tones deepened by 1.12") && log.contains("slip for"), "{log}");
}

#[test]
fn pixels_go_through_a_program_and_come_out_as_it_left_them() {
    if !is_there("python3") {
        return;
    }
    // By a power of 1 every sample stays, and a picture of the very pixels of its grid is surveyed alike; then the sheets are those of a studio without the program, to the byte.
    let plain = with_examples(&STAGES.replace("{program: deepen}, ", ""), "[sheets, record]");
    let through = with_examples(STAGES, "[sheets, record]");
    let manifest = fs::read_to_string(through.path("programs/deepen.yaml")).expect("the manifest");
    through.put("../programs/deepen.yaml", manifest.replace("1.12", "1").as_bytes());
    let deeper = with_examples(STAGES, "[sheets, record]");
    let sheets = |studio: &Studio| {
        studio.put("chart.png", &png(710, 470));
        studio.put("chart.yaml", ORDER.as_bytes());
        assert!(studio.once().status.success());
        fs::read(studio.finished()[0].join("sheets.pdf")).expect("sheets")
    };
    let without = sheets(&plain);
    assert!(sheets(&through) == without, "passed through unchanged");
    assert!(sheets(&deeper) != without, "and changed");
}

#[test]
fn the_check_finds_examples_well_and_says_what_is_not() {
    if is_there("python3") {
        let studio = with_examples(STAGES, WRITERS);
        for (program, expected) in [("deepen", "a picture of 360 x 240 pixels"), ("slip", "files: slip.txt")]
        {
            let (said, well) = told(&studio, &["check", "--program", program]);
            assert!(well && said.contains(expected) && !said.contains("WRONG"), "{said}");
            assert!(said.contains("the same when it is run again"), "{said}");
        }
        let (said, well) = told(&studio, &["check", "--program", "deepn"]);
        assert!(!well && said.contains("Did you mean `deepen`?"), "{said}");
    }
    for (manifest, script, expected) in [
        ("", "echo hello", "not one JSON object"),
        ("", "exit 7", "code 7"),
        (
            "gives: [note]",
            "echo \"{\\\"protocol\\\": 1, \\\"note\\\": \\\"$(cat /proc/sys/kernel/random/uuid)\\\"}\"",
            "something else",
        ),
        ("", "sleep 100 & echo '{\"protocol\": 1}'", "1 processes running"),
        ("needs: [panels]\ngives: [picture]", "echo '{\"protocol\": 1}'", "gives no picture"),
    ] {
        let studio = with_trick(manifest, script, "stages: [{resize: {ppi: 40}}]\nwriters: [record]");
        let studio_yaml = "quiet: 0s\n";
        studio.put("../seamwright.yaml", studio_yaml.as_bytes());
        let (said, well) = told(&studio, &["check", "--program", "trick"]);
        assert!(!well && said.contains("WRONG") && said.contains(expected), "{script}: {said}");
    }
}

#[test]
fn a_program_stands_where_it_can_work() {
    let list = |stages: &str| {
        let studio = with_trick("needs: [picture]\ngives: [picture]", "", "");
        studio.put("../seamwright.yaml", format!("stages: {stages}").as_bytes());
        told(&studio, &["check"])
    };
    let rest = "mirror, {overlap: {lap: 5mm}}, tile, marks, press]";
    let (said, well) = list(&format!("[resize, {{profile: {{do: tag}}}}, {{program: trick}}, {rest}"));
    assert!(!well && said.contains("Move `program` up, before `profile`"), "{said}");
    let (said, well) = list(&format!("[{{program: trick}}, resize, {{profile: {{do: tag}}}}, {rest}"));
    assert!(!well && said.contains("Move `resize` up, before `program`"), "{said}");
    let (said, well) = list(&format!("[resize, {{program: trik}}, {{profile: {{do: tag}}}}, {rest}"));
    assert!(!well && said.contains("Did you mean `trick`?"), "{said}");
    let (said, well) =
        list(&format!("[resize, {{program: trick}}, {{program: trick}}, {{profile: {{do: tag}}}}, {rest}"));
    assert!(well, "twice is as good as once: {said}");
}

#[test]
fn what_is_kept_of_a_program_makes_the_sheets_again() {
    if !is_there("python3") {
        return;
    }
    let studio = with_examples(STAGES, "[sheets, record]");
    put_one(&studio);
    assert!(studio.once().status.success());
    let job = name(&studio.finished()[0]);
    // The studio's program is another by now, and gone from its list.
    studio.put("../programs/deepen.py", b"raise SystemExit(3)");
    studio.put("../seamwright.yaml", b"quiet: 0s\n");
    let (said, well) = told(&studio, &["again", &job]);
    assert!(well && said.contains("the same as before"), "{said}");

    let kept = studio.path("kept").join(&job).join("programs/deepen.py");
    let script = fs::read_to_string(&kept).expect("the program is kept");
    let other = script.replace("round(white * (", "round(white * 0.9 * (");
    studio.put(&format!("../kept/{job}/programs/deepen.py"), other.as_bytes());
    let (said, well) = told(&studio, &["again", &job]);
    assert!(!well && said.contains("image_sha256 was"), "{said}");
    assert!(said.contains("programs 1.sha256.deepen.py was"), "what differs is named: {said}");
    fs::remove_file(&kept).expect("no program");
    let (said, well) = told(&studio, &["again", &job]);
    assert!(!well && said.contains("there is no file deepen.py"), "{said}");
}

#[test]
fn a_program_of_many_files_goes_along_whole() {
    // It reads a file that its command does not name, in a folder of its own, both tonight and when it is run again.
    let script = "cat >/dev/null; . \"${0%/*}/words/said.sh\"; printf '{\"protocol\": 1, \"note\": \"%s\"}' \"$said\"\n";
    let studio = with_trick("gives: [note]", script, "");
    studio.put("../programs/words/said.sh", b"said=hello");
    put_one(&studio);
    let output = studio.once();
    let log = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{log}");
    let job = name(&studio.finished()[0]);
    let kept = studio.path("kept").join(&job).join("programs");
    assert!(kept.join("trick.sh").is_file() && kept.join("words/said.sh").is_file(), "all of it is kept");
    assert!(!kept.join("trick.yaml").exists(), "its manifest stands in order.yaml");

    studio.put("../programs/words/said.sh", b"exit 3");
    let (said, well) = told(&studio, &["again", &job]);
    assert!(well && said.contains("the same as before"), "{said}");
    fs::remove_file(kept.join("words/said.sh")).expect("a part of it is gone");
    let (said, well) = told(&studio, &["again", &job]);
    assert!(!well && said.contains("`trick` failed twice"), "{said}");
}

#[test]
fn what_is_too_large_to_go_along_is_told_at_the_start() {
    let check = |studio: &Studio| told(studio, &["check"]);
    let studio = with_trick("", "", "");
    let (said, well) = check(&studio);
    assert!(well, "{said}");
    let large = fs::File::create(studio.path("programs/model.bin")).expect("a file");
    large.set_len(65 << 20).expect("a hole in it");
    let (said, well) = check(&studio);
    assert!(!well && said.contains("programs/") && said.contains("more than 64 MiB in it"), "{said}");
    assert!(said.contains("Install elsewhere what is large"), "{said}");

    let studio = with_trick("", "", "");
    let fill = |folder: &str| {
        (0..1000).for_each(|number| studio.put(&format!("../programs/{folder}/{number}"), b""));
    };
    fill(".history");
    let (said, well) = check(&studio);
    assert!(well, "what is hidden does not count: {said}");
    fill("many");
    let (said, well) = check(&studio);
    assert!(!well && said.contains("more than 1000 files"), "{said}");
}

#[test]
fn rows_are_others_where_the_manifest_is() {
    let studio = with_trick("gives: [note]", "printf '{\"protocol\": 1, \"note\": \"a\"}'\n", "");
    let made = || {
        studio.put("chart.png", &png(360, 240));
        studio.put("names.csv", b"name\nAda\nBo\n");
        studio.put("chart.yaml", ORDER.replace('}', ", list: names.csv}").as_bytes());
        assert!(studio.once().status.success());
        studio.finished().iter().filter(|job| job.join("record.json").is_file()).count()
    };
    assert_eq!(made(), 2);
    // What a setting names counts by its name, as a printer's profile does.
    studio.put("../programs/trick.sh", b"printf '{\"protocol\": 1, \"note\": \"b\"}'\n");
    assert_eq!(made(), 2, "they are made already");
    let manifest = "command: [sh, \"{here}/trick.sh\", again]\ngives: [note]\n";
    studio.put("../programs/trick.yaml", manifest.as_bytes());
    assert_eq!(made(), 4, "both are made anew");
}
