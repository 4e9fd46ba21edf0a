//! What a pack says of its market, with every name found and every belief turned into numbers.

mod comparables;
mod definitions;
mod factors;
mod wordings;

pub(super) use wordings::check_findings;

use super::names;
use crate::diagnostic::Diagnostic;
use crate::model::market::{
    Definition, Grade, Market, MarketWording, Named, PriceKind, SaleKind, Scatter, Usual,
};
use crate::pack::text::market::Market as MarketText;
use crate::pack::text::{PackText, Placed, Word};
use crate::source::Sources;
use factors::{apart, factor};

/// What messages about the market are called.
const CODE: &str = "pack::market";

/// The market, if nothing is wrong with it; every defect of `market.toml` and `comparables.csv` is pushed to `out`.
pub fn check(
    text: &MarketText,
    pack: &PackText,
    sources: &Sources,
    out: &mut Vec<Diagnostic>,
) -> Option<Market> {
    let currency = text.currency.as_ref();
    if let Some(word) = currency.filter(|word| !is_currency(&word.value)) {
        out.push(
            Diagnostic::error(CODE, format!("`{}` is no currency", word.value), word.span)
                .label("expected three capital letters")
                .hint("write its code by ISO 4217, such as \"GBP\" or \"EUR\""),
        );
    }
    let oldest = above_zero(text.oldest.as_ref(), "years", out);
    report_names(text, out);
    let sizes = pack.sizes.as_ref().map(|sizes| &sizes.sizes);
    let usual = text.usual.as_ref();
    let find_sale = |word: Option<&Word>, out: &mut Vec<Diagnostic>| {
        let known = text.sales.iter().map(|sale| sale.id.value.as_str());
        names::find("kind of sale", word?, known, out)
    };
    let usual_sale = find_sale(usual.and_then(|u| u.sale.as_ref()), out);
    let usual_wording = usual.and_then(|u| u.wording.as_ref()).and_then(|word| {
        let known = text
            .wordings
            .iter()
            .map(|wording| wording.id.value.as_str());
        names::find("wording of the market", word, known, out)
    });
    let usual_size = match (sizes, usual.map(|u| (&u.size, u.span))) {
        (Some(sizes), Some((Some(word), _))) => names::find(
            "size",
            word,
            sizes.iter().map(|size| size.id.value.as_str()),
            out,
        ),
        (Some(_), Some((None, span))) => {
            let message = "`[usual]` has no `size`";
            let hint =
                "the ware has sizes: name the size of the usual piece, such as `size = \"IV\"`";
            out.push(Diagnostic::error("pack::missing", message, span).hint(hint));
            None
        }
        (None, Some((Some(word), _))) => {
            let hint = "take it out, or list the sizes in sizes.toml";
            out.push(Diagnostic::error(CODE, "the pack has no sizes", word.span).hint(hint));
            None
        }
        _ => None,
    };

    let mut grades: Vec<Grade> = Vec::new();
    for grade in &text.grades {
        let number = whole(&grade.grade, "a grade", out);
        if let (Some(number), Some(words)) = (number, &grade.words) {
            if grades.iter().any(|earlier| earlier.grade == number) {
                let message = format!("grade {number} is there twice");
                let hint = "give one of them another number, or take one out";
                out.push(
                    Diagnostic::error("pack::duplicate", message, grade.grade.span).hint(hint),
                );
            }
            grades.push(Grade {
                grade: number,
                words: words.value.clone(),
            });
        }
    }
    grades.sort_by_key(|grade| std::cmp::Reverse(grade.grade));
    let condition = usual.and_then(|u| u.condition.as_ref());
    let usual_grade = condition.and_then(|number| {
        let grade = whole(number, "a grade", out)?;
        known_grade(grade, number.span, &grades, out)
    });

    let mut sales = Vec::new();
    for (place, sale) in text.sales.iter().enumerate() {
        let is_usual = usual_sale.map(|usual| usual == place);
        let entry = ("sale", &sale.id, sale.fetches.as_ref());
        let found = beside_usual(entry, is_usual, sources, out);
        sales.push(SaleKind {
            id: sale.id.value.clone(),
            factor: found,
            premium: sale.premium.as_ref().map(|premium| premium.value.value),
        });
    }
    let mut wordings = Vec::new();
    for (place, wording) in text.wordings.iter().enumerate() {
        let is_usual = usual_wording.map(|usual| usual == place);
        let entry = ("wording", &wording.id, wording.fetches.as_ref());
        let found = beside_usual(entry, is_usual, sources, out);
        let names = wording
            .names
            .as_ref()
            .and_then(|word| one_of("answer to whom a wording names", word, &Named::ALL, out));
        wordings.push(MarketWording {
            id: wording.id.value.clone(),
            words: wording
                .words
                .as_ref()
                .map_or_else(String::new, |words| words.value.clone()),
            names: names.unwrap_or(Named::Nobody),
            rungs: wording
                .rungs
                .iter()
                .map(|rung| rung.value.clone())
                .collect(),
            only_where: wording
                .only_where
                .iter()
                .filter_map(|(clue, state)| {
                    Some((clue.value.clone(), state.as_ref()?.value.clone()))
                })
                .collect(),
            factor: found,
        });
    }
    wordings::check(text, out);

    let mut definitions = Vec::new();
    for definition in &text.definitions {
        let price = definition
            .price
            .as_ref()
            .and_then(|word| one_of("kind of price", word, &PriceKind::ALL, out));
        let sale = find_sale(definition.sale.as_ref(), out);
        if let (Some(PriceKind::WithPremium), Some(sale), Some(word)) =
            (price, sale, &definition.price)
            && text.sales[sale].premium.is_none()
        {
            let message = format!(
                "the sale `{}` has no premium to add",
                text.sales[sale].id.value
            );
            let hint =
                "give the sale a `premium`, such as \"25%\", or let the definition mean the hammer";
            out.push(Diagnostic::error(CODE, message, word.span).hint(hint));
        }
        definitions::check(definition, out);
        let word = |word: &Option<Word>| word.as_ref().map(|word| word.value.clone());
        definitions.extend((|| {
            Some(Definition {
                id: definition.id.value.clone(),
                name: word(&definition.name)?,
                words: word(&definition.words).or(word(&definition.in_our_words))?,
                is_verbatim: definition.words.is_some(),
                taken_as: word(&definition.taken_as),
                suits: definition
                    .suits
                    .iter()
                    .map(|word| word.value.clone())
                    .collect(),
                source: word(&definition.source)?,
                price: price?,
                sale: sale?,
                is_band: definition.is_band,
            })
        })());
    }
    if text.definitions.is_empty() {
        let hint = "add a [[definition]] with id, name, words, source, price and sale";
        out.push(
            Diagnostic::error(
                "pack::missing",
                "there is no definition of value",
                text.span,
            )
            .hint(hint),
        );
    }

    let prices = text.prices.as_ref();
    let works_apart = apart(prices.and_then(|p| p.works_apart.as_ref()), out);
    let makers_apart = apart(prices.and_then(|p| p.makers_apart.as_ref()), out);
    let mut belief = |text: Option<&crate::pack::text::market::Factor>| factor(text?, sources, out);
    let size_step = belief(prices.and_then(|p| p.size_step.as_ref()));
    let condition_step = belief(prices.and_then(|p| p.condition_step.as_ref()));
    let year = belief(prices.and_then(|p| p.year.as_ref()));
    let retail = belief(prices.and_then(|p| p.retail.as_ref()));
    let price = belief(usual.and_then(|u| u.price.as_ref()));
    if let (Some(prices), Some(_), None) =
        (prices, sizes, prices.and_then(|p| p.size_step.as_ref()))
    {
        let message = "`[prices]` has no `each_size_larger`";
        let hint = "the ware has sizes: say what each size larger fetches, as { say = \"x1.3\", between = [\"x1.1\", \"x1.5\"], coverage = \"90%\" }";
        out.push(Diagnostic::error("pack::missing", message, prices.span).hint(hint));
    }
    let scatter = apart(prices.and_then(|p| p.scatter.as_ref()), out);
    let seen = prices
        .and_then(|p| p.scatter_seen.as_ref())
        .filter(|seen| seen.value > 0.0);
    let context = comparables::Context {
        text,
        pack,
        grades: &grades,
        wordings: &wordings,
        sources,
    };
    let comparables = comparables::read(&context, out);

    Some(Market {
        hash: text.hash.clone(),
        currency: currency?.value.clone(),
        oldest: oldest?,
        usual: Usual {
            price: price?,
            years: usual?.year.as_ref()?.value + 0.5,
            size: usual_size,
            grade: usual_grade?,
            wording: usual_wording?,
            sale: usual_sale?,
        },
        works_apart: works_apart?,
        makers_apart: makers_apart?,
        size_step,
        condition_step: condition_step?,
        year: year?,
        retail: retail?,
        scatter: Scatter {
            ln_factor: scatter?,
            seen: seen?.value,
        },
        sales,
        wordings,
        grades,
        definitions,
        comparables: comparables?,
    })
}

