//! A network as XMLBIF 0.3.

use std::fmt::Write as _;

use crate::interchange::draft::{fits_name, fits_property};
use crate::interchange::{PublicNetwork, WriteError};
use crate::network::VariableId;

/// The document type of XMLBIF 0.3, so that a validating reader can do without the network.
const HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE BIF [
  <!ELEMENT BIF (NETWORK)*>
  <!ATTLIST BIF VERSION CDATA #REQUIRED>
  <!ELEMENT NETWORK (NAME, (PROPERTY | VARIABLE | DEFINITION)*)>
  <!ELEMENT NAME (#PCDATA)>
  <!ELEMENT VARIABLE (NAME, (OUTCOME | PROPERTY)*)>
  <!ATTLIST VARIABLE TYPE (nature | decision | utility) "nature">
  <!ELEMENT OUTCOME (#PCDATA)>
  <!ELEMENT DEFINITION (FOR | GIVEN | TABLE | PROPERTY)*>
  <!ELEMENT FOR (#PCDATA)>
  <!ELEMENT GIVEN (#PCDATA)>
  <!ELEMENT TABLE (#PCDATA)>
  <!ELEMENT PROPERTY (#PCDATA)>
]>
<BIF VERSION="0.3">
<NETWORK>
"#;

/// The network as text; numbers in the fewest digits that give the same number back.
pub(in crate::interchange) fn print(public: &PublicNetwork) -> Result<String, WriteError> {
    let network = &public.network;
    let mut out = HEAD.to_owned();
    let _ = writeln!(out, "<NAME>{}</NAME>", name(&public.name)?);
    properties(&mut out, "", &public.properties)?;
    for (variable, own) in network.variables().iter().zip(&public.variable_properties) {
        out += "<VARIABLE TYPE=\"nature\">\n";
        let _ = writeln!(out, "  <NAME>{}</NAME>", name(&variable.name)?);
        for state in &variable.states {
            let _ = writeln!(out, "  <OUTCOME>{}</OUTCOME>", name(state)?);
        }
        properties(&mut out, "  ", own)?;
        out += "</VARIABLE>\n";
    }
    for (id, own) in network.variable_ids().zip(&public.table_properties) {
        definition(&mut out, public, id, own)?;
    }
    out += "</NETWORK>\n</BIF>\n";
    Ok(out)
}

fn definition(
    out: &mut String,
    public: &PublicNetwork,
    id: VariableId,
    own: &[String],
) -> Result<(), WriteError> {
    let network = &public.network;
    out.push_str("<DEFINITION>\n");
    let _ = writeln!(out, "  <FOR>{}</FOR>", name(&network.variable(id).name)?);
    for &parent in network.parents(id) {
        let _ = writeln!(
            out,
            "  <GIVEN>{}</GIVEN>",
            name(&network.variable(parent).name)?
        );
    }
    out.push_str("  <TABLE>\n");
    for column in network.cpt(id).table.column_iter() {
        out.push_str("   ");
        for value in column.iter() {
            let _ = write!(out, " {value:?}");
        }
        out.push('\n');
    }
    out.push_str("  </TABLE>\n");
    properties(out, "  ", own)?;
    out.push_str("</DEFINITION>\n");
    Ok(())
}

fn properties(out: &mut String, indent: &str, properties: &[String]) -> Result<(), WriteError> {
    for property in properties {
        let _ = writeln!(out, "{indent}<PROPERTY>{}</PROPERTY>", escape(property)?);
    }
    Ok(())
}

fn name(name: &str) -> Result<String, WriteError> {
    if !fits_name(name) {
        return Err(unwritable(name));
    }
    escape(name)
}

fn unwritable(name: &str) -> WriteError {
    WriteError::ControlCharacter {
        name: name.to_owned(),
    }
}

/// The text with everything escaped that a reader would take for markup or layout.
fn escape(text: &str) -> Result<String, WriteError> {
    if !fits_property(text) {
        return Err(unwritable(text));
    }
    let mut escaped = String::with_capacity(text.len());
    let body = text.trim();
    let lead = text.len() - text.trim_start().len();
    for (at, c) in text.char_indices() {
        let is_inside = (lead..lead + body.len()).contains(&at);
        match c {
            '&' => escaped += "&amp;",
            '<' => escaped += "&lt;",
            '>' => escaped += "&gt;",
            '\r' => escaped += "&#13;",
            c if c.is_whitespace() && !is_inside => {
                let _ = write!(escaped, "&#{};", u32::from(c));
            }
            c => escaped.push(c),
        }
    }
    Ok(escaped)
}
