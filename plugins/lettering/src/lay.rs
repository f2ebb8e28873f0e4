//! Words laid out: how large, and where, measured by their outlines.
//!
//! Every line is shaped once at [`REFERENCE`]; what is set is that, scaled, so that the largest size that fits is a division
//! and holds exactly. Lines stand on baselines that depend on the font alone: names with and without long letters stand
//! alike on all mats of a list. Sideways it is the ink that touches the box.

use resvg::tiny_skia::{LineJoin, Path, PathBuilder, PathSegment, Point, Stroke, Transform};
use resvg::usvg::fontdb::Style as Slant;
use resvg::usvg::{Group, Node, Text, Tree};
use seamwright_contract::settings::one_of;
use seamwright_contract::units::Units;
use seamwright_contract::{Face, Fault, Length, Outline, Rect, num};
use seamwright_fonts::{Fonts, SHIPPED, as_xml};
use unicode_bidi::{Direction, get_base_direction};

use crate::form::{Align, Circle, Place, Valign, Wanted};

/// The size at which words are measured, in millimetres, which are the units of every drawing here.
const REFERENCE: f64 = 100.0;
/// How every drawing here begins.
const HEAD: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"1\" height=\"1\">";
/// From baseline to baseline, in sizes (common practice, no source).
const LINE: f64 = 1.2;
/// Nobody reads letters smaller than this on cloth, in millimetres; they are a mistake.
const SMALLEST: f64 = 1.0;
/// Curves of a rim are as fine as they would be at so many pixels to the millimetre, 1000 to the inch.
const FINEST: f32 = 40.0;
/// The weight from which a face counts as bold.
const BOLD: u16 = 600;

/// Words ready to be drawn, in millimetres of the face.
#[derive(Debug)]
pub(crate) struct Laid {
    /// The letters.
    pub(crate) letters: Path,
    /// What lies below them and reaches beyond them, if they have a rim; it is wanted all the way under them.
    pub(crate) rim: Option<Path>,
    /// The size.
    pub(crate) body: Length,
    /// What is set, for messages.
    text: String,
    /// Left, top, right, bottom of the ink, the rim included.
    pub(crate) bounds: [f64; 4],
}

/// A line at a size of one millimetre.
struct Line<'t> {
    text: &'t str,
    /// How far it reaches above and below its baseline: the font's letters, or its own where they go further.
    above: f64,
    below: f64,
    /// How far the line runs on.
    advance: f64,
    /// Where its ink begins and ends.
    left: f64,
    right: f64,
}

/// Lays words out.
pub(crate) fn out(wanted: &Wanted, text: &str, fonts: &Fonts) -> Result<Laid, Fault> {
    let face = face(wanted);
    let set = match &wanted.place {
        Place::Box { of, align, valign } => {
            let lines: Vec<_> =
                text.lines().map(|line| measured(line, wanted, &face, fonts)).collect::<Result<_, _>>()?;
            in_box(wanted, of, (*align, *valign), &lines)?
        }
        Place::Circle(circle) => {
            let text = text.replace('\n', " ");
            on_circle(wanted, circle, &measured(&text, wanted, &face, fonts)?)?
        }
    };
    let tree = parsed(&format!("{HEAD}<g {face}>{}</g></svg>", set.body), fonts)?;
    let letters = outlines(tree.root()).ok_or_else(|| unseen(text))?;
    let rim = wanted.rim().mm();
    let stroke = Stroke { width: num::single(2.0 * rim), line_join: LineJoin::Round, ..Stroke::default() };
    let [left, top, right, bottom] = bounds(&letters).ok_or_else(|| unseen(text))?;
    Ok(Laid {
        rim: if rim > 0.0 { letters.stroke(&stroke, FINEST) } else { None },
        letters,
        body: Length::from_um(num::round(set.size * 1000.0)),
        text: text.to_owned(),
        bounds: [left - rim, top - rim, right + rim, bottom + rim],
    })
}

impl Laid {
    /// The same on a face that is longer by these factors, across and down.
    pub(crate) fn grown(self, [across, down]: [f64; 2]) -> Option<Self> {
        let grown = Transform::from_scale(num::single(across), num::single(down));
        let [left, top, right, bottom] = self.bounds;
        Some(Self {
            letters: self.letters.transform(grown)?,
            rim: match self.rim {
                Some(rim) => Some(rim.transform(grown)?),
                None => None,
            },
            bounds: [left * across, top * down, right * across, bottom * down],
            ..self
        })
    }

