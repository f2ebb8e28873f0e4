//! Types that are read from one value.

use std::fmt;
use std::str::FromStr;

use super::heard::{Asked, Kind, Look};
use super::{Node, Value, sentence, show, word};
use crate::units::{Bytes, Length, Ppi, Seconds, Temperature};

/// A type that can be read from one value.
pub trait Read: Sized {
    /// The value, or `None` after complaining.
    fn read(node: &Node<'_>) -> Option<Self>;
}

impl Read for String {
    fn read(node: &Node<'_>) -> Option<Self> {
        node.ask(Asked::Kind(Kind::Text));
        typed(node)
    }
}

/// What was typed, as a word or a sentence; complains where it is neither.
fn typed(node: &Node<'_>) -> Option<String> {
    let text = word(node.value());
    if text.is_none() {
        node.complain(
            format!("{} stands where a word is expected", show(node.value())),
            "Write a single word or a quoted sentence.",
        );
    }
    text
}

impl Read for bool {
    fn read(node: &Node<'_>) -> Option<Self> {
        node.choice_telling(&[("yes", true), ("no", false), ("true", true), ("false", false)], 2)
    }
}

impl Read for u32 {
    fn read(node: &Node<'_>) -> Option<Self> {
        node.ask(Asked::Kind(Kind::Whole));
        let count = match node.value() {
            Value::Number(number) if number.fract() == 0.0 && (0.0..=4_294_967_295.0).contains(number) => {
                Some(crate::num::pixels(*number))
            }
            _ => None,
        };
        if count.is_none() {
            node.complain(
                format!("{} is not a whole number", show(node.value())),
                "Write a whole number such as 1.",
            );
        }
        count
    }
}

impl Read for f64 {
    fn read(node: &Node<'_>) -> Option<Self> {
        node.ask(Asked::Kind(Kind::Number));
        match node.value() {
            Value::Number(number) if number.is_finite() => Some(*number),
            other => {
                node.complain(format!("{} is not a number", show(other)), "Write a number such as 0.5.");
                None
            }
        }
    }
}

impl Read for Ppi {
    fn read(node: &Node<'_>) -> Option<Self> {
        let ppi = f64::read(node)?;
        let ppi = Self::new(ppi).filter(|ppi| (1.0..=4800.0).contains(&ppi.get()));
        if ppi.is_none() {
            node.complain(
                format!("there cannot be {} pixels per inch", show(node.value())),
                "Write a number from 1 to 4800, such as 300.",
            );
        }
        ppi
    }
}

macro_rules! read_from_str {
    ($($kind:ty, $look:expr, $example:literal);*) => {$(
        impl Read for $kind {
            fn read(node: &Node<'_>) -> Option<Self> {
                node.looks($look);
                let typed = typed(node)?;
                match <$kind>::from_str(&typed) {
                    Ok(value) => Some(value),
                    Err(why) => {
                        node.complain_of_look(&why.to_string(), concat!("Write for example `", $example, "`."));
                        None
                    }
                }
            }
        }
    )*};
}

/// How a length looks, as [`Length`] is read.
const LENGTH: Look = Look {
    pattern: r#"^\s*[-+]?\s*(\d+(\.\d+)?|\.\d+|(\d+\s+)?\d+/\d+)\s*(in|inch|inches|"|ft|foot|feet|mm|cm|m|um|µm|μm)\s*$"#,
    examples: &["24in", "12.5 in", "12 1/2 in", "317.5mm"],
};

/// How a length looks that cannot be below zero.
pub const DISTANCE: Look = Look {
    pattern: r#"^\s*\+?\s*(\d+(\.\d+)?|\.\d+|(\d+\s+)?\d+/\d+)\s*(in|inch|inches|"|ft|foot|feet|mm|cm|m|um|µm|μm)\s*$"#,
    ..LENGTH
};

const TEMPERATURE: Look =
    Look { pattern: r"^\s*[-+]?(\d+\.?\d*|\.\d+)\s*°?\s*[CcFf]\s*$", examples: &["385F", "196C"] };

const SECONDS: Look = Look { pattern: r"^\s*(\d[\d ]*[smh] *)+\s*$", examples: &["55s", "1m10s", "10m"] };

const BYTES: Look = Look {
    pattern: r"^\s*(\d+\.?\d*|\.\d+)\s*([TtGgMmKk][Ii][Bb]|[GgMmKk][Bb])\s*$",
    examples: &["1GiB", "512MiB", "2GB"],
};

read_from_str!(Bytes, BYTES, "1GiB"; Length, LENGTH, "12.5in"; Temperature, TEMPERATURE, "390F"; Seconds, SECONDS, "60s");

/// What ranges are written of.
pub trait Ranged: FromStr + PartialOrd + Copy {
    /// How a range looks.
    const LOOK: Look;
}

impl Ranged for Temperature {
    const LOOK: Look = Look {
        pattern: r"^\s*(\+?(\d+\.?\d*|\.\d+)\s*°?\s*[CcFf]?\s*-\s*)?\+?(\d+\.?\d*|\.\d+)\s*°?\s*[CcFf]\s*$",
        examples: &["375-390F", "190C-200C", "385F"],
    };
}

impl Ranged for Seconds {
    const LOOK: Look = Look {
        pattern: r"^\s*(\d[\dsmh ]*-\s*)?(\d[\d ]*[smh] *)+\s*$",
        examples: &["35-70s", "45s-1m10s", "55s"],
    };
}

/// A range as written `375-390F` or `35-70s`, or one value for both ends; the unit may stand once at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Range<T> {
    /// The lower end.
    pub low: T,
    /// The upper end, not below the lower.
    pub high: T,
}

impl<T: Ranged> Read for Range<T>
where
    T::Err: fmt::Display,
{
    fn read(node: &Node<'_>) -> Option<Self> {
        node.looks(T::LOOK);
        let typed = typed(node)?;
        let (low, high) = typed.split_once('-').unwrap_or((&typed, &typed));
        let unit: String = high.trim().chars().skip_while(|c| !c.is_alphabetic()).collect();
        let low = if low.contains(char::is_alphabetic) {
            low.trim().to_owned()
        } else {
            format!("{}{unit}", low.trim())
        };
        match (low.parse::<T>(), high.trim().parse::<T>()) {
            (Ok(low), Ok(high)) if low <= high => Some(Self { low, high }),
            (Ok(_), Ok(_)) => {
                node.complain(format!("'{typed}' runs downwards"), "Write the lower value first.");
                None
            }
            (Err(why), _) | (_, Err(why)) => {
                let range = format!("A range is written as `{}`.", T::LOOK.examples.first().unwrap_or(&""));
                let why = why.to_string();
                match why.split_once("; ") {
                    Some((what, cure)) => node.complain(what, format!("{} {range}", sentence(cure))),
                    None => node.complain(why, range),
                }
                None
            }
        }
    }
}