/// Whether a text has the form of a code of ISO 4217.
fn is_currency(text: &str) -> bool {
    text.len() == 3 && text.chars().all(|c| c.is_ascii_uppercase())
}

fn report_names(text: &MarketText, out: &mut Vec<Diagnostic>) {
    names::report_duplicates("kind of sale", text.sales.iter().map(|s| &s.id), out);
    names::report_duplicates(
        "wording of the market",
        text.wordings.iter().map(|w| &w.id),
        out,
    );
    names::report_duplicates("definition", text.definitions.iter().map(|d| &d.id), out);
}

/// What an entry, a sale or a wording, fetches beside the usual one: the usual one itself has no factor, every other has.
/// `is_usual` is none where the pack's usual one is not known.
fn beside_usual(
    (what, id, fetches): (&str, &Word, Option<&crate::pack::text::market::Factor>),
    is_usual: Option<bool>,
    sources: &Sources,
    out: &mut Vec<Diagnostic>,
) -> Option<crate::model::market::Factor> {
    let found = fetches.and_then(|text| factor(text, sources, out));
    let about = || format!("the {what} `{}`", id.value);
    match (is_usual, fetches) {
        (Some(true), Some(text)) => {
            let message = format!(
                "{} is the usual one, and fetches what the usual piece does",
                about()
            );
            let hint = "take `fetches` out, or name another in [usual]";
            out.push(Diagnostic::error(CODE, message, text.span).hint(hint));
        }
        (Some(false), None) => {
            let message = format!(
                "{} does not say what it fetches beside the usual one",
                about()
            );
            let hint = "add `fetches = { say = \"x0.8\", between = [\"x0.6\", \"x1.1\"], coverage = \"90%\" }`";
            out.push(Diagnostic::error("pack::missing", message, id.span).hint(hint));
        }
        _ => {}
    }
    found
}

