//! What manifests may say, and the shipped schemas (judge: the `jsonschema` crate, draft 2020-12).

use std::sync::Arc;
use std::time::Duration;

use jsonschema::Validator;
use seamwright_contract::layout::Layout;
use seamwright_contract::picture::{Format, Pixels};
use seamwright_contract::plugin::Fact;
use seamwright_contract::sample::{self, Pixmap};
use seamwright_contract::settings::{Complaints, Node, Value as Settings};
use serde_json::{Value, json};

use super::{list, program, put, settings, text};
use crate::manifest::Gift;
use crate::scratch::Scratch;
use crate::{STAGE, WRITER, check, raster, request};

fn schema(text: &str) -> Validator {
    let schema: Value = serde_json::from_str(text).unwrap();
    assert!(jsonschema::meta::is_valid(&schema), "the schema itself is one of draft 2020-12");
    jsonschema::validator_for(&schema).unwrap()
}

fn requests() -> Validator {
    schema(include_str!("../../../../config/schemas/program-request.schema.json"))
}

fn answers() -> Validator {
    schema(include_str!("../../../../config/schemas/program-answer.schema.json"))
}

/// A job with all that stages decide.
fn layout() -> Layout {
    let picture = Arc::new(Pixmap::bare(Pixels::new(240, 125), Format::RGB8));
    let mut layout = sample::layout(sample::order(), picture);
    layout.design = Some(sample::design(layout.order.size, 10.0));
    layout.lay_up = Some(sample::lay_up());
    layout.warn("resize", "It is coarse.");
    layout
}

#[test]
fn a_manifest_says_all_and_has_defaults() {
    let plain = program(&[]).unwrap();
    assert_eq!((plain.time, plain.memory, plain.network), (Duration::from_secs(60), 512 << 20, false));
    assert!(plain.needs.is_empty() && plain.gives.is_empty() && !plain.wants_picture);
    assert!(plain.command[0].ends_with("/sh") && plain.command[1..] == ["-c", ":"], "{:?}", plain.command);

    let folder = tempfile::tempdir().unwrap();
    put(folder.path().join("trick.py"), "pass");
    let here = folder.path().canonicalize().unwrap();
    let full = program(&[
        ("here", text(here.to_str().unwrap())),
        ("about", text("does something")),
        ("command", list(&["sh", "{here}/trick.py", "--by=2"])),
        ("needs", list(&["picture", "lap"])),
        ("gives", list(&["picture", "note"])),
        ("reads", list(&["/srv/tools"])),
        ("time", text("2m")),
        ("memory", text("1GiB")),
        ("network", text("yes")),
    ])
    .unwrap();
    assert_eq!(full.command[1..], [here.join("trick.py").to_str().unwrap(), "--by=2"]);
    assert_eq!(full.needs, [Fact::Lap, Fact::Design], "a picture has the pixels of the design");
    assert_eq!(full.gives, [Gift::Picture, Gift::Note]);
    assert!(full.wants_picture && full.network);
    assert_eq!((full.time, full.memory), (Duration::from_secs(120), 1 << 30));
    assert_eq!((full.files[1].name.as_str(), &full.files[1].path), ("trick.py", &here.join("trick.py")));
}

#[test]
fn manifests_with_mistakes() {
    let cases = [
        (("command", list(&["no-such-program-here"])), "no-such-program-here"),
        (("command", list(&["sh", "{here}/gone.sh"])), "gone.sh"),
        (("command", list(&["sh", "--with={here}/gone.sh"])), "as a word of its own"),
        (("command", list(&["sh", "{here}/../up.sh"])), "beside this one"),
        (("command", Settings::Nothing), "is missing"),
        (("command", list(&["tools/trick"])), "whole path"),
        (("needs", list(&["pictures"])), "Did you mean `picture`?"),
        (("gives", list(&["panels"])), "panels"),
        (("reads", list(&["tools"])), "/srv/tools"),
        (("memory", text("1MiB")), "16MiB"),
        (("time", text("long")), "long"),
        (("netwrok", text("yes")), "network"),
    ];
    for ((key, value), expected) in cases {
        let said = program(&[(key, value.clone())]).unwrap_err();
        assert!(said.contains(expected), "{key}: {value:?}: {said}");
    }
}

