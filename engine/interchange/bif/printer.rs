//! A network as BIF text.

use std::fmt::Write as _;

use crate::interchange::draft::{fits_name, fits_property};
use crate::interchange::{PublicNetwork, WriteError};
use crate::network::VariableId;

/// The network as text; numbers in the fewest digits that give the same number back.
pub(in crate::interchange) fn print(public: &PublicNetwork) -> Result<String, WriteError> {
    let network = &public.network;
    let mut out = String::new();
    let name = match public.name.as_str() {
        "" => "\"\"".to_owned(),
        name => word(name)?,
    };
    let _ = writeln!(out, "network {name} {{");
    properties(&mut out, &public.properties)?;
    out += "}\n";
    for (variable, own) in network.variables().iter().zip(&public.variable_properties) {
        let states = words(variable.states.iter())?;
        let _ = writeln!(out, "variable {} {{", word(&variable.name)?);
        let _ = writeln!(
            out,
            "  type discrete [ {} ] {{ {states} }};",
            variable.states.len()
        );
        properties(&mut out, own)?;
        out += "}\n";
    }
    for (id, own) in network.variable_ids().zip(&public.table_properties) {
        table(&mut out, public, id)?;
        properties(&mut out, own)?;
        out += "}\n";
    }
    Ok(out)
}

fn table(out: &mut String, public: &PublicNetwork, id: VariableId) -> Result<(), WriteError> {
    let network = &public.network;
    let parents = network.parents(id);
    let child = word(&network.variable(id).name)?;
    if parents.is_empty() {
        let _ = writeln!(out, "probability ( {child} ) {{");
    } else {
        let names = words(parents.iter().map(|&p| &network.variable(p).name))?;
        let _ = writeln!(out, "probability ( {child} | {names} ) {{");
    }
    let states: Vec<Vec<String>> = parents
        .iter()
        .map(|&p| network.variable(p).states.iter().map(|s| word(s)).collect())
        .collect::<Result<_, _>>()?;
    for (configuration, column) in network.cpt(id).table.column_iter().enumerate() {
        out.push_str("  ");
        if parents.is_empty() {
            out.push_str("table ");
        } else {
            let of_parents = network.parent_states(id, configuration);
            let names: Vec<&str> = states
                .iter()
                .zip(of_parents)
                .map(|(names, s)| names[s].as_str())
                .collect();
            let _ = write!(out, "({}) ", names.join(", "));
        }
        for (i, value) in column.iter().enumerate() {
            let separator = if i == 0 { "" } else { ", " };
            // The debug form has the fewest digits and an exponent where the number is very small.
            let _ = write!(out, "{separator}{value:?}");
        }
        out.push_str(";\n");
    }
    Ok(())
}

fn words<'a>(names: impl Iterator<Item = &'a String>) -> Result<String, WriteError> {
    let words: Vec<String> = names.map(|name| word(name)).collect::<Result<_, _>>()?;
    Ok(words.join(", "))
}

/// A name, quoted unless every reader takes it for one word.
fn word(name: &str) -> Result<String, WriteError> {
    if !fits_name(name) {
        return Err(WriteError::ControlCharacter {
            name: name.to_owned(),
        });
    }
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "_-+.<>=/%".contains(c);
    let opens_comment = name.contains("//") || name.contains("/*");
    if !name.is_empty() && name.chars().all(is_plain) && !opens_comment {
        return Ok(name.to_owned());
    }
    Ok(quote(name))
}

fn quote(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        if matches!(c, '"' | '\\') {
            quoted.push('\\');
        }
        quoted.push(c);
    }
    quoted.push('"');
    quoted
}

fn properties(out: &mut String, properties: &[String]) -> Result<(), WriteError> {
    for property in properties {
        if !fits_property(property) {
            return Err(WriteError::ControlCharacter {
                name: property.clone(),
            });
        }
        let is_plain = !property.is_empty()
            && property.trim() == property
            && !property.contains(|c: char| c.is_control() || matches!(c, '"' | ';' | '{' | '}'))
            && !property.starts_with("//")
            && !property.starts_with("/*");
        let text = if is_plain {
            property.clone()
        } else {
            quote(property)
        };
        let _ = writeln!(out, "  property {text};");
    }
    Ok(())
}
