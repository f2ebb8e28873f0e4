//! Drawings: drawn in the very pixels that are asked for, wherever they lie, in whatever memory; and what is refused.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use seamwright_contract::picture::{Band, Picture, Pixels, Place, Samples, Window};
use seamwright_contract::{Blame, Fault, Length};
use tempfile::TempDir;

use super::limits;
use crate::{Limits, Opened, Wanted, begin, drawn_size};

const HEAD: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink""#;

/// A drawing of 4 x 3 in, in pixels of CSS.
fn svg(body: &str) -> String {
    format!(r#"{HEAD} width="4in" height="3in" viewBox="0 0 384 288">{body}</svg>"#)
}

/// A PDF of one page of 72 x 36 pt for each of these contents.
fn pdf(pages: &[&str]) -> Vec<u8> {
    let kids: Vec<String> = (0..pages.len()).map(|n| format!("{} 0 R", 3 + 2 * n)).collect();
    let mut objects = vec![
        "<</Type/Catalog/Pages 2 0 R>>".to_owned(),
        format!("<</Type/Pages/Count {}/Kids[{}]>>", pages.len(), kids.join(" ")),
    ];
    for (n, content) in pages.iter().enumerate() {
        objects.push(format!("<</Type/Page/Parent 2 0 R/MediaBox[0 0 72 36]/Contents {} 0 R>>", 4 + 2 * n));
        objects.push(format!("<</Length {}>>\nstream\n{content}\nendstream", content.len()));
    }
    let (mut file, mut places) = ("%PDF-1.7\n".to_owned(), Vec::new());
    for (n, object) in objects.iter().enumerate() {
        places.push(file.len());
        file += &format!("{} 0 obj\n{object}\nendobj\n", n + 1);
    }
    let start = file.len();
    file += &format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
    places.iter().for_each(|at| file += &format!("{at:010} 00000 n \n"));
    file += &format!("trailer\n<</Size {}/Root 1 0 R>>\nstartxref\n{start}\n%%EOF\n", objects.len() + 1);
    file.into_bytes()
}

fn saved(content: &[u8]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("chart.svg");
    std::fs::File::create(&path)
        .and_then(|mut file| std::io::Write::write_all(&mut file, content))
        .expect("a file");
    (folder, path)
}

fn page(content: &[u8], page: u32, limits: &Limits) -> Result<Opened, Fault> {
    let (_folder, path) = saved(content);
    begin(&path, &Wanted { page, ..Wanted::default() }, limits)
}

fn opened(content: impl AsRef<[u8]>) -> Opened {
    page(content.as_ref(), 1, &limits()).unwrap_or_else(|fault| panic!("{fault}"))
}

fn refused(content: impl AsRef<[u8]>, says: &str) {
    let fault = page(content.as_ref(), 1, &limits()).err().unwrap_or_else(|| panic!("not refused: {says}"));
    assert_eq!(fault.blame, Blame::Artwork, "{fault}");
    assert!(fault.what.contains(says) && !fault.cure.is_empty(), "{says}: {fault}");
}

/// The drawing on a grid.
fn on(picture: &dyn Picture, grid: Pixels, edges: [f64; 4]) -> Arc<dyn Picture> {
    picture.drawn(&Place { grid, edges }).expect("it can be drawn").expect("it is a drawing")
}

fn filled(picture: &dyn Picture, window: Window) -> Vec<[u8; 3]> {
    let mut band = Band::empty();
    picture.fill(window, &mut band).expect("pixels");
    let Samples::Eight(samples) = band.samples else { panic!("8 bits") };
    samples.as_chunks::<3>().0.to_vec()
}

fn whole(picture: &dyn Picture) -> Vec<[u8; 3]> {
    filled(picture, Window::whole(picture.size()))
}

const BLUE: [u8; 3] = [0x3a, 0x6e, 0xa5];
const WHITE: [u8; 3] = [255; 3];

#[test]
fn edges_of_shapes_fall_where_the_grid_has_them() {
    // A square over the middle half, each way; on whole pixels of the grid it has hard edges.
    let art = opened(svg(r##"<rect x="96" y="72" width="192" height="144" fill="#3a6ea5"/>"##));
    for side in [80_u32, 400, 1200] {
        let grid = Pixels::new(side, side * 3 / 4);
        let drawn = on(art.picture.as_ref(), grid, [0.0, 0.0, f64::from(grid.width), f64::from(grid.height)]);
        let pixels = whole(drawn.as_ref());
        for (at, pixel) in (0_u32..).zip(&pixels) {
            let (x, y) = (at % grid.width, at / grid.width);
            let inside =
                (side / 4..side * 3 / 4).contains(&x) && (grid.height / 4..grid.height * 3 / 4).contains(&y);
            assert_eq!(*pixel, if inside { BLUE } else { WHITE }, "{x}, {y} of {grid:?}");
        }
    }
}

#[test]
fn a_drawing_lies_on_fractions_of_pixels_and_has_no_faint_border() {
    let art = opened(svg(r##"<rect width="384" height="288" fill="#3a6ea5"/>"##));
    let grid = Pixels::new(101, 90);
    // From within pixel 10 to within pixel 90; down, beyond the grid at both ends.
    let drawn = on(art.picture.as_ref(), grid, [10.4, -3.0, 90.6, 120.5]);
    for (at, pixel) in (0_u32..).zip(whole(drawn.as_ref())) {
        let x = at % grid.width;
        assert_eq!(pixel, if (10..91).contains(&x) { BLUE } else { WHITE }, "column {x}");
    }
    // Thinner than a pixel, it still shows.
    let thin = on(art.picture.as_ref(), grid, [50.2, 0.0, 50.4, 90.0]);
    assert!(filled(thin.as_ref(), Window::new(50, 40, 1, 1))[0] != WHITE, "something is seen");
}

#[test]
fn memory_changes_nothing_but_what_does_not_fit_is_refused_with_figures() {
    let body = r##"<linearGradient id="g"><stop stop-color="#123"/><stop offset="1" stop-color="#fc9"/></linearGradient>
        <rect width="384" height="288" fill="url(#g)"/><circle cx="150" cy="140" r="99" fill="#3a6ea5" opacity=".6"/>
        <g opacity=".5"><path d="M9 9L370 270M20 250C90 0 200 280 300 20" stroke="#fff" fill="none" stroke-width="7"/></g>"##;
    let (file, grid) = (svg(body), Pixels::new(1200, 900));
    let all = [0.0, 0.0, 1200.0, 900.0];
    let first = whole(on(opened(&file).picture.as_ref(), grid, all).as_ref());
    let folder = tempfile::tempdir().expect("a folder");
    let tight = Limits { memory: 6 << 20, scratch: folder.path().to_owned(), ..limits() };
    let art = page(file.as_bytes(), 1, &tight).expect("little is enough to read it");
    let second = whole(on(art.picture.as_ref(), grid, all).as_ref());
    let off: Vec<u8> =
        first.iter().flatten().zip(second.iter().flatten()).map(|(a, b)| a.abs_diff(*b)).collect();
    // Curves are split where a band ends, so a few shades of their edges differ there.
    let differ = off.iter().filter(|off| **off > 1).count();
    assert!(
        differ < off.len() / 500 && off.iter().all(|off| *off < 32),
        "bands show in {differ} samples: {:?}",
        off.iter().max()
    );
    let tighter = Limits { memory: 200_000, ..tight };
    let art = page(file.as_bytes(), 1, &tighter).expect("little is enough to read it");
    let fault = art.picture.drawn(&Place { grid, edges: all }).expect_err("too little to draw it");
    assert!(fault.what.contains(" MB") && !fault.cure.is_empty(), "{fault}");
}

#[test]
fn effects_reach_across_bands_or_are_refused() {
    let blurred = svg(
        r##"<filter id="f" x="-1" y="-1" width="3" height="3"><feGaussianBlur stdDeviation="6"/></filter>
        <rect x="60" y="60" width="200" height="150" fill="#3a6ea5" filter="url(#f)"/>"##,
    );
    let (grid, all) = (Pixels::new(800, 600), [0.0, 0.0, 800.0, 600.0]);
    let first = whole(on(opened(&blurred).picture.as_ref(), grid, all).as_ref());
    let folder = tempfile::tempdir().expect("a folder");
    let tight = |memory| Limits { memory, scratch: folder.path().to_owned(), ..limits() };
    let art = page(blurred.as_bytes(), 1, &tight(40 << 20)).expect("it is read");
    let second = whole(on(art.picture.as_ref(), grid, all).as_ref());
    let off = first.iter().flatten().zip(second.iter().flatten()).map(|(a, b)| a.abs_diff(*b)).max();
    assert!(off <= Some(2), "bands show: {off:?} of 255");
    let art = page(blurred.as_bytes(), 1, &tight(2 << 20)).expect("it is read");
    assert!(art.picture.drawn(&Place { grid, edges: all }).is_err(), "its reach does not fit");
}

#[test]
fn a_drawing_knows_its_size_and_what_it_is() {
    let art = opened(svg(r#"<rect width="9" height="9"/>"#));
    let facts = art.drawing.expect("a drawing");
    assert_eq!((facts.kind, facts.page, facts.coarsest), ("SVG", None, None));
    assert_eq!((facts.size.width, facts.size.height), (Length::from_inches(4), Length::from_inches(3)));
    let art = page(&pdf(&["", "0 0 9 9 re f"]), 2, &limits()).expect("its second page");
    let facts = art.drawing.expect("a drawing");
    assert_eq!((facts.kind, facts.page), ("PDF", Some(2)));
    assert_eq!((facts.size.width.um(), facts.size.height.um()), (25_400, 12_700), "72 x 36 pt");
    let (_folder, path) =
        saved(super::super::tests::images().join("png_rgb8_none.png").to_string_lossy().as_bytes());
    let fault = drawn_size(&path, &Wanted::default(), &limits()).expect_err("no drawing");
    assert!(fault.what.contains("Only a drawing"), "{fault}");
}

#[test]
fn a_page_is_drawn_the_right_way_up() {
    // The lower left quarter in red, as PDF counts upwards; the rest in green.
    let art = opened(pdf(&["0 1 0 rg 0 0 72 36 re f 1 0 0 rg 0 0 36 18 re f"]));
    let drawn = on(art.picture.as_ref(), Pixels::new(40, 20), [0.0, 0.0, 40.0, 20.0]);
    for (at, pixel) in (0_u32..).zip(whole(drawn.as_ref())) {
        let (x, y) = (at % 40, at / 40);
        assert_eq!(pixel, if x < 20 && y >= 10 { [255, 0, 0] } else { [0, 255, 0] }, "{x}, {y}");
    }
}

#[test]
fn pages_that_are_not_there_and_empty_or_locked_files_are_told() {
    let three = pdf(&["0 0 9 9 re f"; 3]);
    let fault = page(&three, 4, &limits()).expect_err("no such page");
    assert!(
        fault.blame == Blame::Order && fault.what.contains("page 4") && fault.cure.contains("1 to 3"),
        "{fault}"
    );
    let told = &opened(&three).notices;
    assert!(told.len() == 1 && told[0].contains("3 pages"), "{told:?}");
    refused(pdf(&[""]), "Page 1 is empty");
    refused(pdf(&[]), "no page");
    let whole = String::from_utf8(pdf(&["0 0 9 9 re f"])).expect("plain text");
    refused(whole.replace("/Root 1 0 R", "/Root 1 0 R/Encrypt 9 0 R"), "encrypted");
    refused(whole.trim_end().trim_end_matches("%%EOF"), "end mark");
    let fault = page(svg(r#"<rect width="9" height="9"/>"#).as_bytes(), 2, &limits()).expect_err("no pages");
    assert_eq!((fault.blame, fault.what.contains("only a PDF has pages")), (Blame::Order, true), "{fault}");
}

#[test]
fn what_would_be_missing_is_refused_or_told() {
    refused(svg(r#"<image width="9" height="9" xlink:href="moon.png"/>"#), "moon.png");
    refused(svg(r#"<rect width="9" height="9" fill="url(tides.svg#blue)"/>"#), "tides.svg");
    refused(svg("<style>@import 'night.css';</style><rect width='9' height='9'/>"), "other files");
    refused(svg("<text y='20'>\u{f1234}</text>"), "U+F1234");
    refused(svg("<text y='20'>tide \u{f1234} moon \u{f4321}</text>"), "U+F4321");
    refused(svg(""), "empty");
    refused(svg("<g display='none'><rect width='9' height='9'/></g>"), "empty");
    refused(
        svg(r#"<image width="9" height="9" xlink:href="data:image/png;base64,iVBORw0KGgo="/>"#),
        "picture within",
    );
    let told = opened(svg("<script>x</script><text y='40' font-family='Tide Hand'>tide</text>")).notices;
    assert!(told.iter().any(|text| text.contains("script")), "{told:?}");
    assert!(told.iter().any(|text| text.contains("'Tide Hand'") && text.contains("fonts")), "{told:?}");
}

#[test]
fn growth_is_reckoned_before_it_happens() {
    let began = Instant::now();
    let copies: String = (1..60)
        .map(|n| format!(r##"<g id="p{n}"><use xlink:href="#p{0}"/><use xlink:href="#p{0}"/></g>"##, n - 1))
        .collect();
    refused(
        svg(&format!(
            r##"<defs><rect id="p0" width="9" height="9"/>{copies}</defs><use xlink:href="#p59"/>"##
        )),
        " MB",
    );
    refused(
        svg(r##"<g id="a"><use xlink:href="#b"/></g><g id="b"><use xlink:href="#a"/></g>"##),
        "uses itself",
    );
    refused(
        svg(&format!("{}<rect width='9' height='9'/>{}", "<g>".repeat(500), "</g>".repeat(500))),
        "deeper",
    );
    let entities: String =
        (1..20).map(|n| format!("<!ENTITY e{n} \"{}\">", format!("&e{};", n - 1).repeat(10))).collect();
    let bomb = format!("<!DOCTYPE svg [<!ENTITY e0 \"x\">{entities}]>{}", svg("<text>&e19;</text>"));
    assert!(page(bomb.as_bytes(), 1, &limits()).is_err(), "entities");
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
}

#[test]
fn drawing_is_given_up_when_it_takes_too_long() {
    let many = r#"<rect width="384" height="288" opacity=".5" transform="rotate(3)"/>"#.repeat(20_000);
    let patience = Limits { drawing: Duration::from_millis(1500), ..limits() };
    let art = page(svg(&many).as_bytes(), 1, &patience).expect("it is read in time");
    let drawn = on(art.picture.as_ref(), Pixels::new(4000, 3000), [0.0, 0.0, 4000.0, 3000.0]);
    let fault = drawn.fill(Window::new(0, 0, 1, 1), &mut Band::empty()).expect_err("it takes minutes");
    assert!(fault.what.contains("took longer") && fault.place == "chart.svg", "{fault:?}");
}

#[test]
fn more_pixels_than_may_be_are_refused() {
    let art =
        page(svg(r#"<rect width="9" height="9"/>"#).as_bytes(), 1, &Limits { pixels: 10_000, ..limits() });
    let place = Place { grid: Pixels::new(101, 100), edges: [0.0, 0.0, 101.0, 100.0] };
    let fault = art.expect("it is read").picture.drawn(&place).expect_err("too many");
    assert!(fault.what.contains("10100") && fault.what.contains("10000"), "{fault}");
}

fn with_fields(body: &str, fields: &[(&str, &str)]) -> Result<Opened, Fault> {
    let (_folder, path) = saved(svg(body).as_bytes());
    let fields = fields.iter().map(|(key, value)| ((*key).to_owned(), (*value).to_owned())).collect();
    begin(&path, &Wanted { fields, ..Wanted::default() }, &limits())
}

#[test]
fn fields_stand_in_the_words_of_a_drawing() {
    let body = |words: &str| {
        format!(
            "<style>text {{ font-family: 'DejaVu Sans' }}</style><text x='40' y='150' font-size='40'>{words}</text>"
        )
    };
    let drawn = |opened: Opened| {
        whole(on(opened.picture.as_ref(), Pixels::new(384, 288), [0.0, 0.0, 384.0, 288.0]).as_ref())
    };
    let filled = with_fields(&body("{name} &amp; co"), &[("name", "Ada <3 & B")]).unwrap();
    let plain = with_fields(&body("Ada &lt;3 &amp; B &amp; co"), &[]).unwrap();
    assert!(drawn(filled) == drawn(plain), "it is drawn as if it had been written so");
    let braces = with_fields(&body("a {b c} {{d}} {}"), &[]);
    assert!(braces.is_ok(), "braces that name no field are left alone: {braces:?}");
    let missing = with_fields(&body("{name}"), &[("nam", "Ada")]).unwrap_err();
    assert!(missing.what.contains("the field `name`") && missing.blame == Blame::Order, "{missing:?}");
    let split = with_fields(&body("{na<tspan fill='red'>me}</tspan>"), &[("name", "Ada")]).unwrap_err();
    assert!(split.what.contains("split"), "{split:?}");
    let raw = with_fields(&body("<![CDATA[{name}]]>"), &[("name", "A & B")]);
    assert!(raw.as_ref().map_or_else(|fault| fault.what.contains("form of its own"), |_| true), "{raw:?}");
    let long = with_fields(&body("{name}"), &[("name", &"Wilhelmine ".repeat(5))]).unwrap_err();
    assert!(long.what.contains("cut off"), "{long:?}");
}
