//! From nothing to a first job: a studio is made, looked over, filled and worked; what would be done is told before.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use crate::studio::{Studio, png, record};

fn program(words: &[&str], folder: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seamwright"));
    command.args(words).current_dir(folder).env("LC_ALL", "C.UTF-8").stdin(Stdio::null());
    command.output().expect("the program runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn save(path: &Path, bytes: impl AsRef<[u8]>) {
    let mut file = fs::File::create(path).expect("a file");
    file.write_all(bytes.as_ref()).expect("its bytes");
}

/// Every file and folder below one, with the bytes of files.
fn tree(folder: &Path) -> BTreeMap<PathBuf, Option<Vec<u8>>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.append(&mut tree(&path));
            found.insert(path, None);
        } else {
            let bytes = fs::read(&path).expect("its bytes");
            found.insert(path, Some(bytes));
        }
    }
    found
}

#[test]
fn a_studio_is_made_without_a_question_and_works_at_once() {
    let place = tempfile::tempdir().expect("a folder");
    let made = program(&["init", "studio", "--paper", "a4"], place.path());
    assert!(made.status.success(), "{}", said(&made));
    let studio = place.path().join("studio");
    let checked = program(&["check"], &studio);
    assert_eq!(said(&checked), "Nothing to complain of.\n");
    save(&studio.join("incoming/my-mat/gulls.png"), png(2_400, 1_250));
    let worked = program(&["once"], &studio);
    assert!(worked.status.success(), "{}{}", said(&worked), String::from_utf8_lossy(&worked.stderr));
    let mut jobs =
        fs::read_dir(studio.join("outgoing")).expect("outgoing").map(|one| one.expect("one").path());
    let job = jobs.find(|path| path.join("record.json").is_file()).expect("a finished job");
    let record = record(&job);
    assert_eq!((&record["blank"]["name"], &record["paper"]["name"]), (&"my-mat".into(), &"a4".into()));
}

#[test]
fn a_studio_that_is_there_is_left_alone() {
    let place = tempfile::tempdir().expect("a folder");
    assert!(program(&["init", "studio"], place.path()).status.success(), "the first time");
    for there in ["seamwright.yaml", "presses/my-press.yaml"] {
        let studio = place.path().join("studio");
        for other in ["seamwright.yaml", "printers/my-printer.yaml", "presses/my-press.yaml"] {
            if other != there {
                fs::remove_file(studio.join(other)).unwrap_or_default();
            }
        }
        save(&studio.join(there), "# mine\n");
        let before = tree(&studio);
        let again = program(&["init", "studio"], place.path());
        assert_eq!(again.status.code(), Some(1), "{}", said(&again));
        assert!(said(&again).contains("Nothing was written"), "{}", said(&again));
        assert!(tree(&studio) == before, "nothing has changed");
    }
}

#[test]
fn what_would_be_done_is_told_without_doing_it() {
    let studio = Studio::new("");
    assert!(studio.once().status.success(), "its folders are there");
    let desk = studio.path("desk");
    fs::create_dir(&desk).expect("a desk");
    save(&desk.join("chart.png"), png(2_400, 1_250));
    save(&desk.join("chart.yaml"), "blank: table-mat-24x12.5\nallow_low_ppi: yes\n");
    let explain =
        |what: &Path| studio.command("explain").arg(what).env("LC_ALL", "C").output().expect("it runs");
    let before = tree(&studio.path(""));
    let (by_picture, by_sidecar) = (explain(&desk.join("chart.png")), explain(&desk.join("chart.yaml")));
    assert!(by_picture.status.success(), "{}", said(&by_picture));
    assert_eq!(said(&by_picture), said(&by_sidecar), "either names the job");
    assert!(tree(&studio.path("")) == before, "nothing is moved and nothing stays");
    let told = said(&by_picture);
    assert!(told.is_ascii(), "{told}");
    assert!(told.contains("sheets    6 letter sheets, landscape"), "as many as the trade says: {told}");
    assert!(told.contains("INK SIDE UP"), "{told}");

    for name in ["chart.png", "chart.yaml"] {
        fs::copy(desk.join(name), studio.path("incoming").join(name)).expect("into the inbox");
    }
    assert!(studio.once().status.success(), "it is worked");
    let finished = explain(Path::new("chart"));
    assert!(finished.status.success(), "{}", said(&finished));
    let rest = |text: &str| text.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(rest(&said(&finished)), rest(&told), "what was foretold is what was done");
}

#[test]
fn what_cannot_be_explained_is_said() {
    let studio = Studio::new("");
    let desk = studio.path("desk");
    fs::create_dir(&desk).expect("a desk");
    save(&desk.join("alone.yaml"), "blank: round-mat-24\n");
    save(&desk.join("list.yaml"), "blank: round-mat-24\nlist: guests.csv\n");
    save(&desk.join("broken.png"), b"\x89PNG\r\n\x1a\nno picture");
    save(&desk.join("broken.yaml"), "blank: round-mat-24\n");
    for (what, why) in [
        ("alone.yaml", "There is no artwork beside"),
        ("list.yaml", "is an order list"),
        ("absent.png", "There is no file"),
        ("broken.png", "broken.png"),
    ] {
        let output = studio.command("explain").arg(desk.join(what)).output().expect("it runs");
        assert_eq!(output.status.code(), Some(1), "{what}");
        assert!(said(&output).contains(why), "{what}: {}", said(&output));
    }
    let output = studio.command("explain").arg("nobody").output().expect("it runs");
    assert!(said(&output).contains("no finished job 'nobody'"), "{}", said(&output));
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

#[test]
fn the_manual_and_the_completions_know_every_command() {
    let place = tempfile::tempdir().expect("a folder");
    let made = program(&["manual", "share"], place.path());
    assert!(made.status.success(), "{}{}", said(&made), String::from_utf8_lossy(&made.stderr));
    let help = said(&program(&["--help"], place.path()));
    let (_, commands) = help.split_once("Commands:\n").expect("a list of commands");
    let (commands, _) = commands.split_once("\n\n").expect("its end");
    let verb = |line: &str| line.split_whitespace().next().map(str::to_owned);
    let verbs: Vec<String> = commands.lines().filter_map(verb).filter(|verb| verb != "help").collect();
    assert!(verbs.len() > 15 && !verbs.iter().any(|verb| verb == "work"), "{verbs:?}");
    let read = |file: &str| fs::read_to_string(place.path().join("share").join(file)).expect("it is written");
    let completions = [
        "bash-completion/completions/seamwright",
        "fish/vendor_completions.d/seamwright.fish",
        "zsh/site-functions/_seamwright",
    ]
    .map(read);
    let whole = read("man/man1/seamwright.1");
    for verb in &verbs {
        assert!(read(&format!("man/man1/seamwright-{verb}.1")).contains(".SH NAME"), "{verb}");
        assert!(whole.contains(&verb.replace('-', "\\-")), "{verb} is listed");
        assert!(completions.iter().all(|script| script.contains(verb.as_str())), "{verb} is completed");
    }
}
