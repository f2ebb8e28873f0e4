//! How fast pixels go through a table profile, side by side with the engine's own fast path. Run by hand, on a machine
//! that does nothing else: `cargo test --release -p seamwright-profile -- --ignored --nocapture speed`.

use std::time::Instant;

use lcms2::{DisallowCache, Flags, Intent as Spoken, PixelFormat, Profile, ThreadContext, Transform};
use seamwright_contract::colour::Intent;
use seamwright_contract::num;
use seamwright_contract::picture::{Channels, Samples};

use super::fixture::{display_p3, dyes, noise};
use crate::engine::Engine;
use crate::icc;

/// Millions of pixels a second, the best of forty: what else the machine does can only slow it.
fn rate(pixels: usize, mut work: impl FnMut()) -> f64 {
    let mut rates: Vec<f64> = (0..40)
        .map(|_| {
            let began = Instant::now();
            work();
            f64::from(num::count(pixels)) / began.elapsed().as_secs_f64() / 1e6
        })
        .collect();
    rates.sort_by(f64::total_cmp);
    rates[39]
}

#[test]
#[ignore = "a figure for people, not a check"]
fn speed_of_a_table_profile() {
    const PIXELS: usize = 1 << 19;
    let ([dye, _], p3, srgb) = (dyes(), display_p3(), icc::srgb().unwrap());
    let wide = noise(PIXELS * 3);
    let narrow = Samples::Eight(wide.iter().map(|sample| num::narrow(*sample)).collect());
    let deep = Samples::Sixteen(wide.clone());
    // As photographs are: a slope with grain.
    let slope = |at: usize| u16::try_from(at / (PIXELS * 3 / 240)).unwrap_or(240);
    let grained = (0..).zip(&wide).map(|(at, grain)| u8::try_from(slope(at) + grain % 12).unwrap_or(u8::MAX));
    let photograph = Samples::Eight(grained.collect());
    for (printer, way) in [(&dye, "table"), (&p3, "matrix")] {
        let (from, to) = ((&srgb.bytes[..], Channels::Rgb), (&printer.bytes[..], Channels::Rgb));
        let engine = Engine::new(from, to, Intent::Relative, true).unwrap();
        for (samples, what) in
            [(&photograph, "8-bit photograph"), (&narrow, "8-bit noise"), (&deep, "16-bit noise")]
        {
            let mut out = vec![0; PIXELS * 3];
            let ours = rate(PIXELS, || assert!(engine.convert_rgb(samples, &mut out), "RGB is converted"));
            println!("{what} through our {way}: {ours:.0} million pixels a second");
        }
    }
    let context = ThreadContext::new();
    let open = |bytes: &[u8]| Profile::new_icc_context(&context, bytes).unwrap();
    let transform: Transform<u8, u8, ThreadContext, DisallowCache> = Transform::new_flags_context(
        &context,
        &open(&icc::srgb().unwrap().bytes),
        PixelFormat::RGB_16,
        &open(&dye.bytes),
        PixelFormat::RGB_16,
        Spoken::RelativeColorimetric,
        Flags::NO_CACHE | Flags::HIGHRES_PRECALC | Flags::BLACKPOINT_COMPENSATION,
    )
    .unwrap();
    let mut out = vec![0_u16; wide.len()];
    let engine = rate(PIXELS, || {
        transform.transform_pixels(bytemuck::cast_slice(&wide), bytemuck::cast_slice_mut(&mut out));
    });
    println!("16-bit noise through the engine alone: {engine:.0} million pixels a second");
}
