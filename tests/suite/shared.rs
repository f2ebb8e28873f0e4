//! Small things of several orders come out on few sheets: each piece once, printed once, told of once, whatever a kill leaves.

#![expect(clippy::disallowed_methods, reason = "what a kill leaves is made by hand")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::studio::{Studio, name, png, record};

const TAG: &str = "blank: {width: 3in, height: 1in, substrate: polyester-cloth, ppi_floor: 1}\nallow_low_ppi: yes\nfit: cover\nshare: yes\n";

/// A list of tags with these copies, and another small design.
fn save(studio: &Studio) {
    studio.put("tag.png", &png(60, 20));
    studio.put("tag.yaml", format!("{TAG}list: names.csv\n").as_bytes());
    studio.put("names.csv", b"name,copies\nAda,1\nBo,3\nCy,9\n");
    studio.put("coaster.png", &png(40, 40));
    studio.put("coaster.yaml", TAG.replace("height: 1in", "height: 3in").as_bytes());
}

fn said(studio: &Studio, verb: &str, words: &[&str]) -> String {
    let output = studio.command(verb).args(words).output().expect("the program runs");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn shared(studio: &Studio) -> Vec<PathBuf> {
    studio.finished().into_iter().filter(|job| name(job).starts_with("shared-")).collect()
}

/// How often each panel of each job lies on shared sheets.
fn pieces(shared: &Value) -> BTreeMap<String, usize> {
    let mut pieces = BTreeMap::new();
    for piece in shared["pages"]
        .as_array()
        .expect("a list")
        .iter()
        .flat_map(|page| page["pieces"].as_array().expect("a list"))
    {
        let job = piece["job"].as_str().expect("a name");
        *pieces.entry(job.rsplit_once('-').expect("a name with its digits").0.to_owned()).or_default() += 1;
    }
    pieces
}

#[test]
fn rows_and_others_share_sheets_and_every_copy_is_there() {
    let studio = Studio::new("");
    save(&studio);
    let output = studio.once();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let [folder] = &shared(&studio)[..] else { panic!("{:?}", studio.finished()) };
    let of_shared = record(folder);
    let wanted = [("coaster", 1), ("tag-ada", 1), ("tag-bo", 3), ("tag-cy", 9)];
    assert_eq!(pieces(&of_shared), wanted.map(|(job, count)| (job.to_owned(), count)).into());
    assert_eq!(of_shared["pages"].as_array().unwrap().len(), 1, "13 tags and a coaster lie on one sheet");
    let pdf = lopdf::Document::load(folder.join("sheets.pdf")).expect("a PDF");
    assert_eq!(pdf.get_pages().len(), 1);
    let notes = fs::read_to_string(folder.join("notes.txt")).expect("notes");
    assert!(
        notes.contains("Piece 1: ") && notes.contains("copy 9 of 9") && notes.contains("Cut a: "),
        "{notes}"
    );
    for job in studio.finished().iter().filter(|job| name(job).starts_with("tag-")) {
        if let Ok(notes) = fs::read_to_string(job.join("notes.txt")) {
            assert!(notes.contains("shares with other jobs"), "{notes}");
        }
    }

    let status = said(&studio, "status", &[]);
    assert!(status.contains(&format!("shared     {}  4 jobs, 1 letter sheet", name(folder))), "{status}");
    assert!(status.contains("load       1 sheet of letter"), "{status}");
    let page = fs::read_to_string(studio.path("outgoing/index.html")).expect("the page");
    assert!(page.contains("<h2>Shared sheets</h2>") && page.contains("on shared letter sheets"), "{page}");
    let history = said(&studio, "history", &["coaster"]);
    assert!(history.contains(&format!("shared: {}", name(folder))), "{history}");
    assert!(
        said(&studio, "print", &["coaster"]).contains("lie on shared sheets"),
        "its own are not printed as well"
    );
    let again = said(&studio, "again", &["coaster"]);
    assert!(again.contains("1 sheet, the same as before"), "its own can be made again: {again}");

    assert_eq!(studio.once().status.code(), Some(0));
    assert_eq!(shared(&studio).len(), 1, "nothing is shared twice");
}

/// All that a kill between two states can leave of a claim of shared sheets, made by hand: the next run ends it once.
#[test]
fn a_kill_at_any_state_ends_in_the_same_sheets_once() {
    type Undo = fn(&Path, &str);
    let cases: [(&str, Undo); 3] = [
        ("gathered half", |root, job| {
            // Some members are in, the claim is not made yet.
            let claim = root.join("incoming/.claimed").join(job);
            let tmp = claim.with_file_name(format!("{job}.tmp"));
            fs::rename(&claim, &tmp).unwrap();
            let one = fs::read_dir(tmp.join(".members")).unwrap().next().unwrap().unwrap();
            let waits = tmp.with_file_name(format!("{}.sharing", one.file_name().to_string_lossy()));
            fs::rename(one.path(), waits).unwrap();
            fs::remove_file(tmp.join(".claim.json")).unwrap();
        }),
        ("worked half", |root, job| {
            let part = root.join("outgoing/.staging").join(format!("{job}.part"));
            fs::create_dir_all(&part).unwrap();
            fs::copy(root.join("seamwright.yaml"), part.join("sheets.pdf")).unwrap();
        }),
        ("not begun", |_, _| {}),
    ];
    for (case, undo) in cases {
        let studio = Studio::new("");
        save(&studio);
        assert_eq!(studio.once().status.code(), Some(0), "{case}");
        let [folder] = &shared(&studio)[..] else { panic!("{case}") };
        let (job, first) = (name(folder), fs::read(folder.join("sheets.pdf")).unwrap());
        // Back to when its members were claimed: their folders are made of what their jobs left.
        let claim = studio.path("incoming/.claimed").join(&job);
        let record = record(folder);
        for member in record["jobs"].as_array().unwrap() {
            let member = member.as_str().unwrap();
            let to = claim.join(".members").join(member);
            fs::create_dir_all(&to).unwrap();
            for file in ["sheets.pdf", "record.json"] {
                fs::copy(studio.path("outgoing").join(member).join(file), to.join(file)).unwrap();
            }
        }
        fs::write(
            claim.join(".claim.json"),
            json!({"first_seen": "2026-11-27T18:00:00Z", "from": "", "files": []}).to_string(),
        )
        .unwrap();
        fs::remove_dir_all(folder).unwrap();
        fs::remove_dir_all(studio.path("kept").join(&job)).unwrap();
        undo(&studio.path(""), &job);
        assert_eq!(studio.once().status.code(), Some(0), "{case}");
        let found = shared(&studio);
        assert_eq!(found.iter().map(|folder| name(folder)).collect::<Vec<_>>(), [job], "{case}");
        assert!(fs::read(found[0].join("sheets.pdf")).unwrap() == first, "{case}: the same bytes");
        let left =
            fs::read_dir(studio.path("incoming/.claimed")).unwrap().map(|entry| name(&entry.unwrap().path()));
        let left: Vec<String> = left.filter(|left| !left.starts_with('.')).collect();
        assert_eq!(left, Vec::<String>::new(), "{case}: nothing is left in between");
    }
}
