//! Bad input: each ends in `refused/` with a reason a maker understands, nothing lost, the next job unaffected.

use std::fs;

use crate::studio::{Studio, name, png};

const GOOD: &str = "blank: {width: 24in, height: 12.5in, shape: rectangle, substrate: polyester-mat}\n";

/// Saves these files beside a good job, works them off, and returns the one refusal's reason.
fn refusal(files: &[(&str, Vec<u8>)]) -> String {
    let studio = Studio::new("limits: {pixels: 20000000}");
    for (file, bytes) in files {
        studio.put(file, bytes);
    }
    studio.put("zz-good.png", &png(1600, 833));
    studio.put("zz-good.yaml", GOOD.as_bytes());
    let output = studio.once();
    assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stderr));

    assert_eq!(studio.finished().len(), 1, "the good job is done");
    assert!(name(&studio.finished()[0]).starts_with("zz-good-"), "and it is the good one");
    let refused = studio.refused();
    let [job] = &refused[..] else { panic!("one refusal, not {refused:?}") };
    for (file, bytes) in files {
        let kept = fs::read(job.join(file)).unwrap_or_else(|e| panic!("{file} is lost: {e}"));
        assert!(&kept == bytes, "{file} is not what was saved");
    }
    fs::read_to_string(job.join("why.txt")).expect("why.txt")
}

fn with_order(order: &str) -> String {
    refusal(&[("chart.png", png(1600, 833)), ("chart.yaml", order.as_bytes().to_vec())])
}

fn with_artwork(file: &str, bytes: Vec<u8>) -> String {
    refusal(&[(file, bytes), ("chart.yaml", GOOD.as_bytes().to_vec())])
}

fn says(why: &str, words: &[&str]) {
    for word in words {
        assert!(why.contains(word), "`{word}` is missing in:\n{why}");
    }
}

#[test]
fn artwork_alone() {
    says(&refusal(&[("chart.png", png(64, 64))]), &["chart.png", "chart.yaml"]);
}

#[test]
fn a_sidecar_alone() {
    says(&refusal(&[("chart.yaml", GOOD.as_bytes().to_vec())]), &["chart.yaml", "artwork"]);
}

#[test]
fn two_artworks_of_one_stem() {
    let files =
        [("chart.png", png(64, 64)), ("chart.jpg", png(65, 65)), ("chart.yaml", GOOD.as_bytes().to_vec())];
    says(&refusal(&files), &["chart.png", "chart.jpg"]);
}

#[test]
fn an_unknown_blank_names_the_nearest() {
    says(&with_order("blank: tabel-mat-36x24\n"), &["chart.yaml", "line 1", "table-mat-36x24"]);
}

#[test]
fn an_unknown_key_names_the_nearest() {
    says(&with_order(&format!("{GOOD}papr: letter\n")), &["line 2", "papr", "`paper`"]);
}

#[test]
fn every_mistake_at_once() {
    let why = with_order(&format!("{GOOD}size: {{width: 24, height: -3in}}\nfit: fill\ncopies: none\n"));
    says(&why, &["line 2", "`24in`", "line 3", "contain", "line 4"]);
}

#[test]
fn sizes_that_cannot_be() {
    for (order, word) in [
        ("size: {width: 0in, height: 3in}", "width"),
        ("size: {width: -1in, height: 3in}", "width"),
        ("size: {width: 900000in, height: 3in}", "100 m"),
        ("size: {width: 36in, height: 3in}", "36"),
    ] {
        says(&with_order(&format!("{GOOD}{order}\n")), &[word]);
    }
}

#[test]
fn a_picture_too_coarse_for_its_blank() {
    let coarse = [("chart.png", png(240, 125)), ("chart.yaml", GOOD.as_bytes().to_vec())];
    says(&refusal(&coarse), &["10", "allow_low_ppi"]);
}

#[test]
fn yaml_that_is_none() {
    says(&with_order("blank: [unclosed\n"), &["chart.yaml"]);
    says(&with_order("blank: &a x\nnote: *a\n"), &["chart.yaml", "line 1"]);
}

#[test]
fn artwork_that_is_none() {
    with_artwork("chart.png", Vec::new());
    with_artwork("chart.png", b"just some words".to_vec());
    with_artwork("chart.png", vec![0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a]);
}

#[test]
fn a_truncated_picture() {
    let whole = png(1600, 833);
    says(&with_artwork("chart.png", whole[..whole.len() / 2].to_vec()), &["chart.png"]);
}

#[test]
fn a_picture_over_the_limit() {
    says(&with_artwork("chart.png", png(5000, 4001)), &["20005000 pixels", "20000000"]);
}

#[test]
fn a_wrong_ending_does_not_matter() {
    let studio = Studio::new("");
    studio.put("chart.jpg", &png(1600, 833));
    studio.put("chart.yaml", GOOD.as_bytes());
    assert!(studio.once().status.success(), "content decides");
    assert_eq!(studio.finished().len(), 1);
}

#[test]
fn a_refused_job_is_made_by_what_is_mended_where_it_lies() {
    let studio = Studio::new("");
    studio.put("mats/folder.yaml", GOOD.replace("blank", "blnak").as_bytes());
    studio.put("mats/gulls.png", &png(1600, 833));
    assert_eq!(studio.once().status.code(), Some(1));
    let refused = studio.refused();
    let [job] = &refused[..] else { panic!("one refusal, not {refused:?}") };
    let why = fs::read_to_string(job.join("why.txt")).expect("why.txt");
    says(&why, &["folder.yaml", "Did you mean `blank`?", "seamwright retry"]);

    studio.put(job.join("folder.yaml").to_str().expect("text"), GOOD.as_bytes());
    let retried = studio.command("retry").arg(name(job)).output().expect("the program runs");
    says(&String::from_utf8_lossy(&retried.stdout), &[&name(job), "incoming/mats/folder.yaml"]);
    assert_eq!(studio.once().status.code(), Some(0));
    let finished = studio.finished();
    let [made] = &finished[..] else { panic!("one job, not {finished:?}") };
    assert!(name(made).starts_with("gulls-"), "{made:?}");
    let own = fs::read_to_string(studio.path("incoming/mats/folder.yaml")).expect("the folder's own");
    assert_eq!(own, GOOD, "so the next picture is made too");
}
