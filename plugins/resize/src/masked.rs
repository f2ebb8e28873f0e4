//! A picture that is bare outside the blank's outline: a pixel counts as inside where its middle is.
//!
//! Outlines are convex, so each row of pixels is one span and the rest of it is made bare; what lies wholly outside is
//! never computed.

use std::ops::Range;
use std::sync::Arc;

use seamwright_contract::layout::Design;
use seamwright_contract::picture::{Band, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::survey::{Survey, Wish};
use seamwright_contract::{Face, Fault, Length, Outline, Rect, num};

/// A design's picture, bare outside the outline; the picture itself where nothing of the design lies outside.
pub(crate) fn to_outline(source: Arc<dyn Picture>, design: &Design) -> Arc<dyn Picture> {
    if design.outline.contains(&Rect::of_size(design.size)) {
        return source;
    }
    Arc::new(Masked { source, outline: design.outline, pitch: design.sheet_ppi.pitch_um() })
}

#[derive(Debug)]
struct Masked {
    source: Arc<dyn Picture>,
    outline: Outline<Face>,
    /// Micrometres a pixel.
    pitch: f64,
}

impl Masked {
    /// Which pixels of each row of a window are inside, counted from the window's left; micrometres a pixel across and
    /// down.
    fn spans(&self, window: Window, [across, down]: [f64; 2]) -> Vec<Range<usize>> {
        let (left, right) = (self.outline.bounds.x, self.outline.bounds.right());
        let column = |place: f64| {
            let first_beyond = num::pixels((place / across - 0.5).ceil());
            num::index(first_beyond.saturating_sub(window.x).min(window.width))
        };
        let span = |row: u32| -> Option<Range<usize>> {
            let inset = self.outline.inset((f64::from(window.y + row) + 0.5) * down)?;
            Some(column(num::float(left.um()) + inset)..column(num::float(right.um()) - inset))
        };
        (0..window.height).map(|row| span(row).unwrap_or_default()).collect()
    }
}

impl Picture for Masked {
    fn size(&self) -> Pixels {
        self.source.size()
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size())?;
        let spans = self.spans(want, [self.pitch; 2]);
        if spans.iter().all(Range::is_empty) {
            out.reset(want.size(), self.format());
            return Ok(());
        }
        self.source.fill(want, out)?;
        keep(&spans, out);
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let (mut band, own) = (self.source.reduced(size)?, self.size());
        let size = band.size();
        let pitch = |own: u32, small: u32| self.pitch * f64::from(own) / f64::from(small);
        let pitches = [pitch(own.width, size.width), pitch(own.height, size.height)];
        keep(&self.spans(Window::whole(size), pitches), &mut band);
        Ok(band)
    }

    /// Cells wholly outside are bare; how far the others reach is the outline's to say.
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        let mut survey = self.source.survey(wish)?;
        let first = |at: f64| Length::from_um(num::round((at * self.pitch).floor()));
        let last = |at: f64| Length::from_um(num::round((at * self.pitch).ceil()));
        let mut outside = Vec::new();
        for rows in survey.down.windows(2) {
            let inside = self.outline.reach(first(rows[0]), last(rows[1]));
            outside.extend(survey.across.windows(2).map(|columns| {
                inside.is_none_or(|(left, right)| last(columns[1]) <= left || right <= first(columns[0]))
            }));
        }
        outside.iter().enumerate().filter(|(_, outside)| **outside).for_each(|(at, _)| survey.clear(at));
        Ok(survey)
    }

    fn recipe(&self, of: Window) -> Option<String> {
        let within = self.source.recipe(of)?;
        Some(format!("within {:?} at {}, {within}", self.outline, self.pitch))
    }
}

/// Makes all pixels of a band bare but one span in each row.
fn keep(spans: &[Range<usize>], band: &mut Band) {
    fn rows<T: Copy>(samples: &mut [T], stride: usize, each: usize, spans: &[Range<usize>], bare: T) {
        for (row, span) in samples.chunks_exact_mut(stride.max(1)).zip(spans) {
            let (first, last) = (span.start * each, span.end.max(span.start) * each);
            row.iter_mut().take(first).for_each(|sample| *sample = bare);
            row.iter_mut().skip(last).for_each(|sample| *sample = bare);
        }
    }
    let (stride, channels) = (band.stride(), band.format().channels);
    let (each, bare) = (channels.count(), channels.bare());
    match &mut band.samples {
        Samples::Eight(samples) => rows(samples, stride, each, spans, bare),
        Samples::Sixteen(samples) => rows(samples, stride, each, spans, num::widen(bare)),
    }
}
