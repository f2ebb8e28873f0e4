//! How many rows of a drawing may be drawn at a time.
//!
//! The more rows the better, for every band goes through all parts. Beside the band itself memory is taken by groups that
//! are drawn aside (for opacity, clips, masks, effects) and by the tiles of patterns; the renderer makes what is aside as
//! large as the group, but at most five times the band. An effect that looks at neighbouring pixels sees no further than two
//! bands up or down, so bands must be half as high as effects reach; some look at all of their region, and then all of the
//! drawing has to be one band.

use resvg::usvg::filter::{Filter, Kind};
use resvg::usvg::{ClipPath, Group, Mask, Node, Paint, Path, Tree};

use crate::contract::picture::Pixels;
use crate::contract::{Fault, num};
use crate::faults;

/// Bytes of a pixel.
const PIXEL: f64 = 4.0;
/// How much larger than the band a group drawn aside may be, across and down.
const ASIDE: f64 = 5.0;
/// How far beyond the band, in bands, it is drawn.
const BEYOND: f64 = 2.0;
/// Pictures that an effect holds at once, beside one for each of its steps: its source, and what it works in.
const HELD: f64 = 3.0;
/// A blur looks about so many deviations far.
const BLUR: f64 = 3.0;
/// How far an effect may reach, in pixels: further than any artwork, and as far as the renderer can count.
const FARTHEST: f64 = 30_000.0;
/// Bands lower than this are not worth their cost.
const LOWEST: u32 = 16;

/// What a drawing needs aside, in its own pixels.
#[derive(Debug, Clone, Default)]
pub(super) struct Reach {
    /// Groups drawn aside at the same time: their widths and heights, each as often as its pixels are held.
    aside: Vec<Aside>,
    /// How far effects look up or down, those within one another together.
    far: f64,
    /// How far those around the group at hand do.
    around: f64,
    /// Whether an effect looks at all of its region.
    everywhere: bool,
}

/// Something drawn aside.
#[derive(Debug, Clone, Copy)]
struct Aside {
    width: f64,
    height: f64,
    held: f64,
    /// Tiles are drawn whole.
    whole: bool,
}

impl Aside {
    fn bytes(self, band: Pixels, [across, down]: [f64; 2]) -> f64 {
        let (width, height) = ((self.width * across).ceil() + 4.0, (self.height * down).ceil() + 4.0);
        let (most_wide, most_high) = (f64::from(band.width) * ASIDE, f64::from(band.height) * ASIDE);
        let (width, height) =
            if self.whole { (width, height) } else { (width.min(most_wide), height.min(most_high)) };
        width * height * PIXEL * self.held
    }
}

impl Reach {
    pub(super) fn of(tree: &Tree) -> Self {
        let mut reach = Self::default();
        reach.aside = reach.group(tree.root());
        reach
    }

    /// How many rows of a picture of this size may be drawn at a time in so much memory.
    pub(super) fn rows(&self, size: Pixels, scale: [f64; 2], memory: u64) -> Result<u32, Fault> {
        let far = self.far * scale[1];
        if far.is_nan() || far > FARTHEST {
            return Err(too_far());
        }
        let least = if self.everywhere { size.height } else { num::pixels(far / BEYOND).max(LOWEST) };
        let mut rows = size.height;
        loop {
            let needed = self.bytes(Pixels::new(size.width, rows), scale);
            if needed <= num::float(i64::try_from(memory).unwrap_or(i64::MAX)) {
                return Ok(rows);
            }
            if rows <= least {
                let needed = u64::try_from(num::round(needed)).unwrap_or(u64::MAX);
                return Err(too_much(needed, memory));
            }
            rows = (rows / 2).max(least);
        }
    }

    fn bytes(&self, band: Pixels, scale: [f64; 2]) -> f64 {
        let own = f64::from(band.width) * f64::from(band.height) * PIXEL;
        self.aside.iter().map(|aside| aside.bytes(band, scale)).sum::<f64>() + own
    }

