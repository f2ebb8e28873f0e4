//! The main job from the outside: files in, finished folders out.

use std::fs;
use std::time::{Duration, Instant};

use crate::studio::{Studio, name, png, record};

const MAT: &str = "blank: {width: 24in, height: 12.5in, shape: rectangle, substrate: polyester-mat}\n";

fn wait_for(what: &str, mut holds: impl FnMut() -> bool) {
    let start = Instant::now();
    while !holds() {
        assert!(start.elapsed() < Duration::from_secs(60), "{what} did not come about within a minute");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn a_picture_and_a_sidecar_become_a_finished_folder() {
    let studio = Studio::new("");
    let artwork = png(1600, 833);
    studio.put("chart.png", &artwork);
    studio.put("chart.yaml", MAT.as_bytes());
    let output = studio.once();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));

    let finished = studio.finished();
    let [job] = &finished[..] else { panic!("one job, not {finished:?}") };
    assert!(name(job).starts_with("chart-") && name(job).len() == "chart-".len() + 6, "{}", name(job));
    for file in ["sheets.pdf", "notes.pdf", "notes.txt", "proof.png", "record.json"] {
        assert!(fs::metadata(job.join(file)).is_ok_and(|file| file.len() > 0), "{file} is missing");
    }
    let kept = studio.path("kept").join(name(job));
    assert_eq!(fs::read(kept.join("chart.png")).expect("the kept artwork"), artwork);
    assert!(kept.join("chart.yaml").exists() && kept.join("order.yaml").exists(), "the order is kept");
    assert_eq!(
        fs::read_dir(studio.path("incoming"))
            .expect("incoming")
            .filter(|e| !e.as_ref().unwrap().file_name().to_string_lossy().starts_with('.'))
            .count(),
        0
    );
}

#[test]
fn the_common_job_takes_six_sheets_one_way_and_eight_the_other() {
    // 24 x 12.5 in on Letter, 1/4 in margins, 0.2 in lap: common practice, no source; tiles_rect.csv R001, R002.
    let studio = Studio::new(
        "stages: [{resize: {ppi: 100}}, profile, mirror, {overlap: {lap: 0.2in}}, tile, marks, press]",
    );
    for (stem, orientation) in [("across", "landscape"), ("upright", "portrait"), ("either", "auto")] {
        studio.put(&format!("{stem}.png"), &png(1600, 833));
        studio.put(
            &format!("{stem}.yaml"),
            format!("{MAT}paper: letter\norientation: {orientation}\n").as_bytes(),
        );
    }
    assert!(studio.once().status.success(), "all three are done");
    let sheets: Vec<usize> =
        studio.finished().iter().map(|job| record(job)["panels"].as_array().expect("panels").len()).collect();
    assert_eq!(sheets, [6, 6, 8], "across, either, upright");
}

#[test]
fn the_worked_example_of_two_by_two_stands_in_the_record() {
    let studio = Studio::new("printer: desk-a4\nunits: metric");
    studio.put("tide.png", &png(800, 600));
    studio.put("tide.yaml", b"blank: {width: 400mm, height: 300mm, shape: rectangle, substrate: polyester-mat, ppi_refuse: 20}\npaper: a4\n");
    let output = studio.once();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let record = record(&studio.finished()[0]);
    assert_eq!(record["mirrored"], true);
    let numbers = |index: usize, key: &str| -> Vec<i64> {
        let list = record["panels"][index][key].as_array().expect("a list");
        list.iter().map(|number| number.as_i64().expect("a whole number")).collect()
    };
    // The example has its seams at x = 200 and y = 150 mm; here they run where they cross least.
    let [[face_x, face_y, face_w, face_h], [x, y, w, h]]: [[i64; 4]; 2] =
        ["face_um", "cell_um"].map(|key| numbers(0, key).try_into().expect("four numbers"));
    assert_eq!(
        (face_x + face_w, x + w, face_y, y),
        (400_000, 400_000, 0, 0),
        "ink side up it is the top left"
    );
    assert_eq!((x - face_x, face_y + face_h - (y + h)), (2_500, 2_500), "half a lap beyond the cut lines");
    assert_eq!(numbers(1, "face_um")[..2], [0, 0], "the second prints the face's left");
    assert_eq!(numbers(1, "face_um")[2], face_x + 5_000, "and one lap of the first");
    let words = |index: usize| record["panels"][index]["trim"].clone();
    assert_eq!([words(0), words(1)], [serde_json::json!(["right", "bottom"]), serde_json::json!(["bottom"])]);
    assert!(numbers(0, "on_top_of").starts_with(&[2, 3]), "{:?}", numbers(0, "on_top_of"));
    assert_eq!(record["panels"].as_array().map(Vec::len), Some(4));
}

#[test]
fn a_folder_with_defaults_needs_nothing_but_the_picture() {
    let studio = Studio::new("");
    studio.put("mats/folder.yaml", MAT.as_bytes());
    studio.put("mats/gulls.png", &png(1600, 833));
    assert!(studio.once().status.success(), "the defaults are enough");
    assert_eq!(studio.finished().len(), 1);
    assert!(studio.path("incoming/mats/folder.yaml").exists(), "the defaults stay");
}

#[test]
fn the_same_thing_again_is_made_again_under_a_second_name() {
    let studio = Studio::new("");
    for _ in 0..2 {
        studio.put("chart.png", &png(1600, 833));
        studio.put("chart.yaml", MAT.as_bytes());
        assert!(studio.once().status.success(), "both are done");
    }
    let names: Vec<String> = studio.finished().iter().map(|job| name(job)).collect();
    assert_eq!(names.len(), 2);
    assert_eq!(names[1], format!("{}-2", names[0]));
}

#[test]
fn the_daemon_finds_what_is_saved_and_stops_when_told() {
    let studio = Studio::new("");
    let mut daemon = studio.command("watch").spawn().expect("the daemon starts");
    studio.put("late.yaml", MAT.as_bytes());
    studio.put("late.png", &png(1600, 833));
    wait_for("the finished job", || studio.finished().len() == 1);
    let second = studio.once();
    assert_eq!(second.status.code(), Some(75), "a second instance keeps away");
    let told = std::process::Command::new("kill").arg(daemon.id().to_string()).status().expect("kill");
    assert!(told.success(), "the daemon is told to stop");
    assert!(daemon.wait().expect("it ends").success(), "and ends well");
}

#[test]
fn a_kill_in_the_middle_loses_nothing() {
    let studio = Studio::new("stages: [{resize: {ppi: 300}}, profile, mirror, overlap, tile, marks, press]");
    studio.put("chart.png", &png(1600, 833));
    studio.put("chart.yaml", MAT.as_bytes());
    for pause in [30, 120, 250] {
        let mut program = studio.command("once").spawn().expect("the program starts");
        std::thread::sleep(Duration::from_millis(pause));
        program.kill().expect("it is killed");
        program.wait().expect("it is gone");
    }
    assert!(studio.once().status.success(), "the job is taken up again");
    assert_eq!((studio.finished().len(), studio.refused().len()), (1, 0));
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let made: Vec<Vec<u8>> = (0..2)
        .map(|_| {
            let studio = Studio::new("");
            studio.put("chart.png", &png(1600, 833));
            studio.put("chart.yaml", MAT.as_bytes());
            assert!(studio.once().status.success(), "it is done");
            ["sheets.pdf", "notes.pdf", "notes.txt", "proof.png", "record.json"]
                .iter()
                .flat_map(|file| fs::read(studio.finished()[0].join(file)).expect("the file"))
                .collect()
        })
        .collect();
    assert!(made[0] == made[1], "two runs differ");
}
