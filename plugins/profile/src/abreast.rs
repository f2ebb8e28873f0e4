//! RGB pixels converted side by side: some at a time, in passes of a few steps each, which is what lets the compiler do
//! several at once on plain processors.

/// Pixels worked at a time.
pub(crate) const ABREAST: usize = 16;

/// Converts whole pixels; both slices hold the same number of them. `work` is given as many as are worked at a time, of
/// which the last ones may be filled up.
pub(crate) fn convert<T: Copy + Default + PartialEq, const GIVEN: usize>(
    from: &[[T; 3]],
    to: &mut [[u8; GIVEN]],
    work: impl Fn(&[[T; 3]; ABREAST]) -> [[u8; GIVEN]; ABREAST],
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
        to.iter_mut().zip(work(&pixels)).for_each(|(to, value)| *to = value);
        last = from.last().copied().zip(to.last().copied());
    }
}
