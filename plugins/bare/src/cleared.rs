//! A picture whose nearly bare pixels are bare.

use std::sync::Arc;

use seamwright_contract::picture::{Band, Channels, Format, Picture, Pixels, Place, Samples, Window};
use seamwright_contract::survey::{Survey, Wish};
use seamwright_contract::{Fault, num};

/// A picture in which every pixel is bare that differs by less than `faintest` of 255 from it in all its samples.
#[derive(Debug)]
pub(crate) struct Cleared {
    pub(crate) source: Arc<dyn Picture>,
    pub(crate) faintest: u8,
}

impl Cleared {
    fn clear(&self, band: &mut Band) {
        match band.format().channels {
            Channels::Gray => self.clear_pixels::<1>(band),
            Channels::Rgb => self.clear_pixels::<3>(band),
            Channels::Cmyk => self.clear_pixels::<4>(band),
        }
    }

    /// The same, `EACH` samples a pixel, known when compiling, so that a pixel is looked at and filled without a call.
    fn clear_pixels<const EACH: usize>(&self, band: &mut Band) {
        fn clear<T: Copy, const EACH: usize>(samples: &mut [T], faint: impl Fn(T) -> bool, bare: T) {
            for pixel in samples.as_chunks_mut::<EACH>().0 {
                if pixel.iter().all(|sample| faint(*sample)) {
                    *pixel = [bare; EACH];
                }
            }
        }
        let bare = band.format().channels.bare();
        let faint = |sample: u8| sample ^ bare < self.faintest;
        match &mut band.samples {
            Samples::Eight(samples) => clear::<_, EACH>(samples, faint, bare),
            Samples::Sixteen(samples) => {
                clear::<_, EACH>(samples, |sample| faint(num::narrow(sample)), num::widen(bare));
            }
        }
    }
}

impl Picture for Cleared {
    fn size(&self) -> Pixels {
        self.source.size()
    }

    fn format(&self) -> Format {
        self.source.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        self.source.fill(want, out)?;
        self.clear(out);
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        let mut band = self.source.reduced(size)?;
        self.clear(&mut band);
        Ok(band)
    }

    /// What stays is faint only where it is fainter than the wish's ink.
    fn survey(&self, wish: &Wish) -> Result<Survey, Fault> {
        let of = |faintest: u8| self.source.survey(&Wish { faintest, ..*wish });
        let mut survey = of(wish.faintest.max(self.faintest))?;
        let printed = if self.faintest < wish.faintest { Some(of(self.faintest)?) } else { None };
        for at in 0..survey.cells.len() {
            let Some(cell) = survey.cells.get_mut(at) else { continue };
            let printed =
                printed.as_ref().and_then(|survey| survey.cells.get(at)).map_or(cell.ink, |cell| cell.ink);
            cell.faint = printed.saturating_sub(cell.ink);
            if printed == 0 {
                survey.clear(at);
            }
        }
        Ok(survey)
    }

    fn drawn(&self, place: &Place) -> Result<Option<Arc<dyn Picture>>, Fault> {
        let drawn = self.source.drawn(place)?;
        Ok(drawn.map(|source| -> Arc<dyn Picture> { Arc::new(Self { source, faintest: self.faintest }) }))
    }

    fn recipe(&self, of: Window) -> Option<String> {
        Some(format!("fainter than {} made bare in {}", self.faintest, self.source.recipe(of)?))
    }
}