    /// The part of the face that its ink covers, to the next micrometre outwards.
    pub(crate) fn ink(&self) -> Rect<Face> {
        let [left, top, right, bottom] = self.bounds.map(|edge| edge * 1000.0);
        let um = |edge: f64| Length::from_um(num::round(edge));
        Rect::from_edges(um(left.floor()), um(top.floor()), um(right.ceil()), um(bottom.ceil()))
    }

    /// Refuses words that reach beyond the blank's safe shape, their rim included.
    pub(crate) fn keeps_within(&self, safe: &Outline<Face>, rim: Length, units: Units) -> Result<(), Fault> {
        if safe.contains(&self.ink()) {
            return Ok(());
        }
        let rim = num::float(rim.um());
        let round = [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0_f64].map(f64::to_radians);
        let mut within = true;
        points(&self.letters, &mut |x, y| {
            let (x, y) = (x * 1000.0, y * 1000.0);
            within &= round.iter().all(|angle| safe.covers(x + rim * angle.cos(), y + rim * angle.sin()));
        });
        if within {
            return Ok(());
        }
        let (ink, area) = (self.ink(), safe.bounds);
        Err(Fault::order(
            format!(
                "The lettering '{}' would reach beyond what may be printed of the blank: it takes {} at {} from the left and \
                 {} from the top, of {}.",
                self.text,
                units.show_size(ink.width, ink.height),
                units.show(ink.x),
                units.show(ink.y),
                units.show_size(area.width, area.height)
            ),
            "Move its box inwards or make it smaller; near a round edge the corners of a box lie outside.",
        ))
    }
}

/// Words at their size and place, as SVG.
struct Set {
    size: f64,
    body: String,
}

