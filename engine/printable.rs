//! Characters that steer a terminal or turn the order of a line instead of being seen: a title, a note or a cell of a table
//! may come from anybody, and must not move the cursor, forge a line or hide one.

use std::borrow::Cow;

/// Whether a character steers instead of being seen: a control character, line breaks and tabs among them, or one that
/// sets the direction of writing or divides lines.
///
/// **Source**: Unicode Standard, general category Cc; Unicode Standard Annex 9, 2 (explicit and implicit directional
/// formatting characters); U+2028 and U+2029, general categories Zl and Zp.
#[must_use]
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The first character of a text that steers, in words, if there is one.
#[must_use]
pub fn steering(text: &str) -> Option<String> {
    let found = text.chars().find(|c| steers(*c))?;
    Some(match found {
        '\n' | '\r' | '\u{2028}' | '\u{2029}' | '\u{85}' | '\u{b}' | '\u{c}' => {
            "a line break".to_owned()
        }
        '\t' => "a tab".to_owned(),
        c if c.is_control() => format!("the control character U+{:04X}", u32::from(c)),
        c => format!(
            "the character U+{:04X}, which turns the direction of writing",
            u32::from(c)
        ),
    })
}

/// A text of several lines as it may be printed: line breaks and tabs stay, whatever else steers is shown by its sign.
#[must_use]
pub fn printable(text: &str) -> Cow<'_, str> {
    shown(text, |c| steers(c) && !matches!(c, '\n' | '\t'))
}

/// A text that stands in one line: line breaks and tabs are shown by their signs too.
#[must_use]
pub fn in_a_line(text: &str) -> Cow<'_, str> {
    shown(text, steers)
}

fn shown(text: &str, hidden: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&hidden) {
        return Cow::Borrowed(text);
    }
    let one = |c: char| if hidden(c) { sign(c) } else { c };
    Cow::Owned(text.chars().map(one).collect())
}

/// The sign for a character: of the Unicode block "Control Pictures" where it has one.
fn sign(c: char) -> char {
    match u32::from(c) {
        code @ 0..=0x1f => char::from_u32(0x2400 + code).unwrap_or(char::REPLACEMENT_CHARACTER),
        0x7f => '␡',
        _ => char::REPLACEMENT_CHARACTER,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_shown_and_the_rest_stays() {
        assert_eq!(printable("a\x1b]0;x\x07\nb\r\tc"), "a␛]0;x␇\nb␍\tc");
        assert_eq!(
            in_a_line("a\nb\u{9b}2J\u{202e}c\x7f"),
            "a␊b\u{fffd}2J\u{fffd}c␡"
        );
        let whole = "Thackle & Umber, “1836–1871” ½ 日本 é";
        assert!(matches!(in_a_line(whole), Cow::Borrowed(same) if same == whole));
    }

    #[test]
    fn what_steers_is_named() {
        assert_eq!(steering("plain"), None);
        assert_eq!(steering("a\nb").unwrap(), "a line break");
        let escape = steering("a\x1bb").unwrap();
        assert_eq!(escape, "the control character U+001B");
        assert!(steering("\u{202e}").unwrap().contains("direction"));
    }
}
