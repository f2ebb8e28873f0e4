//! Writes the lists of stages and writers before all else is compiled: of each dependency that is a plugin of ours, the
//! entries that its `lib.rs` makes public, in the order of the dependencies.
//!
//! A crate must be named in `Cargo.toml` to be built at all (members of a workspace may be a pattern, dependencies not), so
//! that line alone lists it: a stage is one folder and one line.

use std::error::Error;
use std::fs;
use std::path::Path;

/// How the names of our packages begin.
const OURS: &str = "seamwright-";

#[expect(clippy::disallowed_methods, reason = "nobody reads what a build leaves half-written")]
fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=Cargo.toml");
    let manifest = fs::read_to_string("Cargo.toml")?;
    let (_, after) = manifest.split_once("\n[dependencies]\n").ok_or("Cargo.toml has no dependencies")?;
    let dependencies = after.split("\n[").next().unwrap_or_default();
    let (mut stages, mut writers) = (String::new(), String::new());
    for line in dependencies.lines().filter_map(|line| line.strip_prefix(OURS)) {
        let name = line.split(['.', ' ', '=']).next().unwrap_or_default();
        let lib = Path::new("plugins").join(name).join("src/lib.rs");
        println!("cargo::rerun-if-changed={}", lib.display());
        let text = fs::read_to_string(&lib).map_err(|why| format!("{}: {why}", lib.display()))?;
        for public in text.lines().filter_map(|line| line.strip_prefix("pub const ")) {
            let (entry, kind) = public.split_once(": ").unwrap_or_default();
            let list = match kind.split(' ').next() {
                Some("StageEntry") => &mut stages,
                Some("WriterEntry") => &mut writers,
                _ => continue,
            };
            list.push_str(&format!("    {}::{entry},\n", format!("{OURS}{name}").replace('-', "_")));
        }
    }
    let lists = format!(
        "/// The stages, in the order of a night.\npub const STAGES: &[StageEntry] = &[\n{stages}];\n\n\
         /// The writers.\npub const WRITERS: &[WriterEntry] = &[\n{writers}];\n"
    );
    let out = std::env::var("OUT_DIR")?;
    fs::write(Path::new(&out).join("entries.rs"), lists)?;
    Ok(())
}
