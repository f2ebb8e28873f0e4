//! A printer that stretches, measured and entered from the outside: what comes out of it afterwards has its true size.

use std::fs;

use lopdf::Document;
use serde_json::Value;

use crate::studio::{Studio, png, record};

/// How far what comes out may be from what it should be, in micrometres.
const OFF: f64 = 50.0;

fn said(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn calibrate(studio: &Studio, words: &[&str]) -> (bool, String) {
    let output = studio.command("calibrate").args(words).output().expect("the program runs");
    (output.status.success(), said(&output))
}

/// The numbers under a key of a page.
fn sides(document: &Document, page: lopdf::ObjectId, key: &[u8]) -> Vec<f64> {
    let array = document.get_dictionary(page).expect("a page").get(key).expect("a box");
    array
        .as_array()
        .expect("numbers")
        .iter()
        .map(|side| f64::from(side.as_float().expect("a number")))
        .collect()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|number| number.as_f64().expect("a number")).collect()
}

#[test]
fn a_printer_measured_and_entered_prints_at_true_size() {
    // The feed is 0.44 % short, across it is a little long.
    let (along, across) = (248.9 / 250.0, 190.2 / 190.0);
    for orientation in ["portrait", "landscape"] {
        let studio =
            Studio::new("stages: [{resize: {ppi: 60}}, profile, mirror, overlap, tile, marks, press]");
        let (well, page) = calibrate(&studio, &["desk-letter", "--paper", "letter"]);
        let file = studio.path("outgoing/desk-letter-letter-calibration.pdf");
        assert!(well && page.contains("desk-letter-letter-calibration.pdf") && file.is_file(), "{page}");
        let (well, told) = calibrate(
            &studio,
            &["desk-letter", "--paper", "letter", "--along", "248.9mm", "--across", "190.2 mm"],
        );
        assert!(well && told.contains("1.00442") && told.contains("0.99895"), "{told}");
        let picture = png(900, 700);
        studio.put("chart.png", &picture);
        let order = format!(
            "blank: {{width: 19in, height: 13in, substrate: polyester-mat, ppi_floor: 20, ppi_refuse: 20}}\norientation: {orientation}\n"
        );
        studio.put("chart.yaml", order.as_bytes());
        let output = studio.once();
        assert!(output.status.success(), "{}", said(&output));
        let job = studio.finished().pop().expect("a job");
        let record = record(&job);
        let sheets = Document::load(job.join("sheets.pdf")).expect("the sheets");
        let pages = sheets.get_pages();
        let stretch = if orientation == "portrait" { [across, along] } else { [along, across] };
        let panels = record["panels"].as_array().expect("panels");
        assert!(panels.len() >= 4, "{} panels", panels.len());
        for panel in panels {
            let scale = numbers(&panel["scale"]);
            assert!(
                (scale[0] * stretch[0] - 1.0).abs() < 1e-6 && (scale[1] * stretch[1] - 1.0).abs() < 1e-6,
                "{scale:?}"
            );
            let (face, drawn) = (numbers(&panel["face_um"]), numbers(&panel["page_pt"]));
            let number = u32::try_from(panel["page"].as_u64().expect("a number")).expect("a page");
            let trim = sides(&sheets, pages[&number], b"TrimBox");
            for (side, (drawn_side, trim_side)) in
                [drawn[2], drawn[3]].iter().zip([trim[2] - trim[0], trim[3] - trim[1]]).enumerate()
            {
                assert!((drawn_side - trim_side).abs() < 0.01, "the file is drawn as the record says");
                let comes_out = trim_side * stretch[side] / 72.0 * 25_400.0;
                assert!(
                    (comes_out - face[2 + side]).abs() < OFF,
                    "{orientation}: {comes_out} for {}",
                    face[2 + side]
                );
            }
            let paper = sides(&sheets, pages[&number], b"MediaBox");
            let upright = if orientation == "portrait" { [612.0, 792.0] } else { [792.0, 612.0] };
            assert_eq!(paper[2..], upright, "the page stays the paper");
            let margin = 18.0 - 0.01;
            assert!(
                trim[0] >= margin
                    && trim[1] >= margin
                    && trim[2] <= paper[2] - margin
                    && trim[3] <= paper[3] - margin,
                "within the margins: {trim:?}"
            );
        }
        let notes = fs::read_to_string(job.join("notes.txt")).expect("notes");
        assert!(notes.contains("so this printer was measured on letter"), "the notes say so");
        let id = record["job"].as_str().expect("a name");
        let again = studio.command("again").arg(id).output().expect("the program runs");
        assert!(again.status.success(), "made again by the same factors: {}", said(&again));
    }
}

