//! Whether what was typed is a whole entry, or goes on in the next line.

/// Whether an entry of a console is whole: every bracket, text and comment is closed, no operator waits for more, and a
/// statement that begins with `let` or `const` has its `;`. An empty last line ends such a statement too. The text is that of
/// the lines without the break behind the last.
///
/// ```
/// use saggar::script::is_whole;
/// assert!(is_whole("jug.verdict()"));
/// assert!(!is_whole("jug.saw(\"size\","));
/// assert!(!is_whole("let jug = pack.piece(\"a jug\")"));
/// assert!(is_whole("let jug = pack.piece(\"a jug\")\n    .saw(\"size\", \"IV\");"));
/// ```
#[must_use]
pub fn is_whole(text: &str) -> bool {
    let code = match code_alone(text) {
        Code::Whole(code) => code,
        Code::Open => return false,
        Code::Broken => return true,
    };
    let mut depth = 0_usize;
    let mut last_statement = 0;
    for (at, c) in code.char_indices() {
        match c {
            '(' | '[' | '{' => depth += 1,
            // One too many is a mistake that the parser tells of.
            ')' | ']' | '}' => depth = depth.saturating_sub(1),
            ';' if depth == 0 => last_statement = at + 1,
            _ => {}
        }
    }
    if depth > 0 {
        return false;
    }
    let first = code[last_statement..].split_whitespace().next();
    let declares = matches!(first, Some("let" | "const"));
    let code = code.trim();
    let waits = |end: char| "=+-*/%<>&|,.:!^".contains(end);
    if code.chars().next_back().is_some_and(waits) {
        return false;
    }
    !declares || text.ends_with('\n')
}

/// Where a comment begins that is never closed: whatever follows would be passed over without a word.
pub(super) fn unclosed_comment(text: &str) -> Option<usize> {
    Parts::of(text).find_map(|(at, part)| matches!(part, Part::OpenComment).then_some(at))
}

/// Where the brackets of a text stand that are not closed, the innermost last.
pub(super) fn open_brackets(text: &str) -> Vec<usize> {
    let mut open = Vec::new();
    for (at, part) in Parts::of(text) {
        match part {
            Part::Sign('(' | '[' | '{') => open.push(at),
            Part::Sign(')' | ']' | '}') => {
                open.pop();
            }
            _ => {}
        }
    }
    open
}

/// Where a date stands that is not in quotes: `2024-03-31` is a subtraction, and gives 1990.
pub(super) fn dates_without_quotes(text: &str) -> Vec<std::ops::Range<usize>> {
    const FORM: &[u8] = b"dddd-dd-dd";
    // Every sign of code in its place; whatever stands in a text or a comment is blank.
    let mut code = vec![b' '; text.len()];
    for (at, part) in Parts::of(text) {
        if let Part::Sign(c) = part {
            code[at] = u8::try_from(c).unwrap_or(b'?');
        }
    }
    let fits = |found: &[u8]| {
        let mut pairs = found.iter().zip(FORM);
        pairs.all(|(c, form)| match form {
            b'd' => c.is_ascii_digit(),
            sign => c == sign,
        })
    };
    let joins = |c: Option<&u8>| {
        c.is_some_and(|c| c.is_ascii_alphanumeric() || matches!(c, b'_' | b'.' | b'-'))
    };
    let windows = code.windows(FORM.len()).enumerate();
    windows
        .filter(|(at, found)| {
            let before = at.checked_sub(1).and_then(|before| code.get(before));
            fits(found) && !joins(before) && !joins(code.get(at + FORM.len()))
        })
        .map(|(at, _)| at..at + FORM.len())
        .collect()
}

/// A text without its comments, and with nothing in its texts.
enum Code {
    Whole(String),
    /// A comment or a text in backticks goes on in the next line.
    Open,
    /// A text in quotes is not closed at the end of its line, which no line can mend: the parser tells of it.
    Broken,
}