    /// What is drawn aside at the same time for a group: itself, and the most of its parts.
    fn group(&mut self, group: &Group) -> Vec<Aside> {
        let (around, mut held, mut effects) = (self.around, 1.0, Vec::new());
        for filter in group.filters() {
            held += HELD + f64::from(num::count(filter.primitives().len()));
            effects = larger(effects, self.effect(filter, group));
        }
        self.far = self.far.max(self.around);
        let mut most = Vec::new();
        for part in group.children() {
            let aside = match part {
                Node::Group(group) => self.group(group),
                Node::Path(path) => self.path(path),
                Node::Text(text) => self.group(text.flattened()),
                Node::Image(_) => Vec::new(),
            };
            most = larger(most, aside);
        }
        self.around = around;
        if !group.should_isolate() {
            return most;
        }
        let of = group.abs_layer_bounding_box();
        let mut aside = larger(most, effects);
        if let Some(clip) = group.clip_path() {
            held += self.clip(clip);
        }
        if let Some(mask) = group.mask() {
            let (masks, parts) = self.mask(mask);
            held += masks;
            aside = larger(aside, parts);
        }
        aside.push(Aside { width: of.width().into(), height: of.height().into(), held, whole: false });
        aside
    }

    fn path(&mut self, path: &Path) -> Vec<Aside> {
        let paints = [path.fill().map(|fill| fill.paint()), path.stroke().map(|stroke| stroke.paint())];
        let mut most = Vec::new();
        for paint in paints.into_iter().flatten() {
            let Paint::Pattern(pattern) = paint else { continue };
            let to = path.abs_transform().pre_concat(pattern.transform());
            let (across, down) = to.get_scale();
            let mut aside = self.group(pattern.root());
            aside.push(Aside {
                width: f64::from(pattern.rect().width()) * f64::from(across),
                height: f64::from(pattern.rect().height()) * f64::from(down),
                held: 1.0,
                whole: true,
            });
            most = larger(most, aside);
        }
        most
    }

    /// How many more pictures of its group's size a clip holds.
    fn clip(&mut self, clip: &ClipPath) -> f64 {
        let parts = self.group(clip.root());
        1.0 + f64::from(num::count(parts.len())) + clip.clip_path().map_or(0.0, |clip| self.clip(clip))
    }

    fn mask(&mut self, mask: &Mask) -> (f64, Vec<Aside>) {
        let (more, parts) = mask.mask().map_or((0.0, Vec::new()), |mask| self.mask(mask));
        (2.0 + more, larger(parts, self.group(mask.root())))
    }

    fn effect(&mut self, filter: &Filter, group: &Group) -> Vec<Aside> {
        let mut aside = Vec::new();
        let (_, scale) = group.abs_transform().get_scale();
        for step in filter.primitives() {
            let far = match step.kind() {
                Kind::GaussianBlur(blur) => BLUR * f64::from(blur.std_dev_y().get()),
                Kind::DropShadow(shadow) => {
                    BLUR * f64::from(shadow.std_dev_y().get()) + f64::from(shadow.dy().abs())
                }
                Kind::Offset(offset) => f64::from(offset.dy().abs()),
                Kind::Morphology(morphology) => f64::from(morphology.radius_y().get()),
                Kind::DisplacementMap(map) => f64::from(map.scale().abs()),
                Kind::ConvolveMatrix(matrix) => f64::from(matrix.matrix().rows()),
                Kind::DiffuseLighting(_) | Kind::SpecularLighting(_) => 2.0,
                Kind::Image(image) => {
                    self.everywhere = true;
                    aside = larger(aside, self.group(image.root()));
                    0.0
                }
                Kind::Tile(_) | Kind::Turbulence(_) => {
                    self.everywhere = true;
                    0.0
                }
                Kind::Blend(_)
                | Kind::ColorMatrix(_)
                | Kind::ComponentTransfer(_)
                | Kind::Composite(_)
                | Kind::Flood(_)
                | Kind::Merge(_) => 0.0,
            };
            // Steps look at what steps before them looked at.
            self.around += far * f64::from(scale);
        }
        aside
    }
}

/// Which of two takes more, whatever the band.
fn larger(one: Vec<Aside>, other: Vec<Aside>) -> Vec<Aside> {
    let size =
        |aside: &[Aside]| aside.iter().map(|aside| aside.width * aside.height * aside.held).sum::<f64>();
    if size(&other) > size(&one) { other } else { one }
}

fn too_far() -> Fault {
    Fault::artwork(
        "An effect of the drawing, such as a blur, reaches further than any artwork.",
        "Take it out in the program it comes from, or turn it into a picture.",
    )
}

fn too_much(needed: u64, memory: u64) -> Fault {
    Fault::artwork(
        format!(
            "The drawing's effects, masks or patterns take {} MB of memory at once at this size, and may take {} MB.",
            faults::megabytes(needed),
            faults::megabytes(memory)
        ),
        "Set a lower `ppi` for `resize`, turn the effects into pictures in the program it comes from, or raise `memory`.",
    )
}