#[test]
fn panels_keep_within_the_margins_that_were_read_off_the_page() {
    let studio = Studio::new("stages: [{resize: {ppi: 60}}, profile, mirror, overlap, tile, marks, press]");
    let enter =
        |margins: &str| calibrate(&studio, &["desk-letter", "--paper", "letter", "--margins", margins]);
    for (margins, why) in
        [("3mm,3mm,3mm", "there are 3 margins"), ("3mm,3mm,90mm,3mm", "90 mm at the bottom is no margin")]
    {
        let (well, told) = enter(margins);
        assert!(!well && told.contains(why), "{told}");
    }
    let (well, told) = enter("3mm,4mm,17mm,9mm");
    assert!(
        well && told.contains("keep 3 mm free at the top, 4 mm at the right, 17 mm at the bottom"),
        "{told}"
    );
    // What is entered later leaves them as they are.
    let (well, _) = calibrate(&studio, &["desk-letter", "--paper", "letter", "--along", "249mm"]);
    let kept = fs::read_to_string(studio.path("printers/desk-letter.scale")).expect("what was measured");
    assert!(well && kept.contains("17 mm") && kept.contains("1.004"), "{kept}");
    studio.put("chart.png", &png(900, 700));
    studio.put(
        "chart.yaml",
        b"blank: {width: 19in, height: 13in, substrate: polyester-mat, ppi_floor: 20, ppi_refuse: 20}\norientation: portrait\n",
    );
    let output = studio.once();
    assert!(output.status.success(), "{}", said(&output));
    let job = studio.finished().pop().expect("a job");
    let sheets = Document::load(job.join("sheets.pdf")).expect("the sheets");
    // Right, top, bottom and left, from the edges of a page of 612 x 792 points.
    let point = 72.0 / 25.4;
    let mut least = [f64::MAX; 4];
    for id in sheets.get_pages().into_values() {
        let trim = sides(&sheets, id, b"TrimBox");
        let free = [792.0 - trim[3], 612.0 - trim[2], trim[1], trim[0]];
        least = std::array::from_fn(|side| least[side].min(free[side] / point));
    }
    for (side, margin) in [3.0, 4.0, 17.0, 9.0].into_iter().enumerate() {
        assert!(least[side] >= margin - 0.01, "{least:?}");
    }
    assert!(least[0] < 6.0 || least[1] < 6.0, "and what is free of them is used: {least:?}");
    let id = record(&job)["job"].as_str().expect("a name").to_owned();
    let again = studio.command("again").arg(id).output().expect("the program runs");
    assert!(again.status.success(), "made again within the same: {}", said(&again));
}

#[test]
fn the_pages_of_a_face_up_printer_run_backwards() {
    let studio = Studio::new("stages: [{resize: {ppi: 60}}, profile, mirror, overlap, tile, marks, press]");
    studio.put("../printers/up.yaml", b"{papers: [letter], margins: 6mm, delivers: face-up}");
    studio.put("chart.png", &png(900, 700));
    studio.put(
        "chart.yaml",
        b"blank: {width: 19in, height: 13in, substrate: polyester-mat, ppi_floor: 20, ppi_refuse: 20}\nprinter: up\n",
    );
    let output = studio.once();
    assert!(output.status.success(), "{}", said(&output));
    let job = studio.finished().pop().expect("a job");
    let record = record(&job);
    let sheets = Document::load(job.join("sheets.pdf")).expect("the sheets");
    let pages = sheets.get_pages();
    let panels = record["panels"].as_array().expect("panels");
    for (place, panel) in panels.iter().enumerate() {
        let page = u32::try_from(panels.len() - place).expect("a page");
        assert_eq!(panel["page"], page, "panel {}", place + 1);
        let (trim, drawn) = (sides(&sheets, pages[&page], b"TrimBox"), numbers(&panel["page_pt"]));
        assert!((trim[0] - drawn[0]).abs() < 0.01 && (trim[1] - drawn[1]).abs() < 0.01, "{trim:?} {drawn:?}");
    }
    let notes = fs::read_to_string(job.join("notes.txt")).expect("notes");
    let notes = notes.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(notes.contains(&format!("page 1 is panel {}", panels.len())), "the notes say so");
    let id = record["job"].as_str().expect("a name");
    let again = studio.command("again").args([id, "--panels", "1,3"]).output().expect("the program runs");
    assert!(again.status.success(), "{}", said(&again));
    let again =
        Document::load(studio.path(&format!("outgoing/{id}-again/sheets.pdf"))).expect("sheets again");
    let made: Vec<Vec<f64>> =
        again.get_pages().into_values().map(|page| sides(&again, page, b"TrimBox")).collect();
    let of = |panel: usize| {
        sides(&sheets, pages[&u32::try_from(panels.len() + 1 - panel).expect("a page")], b"TrimBox")
    };
    assert_eq!(made, [of(3), of(1)], "the panels that were named, in the order of the stack");
}

#[test]
fn what_no_printer_does_is_not_entered() {
    let studio = Studio::new("");
    for (words, why) in [
        (["desk-letter", "--paper", "letter", "--along", "240mm"], "too far from that"),
        (["desk-letter", "--paper", "letter", "--across", "9.9in"], "too far from that"),
        (["desk-letter", "--paper", "lettre", "--along", "250mm"], "Did you mean `letter`?"),
        (["desk-leter", "--paper", "letter", "--along", "250mm"], "Did you mean `desk-letter`?"),
    ] {
        let (well, told) = calibrate(&studio, &words);
        assert!(!well && told.contains(why), "{told}");
    }
    assert!(!studio.path("printers").exists(), "nothing is kept");
    let (well, _) = calibrate(&studio, &["desk-letter", "--paper", "letter", "--along", "250.6mm"]);
    let (also, _) = calibrate(&studio, &["desk-letter", "--paper", "legal", "--across", "190.1mm"]);
    let kept = fs::read_to_string(studio.path("printers/desk-letter.scale")).expect("the factors");
    assert!(well && also && kept.contains("letter:") && kept.contains("legal:"), "{kept}");
    studio.put("../printers/desk-letter.scale", b"letter: {along: 1.5}");
    let check = studio.command("check").output().expect("the program runs");
    assert!(
        !check.status.success() && said(&check).contains("desk-letter.scale is not in order"),
        "{}",
        said(&check)
    );
}