#[test]
fn a_stage_gives_no_files_and_a_writer_nothing_else() {
    let parse = |gives: &str, stage: bool| {
        let (settings, complaints) = (settings(&[("gives", list(&[gives]))]), Complaints::new());
        let node = Node::root(&settings, &complaints);
        if stage { (STAGE.parse)(&node).is_some() } else { (WRITER.parse)(&node).is_some() }
    };
    for gift in ["picture", "keep_clear", "extra_sheets", "note"] {
        assert!(parse(gift, true) && !parse(gift, false), "{gift}");
    }
    assert!(!parse("files", true) && parse("files", false));
}

#[test]
fn where_a_program_may_stand_follows_from_what_it_needs_and_gives() {
    let stage = |keys: &[(&str, Settings)]| {
        let (settings, complaints) = (settings(keys), Complaints::new());
        (STAGE.parse)(&Node::root(&settings, &complaints)).unwrap()
    };
    let reads = stage(&[("needs", list(&["panels", "press"]))]);
    assert_eq!((reads.needs(), reads.before()), (&[Fact::Panels, Fact::Press][..], &[][..]));
    let facts = stage(&[("gives", list(&["keep_clear"]))]);
    assert_eq!((facts.needs(), facts.before()), (&[][..], &[Fact::Panels][..]));
    let picture = stage(&[("gives", list(&["picture"]))]);
    assert_eq!((picture.needs(), picture.before()), (&[Fact::Design][..], &[Fact::Colour, Fact::Panels][..]));
}

#[test]
fn what_a_program_is_told_fits_the_schema() {
    let schema = requests();
    let folder = tempfile::tempdir().unwrap();
    let scratch = Scratch::new(folder.path()).unwrap();
    let layout = layout();
    let given = raster::hand_over(&layout, &scratch).unwrap();
    let trick = program(&[]).unwrap();
    let told = request::of(&trick, &layout, Some(&given));
    let wrong: Vec<String> = schema.iter_errors(&told).map(|why| why.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    assert_eq!(told["picture"]["width_px"], 240);
    assert_eq!(told["picture"]["profile"], "sRGB");
    assert_eq!(told["warnings"], json!(["It is coarse."]));

    let early = sample::layout(sample::order(), Arc::new(Pixmap::bare(Pixels::new(9, 9), Format::RGB8)));
    assert!(schema.is_valid(&request::of(&trick, &early, None)), "before anything is decided");

    // The sample of the check has the same keys all the way down, as far as its manifest asks for them.
    let all = program(&[("needs", list(&["picture", "design", "lap", "panels", "press"]))]).unwrap();
    let sampled = check::sample(&all, Some(request::handed_over(&given)));
    let wrong: Vec<String> = schema.iter_errors(&sampled).map(|why| why.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    assert_eq!(keys(&sampled), keys(&told));
    assert!(check::sample(&trick, None)["panels"].is_null(), "what it does not ask for may not be there");

    for (pointer, value) in
        [("/protocol", json!(2)), ("/picture/channels", json!("lab")), ("/job", json!(null))]
    {
        let mut spoilt = told.clone();
        *spoilt.pointer_mut(pointer).unwrap() = value;
        assert!(!schema.is_valid(&spoilt), "{pointer}");
    }
}

/// The names of all keys of an object, with those of the objects in it.
fn keys(value: &Value) -> Vec<String> {
    let Value::Object(map) = value else { return Vec::new() };
    let inner = |(key, value): (&String, &Value)| {
        // Fields are the maker's, and what is null has nothing below.
        let below = if key == "fields" || key == "press" { Vec::new() } else { keys(value) };
        std::iter::once(key.clone())
            .chain(below.into_iter().map(|below| format!("{key}.{below}")))
            .collect::<Vec<_>>()
    };
    map.iter().flat_map(inner).collect()
}

#[test]
fn the_schema_of_answers_takes_what_is_taken() {
    let schema = answers();
    for answer in [
        json!({"protocol": 1}),
        json!({"protocol": 1, "picture": "out.tif", "remarks": ["done"], "warnings": []}),
        json!({"protocol": 1, "keep_clear": [[0, 0, 10, 10]], "extra_sheets": 1, "note": "x", "files": ["a.txt"]}),
        json!({"protocol": 1, "refuse": "It is too dark.", "cure": "Save it lighter."}),
    ] {
        assert!(schema.is_valid(&answer), "{answer}");
    }
    for answer in [
        json!({}),
        json!([]),
        json!({"protocol": 2}),
        json!({"protocol": 1, "pixels": []}),
        json!({"protocol": 1, "picture": "../out.tif"}),
        json!({"protocol": 1, "keep_clear": [[0, 0, 0, 10]]}),
        json!({"protocol": 1, "extra_sheets": 100}),
    ] {
        assert!(!schema.is_valid(&answer), "{answer}");
    }
}
