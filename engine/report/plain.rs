//! Plain values of a script: numbers, texts, lists, maps. A list of maps is a table, a map has a line for each entry.

use serde_json::Value;

use super::table::{Align, table};
use crate::printable::in_a_line;

/// Text of a plain value; of a table the columns that are wanted, in their order, or all by name. Figures have at most four
/// significant digits.
#[must_use]
pub fn text(value: &Value, wanted: Option<&[String]>) -> String {
    match value {
        Value::Array(rows) if !rows.is_empty() && rows.iter().all(Value::is_object) => {
            columns(rows, wanted)
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

/// One row for each map, one column for each key that is wanted, or that any of them has.
fn columns(rows: &[Value], wanted: Option<&[String]>) -> String {
    let maps: Vec<_> = rows.iter().filter_map(Value::as_object).collect();
    let mut keys: Vec<&String> = wanted.into_iter().flatten().collect();
    if wanted.is_none() {
        for key in maps.iter().flat_map(|map| map.keys()) {
            if !keys.contains(&key) {
                keys.push(key);
            }
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
        Value::Number(number) if number.is_f64() => {
            number.as_f64().map_or_else(String::new, four_significant)
        }
        // A text with its quotes, a whole number, true or false.
        value => value.to_string(),
    }
}

/// At most four significant digits, whole parts whole, and never a 1 that is not one.
fn four_significant(number: f64) -> String {
    if number == 0.0 {
        return "0".to_owned();
    }
    if (0.99995..1.0).contains(&number) {
        return "> 0.9999".to_owned();
    }
    if !(1e-4..1e15).contains(&number.abs()) {
        let text = format!("{number:.3e}");
        let (digits, power) = text.split_once('e').unwrap_or((&text, "0"));
        return format!("{}e{power}", without_zeros(digits));
    }
    // As many places behind the point as leave four digits from the first that is not 0.
    let before = number.abs().log10().floor();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "from 0 to 7"
    )]
    let places = (3.0 - before).clamp(0.0, 7.0) as usize;
    without_zeros(&format!("{number:.places$}")).to_owned()
}

fn without_zeros(digits: &str) -> &str {
    match digits.contains('.') {
        true => digits.trim_end_matches('0').trim_end_matches('.'),
        false => digits,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::{four_significant, text};

    #[test]
    fn lists_of_maps_are_tables_and_maps_have_a_line_each() {
        let rows = json!([{ "maker": "K07", "p": 0.77 }, { "maker": "K11" }]);
        assert_eq!(text(&rows, None), "  maker     p\n  K07    0.77\n  K11\n");
        let map = json!({ "foot": "recessed", "n": [1, 2.5, "a"] });
        assert_eq!(
            text(&map, None),
            "  foot  recessed\n  n     [1, 2.5, \"a\"]\n"
        );
        assert_eq!(text(&json!([1, 2.5, "a"]), None), "[1, 2.5, \"a\"]\n");
        assert_eq!(text(&json!([{}, 1]), None), "[#{  }, 1]\n");
        assert_eq!(text(&json!([]), None), "[]\n");
    }

    #[test]
    fn figures_have_four_digits() {
        for (number, text) in [
            (0.429_543_067_354, "0.4295"),
            (0.000_127_248_88, "0.0001272"),
            (0.000_012_724, "1.272e-5"),
            (0.5, "0.5"),
            (0.999_97, "> 0.9999"),
            (1.0, "1"),
            (-3.0, "-3"),
            (1_234.56, "1235"),
            (12.345_67, "12.35"),
            (9.999_96, "10"),
            (2e20, "2e20"),
        ] {
            assert_eq!(four_significant(number), text);
        }
    }

    #[test]
    fn columns_stand_as_they_are_wanted() {
        let rows = json!([{ "a": 1, "b": "x", "c": 0.25 }]);
        let wanted = ["c".to_owned(), "b".to_owned()];
        assert_eq!(text(&rows, Some(&wanted)), "     c  b\n  0.25  x\n");
    }
}
