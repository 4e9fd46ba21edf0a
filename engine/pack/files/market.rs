//! `market.toml`: how prices differ, and what "value" means.

use super::read_all;
use crate::diagnostic::Diagnostic;
use crate::learn::collection::Collection;
use crate::pack::reader::Item;
use crate::pack::text::market::{Definition, Factor, Grade, Market, Prices, Sale, Usual, Wording};
use crate::source::SourceId;

/// The file, with the table of comparables and the hash of both.
pub(super) fn market_file(
    item: &Item<'_>,
    table: Option<(SourceId, Collection)>,
    hash: String,
    out: &mut Vec<Diagnostic>,
) -> Market {
    let head = item.required_item("market", "currency, and how old a sale may be", out);
    let (mut currency, mut oldest) = (None, None);
    if let Some(head) = &head {
        currency = head.word("currency", out);
        oldest = needed(head, "oldest_sale_years", "years, such as 15", out);
        head.finish(out);
    }
    let usual = item.required_item("usual", "the piece that prices are measured from", out);
    let usual = usual.map(|usual| {
        let read = Usual {
            price: factor(&usual, "price", out),
            year: needed(&usual, "year", "the year of that price", out),
            size: usual.optional_word("size", out),
            condition: needed(&usual, "condition", "a grade of condition", out),
            wording: usual.word("wording", out),
            sale: usual.word("sale", out),
            span: usual.span,
        };
        usual.finish(out);
        read
    });
    let prices = item.required_item("prices", "how prices differ from the usual piece's", out);
    let prices = prices.map(|prices| {
        let scatter = prices.required_item("scatter", "how far single prices scatter", out);
        let (mut apart, mut seen) = (None, None);
        if let Some(scatter) = &scatter {
            apart = scatter.factor("say", out);
            seen = scatter.seen(out);
            if !scatter.has("seen") {
                scatter.missing("seen", "sales' worth of experience, such as 20", out);
            }
            scatter.finish(out);
        }
        let read = Prices {
            works_apart: prices.factor("works_apart", out),
            makers_apart: prices.factor("makers_apart", out),
            size_step: prices
                .has("each_size_larger")
                .then(|| factor(&prices, "each_size_larger", out))
                .flatten(),
            condition_step: factor(&prices, "each_grade_better", out),
            year: factor(&prices, "each_year", out),
            retail: factor(&prices, "dealer_over_hammer", out),
            scatter: apart,
            scatter_seen: seen,
            span: prices.span,
        };
        prices.know("each_size_larger");
        prices.finish(out);
        read
    });
    let sales = read_all(
        item.items("sale", "a kind of sale", out),
        out,
        |sale, out| {
            let fetches = optional_factor(sale, "fetches", out);
            let premium = sale.has("premium").then(|| sale.chance("premium", out));
            sale.know("premium");
            Some(Sale {
                id: sale.word("id", out)?,
                fetches,
                premium: premium.flatten(),
            })
        },
    );
    let wordings = item.items("wording", "a wording of the market", out);
    let wordings = read_all(wordings, out, |wording, out| {
        let (words, names) = (wording.word("words", out), wording.word("names", out));
        let rungs = wording.words("rungs", out);
        if rungs.is_empty() {
            wording.missing(
                "rungs",
                "the rungs of the house's ladder that support it",
                out,
            );
        }
        let fetches = optional_factor(wording, "fetches", out);
        wording.know("only_where");
        let only_where = wording
            .has("only_where")
            .then(|| {
                wording.item(
                    "only_where",
                    "clues with the states they must be noted in",
                    out,
                )
            })
            .flatten();
        let only_where = only_where.map_or_else(Vec::new, |noted| noted.remaining_words(out));
        Some(Wording {
            id: wording.word("id", out)?,
            words,
            names,
            rungs,
            only_where,
            fetches,
        })
    });
    let grades = item.items("grade", "a grade of condition", out);
    let grades = read_all(grades, out, |grade, out| {
        let words = grade.word("words", out);
        let number = needed(
            grade,
            "grade",
            "a whole number; a higher one is better",
            out,
        );
        Some(Grade {
            grade: number?,
            words,
        })
    });
    let definitions = item.items("definition", "a definition of value", out);
    let definitions = read_all(definitions, out, |definition, out| {
        let [name, source, price, sale] =
            ["name", "source", "price", "sale"].map(|key| definition.word(key, out));
        let [words, in_our_words, taken_as] =
            ["words", "in_our_words", "taken_as"].map(|key| definition.optional_word(key, out));
        let suits = definition.words("suits", out);
        let is_band = definition.flag("as_a_band", out);
        Some(Definition {
            id: definition.word("id", out)?,
            name,
            words,
            in_our_words,
            taken_as,
            suits,
            source,
            price,
            sale,
            is_band,
        })
    });
    item.finish(out);
    Market {
        currency,
        oldest,
        usual,
        prices,
        sales,
        wordings,
        grades,
        definitions,
        comparables: table,
        hash,
        span: item.span,
    }
}

fn needed(
    item: &Item<'_>,
    key: &'static str,
    expected: &str,
    out: &mut Vec<Diagnostic>,
) -> Option<crate::pack::text::Placed<f64>> {
    let number = item.number(key, out);
    if !item.has(key) {
        item.missing(key, expected, out);
    }
    number
}

fn optional_factor(
    item: &Item<'_>,
    key: &'static str,
    out: &mut Vec<Diagnostic>,
) -> Option<Factor> {
    item.know(key);
    item.has(key).then(|| factor(item, key, out)).flatten()
}

/// A factor or a price with its range and coverage.
fn factor(item: &Item<'_>, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Factor> {
    const FORM: &str = "{ say = \"x1.35\", between = [\"x1.2\", \"x1.5\"], coverage = \"90%\" }";
    if !item.has(key) {
        item.know(key);
        item.missing(key, FORM, out);
        return None;
    }
    let entry = item.item(key, "a belief about prices", out)?;
    let read = Factor {
        say: entry.factor("say", out),
        between: entry.factors("between", out),
        coverage: entry.chance("coverage", out),
        span: entry.span,
    };
    entry.finish(out);
    Some(read)
}
