//! Lengths in whole micrometres, temperatures, dwell times and amounts of memory, with the way people write them.
//!
//! One inch is 25 400 µm exactly (international yard and pound agreement of 1959), so inch fractions down to
//! 1/16 in (1 587.5 µm) round once, by at most half a micrometre, when they are read.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};
use std::str::FromStr;

use crate::num;

/// Micrometres in an inch.
pub const UM_PER_INCH: i64 = 25_400;

/// No length a maker can mean is longer: 100 m.
const LONGEST_UM: i128 = 100_000_000;

/// A length in whole micrometres, so that equal is equal and sums do not drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Length(i64);

impl Length {
    /// No length at all.
    pub const ZERO: Self = Self(0);

    /// A length of whole micrometres.
    #[must_use]
    pub const fn from_um(um: i64) -> Self {
        Self(um)
    }

    /// A length of whole millimetres.
    #[must_use]
    pub const fn from_mm(mm: i64) -> Self {
        Self(mm * 1000)
    }

    /// A length of whole inches.
    #[must_use]
    pub const fn from_inches(inches: i64) -> Self {
        Self(inches * UM_PER_INCH)
    }

    /// In micrometres.
    #[must_use]
    pub const fn um(self) -> i64 {
        self.0
    }

    /// In millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        num::float(self.0) / 1000.0
    }

    /// In inches.
    #[must_use]
    pub fn inches(self) -> f64 {
        num::float(self.0) / num::float(UM_PER_INCH)
    }

    /// In points of 1/72 in, the unit of a PDF page (ISO 32000-1, default user space).
    #[must_use]
    pub fn points(self) -> f64 {
        num::float(self.0) * 72.0 / num::float(UM_PER_INCH)
    }

    /// Half of it, an odd micrometre rounded down.
    #[must_use]
    pub const fn half(self) -> Self {
        Self(self.0.div_euclid(2))
    }

    /// The share `part` of it, rounded to the nearest micrometre.
    #[must_use]
    pub fn share(self, part: f64) -> Self {
        Self(num::round(num::float(self.0) * part))
    }

    /// Its absolute value.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Length {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Self) {
        self.0 -= other.0;
    }
}

impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<i64> for Length {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        Self(self.0 * times)
    }
}

impl Div<i64> for Length {
    type Output = Self;
    /// Rounded down, also below zero.
    fn div(self, parts: i64) -> Self {
        Self(self.0.div_euclid(parts))
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Self>>(lengths: I) -> Self {
        lengths.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Length {
    /// In millimetres without needless zeros: `12.7 mm`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} mm", self.mm())
    }
}

/// A number of bytes, as written `1GiB`, `512 MiB` or `2GB`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Bytes(pub u64);

/// The units, largest first; of those with a power of two (IEC 80000-13) and those with a power of ten.
const BYTES: [(&str, u64); 7] = [
    ("TiB", 1 << 40),
    ("GiB", 1 << 30),
    ("MiB", 1 << 20),
    ("KiB", 1 << 10),
    ("GB", 1_000_000_000),
    ("MB", 1_000_000),
    ("KB", 1_000),
];

impl FromStr for Bytes {
    type Err = Unreadable;

    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let text = text.trim();
        let wrong = || {
            Unreadable(format!("'{text}' is not an amount of memory; write for example `1GiB` or `512MiB`"))
        };
        let unit_at = text.find(|c: char| c.is_ascii_alphabetic()).ok_or_else(|| {
            Unreadable(format!("'{text}' has no unit; write for example `{text}MiB` or `{text}GiB`"))
        })?;
        let (number, unit) = text.split_at(unit_at);
        let (_, each) = BYTES.iter().find(|(name, _)| name.eq_ignore_ascii_case(unit)).ok_or_else(wrong)?;
        let number: f64 = number.trim().parse().map_err(|_| wrong())?;
        let total = number * num::float(i64::try_from(*each).map_err(|_| wrong())?);
        // Beyond 2^53 a float counts no single bytes any more, and no machine has as many.
        if !(0.0..9_007_199_254_740_992.0).contains(&total) {
            return Err(wrong());
        }
        u64::try_from(num::round(total)).map(Self).map_err(|_| wrong())
    }
}

impl fmt::Display for Bytes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = BYTES.iter().find(|(_, each)| self.0 >= *each && self.0.is_multiple_of(*each));
        match whole {
            Some((unit, each)) => write!(f, "{}{unit}", self.0 / each),
            None => write!(f, "{} bytes", self.0),
        }
    }
}

/// Why a quantity could not be read. Its text is the cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unreadable(pub String);

impl fmt::Display for Unreadable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Unreadable {}

impl FromStr for Length {
    type Err = Unreadable;

