//! Records of hand-made layouts against the shipped schema (judge: the `jsonschema` crate, draft 2020-12) and
//! against the worked example of a mirrored 2 x 2 lay-up.

use std::path::PathBuf;
use std::sync::Arc;

use jsonschema::Validator;
use seamwright_contract::catalogue::{Moves, Orientation};
use seamwright_contract::colour::{
    Colour, Conversion, DifferenceMap, IccProfile, InkRange, Intent, Source, Swatch,
};
use seamwright_contract::layout::{
    Artwork, Design, Drawing, Edge, Job, LapPolicy, LayUp, Layout, OneMore, Panel, Placement, PressPlan,
    Seam, SeamClass, Shift, TapeSpot, TrimOrder, Weighed,
};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Window};
use seamwright_contract::plugin::{Means, Writer as _};
use seamwright_contract::sample::{self, Tray};
use seamwright_contract::settings::Range;
use seamwright_contract::units::Seconds;
use seamwright_contract::{Fault, Lab, Length, OnBlank, Point, Ppi, Rect, Sides, Size};
use serde_json::{Value, json};

use crate::RecordWriter;

const MEANS: Means = Means { memory: 1 << 20, threads: 1, keep: 0 };

fn validator() -> Validator {
    let schema: Value =
        serde_json::from_str(include_str!("../../../config/schemas/record.schema.json")).unwrap();
    assert!(jsonschema::meta::is_valid(&schema), "the schema itself is one of draft 2020-12");
    jsonschema::validator_for(&schema).unwrap()
}

/// An outbox that has two files already.
fn tray() -> Tray {
    Tray { before: vec!["sheets.pdf", "notes.txt"], ..Tray::new("record.json") }
}

#[derive(Debug)]
struct Nothing;

impl Picture for Nothing {
    fn size(&self) -> Pixels {
        Pixels::new(1, 1)
    }

    fn format(&self) -> Format {
        Format::RGB8
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        out.reset(want.size(), self.format());
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        Ok(Band::bare(size, self.format()))
    }
}

fn um(um: i64) -> Length {
    Length::from_um(um)
}

fn rect<S: Copy>(x: i64, y: i64, w: i64, h: i64) -> Rect<S> {
    Rect::new(um(x), um(y), um(w), um(h))
}

fn order() -> Order {
    let mut order = sample::order();
    order.blank.size = Size::new(um(420_000), um(320_000));
    order.blank.reach = um(-10_000);
    order.printer.embed = false;
    Order { size: Size::new(um(400_000), um(300_000)), note: Some("for the reading room".into()), ..order }
}

/// 400 x 300 mm, lap 5 mm, seams at face x = 200 and y = 150 mm, on Letter landscape; mirrored or seen through.
fn two_by_two(mirrored: bool) -> Layout {
    let artwork = Artwork {
        file: "chart.png".into(),
        sha256: "0f".repeat(32),
        size: Pixels::new(4000, 3000),
        drawing: None,
        source: Source::Srgb { said: false },
    };
    let order = order();
    let lying = order.papers[0].size.turned();
    let mut layout = Layout::new(
        Job { name: "chart-3f9a21".into(), fonts: PathBuf::new(), scratch: PathBuf::new() },
        order.clone(),
        artwork,
        Arc::new(Nothing),
    );
    let ppi = Ppi::new(254.0).unwrap();
    layout.design = Some(Design { artwork_ppi: [ppi, ppi], ..sample::design(order.size, 300.0) });
    layout.mirrored = mirrored;
    layout.lap = Some(LapPolicy { lap: um(5_000), cut_at: um(2_500), order: TrimOrder::PanelsFirst });
    let way = layout.way();
    let panels = (0..4_u32)
        .map(|i| {
            let (row, column) = (i64::from(i / 2), i64::from(i % 2));
            Panel {
                number: i + 1,
                row: i / 2 + 1,
                column: i % 2 + 1,
                page: i + 1,
                face: way.to_face(&rect(column * 197_500, row * 147_500, 202_500, 152_500)),
                cell: way.to_face(&rect(column * 200_000, row * 150_000, 200_000, 150_000)),
                at: Point::new(um(20_000), um(30_000)),
                trim: [(column == 0, Edge::Right), (row == 0, Edge::Bottom)]
                    .into_iter()
                    .filter_map(|(cut, edge)| cut.then_some(edge))
                    .collect(),
                outer: Vec::new(),
                on_top_of: [vec![2, 3, 4], vec![3, 4], vec![4], vec![]][i as usize].clone(),
                marks: Vec::new(),
                piece: None,
            }
        })
        .collect();
    let seam = |a, b, from: (i64, i64), to: (i64, i64), score| Seam {
        between: [a, b],
        upper: a,
        line: [Point::new(um(from.0), um(from.1)), Point::new(um(to.0), um(to.1))],
        score,
        class: SeamClass::Bare,
    };
    layout.lay_up = Some(LayUp {
        paper: order.papers[0].clone(),
        orientation: Orientation::Landscape,
        page: lying,
        live: rect(6_350, 6_350, 266_700, 203_200),
        rows: 2,
        columns: 2,
        panels,
        seams: vec![
            seam(1, 2, (200_000, 0), (200_000, 150_000), 0.1 + 0.2),
            seam(1, 3, (200_000, 150_000), (400_000, 150_000), 0.0),
        ],
        final_trim: Sides { left: um(20_000), top: um(30_000), right: um(56_900), bottom: um(33_400) },
        ..sample::lay_up()
    });
    layout
}

