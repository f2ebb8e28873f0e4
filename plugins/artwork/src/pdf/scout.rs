//! A page gone through without drawing.

use hayro::hayro_interpret::font::GlyphRun;
use hayro::hayro_interpret::hayro_syntax::object::Name;
use hayro::hayro_interpret::hayro_syntax::page::Page;
use hayro::hayro_interpret::util::TransformExt as _;
use hayro::hayro_interpret::{
    BlendMode, ClipPath, Context, Device, DrawMode, DrawProps, Image, ImageDrawProps, InterpreterCache,
    InterpreterSettings, Paint, SoftMask, interpret_page,
};
use hayro::kurbo::{BezPath, Rect};

use crate::contract::Ppi;

/// What a page has.
#[derive(Debug, Default)]
pub(super) struct Seen {
    /// Anything at all.
    pub(super) shows: bool,
    /// Colours of four inks.
    pub(super) ink: bool,
    /// The fewest pixels an inch of a picture, at the page's own size.
    pub(super) coarsest: Option<Ppi>,
}

/// Goes through a page.
pub(super) fn over<'a>(page: &'a Page<'a>, settings: &InterpreterSettings) -> Seen {
    let cache = InterpreterCache::new();
    let to = page.initial_transform(true).to_kurbo();
    let (width, height) = page.render_dimensions();
    let shown = Rect::new(0.0, 0.0, width.into(), height.into());
    let mut context = Context::new(to, shown, &cache, page.xref(), settings.clone());
    let mut seen = Seen::default();
    interpret_page(page, &mut context, &mut seen);
    seen
}

impl Seen {
    fn paint(&mut self, paint: &Paint<'_>) {
        self.shows = true;
        if let Paint::Color(colour) = paint {
            self.ink |= colour.color_space().num_components() == 4;
        }
    }
}

impl<'a> Device<'a> for Seen {
    fn draw_path(&mut self, _: &BezPath, props: DrawProps<'a>, _: &DrawMode) {
        self.paint(&props.paint);
    }

    fn push_clip_path(&mut self, _: &ClipPath) {}

    fn push_transparency_group(&mut self, _: f32, _: Option<SoftMask<'a>>, _: BlendMode) {}

    fn draw_glyph_run(&mut self, run: &GlyphRun<'_, 'a>, props: DrawProps<'a>, _: &DrawMode) {
        if !run.glyphs().is_empty() {
            self.paint(&props.paint);
        }
    }

    fn draw_image(&mut self, image: Image<'a, '_>, props: ImageDrawProps<'a>) {
        self.shows = true;
        let Image::Raster(raster) = &image else { return };
        let space = raster.stream().dict().get::<Name<'_>>("ColorSpace");
        self.ink |= space.is_some_and(|space| space.as_str() == "DeviceCMYK");
        // A pixel of the picture, in points.
        let [a, b, c, d, ..] = props.transform.as_coeffs();
        let longer = a.hypot(b).max(c.hypot(d));
        if let Some(ppi) = Ppi::new(72.0 / longer)
            && self.coarsest.is_none_or(|coarsest| ppi < coarsest)
        {
            self.coarsest = Some(ppi);
        }
    }

    fn pop_clip(&mut self) {}

    fn pop_transparency_group(&mut self) {}
}
