//! Texts that stand in one line of whatever is shown.

use super::fault::Fault;
use crate::printable::steering;

/// A text given for one line; refused if it would break the line or steer the terminal.
pub(super) fn one_line(what: &str, text: &str) -> Result<String, Fault> {
    match steering(text) {
        None => Ok(text.to_owned()),
        Some(held) => Err(
            Fault::new(format!("{what} stands in one line, and this one holds {held}")).hint(
                "take it out; `text.replace(\"\\n\", \" \");` puts a blank for every line break of a text from elsewhere",
            ),
        ),
    }
}

/// A title, cut to a length that a heading may have.
pub(super) fn title(text: &str) -> Result<String, Fault> {
    const LONGEST: usize = 200;
    Ok(one_line("a title", text)?.chars().take(LONGEST).collect())
}