fn in_box(
    wanted: &Wanted,
    of: &Rect<Face>,
    (align, valign): (Align, Valign),
    lines: &[Line<'_>],
) -> Result<Set, Fault> {
    let rim = wanted.rim().mm();
    let (width, height) = (of.width.mm() - 2.0 * rim, of.height.mm() - 2.0 * rim);
    let down = |n: usize| f64::from(num::count(n)) * LINE;
    let most = |each: &dyn Fn(usize, &Line<'_>) -> f64| {
        lines.iter().enumerate().map(|(n, line)| each(n, line)).fold(f64::MIN, f64::max)
    };
    let wide = most(&|_, line| line.right - line.left);
    let (above, below) = (most(&|n, line| line.above - down(n)), most(&|n, line| line.below + down(n)));
    let size = size(wanted, [width / wide, height / (above + below)], "box")?;
    let first = match valign {
        Valign::Top => of.y.mm() + rim + above * size,
        Valign::Middle => of.y.mm() + of.height.mm() / 2.0 + (above - below) / 2.0 * size,
        Valign::Bottom => of.bottom().mm() - rim - below * size,
    };
    let mut body = String::new();
    for (n, line) in lines.iter().enumerate() {
        let x = match align {
            Align::Left => of.x.mm() + rim - line.left * size,
            Align::Centre => of.x.mm() + of.width.mm() / 2.0 - (line.left + line.right) / 2.0 * size,
            Align::Right => of.right().mm() - rim - line.right * size,
        };
        push(&mut body, [x, first + down(n) * size], size, &format!("<text>{}</text>", escaped(line.text)));
    }
    Ok(Set { size, body })
}

fn on_circle(wanted: &Wanted, circle: &Circle, line: &Line<'_>) -> Result<Set, Fault> {
    let (rim, radius) = (wanted.rim().mm(), circle.radius.mm());
    let along = circle.span.to_radians() * radius - 2.0 * rim;
    let wide = (line.right - line.left).max(line.advance);
    let size = size(
        wanted,
        [along / wide, (circle.height.mm() - 2.0 * rim) / (line.above + line.below)],
        "part of the circle",
    )?;
    // From opposite the middle of the words all the way round, so that they stand about half of it.
    let radius = radius * REFERENCE / size;
    let middle = circle.middle.to_radians();
    let (x, y) = (radius * middle.sin(), -radius * middle.cos());
    let way = u8::from(!circle.feet_out);
    let mut body = String::new();
    let path = format!(
        "<defs><path id=\"c\" d=\"M{:.6} {:.6}A{radius:.6} {radius:.6} 0 0 {way} {x:.6} {y:.6}A{radius:.6} \
         {radius:.6} 0 0 {way} {:.6} {:.6}\"/></defs><text text-anchor=\"middle\"><textPath href=\"#c\" startOffset=\"50%\">{}\
         </textPath></text>",
        -x,
        -y,
        -x,
        -y,
        escaped(line.text)
    );
    push(&mut body, [circle.centre.x.mm(), circle.centre.y.mm()], size, &path);
    Ok(Set { size, body })
}

/// The size at which words are set: as wanted if the largest that fits, by each measure, allows it.
fn size(wanted: &Wanted, fits: [f64; 2], room: &str) -> Result<f64, Fault> {
    let largest = fits.into_iter().fold(f64::MAX, f64::min);
    // A hair below, for what the last digits are rounded by.
    let largest = largest * (1.0 - 1e-6);
    let asked = wanted.size.map_or(largest, Length::mm);
    let size = if wanted.shrink { asked.min(largest) } else { asked };
    if size > largest {
        let way = if fits[0] < fits[1] { "long" } else { "high" };
        return Err(Fault::order(
            format!(
                "The lettering '{}' is too {way} for its {room} at a size of {asked:.1} mm; the largest that fits is {:.1} mm.",
                wanted.text,
                (largest * 10.0).floor().max(0.0) / 10.0
            ),
            "Write `size: largest`, or `shrink: yes` to let long words be smaller, or make the place larger.",
        ));
    }
    if size.is_nan() || size < SMALLEST {
        return Err(Fault::order(
            format!("The lettering '{}' would be smaller than {SMALLEST} mm in its {room}.", wanted.text),
            "Make its place larger, or its words fewer.",
        ));
    }
    Ok(size)
}

fn push(body: &mut String, [x, y]: [f64; 2], size: f64, what: &str) {
    let scale = size / REFERENCE;
    body.push_str(&format!("<g transform=\"translate({x:.6} {y:.6}) scale({scale:.9})\">{what}</g>"));
}

/// How the letters look, as attributes. Sizes differ by scaling alone, so no size may have forms of its own.
fn face(wanted: &Wanted) -> String {
    // Of the shipped family the face that is shipped, whatever else of it the machine has.
    let (family, width) = wanted.font.as_deref().map_or((SHIPPED, "condensed"), |family| (family, "normal"));
    let family: String = family.chars().filter(|c| !matches!(c, '\'' | '\\')).collect();
    let weight = if wanted.style.bold { "bold" } else { "normal" };
    let slant = if wanted.style.italic { "italic" } else { "normal" };
    format!(
        "font-family=\"'{}'\" font-size=\"{REFERENCE}\" font-weight=\"{weight}\" font-style=\"{slant}\" \
         font-stretch=\"{width}\" \
         font-optical-sizing=\"none\" xml:space=\"preserve\"",
        as_xml(&family)
    )
}

/// Text as it stands in a drawing. What begins with letters that run from the right does so as a whole, which the
/// parser would otherwise take for words in a line that runs from the left (Unicode Standard Annex 9).
fn escaped(text: &str) -> String {
    let plain = as_xml(text);
    match get_base_direction(text) {
        Direction::Rtl => format!("\u{2067}{plain}\u{2069}"),
        Direction::Ltr | Direction::Mixed => plain,
    }
}

fn parsed(svg: &str, fonts: &Fonts) -> Result<Tree, Fault> {
    let tree = Tree::from_str(svg, &fonts.options());
    tree.map_err(|why| Fault::defect(format!("lettering cannot be laid out: {why}")))
}

/// A line's measures. Refuses what its font lacks.
fn measured<'t>(text: &'t str, wanted: &Wanted, face: &str, fonts: &Fonts) -> Result<Line<'t>, Fault> {
    if text.is_empty() {
        return Ok(Line { text, above: 0.0, below: 0.0, advance: 0.0, left: 0.0, right: 0.0 });
    }
    let tree = parsed(&format!("{HEAD}<text {face}>{}</text></svg>", escaped(text)), fonts)?;
    let other = fonts.sound(&tree)?;
    if let Some(family) = wanted.font.as_ref().filter(|family| other.contains_key(*family)) {
        return Err(no_family(family, fonts));
    }
    let set = first_text(tree.root()).ok_or_else(|| unseen(text))?;
    has_style(set, wanted, &tree)?;
    if set.flattened().children().iter().any(|part| !matches!(part, Node::Path(_))) {
        return Err(coloured(text));
    }
    let outlines = outlines(set.flattened()).ok_or_else(|| unseen(text))?;
    let [left, top, right, bottom] = bounds(&outlines).ok_or_else(|| unseen(text))?;
    let line = set.bounding_box();
    let unit = |value: f64| value / REFERENCE;
    Ok(Line {
        text,
        above: unit((-top).max(f64::from(-line.top()))),
        below: unit(bottom.max(line.bottom().into())),
        advance: unit(line.width().into()),
        left: unit(left),
        right: unit(right),
    })
}

