//! `seamwright test-print` from the outside: a page of the artwork's own pixels, nothing moved, nothing replaced.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use image::{Rgb, RgbImage};
use lopdf::content::Content;
use lopdf::{Document, Object};

use crate::studio::Studio;

/// 8 x 6 in on a design of 100 ppi, so that the sheets carry the artwork's own pixels.
const SIZE: [u32; 2] = [800, 600];
const ORDER: &str =
    "blank: {width: 8in, height: 6in, shape: rectangle, substrate: polyester-mat, ppi_floor: 100}\n";

/// A picture whose every pixel says where it is; nowhere bare.
fn telling() -> RgbImage {
    RgbImage::from_fn(SIZE[0], SIZE[1], |x, y| {
        let byte = |value: u32| u8::try_from(value % 256).unwrap_or_default();
        Rgb([byte(x), byte(y), byte(x / 256 * 16 + y / 256)])
    })
}

/// Where a pixel says it is.
fn told([x, y, more]: [u8; 3]) -> [u32; 2] {
    [u32::from(more) / 16 * 256 + u32::from(x), u32::from(more) % 16 * 256 + u32::from(y)]
}

/// Everything in a folder: names and bytes.
fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found: Vec<_> = fs::read_dir(folder)
        .expect("the folder")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| (path.clone(), fs::read(path).expect("its bytes")))
        .collect();
    found.sort();
    found
}

/// A studio, and beside it a desk with artwork and order.
fn desk(more: &str) -> (Studio, PathBuf) {
    let studio = Studio::new(&format!(
        "stages: [{{resize: {{ppi: native}}}}, profile, mirror, overlap, tile, marks, press]\n{more}"
    ));
    let desk = studio.path("desk");
    fs::create_dir(&desk).expect("a desk");
    telling().save(desk.join("chart.png")).expect("artwork");
    fs::copy(desk.join("chart.png"), desk.join("alone.png")).expect("artwork without an order");
    studio.put("../desk/chart.yaml", ORDER.as_bytes());
    (studio, desk)
}

