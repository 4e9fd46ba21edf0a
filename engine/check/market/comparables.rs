//! `comparables.csv`: sold pieces, one line each.

use super::known_grade;
use crate::check::names;
use crate::dating::edtf::{Bound, Edtf, End};
use crate::diagnostic::{Diagnostic, shorten};
use crate::instruction::in_years;
use crate::learn::collection::{Collection, Row};
use crate::model::market::{Comparable, Grade, MarketWording, Named, Who};
use crate::nearest_name::nearest;
use crate::pack::text::market::Market as MarketText;
use crate::pack::text::{PackText, Placed, Word};
use crate::source::{SourceId, Sources, Span};

const CODE: &str = "pack::comparables";

/// The columns, in the order of the example; all must be there, `size` only for a ware with sizes.
pub const COLUMNS: [&str; 14] = [
    "id",
    "sold",
    "sale",
    "price_is",
    "catalogued_as",
    "names",
    "wording",
    "size",
    "condition",
    "hammer",
    "with_premium",
    "currency",
    "same_as",
    "source",
];

/// What cells are compared with.
pub struct Context<'a> {
    pub text: &'a MarketText,
    pub pack: &'a PackText,
    pub grades: &'a [Grade],
    pub wordings: &'a [MarketWording],
    pub sources: &'a Sources,
}

/// The lines, if nothing is wrong with any; every defect is pushed to `out`.
pub fn read(context: &Context<'_>, out: &mut Vec<Diagnostic>) -> Option<Vec<Comparable>> {
    let (source, table) = context.text.comparables.as_ref()?;
    let n_before = out.len();
    report_columns(*source, table, context, out);
    if out.len() > n_before {
        return None;
    }
    let cells = |row| Cells {
        source: *source,
        table,
        row,
        text: &context.sources.file(*source).text,
    };
    let ids: Vec<Word> = table.rows.iter().map(|row| cells(row).word("id")).collect();
    names::report_duplicates("sale", ids.iter().filter(|id| !id.value.is_empty()), out);
    let known: Vec<&str> = ids.iter().map(|id| id.value.as_str()).collect();
    let mut lines = Vec::new();
    for row in &table.rows {
        lines.extend(line(&cells(row), &known, context, out));
    }
    (out.len() == n_before).then_some(lines)
}

fn report_columns(
    source: SourceId,
    table: &Collection,
    context: &Context<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let text = &context.sources.file(source).text;
    let head = Span {
        source,
        start: 0,
        end: text.find('\n').unwrap_or(text.len()),
    };
    for name in &table.columns {
        if !COLUMNS.contains(&name.as_str()) {
            let message = format!("`{}` is no column of the comparables", shorten(name));
            let report =
                Diagnostic::error(CODE, message, head).did_you_mean(nearest(name, COLUMNS));
            out.push(report.hint(format!("the columns are {}", COLUMNS.join(", "))));
        }
    }
    let missing: Vec<&str> = COLUMNS
        .into_iter()
        .filter(|name| table.column(name).is_none())
        .filter(|name| *name != "size" || context.pack.sizes.is_some())
        .collect();
    if !missing.is_empty() {
        let message = format!("the comparables have no column {}", missing.join(", "));
        let hint = "add it to the first line, and a cell to every other; a cell may be left empty where nothing is known";
        out.push(Diagnostic::error(CODE, message, head).hint(hint));
    }
}

/// The cells of one line, with their places.
struct Cells<'a> {
    source: SourceId,
    table: &'a Collection,
    row: &'a Row,
    text: &'a str,
}

