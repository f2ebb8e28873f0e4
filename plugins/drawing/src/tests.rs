//! The finished PDF read back: by lopdf's own parser, and by the usual tools where they are installed.

use std::process::Command;

use lopdf::{Document, Object};
use seamwright_contract::picture::{Band, Format, Pixels, Samples};
use seamwright_contract::{Blame, Length, Page, Point, Rect, Size};

use crate::pdf::{Info, document, save};
use crate::{Align, Canvas, Item, Path, Pen, Style};

const LETTER: Size = Size::new(Length::from_um(215_900), Length::from_um(279_400));

fn p(x: i64, y: i64) -> Point<Page> {
    Point::new(Length::from_mm(x), Length::from_mm(y))
}

fn info() -> Info {
    Info {
        title: "Star chart (b\u{e4}r) & <co>".to_owned(),
        subject: "sheets".to_owned(),
        identity: "3f9a21".to_owned(),
    }
}

/// Two pages with one of everything.
fn sample() -> Vec<Canvas> {
    let mut first = Canvas::new(LETTER);
    let size = Length::from_um(4_000);
    first.line(p(10, 10), p(60, 10), Pen::black(Length::from_um(200)));
    first.stroke(
        Path::rounded(
            &Rect::new(Length::from_mm(20), Length::from_mm(20), LETTER.height.half(), LETTER.width.half()),
            Size::new(Length::from_mm(8), Length::from_mm(8)),
        ),
        Pen { weight: Length::from_um(300), shade: 120, dash: Some(Length::from_mm(2)) },
    );
    first.fill(
        Path::half_moon(&Rect::new(
            Length::from_mm(30),
            Length::from_mm(180),
            Length::from_mm(60),
            Length::from_mm(30),
        )),
        200,
    );
    first.text(
        p(20, 40),
        size,
        Style::Regular,
        Align::Left,
        "stra\u{df}e \u{e4}\u{17e} \u{3a9} (x) \\ 3/4\"",
    );
    first.text(p(20, 60), size, Style::Bold, Align::Left, "Panel 1 \u{1f980}\u{7}");
    first.items.push(Item::Text {
        at: p(15, 120),
        size,
        style: Style::Regular,
        upwards: true,
        mirrored: false,
        shade: 90,
        text: "upwards".to_owned(),
    });
    first.items.push(Item::Text {
        at: p(195, 150),
        size,
        style: Style::Regular,
        upwards: false,
        mirrored: true,
        shade: 0,
        text: "mirrored".to_owned(),
    });
    let mut band = Band::bare(Pixels::new(4, 3), Format::RGB8);
    if let Samples::Eight(samples) = &mut band.samples {
        samples.iter_mut().zip(0_u8..).for_each(|(sample, value)| *sample = value);
    }
    first.items.push(Item::Image(
        Rect::new(Length::from_mm(100), Length::from_mm(200), Length::from_mm(40), Length::from_mm(30)),
        band,
    ));
    let mut second = Canvas::new(Size::new(Length::from_mm(297), Length::from_mm(210)));
    second.text(p(20, 40), size, Style::Regular, Align::Left, "second page");
    vec![first, second]
}

fn bytes(pages: &[Canvas]) -> Vec<u8> {
    let mut out = Vec::new();
    save(&mut document(pages, &info()).unwrap(), &mut out).unwrap();
    out
}

fn number(object: &Object) -> f64 {
    f64::from(object.as_float().unwrap())
}

#[test]
fn pages_have_the_size_of_their_canvas() {
    let read = Document::load_mem(&bytes(&sample())).unwrap();
    // ISO 216 A4 is 210 x 297 mm; Letter is 8.5 x 11 in = 612 x 792 pt.
    let expected = [[612.0, 792.0], [297.0 / 25.4 * 72.0, 210.0 / 25.4 * 72.0]];
    for ((_, id), [width, height]) in read.get_pages().into_iter().zip(expected) {
        let page = read.get_dictionary(id).unwrap();
        for key in [b"MediaBox".as_slice(), b"TrimBox"] {
            let sides = page.get(key).unwrap().as_array().unwrap();
            assert!((number(&sides[2]) - width).abs() < 1e-4, "width {:?}", sides[2]);
            assert!((number(&sides[3]) - height).abs() < 1e-4, "height {:?}", sides[3]);
        }
        assert!(!page.has(b"Rotate"), "a page must not be turned");
    }
}