fn test_print(studio: &Studio, artworks: &[&Path]) -> Output {
    studio.command("test-print").args(artworks).output().expect("the program runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The visible names in `outgoing/`.
fn outgoing(studio: &Studio) -> Vec<String> {
    let entries = fs::read_dir(studio.path("outgoing")).expect("outgoing");
    let mut names: Vec<_> =
        entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| !name.starts_with('.'));
    names.sort();
    names
}

/// The page's picture as it will be seen once pressed: columns, pixels by rows, and points a pixel.
fn picture(file: &Path) -> (usize, Vec<[u8; 3]>, [f64; 2]) {
    let document = Document::load(file).expect("a PDF");
    let id = document.get_pages()[&1];
    let page = document.get_dictionary(id).expect("a page");
    let resources = page.get(b"Resources").and_then(Object::as_dict).expect("resources");
    let art = resources
        .get(b"XObject")
        .and_then(Object::as_dict)
        .and_then(|all| all.get(b"Art"))
        .expect("a picture");
    let art = document.dereference(art).and_then(|(_, art)| art.as_stream()).expect("its stream");
    let count = |key: &[u8]| art.dict.get(key).and_then(Object::as_i64).expect("a size");
    let (width, height) = (count(b"Width"), count(b"Height"));
    let content = Content::decode(&document.get_page_content(id)).expect("the page's content");
    let matrix = content.operations.iter().find(|operation| operation.operator == "cm").expect("its place");
    let size = [0, 3].map(|at| f64::from(matrix.operands[at].as_float().expect("a number")));
    let points = [width, height].map(|side| f64::from(i32::try_from(side).expect("a size")));
    let columns = usize::try_from(width).expect("a width");
    let bytes = art.decompressed_content().expect("its samples");
    let mut pixels: Vec<[u8; 3]> = bytes.as_chunks::<3>().0.to_vec();
    pixels.chunks_exact_mut(columns).for_each(<[_]>::reverse);
    (columns, pixels, [size[0] / points[0], size[1] / points[1]])
}

#[test]
fn the_crops_are_the_artworks_own_pixels_at_true_size_and_mirrored() {
    let (studio, desk) = desk("");
    let output = test_print(&studio, &[&desk.join("chart.png")]);
    assert!(output.status.success(), "{} {}", said(&output), String::from_utf8_lossy(&output.stderr));
    let file = studio.path("outgoing/chart-test-print.pdf");
    let named = fs::canonicalize(&file).expect("the test print");
    assert_eq!(said(&output), format!("{}\n", named.display()), "it says where it is");

    let (columns, pixels, points) = picture(&file);
    for side in points {
        assert!((side - 72.0 / 100.0).abs() < 1e-4, "a pixel of 100 an inch is 0.72 pt, not {side}");
    }
    // From the first pixel that is not bare, the artwork goes on for at least 45 mm to the right and downwards.
    let first = pixels.iter().position(|pixel| *pixel != [255; 3]).expect("something is printed");
    let [left, top] = told(pixels[first]);
    let side = 177;
    for down in 0..side {
        for across in 0..side {
            let at = told(
                pixels[first
                    + usize::try_from(down).expect("a row") * columns
                    + usize::try_from(across).expect("a column")],
            );
            assert_eq!(at, [left + across, top + down], "{across} right and {down} down of {left}, {top}");
        }
    }
}

#[test]
fn nothing_is_moved_and_nothing_is_replaced() {
    let (studio, desk) = desk("");
    let before = contents(&desk);
    for _ in 0..3 {
        assert!(test_print(&studio, &[&desk.join("chart.png")]).status.success(), "each time");
    }
    assert_eq!(
        outgoing(&studio),
        ["chart-test-print-2.pdf", "chart-test-print-3.pdf", "chart-test-print.pdf"]
    );
    let bytes = |name: &str| fs::read(studio.path("outgoing").join(name)).expect("a test print");
    assert_eq!(
        bytes("chart-test-print.pdf"),
        bytes("chart-test-print-2.pdf"),
        "the same artwork, the same bytes"
    );
    assert!(contents(&desk) == before, "the desk is as it was");
    assert!(contents(&studio.path("outgoing/.staging")).is_empty(), "nothing is left between");
    for folder in ["kept", "refused"] {
        assert!(
            fs::read_dir(studio.path(folder)).expect("a folder").next().is_none(),
            "{folder} stays empty"
        );
    }
}

#[test]
fn what_cannot_be_tried_is_said_and_the_rest_is_made() {
    let (studio, desk) = desk("");
    let broken = desk.join("broken.png");
    fs::copy(desk.join("chart.yaml"), desk.join("broken.yaml")).expect("an order");
    studio.put("../desk/broken.png", b"\x89PNG\r\n\x1a\nno picture");
    let absent = desk.join("absent.png");
    let all = [&broken, &absent, &desk.join("alone.png"), &desk.join("chart.yaml"), &desk.join("chart.png")];
    let output = test_print(&studio, &all.map(PathBuf::as_path));
    assert_eq!(output.status.code(), Some(1), "something was refused");
    let said = said(&output);
    let places: Vec<&str> = said.lines().filter_map(|line| line.strip_prefix("Where: ")).collect();
    assert_eq!(places.len(), 4, "{said}");
    for (place, file) in places.iter().zip(["broken.png", "absent.png", "alone.png", "chart.yaml"]) {
        assert!(place.starts_with(file), "{place} names {file}");
    }
    let alone = said.split("Where: ").find(|told| told.starts_with("alone.png"));
    assert!(alone.is_some_and(|told| told.contains("without a sidecar")), "{said}");
    assert!(said.trim_end().ends_with("chart-test-print.pdf"), "{said}");
    assert_eq!(outgoing(&studio), ["chart-test-print.pdf"]);
    assert!(contents(&studio.path("outgoing/.staging")).is_empty(), "nothing is left between");
}

#[test]
fn a_folders_defaults_serve_and_every_job_may_have_one() {
    let (studio, desk) = desk("writers: [sheets, swatches, record]");
    studio.put("../desk/folder.yaml", ORDER.as_bytes());
    assert!(test_print(&studio, &[&desk.join("alone.png")]).status.success(), "by the folder's defaults");
    studio.put("chart.png", &fs::read(desk.join("chart.png")).expect("artwork"));
    studio.put("chart.yaml", ORDER.as_bytes());
    assert!(studio.once().status.success(), "the job is done");
    let finished = studio.finished();
    assert!(finished[0].join("test-print.pdf").is_file(), "in {finished:?}");
}
