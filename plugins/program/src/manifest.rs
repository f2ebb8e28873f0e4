//! What a studio says of a program of its own: a few keys in `programs/<name>.yaml`.

use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use seamwright_contract::plugin::Fact;
use seamwright_contract::settings::{Fields, Node, Read as _};
use seamwright_contract::units::{Bytes, Seconds};

/// Where programs are looked for that are named without a folder; also all that they themselves are told.
pub(crate) const PATH: &str = "/usr/local/bin:/usr/bin:/bin";

/// What stands for the folder of the manifest.
const HERE: &str = "{here}/";

/// How long a program may take, and how much memory, where its manifest does not say.
const TIME: Duration = Duration::from_secs(60);
const MEMORY: Bytes = Bytes(512 << 20);

/// The least memory in which an interpreter starts.
const LEAST_MEMORY: Bytes = Bytes(16 << 20);

/// What a program may give back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gift {
    /// Another picture of the same size.
    Picture,
    /// Parts of the design that no seam may cross.
    KeepClear,
    /// How many sheets more may be taken.
    ExtraSheets,
    /// The note.
    Note,
    /// Files of the finished job.
    Files,
}

impl Gift {
    /// The words in manifests, also the keys of answers.
    const WORDS: [(&'static str, Self); 5] = [
        ("picture", Self::Picture),
        ("keep_clear", Self::KeepClear),
        ("extra_sheets", Self::ExtraSheets),
        ("note", Self::Note),
        ("files", Self::Files),
    ];

    pub(crate) fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, gift)| *gift == self).map_or("", |(word, _)| word)
    }
}

/// What a program may ask to find; the picture is more than a fact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Need {
    Picture,
    Fact(Fact),
}

const NEEDS: [(&str, Need); 8] = [
    ("picture", Need::Picture),
    ("design", Need::Fact(Fact::Design)),
    ("colour", Need::Fact(Fact::Colour)),
    ("mirroring", Need::Fact(Fact::Way)),
    ("lap", Need::Fact(Fact::Lap)),
    ("panels", Need::Fact(Fact::Panels)),
    ("marks", Need::Fact(Fact::Marks)),
    ("press", Need::Fact(Fact::Press)),
];

/// A program, as its manifest has it.
#[derive(Debug, Clone)]
pub(crate) struct Program {
    pub(crate) name: String,
    /// What is started: a file, and its words.
    pub(crate) command: Vec<String>,
    /// The files it consists of, as far as its command names them.
    pub(crate) files: Vec<ProgramFile>,
    /// The folder of its manifest.
    pub(crate) here: PathBuf,
    pub(crate) wants_picture: bool,
    pub(crate) needs: Vec<Fact>,
    pub(crate) gives: Vec<Gift>,
    /// Folders that it may read, beside its own and the system's.
    pub(crate) reads: Vec<PathBuf>,
    pub(crate) time: Duration,
    pub(crate) memory: u64,
    pub(crate) network: bool,
}

/// A file that a command names.
#[derive(Debug, Clone)]
pub(crate) struct ProgramFile {
    /// As the command has it, without its folder where that is the manifest's.
    pub(crate) name: String,
    pub(crate) path: PathBuf,
}

impl Program {
    pub(crate) fn gives(&self, gift: Gift) -> bool {
        self.gives.contains(&gift)
    }
}

/// The keys as they are written.
struct Keys {
    command: Vec<String>,
    wants_picture: bool,
    needs: Vec<Fact>,
    gives: Vec<Gift>,
    reads: Vec<PathBuf>,
    time: Duration,
    memory: u64,
    network: bool,
}

/// Looks a manifest over, without looking for what it starts: whether that is there matters only where it is listed.
#[must_use]
pub fn look_over(fields: &mut Fields<'_>) -> Option<()> {
    keys(fields).map(drop)
}

/// The program of a step. What it starts must be there.
pub(crate) fn read(node: &Node<'_>) -> Option<Program> {
    let mut fields = node.fields()?;
    let name: Option<String> = fields.required("name", "deepen");
    let here: Option<String> = fields.optional("here");
    let keys = keys(&mut fields);
    fields.finish();
    let (name, keys) = (name?, keys?);
    // Where there is no such folder, nothing in it can be named.
    let here = PathBuf::from(here.unwrap_or_default());
    let here = here.canonicalize().unwrap_or(here);
    let mut files = Vec::new();
    let command = keys.command.iter().enumerate().map(|(at, word)| {
        let file = match word.strip_prefix(HERE) {
            Some(file) => beside(file, &here),
            None if at == 0 => installed(word),
            None => return Some(word.clone()),
        };
        let file = file.map_err(|(what, cure)| node.complain(format!("`{name}`: {what}"), cure)).ok()?;
        let path = file.path.to_string_lossy().into_owned();
        files.push(file);
        Some(path)
    });
    let command = command.collect::<Option<_>>()?;
    let Keys { command: _, wants_picture, needs, gives, reads, time, memory, network } = keys;
    Some(Program { name, command, files, here, wants_picture, needs, gives, reads, time, memory, network })
}