fn placed(number: u32, platen: Rect<OnBlank>, shift: Option<Shift>) -> Placement {
    let start = Seconds(40 + (number - 1) * 90);
    Placement { number, platen, turned: true, start, overlaps: (1..number).collect(), new_mm2: 1.5, shift }
}

/// The same with everything a job can have.
fn rich() -> Layout {
    let mut layout = two_by_two(true);
    let profile = IccProfile { name: "Dye \"one\" & ß".into(), bytes: Arc::from(vec![0_u8; 4]) };
    layout.artwork.source = Source::Embedded(profile.clone());
    layout.colour = Some(Colour {
        converted: Some(Conversion { to: "Dye".into(), intent: Intent::Relative, black_point: true }),
        attached: Some(profile),
        range: Some(InkRange {
            share: 0.25,
            darker: 0.125,
            worst: vec![Swatch {
                artwork: Lab::new(60.0, 90.0, -40.0),
                printed: Lab::new(55.0, 60.0, -30.0),
                difference: 9.5,
                share: 0.03,
                at: Point::new(um(10_000), um(20_000)),
            }],
            map: DifferenceMap { size: Pixels::new(1, 1), cells: vec![9.5] },
        }),
        ..sample::colour()
    });
    layout.press = Some(PressPlan {
        placements: vec![
            placed(1, rect(-5_000, 0, 304_800, 254_000), None),
            placed(
                2,
                rect(280_000, 0, 304_800, 254_000),
                Some(Shift {
                    back: Edge::Top,
                    from_first: [um(-285_000), um(0)],
                    from_before: [um(-285_000), um(0)],
                }),
            ),
        ],
        moves: Moves::Work,
        weak_edge: um(6_350),
        overlap: um(12_700),
        heat: "383F".parse().unwrap(),
        heat_range: Range { low: "375F".parse().unwrap(), high: "390F".parse().unwrap() },
        dwell: Seconds(60),
        dwell_range: Range { low: Seconds(35), high: Seconds(70) },
        origin: "common practice, no source".into(),
        preheat: Seconds(10),
        pressure: "medium".into(),
        cool: Seconds(180),
        peel_hot: true,
        total: Seconds(370),
        heated_twice: 0.078_333_333,
    });
    layout.warn("marks", "The ruler had no room.");
    layout.remark("tile", "4 sheets.");
    if let Some(lay_up) = &mut layout.lay_up {
        lay_up.left_out = vec![rect(0, 0, 10, 10)];
        let place = |x, y| Point::new(um(x), um(y));
        lay_up.tape = vec![
            TapeSpot { holds: vec![1, 2], line: [place(200_000, 55_000), place(200_000, 95_000)] },
            TapeSpot { holds: vec![3], line: [place(230_000, 300_000), place(270_000, 300_000)] },
        ];
        let weighed = |orientation, sheets, crossed| Weighed {
            paper: "letter".into(),
            orientation,
            sheets,
            crossed,
            paper_m2: f64::from(sheets) * 0.2159 * 0.2794,
        };
        lay_up.weighed =
            vec![weighed(Orientation::Landscape, 4, Some(12.5)), weighed(Orientation::Portrait, 6, None)];
        lay_up.one_more = Some(OneMore { sheets: 5, busy: [1, 0], taken: false });
        lay_up.seams[1].class = SeamClass::Busy;
    }
    layout.order.keep_clear = vec![rect(90_000, 40_000, 60_000, 70_000)];
    layout.order.extra_sheets = 2;
    layout
}

