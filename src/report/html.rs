//! HTML out of texts that are never trusted: this is the one place where a text becomes markup.
//!
//! [`Html`] is markup that is in order. A text gets into it only by [`text`], which escapes, and by attributes, which
//! are escaped alike; words of our own that hold markup are `&'static str`, so nothing from outside can be among them.

use std::fmt::Write as _;

use crate::journal::visible;

/// Markup.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Html(String);

impl Html {
    /// Markup of our own.
    pub(super) fn of(markup: &'static str) -> Self {
        Self(markup.to_owned())
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(super) fn into_string(self) -> String {
        self.0
    }
}

impl FromIterator<Html> for Html {
    fn from_iter<I: IntoIterator<Item = Html>>(parts: I) -> Self {
        let mut whole = Self::default();
        for part in parts {
            whole.0.push_str(&part.0);
        }
        whole
    }
}

impl<const N: usize> From<[Html; N]> for Html {
    fn from(parts: [Html; N]) -> Self {
        parts.into_iter().collect()
    }
}

impl From<Vec<Html>> for Html {
    fn from(parts: Vec<Html>) -> Self {
        parts.into_iter().collect()
    }
}

impl From<&str> for Html {
    fn from(words: &str) -> Self {
        text(words)
    }
}

impl From<String> for Html {
    fn from(words: String) -> Self {
        text(&words)
    }
}

/// A text as text, whatever stands in it, without what could play tricks on a reader.
pub(super) fn text(words: &str) -> Html {
    let mut escaped = String::with_capacity(words.len());
    for c in visible(words).chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            c => escaped.push(c),
        }
    }
    Html(escaped)
}

/// An element with its attributes.
pub(super) fn element(
    name: &'static str,
    attributes: &[(&'static str, &str)],
    inside: impl Into<Html>,
) -> Html {
    let mut markup = open(name, attributes);
    markup.push_str(&inside.into().0);
    markup.push_str("</");
    markup.push_str(name);
    markup.push('>');
    Html(markup)
}

/// An element that has no end, such as a picture.
pub(super) fn lone(name: &'static str, attributes: &[(&'static str, &str)]) -> Html {
    Html(open(name, attributes))
}

fn open(name: &'static str, attributes: &[(&'static str, &str)]) -> String {
    let mut markup = format!("<{name}");
    for (key, value) in attributes {
        markup.push_str(&format!(" {key}=\"{}\"", text(value).0));
    }
    markup.push('>');
    markup
}

/// An element without attributes.
pub(super) fn plain(name: &'static str, inside: impl Into<Html>) -> Html {
    element(name, &[], inside)
}

/// The maker's words within a line of ours: they may run the other way.
pub(super) fn own(words: &str) -> Html {
    element("bdi", &[], words)
}

/// A name as a part of an address (RFC 3986, 2.3: all but letters, digits and four signs is escaped).
pub(super) fn address(name: &str) -> String {
    let mut escaped = String::new();
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~') {
            escaped.push(char::from(byte));
        } else {
            // Writing into a string does not fail.
            let _ok = write!(escaped, "%{byte:02X}");
        }
    }
    escaped
}

/// Bytes as text (RFC 4648, 4).
pub(super) fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut written = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let bits = [0, 1, 2].map(|at| u32::from(three.get(at).copied().unwrap_or_default()));
        let bits = bits[0] << 16 | bits[1] << 8 | bits[2];
        for digit in 0..4 {
            let sign = DIGITS.get(usize::try_from(bits >> (18 - 6 * digit) & 63).unwrap_or_default());
            let sign = sign.filter(|_| digit <= three.len()).unwrap_or(&b'=');
            written.push(char::from(*sign));
        }
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_stay_texts() {
        let nasty = "</p><script>alert('1')</script> \"&amp;\" \u{202e}x";
        let html = element("p", &[("title", nasty)], nasty).into_string();
        let inside =
            "&lt;/p&gt;&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt; &quot;&amp;amp;&quot; \u{fffd}x";
        assert_eq!(html, format!("<p title=\"{inside}\">{inside}</p>"));
    }

    #[test]
    fn addresses_and_bytes_are_written_as_the_standards_say() {
        assert_eq!(address("tide \"1\"#?%/ü-1.pdf"), "tide%20%221%22%23%3F%25%2F%C3%BC-1.pdf");
        // RFC 4648, 10.
        for (bytes, written) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(bytes.as_bytes()), written);
        }
    }
}
