//! What becomes of the rows of a list.

use std::collections::BTreeSet;

use seamwright_contract::Fault;

use super::plan;
use crate::config::tests::{load, put, says, studio};
use crate::journal::{Plan, Planned};

/// The plan of a list with this sidecar, these defaults and these jobs known.
fn planned(list: &str, sidecar: &str, defaults: &str, known: &[&str]) -> Result<Option<Plan>, Vec<Fault>> {
    let folder = studio("", &[]);
    let claim = folder.path().join("claim");
    std::fs::create_dir(&claim).expect("a claim folder");
    for (name, text) in
        [("moon.png", "pixels"), ("visitors.csv", list), ("moon.yaml", sidecar), ("folder.yaml", defaults)]
    {
        if !text.is_empty() {
            put(&claim, name, text.as_bytes());
        }
    }
    let known: BTreeSet<String> = known.iter().map(|name| (*name).to_owned()).collect();
    let config = load(folder.path()).expect("settings");
    plan(&claim, "moon-123456", &config, || Ok(known))
}

const SIDECAR: &str =
    "# visitors\nblank: round-mat-24\nlist: visitors.csv\nfields: {place: the pier}\nartwork: moon.png\n";

fn rows(list: &str) -> Vec<Planned> {
    let plan = planned(list, SIDECAR, "", &[]).unwrap_or_else(|found| panic!("{found:#?}")).expect("a list");
    assert_eq!(plan.list, "visitors.csv");
    plan.rows
}

fn why(row: &Planned) -> String {
    row.why.iter().map(|reason| format!("{}: {} {}\n", reason.place, reason.what, reason.cure)).collect()
}

#[test]
fn a_row_stands_above_the_sidecar() {
    let list = "Name,copies,Blank,width,height,First Visit,note\n\
        Ada Lovely,2,mouse-mat-9x7.5,3in,4 in,\"21 June, 1.50\",\n\
        Bo,,,,,007,by the door\n";
    let rows = rows(list);
    assert!(rows.iter().all(|row| row.why.is_empty()), "{rows:#?}");
    let [ada, bo] = &rows[..] else { panic!("{rows:#?}") };
    assert_eq!((ada.line, ada.label.as_str(), ada.stem.as_str()), (2, "Ada Lovely", "moon-ada-lovely"));
    assert!(
        ada.job.starts_with("moon-ada-lovely-") && ada.job.len() == "moon-ada-lovely-".len() + 8,
        "{}",
        ada.job
    );
    for said in [
        "blank: mouse-mat-9x7.5",
        "copies: 2\n",
        "width: 3in",
        "height: 4 in",
        "place: the pier",
        "name: Ada Lovely",
        "first_visit: 21 June, 1.50",
        "line: 2\n",
        "group: moon-123456",
    ] {
        assert!(ada.sidecar.contains(said), "{said} in\n{}", ada.sidecar);
    }
    assert!(
        !ada.sidecar.contains("list: visitors.csv\nfields") && !ada.sidecar.contains("artwork"),
        "{}",
        ada.sidecar
    );
    assert!(
        bo.sidecar.contains("blank: round-mat-24") && bo.sidecar.contains("first_visit: '007'"),
        "{}",
        bo.sidecar
    );
    assert!(bo.sidecar.contains("note: by the door") && !bo.sidecar.contains("copies"), "{}", bo.sidecar);
}

#[test]
fn a_folder_names_a_list_too_and_gives_what_rows_leave_open() {
    let defaults = "blank: round-mat-24\nlist: visitors.csv\nsize: {width: 5in, height: 4in}\nfields: {place: the pier}\n";
    let list = "name;width\nAda;3in\n";
    let plan = planned(list, "", defaults, &[]).expect("a plan").expect("a list");
    assert_eq!(why(&plan.rows[0]), "");
    assert!(plan.rows[0].sidecar.contains("height: 4in"), "{}", plan.rows[0].sidecar);
    let row = "row: {list: visitors.csv, line: 2, group: moon-123456}\n";
    assert_eq!(planned(list, row, defaults, &[]), Ok(None), "a row is no list");
    assert_eq!(planned(list, "blank: round-mat-24\n", "", &[]), Ok(None), "nobody names it");
}

