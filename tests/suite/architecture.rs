//! The lines that hold the structure: who may depend on whom, what stands at the top, how long a file may be.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

const TOP_LEVEL: &[&str] = &[
    ".ci",
    ".gitignore",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "config",
    "plugins",
    "src",
    "tests",
];

/// Libraries in `plugins/` that other crates there may use.
const SHARED: &[&str] = &["seamwright-contract", "seamwright-drawing", "seamwright-fonts"];

/// Crates that decode, draw or colour; `src/` must reach them only through plugins.
const PIXEL_PDF_COLOUR: &[&str] = &[
    "image",
    "png",
    "tiff",
    "zune-jpeg",
    "jpeg-decoder",
    "image-webp",
    "fearless_simd",
    "lcms2",
    "moxcms",
    "printpdf",
    "lopdf",
    "subsetter",
    "ttf-parser",
    "zlib-rs",
    "hayro",
    "resvg",
    "seamwright-drawing",
    "seamwright-fonts",
];

const LONGEST_FILE: usize = 600;
const LONGEST_CONTRACT: usize = 5_250;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Each workspace package with the names of what it is built on (tests' own needs left out).
fn packages() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(root())
        .output()
        .expect("cargo metadata runs");
    let metadata: Value = serde_json::from_slice(&output.stdout).expect("cargo metadata speaks JSON");
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    list(&metadata["packages"])
        .iter()
        .map(|package| {
            let needs = list(&package["dependencies"])
                .iter()
                .filter(|dependency| dependency["kind"].is_null())
                .map(|dependency| dependency["name"].as_str().expect("a name").to_owned())
                .collect();
            (package["name"].as_str().expect("a name").to_owned(), needs)
        })
        .collect()
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder of ours") {
        let path = entry.expect("an entry").path();
        if path.is_dir() && !path.ends_with("target") {
            found.extend(rust_files(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}

fn our_files() -> Vec<PathBuf> {
    ["src", "plugins", "tests"].iter().flat_map(|folder| rust_files(&root().join(folder))).collect()
}

#[test]
fn nothing_else_stands_at_the_top() {
    // What builds and the demo leave behind is named in .gitignore.
    let left_behind = fs::read_to_string(root().join(".gitignore")).expect(".gitignore");
    let left_behind: Vec<&str> = left_behind.lines().map(|line| line.trim_matches('/')).collect();
    let entries = fs::read_dir(root()).expect("the root");
    for name in entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()) {
        let known = [TOP_LEVEL, &left_behind, &[".git"]].iter().any(|names| names.contains(&name.as_str()));
        assert!(known, "`{name}` stands at the top level");
    }
}

#[test]
fn no_plugin_uses_a_plugin() {
    let packages = packages();
    assert!(packages.len() > 10, "cargo metadata lists the workspace");
    for (name, needs) in &packages {
        let ours: Vec<&String> = needs.iter().filter(|need| need.starts_with("seamwright-")).collect();
        match name.as_str() {
            "seamwright" => {}
            "seamwright-contract" => assert!(ours.is_empty(), "the contract uses {ours:?}"),
            "seamwright-drawing" => assert_eq!(ours, ["seamwright-contract"]),
            _ => assert!(ours.iter().all(|need| SHARED.contains(&need.as_str())), "{name} uses {ours:?}"),
        }
    }
}

#[test]
fn the_daemon_names_no_pixel_pdf_or_colour_crate() {
    let packages = packages();
    let needs = &packages["seamwright"];
    for banned in PIXEL_PDF_COLOUR {
        assert!(!needs.contains(*banned), "the daemon is built on {banned}");
    }
}

#[test]
fn only_the_registry_names_plugins() {
    for file in rust_files(&root().join("src")) {
        if file.ends_with("registry.rs") {
            continue;
        }
        let text = fs::read_to_string(&file).expect("a source file");
        for word in text
            .split(|c: char| !(c.is_alphanumeric() || c == '_'))
            .filter(|word| word.starts_with("seamwright_"))
        {
            assert_eq!(word, "seamwright_contract", "{} names a plugin", file.display());
        }
    }
}

#[test]
fn files_are_short_and_open_with_their_story() {
    for file in our_files() {
        let text = fs::read_to_string(&file).expect("a source file");
        let lines = text.lines().count();
        assert!(lines <= LONGEST_FILE, "{} has {lines} lines", file.display());
        assert!(text.starts_with("//! "), "{} does not open with its story", file.display());
    }
}

#[test]
fn the_contract_stays_small() {
    let source = root().join("plugins/contract/src");
    let lines: usize = rust_files(&source)
        .iter()
        .filter(|file| {
            !file.components().any(|part| part.as_os_str() == "tests" || part.as_os_str() == "sample.rs")
        })
        .map(|file| fs::read_to_string(file).expect("a source file").lines().count())
        .sum();
    assert!(lines <= LONGEST_CONTRACT, "the contract has {lines} lines");
}

#[test]
fn every_plugin_is_in_the_code_map() {
    let developers = fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md");
    for entry in fs::read_dir(root().join("plugins")).expect("plugins") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        assert!(developers.contains(&format!("`{name}`")), "DEVELOPERS.md does not mention `{name}`");
    }
}