#[test]
fn it_says_only_what_we_say() {
    let all = bytes(&sample());
    assert!(all.starts_with(b"%PDF-1.7\n"), "version");
    let read = Document::load_mem(&all).unwrap();
    let about = read.trailer.get_deref(b"Info", &read).unwrap().as_dict().unwrap();
    let mut keys: Vec<_> = about.iter().map(|(key, _)| String::from_utf8_lossy(key).into_owned()).collect();
    keys.sort();
    assert_eq!(keys, ["Creator", "Producer", "Subject", "Title"]);
    let made = about.get(b"Producer").unwrap().as_str().unwrap();
    assert!(made.starts_with(b"Seamwright "), "{made:?}");
    let viewer = read.catalog().unwrap().get(b"ViewerPreferences").unwrap().as_dict().unwrap();
    assert_eq!(viewer.get(b"PrintScaling").unwrap().as_name().unwrap(), b"None");
    let mut plain = read;
    plain.decompress();
    let mut text = Vec::new();
    plain.save_to(&mut text).unwrap();
    let text = String::from_utf8_lossy(&text).to_lowercase();
    for foreign in ["printpdf", "lopdf", "illustrator", "gts_pdfx", "fogra", "1970"] {
        assert!(!text.contains(foreign), "'{foreign}' in the file");
    }
}

#[test]
fn each_page_names_only_what_it_uses() {
    let read = Document::load_mem(&bytes(&sample())).unwrap();
    let pages: Vec<_> = read.get_pages().into_values().collect();
    let named = |page: usize, kind: &[u8]| -> usize {
        let resources = read.get_dictionary(pages[page]).unwrap().get(b"Resources").unwrap();
        resources.as_dict().unwrap().get(kind).map_or(0, |all| all.as_dict().unwrap().len())
    };
    assert_eq!([named(0, b"Font"), named(0, b"XObject")], [2, 1]);
    assert_eq!([named(1, b"Font"), named(1, b"XObject")], [1, 0]);
}

#[test]
fn the_same_pages_give_the_same_bytes() {
    let here = bytes(&sample());
    assert_eq!(here, bytes(&sample()), "twice in one process");
    // A new process starts every random state anew; it prints the digest of what it drew.
    let other = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "tests::prints_its_bytes", "--nocapture", "--ignored"])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&other.stdout).into_owned();
    assert!(said.contains(&format!("<{}>", digest(&here))), "another process drew other bytes:\n{said}");
}

#[test]
#[ignore = "the other process of the test above"]
fn prints_its_bytes() {
    println!("<{}>", digest(&bytes(&sample())));
}

fn digest(bytes: &[u8]) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn what_the_font_lacks_is_seen() {
    assert_eq!(Style::Regular.shown('\u{1f980}'), '?');
    assert_eq!(Style::Regular.shown('\u{7}'), '?');
    assert_eq!(Style::Regular.shown('\t'), ' ');
    assert_eq!(Style::Regular.shown('\u{df}'), '\u{df}');
    let size = Length::from_mm(10);
    assert_eq!(Style::Regular.width(size, "\u{1f980}"), Style::Regular.width(size, "?"));
}

#[test]
fn advances_in_the_file_are_those_measured() {
    let read = Document::load_mem(&bytes(&sample())).unwrap();
    let page = read.get_pages()[&2];
    let fonts = read.get_page_fonts(page).unwrap();
    let font = fonts.values().next().unwrap();
    let descendant = font.get(b"DescendantFonts").unwrap().as_array().unwrap()[0].as_dict().unwrap();
    let widths = descendant.get(b"W").unwrap().as_array().unwrap()[1].as_array().unwrap().clone();
    let content = lopdf::content::Content::decode(&read.get_page_content(page)).unwrap();
    let shown = content.operations.iter().find(|operation| operation.operator == "Tj").unwrap();
    let codes = shown.operands[0].as_str().unwrap();
    let set: f64 = codes
        .chunks(2)
        .map(|code| number(&widths[usize::from(u16::from_be_bytes([code[0], code[1]]))]))
        .sum();
    // At a font size of one metre a thousandth of it is a millimetre.
    let measured = Style::Regular.width(Length::from_mm(1000), "second page").mm();
    assert!((set - measured).abs() < 0.01, "set {set}, measured {measured}");
}