impl Cells<'_> {
    fn word(&self, column: &str) -> Word {
        let place = self.table.column(column);
        let value = place.and_then(|place| self.row.cells.get(place).cloned());
        Placed {
            value: value.unwrap_or_default(),
            span: place.map_or_else(|| self.line(), |place| self.span(place)),
        }
    }

    /// A cell that is not empty.
    fn given(&self, column: &str) -> Option<Word> {
        Some(self.word(column)).filter(|word| !word.value.is_empty())
    }

    fn line(&self) -> Span {
        Span {
            source: self.source,
            start: self.row.range.start,
            end: self.row.range.end,
        }
    }

    /// Where a cell stands: commas within quotation marks part nothing.
    fn span(&self, wanted: usize) -> Span {
        let line = self.text.get(self.row.range.clone()).unwrap_or_default();
        let (mut column, mut quoted, mut start, mut end) = (0, false, 0, line.len());
        for (at, c) in line.char_indices() {
            match c {
                '"' => quoted = !quoted,
                ',' if !quoted && column == wanted => {
                    end = at;
                    break;
                }
                ',' if !quoted => {
                    column += 1;
                    start = at + 1;
                }
                _ => {}
            }
        }
        let cell = line.get(start..end).unwrap_or_default();
        let begin = self.row.range.start + start + (cell.len() - cell.trim_start().len());
        Span {
            source: self.source,
            start: begin,
            end: begin + cell.trim().len(),
        }
    }
}

