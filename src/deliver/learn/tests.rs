//! Answers as printers give them, and what becomes of them.

use std::fs;

use ::ipp::attribute::{IppAttribute, IppAttributeGroup};
use ::ipp::model::DelimiterTag;
use ::ipp::value::IppValue;
use seamwright_contract::catalogue::Delivers;
use seamwright_contract::sending::{Print, Way};
use seamwright_contract::{Length, Size};
use tempfile::TempDir;

use super::*;

const URI: &str = "ipp://localhost:8631/ipp/print";

fn keywords(words: &[&str]) -> IppValue {
    IppValue::Array(words.iter().map(|word| IppValue::new_keyword(*word).unwrap()).collect())
}

fn collection(members: &[(&str, IppValue)]) -> IppValue {
    IppValue::Collection(
        members.iter().map(|(name, value)| ((*name).try_into().unwrap(), value.clone())).collect(),
    )
}

/// An entry of a database: the two sides, and top, right, bottom, left, in hundredths of a millimetre.
fn sheet(width: i32, height: i32, [top, right, bottom, left]: [i32; 4]) -> IppValue {
    let number = IppValue::Integer;
    collection(&[
        ("media-size", collection(&[("x-dimension", number(width)), ("y-dimension", number(height))])),
        ("media-top-margin", number(top)),
        ("media-right-margin", number(right)),
        ("media-bottom-margin", number(bottom)),
        ("media-left-margin", number(left)),
    ])
}

fn answer(attributes: &[(&str, IppValue)]) -> Told {
    let mut group = IppAttributeGroup::new(DelimiterTag::PrinterAttributes);
    for (name, value) in attributes {
        group.attributes_mut().push(IppAttribute::with_name(*name, value.clone()).unwrap());
    }
    Told::read(&group)
}

fn usual() -> Vec<(&'static str, IppValue)> {
    vec![
        (
            "printer-make-and-model",
            IppValue::new_text_without_language("Lamp Room \"Wide\" #2\n: yes").unwrap(),
        ),
        ("document-format-supported", IppValue::new_mime_media_type("application/pdf").unwrap()),
        ("print-scaling-supported", keywords(&["auto", "none"])),
        ("sides-supported", keywords(&["one-sided"])),
        ("print-color-mode-supported", keywords(&["color"])),
        ("print-quality-supported", IppValue::Array([3, 5].map(IppValue::Enum).to_vec())),
        ("media-type-supported", keywords(&["stationery", "photographic-matte"])),
        ("media-source-supported", keywords(&["main", "rear"])),
        (
            "media-supported",
            keywords(&[
                "iso_a4_210x297mm",
                "na_letter_8.5x11in",
                "na_govt-letter_8x10in",
                "oe_lamp_300x400mm",
                "na_number-10_4.125x9.5in",
                "na_index-3x5_3x5in",
                "custom_min_76.2x127mm",
                "custom_max_330.2x483mm",
            ]),
        ),
        (
            "printer-output-tray",
            IppValue::OctetString(
                "type=unRemovableBin;name=top;stackingorder=lastToFirst;pagedelivery=faceUp;".into(),
            ),
        ),
        ("media-ready", keywords(&["na_letter_8.5x11in"])),
        (
            "media-col-database",
            IppValue::Array(vec![
                sheet(21_000, 29_700, [300, 340, 500, 340]),
                sheet(21_000, 29_700, [0, 0, 0, 0]),
                sheet(21_590, 27_940, [300, 340, 500, 340]),
                sheet(21_590, 27_940, [423, 300, 423, 300]),
                sheet(21_590, 27_940, [423, 300, 423, 300]),
                sheet(20_320, 25_400, [300, 340, 500, 340]),
                sheet(30_000, 40_000, [300, 300, 1_700, 300]),
                sheet(32_900, 48_300, [0, 0, 0, 0]),
                sheet(10_477, 24_130, [300, 300, 300, 300]),
                sheet(7_620, 12_700, [300, 300, 300, 300]),
                // Fed with its long edge first, wider than it takes, and nonsense.
                sheet(27_940, 21_590, [100, 100, 100, 100]),
                sheet(60_000, 90_000, [100, 100, 100, 100]),
                sheet(-5, 10, [1, 1, 1, 1]),
                IppValue::Integer(7),
            ]),
        ),
    ]
}

