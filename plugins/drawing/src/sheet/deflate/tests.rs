//! Every stream read back by a library, and how small it is against what its bytes allow.

use proptest::prelude::*;
use zlib_rs::{InflateConfig, ReturnCode, decompress_slice};

use super::*;

fn written(parts: &[(Vec<u8>, Way)]) -> Vec<u8> {
    let (mut deflater, mut sum, mut out) = (Deflater::default(), Sum::new(), HEADER.to_vec());
    for (bytes, way) in parts {
        let part = deflater.deflate(bytes, *way).expect("it can be deflated");
        out.extend(&part.bytes);
        sum.add(&part);
    }
    out.extend(sum.end());
    out
}

/// What a library makes of a stream that holds so many bytes.
fn read(stream: &[u8], length: usize) -> Vec<u8> {
    let mut out = vec![0xa5; length + 1];
    let (out, code) = decompress_slice(&mut out, stream, InflateConfig::default());
    assert_eq!(code, ReturnCode::Ok, "the stream cannot be read");
    out.to_vec()
}

/// Runs of one byte, mostly of zeros, and noise between them.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    let run = (
        prop_oneof![3 => Just(0), 1 => any::<u8>()],
        prop_oneof![0..40_usize, 240..300_usize, 1_000..70_000_usize],
    )
        .prop_map(|(byte, length)| vec![byte; length]);
    let noise = prop::collection::vec(any::<u8>(), 0..60);
    prop::collection::vec(prop_oneof![run, noise], 0..12).prop_map(|parts| parts.concat())
}

fn way() -> impl Strategy<Value = Way> {
    prop_oneof![Just(Way::Counted), Just(Way::Repeated)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn what_went_in_comes_out(parts in prop::collection::vec((bytes(), way()), 0..5)) {
        let whole: Vec<u8> = parts.iter().flat_map(|(bytes, _)| bytes.clone()).collect();
        prop_assert_eq!(read(&written(&parts), whole.len()), whole);
    }
}

/// Bytes around zero, as predicted ones of a photograph are: the sum of several dice.
fn residues(count: usize, dice: usize) -> Vec<u8> {
    let mut seed = 7_u32;
    let mut next = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        u8::try_from(seed >> 29).expect("three bits")
    };
    (0..count).map(|_| (0..dice).fold(0_u8, |sum, _| sum.wrapping_add(next())).wrapping_sub(28)).collect()
}

#[test]
fn counted_bytes_take_little_more_than_their_entropy() {
    let bytes = residues(1 << 20, 8);
    let mut counts = [0_u32; 256];
    bytes.iter().for_each(|byte| counts[usize::from(*byte)] += 1);
    let all = f64::from(1 << 20);
    let entropy: f64 = counts
        .iter()
        .filter(|count| **count > 0)
        .map(|count| -f64::from(*count) * (f64::from(*count) / all).log2() / 8.0)
        .sum();
    let size = written(&[(bytes, Way::Counted)]).len();
    let size = f64::from(u32::try_from(size).expect("small"));
    assert!(size > entropy && size < entropy * 1.02, "{size} bytes for an entropy of {entropy}");
}

#[test]
fn bare_bytes_take_next_to_nothing() {
    for way in [Way::Counted, Way::Repeated] {
        let size = written(&[(vec![0; 1 << 20], way)]).len();
        assert!(size < 3_000, "{way:?}: {size} bytes");
    }
}

#[test]
fn repeats_are_found() {
    let word = residues(600, 8);
    let bytes = word.repeat(1_000);
    let size = written(&[(bytes, Way::Repeated)]).len();
    assert!(size < 20_000, "{size} bytes");
}
