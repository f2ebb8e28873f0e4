//! One page: where the picture lies on it, and the marks beside it.

use lopdf::{Dictionary, Document, Object, ObjectId, Stream};
use seamwright_contract::layout::{Design, Ink, Layout, Panel};
use seamwright_contract::picture::Window;
use seamwright_contract::units::UM_PER_INCH;
use seamwright_contract::{Fault, Size, num};
use seamwright_drawing::{Canvas, Item, Path, Pen, Style};

/// The name under which a page's contents call its picture.
const ART: &str = "Art";

/// A page to be written.
pub(crate) struct Sheet {
    /// The whole pixels of the design-wide grid that cover the printed face.
    pub(crate) window: Window,
    /// The page with its marks.
    pub(crate) canvas: Canvas,
    /// Where the window lies on the page.
    image: Place,
    /// The printed face on the page: all that is seen of the window.
    printed: Place,
}

/// A rectangle in points from the page's bottom left.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Place {
    left: f64,
    bottom: f64,
    width: f64,
    height: f64,
}

impl Sheet {
    /// All pages in their order.
    pub(crate) fn all(layout: &Layout) -> Result<Vec<Self>, Fault> {
        let (design, lay_up) = (layout.design()?, layout.lay_up()?);
        let mut panels: Vec<_> = lay_up.panels.iter().collect();
        panels.sort_by_key(|panel| panel.page);
        if panels.is_empty() {
            return Err(Fault::defect("there is no panel to print."));
        }
        panels.into_iter().map(|panel| Self::new(layout, design, lay_up.page, panel)).collect()
    }

    fn new(layout: &Layout, design: &Design, page: Size, panel: &Panel) -> Result<Self, Fault> {
        let window = design.window(&panel.face);
        if window.width == 0 || window.height == 0 || !window.within(layout.picture.size()) {
            return Err(Fault::defect(format!(
                "panel {} needs {window:?} of a picture of {:?}.",
                panel.number,
                layout.picture.size()
            )));
        }
        Ok(Self {
            window,
            canvas: marked(page, panel),
            image: place(window, design.sheet_ppi.pitch_um(), panel, layout.mirrored, page),
            printed: printed(panel, page),
        })
    }

    /// Puts picture and boxes into the page that holds the marks already.
    pub(crate) fn complete(
        &self,
        document: &mut Document,
        page: ObjectId,
        image: u32,
    ) -> Result<(), lopdf::Error> {
        let art = document.add_object(Stream::new(Dictionary::new(), self.contents().into_bytes()));
        let page = document.get_dictionary_mut(page)?;
        let marks = page.get(b"Contents")?.clone();
        page.set("Contents", vec![Object::Reference(art), marks]);
        page.set("TrimBox", self.printed.sides());
        page.set("BleedBox", self.printed.sides());
        let images = Dictionary::from_iter([(ART, Object::Reference((image, 0)))]);
        page.get_mut(b"Resources")?.as_dict_mut()?.set("XObject", images);
        Ok(())
    }

    /// The picture, clipped to the printed face.
    fn contents(&self) -> String {
        let (clip, image) = (self.printed, self.image);
        format!(
            "q\n{:.6} {:.6} {:.6} {:.6} re W n\n{:.6} 0 0 {:.6} {:.6} {:.6} cm\n/{ART} Do\nQ\n",
            clip.left,
            clip.bottom,
            clip.width,
            clip.height,
            image.width,
            image.height,
            image.left,
            image.bottom,
        )
    }
}

impl Place {
    /// From micrometres from the page's top left.
    fn from_top_left(left: f64, top: f64, width: f64, height: f64, page: Size) -> Self {
        let points = |um: f64| um * 72.0 / num::float(UM_PER_INCH);
        Self {
            left: points(left),
            bottom: points(num::float(page.height.um()) - top - height),
            width: points(width),
            height: points(height),
        }
    }

    /// As a page box: left, bottom, right, top.
    fn sides(self) -> Object {
        let sides = [self.left, self.bottom, self.left + self.width, self.bottom + self.height];
        Object::Array(sides.into_iter().map(|side| Object::Real(num::single(side))).collect())
    }
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

fn printed(panel: &Panel, page: Size) -> Place {
    let rect = panel.printed();
    let [left, top, width, height] =
        [rect.x, rect.y, rect.width, rect.height].map(|side| num::float(side.um()));
    Place::from_top_left(left, top, width, height, page)
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
                shade: 0,
                text: text.clone(),
            }),
        }
    }
    canvas
}