fn keys(fields: &mut Fields<'_>) -> Option<Keys> {
    let command = command(fields);
    // For people.
    let about: Option<Option<String>> = fields.get("about").map(|node| String::read(&node));
    let needs = words(fields.get("needs").as_ref(), &NEEDS);
    let gives = words(fields.get("gives").as_ref(), &Gift::WORDS);
    let reads = folders(fields.get("reads").as_ref());
    let time = fields.get("time").map_or(Some(Seconds(0)), |node| Seconds::read(&node));
    let memory = fields.get("memory").map_or(Some(MEMORY), |node| memory(&node));
    let network = fields.get("network").map_or(Some(false), |node| bool::read(&node));
    let (needs, gives, time) = (needs?, gives?, time?);
    about.unwrap_or_default();
    let wants_picture = needs.contains(&Need::Picture);
    let mut facts: Vec<Fact> = needs
        .iter()
        .filter_map(|need| match need {
            Need::Picture => None,
            Need::Fact(fact) => Some(*fact),
        })
        .collect();
    // The picture's pixels are those of the design.
    if (wants_picture || gives.contains(&Gift::Picture)) && !facts.contains(&Fact::Design) {
        facts.push(Fact::Design);
    }
    let time = if time == Seconds(0) { TIME } else { Duration::from_secs(u64::from(time.0)) };
    Some(Keys {
        command: command?,
        wants_picture,
        needs: facts,
        gives,
        reads: reads?,
        time,
        memory: memory?.0,
        network: network?,
    })
}

/// A list of words, without a shell in between.
fn command(fields: &mut Fields<'_>) -> Option<Vec<String>> {
    let example = "[python3, \"{here}/deepen.py\"]";
    let node = fields.must("command", || format!("Add `command: {example}`."))?;
    let words: Option<Vec<String>> = node.items().iter().map(String::read).collect();
    let words = words?;
    for word in &words {
        let named = word.strip_prefix(HERE);
        if word.contains(HERE) && named.is_none_or(|file| !is_bare(file)) {
            node.complain(
                format!("`{word}` does not name a file beside this one"),
                format!("Write `{{here}}/` and the file's name alone, as a word of its own: `{example}`."),
            );
            return None;
        }
    }
    if words.first().is_none_or(String::is_empty) {
        node.complain("nothing is started", format!("Write for example `{example}`."));
        return None;
    }
    Some(words)
}

fn is_bare(name: &str) -> bool {
    !name.is_empty() && !name.contains('/') && !name.starts_with('.')
}

fn words<T: Copy>(node: Option<&Node<'_>>, words: &[(&str, T)]) -> Option<Vec<T>> {
    node.map(Node::items).unwrap_or_default().iter().map(|item| item.choice(words)).collect()
}

fn folders(node: Option<&Node<'_>>) -> Option<Vec<PathBuf>> {
    let folder = |item: &Node<'_>| {
        let path = PathBuf::from(String::read(item)?);
        if !path.is_absolute() {
            item.complain(
                "this folder does not begin at the root",
                "Write all of its path, such as `/srv/tools`.",
            );
            return None;
        }
        Some(path)
    };
    node.map(Node::items).unwrap_or_default().iter().map(folder).collect()
}

fn memory(node: &Node<'_>) -> Option<Bytes> {
    let bytes = Bytes::read(node)?;
    if bytes < LEAST_MEMORY {
        node.complain(
            format!("{bytes} is too little for a program to start in"),
            format!("Give it at least `{LEAST_MEMORY}`."),
        );
        return None;
    }
    Some(bytes)
}

/// What is wrong, and its cure.
type Wrong = (String, String);

/// A file beside the manifest.
fn beside(file: &str, here: &Path) -> Result<ProgramFile, Wrong> {
    let path = here.join(file);
    if path.is_file() {
        return Ok(ProgramFile { name: file.to_owned(), path });
    }
    Err((
        format!("there is no file {file} in {}", here.display()),
        "Put it there, beside the manifest.".to_owned(),
    ))
}

/// A program of the system, by its path or its name.
fn installed(word: &str) -> Result<ProgramFile, Wrong> {
    let named = Path::new(word);
    let places: Vec<PathBuf> = if named.is_absolute() {
        vec![named.to_owned()]
    } else if word.contains('/') {
        Vec::new()
    } else {
        PATH.split(':').map(|folder| Path::new(folder).join(word)).collect()
    };
    let runs = |path: &PathBuf| {
        path.metadata().is_ok_and(|facts| facts.is_file() && facts.permissions().mode() & 0o111 != 0)
    };
    match places.into_iter().find(runs) {
        Some(path) => Ok(ProgramFile { name: path.to_string_lossy().into_owned(), path }),
        None => Err((
            format!("there is no program `{word}` on this machine"),
            format!("Install it, or name it by its whole path; without one it is looked for in {PATH}."),
        )),
    }
}
