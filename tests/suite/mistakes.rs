//! Mistakes as people make them (`tests/data/mistakes.yaml`): each is told with its place and what stands there
//! underlined, and the cure that the message says works.

use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};

use serde::Deserialize;
use unicode_width::UnicodeWidthChar as _;

use crate::schemas::{Schemas, of_yaml};
use crate::studio::Studio;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Mistake {
    mistake: String,
    file: String,
    text: String,
    #[serde(default)]
    with: BTreeMap<String, String>,
    encoding: Option<String>,
    line: Option<usize>,
    marked: Option<String>,
    says: String,
    cure: Cure,
    form: String,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Cure {
    /// What the message proposes is taken from it: `nearest` or `quoted`.
    OfTheMessage(String),
    Becomes {
        becomes: String,
    },
    Text {
        text: String,
    },
}

fn all() -> Vec<Mistake> {
    serde_yaml::from_str(include_str!("../data/mistakes.yaml")).expect("the mistakes")
}

impl Mistake {
    fn bytes(&self) -> Vec<u8> {
        match self.encoding.as_deref() {
            None => self.text.clone().into_bytes(),
            Some("utf-16") => {
                "\u{feff}".encode_utf16().chain(self.text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
            }
            Some("latin-1") => {
                self.text.chars().map(|c| u8::try_from(c).expect("a letter of Latin 1")).collect()
            }
            Some(other) => panic!("{}: no encoding {other}", self.mistake),
        }
    }

    /// What `check` says of the studio with this in it, and whether all is well.
    fn checked(&self, bytes: &[u8]) -> (String, bool) {
        let studio = Studio::new("");
        for (file, text) in &self.with {
            studio.put(&format!("../{file}"), text.as_bytes());
        }
        studio.put(&format!("../{}", self.file), bytes);
        let mut command = studio.command("check");
        let sidecars = self.with.keys().chain([&self.file]);
        command.args(
            sidecars
                .filter(|file| file.starts_with("incoming/") && file.ends_with(".yaml"))
                .map(|file| studio.path(file)),
        );
        let output = command.output().expect("the program runs");
        (String::from_utf8(output.stdout).expect("text"), output.status.success())
    }

    /// The text as a person leaves it who follows the message.
    fn cured(&self, said: &str) -> String {
        let between = |begin: &str| {
            let (_, cure) = said.split_once("Cure:").unwrap_or_else(|| panic!("no cure in\n{said}"));
            let (_, rest) = cure.split_once(begin).unwrap_or_else(|| panic!("no `{begin}` in\n{said}"));
            rest.split('`').next().expect("a word").to_owned()
        };
        let becomes = match &self.cure {
            Cure::OfTheMessage(how) if how == "nearest" => between("Did you mean `"),
            Cure::OfTheMessage(how) if how == "quoted" => between("`"),
            Cure::OfTheMessage(how) => panic!("no cure is called {how}"),
            Cure::Becomes { becomes } => becomes.clone(),
            Cure::Text { text } => return text.clone(),
        };
        let line = self.line.expect("the line of what is replaced");
        let marked = self.marked.as_deref().expect("what is replaced");
        let mut lines: Vec<String> = self.text.split_inclusive('\n').map(str::to_owned).collect();
        lines[line - 1] = lines[line - 1].replacen(marked, &becomes, 1);
        lines.concat()
    }
}

/// How a line is shown: with tabs as four blanks.
fn shown(text: &str) -> String {
    text.replace('\t', "    ")
}

/// Asserts that the message shows that line with that text of it underlined, sign under sign.
fn assert_marked(said: &str, line: usize, text: &str, marked: Option<&str>) {
    let number = format!("       {line} | ");
    let gutter = format!("{}| ", " ".repeat(number.len() - 2));
    let mut lines = said.lines().skip_while(|shown| !shown.starts_with(&number));
    let source = lines.next().unwrap_or_else(|| panic!("line {line} is not shown in\n{said}"));
    let under = lines.next().and_then(|under| under.strip_prefix(&gutter));
    let under = under.unwrap_or_else(|| panic!("nothing is underlined in\n{said}"));
    assert!(under.contains('^'), "nothing is underlined in\n{said}");
    let Some(marked) = marked else { return };
    let source = source.strip_prefix(&number).expect("it starts so");
    let whole = shown(text);
    assert!(source == whole.trim_end() || source.contains("..."), "the line as it stands in\n{said}");
    // What stands above the marks, by the columns that signs take.
    let (from, to) = (under.find('^').unwrap_or(0), under.trim_end().len());
    let mut column = 0;
    let above: String = source
        .chars()
        .filter(|sign| {
            let here = column;
            column += sign.width().unwrap_or(0);
            here >= from && here < to
        })
        .collect();
    assert_eq!(above.trim_end(), shown(marked), "is not what is underlined in\n{said}");
}

/// Does this with every mistake, and fails with all that it fails with.
fn each(of: &[Mistake], check: impl Fn(&Mistake)) {
    let failed: Vec<&str> = of
        .iter()
        .filter(|mistake| catch_unwind(AssertUnwindSafe(|| check(mistake))).is_err())
        .map(|mistake| mistake.mistake.as_str())
        .collect();
    assert!(failed.is_empty(), "{failed:#?}");
}

#[test]
fn every_mistake_is_told_with_its_place_and_a_cure_that_works() {
    let all = all();
    assert!(all.len() >= 50, "{} are too few", all.len());
    each(&all, |mistake| {
        let about = &mistake.mistake;
        let (said, well) = mistake.checked(&mistake.bytes());
        assert!(!well, "{about}: nobody complains\n{said}");
        let first = said.split("\n\n").next().expect("a message");
        let place = mistake.file.trim_start_matches("incoming/");
        let place =
            mistake.line.map_or(format!("Where: {place}"), |line| format!("Where: {place}, line {line}"));
        assert!(first.starts_with(&place), "{about}: it is not said where:\n{said}");
        assert!(first.contains(&mistake.says), "{about}: `{}` is not in\n{said}", mistake.says);
        if let Some(line) = mistake.line {
            let lines: Vec<&str> = mistake.text.trim_start_matches('\u{feff}').lines().collect();
            assert_marked(first, line, lines[line - 1], mistake.marked.as_deref());
        }
        let cured = mistake.cured(first);
        let (after, well) = mistake.checked(cured.as_bytes());
        assert!(well, "{about}: the cure does not help:\n{said}\nwritten:\n{cured}\nand then:\n{after}");
    });
}

#[test]
fn mistakes_of_form_are_found_by_the_schemas_and_cures_accepted() {
    let schemas = Schemas::shipped();
    let of_yaml_files: Vec<Mistake> =
        all().into_iter().filter(|mistake| mistake.file.ends_with(".yaml")).collect();
    each(&of_yaml_files, |mistake| {
        let about = &mistake.mistake;
        let text = mistake.text.trim_start_matches('\u{feff}');
        let accepts = |text: &str| schemas.accept(&mistake.file, &of_yaml(text).expect("readable YAML"));
        match mistake.form.as_str() {
            "yes" => assert!(accepts(text).is_err(), "{about}: the schema accepts it"),
            "no" => assert_eq!(accepts(text), Ok(()), "{about}: it is no matter of form"),
            "unreadable" => {}
            other => panic!("{about}: {other} is no word here"),
        }
        let (said, _) = mistake.checked(&mistake.bytes());
        let cured = mistake.cured(said.split("\n\n").next().expect("a message"));
        assert_eq!(
            accepts(cured.trim_start_matches('\u{feff}')),
            Ok(()),
            "{about}: the cure is not accepted"
        );
    });
}

#[test]
fn a_refusal_shows_the_same_everywhere() {
    let studio = Studio::new("");
    let sidecar = "blank: table-mat-36x24\nnote: <b>星図</b>\nfitt: cover\n";
    studio.put("chart.png", &crate::studio::png(64, 64));
    studio.put("chart.yaml", sidecar.as_bytes());
    let check = studio.command("check").arg(studio.path("incoming/chart.yaml")).output().expect("it runs");
    let checked = String::from_utf8(check.stdout).expect("text");
    let once = String::from_utf8(studio.once().stdout).expect("text");
    let [job] = &studio.refused()[..] else { panic!("{:?}", studio.refused()) };
    let why = fs::read_to_string(job.join("why.txt")).expect("why.txt");
    assert!(why.contains(&checked), "{why}\nis not\n{checked}");
    let excerpt = ["3 | fitt: cover", "  | ^^^^"];
    let status = studio.command("status").output().expect("it runs");
    let page = fs::read_to_string(studio.path("outgoing/index.html")).expect("the page");
    for (place, text) in [
        ("check", &checked),
        ("why.txt", &why),
        ("once", &once),
        ("the page", &page),
        ("status", &String::from_utf8(status.stdout).expect("text")),
    ] {
        let lines: Vec<&str> =
            text.lines().filter(|line| excerpt.iter().any(|part| line.contains(part))).collect();
        let [source, under] = &lines[..] else { panic!("{place}: {lines:?} in\n{text}") };
        let column = |line: &str, part: &str| line.find(part);
        let (at, below) = (column(source, "fitt"), column(under, "^^^^"));
        // On the page the lines may stand behind markup.
        assert!(place == "the page" || at == below && at.is_some(), "{place}: not sign under sign\n{text}");
    }
    assert!(!check.status.success(), "it is refused");
}
