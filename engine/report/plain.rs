//! Plain values of a script: numbers, texts, lists, maps. A list of maps is a table, a map has a line for each entry.

use serde_json::Value;

use super::table::{Align, table};
use crate::printable::in_a_line;

/// Text of a plain value.
#[must_use]
pub fn text(value: &Value) -> String {
    match value {
        Value::Array(rows) if !rows.is_empty() && rows.iter().all(Value::is_object) => {
            columns(rows)
        }
        Value::Object(map) if !map.is_empty() => {
            let rows = map
                .iter()
                .map(|(key, value)| vec![key.clone(), cell(value)]);
            lines(&rows.collect::<Vec<_>>())
        }
        value => format!("{}\n", cell(value)),
    }
}

/// One row for each map, one column for each key that any of them has.
fn columns(rows: &[Value]) -> String {
    let maps: Vec<_> = rows.iter().filter_map(Value::as_object).collect();
    let mut keys: Vec<&String> = Vec::new();
    for key in maps.iter().flat_map(|map| map.keys()) {
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    let header: Vec<(&str, Align)> = keys
        .iter()
        .map(|key| {
            let mut values = maps.iter().filter_map(|map| map.get(*key));
            // Numbers may come as texts, with the digits that were asked for.
            let is_number = values.all(|value| {
                let text = value.as_str();
                value.is_number()
                    || value.is_null()
                    || text.is_some_and(|text| text.parse::<f64>().is_ok())
            });
            let align = if is_number { Align::Right } else { Align::Left };
            (key.as_str(), align)
        })
        .collect();
    let cells = maps.iter().map(|map| {
        let of_key = |key: &&String| map.get(*key).map_or_else(String::new, cell);
        keys.iter().map(of_key).collect()
    });
    table(&header, cells.collect())
}

/// A line for each entry, the values beneath one another.
fn lines(rows: &[Vec<String>]) -> String {
    let widest = rows.iter().map(|row| row[0].chars().count()).max();
    let width = widest.unwrap_or(0) + 2;
    let line = |row: &Vec<String>| format!("  {:<width$}{}\n", row[0], row[1]);
    rows.iter().map(line).collect()
}

/// A value in one line: texts within lists and maps in quotes.
fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => in_a_line(text).into_owned(),
        value => inner(value),
    }
}

fn inner(value: &Value) -> String {
    match value {
        Value::Null => "()".to_owned(),
        Value::Array(list) => {
            let all: Vec<String> = list.iter().map(inner).collect();
            format!("[{}]", all.join(", "))
        }
        Value::Object(map) => {
            let one = |(key, value): (&String, &Value)| format!("{key}: {}", inner(value));
            let all: Vec<String> = map.iter().map(one).collect();
            format!("#{{ {} }}", all.join(", "))
        }
        // A text with its quotes, a number, true or false.
        value => value.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::text;

    #[test]
    fn lists_of_maps_are_tables_and_maps_have_a_line_each() {
        let rows = json!([{ "maker": "K07", "p": 0.77 }, { "maker": "K11" }]);
        assert_eq!(text(&rows), "  maker     p\n  K07    0.77\n  K11\n");
        let map = json!({ "foot": "recessed", "n": [1, 2.5, "a"] });
        assert_eq!(text(&map), "  foot  recessed\n  n     [1, 2.5, \"a\"]\n");
        assert_eq!(text(&json!([1, 2.5, "a"])), "[1, 2.5, \"a\"]\n");
        assert_eq!(text(&json!([{}, 1])), "[#{  }, 1]\n");
        assert_eq!(text(&json!([])), "[]\n");
    }
}
