//! What other programs make of the file. Where one is not installed the check is skipped, and says so.

use std::path::Path;
use std::process::Command;

use seamwright_contract::picture::{Channels, Depth};
use seamwright_contract::{Length, Size, num};

use super::fixture::{AT, Formula, LETTER, MEANS, Plan, format, write};

/// Runs a tool in a folder; `None` where it is not installed.
fn run(folder: &Path, tool: &str, args: &[&str]) -> Option<String> {
    match Command::new(tool).args(args).current_dir(folder).output() {
        Ok(out) => {
            let said =
                String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
            assert!(out.status.success(), "{tool}: {said}");
            Some(said)
        }
        Err(why) => {
            println!("SKIPPED: {tool} is not installed ({why})");
            None
        }
    }
}

fn put(folder: &Path, plan: &Plan) {
    let bytes = write(&plan.layout(), &MEANS, usize::MAX).unwrap();
    let mut file = std::fs::File::create(folder.join("sheets.pdf")).unwrap();
    std::io::Write::write_all(&mut file, &bytes).unwrap();
}

#[test]
fn others_find_no_fault() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for channels in [Channels::Gray, Channels::Rgb, Channels::Cmyk] {
        put(folder, &Plan { format: format(channels, Depth::Eight), ..Plan::default() });
        if let Some(said) = run(folder, "qpdf", &["--check", "sheets.pdf"]) {
            assert!(!said.contains("WARNING"), "{said}");
        }
        if let Some(said) = run(folder, "pdfinfo", &["-box", "-l", "4", "sheets.pdf"]) {
            assert_eq!(said.matches("612 x 792 pts (letter)").count(), 4, "{said}");
            assert!(
                said.contains("chart-3f9a21") && said.contains("4 sheets to print from chart.png"),
                "{said}"
            );
        }
        if let Some(said) =
            run(folder, "gs", &["-q", "-dBATCH", "-dNOPAUSE", "-sDEVICE=nullpage", "sheets.pdf"])
        {
            assert!(said.is_empty(), "{said}");
        }
        if let Some(said) = run(folder, "mutool", &["info", "sheets.pdf"]) {
            assert!(!said.contains("error") && said.contains("Pages: 4"), "{said}");
        }
    }
}

/// Reads a binary gray map (netpbm `P5`).
fn gray_map(bytes: &[u8]) -> (usize, Vec<u8>) {
    let head: Vec<_> = bytes.splitn(4, |byte| byte.is_ascii_whitespace()).collect();
    let [magic, width, height, rest] = head[..] else { panic!("no gray map") };
    assert_eq!(magic, b"P5");
    let number = |text: &[u8]| std::str::from_utf8(text).unwrap().parse::<usize>().unwrap();
    let (width, height) = (number(width), number(height));
    (width, rest[rest.len() - width * height..].to_vec())
}

/// Two panels of 11 px a piece and a part: the grid's pitch is 0.7 mm, the faces end inside pixels on both sides.
fn cut_pixels(mirrored: bool) -> Plan {
    Plan {
        columns: 2,
        rows: 1,
        design: Size::new(Length::from_um(140_300), Length::from_um(70_500)),
        ppi: 25_400.0 / 700.0,
        format: format(Channels::Gray, Depth::Eight),
        mirrored,
        ..Plan::default()
    }
}

/// A hundred micrometres a device pixel.
const FINE: i64 = 254;

#[test]
fn every_visible_part_of_a_pixel_is_seen_in_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let renderers: [(&str, &[&str]); 2] = [
        ("mutool", &["draw", "-q", "-A", "0", "-r", "254", "-c", "gray", "-o", "page-%d.pgm", "sheets.pdf"]),
        (
            "gs",
            &[
                "-q",
                "-dBATCH",
                "-dNOPAUSE",
                "-sDEVICE=pgmraw",
                "-r254",
                "-sOutputFile=page-%d.pgm",
                "sheets.pdf",
            ],
        ),
    ];
    for mirrored in [true, false] {
        let plan = cut_pixels(mirrored);
        let layout = plan.layout();
        put(folder, &plan);
        for (tool, args) in renderers {
            if run(folder, tool, args).is_none() {
                continue;
            }
            for panel in &layout.lay_up.as_ref().unwrap().panels {
                let file = std::fs::read(folder.join(format!("page-{}.pgm", panel.page))).unwrap();
                let (stride, got) = gray_map(&strip_comment(&file));
                assert_eq!(stride, usize::try_from(LETTER.width.um() * FINE / 25_400).unwrap());
                let seen = |x_um: i64, y_um: i64| {
                    let (x, y) = (x_um * FINE / 25_400, y_um * FINE / 25_400);
                    got[usize::try_from(y).unwrap() * stride + usize::try_from(x).unwrap()]
                };
                let (left, right) = (panel.face.x.um(), panel.face.right().um());
                // The middle of what is seen of each pixel of one row, if it is wider than the renderer's own.
                let y = panel.face.y.um() / 700 * 700 + 350;
                let down = AT.y.um() + y - panel.face.y.um();
                let mut checked = 0;
                for pixel in left / 700..=(right - 1) / 700 {
                    let (from, to) = ((pixel * 700).max(left), (pixel * 700 + 700).min(right));
                    if to - from < 300 {
                        continue;
                    }
                    let middle = i64::midpoint(from, to);
                    let across = AT.x.um() + if mirrored { right - middle } else { middle - left };
                    let wanted = num::narrow(Formula::sample(
                        u32::try_from(pixel).unwrap(),
                        u32::try_from(y / 700).unwrap(),
                        0,
                    ));
                    assert!(
                        seen(across, down).abs_diff(wanted) <= 2,
                        "{tool}, mirrored {mirrored}, panel {}, pixel {pixel}: {} for {wanted}",
                        panel.number,
                        seen(across, down)
                    );
                    checked += 1;
                }
                assert!(checked > 100, "only {checked} pixels checked");
                let outside = [AT.x.um() - 200, AT.x.um() + right - left + 200];
                assert!(outside.iter().all(|x| seen(*x, down) == 255), "{tool}: bare paper beside the face");
            }
        }
    }
}

/// Without the comment line that some programs put behind the first line.
fn strip_comment(bytes: &[u8]) -> Vec<u8> {
    match bytes.get(3) {
        Some(b'#') => {
            let end = bytes.iter().skip(3).position(|byte| *byte == b'\n').unwrap();
            [&bytes[..3], &bytes[end + 4..]].concat()
        }
        _ => bytes.to_vec(),
    }
}
