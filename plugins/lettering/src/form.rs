//! What an order says about lettering: YAML to types.

use std::str::FromStr as _;

use seamwright_contract::settings::{DISTANCE, Fields, Node, Read};
use seamwright_contract::{Face, Length, Point, Rect};

/// The most pieces of lettering on a design.
const MOST: usize = 50;
/// The most letters of a piece.
const LONGEST: usize = 1000;

/// One piece of lettering.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Wanted {
    /// The words as written, fields not yet filled in.
    pub(crate) text: String,
    /// Where they stand.
    pub(crate) place: Place,
    /// The font's family, if it is said.
    pub(crate) font: Option<String>,
    /// Its weight and slant.
    pub(crate) style: Style,
    /// sRGB.
    pub(crate) colour: [u8; 3],
    /// A rim round the letters.
    pub(crate) outline: Option<Outline>,
    /// The body size (em); `None` for the largest that fits.
    pub(crate) size: Option<Length>,
    /// Whether words too long for that size may be smaller.
    pub(crate) shrink: bool,
}

impl Wanted {
    /// How wide the rim round the letters is.
    pub(crate) fn rim(&self) -> Length {
        self.outline.map_or(Length::ZERO, |outline| outline.width)
    }
}

/// Where lettering stands, on the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Place {
    /// Lines in a box.
    Box {
        /// The box.
        of: Rect<Face>,
        /// Towards which side.
        align: Align,
        /// Towards top or bottom.
        valign: Valign,
    },
    /// One line along a circle.
    Circle(Circle),
}

/// A circle that letters stand on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Circle {
    pub(crate) centre: Point<Face>,
    /// Of the line the letters stand on.
    pub(crate) radius: Length,
    /// How high letters may be, from the lowest to the highest.
    pub(crate) height: Length,
    /// Where the middle of the words stands, in degrees clockwise from the top.
    pub(crate) middle: f64,
    /// How much of the circle they may take, in degrees.
    pub(crate) span: f64,
    /// Whether their feet point outwards, as they do when words at the bottom are to be read upright.
    pub(crate) feet_out: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    Left,
    Centre,
    Right,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Valign {
    Top,
    Middle,
    Bottom,
}

/// The weight and slant of letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Style {
    pub(crate) bold: bool,
    pub(crate) italic: bool,
}

const STYLES: [(&str, Style); 4] = [
    ("regular", Style { bold: false, italic: false }),
    ("bold", Style { bold: true, italic: false }),
    ("italic", Style { bold: false, italic: true }),
    ("bold-italic", Style { bold: true, italic: true }),
];

/// A rim round letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Outline {
    /// How far it reaches beyond the letter.
    pub(crate) width: Length,
    /// sRGB.
    pub(crate) colour: [u8; 3],
}

/// The words of the size that is the largest to fit.
const LARGEST: &str = "largest";

/// Reads all that an order says; `None` after complaining.
pub(crate) fn read(node: &Node<'_>) -> Option<Vec<Wanted>> {
    let items = node.items();
    if items.len() > MOST {
        node.complain(
            format!("there are {} pieces of lettering", items.len()),
            format!("Keep it to {MOST}; lines that stand together can be one text of several lines."),
        );
        return None;
    }
    let read: Vec<_> = items.iter().map(piece).collect();
    read.into_iter().collect()
}

/// A text's lines, without the white space round them.
pub(crate) fn lines(text: &str) -> Vec<&str> {
    text.trim().lines().map(str::trim).collect()
}

fn piece(node: &Node<'_>) -> Option<Wanted> {
    let mut fields = node.fields()?;
    let text = fields.must("text", || "Add for example `text: \"{name}\"`.".to_owned());
    let text = text.and_then(|node| words(&node));
    let place = place(node, &mut fields);
    let font: Option<String> = fields.optional("font");
    let style = fields.choice_or("style", &STYLES, STYLES[0].1);
    let colour = fields.get("colour").map_or(Some([0; 3]), |node| colour(&node));
    let outline = fields.get("outline").map(|node| outline(&node));
    let size = fields.get("size").map_or(Some(None), |node| size(&node));
    let shrink = fields.or("shrink", false);
    fields.finish();
    Some(Wanted {
        text: text?,
        place: place?,
        font,
        style,
        colour: colour?,
        outline: match outline {
            Some(outline) => Some(outline?),
            None => None,
        },
        size: size?,
        shrink,
    })
}

fn words(node: &Node<'_>) -> Option<String> {
    let text = String::read(node)?;
    let length = text.chars().count();
    if length > LONGEST {
        node.complain(format!("the text has {length} letters"), format!("Keep it to {LONGEST}."));
        return None;
    }
    Some(text)
}

