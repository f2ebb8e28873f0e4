//! The few lossy number conversions, each in one place with its rounding and limits said.

/// A whole number as a float. Exact below 2^53, which micrometres and pixels never reach.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "micrometres and pixel counts stay below 2^53")]
pub fn float(value: i64) -> f64 {
    value as f64
}

/// The nearest whole number, half away from zero. Not-a-number becomes 0, infinities the nearest limit.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "a float to integer cast saturates")]
pub fn round(value: f64) -> i64 {
    value.round() as i64
}

/// A float as a count of pixels, rounded to nearest and kept within `0..=u32::MAX`.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates at both ends"
)]
pub fn pixels(value: f64) -> u32 {
    value.round() as u32
}

/// A float as an 8-bit sample, rounded to nearest, half up, and kept within `0..=255`. Written so that plain processors
/// need no call for it.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates at both ends"
)]
pub fn byte(value: f32) -> u8 {
    (value + 0.5) as u8
}

/// A float as an 8-bit sample, rounded to nearest, half to even, and kept within `0..=255`. Written so that processors do
/// many at once.
#[must_use]
#[inline(always)]
pub fn eight(value: f32) -> u8 {
    whole(value, 255.0).to_le_bytes()[0]
}

/// A float as a 16-bit sample, rounded to nearest, half to even, and kept within `0..=65535`. Written so that processors do
/// many at once.
#[must_use]
#[inline(always)]
pub fn sixteen(value: f32) -> u16 {
    let [low, high, ..] = whole(value, 65_535.0).to_le_bytes();
    u16::from_le_bytes([low, high])
}

/// A float kept within nought and `most`, which is below 2^16, and rounded, in the lowest bits: adding 2^23 leaves no room
/// for a fraction.
#[inline(always)]
fn whole(value: f32, most: f32) -> u32 {
    let above = if value > 0.0 { value } else { 0.0 };
    let within = if above < most { above } else { most };
    (within + 8_388_608.0).to_bits()
}

/// A small whole number as a single-precision float. Exact below 2^24.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "said to be small")]
pub fn small(value: i32) -> f32 {
    value as f32
}

/// The nearest single-precision float; beyond its reach, an infinity.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "the loss of precision is what is asked for")]
pub fn single(value: f64) -> f32 {
    value as f32
}

/// A pixel count as an index. Lossless on every machine with at least 32-bit addresses.
#[must_use]
pub const fn index(value: u32) -> usize {
    value as usize
}

/// A length of something in memory as a 32-bit count; lists here never reach the limit, and saturate if they did.
#[must_use]
pub fn count(value: usize) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}

/// The high byte of a 16-bit sample, rounded: the 8-bit value whose 16-bit widening (`v * 257`) is nearest.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "the quotient is at most 255")]
pub fn narrow(sample: u16) -> u8 {
    ((u32::from(sample) + 128) / 257) as u8
}

/// An 8-bit sample as 16 bits, so that 0 stays 0 and 255 becomes 65535.
#[must_use]
pub fn widen(sample: u8) -> u16 {
    u16::from(sample) * 257
}
