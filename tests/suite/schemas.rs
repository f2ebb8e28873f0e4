//! The shipped JSON Schemas, judged by a library from outside: they are what the program writes, and all that is shipped
//! or shown to people is accepted by them.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use jsonschema::Validator;
use serde_json::Value;

use crate::studio::Studio;

/// The shipped ones, by name.
pub(crate) struct Schemas(BTreeMap<String, Validator>);

/// The folders of a studio and the form of what lies in them.
const FOLDERS: [(&str, &str); 7] = [
    ("incoming", "sidecar"),
    ("blanks", "blank"),
    ("substrates", "substrate"),
    ("papers", "paper"),
    ("printers", "printer"),
    ("presses", "press"),
    ("programs", "program"),
];

fn config() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("config")
}

/// What a YAML text says, as JSON.
pub(crate) fn of_yaml(text: &str) -> Result<Value, String> {
    serde_yaml::from_str(text).map_err(|why| why.to_string())
}

impl Schemas {
    pub(crate) fn shipped() -> Self {
        let forms = FOLDERS.iter().map(|(_, form)| *form).chain(["seamwright"]);
        let read = |form: &str| {
            let file = config().join("schemas").join(format!("{form}.schema.json"));
            let text = fs::read(&file).unwrap_or_else(|why| panic!("{}: {why}", file.display()));
            let schema = serde_json::from_slice(&text).expect("JSON");
            jsonschema::meta::validate(&schema).unwrap_or_else(|why| panic!("{form}: no schema: {why}"));
            (form.to_owned(), jsonschema::validator_for(&schema).expect("a schema"))
        };
        Self(forms.map(read).collect())
    }

    /// Whether the schema for a file of a studio accepts that; else what it says.
    pub(crate) fn accept(&self, file: &str, value: &Value) -> Result<(), String> {
        let folder = file.split('/').next().unwrap_or_default();
        let form = FOLDERS.iter().find(|(known, _)| *known == folder).map_or("seamwright", |(_, form)| form);
        self.0[form].validate(value).map_err(|why| format!("{file}: {why}"))
    }
}

#[test]
fn the_shipped_schemas_are_what_the_program_writes() {
    let studio = Studio::new("");
    let folder = studio.path("schemas");
    let output = studio.command("schemas").arg(&folder).output().expect("the program runs");
    assert!(output.status.success(), "{output:?}");
    let mut names = Vec::new();
    for entry in fs::read_dir(&folder).expect("the schemas") {
        let (file, name) = (entry.as_ref().expect("a file").path(), entry.expect("a file").file_name());
        let written = fs::read_to_string(file).expect("a schema");
        let shipped = fs::read_to_string(config().join("schemas").join(&name)).unwrap_or_default();
        assert!(
            written == shipped,
            "{} has changed; write it anew by: seamwright schemas config/schemas",
            name.display()
        );
        names.push(name);
    }
    assert_eq!(names.len(), FOLDERS.len() + 1, "{names:?}");
}

#[test]
fn all_that_is_shipped_is_accepted() {
    let schemas = Schemas::shipped();
    let accepted = |place: &str, file: &Path| {
        let text = fs::read_to_string(file).expect("a file");
        let value = of_yaml(&text).unwrap_or_else(|why| panic!("{}: {why}", file.display()));
        assert_eq!(schemas.accept(place, &value), Ok(()), "{}", file.display());
    };
    accepted("seamwright.yaml", &config().join("seamwright.yaml"));
    for (folder, form) in FOLDERS {
        accepted(&format!("{folder}/x.yaml"), &config().join("forms").join(format!("{form}.yaml")));
        if folder == "incoming" {
            continue;
        }
        // Of programs only the demo has some.
        let shipped = if folder == "programs" { "demo/programs" } else { folder };
        for entry in fs::read_dir(config().join(shipped)).expect("a folder of the catalogue") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|ending| ending == "yaml") {
                accepted(&format!("{folder}/x.yaml"), &path);
            }
        }
    }
    // What the demo lays into its inbox.
    let studio = tempfile::tempdir().expect("a folder");
    seamwright::registry::write_demo(studio.path()).expect("the demo");
    let mut folders = vec![studio.path().join("incoming")];
    let mut sidecars = 0;
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "yaml") {
                accepted("incoming/x.yaml", &path);
                sidecars += 1;
            }
        }
    }
    assert!(sidecars > 3, "{sidecars} sidecars are not all of the demo's");
}