fn place(node: &Node<'_>, fields: &mut Fields<'_>) -> Option<Place> {
    let align = fields.choice_or(
        "align",
        &[("left", Align::Left), ("centre", Align::Centre), ("right", Align::Right)],
        Align::Centre,
    );
    let valign = fields.choice_or(
        "valign",
        &[("top", Valign::Top), ("middle", Valign::Middle), ("bottom", Valign::Bottom)],
        Valign::Middle,
    );
    match (fields.get("box"), fields.get("circle")) {
        (Some(of), None) => Some(Place::Box { of: rectangle(&of)?, align, valign }),
        (None, Some(of)) => circle(&of).map(Place::Circle),
        (None, None) => {
            node.complain_of_all(
                "it is not said where the words stand",
                "Write for example `box: {x: 2in, y: 10in, width: 20in, height: 2in}`, measured from the top left of the design.",
            );
            None
        }
        (Some(_), Some(of)) => {
            of.complain("the words cannot stand in a box and on a circle", "Keep one of the two.");
            None
        }
    }
}

fn rectangle(node: &Node<'_>) -> Option<Rect<Face>> {
    let mut fields = node.fields()?;
    let (x, y) = (fields.required("x", "2in"), fields.required("y", "10in"));
    let (width, height) =
        (above_zero(&mut fields, "width", "20in"), above_zero(&mut fields, "height", "2in"));
    fields.finish();
    Some(Rect::new(x?, y?, width?, height?))
}

fn circle(node: &Node<'_>) -> Option<Circle> {
    let mut fields = node.fields()?;
    let (x, y) = (fields.required("x", "6in"), fields.required("y", "6in"));
    let radius = above_zero(&mut fields, "radius", "5in");
    let height = above_zero(&mut fields, "height", "1in");
    let middle = fields.get("middle").map_or(Some(0.0), |node| degrees(&node, -360.0..=360.0));
    let span = fields.get("span").map_or(Some(180.0), |node| degrees(&node, 1.0..=350.0));
    let feet_out = fields.choice_or("feet", &[("in", false), ("out", true)], false);
    fields.finish();
    let circle = Circle {
        centre: Point::new(x?, y?),
        radius: radius?,
        height: height?,
        middle: middle?,
        span: span?,
        feet_out,
    };
    if circle.feet_out && circle.height >= circle.radius {
        node.complain(
            "letters so high would reach beyond the middle of the circle",
            "Write a smaller `height` or a larger `radius`.",
        );
        return None;
    }
    Some(circle)
}

fn degrees(node: &Node<'_>, range: std::ops::RangeInclusive<f64>) -> Option<f64> {
    let degrees = f64::read(node)?;
    if !range.contains(&degrees) {
        node.complain(
            format!("there cannot be {degrees} degrees"),
            format!("Write a number from {} to {}.", range.start(), range.end()),
        );
        return None;
    }
    Some(degrees)
}

fn above_zero(fields: &mut Fields<'_>, key: &'static str, example: &str) -> Option<Length> {
    positive(&fields.must(key, || format!("Add `{key}: {example}`."))?)
}

fn positive(node: &Node<'_>) -> Option<Length> {
    node.looks(DISTANCE);
    let length = Length::read(node)?;
    if length <= Length::ZERO {
        node.complain(format!("{length} is too little"), "Write a length above zero.");
        return None;
    }
    Some(length)
}

fn outline(node: &Node<'_>) -> Option<Outline> {
    let mut fields = node.fields()?;
    let width = above_zero(&mut fields, "width", "1mm");
    let colour = fields.get("colour").map_or(Some([255; 3]), |node| colour(&node));
    fields.finish();
    Some(Outline { width: width?, colour: colour? })
}

fn size(node: &Node<'_>) -> Option<Option<Length>> {
    if node.says(LARGEST) {
        return Some(None);
    }
    positive(node).map(Some)
}

/// A colour as CSS writes it (CSS Color Module Level 3), without transparency.
fn colour(node: &Node<'_>) -> Option<[u8; 3]> {
    let written = String::read(node)?;
    match svgtypes::Color::from_str(&written) {
        Ok(colour) if colour.alpha == 255 => Some([colour.red, colour.green, colour.blue]),
        _ => {
            node.complain(
                format!("'{written}' is not a colour"),
                "Write it in sRGB, such as `\"#1d2b4f\"`, or by a name of CSS, such as `midnightblue`.",
            );
            None
        }
    }
}
