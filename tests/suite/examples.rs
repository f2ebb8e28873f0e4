//! Every example in the README and in the commented forms, done by the program itself.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::schemas::{Schemas, of_yaml};
use crate::studio::Studio;

fn file(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("a file of the project")
}

/// The blocks of a language, each with the line it begins on.
fn blocks(text: &str, language: &str) -> Vec<(usize, String)> {
    let mut blocks = Vec::new();
    let mut lines = text.lines().enumerate();
    while let Some((at, line)) = lines.next() {
        if line == format!("```{language}") {
            let inside: Vec<&str> =
                lines.by_ref().map(|(_, line)| line).take_while(|line| *line != "```").collect();
            blocks.push((at + 2, inside.join("\n") + "\n"));
        }
    }
    blocks
}

/// Where in a studio a block of the README belongs: as its first line says, or by its keys.
fn place(block: &str, value: &Value) -> (String, bool) {
    if let Some(named) = block.lines().next().and_then(|line| line.strip_prefix("# "))
        && let Some((name, rest)) = named.split_once(".yaml")
    {
        let file = format!("{name}.yaml");
        let file = if file.contains('/') { file } else { format!("incoming/{file}") };
        return (file, rest.contains("added to what is there"));
    }
    let of_printers = ["send_to", "delivers", "on_paper"].iter().any(|key| value.get(key).is_some());
    if of_printers {
        ("printers/photo-letter.yaml".to_owned(), true)
    } else {
        ("incoming/chart.yaml".to_owned(), false)
    }
}

#[test]
fn every_block_of_yaml_is_in_order() {
    let (readme, schemas) = (file("README.md"), Schemas::shipped());
    let blocks = blocks(&readme, "yaml");
    assert!(blocks.len() > 6, "{} blocks are not all", blocks.len());
    for (line, block) in blocks {
        let value = of_yaml(&block).unwrap_or_else(|why| panic!("README.md, line {line}: {why}"));
        let (file, added) = place(&block, &value);
        let text = if added { self::file(&format!("config/{file}")) + &block } else { block };
        let whole = of_yaml(&text).unwrap_or_else(|why| panic!("README.md, line {line}: {why}"));
        assert_eq!(schemas.accept(&file, &whole), Ok(()), "README.md, line {line}");

        let studio = Studio::new("");
        studio.put(&format!("../{file}"), text.as_bytes());
        let mut check = studio.command("check");
        if file.starts_with("incoming/") {
            // What the words round it say is not part of it.
            studio.put("folder.yaml", b"blank: table-mat-36x24\nfields: {visit: 21 June}\n");
            for (_, list) in self::blocks(&readme, "csv") {
                studio.put("visitors.csv", list.as_bytes());
            }
            check.arg(studio.path(&file));
        }
        let output = check.output().expect("the program runs");
        assert!(
            output.status.success(),
            "README.md, line {line}:\n{}",
            String::from_utf8_lossy(&output.stdout)
        );
    }
}

#[test]
fn the_commented_forms_are_in_order() {
    let studio = Studio::new("");
    studio.put("chart.yaml", file("config/forms/sidecar.yaml").as_bytes());
    studio.put("visitors.csv", b"name,visit\nAda,22 June\n");
    for (form, folder) in [
        ("blank", "blanks"),
        ("substrate", "substrates"),
        ("paper", "papers"),
        ("printer", "printers"),
        ("press", "presses"),
    ] {
        studio.put(&format!("../{folder}/new.yaml"), file(&format!("config/forms/{form}.yaml")).as_bytes());
    }
    let output = studio.command("check").arg(studio.path("incoming/chart.yaml")).output().expect("it runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
}

/// What stands between backquotes, outside blocks.
fn spans(text: &str) -> Vec<String> {
    let mut outside = String::new();
    let mut block = false;
    for line in text.lines() {
        if line.starts_with("```") {
            block = !block;
        } else if !block && !line.starts_with("    ") {
            outside.push_str(line);
            outside.push(' ');
        }
    }
    outside.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// What any schema says of values under this key.
fn under<'s>(schema: &'s Value, key: &str, found: &mut Vec<&'s Value>) {
    match schema {
        Value::Object(entries) => {
            found.extend(entries.get("properties").and_then(|properties| properties.get(key)));
            entries.values().for_each(|value| under(value, key, found));
        }
        Value::Array(items) => items.iter().for_each(|item| under(item, key, found)),
        _ => {}
    }
}

#[test]
fn keys_in_sentences_are_known_with_their_values() {
    let schemas: Vec<Value> = ["seamwright", "sidecar", "blank", "substrate", "paper", "printer", "press"]
        .iter()
        .map(|form| serde_json::from_str(&file(&format!("config/schemas/{form}.schema.json"))).expect("JSON"))
        .collect();
    let mut tried = 0;
    for span in spans(&file("README.md")) {
        // What is left out is no example, nor is what only sounds like one.
        if span.contains('…') || span.starts_with(['#', '{']) || !span.contains(": ") {
            continue;
        }
        let Ok(Value::Object(said)) = of_yaml(&span) else { continue };
        for (key, value) in said {
            if value.as_str().is_some_and(|value| value.contains(['(', ' ']) && value.len() > 40) {
                continue;
            }
            let mut known = Vec::new();
            schemas.iter().for_each(|schema| under(schema, &key, &mut known));
            assert!(!known.is_empty(), "README.md says `{span}`, and no form has `{key}`");
            let accepted = known.iter().any(|schema| jsonschema::is_valid(schema, &value));
            assert!(accepted, "README.md says `{span}`, and nothing accepts that");
            tried += 1;
        }
    }
    assert!(tried > 5, "{tried} are not all");
}

/// The words in backquotes in the first cells of the table under a heading.
fn table(text: &str, heading: &str) -> BTreeSet<String> {
    let (_, section) = text.split_once(&format!("{heading}\n")).expect("the heading");
    let rows =
        section.lines().skip_while(|line| !line.starts_with('|')).take_while(|line| line.starts_with('|'));
    let cells = rows.filter_map(|row| row.split('|').nth(1));
    cells.flat_map(|cell| cell.split('`').skip(1).step_by(2)).map(str::to_owned).collect()
}

#[test]
fn the_tables_name_all_that_there_is() {
    let readme = file("README.md");
    let sidecar: Value =
        serde_json::from_str(&file("config/schemas/sidecar.schema.json")).expect("the schema");
    let keys: BTreeSet<String> = sidecar["properties"]
        .as_object()
        .expect("keys")
        .keys()
        // The program writes it.
        .filter(|key| *key != "row")
        .cloned()
        .collect();
    assert_eq!(table(&readme, "### The sidecar"), keys);
    let stages: BTreeSet<String> =
        seamwright::registry::STAGES.iter().map(|stage| stage.name.to_owned()).collect();
    assert_eq!(table(&readme, "The list of stages is the studio's to change:"), stages);
    for writer in seamwright::registry::WRITERS {
        assert!(readme.contains(&format!("`{}`", writer.name)), "{}", writer.name);
    }
}
