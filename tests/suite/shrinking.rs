//! A blank that shrinks under the press, measured and entered from the outside: what is pressed has the size that was asked for.

use std::fs;

use lopdf::Document;
use serde_json::Value;

use crate::studio::{Studio, png, record};

const STAGES: &str =
    "stages: [{resize: {ppi: 60}}, lettering, profile, mirror, overlap, tile, marks, press]\nunits: metric";

/// What 600 mm become under this press, across and down the cloth.
const PRESSED: [f64; 2] = [588.0, 594.0];

fn said(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn shrink(studio: &Studio, words: &[&str]) -> (bool, String) {
    let output = studio.command("shrink").args(words).output().expect("the program runs");
    (output.status.success(), said(&output))
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|number| number.as_f64().expect("a number")).collect()
}

/// A studio whose cloth was measured, with one job worked.
fn worked(order: &str) -> (Studio, Value) {
    let studio = Studio::new(STAGES);
    studio.put(
        "../blanks/cloth.yaml",
        b"{width: 520mm, height: 420mm, substrate: polyester-cloth, ppi_floor: 20, ppi_refuse: 20}",
    );
    let (well, told) =
        shrink(&studio, &["cloth", "--marked", "600mm", "--width", "588mm", "--height", "594mm"]);
    assert!(well && told.contains("1.02041 times as wide and 1.01010 times as high"), "{told}");
    studio.put("chart.png", &png(900, 900));
    studio.put("chart.yaml", format!("blank: cloth\n{order}\n").as_bytes());
    let output = studio.once();
    assert!(output.status.success(), "{}", said(&output));
    let job = studio.finished().pop().expect("a job");
    let record = record(&job);
    (studio, record)
}

#[test]
fn the_design_has_its_size_after_pressing() {
    let (studio, record) = worked("size: {width: 450mm, height: 380mm}");
    let job = studio.finished().pop().expect("a job");
    // What each panel shows is drawn on its page, and comes out of the press shorter.
    let mut edges = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    for panel in record["panels"].as_array().expect("panels") {
        let (face, drawn) = (numbers(&panel["face_um"]), numbers(&panel["page_pt"]));
        for side in [0, 1] {
            let drawn_um = drawn[2 + side] / 72.0 * 25_400.0;
            assert!((drawn_um - face[2 + side]).abs() < 4.0, "paper is printed at the size before pressing");
            edges[side] = edges[side].min(face[side]);
            edges[2 + side] = edges[2 + side].max(face[side] + face[2 + side]);
        }
    }
    let picture = numbers(&record["design"]["picture_um"]);
    let pressed = |um: f64, side: usize| um * PRESSED[side] / 600.0;
    // The picture is square and as high as the design.
    for side in [0, 1] {
        assert!((pressed(picture[2 + side], side) - 380_000.0).abs() < 50.0, "{picture:?}");
        assert!((pressed(edges[2 + side] - edges[side], side) - 380_000.0).abs() < 50.0, "{edges:?}");
    }
    let design = [&record["design"]["width_um"], &record["design"]["height_um"]];
    let design = design.map(|side| side.as_f64().expect("a number"));
    assert!(
        (pressed(design[0], 0) - 450_000.0).abs() < 1.0 && (pressed(design[1], 1) - 380_000.0).abs() < 1.0
    );
    assert_eq!(record["blank"]["shrink"]["pressed_um"], serde_json::json!([588_000, 594_000]));
    let notes = fs::read_to_string(job.join("notes.txt")).expect("notes");
    let notes = notes.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(notes.contains("588 mm across and 594 mm down"), "the notes say so: {notes}");
    let pages = Document::load(job.join("sheets.pdf")).expect("the sheets").get_pages().len();
    assert_eq!(pages, record["panels"].as_array().expect("panels").len());
    // A later measurement concerns later jobs.
    let (well, _) = shrink(&studio, &["cloth", "--marked", "600mm", "--width", "600mm", "--height", "600mm"]);
    let id = record["job"].as_str().expect("a name");
    let again = studio.command("again").arg(id).output().expect("the program runs");
    assert!(well && again.status.success(), "made again by what was measured then: {}", said(&again));
}

#[test]
fn all_of_a_blank_stays_all_of_it_and_words_shrink_with_it() {
    let (_, record) = worked(
        "fit: stretch\nlettering: [{text: HHH, box: {x: 100mm, y: 100mm, width: 300mm, height: 200mm}, size: 80mm}]",
    );
    assert_eq!(record["design"]["width_um"], 520_000);
    assert_eq!(record["design"]["height_um"], 420_000);
    let plain = Studio::new(STAGES);
    plain.put(
        "../blanks/cloth.yaml",
        b"{width: 520mm, height: 420mm, substrate: polyester-cloth, ppi_floor: 20, ppi_refuse: 20}",
    );
    plain.put("chart.png", &png(900, 900));
    plain.put(
        "chart.yaml",
        b"blank: cloth\nfit: stretch\nlettering: [{text: HHH, box: {x: 100mm, y: 100mm, width: 300mm, height: 200mm}, size: 80mm}]\n",
    );
    let output = plain.once();
    assert!(output.status.success(), "{}", said(&output));
    let plain = crate::studio::record(&plain.finished().pop().expect("a job"));
    let ink = |record: &Value| numbers(&record["lettering"][0]["ink_um"]);
    for (side, (printed, asked)) in ink(&record).into_iter().zip(ink(&plain)).enumerate() {
        let pressed = printed * PRESSED[side % 2] / 600.0;
        assert!((pressed - asked).abs() < 3.0, "{side}: {pressed} for {asked}");
    }
}

#[test]
fn what_no_blank_does_is_not_entered() {
    let studio = Studio::new("");
    for (words, why) in [
        (
            ["door-mat-30x18", "--marked=600mm", "--width=58.8mm", "--height=594mm"],
            "cannot become 58.8 mm across",
        ),
        (
            ["door-mat-30x18", "--marked=600mm", "--width=588mm", "--height=700mm"],
            "cannot become 700 mm down",
        ),
        (["door-mat-30x18", "--marked=600mm", "--width=588mm", "--height=0mm"], "above zero"),
        (
            ["door-mat-30x81", "--marked=600mm", "--width=588mm", "--height=594mm"],
            "Did you mean `door-mat-30x18`?",
        ),
    ] {
        let (well, told) = shrink(&studio, &words);
        assert!(!well && told.contains(why), "{told}");
    }
    assert!(!studio.path("blanks").exists(), "nothing is kept");
    let (well, told) = shrink(&studio, &["door-mat-30x18"]);
    assert!(well && told.contains("mark two points 600 mm apart"), "{told}");
    studio.put("../blanks/door-mat-30x18.shrink", b"{marked: 600mm, width: 6mm, height: 594mm}");
    let check = studio.command("check").output().expect("the program runs");
    assert!(
        !check.status.success() && said(&check).contains("door-mat-30x18.shrink is not in order"),
        "{}",
        said(&check)
    );
}
