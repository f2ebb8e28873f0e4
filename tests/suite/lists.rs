//! One artwork, one list: each row a job of its own, told of together, and made once however often the list is saved.

use std::fs;
use std::path::Path;

use crate::studio::{Studio, name, png, record};

const SIDECAR: &str = "list: visitors.csv\nblank: {width: 3in, height: 3in, substrate: polyester-cloth, ppi_floor: 1}\n\
    allow_low_ppi: yes\nfields: {place: the pier}\n";

const LIST: &str = "\u{feff}Name;copies;width;height\r\nAda;2;;\r\nBo;0;;\r\nCy;;2in;1in\r\n\r\n\"Dee; Eve\";;;\r\nFay;;;\r\n";

fn save(studio: &Studio, list: &str) {
    studio.put("moon.png", &png(60, 60));
    studio.put("visitors.csv", list.as_bytes());
    studio.put("moon.yaml", SIDECAR.as_bytes());
}

fn said(studio: &Studio, verb: &str, words: &[&str]) -> String {
    let output = studio.command(verb).args(words).output().expect("the program runs");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The finished rows without the digits of their names, and the list.
fn finished(studio: &Studio) -> (Vec<String>, Vec<std::path::PathBuf>) {
    let (lists, rows): (Vec<_>, Vec<_>) =
        studio.finished().into_iter().partition(|job| job.join("summary.txt").is_file());
    let stem = |job: &std::path::PathBuf| name(job).rsplit_once('-').expect("digits").0.to_owned();
    (rows.iter().map(stem).collect(), lists)
}

fn summary(list: &Path) -> String {
    fs::read_to_string(list.join("summary.txt")).expect("a summary")
}

#[test]
fn a_list_is_worked_row_by_row_and_only_what_changed_again() {
    let studio = Studio::new("");
    save(&studio, LIST);
    let output = studio.once();
    assert_eq!(output.status.code(), Some(1), "one is refused: {output:?}");
    let (rows, lists) = finished(&studio);
    assert_eq!(rows, ["moon-ada", "moon-cy", "moon-dee-eve", "moon-fay"]);
    let [list] = &lists[..] else { panic!("{lists:?}") };
    let told = summary(list);
    assert!(told.contains("visitors.csv, 5 rows: 4 done, 1 refused"), "{told}");
    for line in [
        "line     2  done           Ada",
        "line     3  refused        Bo",
        "line     6  done           Dee; Eve",
    ] {
        assert!(told.contains(line), "{line} in\n{told}");
    }

    let cy = studio.finished().into_iter().find(|job| name(job).starts_with("moon-cy-")).expect("a row");
    let of_cy = record(&cy);
    assert_eq!(of_cy["fields"], serde_json::json!({"name": "Cy", "place": "the pier"}));
    assert_eq!(of_cy["row"], serde_json::json!({"list": "visitors.csv", "line": 4, "group": name(list)}));
    assert_eq!(of_cy["design"]["width_um"], 50_800, "a row may say its size");
    let notes = fs::read_to_string(cy.join("notes.txt")).expect("notes");
    assert!(notes.contains("visitors.csv, line 4"), "{notes}");

    let [bo] = &studio.refused()[..] else { panic!("{:?}", studio.refused()) };
    let why = fs::read_to_string(bo.join("why.txt")).expect("a reason");
    assert!(why.contains("visitors.csv, line 3") && why.contains("1 to 999"), "{why}");

    let history = said(&studio, "history", &[&name(list)]);
    assert!(history.contains("5 rows") && history.contains("moon-fay-"), "{history}");
    let page = fs::read_to_string(studio.path("outgoing/index.html")).expect("the page");
    assert!(page.contains("<h2>Lists</h2>") && page.contains("line 2, Ada: done"), "{page}");

    // The list is saved again with one row mended and one changed.
    save(&studio, &LIST.replace("Bo;0", "Bo;1").replace("Cy;;2in", "Cy;;3in"));
    let output = studio.once();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let (rows, lists) = finished(&studio);
    assert_eq!(rows, ["moon-ada", "moon-bo", "moon-cy", "moon-cy", "moon-dee-eve", "moon-fay"]);
    let second = lists.iter().find(|job| *job != list).expect("the second list");
    let told = summary(second);
    assert!(told.contains("5 rows: 2 done, 3 made before"), "{told}");
    assert!(told.contains("made before    Ada") && told.contains("moon-ada-"), "{told}");
    assert!(
        fs::read_dir(studio.path("incoming/.claimed"))
            .expect("claims")
            .all(|entry| { entry.expect("an entry").file_name().to_string_lossy().starts_with('.') }),
        "nothing is left between"
    );

    // What is kept of a row is enough to make it again.
    let again = said(&studio, "again", &[&name(&cy)]);
    assert!(again.contains("the same as before"), "{again}");
}

#[test]
fn columns_that_nothing_uses_are_told_once_and_refuse_nothing() {
    let studio = Studio::new("");
    let drawing = "<svg xmlns='http://www.w3.org/2000/svg' width='3in' height='3in'><rect width='100' height='100'/>\
        <text x='10' y='150'>{visit}</text></svg>";
    let lettering = "lettering: {text: \"{place}, {town}\", box: {x: 0in, y: 2in, width: 3in, height: 0.5in}, shrink: yes}\n";
    studio.put("moon.svg", drawing.as_bytes());
    studio.put("visitors.csv", b"name,visit,town,street,coppies,\nAda,June,Pier,Quay 3,2,\nBo,May,Pier,,,\n");
    studio.put("moon.yaml", format!("{SIDECAR}{lettering}").as_bytes());
    let output = studio.once();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let (rows, lists) = finished(&studio);
    assert_eq!((rows, lists.len()), (vec!["moon-ada".to_owned(), "moon-bo".to_owned()], 1));
    let told = "Nothing uses the columns `street`, `coppies` (did you mean `copies`?).";
    let page = fs::read_to_string(studio.path("outgoing/index.html")).expect("the page");
    for (where_, text) in [
        ("log", String::from_utf8_lossy(&output.stdout).into_owned()),
        ("summary", summary(&lists[0])),
        ("page", page),
    ] {
        assert_eq!(text.matches(told).count(), 1, "{where_}:\n{text}");
    }
    let sheets = Studio::new("stages: [resize, profile, mirror, overlap, tile, marks, press]\n");
    save(&sheets, "name,copies\nAda,1\n");
    assert_eq!(sheets.once().status.code(), Some(0));
    let (_, lists) = finished(&sheets);
    assert!(
        !summary(&lists[0]).contains("Nothing uses"),
        "the first column names the row: {}",
        summary(&lists[0])
    );
}

#[test]
fn rows_are_held_cancelled_and_tried_again_like_any_job() {
    let studio = Studio::new("");
    // A list that is unfolded and not yet worked, as the daemon leaves it when told to stop.
    save(&studio, LIST);
    let folder = studio.path("incoming/.claimed/moon-123456.rows");
    for (line, who) in [(2, "ada"), (4, "cy")] {
        let row = folder.join(format!("{line:05}.moon-{who}-{line:08}"));
        fs::create_dir_all(&row).expect("a row");
        let text = format!(
            "{}row: {{list: visitors.csv, line: {line}, group: moon-123456}}\n",
            SIDECAR.replace("list: visitors.csv\n", "")
        );
        let files =
            [(format!("moon-{who}.yaml"), text.into_bytes()), (format!("moon-{who}.png"), png(60, 60))];
        for (file, bytes) in files {
            studio.put(row.join(file).to_str().expect("text"), &bytes);
        }
    }
    for file in ["moon.png", "moon.yaml", "visitors.csv"] {
        fs::remove_file(studio.path("incoming").join(file)).expect("removed");
    }
    let waiting = said(&studio, "waiting", &[]);
    assert!(waiting.contains("waits    moon-ada-00000002 of moon-123456"), "{waiting}");
    assert!(
        said(&studio, "hold", &["moon-123456"]).contains("held       moon-cy-00000004"),
        "all of the list"
    );
    assert!(said(&studio, "first", &["moon-cy-00000004"]).contains("put first"), "one of them");
    assert!(said(&studio, "waiting", &[]).starts_with("first    moon-cy"), "in turn");
    let cancelled = said(&studio, "cancel", &["moon-ada-00000002"]);
    assert!(cancelled.contains("refused/moon-ada-00000002"), "{cancelled}");
    assert_eq!(studio.once().status.code(), Some(0));
    assert_eq!(studio.finished().iter().map(|job| name(job)).collect::<Vec<_>>(), ["moon-cy-00000004"]);
    said(&studio, "retry", &["moon-ada-00000002"]);
    assert_eq!(studio.once().status.code(), Some(0));
    let ada =
        studio.finished().into_iter().find(|job| name(job).starts_with("moon-ada-")).expect("it is made");
    assert_eq!(record(&ada)["row"]["group"], "moon-123456", "still of its list");
}

#[test]
fn a_list_that_cannot_be_read_is_refused_with_all_it_came_with() {
    let studio = Studio::new("");
    save(&studio, "Name;Name\nAda;Bo\n");
    assert_eq!(studio.once().status.code(), Some(1));
    let [list] = &studio.refused()[..] else { panic!("{:?}", studio.refused()) };
    let why = fs::read_to_string(list.join("why.txt")).expect("a reason");
    assert!(why.contains("visitors.csv, line 1") && why.contains("two columns"), "{why}");
    assert!(["moon.png", "moon.yaml", "visitors.csv"].iter().all(|file| list.join(file).is_file()));
}

#[test]
fn the_example_of_the_readme_is_as_it_says() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).expect("README.md");
    let block = |begin: &str| {
        let (_, rest) = readme.split_once(begin).expect("the example");
        rest.split_once("```").expect("its end").0.to_owned()
    };
    let studio = Studio::new(
        "stages: [{resize: {ppi: 20}}, profile, mirror, {overlap: {lap: 0.5in}}, tile, marks]\nwriters: [record]\n",
    );
    studio.put("moon-phases.png", &png(240, 240));
    studio.put(
        "moon-phases.yaml",
        format!("{}allow_low_ppi: yes\n", block("```yaml\n# moon-phases.yaml\n")).as_bytes(),
    );
    studio.put("visitors.csv", block("```csv\n").as_bytes());
    let output = studio.once();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let (rows, lists) = finished(&studio);
    assert_eq!(
        (rows, lists.len()),
        (["ada", "bo", "cy"].map(|row| format!("moon-phases-{row}")).to_vec(), 1)
    );
    for job in studio.finished().iter().filter(|job| !lists.contains(job)) {
        let (record, who) = (record(job), name(job));
        let (blank, copies) = match who.split('-').nth(2) {
            Some("ada") => ("round-mat-24", 1),
            Some("bo") => ("round-mat-24", 2),
            _ => ("mouse-mat-9x7.5", 1),
        };
        assert_eq!((&record["blank"]["name"], &record["copies"]), (&blank.into(), &copies.into()), "{who}");
        assert_eq!(record["fields"]["visit"], "21 June", "{who}");
    }
}

#[test]
fn a_list_is_looked_over_before_it_is_saved() {
    let studio = Studio::new("");
    studio.put("moon.yaml", SIDECAR.as_bytes());
    let check = || {
        let file = studio.path("incoming").join("moon.yaml");
        let output = studio.command("check").arg(file).output().expect("the program runs");
        (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let (code, said) = check();
    assert!(code == Some(1) && said.contains("the list cannot be read"), "{said}");
    studio.put("visitors.csv", LIST.as_bytes());
    let (code, said) = check();
    assert!(code == Some(1) && said.contains("visitors.csv, line 3"), "{said}");
    assert_eq!(said.matches("Where:").count(), 1, "only what is wrong: {said}");
    studio.put("visitors.csv", LIST.replace("Bo;0", "Bo;3").as_bytes());
    assert_eq!(check(), (Some(0), "Nothing to complain of.\n".to_owned()));
    assert!(studio.finished().is_empty(), "nothing is worked");
}
