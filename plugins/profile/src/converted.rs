//! A picture in other colours, converted where it is asked for.
//!
//! What goes through the engine itself goes in pieces, so that a thread needs little memory beside the source's window, and
//! equal pixels in a row are converted once.

use std::cell::RefCell;
use std::sync::Arc;

use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::survey::{Survey, SurveyCell, Wish};
use seamwright_contract::{Fault, num};

use crate::engine::Engine;

/// Pixels converted at once.
const PIECE: usize = 1 << 14;

/// A picture in other colours, 8 bits a sample.
#[derive(Debug)]
pub(crate) struct Converted {
    source: Arc<dyn Picture>,
    /// `None` where only the depth is reduced.
    engine: Option<Arc<Engine>>,
    channels: Channels,
}

impl Converted {
    /// Through an engine, whose source must have the picture's channels, to an engine target of these channels.
    pub(crate) fn new(source: Arc<dyn Picture>, engine: Arc<Engine>, channels: Channels) -> Self {
        Self { source, engine: Some(engine), channels }
    }

    /// The same colours, reduced to 8 bits.
    pub(crate) fn narrowed(source: Arc<dyn Picture>) -> Self {
        let channels = source.format().channels;
        Self { source, engine: None, channels }
    }

    fn convert(&self, from: &Band, pieces: &mut Pieces, out: &mut Band) -> Result<(), Fault> {
        out.reshape(from.size(), self.format());
        let Samples::Eight(to) = &mut out.samples else {
            return Err(Fault::defect("an 8-bit band holds 16-bit samples"));
        };
        match (&self.engine, &from.samples) {
            (Some(engine), _)
                if engine.samples != [from.format().channels.count(), self.channels.count()] =>
            {
                return Err(Fault::defect(format!(
                    "a {:?} band came to a conversion of others",
                    from.format()
                )));
            }
            (Some(engine), from) if engine.convert_rgb(from, to) => {}
            (Some(engine), Samples::Eight(from)) => pieces.convert(engine, from, num::widen, to),
            (Some(engine), Samples::Sixteen(from)) => pieces.convert(engine, from, |sample| sample, to),
            (None, Samples::Eight(from)) => copy(from, |sample| sample, to),
            (None, Samples::Sixteen(from)) => copy(from, num::narrow, to),
        }
        Ok(())
    }

    /// A band of the source in the new colours.
    pub(crate) fn converted(&self, from: &Band) -> Result<Band, Fault> {
        let mut out = Band::empty();
        self.convert(from, &mut Pieces::default(), &mut out)?;
        Ok(out)
    }
}

impl Picture for Converted {
    fn size(&self) -> Pixels {
        self.source.size()
    }

    fn format(&self) -> Format {
        Format { channels: self.channels, depth: Depth::Eight }
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        want.lies_in(self.size())?;
        // Taken, not borrowed: the source may itself be a conversion on this thread.
        let mut work = WORK.take();
        let done = self
            .source
            .fill(want, &mut work.source)
            .and_then(|()| self.convert(&work.source, &mut work.pieces, out));
        WORK.set(work);
        done
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        self.converted(&self.source.reduced(size)?)
    }

    /// Ink is where the artwork has it, its means in the new colours; where white does not stay bare, ink is everywhere.
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        let mut survey = self.source.survey(wish)?;
        survey.means = self.converted(&survey.means)?;
        let white = self.converted(&Band::bare(Pixels::new(1, 1), self.source.format()))?;
        if white != Band::bare(white.size(), white.format()) {
            cover(&mut survey);
        }
        Ok(survey)
    }

    fn recipe(&self, of: Window) -> Option<String> {
        let from = self.source.recipe(of)?;
        Some(match &self.engine {
            Some(engine) => format!("by conversion {} from {from}", engine.number),
            None => format!("in 8 bits from {from}"),
        })
    }
}

/// Fills every cell with ink.
fn cover(survey: &mut Survey) {
    let places = survey.across.windows(2).map(|ends| (num::single(ends[0]), num::single(ends[1]))).cycle();
    for (cell, (left, right)) in survey.cells.iter_mut().zip(places) {
        *cell = SurveyCell { ink: 255, faint: 0, left, right };
    }
    survey.inked = survey.down.windows(2).map(|ends| [ends[0], ends[1]]).collect();
}

thread_local! {
    /// Each thread's buffers, kept from window to window.
    static WORK: RefCell<Work> = RefCell::new(Work::default());
}

struct Work {
    source: Band,
    pieces: Pieces,
}

impl Default for Work {
    fn default() -> Self {
        Self { source: Band::empty(), pieces: Pieces::default() }
    }
}

/// Different pixels in a row of pixels, and how often each is repeated.
#[derive(Default)]
struct Pieces {
    runs: Vec<usize>,
    before: Vec<u16>,
    after: Vec<u16>,
}

impl Pieces {
    fn convert<T: Copy + PartialEq>(
        &mut self,
        engine: &Engine,
        from: &[T],
        widen: impl Fn(T) -> u16,
        to: &mut [u8],
    ) {
        let [taken, given] = engine.samples;
        for (from, to) in from.chunks(PIECE * taken).zip(to.chunks_mut(PIECE * given)) {
            match taken {
                1 => self.collect::<T, 1>(from, &widen),
                _ => self.collect::<T, 4>(from, &widen),
            }
            self.after.clear();
            self.after.resize(self.runs.len() * given, 0);
            engine.convert(&self.before, &mut self.after);
            self.spread(given, to);
        }
    }

    /// Notes the pixels that differ from the one before them; `EACH` samples a pixel, known when compiling,
    /// so that comparing two pixels needs no call.
    fn collect<T: Copy + PartialEq, const EACH: usize>(&mut self, from: &[T], widen: impl Fn(T) -> u16) {
        self.runs.clear();
        self.before.clear();
        let mut last: Option<&[T; EACH]> = None;
        for pixel in from.as_chunks::<EACH>().0 {
            match self.runs.last_mut() {
                Some(run) if last == Some(pixel) => *run += 1,
                _ => {
                    self.runs.push(1);
                    self.before.extend(pixel.iter().map(|sample| widen(*sample)));
                    last = Some(pixel);
                }
            }
        }
    }

    fn spread(&self, each: usize, to: &mut [u8]) {
        let mut places = to.chunks_exact_mut(each);
        for (run, pixel) in self.runs.iter().zip(self.after.chunks_exact(each)) {
            for place in places.by_ref().take(*run) {
                for (sample, value) in place.iter_mut().zip(pixel) {
                    *sample = num::narrow(*value);
                }
            }
        }
    }
}

fn copy<T: Copy>(from: &[T], narrow: impl Fn(T) -> u8, to: &mut [u8]) {
    for (from, to) in from.iter().zip(to) {
        *to = narrow(*from);
    }
}