fn first_text(group: &Group) -> Option<&Text> {
    group.children().iter().find_map(|part| match part {
        Node::Text(text) => Some(text.as_ref()),
        Node::Group(group) => first_text(group),
        Node::Path(_) | Node::Image(_) => None,
    })
}

/// Refuses a weight or slant that the font's family does not have: another would be taken in silence.
fn has_style(text: &Text, wanted: &Wanted, tree: &Tree) -> Result<(), Fault> {
    let family = wanted.font.as_deref().unwrap_or(SHIPPED);
    for glyph in text.layouted().iter().flat_map(|span| &span.positioned_glyphs) {
        let Some(face) = tree.fontdb().face(glyph.font) else { continue };
        let own = face.families.iter().any(|(name, _)| name.eq_ignore_ascii_case(family));
        let lacks = if wanted.style.bold && face.weight.0 < BOLD {
            "bold"
        } else if wanted.style.italic && face.style == Slant::Normal {
            "italic"
        } else {
            continue;
        };
        if own {
            return Err(Fault::order(
                format!("The font '{family}' has no {lacks} letters on this machine."),
                "Write another `style` or `font`, or put the font's other files into the studio's folder `fonts`.",
            ));
        }
    }
    Ok(())
}

fn no_family(family: &str, fonts: &Fonts) -> Fault {
    let known: Vec<&str> = fonts.families().into_iter().collect();
    Fault::order(
        format!("The font '{family}' is not on this machine."),
        format!("Put it into the studio's folder `fonts`, or name another. {}", one_of(&known, Some(family))),
    )
}

fn coloured(text: &str) -> Fault {
    Fault::order(
        format!(
            "The lettering '{text}' has letters that are pictures in several colours (emoji), which are not set here."
        ),
        "Take them out, or put them into the artwork.",
    )
}

fn unseen(text: &str) -> Fault {
    Fault::order(format!("Nothing of the lettering '{text}' would show."), "Write letters that have a form.")
}

/// The bounds of an outline.
fn bounds(path: &Path) -> Option<[f64; 4]> {
    let of = path.compute_tight_bounds()?;
    Some([of.left(), of.top(), of.right(), of.bottom()].map(f64::from))
}

/// Goes along an outline.
fn points(path: &Path, at: &mut impl FnMut(f64, f64)) {
    const STEPS: u8 = 8;
    let mut last = Point::default();
    for segment in path.segments() {
        // Lines and quadratic curves as the cubic ones that they are.
        let curve = match segment {
            PathSegment::MoveTo(to) | PathSegment::LineTo(to) => [last, to, to],
            PathSegment::QuadTo(by, to) => [toward(last, by), toward(to, by), to],
            PathSegment::CubicTo(by, and, to) => [by, and, to],
            PathSegment::Close => continue,
        };
        for step in 1..=STEPS {
            let t = f64::from(step) / f64::from(STEPS);
            let along = |axis: fn(Point) -> f32| on_curve([last, curve[0], curve[1], curve[2]].map(axis), t);
            at(along(|point| point.x), along(|point| point.y));
        }
        last = curve[2];
    }
}

/// Two thirds of the way.
fn toward(from: Point, to: Point) -> Point {
    Point::from_xy(from.x + (to.x - from.x) * 2.0 / 3.0, from.y + (to.y - from.y) * 2.0 / 3.0)
}

fn on_curve([a, b, c, d]: [f32; 4], t: f64) -> f64 {
    let u = 1.0 - t;
    u * u * u * f64::from(a)
        + 3.0 * u * u * t * f64::from(b)
        + 3.0 * u * t * t * f64::from(c)
        + t * t * t * f64::from(d)
}

/// All outlines below a group, as they lie in the drawing.
fn outlines(group: &Group) -> Option<Path> {
    fn collect(group: &Group, all: &mut PathBuilder) {
        for part in group.children() {
            match part {
                Node::Group(group) => collect(group, all),
                Node::Text(text) => collect(text.flattened(), all),
                Node::Path(path) => {
                    if let Some(placed) = path.data().clone().transform(path.abs_transform()) {
                        all.push_path(&placed);
                    }
                }
                Node::Image(_) => {}
            }
        }
    }
    let mut all = PathBuilder::new();
    collect(group, &mut all);
    all.finish()
}
