//! What a program is told of a job: one JSON object. What stands in a record too bears the same names.

use seamwright_contract::geometry::Rect;
use seamwright_contract::layout::{Layout, Panel, Placement, Weight};
use seamwright_contract::picture::{Channels, Depth};
use serde_json::{Value, json};

use crate::PROTOCOL;
use crate::manifest::Program;
use crate::raster::HandedOver;

/// All that is decided by now; what is not is null.
pub(crate) fn of(program: &Program, layout: &Layout, picture: Option<&HandedOver>) -> Value {
    let (order, artwork, placed) = (&layout.order, &layout.artwork, layout.placed());
    let said = |weight| -> Vec<&str> {
        layout.notices.iter().filter(|n| n.weight == weight).map(|n| n.text.as_str()).collect()
    };
    json!({
        "protocol": PROTOCOL,
        "program": program.name,
        "job": layout.job.name,
        "artwork": {
            "file": artwork.file,
            "sha256": artwork.sha256,
            "width_px": artwork.size.width,
            "height_px": artwork.size.height,
        },
        "picture": picture.map(handed_over),
        "order": {
            "copies": order.copies,
            "note": order.note,
            "fields": order.fields,
            "printer": order.printer.name,
            "press": order.press.name,
            "keep_clear": order.keep_clear.iter().map(rect).collect::<Vec<_>>(),
            "extra_sheets": order.extra_sheets,
        },
        "blank": {
            "name": order.blank.name,
            "substrate": order.blank.substrate.name,
            "shape": order.blank.shape.word(),
            "width_um": order.blank.size.width.um(),
            "height_um": order.blank.size.height.um(),
            "placed_um": [placed.x.um(), placed.y.um()],
        },
        "design": layout.design.as_ref().map(|design| json!({
            "width_um": design.size.width.um(),
            "height_um": design.size.height.um(),
            "picture_um": rect(&design.picture),
            "sheet_ppi": design.sheet_ppi.get(),
        })),
        "mirrored": layout.mirrored,
        "lap_um": layout.lap.map(|lap| lap.lap.um()),
        "paper": layout.lay_up.as_ref().map(|lay_up| json!({
            "name": lay_up.paper.name,
            "width_um": lay_up.page.width.um(),
            "height_um": lay_up.page.height.um(),
        })),
        "panels": layout.lay_up.as_ref().map(|lay_up| lay_up.panels.iter().map(panel).collect::<Vec<_>>()),
        "press": layout.press.as_ref().map(|plan| json!({
            "placements": plan.placements.iter().map(placement).collect::<Vec<_>>(),
            "heat_c": plan.heat.celsius(),
            "dwell_s": plan.dwell.0,
            "total_s": plan.total.0,
        })),
        "warnings": said(Weight::Warning),
        "remarks": said(Weight::Remark),
    })
}

/// What is said of the picture's file.
pub(crate) fn handed_over(picture: &HandedOver) -> Value {
    let channels = match picture.format.channels {
        Channels::Gray => "gray",
        Channels::Rgb => "rgb",
        Channels::Cmyk => "cmyk",
    };
    let bits = match picture.format.depth {
        Depth::Eight => 8,
        Depth::Sixteen => 16,
    };
    json!({
        "file": picture.file,
        "width_px": picture.size.width,
        "height_px": picture.size.height,
        "channels": channels,
        "bits": bits,
        "profile": picture.profile,
    })
}

fn rect<Space: Copy>(rect: &Rect<Space>) -> [i64; 4] {
    [rect.x.um(), rect.y.um(), rect.width.um(), rect.height.um()]
}

fn panel(panel: &Panel) -> Value {
    json!({
        "panel": panel.number,
        "row": panel.row,
        "column": panel.column,
        "page": panel.page,
        "face_um": rect(&panel.face),
        "cell_um": rect(&panel.cell),
        "trim": panel.trim.iter().map(|edge| edge.word()).collect::<Vec<_>>(),
        "on_top_of": panel.on_top_of,
    })
}

fn placement(placement: &Placement) -> Value {
    json!({
        "n": placement.number,
        "blank_um": rect(&placement.platen),
        "turned": placement.turned,
        "start_s": placement.start.0,
    })
}
