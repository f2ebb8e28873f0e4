//! One page: where the picture lies on it, and the marks beside it.

use seamwright_contract::layout::{Design, Ink, LayUp, Layout, Panel};
use seamwright_contract::picture::Window;
use seamwright_contract::scale::drawn_point;
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
    panels.into_iter().map(|panel| Ok((panel.number, sheet(layout, design, lay_up, panel)?))).collect()
}

fn sheet(layout: &Layout, design: &Design, lay_up: &LayUp, panel: &Panel) -> Result<Sheet, Fault> {
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
        canvas: marked(lay_up, panel),
        image: place(window, design.sheet_ppi.pitch_um(), panel, layout.mirrored, lay_up),
        printed: drawn_at(lay_up.drawn_face(panel), lay_up.page),
    })
}

/// Where a window of the grid lies on a panel's page: pixel i covers i to i + 1 pitches of the face.
fn place(window: Window, pitch: f64, panel: &Panel, mirrored: bool, lay_up: &LayUp) -> Place {
    let (width, height) = (f64::from(window.width) * pitch, f64::from(window.height) * pitch);
    let (left, top) = (f64::from(window.x) * pitch, f64::from(window.y) * pitch);
    let across = if mirrored {
        num::float(panel.face.right().um()) - (left + width)
    } else {
        left - num::float(panel.face.x.um())
    };
    let down = top - num::float(panel.face.y.um());
    let (left, top) = (num::float(panel.at.x.um()) + across, num::float(panel.at.y.um()) + down);
    drawn_at(lay_up.drawn([left, top, width, height]), lay_up.page)
}

fn drawn_at([left, top, width, height]: [f64; 4], page: Size) -> Place {
    Place::from_top_left(left, top, width, height, page)
}

/// The page with a panel's marks.
fn marked(lay_up: &LayUp, panel: &Panel) -> Canvas {
    let mut canvas = Canvas::new(lay_up.page);
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
    canvas.move_all(|at| drawn_point(at, lay_up.page, lay_up.scale));
    canvas
}
