//! Answers: what is taken, and what is not believed.

use std::fs;
use std::os::unix::fs::symlink;

use seamwright_contract::picture::{Channels, Pixels};
use seamwright_contract::{Length, Rect};

use super::{list, program, put};
use crate::answer::{Done, read, refusal};
use crate::scratch::Scratch;

fn answered(gives: &[&str], answer: &str, prepare: impl FnOnce(&Scratch)) -> Result<Done, String> {
    let folder = tempfile::tempdir().unwrap();
    let scratch = Scratch::new(folder.path()).unwrap();
    prepare(&scratch);
    let wanted = gives.contains(&"picture").then_some((Pixels::new(2, 2), Channels::Rgb));
    read(&program(&[("gives", list(gives))]).unwrap(), answer.as_bytes(), &scratch, wanted.as_ref())
}

#[test]
fn what_is_given_is_taken() {
    let answer = r#" {"protocol": 1, "keep_clear": [[1, 2, 3, 4]], "extra_sheets": 2, "note": "a\u001bb", "warnings": ["w"]} "#;
    let done = answered(&["keep_clear", "extra_sheets", "note"], answer, |_| {}).unwrap();
    let um = Length::from_um;
    assert_eq!(done.keep_clear, [Rect::new(um(1), um(2), um(3), um(4))]);
    assert_eq!(
        (done.extra_sheets, done.note.as_deref()),
        (Some(2), Some("a b")),
        "without what moves a cursor"
    );
    assert_eq!((done.warnings, done.remarks), (vec!["w".to_owned()], Vec::new()));
    let files = answered(&["files"], r#"{"protocol": 1, "files": ["slip.txt"]}"#, |scratch| {
        put(scratch.path().join("slip.txt"), "x");
    });
    assert_eq!(files.unwrap().files[0].0, "slip.txt");
}

#[test]
fn what_is_not_stated_or_makes_no_sense_is_not_taken() {
    for (gives, answer, expected) in [
        (&["note"][..], "", "without an answer"),
        (&["note"], "done!", "not one JSON object"),
        (&["note"], r#"{"protocol": 1} {"protocol": 1}"#, "not one JSON object"),
        (&["note"], r#"{"protocol": 2}"#, "protocol 2"),
        (&["note"], r#"{"protocol": 1, "wish": 3}"#, "wish"),
        (&["note"], r#"{"protocol": 1, "extra_sheets": 1}"#, "not among what its manifest gives"),
        (&["extra_sheets"], r#"{"protocol": 1, "extra_sheets": 100}"#, "more than 99"),
        (&["keep_clear"], r#"{"protocol": 1, "keep_clear": [[0, 0, 0, 4]]}"#, "no part of a design"),
        (&["keep_clear"], r#"{"protocol": 1, "keep_clear": [[9223372036854775807, 0, 1, 4]]}"#, "no part"),
        (&["picture"], r#"{"protocol": 1}"#, "gives no picture"),
        (&["picture"], r#"{"protocol": 1, "picture": "gone.tif"}"#, "gone.tif"),
        (&["files"], r#"{"protocol": 1, "files": ["../../incoming/x"]}"#, "not the name of a file"),
        (&["files"], r#"{"protocol": 1, "files": ["/etc/passwd"]}"#, "not the name of a file"),
        (&["files"], r#"{"protocol": 1, "files": [".hidden"]}"#, "not the name of a file"),
        (&["note"], r#"{"protocol": 1, "refuse": "no"}"#, "ended with code 0"),
    ] {
        let said = answered(gives, answer, |_| {}).unwrap_err();
        assert!(said.contains(expected), "{answer}: {said}");
    }
    let deep = format!(r#"{{"protocol": 1, "note": {}1{}}}"#, "[".repeat(5000), "]".repeat(5000));
    assert!(answered(&["note"], &deep, |_| {}).is_err());
    let many = format!(r#"{{"protocol": 1, "keep_clear": [{}[0, 0, 1, 1]]}}"#, "[0, 0, 1, 1], ".repeat(64));
    assert!(answered(&["keep_clear"], &many, |_| {}).unwrap_err().contains("more than 64"));
}

#[test]
fn links_pipes_and_folders_are_no_files_of_its_own() {
    let answer = r#"{"protocol": 1, "files": ["slip.txt"]}"#;
    let tries: [&dyn Fn(&Scratch); 4] = [
        &|scratch| symlink("/etc/passwd", scratch.path().join("slip.txt")).unwrap(),
        &|scratch| fs::create_dir(scratch.path().join("slip.txt")).unwrap(),
        &|scratch| {
            put(scratch.path().join("other"), "x");
            fs::hard_link(scratch.path().join("other"), scratch.path().join("slip.txt")).unwrap();
        },
        &|scratch| {
            let made = std::process::Command::new("mkfifo").arg(scratch.path().join("slip.txt")).status();
            assert!(made.unwrap().success());
        },
    ];
    for (number, prepare) in tries.into_iter().enumerate() {
        assert!(answered(&["files"], answer, prepare).is_err(), "{number}");
    }
}

#[test]
fn a_refusal_has_its_words() {
    assert_eq!(
        refusal(br#"{"protocol": 1, "refuse": "It is too dark.", "cure": "Save it lighter."}"#),
        Some(("It is too dark.".to_owned(), "Save it lighter.".to_owned()))
    );
    assert!(
        refusal(br#"{"protocol": 1, "refuse": "It is too dark."}"#).is_some_and(|(_, cure)| !cure.is_empty())
    );
    for none in [&b""[..], b"too dark", br#"{"protocol": 1}"#, br#"{"protocol": 1, "refuse": " "}"#] {
        assert_eq!(refusal(none), None);
    }
}

#[test]
fn a_folder_goes_whatever_is_in_it() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let scratch = Scratch::new(folder.path()).unwrap();
    let closed = scratch.path().join("a/b");
    fs::create_dir_all(&closed).unwrap();
    put(closed.join("c"), "x");
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o000)).unwrap();
    drop(scratch);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}
