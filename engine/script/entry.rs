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
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let at = text.len() - rest.len();
        rest = &rest[c.len_utf8()..];
        match c {
            // A text that is not closed is the parser's to tell of.
            '"' | '\'' | '`' => rest = after_text(rest, c)?,
            '/' if rest.starts_with('/') => {
                rest = rest.find('\n').map_or("", |end| &rest[end..]);
            }
            '/' if rest.starts_with('*') => match after_comment(&rest[1..]) {
                Some(after) => rest = after,
                None => return Some(at),
            },
            _ => {}
        }
    }
    None
}

/// Where the brackets of a text stand that are not closed, the innermost last.
pub(super) fn open_brackets(text: &str) -> Vec<usize> {
    let mut open = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let at = text.len() - rest.len();
        rest = &rest[c.len_utf8()..];
        match c {
            '"' | '\'' | '`' => match after_text(rest, c) {
                Some(after) => rest = after,
                None => break,
            },
            '/' if rest.starts_with('/') => {
                rest = rest.find('\n').map_or("", |end| &rest[end..]);
            }
            '/' if rest.starts_with('*') => match after_comment(&rest[1..]) {
                Some(after) => rest = after,
                None => break,
            },
            '(' | '[' | '{' => open.push(at),
            ')' | ']' | '}' => {
                open.pop();
            }
            _ => {}
        }
    }
    open
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
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        rest = &rest[c.len_utf8()..];
        match c {
            '"' | '\'' | '`' => {
                let Some(after) = after_text(rest, c) else {
                    return if c == '`' { Code::Open } else { Code::Broken };
                };
                code.push(c);
                code.push(c);
                rest = after;
            }
            '/' if rest.starts_with('/') => {
                rest = rest.find('\n').map_or("", |end| &rest[end..]);
            }
            '/' if rest.starts_with('*') => {
                let Some(after) = after_comment(&rest[1..]) else {
                    return Code::Open;
                };
                rest = after;
            }
            _ => code.push(c),
        }
    }
    Code::Whole(code)
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

    proptest::proptest! {
        #[test]
        fn any_text_is_whole_or_not(text in "[(){}\"'`/*\\\\ a\n;é]{0,40}") {
            let _ = is_whole(&text);
        }
    }
}