    /// Reads `24in`, `12.5 in`, `1/4 in`, `12 1/2 in`, `61cm`, `610 mm`, `2 m`, `3 ft`, `6"`; a bare number is refused.
    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let text = text.trim();
        let unit_at = text
            .find(|c: char| !(c.is_ascii_digit() || c.is_whitespace() || matches!(c, '.' | '/' | '-' | '+')));
        let (number, unit) = unit_at.map_or((text, ""), |at| text.split_at(at));
        let scale: i128 = match unit.trim() {
            "in" | "inch" | "inches" | "\"" => 25_400,
            "ft" | "foot" | "feet" => 304_800,
            "mm" => 1_000,
            "cm" => 10_000,
            "m" => 1_000_000,
            "um" | "µm" | "μm" => 1,
            "" => {
                return Err(Unreadable(format!(
                    "'{text}' has no unit; write for example `{text}in` or `{text}mm`"
                )));
            }
            _ => return Err(unlike_a_length(text, unit.trim())),
        };
        let (numerator, denominator) = fraction(number.trim()).ok_or_else(|| {
            Unreadable(format!(
                "'{text}' is not a length; write for example `12.5in`, `12 1/2 in` or `317 mm`"
            ))
        })?;
        let um = round_ratio(numerator * scale, denominator);
        if um.abs() > LONGEST_UM {
            return Err(Unreadable(format!("'{text}' is longer than 100 m; check the unit")));
        }
        Ok(Self(i64::try_from(um).map_err(|e| Unreadable(e.to_string()))?))
    }
}

/// Why a text is no length that a unit does not end.
fn unlike_a_length(text: &str, unit: &str) -> Unreadable {
    let pointed = text.replace(',', ".");
    Unreadable(if text.contains(',') && pointed.parse::<Length>().is_ok() {
        format!("'{text}' has a comma where a point is expected; write `{pointed}`")
    } else if let Some((first, _)) = two_lengths(text) {
        format!(
            "'{text}' is two lengths where one is expected; write one here, such as `{first}`, and the other under its own key"
        )
    } else {
        format!("'{unit}' is not a unit of length; use in, ft, mm, cm or m")
    })
}

/// A size as people say it, `24in x 12in` or `24 x 12 in`, as its two lengths.
#[must_use]
pub fn two_lengths(text: &str) -> Option<(String, String)> {
    let (first, second) = text.split_once(['x', 'X', '×', '*'])?;
    let (first, second) = (first.trim(), second.trim());
    second.parse::<Length>().ok()?;
    let unit = second.trim_start_matches(|c: char| !c.is_alphabetic() && c != '"');
    [first.to_owned(), format!("{first}{unit}")]
        .into_iter()
        .find(|first| first.parse::<Length>().is_ok())
        .map(|first| (first, second.to_owned()))
}

/// A written number as an exact fraction: `12.5`, `1/4`, `12 1/2`, with an optional sign.
fn fraction(text: &str) -> Option<(i128, i128)> {
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest.trim_start()),
        None => (1, text.strip_prefix('+').unwrap_or(text).trim_start()),
    };
    let mut words = text.split_whitespace();
    let first = words.next()?;
    let (numerator, denominator) = match (first.split_once('/'), words.next()) {
        (Some((over, under)), None) => (whole(over)?, whole(under)?),
        (None, Some(second)) => {
            let (over, under) = second.split_once('/')?;
            let under = whole(under)?;
            (whole(first)? * under + whole(over)?, under)
        }
        (None, None) => decimal(first)?,
        (Some(_), Some(_)) => return None,
    };
    (denominator > 0 && words.next().is_none()).then_some((sign * numerator, denominator))
}

fn whole(digits: &str) -> Option<i128> {
    (!digits.is_empty() && digits.len() <= 12 && digits.bytes().all(|b| b.is_ascii_digit()))
        .then(|| digits.parse().ok())?
}

fn decimal(text: &str) -> Option<(i128, i128)> {
    let (before, after) = text.split_once('.').unwrap_or((text, "0"));
    if after.len() > 9 {
        return None;
    }
    let denominator = 10_i128.pow(num::count(after.len()));
    let before = if before.is_empty() { 0 } else { whole(before)? };
    Some((before * denominator + whole(after)?, denominator))
}

/// The nearest whole number to a ratio, half away from zero.
fn round_ratio(numerator: i128, denominator: i128) -> i128 {
    let doubled = numerator.abs() * 2 + denominator;
    numerator.signum() * (doubled / (denominator * 2))
}

/// Pixels per inch: finite and above zero.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Ppi(f64);

impl Ppi {
    /// `None` unless the value is finite and above zero.
    #[must_use]
    pub fn new(value: f64) -> Option<Self> {
        (value.is_finite() && value > 0.0).then_some(Self(value))
    }

    /// The resolution at which `pixels` fill `length`, if both are above zero.
    #[must_use]
    pub fn of(pixels: u32, length: Length) -> Option<Self> {
        Self::new(f64::from(pixels) / length.inches())
    }

    /// Pixels per inch.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }

