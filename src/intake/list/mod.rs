//! An order list: one artwork, one sidecar, and a table of which each row makes an order of its own.
//!
//! What a row says stands above the sidecar, as the sidecar stands above its folder's defaults. So that a row lives on
//! without its list, it gets a sidecar of its own with both in it, and a key that tells which row of which list it is.
//! [`plan`] decides what becomes of each row; whoever claims makes it so.

mod table;
#[cfg(test)]
mod tests;
mod unused;

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use seamwright_contract::order::Row;
use seamwright_contract::settings::{Part, Value};
use seamwright_contract::{Blame, Fault};

use super::order::Beside;
use super::pair::{self, Sources, shown};
use super::{fields, resolved, row};
use crate::config::yaml::{self, Document, FIELDS, LONGEST_ORDER};
use crate::config::{Config, Diagnosis, Excerpt};
use crate::journal::files::open_plain;
use crate::journal::{Plan, Planned, naming};
use table::{LONGEST_LIST, Table};

/// The key that names the list.
pub(super) const LIST: &str = "list";

/// The columns that say what a key of the order says; all others are fields.
const KEYS: [&str; 15] = [
    "blank",
    "size",
    "fit",
    "page",
    "paper",
    "orientation",
    "printer",
    "press",
    "intent",
    "copies",
    "print",
    "share",
    "note",
    "extra_sheets",
    "allow_low_ppi",
];

/// The columns that say a part of such a key.
const PARTS: [(&str, &str, &str); 4] = [
    ("width", "size", "width"),
    ("height", "size", "height"),
    ("measured_width", "measured", "width"),
    ("measured_height", "measured", "height"),
];

/// The keys of a sidecar that are about its list; no row has them of it.
const OF_THE_LIST: [&str; 3] = ["artwork", LIST, row::ROW];

/// Others that no row can say.
const NOT_IN_ROWS: [&str; 3] = [FIELDS, "keep_clear", "measured"];

/// The longest part of a row in its job's name, in bytes.
const LONGEST_SLUG: usize = 32;