/// A studio, and what comes of an answer in it.
fn studio() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(config::FILE);
    write_whole(&path, b"").unwrap();
    (folder, path)
}

fn written(name: Option<&str>, told: &Told, path: &Path) -> Result<Vec<String>, String> {
    write(URI, name, told, Some(path), &config::load(Some(path)).unwrap())
}

fn um(top: i64, right: i64, bottom: i64, left: i64) -> seamwright_contract::Sides<Length> {
    let [top, right, bottom, left] = [top, right, bottom, left].map(Length::from_um);
    seamwright_contract::Sides { left, top, right, bottom }
}

#[test]
fn an_answer_becomes_an_entry_that_is_in_order() {
    let (folder, path) = studio();
    let said = written(None, &answer(&usual()), &path).unwrap().join("\n");
    let config = config::load(Some(&path)).unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
    let printer = config.catalogue.printers.get("lamp-room-wide-2-yes").expect(&said);
    let papers: Vec<&str> = printer.papers.iter().map(|paper| paper.name.as_str()).collect();
    assert_eq!(
        papers,
        ["letter", "a4", "govt-letter", "oe-lamp", "329x483"],
        "what is loaded first, no cards"
    );
    assert_eq!(printer.margins_on("letter"), um(4_230, 3_400, 5_000, 3_400), "the largest of each side");
    assert_eq!(printer.margins_on("a4"), um(3_000, 3_400, 5_000, 3_400), "borderless is not counted");
    assert_eq!(printer.margins_on("oe-lamp"), um(3_000, 3_000, 17_000, 3_000));
    assert_eq!(
        printer.margins_on("329x483"),
        um(6_350, 6_350, 6_350, 6_350),
        "only borderless: the safe guess"
    );
    assert_eq!(printer.delivers, Some(Delivers::FaceUp));
    assert_eq!(printer.papers[2].size, Size::new(Length::from_um(203_200), Length::from_um(254_000)));
    let send_to = printer.send_to.as_ref().unwrap();
    assert_eq!((&send_to.way, send_to.print), (&Way::Ipp(URI.to_owned()), Print::Hold), "nothing by itself");
    let new: Vec<_> = fs::read_dir(folder.path().join("papers")).unwrap().collect();
    assert_eq!(new.len(), 2, "only what the catalogue does not have");
    for words in [
        "Loaded now: letter",
        "no margins for 329x483",
        "differ by tray or kind of paper on letter",
        "a4, 329x483 without borders",
        "Left out: 2 sizes",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("actual size") && !said.contains("no PDF"), "{said}");
}

#[test]
fn what_is_there_is_not_written_over() {
    let (folder, path) = studio();
    let told = answer(&usual());
    written(Some("mats"), &told, &path).unwrap();
    let file = folder.path().join("printers/mats.yaml");
    write_whole(&file, b"{papers: [a4], margins: 1in}").unwrap();
    let again = written(Some("mats"), &told, &path).unwrap_err();
    assert!(again.contains("mats.yaml is there already"), "{again}");
    assert_eq!(fs::read(&file).unwrap(), b"{papers: [a4], margins: 1in}");
    for (name, why) in [("desk-letter", "the catalogue has a printer"), ("../mats", "cannot be a name")] {
        let refused = written(Some(name), &told, &path).unwrap_err();
        assert!(refused.contains(why), "{refused}");
    }
    // The papers of the first are known by now.
    let said = written(Some("more"), &told, &path).unwrap();
    assert!(!said.iter().any(|line| line.starts_with("papers/")), "{said:?}");
    // A paper of that name and another size stays what it is.
    let (folder, path) = studio();
    fs::create_dir(folder.path().join("papers")).unwrap();
    write_whole(&folder.path().join("papers/oe-lamp.yaml"), b"{width: 1in, height: 2in}").unwrap();
    let said = written(Some("mats"), &told, &path).unwrap();
    assert!(said.contains(&"papers/300x400mm.yaml".to_owned()), "{said:?}");
}

