//! Configuration and catalogue: every mistake with its place and cure, and nothing shipped that has one.

mod settings;
mod shipped;

use std::path::Path;

use seamwright_contract::Fault;
use seamwright_contract::layout::Layout;
use seamwright_contract::plugin::{Fact, Means, Outbox, Stage, StageEntry, Writer, WriterEntry, no_settings};
use seamwright_contract::settings::Node;
use tempfile::TempDir;

use super::{Config, Diagnosis, FILE, Known, load_with};

/// A step that does nothing; what the entries say of it is what matters here.
#[derive(Debug)]
struct Idle;

impl Stage for Idle {
    fn apply(&self, layout: Layout) -> Result<Layout, Fault> {
        Ok(layout)
    }
}

impl Writer for Idle {
    fn write(&self, _: &Layout, _: &Means, _: &mut dyn Outbox) -> Result<(), Fault> {
        Ok(())
    }
}

#[expect(clippy::unnecessary_wraps, reason = "the form of an entry's reader")]
fn any_settings(_: &Node<'_>) -> Option<Box<dyn Stage>> {
    Some(Box::new(Idle))
}

fn no_stage_settings(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    no_settings(node)?;
    Some(Box::new(Idle))
}

fn no_writer_settings(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    no_settings(node)?;
    Some(Box::new(Idle))
}

const fn stage(
    name: &'static str,
    needs: &'static [Fact],
    gives: &'static [Fact],
    before: &'static [Fact],
) -> StageEntry {
    StageEntry { name, about: "", needs, gives, before, example: "", parse: any_settings, order: None }
}

const fn writer(name: &'static str, needs: &'static [Fact]) -> WriterEntry {
    WriterEntry { name, about: "", needs, example: "", parse: no_writer_settings }
}

const STAGES: [StageEntry; 9] = [
    stage("frame", &[], &[], &[Fact::Design]),
    stage("resize", &[], &[Fact::Design], &[]),
    stage("lettering", &[Fact::Design], &[], &[Fact::Colour, Fact::Panels]),
    stage("profile", &[Fact::Design], &[Fact::Colour], &[]),
    StageEntry { parse: no_stage_settings, ..stage("mirror", &[], &[Fact::Way], &[Fact::Panels]) },
    stage("overlap", &[], &[Fact::Lap], &[Fact::Panels]),
    stage("tile", &[Fact::Design, Fact::Lap], &[Fact::Panels], &[]),
    stage("marks", &[Fact::Panels], &[Fact::Marks], &[]),
    stage("press", &[Fact::Design], &[Fact::Press], &[]),
];

const WRITERS: [WriterEntry; 4] = [
    writer("sheets", &[Fact::Design, Fact::Colour, Fact::Panels]),
    writer("notes", &[Fact::Design, Fact::Panels, Fact::Press]),
    writer("proof", &[Fact::Design]),
    writer("record", &[]),
];

pub(crate) const KNOWN: Known<'static> =
    Known { stages: &STAGES, writers: &WRITERS, last_writer: "record", program: "program" };

/// A studio in a temporary folder, with this configuration and these further files.
pub(crate) fn studio(config: &str, files: &[(&str, &[u8])]) -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    put(folder.path(), FILE, config.as_bytes());
    for (name, bytes) in files {
        put(folder.path(), name, bytes);
    }
    folder
}

pub(crate) fn put(folder: &Path, name: &str, bytes: &[u8]) {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
    std::io::Write::write_all(&mut std::fs::File::create(path).expect("a file"), bytes).expect("its bytes");
}

pub(crate) fn load(folder: &Path) -> Result<Config, Vec<Diagnosis>> {
    load_with(Some(&folder.join(FILE)), &KNOWN)
}

/// The mistakes of a configuration and its files, one a line.
fn mistakes(config: &str, files: &[(&str, &[u8])]) -> String {
    let folder = studio(config, files);
    let found = load(folder.path()).expect_err("it has mistakes");
    found.iter().map(|diagnosis| format!("{diagnosis}\n")).collect()
}

#[track_caller]
pub(crate) fn says(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "`{word}` is missing in:\n{text}");
    }
}