/// One line; its defects are pushed to `out`.
fn line(
    cells: &Cells<'_>,
    known: &[&str],
    context: &Context<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Comparable> {
    let mut needed = |column: &str, why: &str| {
        let word = cells.given(column);
        if word.is_none() {
            let message = format!("this sale has no `{column}`");
            out.push(Diagnostic::error(CODE, message, cells.line()).hint(why));
        }
        word
    };
    let id = needed("id", "give every sale a short name of its own, such as c7");
    let sold = needed("sold", "write when it was sold, such as 2023-10 or 2023");
    let sale = needed("sale", "name the kind of sale, as in market.toml");
    let price_is = needed("price_is", "write `sold` or `asked`");
    let catalogued = needed("catalogued_as", "write the words of the catalogue");
    let wording = needed(
        "wording",
        "name what those words come to, as in market.toml",
    );
    let currency = needed("currency", "write the code of the currency, such as GBP");
    let source = needed(
        "source",
        "write where the price is told, so that another can look it up",
    );

    let years = sold.as_ref().and_then(|word| sold_in_years(word, out));
    let sale = sale.and_then(|word| {
        let sales = context.text.sales.iter().map(|sale| sale.id.value.as_str());
        names::find("kind of sale", &word, sales, out)
    });
    let is_asked = price_is.and_then(|word| match word.value.as_str() {
        "sold" => Some(false),
        "asked" => Some(true),
        _ => {
            out.push(names::unknown(
                "kind of price in the comparables",
                &word,
                ["sold", "asked"],
            ));
            None
        }
    });
    let wording = wording.and_then(|word| {
        let wordings = context.wordings.iter().map(|wording| wording.id.as_str());
        names::find("wording of the market", &word, wordings, out)
    });
    let who = wording.and_then(|wording| who(cells, &context.wordings[wording], context.pack, out));
    let size = cells.given("size").and_then(|word| {
        let sizes = context.pack.sizes.iter().flat_map(|sizes| &sizes.sizes);
        let sizes: Vec<&str> = sizes.map(|size| size.id.value.as_str()).collect();
        names::find("size", &word, sizes.iter().copied(), out)
    });
    let grade = cells
        .given("condition")
        .and_then(|word| match word.value.parse() {
            Ok(grade) => known_grade(grade, word.span, context.grades, out),
            Err(_) => {
                let message = format!("`{}` is no grade of condition", shorten(&word.value));
                let hint =
                    "write the number of a [[grade]] of market.toml, or leave the cell empty";
                out.push(Diagnostic::error(CODE, message, word.span).hint(hint));
                None
            }
        });
    let hammer = price(cells, "hammer", out);
    let with_premium = price(cells, "with_premium", out);
    if let (Some(hammer), Some(paid)) = (hammer, with_premium)
        && paid < hammer
    {
        let message = format!("the buyer paid {paid}, less than the hammer price of {hammer}");
        let hint = "the two cells may have changed places: `with_premium` is the hammer and what the house adds";
        out.push(Diagnostic::error(CODE, message, cells.word("with_premium").span).hint(hint));
    }
    if let Some(word) = currency
        .as_ref()
        .filter(|word| !super::is_currency(&word.value))
    {
        let message = format!("`{}` is no currency", shorten(&word.value));
        let hint = "write its code by ISO 4217, such as GBP";
        out.push(Diagnostic::error(CODE, message, word.span).hint(hint));
    }
    let same_as = cells.given("same_as").and_then(|word| {
        let other = names::find("sale", &word, known.iter().copied(), out)?;
        if id.as_ref().is_some_and(|id| id.value == word.value) {
            let message = "a sale is the same as itself";
            let hint = "name the other line that goes back to the same source or set, or leave the cell empty";
            out.push(Diagnostic::error(CODE, message, word.span).hint(hint));
            return None;
        }
        Some(other)
    });
    let sold = sold?;
    Some(Comparable {
        id: id?.value,
        years: years?,
        sold: sold.value,
        sale: sale?,
        is_asked: is_asked?,
        catalogued: catalogued?.value,
        who: who?,
        wording: wording?,
        size,
        grade,
        hammer,
        with_premium,
        currency: currency?.value,
        same_as,
        source: source?.value,
        citation: context.sources.citation(cells.line()),
    })
}

/// Whom a line names, which must be what its wording names.
fn who(
    cells: &Cells<'_>,
    wording: &MarketWording,
    pack: &PackText,
    out: &mut Vec<Diagnostic>,
) -> Option<Who> {
    let word = cells.given("names");
    match (wording.names, word) {
        (Named::Maker, Some(word)) => {
            let makers = pack.makers.iter().map(|maker| maker.id.value.as_str());
            Some(Who::Maker(names::find("maker", &word, makers, out)?))
        }
        (Named::Works, Some(word)) => {
            let works = pack.works.iter().map(|works| works.value.as_str());
            Some(Who::Works(names::find("works", &word, works, out)?))
        }
        (Named::Nobody, None) => Some(Who::Nobody),
        (Named::Nobody, Some(word)) => {
            let message = format!(
                "`{}` names nobody, and this sale names `{}`",
                wording.id,
                shorten(&word.value)
            );
            let hint = "leave the cell empty, or choose a wording that names somebody";
            out.push(Diagnostic::error(CODE, message, word.span).hint(hint));
            None
        }
        (_, None) => {
            let what = if wording.names == Named::Maker {
                "the short code of a maker"
            } else {
                "a works"
            };
            let message = format!(
                "`{}` names somebody, and this sale names nobody",
                wording.id
            );
            let hint = format!("write {what} into `names`, or choose a wording that names nobody");
            out.push(Diagnostic::error(CODE, message, cells.line()).hint(hint));
            None
        }
    }
}

fn price(cells: &Cells<'_>, column: &str, out: &mut Vec<Diagnostic>) -> Option<f64> {
    let word = cells.given(column)?;
    let number = word.value.parse::<f64>().ok();
    let number = number.filter(|number| number.is_finite() && *number > 0.0);
    if number.is_none() {
        let message = format!("`{}` is no price", shorten(&word.value));
        let hint =
            "write a plain number above 0, without a sign of the currency, or leave the cell empty";
        out.push(Diagnostic::error(CODE, message, word.span).hint(hint));
    }
    number
}

/// The middle of the time in which a piece was sold.
fn sold_in_years(word: &Word, out: &mut Vec<Diagnostic>) -> Option<f64> {
    let wrong = |why: String| {
        Diagnostic::error(
            CODE,
            format!("`{}` does not say when: {why}", shorten(&word.value)),
            word.span,
        )
        .hint("write a day, a month or a year, such as 2023-10-05, 2023-10 or 2023")
    };
    match Edtf::parse(&word.value) {
        Err(error) => {
            out.push(wrong(error.to_string()));
            None
        }
        Ok(Edtf::Date(date)) => Some(in_years(&date)),
        Ok(interval @ Edtf::Interval(first, last)) => match (first, last) {
            (End::Date(first), End::Date(last))
                if matches!(
                    (interval.earliest(), interval.latest()),
                    (Bound::Year(_), Bound::Year(_))
                ) =>
            {
                Some((in_years(&first) + in_years(&last)) / 2.0)
            }
            _ => {
                out.push(wrong("the time has no end".to_owned()));
                None
            }
        },
    }
}