#[test]
fn what_it_cannot_do_is_said() {
    let told = |name: &str, value: Option<IppValue>| {
        let mut attributes = usual();
        attributes.retain(|(known, _)| *known != name);
        let mut told: Vec<(&str, IppValue)> = attributes;
        if let Some(value) = value {
            told.push((name, value));
        }
        answer(&told)
    };
    for (name, value, words) in [
        ("print-scaling-supported", Some(keywords(&["auto", "fit"])), "does not promise actual size"),
        ("print-scaling-supported", None, "does not promise actual size"),
        (
            "document-format-supported",
            Some(IppValue::new_mime_media_type("image/urf").unwrap()),
            "takes no PDF, only image/urf",
        ),
        ("sides-supported", Some(keywords(&["two-sided-long-edge"])), "printing on one side"),
        ("printer-output-tray", None, "does not say how sheets come to lie"),
        ("print-color-mode-supported", Some(keywords(&["monochrome"])), "no colour"),
        ("print-quality-supported", None, "no high quality"),
    ] {
        let (_folder, path) = studio();
        let said = written(Some("mats"), &told(name, value), &path).unwrap().join("\n");
        assert!(said.contains(words), "{said}");
        let config = config::load(Some(&path)).unwrap();
        let sends = config.catalogue.printers.get("mats").unwrap().send_to.is_some();
        assert_eq!(sends, name != "document-format-supported");
    }
}

#[test]
fn printers_that_say_little_are_taken_at_their_word() {
    let number = IppValue::Integer;
    // Names alone, and margins for all papers; one value where others give a list.
    let told = answer(&[
        ("media-supported", keywords(&["iso_a4_210x297mm", "custom_max_330x480mm", "a4-white"])),
        ("media-top-margin-supported", IppValue::Array(vec![number(0), number(500)])),
        ("media-right-margin-supported", number(300)),
        ("media-bottom-margin-supported", number(400)),
        ("media-left-margin-supported", number(300)),
    ]);
    let (_folder, path) = studio();
    written(None, &told, &path).unwrap();
    let config = config::load(Some(&path)).unwrap();
    let printer = config.catalogue.printers.get("printer").unwrap();
    assert_eq!((printer.papers.len(), printer.margins_on("a4")), (1, um(5_000, 3_000, 4_000, 3_000)));
    // A database of one entry.
    let one = answer(&[
        ("media-supported", keywords(&["iso_a4_210x297mm"])),
        ("media-col-database", sheet(21_000, 29_700, [423, 423, 423, 423])),
    ]);
    assert_eq!(one.sheets[0].margins(), Some(um(4_230, 4_230, 4_230, 4_230)));
    let none = written(Some("none"), &answer(&[]), &path).unwrap_err();
    assert!(none.contains("no paper"), "{none}");
}

#[tokio::test]
async fn addresses_that_are_none_and_printers_that_are_away_are_told() {
    let (_folder, path) = studio();
    let config = config::load(Some(&path)).unwrap();
    for (uri, why) in [
        ("ipps://lamp/ipp/print", "Encrypted printing"),
        ("lamp", "no address"),
        ("ipp://lamp/\"}", "no address"),
        ("ipp://127.0.0.1:9/ipp/print", "cannot be asked"),
    ] {
        let told = learn(uri, None, Some(&path), &config).await.unwrap_err();
        assert!(told.contains(why), "{told}");
    }
    assert!(!config.studio.root.join("printers").exists(), "nothing is written");
}
