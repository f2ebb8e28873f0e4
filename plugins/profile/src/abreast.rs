//! RGB pixels converted side by side: some at a time, in passes of a few steps each, which is what lets the compiler do
//! several at once, on the widest vectors that the processor has. The results are the same on all of them.

use fearless_simd::{Level, Simd, dispatch};

/// Pixels worked at a time.
pub(crate) const ABREAST: usize = 128;

/// A conversion of pixels of such samples.
pub(crate) trait Conversion<T, const GIVEN: usize> {
    /// Converts some pixels. It and all that it calls must be made part of the caller (`inline(always)`), or the compiler does
    /// not know for which processor they are.
    fn converted<S: Simd>(&self, simd: S, pixels: &[[T; 3]; ABREAST]) -> [[u8; GIVEN]; ABREAST];
}

/// Converts whole pixels; both slices hold the same number of them.
pub(crate) fn convert<T: Copy + Default + PartialEq, const GIVEN: usize>(
    conversion: &impl Conversion<T, GIVEN>,
    from: &[[T; 3]],
    to: &mut [[u8; GIVEN]],
) {
    dispatch!(Level::new(), simd => in_turn(simd, conversion, from, to));
}

#[inline(always)]
fn in_turn<S: Simd, T: Copy + Default + PartialEq, const GIVEN: usize>(
    simd: S,
    conversion: &impl Conversion<T, GIVEN>,
    from: &[[T; 3]],
    to: &mut [[u8; GIVEN]],
) {
    let mut last: Option<([T; 3], [u8; GIVEN])> = None;
    for (from, to) in from.chunks(ABREAST).zip(to.chunks_mut(ABREAST)) {
        // Printed designs have large even areas, and bare ones above all.
        if let Some((_, value)) = last.filter(|(before, _)| from.iter().all(|pixel| pixel == before)) {
            to.fill(value);
            continue;
        }
        let mut pixels = [[T::default(); 3]; ABREAST];
        pixels.iter_mut().zip(from).for_each(|(to, pixel)| *to = *pixel);
        let values = conversion.converted(simd, &pixels);
        to.iter_mut().zip(values).for_each(|(to, value)| *to = value);
        last = from.last().copied().zip(to.last().copied());
    }
}
