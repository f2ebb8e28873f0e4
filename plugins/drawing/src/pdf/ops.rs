//! Items as page operations, in points from the page's bottom left.

use std::collections::BTreeMap;

use printpdf::{
    Color, CurTransMat, DictItem, ExternalStream, ExternalXObject, Greyscale, Line, LineDashPattern,
    LinePoint, Op, PaintMode, PdfFontHandle, PdfPage, PdfResources, Polygon, PolygonRing, Pt, TextItem,
    TextMatrix, WindingOrder, XObject, XObjectId, XObjectTransform,
};
use seamwright_contract::picture::{Band, Channels, Samples};
use seamwright_contract::{Fault, Length, Page, Point, Rect, num};

use super::embed;
use crate::font::Style;
use crate::page::{Canvas, Item, Path, Pen, Segment};

/// One page; its images go into the resources.
pub(super) fn page(at: usize, canvas: &Canvas, resources: &mut PdfResources) -> Result<PdfPage, Fault> {
    let draw = Draw { height: canvas.size.height };
    let mut ops = Vec::new();
    for (nth, item) in canvas.items.iter().enumerate() {
        match item {
            Item::Stroke(path, pen) => draw.stroke(path, *pen, &mut ops),
            Item::Fill(path, shade) => draw.fill(path, *shade, &mut ops),
            Item::Text { at, size, style, upwards, mirrored, shade, text } => {
                draw.text(*at, *size, *style, turn(*upwards, *mirrored), text, *shade, &mut ops);
            }
            Item::Image(rect, band) => {
                let id = XObjectId(format!("Im{at}x{nth}"));
                resources.xobjects.map.insert(id.clone(), image(band)?);
                draw.image(rect, id, &mut ops);
            }
        }
    }
    let mut page = PdfPage::new(printpdf::Mm(0.0), printpdf::Mm(0.0), ops);
    page.media_box.width = pt(canvas.size.width);
    page.media_box.height = pt(canvas.size.height);
    Ok(page)
}

/// The turn from page space to points.
struct Draw {
    height: Length,
}

impl Draw {
    fn point(&self, at: Point<Page>) -> printpdf::Point {
        printpdf::Point { x: pt(at.x), y: pt(self.height - at.y) }
    }

    /// A path's points, the two control points of each curve marked as such.
    fn points(&self, path: &Path) -> Vec<LinePoint> {
        let mut points = vec![LinePoint { p: self.point(path.start), bezier: false }];
        for segment in &path.segments {
            match *segment {
                Segment::Line(to) => points.push(LinePoint { p: self.point(to), bezier: false }),
                Segment::Curve(first, second, to) => points.extend([
                    LinePoint { p: self.point(first), bezier: true },
                    LinePoint { p: self.point(second), bezier: true },
                    LinePoint { p: self.point(to), bezier: false },
                ]),
            }
        }
        points
    }

    fn stroke(&self, path: &Path, pen: Pen, ops: &mut Vec<Op>) {
        let dash = pen.dash.filter(|dash| *dash > Length::ZERO);
        let dash = dash
            .map_or_else(LineDashPattern::solid, |dash| LineDashPattern::new(0.0, &[pt(dash).0, pt(dash).0]));
        ops.push(Op::SetOutlineColor { col: gray(pen.shade) });
        ops.push(Op::SetOutlineThickness { pt: pt(pen.weight) });
        ops.push(Op::SetLineDashPattern { dash });
        ops.push(Op::DrawLine { line: Line { points: self.points(path), is_closed: path.closed } });
    }

    fn fill(&self, path: &Path, shade: u8, ops: &mut Vec<Op>) {
        ops.push(Op::SetFillColor { col: gray(shade) });
        ops.push(Op::DrawPolygon {
            polygon: Polygon {
                rings: vec![PolygonRing { points: self.points(path) }],
                mode: PaintMode::Fill,
                winding_order: WindingOrder::NonZero,
            },
        });
    }

    #[expect(clippy::too_many_arguments, reason = "the fields of one text item")]
    fn text(
        &self,
        at: Point<Page>,
        size: Length,
        style: Style,
        turn: [f32; 4],
        text: &str,
        shade: u8,
        ops: &mut Vec<Op>,
    ) {
        let shown: String = text.chars().map(|c| style.shown(c)).collect();
        if shown.is_empty() {
            return;
        }
        let printpdf::Point { x, y } = self.point(at);
        let [a, b, c, d] = turn;
        ops.extend([
            Op::StartTextSection,
            Op::SetFillColor { col: gray(shade) },
            Op::SetFont { font: PdfFontHandle::External(embed::id(style)), size: pt(size) },
            Op::SetTextMatrix { matrix: TextMatrix::Raw([a, b, c, d, x.0, y.0]) },
            Op::ShowText { items: vec![TextItem::Text(shown)] },
            Op::EndTextSection,
        ]);
    }

    fn image(&self, rect: &Rect<Page>, id: XObjectId, ops: &mut Vec<Op>) {
        let corner = self.point(Point::new(rect.x, rect.bottom()));
        let matrix =
            CurTransMat::Raw([pt(rect.width).0, 0.0, 0.0, pt(rect.height).0, corner.x.0, corner.y.0]);
        ops.extend([
            Op::SaveGraphicsState,
            Op::SetTransformationMatrix { matrix },
            Op::UseXobject {
                id,
                transform: XObjectTransform { no_auto_scale: true, ..XObjectTransform::default() },
            },
            Op::RestoreGraphicsState,
        ]);
    }
}

/// The turn of a line of text, as the first four numbers of its matrix.
fn turn(upwards: bool, mirrored: bool) -> [f32; 4] {
    let [a, b, c, d] = if upwards { [0.0, 1.0, -1.0, 0.0] } else { [1.0, 0.0, 0.0, 1.0] };
    if mirrored { [-a, b, -c, d] } else { [a, b, c, d] }
}

/// A small picture as an image object; compressed with the rest of the document.
fn image(band: &Band) -> Result<XObject, Fault> {
    let space = match band.format().channels {
        Channels::Gray => "DeviceGray",
        Channels::Rgb => "DeviceRGB",
        Channels::Cmyk => return Err(Fault::defect("a drawing was given a CMYK picture.")),
    };
    let content = match &band.samples {
        Samples::Eight(samples) => samples.clone(),
        Samples::Sixteen(samples) => samples.iter().map(|sample| num::narrow(*sample)).collect(),
    };
    let name = |word: &str| DictItem::Name(word.as_bytes().to_vec());
    let dict = BTreeMap::from([
        ("Type".to_owned(), name("XObject")),
        ("Subtype".to_owned(), name("Image")),
        ("Width".to_owned(), DictItem::Int(i64::from(band.size().width))),
        ("Height".to_owned(), DictItem::Int(i64::from(band.size().height))),
        ("BitsPerComponent".to_owned(), DictItem::Int(8)),
        ("ColorSpace".to_owned(), name(space)),
    ]);
    let stream = ExternalStream { dict, content, compress: true };
    Ok(XObject::External(ExternalXObject { stream, width: None, height: None, dpi: None }))
}

/// A length in points, rounded once.
fn pt(length: Length) -> Pt {
    Pt(num::single(length.points()))
}

fn gray(shade: u8) -> Color {
    Color::Greyscale(Greyscale::new(f32::from(shade) / 255.0, None))
}