fn code_alone(text: &str) -> Code {
    let mut code = String::new();
    for (_, part) in Parts::of(text) {
        match part {
            Part::Sign(c) => code.push(c),
            Part::Text(quote) => code.extend([quote, quote]),
            Part::OpenComment | Part::OpenText('`') => return Code::Open,
            Part::OpenText(_) => return Code::Broken,
        }
    }
    Code::Whole(code)
}

/// A part of a script.
enum Part {
    /// A character of code.
    Sign(char),
    /// A text between two of these quotes.
    Text(char),
    /// A text that is not closed; nothing comes behind it.
    OpenText(char),
    /// A comment that is not closed; nothing comes behind it.
    OpenComment,
}

/// The parts of a script with where each begins; comments that are closed are passed over.
struct Parts<'t> {
    text: &'t str,
    rest: &'t str,
}

impl<'t> Parts<'t> {
    fn of(text: &'t str) -> Self {
        Self { text, rest: text }
    }
}

impl Iterator for Parts<'_> {
    type Item = (usize, Part);

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let c = self.rest.chars().next()?;
            let at = self.text.len() - self.rest.len();
            let rest = &self.rest[c.len_utf8()..];
            let (rest, part) = match c {
                '"' | '\'' | '`' => match after_text(rest, c) {
                    Some(after) => (after, Some(Part::Text(c))),
                    None => ("", Some(Part::OpenText(c))),
                },
                '/' if rest.starts_with('/') => {
                    (rest.find('\n').map_or("", |end| &rest[end..]), None)
                }
                '/' if rest.starts_with('*') => match after_comment(&rest[1..]) {
                    Some(after) => (after, None),
                    None => ("", Some(Part::OpenComment)),
                },
                c => (rest, Some(Part::Sign(c))),
            };
            self.rest = rest;
            if let Some(part) = part {
                return Some((at, part));
            }
        }
    }
}

/// What follows a text that was opened by `quote`.
fn after_text(text: &str, quote: char) -> Option<&str> {
    let mut escaped = false;
    for (at, c) in text.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' if quote != '`' => escaped = true,
            _ if c == quote => return Some(&text[at + c.len_utf8()..]),
            // Only text in backticks has several lines.
            '\n' if quote != '`' => return None,
            _ => {}
        }
    }
    None
}

/// What follows a comment, which may hold others.
fn after_comment(text: &str) -> Option<&str> {
    let mut depth = 1_usize;
    let mut rest = text;
    while depth > 0 {
        let (open, close) = (rest.find("/*"), rest.find("*/")?);
        match open {
            Some(open) if open < close => {
                depth += 1;
                rest = &rest[open + 2..];
            }
            _ => {
                depth -= 1;
                rest = &rest[close + 2..];
            }
        }
    }
    Some(rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_goes_on_and_what_does_not() {
        for whole in [
            "",
            "1 + 2",
            "print(\"(\")",
            "print(`a\nb`)",
            "if a { b }",
            "let a = 1;",
            "let a = 1\n",
            "// (",
            "a /* ( /* ( */ */",
            "x = '('",
            "a)",
            "print(\"never closed",
            "jug.saw(\"a\", \"\\\"(\")",
        ] {
            assert!(is_whole(whole), "{whole}");
        }
        for part in [
            "(",
            "f(1,",
            "#{ a: 1",
            "fn f() {",
            "1 +",
            "let a =",
            "let a = 1",
            "a /* b",
            "print(`a",
            "jug.",
            "if a {\n b\n",
            "let a = f(\")\"",
            "a; let b = 1",
        ] {
            assert!(!is_whole(part), "{part}");
        }
    }

    #[test]
    fn dates_without_quotes_are_found() {
        let text = "print(2024-03-31); // 2024-03-31\nlet a = \"2024-03-31\"; x2024-03-31";
        let found = dates_without_quotes(text);
        assert_eq!((found.len(), found.first()), (1, Some(&(6..16))));
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_whole_or_not(text in "[(){}\"'`/*\\\\ a\n;é]{0,40}") {
            let _ = is_whole(&text);
        }
    }
}
