//! What a live page has more than the one in the folder: it asks where it came from for a newer one, while the maker lets
//! it, and lays that in without taking away what somebody is at.

use sha2::{Digest as _, Sha256};

use super::html::{Html, base64, element, lone};

const SCRIPT: &str = include_str!("live.js");

/// The part of the policy that lets the script work.
pub(super) fn policy() -> String {
    format!("; script-src 'sha256-{}'; connect-src 'self'", base64(&Sha256::digest(SCRIPT.as_bytes())))
}

/// Whether it looks by itself is the reader's to say, and what it found is told aloud only when it is new.
pub(super) fn controls() -> Html {
    element(
        "p",
        &[("class", "fresh")],
        [
            element(
                "label",
                &[],
                [
                    lone("input", &[("type", "checkbox"), ("id", "fresh"), ("checked", "")]),
                    Html::from(" Look for news by itself"),
                ],
            ),
            element("span", &[("id", "news"), ("role", "status")], ""),
        ],
    )
}

pub(super) fn script() -> Html {
    Html::from([Html::of("<script>"), Html::of(SCRIPT), Html::of("</script>\n")])
}