/// The same of a page of a PDF.
fn drawn() -> Layout {
    let mut layout = two_by_two(true);
    let size = Size::new(um(215_900), um(279_400));
    layout.artwork.drawing = Some(Drawing { kind: "PDF", page: Some(2), size, coarsest: None });
    layout
}

fn text_of(layout: &Layout) -> String {
    let mut outbox = tray();
    RecordWriter.write(layout, &MEANS, &mut outbox).unwrap();
    let bytes = outbox.take();
    String::from_utf8(bytes).unwrap()
}

fn record_of(layout: &Layout) -> Value {
    serde_json::from_str(&text_of(layout)).unwrap()
}

#[test]
fn records_of_several_layouts_fit_the_schema() {
    let validator = validator();
    let mut bare = two_by_two(false);
    bare.lap = None;
    bare.order.note = None;
    for layout in [two_by_two(true), two_by_two(false), rich(), drawn(), bare] {
        let record = record_of(&layout);
        let wrong: Vec<String> = validator.iter_errors(&record).map(|e| e.to_string()).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}

#[test]
fn what_is_drawn_says_so_and_what_is_not_is_silent() {
    let said = json!({"kind": "PDF", "page": 2, "width_um": 215_900, "height_um": 279_400});
    assert_eq!(record_of(&drawn())["artwork"]["drawing"], said);
    assert!(record_of(&two_by_two(true))["artwork"].get("drawing").is_none(), "as before");
}

#[test]
fn broken_records_do_not_fit() {
    let validator = validator();
    let broken: [(&str, Value); 21] = [
        ("/record", json!(2)),
        ("/artwork/sha256", json!("0f")),
        ("/design/width_um", json!(400_000.5)),
        ("/design/picture_um", json!([0, 0, 400_000])),
        ("/panels", json!([])),
        ("/panels/0/trim", json!(["right", "down"])),
        ("/panels/1/cell_um/2", json!(0)),
        ("/seams/0", json!({"between": [1, 2], "face_um": [0, 0, 0, 9], "upper": 1, "score": 0.0})),
        ("/seams/0", json!({"between": [1, 2], "face_um": [0, 0, 0, 9], "upper": 1, "class": "bare"})),
        ("/seams/0/class", json!("calm")),
        ("/seams/0/score", json!(1.1)),
        ("/tape/0/holds", json!([])),
        ("/tape/0/face_um", json!([0, 0, 9])),
        ("/weighed/0/orientation", json!("upright")),
        ("/weighed/0/sheets", json!(0)),
        ("/one_more/busy", json!([1])),
        ("/keep_clear/0", json!([0, 0, 9, 0])),
        ("/extra_sheets", json!("yes")),
        ("/press/placements/0/blank_um/0", json!("0mm")),
        ("/files", json!({"sheets.pdf": "application/pdf"})),
        ("/orientation", json!("upright")),
    ];
    let good = record_of(&rich());
    for (at, value) in broken {
        let mut record = good.clone();
        *record.pointer_mut(at).unwrap() = value;
        assert!(!validator.is_valid(&record), "{at} was broken and nobody noticed");
    }
    for key in good.as_object().unwrap().keys() {
        let mut record = good.clone();
        record.as_object_mut().unwrap().remove(key);
        assert!(!validator.is_valid(&record), "{key} was taken out and nobody noticed");
    }
    let mut more = good;
    more["surprise"] = json!(1);
    assert!(!validator.is_valid(&more), "an unknown field was not noticed");
}

#[test]
fn the_worked_example_of_a_mirrored_lay_up() {
    let record = record_of(&two_by_two(true));
    let panels = &record["panels"];
    assert_eq!(panels[0]["face_um"], json!([197_500, 0, 202_500, 152_500]));
    assert_eq!(panels[0]["cell_um"], json!([200_000, 0, 200_000, 150_000]));
    assert_eq!(panels[0]["trim"], json!(["right", "bottom"]));
    assert_eq!(panels[0]["on_top_of"], json!([2, 3, 4]));
    assert_eq!(panels[1]["face_um"], json!([0, 0, 202_500, 152_500]));
    assert_eq!(panels[1]["cell_um"], json!([0, 0, 200_000, 150_000]));
    assert_eq!(panels[1]["trim"], json!(["bottom"]));
    assert_eq!(panels[3]["trim"], json!([]));
    assert_eq!(record["blank"]["placed_um"], json!([10_000, 10_000]));
    assert_eq!(record["paper"]["width_um"], json!(279_400));
}

#[test]
fn the_printed_face_is_counted_from_the_bottom_left_in_points() {
    // Page 279.4 x 215.9 mm, face 202.5 x 152.5 mm at 20 mm from the left and 30 mm from the top:
    // 33.4 mm above the bottom; a point is 25.4 / 72 mm.
    let record = record_of(&two_by_two(true));
    let at = record["panels"][0]["page_pt"].as_array().unwrap();
    for (found, mm) in at.iter().zip([20.0, 33.4, 202.5, 152.5]) {
        let (found, points) = (found.as_f64().unwrap(), mm * 72.0 / 25.4);
        assert!((found - points).abs() < 5.1e-7, "{found} is not {points}");
    }
}

#[test]
fn scores_are_rounded_and_what_was_not_planned_is_null() {
    let record = record_of(&two_by_two(true));
    assert_eq!(record["seams"][0]["score"], json!(0.3));
    assert_eq!(record["press"], Value::Null);
    assert_eq!(record["colour"], Value::Null);
    assert_eq!(record["artwork"]["profile"], Value::Null);
}

#[test]
fn it_says_where_tape_goes_what_was_weighed_and_what_was_asked() {
    let record = record_of(&rich());
    assert_eq!(
        record["tape"],
        json!([
            {"holds": [1, 2], "face_um": [200_000, 55_000, 200_000, 95_000]},
            {"holds": [3], "face_um": [230_000, 300_000, 270_000, 300_000]}
        ])
    );
    // Letter is 0.2159 x 0.2794 m.
    assert_eq!(
        record["weighed"],
        json!([
            {"paper": "letter", "orientation": "landscape", "sheets": 4, "crossed_mm2": 12.5, "paper_m2": 0.24129},
            {"paper": "letter", "orientation": "portrait", "sheets": 6, "crossed_mm2": null, "paper_m2": 0.361935}
        ])
    );
    assert_eq!(record["one_more"], json!({"sheets": 5, "busy": [1, 0], "taken": false}));
    assert_eq!(record["keep_clear"], json!([[90_000, 40_000, 60_000, 70_000]]));
    assert_eq!(record["extra_sheets"], json!(2));
    assert_eq!(record["seams"][1]["class"], json!("busy"));
    assert_eq!(record_of(&two_by_two(true))["one_more"], Value::Null);
}

#[test]
fn it_names_its_files_notices_and_colours() {
    let record = record_of(&rich());
    assert_eq!(
        record["files"],
        json!({"notes.txt": "text/plain", "record.json": "application/json", "sheets.pdf": "application/pdf"})
    );
    assert_eq!(record["warnings"], json!(["The ruler had no room."]));
    assert_eq!(record["remarks"], json!(["4 sheets."]));
    assert_eq!(record["colour"]["attached"], json!("Dye \"one\" & ß"));
    assert_eq!(record["colour"]["converted"]["intent"], json!("relative"));
    assert_eq!(record["press"]["heat_c"], json!(195.0));
}

#[test]
fn fields_stand_in_the_order_of_the_form_and_twice_is_the_same() {
    let text = text_of(&rich());
    assert_eq!(text, text_of(&rich()));
    let keys = ["\"record\"", "\"job\"", "\"artwork\"", "\"design\"", "\"blank\"", "\"panels\"", "\"seams\""];
    let places: Vec<usize> = keys.iter().map(|key| text.find(key).unwrap()).collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn a_full_disk_and_a_missing_lay_up_are_faults() {
    let full = RecordWriter.write(&rich(), &MEANS, &mut Tray { room: 0, ..tray() });
    assert!(full.is_err_and(|fault| fault.what.contains("record.json")));
    let mut layout = rich();
    layout.lay_up = None;
    assert!(RecordWriter.write(&layout, &MEANS, &mut tray()).is_err());
}
