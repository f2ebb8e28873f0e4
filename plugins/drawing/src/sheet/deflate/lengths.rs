//! The best prefix code whose words are no longer than a limit.

/// How long each symbol's word is; none where it never occurs.
///
/// Package-merge: L. Larmore, D. Hirschberg, "A fast algorithm for optimal length-limited Huffman codes", Journal of the
/// ACM 37 (1990). With one symbol its word has one bit. There are at most two to the power of `longest` symbols.
pub(super) fn lengths<const N: usize>(counts: &[u32; N], longest: u8) -> [u8; N] {
    let mut lengths = [0; N];
    let mut leaves: Vec<(u64, usize)> = counts
        .iter()
        .enumerate()
        .filter(|(_, count)| **count > 0)
        .map(|(at, count)| (u64::from(*count), at))
        .collect();
    leaves.sort_unstable();
    if let [(_, only)] = leaves.as_slice() {
        if let Some(length) = lengths.get_mut(*only) {
            *length = 1;
        }
        return lengths;
    }
    // Row by row: the leaves and the pairs of the row before, lightest first; of each only whether it is a leaf.
    let mut rows: Vec<Vec<bool>> = Vec::new();
    let mut pairs: Vec<u64> = Vec::new();
    for _ in 0..longest {
        let row = merged(&leaves, &pairs);
        pairs = row.chunks_exact(2).map(|pair| pair.iter().map(|(weight, _)| weight).sum()).collect();
        rows.push(row.into_iter().map(|(_, leaf)| leaf).collect());
    }
    // What is taken of a row decides how many pairs, and so how much, is taken of the row before.
    let mut take = leaves.len().saturating_sub(1) * 2;
    for row in rows.iter().rev() {
        let taken = row.iter().take(take).filter(|leaf| **leaf).count();
        for (_, symbol) in leaves.iter().take(taken) {
            if let Some(length) = lengths.get_mut(*symbol) {
                *length += 1;
            }
        }
        take = (take.min(row.len()) - taken) * 2;
    }
    lengths
}

/// Leaves and pairs by weight, a leaf before a pair of the same.
fn merged(leaves: &[(u64, usize)], pairs: &[u64]) -> Vec<(u64, bool)> {
    let mut row = Vec::with_capacity(leaves.len() + pairs.len());
    let mut pairs = pairs.iter().copied().peekable();
    for (leaf, _) in leaves {
        while let Some(pair) = pairs.next_if(|pair| pair < leaf) {
            row.push((pair, false));
        }
        row.push((*leaf, true));
    }
    row.extend(pairs.map(|pair| (pair, false)));
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The bits that a code spends on symbols so common.
    fn bits<const N: usize>(counts: &[u32; N], lengths: &[u8; N]) -> u64 {
        counts.iter().zip(lengths).map(|(count, length)| u64::from(*count) * u64::from(*length)).sum()
    }

    /// The fewest bits of any full code with words so long at most, by trying every way to split.
    fn fewest(sorted: &[u32], longest: u32) -> u64 {
        // Heaviest first: lengths do not fall, so a state is how many words are left to place and how many are open.
        fn best(sorted: &[u32], open: usize, deeper: u32) -> Option<u64> {
            if sorted.is_empty() {
                return (open == 0).then_some(0);
            }
            if open == 0 || open > sorted.len() {
                return None;
            }
            (0..=open.min(sorted.len()))
                .filter_map(|placed| {
                    let rest = &sorted[placed..];
                    let below: u64 = rest.iter().map(|count| u64::from(*count)).sum();
                    if rest.is_empty() {
                        return (placed == open).then_some(0);
                    }
                    let deeper = deeper.checked_sub(1)?;
                    Some(below + best(rest, (open - placed) * 2, deeper)?)
                })
                .min()
        }
        let all: u64 = sorted.iter().map(|count| u64::from(*count)).sum();
        all + best(sorted, 2, longest - 1).expect("there is a code")
    }

    #[test]
    fn no_code_is_shorter() {
        let mut seed = 1_u32;
        let mut dice = |most: u32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 16) % most + 1
        };
        for case in 0..2_000 {
            let mut counts = [0_u32; 9];
            let kinds = usize::try_from(dice(8)).expect("small") + 1;
            let most = [3, 20, 3_000][case % 3];
            counts.iter_mut().take(kinds).for_each(|count| *count = dice(most));
            let longest = u8::try_from(4 + dice(3)).expect("small");
            let lengths = lengths(&counts, longest);
            let full: f64 = lengths
                .iter()
                .filter(|length| **length > 0)
                .map(|length| 0.5_f64.powi(i32::from(*length)))
                .sum();
            assert!((full - 1.0).abs() < 1e-12, "{counts:?} has no full code: {lengths:?}");
            assert!(lengths.iter().all(|length| *length <= longest), "{lengths:?} beyond {longest}");
            let mut sorted: Vec<u32> = counts.iter().copied().filter(|count| *count > 0).collect();
            sorted.sort_unstable_by(|a, b| b.cmp(a));
            assert_eq!(bits(&counts, &lengths), fewest(&sorted, longest.into()), "{counts:?}: {lengths:?}");
        }
    }

    #[test]
    fn one_symbol_has_one_bit_and_none_has_none() {
        assert_eq!(lengths(&[0, 5, 0], 7), [0, 1, 0]);
        assert_eq!(lengths(&[0, 0, 0], 7), [0, 0, 0]);
    }
}