/// What a column says.
enum Column {
    Key(&'static str),
    Part {
        key: &'static str,
        part: &'static str,
    },
    Field(String),
    /// It has no name; then its cells are empty too.
    Nothing,
}

impl Column {
    /// Whether it says what stands at this way in a sidecar.
    fn says(&self, way: &str) -> bool {
        let (first, rest) = way.split_once('.').unwrap_or((way, ""));
        match self {
            Self::Key(key) => *key == first,
            Self::Part { key, part } => *key == first && (rest.is_empty() || rest == *part),
            Self::Field(name) => first == FIELDS && rest == name,
            Self::Nothing => false,
        }
    }
}

/// What becomes of the rows of a claimed list; nothing where the claim is no list. `known` are the names of jobs that
/// are made or wait.
///
/// # Errors
/// Why the list as a whole cannot be read.
pub(crate) fn plan(
    claim: &Path,
    group: &str,
    config: &Config,
    known: impl FnOnce() -> io::Result<BTreeSet<String>>,
) -> Result<Option<Plan>, Vec<Fault>> {
    // What is wrong with a set is said when it is read as an order.
    let Ok(sources) = pair::pair(claim) else { return Ok(None) };
    let (Ok(sidecar), Ok(defaults)) =
        (super::document(sources.sidecar.as_deref()), super::document(sources.defaults.as_deref()))
    else {
        return Ok(None);
    };
    let Some(name) = named(&sidecar, &defaults) else { return Ok(None) };
    if !matches!(sidecar.root().value(), Value::Map(_) | Value::Nothing) {
        return Ok(None);
    }
    let table = open(claim, &name).map_err(|why| vec![why.blamed(Blame::Order)])?;
    let columns = columns(&name, &table).map_err(blamed)?;
    let unwell = |why: io::Error| {
        vec![Fault::machine(
            format!("Artwork or studio could not be read: {why}."),
            "See that the disk is well.",
        )]
    };
    let (sha256, known) = (naming::digest(&sources.artwork).map_err(unwell)?, known().map_err(unwell)?);
    let Sources { artwork, defaults: under, .. } = sources;
    let stem = naming::safe_stem(&artwork.file_stem().unwrap_or_default().to_string_lossy());
    let artwork = Some(artwork);
    let list = List { name, group, columns, stem, artwork, under, sidecar, defaults, config, sha256 };
    Ok(Some(list.plan(&table, &known)))
}

fn blamed(found: Vec<Diagnosis>) -> Vec<Fault> {
    found.into_iter().map(|why| why.blamed(Blame::Order)).collect()
}

/// Looks over the list that lies beside a sidecar, if that names one; `under` are the folder's defaults. There need not be
/// any artwork.
///
/// # Errors
/// All that is wrong with the list or its rows.
pub(super) fn check(file: &Path, under: Option<PathBuf>, config: &Config) -> Result<(), Vec<Diagnosis>> {
    let sidecar = super::document(Some(file))?;
    let defaults = super::document(under.as_deref())?;
    let Some(name) = named(&sidecar, &defaults) else { return Ok(()) };
    let table = open(file.parent().unwrap_or(Path::new(".")), &name).map_err(|why| vec![why])?;
    let columns = columns(&name, &table)?;
    let stem = naming::safe_stem(&file.file_stem().unwrap_or_default().to_string_lossy());
    let (artwork, sha256) = (None, String::new());
    let group = stem.clone();
    let list = List { name, group: &group, columns, stem, artwork, under, sidecar, defaults, config, sha256 };
    let found: Vec<Diagnosis> =
        list.rows(&table, &BTreeSet::new()).into_iter().flat_map(|(_, found)| found).collect();
    if found.is_empty() { Ok(()) } else { Err(found) }
}

/// The list that a sidecar names, or its folder's defaults; a row names none.
fn named(sidecar: &Document, defaults: &Document) -> Option<String> {
    let (own, under) = (super::names_in(sidecar), super::names_in(defaults));
    own.list.or(under.list).filter(|_| !own.is_row)
}

fn open(claim: &Path, name: &str) -> Result<Table, Diagnosis> {
    let mut bytes = Vec::new();
    let read =
        open_plain(&claim.join(name)).and_then(|file| file.take(LONGEST_LIST + 1).read_to_end(&mut bytes));
    if let Err(why) = read {
        return Err(Diagnosis::of_file(
            name,
            format!("the list cannot be read ({why})"),
            "Save it beside the artwork under the name that the key `list` gives, or take that key out.",
        ));
    }
    table::read(name, &bytes)
}

fn columns(name: &str, table: &Table) -> Result<Vec<Column>, Vec<Diagnosis>> {
    let (mut columns, mut mistakes, mut seen) = (Vec::new(), Vec::new(), BTreeSet::new());
    for (place, typed) in table.head.cells.iter().enumerate() {
        let word = typed.to_lowercase().split_whitespace().collect::<Vec<_>>().join("_");
        let twice = !word.is_empty() && !seen.insert(word.clone());
        let trouble = match column(&word) {
            Ok(_) if twice => Some(("two columns have this name".to_owned(), "Keep one of them.".to_owned())),
            Ok(column) => {
                columns.push(column);
                None
            }
            Err(trouble) => Some(trouble),
        };
        if let Some((what, cure)) = trouble {
            let found = Diagnosis::of_file(name, what, cure).at(table.cell(&table.head, place));
            mistakes.push(Diagnosis { key: typed.clone(), ..found });
        }
    }
    if mistakes.is_empty() { Ok(columns) } else { Err(mistakes) }
}

fn column(word: &str) -> Result<Column, (String, String)> {
    if word.is_empty() {
        Ok(Column::Nothing)
    } else if let Some(key) = KEYS.iter().find(|key| **key == word) {
        Ok(Column::Key(key))
    } else if let Some((_, key, part)) = PARTS.iter().find(|(name, _, _)| *name == word) {
        Ok(Column::Part { key, part })
    } else if OF_THE_LIST.contains(&word) || NOT_IN_ROWS.contains(&word) {
        Err((
            "a column cannot say this".to_owned(),
            "Say it in the sidecar, for all lines of the list.".to_owned(),
        ))
    } else if fields::is_key(word) {
        Ok(Column::Field(word.to_owned()))
    } else {
        Err((
            "this is no name for a column".to_owned(),
            "Begin it with a letter from a to z, and go on with those, digits, `_` and `-`.".to_owned(),
        ))
    }
}

/// All that the rows of a list have in common.
struct List<'c> {
    name: String,
    group: &'c str,
    columns: Vec<Column>,
    /// What the names of all its jobs begin with.
    stem: String,
    /// Nothing where the list is only looked over.
    artwork: Option<PathBuf>,
    /// The file of the folder's defaults.
    under: Option<PathBuf>,
    sidecar: Document,
    defaults: Document,
    config: &'c Config,
    /// The artwork's.
    sha256: String,
}