fn one_of<T: Copy>(
    what: &str,
    word: &Word,
    all: &[(&'static str, T)],
    out: &mut Vec<Diagnostic>,
) -> Option<T> {
    let place = names::find(what, word, all.iter().map(|(name, _)| *name), out)?;
    Some(all[place].1)
}

fn above_zero(number: Option<&Placed<f64>>, what: &str, out: &mut Vec<Diagnostic>) -> Option<f64> {
    let number = number?;
    if number.value > 0.0 {
        return Some(number.value);
    }
    let message = format!("{} is no number of {what}", number.value);
    out.push(Diagnostic::error(CODE, message, number.span).label("expected a number above 0"));
    None
}

fn whole(number: &Placed<f64>, what: &str, out: &mut Vec<Diagnostic>) -> Option<i64> {
    if number.value.fract() == 0.0 && number.value.abs() < 1000.0 {
        #[allow(clippy::cast_possible_truncation, reason = "a whole number below 1000")]
        return Some(number.value as i64);
    }
    let message = format!("{} is not {what}", number.value);
    out.push(
        Diagnostic::error(CODE, message, number.span).label("expected a whole number, such as 4"),
    );
    None
}

fn known_grade(
    grade: i64,
    span: crate::source::Span,
    grades: &[Grade],
    out: &mut Vec<Diagnostic>,
) -> Option<i64> {
    if grades.iter().any(|known| known.grade == grade) {
        return Some(grade);
    }
    let known: Vec<String> = grades.iter().map(|grade| grade.grade.to_string()).collect();
    let message = format!("there is no grade {grade} of condition");
    out.push(
        Diagnostic::error("pack::unknown-name", message, span)
            .hint(format!("known: {}", known.join(", "))),
    );
    None
}