#[test]
fn a_full_disk_is_reported() {
    struct Full(usize);
    impl std::io::Write for Full {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            let taken = bytes.len().min(self.0);
            self.0 -= taken;
            if taken == 0 { Err(std::io::ErrorKind::StorageFull.into()) } else { Ok(taken) }
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let all = bytes(&sample()).len();
    for room in [0, 5, 1000, all - 1] {
        let fault = save(&mut document(&sample(), &info()).unwrap(), &mut Full(room)).unwrap_err();
        assert_eq!(fault.blame, Blame::Machine, "room for {room}");
    }
}

/// Runs a tool on the sample; `None`, said loudly, where it is not installed.
fn tool(name: &str, args: &[&str]) -> Option<String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sample.pdf");
    std::io::Write::write_all(&mut std::fs::File::create(&path).unwrap(), &bytes(&sample())).unwrap();
    let args = args.iter().map(|arg| if *arg == "FILE" { path.as_os_str() } else { arg.as_ref() });
    match Command::new(name).args(args).output() {
        Ok(out) => {
            let said =
                String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
            assert!(out.status.success(), "{name}: {said}");
            Some(said)
        }
        Err(why) => {
            println!("SKIPPED: {name} is not installed ({why})");
            None
        }
    }
}

#[test]
fn outside_tools_read_it() {
    if let Some(said) = tool("qpdf", &["--check", "FILE"]) {
        assert!(!said.contains("WARNING"), "{said}");
    }
    if let Some(said) = tool("pdfinfo", &["-box", "FILE"]) {
        assert!(said.contains("612 x 792 pts"), "{said}");
        assert!(said.contains("Star chart (b\u{e4}r) & <co>"), "{said}");
    }
    if let Some(said) = tool("pdftotext", &["-layout", "FILE", "-"]) {
        for words in ["stra\u{df}e \u{e4}\u{17e} \u{3a9} (x) \\ 3/4\"", "Panel 1 ??", "second page"] {
            assert!(said.contains(words), "'{words}' not in:\n{said}");
        }
    }
    if let Some(said) = tool("pdffonts", &["FILE"]) {
        let embedded =
            said.lines().filter(|line| line.contains("+DejaVuSansCondensed") && line.contains("yes yes yes"));
        assert_eq!(embedded.count(), 2, "{said}");
    }
}

#[test]
fn things_lie_where_they_were_put() {
    let read = Document::load_mem(&bytes(&sample())).unwrap();
    let content = lopdf::content::Content::decode(&read.get_page_content(read.get_pages()[&1])).unwrap();
    let all = |operator: &str| -> Vec<Vec<f64>> {
        let named = content.operations.iter().filter(|operation| operation.operator == operator);
        named.map(|operation| operation.operands.iter().map(number).collect()).collect()
    };
    // Millimetres from the top left, as they were drawn; a PDF page counts from its bottom left.
    let expected = |x: f64, y: f64| [x, 279.4 - y].map(|mm| mm * 72.0 / 25.4);
    let near = |got: &[f64], at: [f64; 2], what: &str| {
        let apart = got.iter().zip(at).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(got.len() == 2 && apart < 1e-3, "{what}: {got:?}, expected {at:?}");
    };
    near(&all("m")[0], expected(10.0, 10.0), "the line's beginning");
    near(&all("l")[0], expected(60.0, 10.0), "the line's end");
    let curves = all("c");
    assert_eq!(curves.len(), 6, "four corners and two halves of the half-moon");
    near(&curves[4][4..], expected(60.0, 180.0), "the top of the half-moon");
    near(&curves[5][4..], expected(90.0, 210.0), "its right end");
    let texts = all("Tm");
    near(&texts[0][4..], expected(20.0, 40.0), "the first text");
    assert_eq!(texts[2][..4], [0.0, 1.0, -1.0, 0.0], "a quarter turn anticlockwise");
    near(&texts[2][4..], expected(15.0, 120.0), "the turned text");
    assert_eq!(texts[3][..4], [-1.0, 0.0, 0.0, 1.0], "mirrored left to right");
    near(&texts[3][4..], expected(195.0, 150.0), "the mirrored text");
    let boxes =
        sample()[0].text_boxes().into_iter().map(|(at, text)| (text.to_owned(), at)).collect::<Vec<_>>();
    let (_, at) = boxes.iter().find(|(text, _)| text == "mirrored").unwrap();
    assert_eq!(at.right(), Length::from_mm(195), "it runs to the left of its anchor");
    let image = &all("cm")[0];
    near(&image[4..], expected(100.0, 230.0), "the picture's bottom left");
    assert!((image[0] / image[3] - 4.0 / 3.0).abs() < 1e-5, "the picture's shape: {image:?}");
}