    /// The side of one pixel in micrometres.
    #[must_use]
    pub fn pitch_um(self) -> f64 {
        num::float(UM_PER_INCH) / self.0
    }

    /// How many pixels, with a fraction, a length is.
    #[must_use]
    pub fn pixels(self, length: Length) -> f64 {
        num::float(length.um()) * self.0 / num::float(UM_PER_INCH)
    }
}

/// A temperature in whole tenths of a degree Celsius.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Temperature(i64);

impl Temperature {
    /// In degrees Celsius.
    #[must_use]
    pub fn celsius(self) -> f64 {
        num::float(self.0) / 10.0
    }

    /// In degrees Fahrenheit, F = C x 9 / 5 + 32.
    #[must_use]
    pub fn fahrenheit(self) -> f64 {
        self.celsius() * 9.0 / 5.0 + 32.0
    }

    /// Halfway between two temperatures.
    #[must_use]
    pub const fn between(low: Self, high: Self) -> Self {
        Self((low.0 + high.0).div_euclid(2))
    }
}

impl FromStr for Temperature {
    type Err = Unreadable;

    /// Reads `390F`, `199C`, `198.9 C`; a bare number is refused. The reach is 0 to 300 C.
    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let text = text.trim();
        let number = |digits: &str| {
            digits
                .trim()
                .trim_end_matches('°')
                .trim()
                .parse::<f64>()
                .ok()
                .filter(|v| v.is_finite())
                .ok_or_else(|| {
                    Unreadable(format!("'{text}' is not a temperature; write for example `390F` or `199C`"))
                })
        };
        let celsius = if let Some(digits) = text.strip_suffix(['C', 'c']) {
            number(digits)?
        } else if let Some(digits) = text.strip_suffix(['F', 'f']) {
            (number(digits)? - 32.0) * 5.0 / 9.0
        } else {
            return Err(Unreadable(format!(
                "'{text}' does not say which degrees; write for example `{text}F` or `{text}C`"
            )));
        };
        if !(0.0..=300.0).contains(&celsius) {
            return Err(Unreadable(format!(
                "'{text}' is outside what a press can do (32F to 572F, 0C to 300C)"
            )));
        }
        Ok(Self(num::round(celsius * 10.0)))
    }
}

/// Whole seconds, as written `70s`, `1m10s`, `10m` or `2h`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Seconds(pub u32);

impl FromStr for Seconds {
    type Err = Unreadable;

    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let wrong =
            || Unreadable(format!("'{text}' is not a time; write for example `70s`, `1m10s` or `10m`"));
        let mut total: u32 = 0;
        let mut digits = String::new();
        for c in text.trim().chars() {
            match c {
                '0'..='9' => digits.push(c),
                ' ' => {}
                's' | 'm' | 'h' => {
                    let each = match c {
                        's' => 1,
                        'm' => 60,
                        _ => 3600,
                    };
                    let count: u32 = digits.parse().map_err(|_| wrong())?;
                    total =
                        count.checked_mul(each).and_then(|part| total.checked_add(part)).ok_or_else(wrong)?;
                    digits.clear();
                }
                _ => return Err(wrong()),
            }
        }
        if !digits.is_empty() {
            return Err(Unreadable(format!(
                "'{text}' has no unit of time; write for example `{}s`",
                text.trim()
            )));
        }
        if text.trim().is_empty() {
            return Err(wrong());
        }
        Ok(Self(total))
    }
}

impl fmt::Display for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.0 / 60, self.0 % 60) {
            (0, s) => write!(f, "{s} s"),
            (m, 0) => write!(f, "{m} min"),
            (m, s) => write!(f, "{m} min {s} s"),
        }
    }
}

/// Which units people read in notes and on labels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// Inches and degrees Fahrenheit.
    Inch,
    /// Millimetres and degrees Celsius.
    Metric,
}

impl Units {
    /// A length as people read it: `12.50 in` to the hundredth, `317.5 mm` to the tenth.
    #[must_use]
    pub fn show(self, length: Length) -> String {
        match self {
            Self::Inch => format!("{:.2} in", length.inches()),
            Self::Metric => format!("{:.1} mm", length.mm()),
        }
    }

    /// Width and height as people read them: `24.00 x 12.50 in`.
    #[must_use]
    pub fn show_size(self, width: Length, height: Length) -> String {
        match self {
            Self::Inch => format!("{:.2} x {:.2} in", width.inches(), height.inches()),
            Self::Metric => format!("{:.1} x {:.1} mm", width.mm(), height.mm()),
        }
    }

    /// A temperature in the reader's degrees first, the others in brackets.
    #[must_use]
    pub fn show_heat(self, heat: Temperature) -> String {
        let (f, c) = (heat.fahrenheit(), heat.celsius());
        match self {
            Self::Inch => format!("{f:.0} F ({c:.0} C)"),
            Self::Metric => format!("{c:.0} C ({f:.0} F)"),
        }
    }
}
