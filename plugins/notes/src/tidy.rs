//! Words that come from outside (names, notes, notices) made fit to be set in a line.

use seamwright_contract::Length;
use seamwright_drawing::Style;

/// What stands for words left out.
const MORE: char = '\u{2026}';

/// Without control and invisible formatting characters (which could turn the reading direction of all that
/// follows), every run of white space one space.
pub(crate) fn clean(text: &str) -> String {
    let spaced: String = text.chars().map(|c| if c.is_whitespace() { ' ' } else { c }).collect();
    let kept: String = spaced.chars().filter(|c| !c.is_control() && !is_format(*c)).collect();
    kept.split(' ').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// The invisible characters of Unicode's general punctuation block, the soft hyphen and the byte order mark.
fn is_format(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

/// At most `lines` lines of `width`; where more is left, the last ends in an ellipsis.
pub(crate) fn wrap(style: Style, size: Length, text: &str, width: Length, lines: usize) -> Vec<String> {
    let mut all = style.wrap(size, text, width);
    if all.len() > lines {
        all.truncate(lines);
        if let Some(last) = all.last_mut() {
            last.push(MORE);
            while style.width(size, last) > width && last.chars().count() > 1 {
                last.pop();
                last.pop();
                last.push(MORE);
            }
        }
    }
    all
}