#[test]
fn bad_rows_are_refused_alone_with_their_line() {
    let list = "name,copies,blank\nAda,1,\nBo,0,\n\nCy,1\nDee,1,tabel-mat\nEve,1,,more\n\"Fay\tx\",1,\nGus,1,\nAda,1,\n";
    let rows = rows(list);
    let lines: Vec<u32> = rows.iter().map(|row| row.line).collect();
    assert_eq!(lines, [2, 3, 5, 6, 7, 8, 9, 10]);
    let bad: Vec<u32> = rows.iter().filter(|row| !row.why.is_empty()).map(|row| row.line).collect();
    assert_eq!(bad, [3, 5, 6, 7, 8, 10], "{rows:#?}");
    says(&why(&rows[1]), &["visitors.csv, line 3, `copies`", "1 to 999"]);
    says(&why(&rows[2]), &["visitors.csv, line 5", "2 cells", "3 columns"]);
    says(&why(&rows[3]), &["visitors.csv, line 6", "`blank`", "tabel-mat"]);
    says(&why(&rows[4]), &["visitors.csv, line 7", "'more' stands in no column"]);
    says(&why(&rows[5]), &["visitors.csv, line 8, `name`", "one line"]);
    says(&why(&rows[7]), &["visitors.csv, line 10", "line 10 says the same as line 2", "`copies`"]);
}

#[test]
fn what_is_made_or_waits_is_not_made_again() {
    let list = "name\nAda\nBo\n";
    let first = rows(list);
    let known = [&*format!("{}-2", first[0].job), "moon-bo", first[1].job.get(..12).expect("a part")];
    let plan = planned("name\nAda\nBo\n", SIDECAR, "", &known).expect("a plan").expect("a list");
    assert_eq!(plan.rows[0].before.as_deref(), Some(known[0]));
    assert_eq!(plan.rows[1].before, None, "others only begin alike");
    let names = |sidecar: &str| {
        let plan = planned(list, sidecar, "", &[]).expect("a plan").expect("a list");
        plan.rows.into_iter().map(|row| row.job).collect::<Vec<_>>()
    };
    let same = "list: visitors.csv\nblank: round-mat-24\nfields: {place: the pier}\ncopies: 1\n";
    assert_eq!(names(same), names(SIDECAR), "it is the order that counts, not how it is written");
    assert_ne!(names("blank: round-mat-24\nlist: visitors.csv\n"), names(SIDECAR));
}

#[test]
fn columns_that_nothing_uses_are_named() {
    let remark = |sidecar: &str, defaults: &str| {
        let list = "name,visit,Coppies,street,copies,\nAda,June,2,,1,\nBo,,,,,\n";
        planned(list, sidecar, defaults, &[]).expect("a plan").expect("a list").remark.unwrap_or_default()
    };
    let told = remark(SIDECAR, "");
    assert!(told.contains("the columns `visit`, `coppies` (did you mean `copies`?)."), "{told}");
    let visits = "lettering: [{text: \"to {visit}\", box: {x: 1in, y: 1in, width: 9in, height: 2in}}]\n";
    let told = remark(&format!("{SIDECAR}{visits}"), "");
    assert!(told.contains("the column `coppies` (did"), "{told}");
    let told = remark("list: visitors.csv\n", &format!("blank: round-mat-24\n{visits}"));
    assert!(told.contains("the column `coppies` (did"), "of the folder's defaults too: {told}");
    let all = visits.replace("{visit}", "{visit} {coppies}");
    assert_eq!(remark(&format!("{SIDECAR}{all}"), ""), "");
}

#[test]
fn lists_that_cannot_be_read_are_refused_as_a_whole() {
    let refused = |list: &str| {
        let faults = planned(list, SIDECAR, "", &[]).expect_err("it is refused");
        faults.iter().map(|fault| format!("{fault}\n")).collect::<String>()
    };
    says(&refused(""), &["visitors.csv", "cannot be read"]);
    says(&refused("name\n"), &["no lines"]);
    says(
        &refused("name,Name,artwork,2nd\nAda,x,y,z\n"),
        &["line 1, `Name`", "two columns", "`artwork`", "in the sidecar", "`2nd`", "no name for a column"],
    );
}

#[test]
fn odd_lists_never_upset_it() {
    for list in [
        "\"\"\n\"\"\n",
        ",\n,\n",
        "name,\nAda,\n",
        "name\n\u{202e}\u{0}\n",
        "width\n1in\n",
        "copies\n99999999999\n",
        "size,width\nas-drawn,1in\n",
        "measured_width\n1in\n",
        "fit\n[contain\n",
        "note\n\"{a: b}\"\n",
        "name\n- x\n",
    ] {
        drop(planned(list, SIDECAR, "", &[]));
        drop(planned(list, "list: visitors.csv\n", "blank: []\nsize: 3\n", &[]));
    }
}
