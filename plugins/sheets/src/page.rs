//! One page: where the picture lies on it, and the marks beside it.

use seamwright_contract::layout::{Design, Ink, Layout, Panel};
use seamwright_contract::picture::Window;
use seamwright_contract::{Fault, Size, num};
use seamwright_drawing::sheet::{Place, Sheet};
use seamwright_drawing::{Canvas, Item, Path, Pen, Style};

/// All pages in their order, each with the number of its panel.
pub(crate) fn all(layout: &Layout) -> Result<Vec<(u32, Sheet)>, Fault> {
    let (design, lay_up) = (layout.design()?, layout.lay_up()?);
    let mut panels: Vec<_> = lay_up.panels.iter().collect();
    panels.sort_by_key(|panel| panel.page);
    if panels.is_empty() {
        return Err(Fault::defect("there is no panel to print."));
    }
    panels.into_iter().map(|panel| Ok((panel.number, sheet(layout, design, lay_up.page, panel)?))).collect()
}

fn sheet(layout: &Layout, design: &Design, page: Size, panel: &Panel) -> Result<Sheet, Fault> {
    let window = design.window(&panel.face);
    if window.width == 0 || window.height == 0 || !window.within(layout.picture.size()) {
        return Err(Fault::defect(format!(
            "panel {} needs {window:?} of a picture of {:?}.",
            panel.number,
            layout.picture.size()
        )));
    }
    Ok(Sheet {
        window,
        canvas: marked(page, panel),
        image: place(window, design.sheet_ppi.pitch_um(), panel, layout.mirrored, page),
        printed: Place::of(&panel.printed(), page),
    })
}

/// Where a window of the grid lies on a panel's page: pixel i covers i to i + 1 pitches of the face.
fn place(window: Window, pitch: f64, panel: &Panel, mirrored: bool, page: Size) -> Place {
    let (width, height) = (f64::from(window.width) * pitch, f64::from(window.height) * pitch);
    let (left, top) = (f64::from(window.x) * pitch, f64::from(window.y) * pitch);
    let across = if mirrored {
        num::float(panel.face.right().um()) - (left + width)
    } else {
        left - num::float(panel.face.x.um())
    };
    let down = top - num::float(panel.face.y.um());
    Place::from_top_left(
        num::float(panel.at.x.um()) + across,
        num::float(panel.at.y.um()) + down,
        width,
        height,
        page,
    )
}

/// The page with a panel's marks.
fn marked(page: Size, panel: &Panel) -> Canvas {
    let mut canvas = Canvas::new(page);
    for mark in &panel.marks {
        match &mark.ink {
            Ink::Line { from, to, weight } => canvas.line(*from, *to, Pen::black(*weight)),
            Ink::Polygon(points) => {
                if let Some(path) = Path::through(points, true) {
                    canvas.fill(path, 0);
                }
            }
            Ink::Text { at, size, upwards, text } => canvas.items.push(Item::Text {
                at: *at,
                size: *size,
                style: Style::Regular,
                upwards: *upwards,
                mirrored: false,
                shade: 0,
                text: text.clone(),
            }),
        }
    }
    canvas
}
