//! Texts people write: sidecars, settings, catalogue entries, and words that are set on a page.

use std::sync::OnceLock;

use lopdf::{Document, Object};
use seamwright::config::{Config, Diagnosis, FILE, load};
use seamwright::intake::{check, check_list, read};
use seamwright_contract::order::Order;
use seamwright_contract::{Blame, Length, Page, Point, Size};
use seamwright_drawing::pdf::{Info, document, save};
use seamwright_drawing::{Align, Canvas, Style};

use super::put;

/// What cannot stand in a text, and so parts the two texts of an order in one input.
const BETWEEN: u8 = 0;

/// The settings as shipped, read once.
pub(super) fn shipped() -> &'static Config {
    static SHIPPED: OnceLock<Config> = OnceLock::new();
    SHIPPED.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join(FILE);
        put(&file, b"");
        load(Some(&file)).expect("the shipped settings")
    })
}

/// A sidecar, and after a zero byte its folder's defaults.
pub(super) fn sidecar(data: &[u8]) {
    if let Some(order) = taken(data) {
        assert!(order.size.width > Length::ZERO && order.size.height > Length::ZERO, "{order:?}");
        assert!(!order.papers.is_empty() && order.copies > 0, "{order:?}");
    }
}

/// The order of a sidecar and its folder's defaults, if they are in order.
pub(super) fn taken(data: &[u8]) -> Option<Order> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut texts = data.splitn(2, |byte| *byte == BETWEEN);
    let own = folder.path().join("chart.yaml");
    put(&own, texts.next().unwrap_or_default());
    if let Some(defaults) = texts.next() {
        put(&folder.path().join("folder.yaml"), defaults);
    }
    put(&folder.path().join("chart.png"), b"");
    let checked = check(&own, shipped());
    if let Err(mistakes) = &checked {
        told(mistakes);
    }
    match read(folder.path(), shipped()) {
        Ok(taken) => {
            assert_eq!(checked, Ok(()), "an order that is taken has no mistakes");
            Some(taken.order)
        }
        Err(faults) => {
            assert!(!faults.is_empty(), "a refusal says why");
            for fault in faults {
                assert!(fault.blame == Blame::Order && !fault.cure.is_empty(), "{fault:?}");
            }
            None
        }
    }
}

/// A list of orders.
pub(super) fn list(data: &[u8]) {
    let folder = tempfile::tempdir().expect("a folder");
    let own = folder.path().join("chart.yaml");
    put(&own, b"blank: table-mat-36x24\nlist: names.csv\nfields: {town: Port}\n");
    put(&folder.path().join("names.csv"), data);
    for fault in check_list(&own, shipped()).err().unwrap_or_default() {
        assert!(!fault.cure.is_empty() && !fault.place().is_empty(), "{fault:?}");
    }
}

/// A studio's settings.
pub(super) fn settings(data: &[u8]) {
    loaded(FILE, data, b"");
}

/// An entry of the studio's own catalogue; the first byte chooses its kind.
pub(super) fn catalogue(data: &[u8]) {
    let Some((kind, text)) = data.split_first() else { return };
    let (file, chosen) = match kind % 5 {
        0 => ("blanks/own.yaml", ""),
        1 => ("substrates/own.yaml", ""),
        2 => ("papers/own.yaml", ""),
        3 => ("printers/own.yaml", "printer: own\n"),
        _ => ("presses/own.yaml", "press: own\n"),
    };
    loaded(file, text, chosen.as_bytes());
}

fn loaded(file: &str, text: &[u8], settings: &[u8]) {
    let folder = tempfile::tempdir().expect("a folder");
    put(&folder.path().join(FILE), settings);
    put(&folder.path().join(file), text);
    match load(Some(&folder.path().join(FILE))) {
        Ok(config) => {
            assert!(config.catalogue.printers.get(&config.printer).is_some(), "{}", config.printer);
            assert!(config.catalogue.presses.get(&config.press).is_some(), "{}", config.press);
            assert!(config.workers > 0 && config.memory > 0, "means to work with");
        }
        Err(mistakes) => told(&mistakes),
    }
}

/// Mistakes are said so that they can be found and mended, and play no tricks on a terminal; what was typed is repeated with
/// its tabs and line ends.
fn told(mistakes: &[Diagnosis]) {
    assert!(!mistakes.is_empty(), "a refusal says why");
    for mistake in mistakes {
        assert!(!mistake.what.is_empty() && !mistake.cure.is_empty(), "{mistake:?}");
        let shown = mistake.to_string();
        assert!(shown.split(['\n', '\t']).all(super::is_plain), "{shown:?}");
    }
}

/// Words set on a page and in a document's title; the PDF reads back with that very title.
pub(super) fn page(data: &[u8]) {
    let words = String::from_utf8_lossy(data);
    let mut canvas = Canvas::new(Size::new(Length::from_mm(210), Length::from_mm(297)));
    let at = Point::<Page>::new(Length::from_mm(10), Length::from_mm(20));
    let size = Length::from_mm(4);
    canvas.text(at, size, Style::Bold, Align::Centre, words.as_ref());
    canvas.paragraph(at, Length::from_mm(60), size, Style::Regular, &words);
    let lines = Style::Regular.wrap(size, &words, Length::from_mm(60));
    for line in lines.iter().filter(|line| line.chars().count() > 1) {
        assert!(Style::Regular.width(size, line) <= Length::from_mm(60), "{line:?} is wider than asked");
    }
    let info = Info { title: words.to_string(), subject: words.to_string(), identity: String::new() };
    let mut made = document(&[canvas], &info).expect("a document");
    let mut file = Vec::new();
    save(&mut made, &mut file).expect("its bytes");
    let back = Document::load_mem(&file).expect("a PDF that reads back");
    assert_eq!(back.get_pages().len(), 1, "one page was written");
    let about = back.trailer.get(b"Info").and_then(Object::as_reference).expect("a reference");
    let about = back.get_dictionary(about).expect("a dictionary");
    for key in [&b"Title"[..], b"Subject"] {
        let Ok(Object::String(bytes, _)) = about.get(key) else { panic!("no string") };
        assert_eq!(text_of(bytes), words, "the words are in the file as they were given");
    }
}

/// A PDF's text string (ISO 32000-1, 7.9.2.2).
fn text_of(bytes: &[u8]) -> String {
    match bytes.strip_prefix(&[0xFE, 0xFF]) {
        Some(units) => {
            let units = units.as_chunks().0.iter().map(|&pair| u16::from_be_bytes(pair));
            char::decode_utf16(units).map(|unit| unit.expect("whole characters")).collect()
        }
        None => bytes.iter().map(|&byte| char::from(byte)).collect(),
    }
}
