//! Manifests, the two schemas, pictures in files, and answers that are not believed.

mod answers;
mod forms;
mod pictures;

use std::fs::File;
use std::io::Write as _;
use std::path::Path;

use seamwright_contract::settings::{Complaints, Node, Value};

use crate::manifest::{self, Program};

/// Settings of the step of a program, as they come from its manifest.
fn settings(keys: &[(&str, Value)]) -> Value {
    let all = [("name", text("trick")), ("command", list(&["sh", "-c", ":"]))];
    let given = keys.iter().map(|(key, value)| ((*key).to_owned(), value.clone()));
    let rest = all.into_iter().filter(|(key, _)| !keys.iter().any(|(known, _)| known == key));
    Value::Map(rest.map(|(key, value)| (key.to_owned(), value)).chain(given).collect())
}

/// A file with these bytes.
fn put(path: impl AsRef<Path>, bytes: impl AsRef<[u8]>) {
    File::create(path).unwrap().write_all(bytes.as_ref()).unwrap();
}

fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn list(words: &[&str]) -> Value {
    Value::List(words.iter().map(|word| text(word)).collect())
}

/// The program, or what is complained of.
fn program(keys: &[(&str, Value)]) -> Result<Program, String> {
    let (settings, complaints) = (settings(keys), Complaints::new());
    let program = manifest::read(&Node::root(&settings, &complaints));
    let said = complaints.into_list();
    program.filter(|_| said.is_empty()).ok_or_else(|| format!("{said:?}"))
}
