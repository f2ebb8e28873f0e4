//! What one job after another of the same artwork shares, and what not.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use seamwright_contract::Fault;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Samples, Window};
use seamwright_contract::plugin::{Means, Writer};
use seamwright_contract::sample::Tray;

use super::fixture::{Formula, MEANS, Plan, format, write};

/// The formula with a black box on it, that counts how often it is asked for pixels.
#[derive(Debug)]
struct Marked {
    formula: Formula,
    /// Black, where there is anything.
    mark: Option<Window>,
    asked: Arc<AtomicUsize>,
    /// Whether it says what its pixels are made of.
    says: bool,
}

impl Picture for Marked {
    fn size(&self) -> Pixels {
        self.formula.size()
    }

    fn format(&self) -> Format {
        self.formula.format()
    }

    fn fill(&self, want: Window, out: &mut Band) -> Result<(), Fault> {
        self.asked.fetch_add(1, Ordering::Relaxed);
        self.formula.fill(want, out)?;
        let (stride, Samples::Eight(samples)) = (out.stride(), &mut out.samples) else {
            return Err(Fault::defect("8 bits"));
        };
        if let Some(black) = self.mark.and_then(|mark| mark.shared(want)) {
            for row in
                samples.chunks_mut(stride).skip((black.y - want.y) as usize).take(black.height as usize)
            {
                let left = (black.x - want.x) as usize * 3;
                row[left..left + black.width as usize * 3].fill(0);
            }
        }
        Ok(())
    }

    fn reduced(&self, size: Pixels) -> Result<Band, Fault> {
        self.formula.reduced(size)
    }

    fn recipe(&self, of: Window) -> Option<String> {
        let plain = self.mark.is_none_or(|mark| mark.shared(of).is_none());
        (self.says && plain).then(|| format!("{of:?} of the formula"))
    }
}

/// The file of one more job by a writer, as by a writer of its own, and how often pixels were asked for.
fn next(writer: &dyn Writer, mark: Option<Window>, says: bool, keep: u64) -> usize {
    let rgb = format(Channels::Rgb, Depth::Eight);
    let mut layout = Plan { columns: 2, rows: 2, format: rgb, ..Plan::default() }.layout();
    let formula = || Formula { size: layout.picture.size(), format: rgb, broken_from: u32::MAX };
    let asked = Arc::new(AtomicUsize::new(0));
    let alone = Arc::new(Marked { formula: formula(), mark, asked: Arc::default(), says });
    let marked = Arc::new(Marked { formula: formula(), mark, asked: Arc::clone(&asked), says });
    layout.picture = alone;
    let expected = write(&layout, &MEANS, usize::MAX).unwrap();
    layout.picture = marked;
    let mut tray = Tray::new("sheets.pdf");
    writer.write(&layout, &Means { keep, ..MEANS }, &mut tray).unwrap();
    assert!(tray.take() == expected, "the same bytes whatever was kept");
    asked.load(Ordering::Relaxed)
}

const ENOUGH: u64 = 1 << 30;

#[test]
fn what_looks_the_same_is_made_once() {
    let writer = crate::writer();
    let name = |x: u32| Some(Window::new(x, 20, 30, 10));
    let all = next(writer.as_ref(), None, true, ENOUGH);
    assert!(all >= 4, "every page has a piece");
    assert_eq!(next(writer.as_ref(), None, true, ENOUGH), 0, "nothing is new");
    let new = next(writer.as_ref(), name(40), true, ENOUGH);
    assert!(new > 0 && new < all, "only what the mark lies on: {new} of {all}");
    assert_eq!(next(writer.as_ref(), name(41), true, ENOUGH), new, "marks are never taken for one another");
    assert_eq!(next(writer.as_ref(), None, true, ENOUGH), new, "what the last job had no use for went");
    assert_eq!(next(writer.as_ref(), None, true, 0), 0, "the last job has no need to keep anything");
    assert_eq!(next(writer.as_ref(), None, true, 0), 0, "but what it used stays until the next");
}

#[test]
fn nothing_is_kept_beyond_the_memory_for_it_or_without_a_recipe() {
    let writer = crate::writer();
    let all = next(writer.as_ref(), None, true, 0);
    assert_eq!(next(writer.as_ref(), None, true, 0), all, "no job of the kind was to follow");
    assert_eq!(next(writer.as_ref(), None, false, ENOUGH), all);
    assert_eq!(next(writer.as_ref(), None, false, ENOUGH), all, "nobody knows whether they are the same");
}