impl List<'_> {
    fn plan(&self, table: &Table, known: &BTreeSet<String>) -> Plan {
        let rows = self.rows(table, known).into_iter().map(|(planned, found)| Planned {
            why: blamed(found).iter().map(Into::into).collect(),
            ..planned
        });
        Plan { list: self.name.clone(), remark: self.unused(table), rows: rows.collect() }
    }

    /// What becomes of each row, and what is wrong with it.
    fn rows(&self, table: &Table, known: &BTreeSet<String>) -> Vec<(Planned, Vec<Diagnosis>)> {
        let mut first: BTreeMap<String, u32> = BTreeMap::new();
        let rows = table.rows.iter().map(|row| {
            let (mut planned, mut found) = self.row(row, table);
            if found.is_empty() {
                let earlier = *first.entry(planned.job.clone()).or_insert(row.line);
                if earlier != row.line {
                    found.push(self.doubled(earlier, row, table));
                } else if let Some(job) = made_before(&planned.job, known) {
                    planned.before = Some(job.clone());
                }
            }
            (planned, found)
        });
        rows.collect()
    }

    fn row(&self, row: &table::Row, table: &Table) -> (Planned, Vec<Diagnosis>) {
        let (values, mut mistakes) = self.values(row, table);
        let label = row.cells.iter().find(|cell| !cell.is_empty()).cloned().unwrap_or_default();
        let stem = self.stem(&label);
        let sidecar = yaml::write(&values);
        let made_of = self.resolved(&format!("{stem}.yaml"), &sidecar, row, table).unwrap_or_else(|found| {
            // A row with too few cells or too many lacks more by it; that is said already.
            if mistakes.is_empty() {
                mistakes = found;
            }
            sidecar.clone()
        });
        let sum = naming::digest_of(&[self.sha256.as_bytes(), resolved::essence(&made_of).as_bytes()]);
        let digits: String = sum.chars().take(8).collect();
        let planned = Planned {
            line: row.line,
            label,
            job: format!("{stem}-{digits}"),
            stem,
            sidecar,
            before: None,
            why: Vec::new(),
        };
        (planned, mistakes)
    }

    /// The artwork's stem and something readable of the row.
    fn stem(&self, label: &str) -> String {
        let slug = naming::slug(label, LONGEST_SLUG);
        let slug = if slug.is_empty() { "row".to_owned() } else { slug };
        format!("{}-{slug}", self.stem)
    }

    /// The row's own sidecar as values, and what is wrong with its cells.
    fn values(&self, row: &table::Row, table: &Table) -> (Value, Vec<Diagnosis>) {
        let mut values: Vec<(String, Value)> = match self.sidecar.root().value() {
            Value::Map(entries) => {
                entries.iter().filter(|(key, _)| !OF_THE_LIST.contains(&key.as_str())).cloned().collect()
            }
            _ => Vec::new(),
        };
        let mut mistakes = Vec::new();
        let mut uneven = |what: String, excerpt: Excerpt| {
            let cure =
                "Look for a separator too few or too many, and put quotes round a text with one in it.";
            mistakes.push(Diagnosis::of_file(&self.name, what, cure).at(excerpt));
        };
        if row.cells.len() < self.columns.len() {
            let (cells, columns) = (row.cells.len(), self.columns.len());
            let what = format!("the line has {cells} cells, and the list has {columns} columns");
            uneven(what, table.whole(row));
        }
        for (place, cell) in row.cells.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            match self.columns.get(place) {
                Some(Column::Key(key)) => put(&mut values, key, typed(key, cell)),
                Some(Column::Part { key, part }) => self.put_in(&mut values, key, part, cell),
                Some(Column::Field(name)) => self.put_in(&mut values, FIELDS, name, cell),
                Some(Column::Nothing) | None => {
                    let what = format!("'{}' stands in no column", shown(Some(cell.as_ref())));
                    uneven(what, table.cell(row, place));
                }
            }
        }
        let number = Row { list: self.name.clone(), line: row.line, group: self.group.to_owned() };
        put(&mut values, row::ROW, row::value(&number));
        (Value::Map(values), mistakes)
    }

    /// Puts a cell into a group of keys. What the folder's defaults say of that group counts as long as the row says no
    /// other; fields are laid over theirs one by one anyway.
    fn put_in(&self, values: &mut Vec<(String, Value)>, key: &str, part: &str, cell: &str) {
        let under: &[(String, Value)] = match self.defaults.root().value() {
            Value::Map(entries) if key != FIELDS => entries,
            _ => &[],
        };
        let known = values.iter().chain(under).find(|(known, _)| known == key);
        let mut group = match known {
            Some((_, Value::Map(entries))) => entries.clone(),
            _ => Vec::new(),
        };
        put(&mut group, part, text(cell));
        put(values, key, Value::Map(group));
    }

    /// The row's order with every value in it; `name` is what its sidecar would be called.
    fn resolved(
        &self,
        name: &str,
        sidecar: &str,
        row: &table::Row,
        table: &Table,
    ) -> Result<String, Vec<Diagnosis>> {
        let resolved = || {
            let sidecar = Document::parse(name, sidecar.as_bytes(), LONGEST_ORDER)?;
            let defaults = super::document(self.under.as_deref())?;
            let beside = match &self.artwork {
                Some(artwork) => Beside::Picture(artwork),
                None => Beside::Nothing { defaults_alone: false },
            };
            let order = super::order_of(sidecar, defaults, &beside, self.config)?;
            Ok(resolved::text(&order, self.config))
        };
        let placed = |found: Diagnosis| {
            if found.file == name { self.placed(found, row, table) } else { self.under_row(found, row) }
        };
        resolved().map_err(|found: Vec<Diagnosis>| found.into_iter().map(placed).collect())
    }

    /// A mistake in a row's sidecar, which nobody has written: it is one of the row's cells, or of the list's sidecar.
    fn placed(&self, found: Diagnosis, row: &table::Row, table: &Table) -> Diagnosis {
        let cell = self.columns.iter().position(|column| column.says(&found.key));
        match cell.filter(|place| row.cells.get(*place).is_some_and(|cell| !cell.is_empty())) {
            Some(place) => Diagnosis {
                key: table.head.cells.get(place).cloned().unwrap_or_default(),
                ..Diagnosis::of_file(&self.name, found.what, found.cure).at(table.cell(row, place))
            },
            None => {
                let excerpt = self.sidecar.excerpt(&found.key, Part::Value).map(Box::new);
                self.under_row(Diagnosis { file: self.sidecar.file().to_owned(), excerpt, ..found }, row)
            }
        }
    }

    /// A mistake in another file than the list, told of a row.
    fn under_row(&self, found: Diagnosis, row: &table::Row) -> Diagnosis {
        Diagnosis { file: format!("{}, line {}: {}", self.name, row.line, found.file), ..found }
    }

    fn doubled(&self, earlier: u32, row: &table::Row, table: &Table) -> Diagnosis {
        Diagnosis::of_file(
            &self.name,
            format!("line {} says the same as line {earlier}, which is made", row.line),
            "If two are wanted, write 2 into its column `copies`; if it is to be made all the same, retry it.",
        )
        .at(table.whole(row))
    }
}

/// The job of this name, or of this name with a number, if there is one.
fn made_before<'k>(job: &str, known: &'k BTreeSet<String>) -> Option<&'k String> {
    known.range(job.to_owned()..).take_while(|name| name.starts_with(job)).find(|name| {
        let rest = name.get(job.len()..).unwrap_or_default();
        rest.is_empty() || rest.strip_prefix('-').is_some_and(|n| n.bytes().all(|byte| byte.is_ascii_digit()))
    })
}

fn put(values: &mut Vec<(String, Value)>, key: &str, value: Value) {
    match values.iter_mut().find(|(known, _)| known == key) {
        Some((_, known)) => *known = value,
        None => values.push((key.to_owned(), value)),
    }
}

fn text(cell: &str) -> Value {
    Value::Text(cell.to_owned())
}

/// A cell as the key wants it: numbers as numbers where it counts something.
fn typed(key: &str, cell: &str) -> Value {
    let counts = matches!(key, "copies" | "page" | "extra_sheets");
    match cell.parse::<u32>() {
        Ok(number) if counts => Value::Number(f64::from(number)),
        _ => text(cell),
    }
}
