//! Hidden qualities and the clues that tell of them: readings of a grade, simulated states, measured colours.

use super::Item;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Clue, Placed, RowBody, Simulated, Triple};

impl<'t> Item<'t> {
    /// An entry of `clue`: a clue with the keys that only these have.
    pub fn clue_of_list(&self, out: &mut Vec<Diagnostic>) -> Option<Clue> {
        let reads = self.optional_word("reads", out);
        let instrument = self.triple("instrument", out);
        let simulated = self.simulated(out);
        let clue = self.clue(None, "choice", out)?;
        if clue.kind.value == "colour" && self.get("instrument").is_none() {
            let expected = "standard deviations of L*, a* and b* when one spot is measured again: [0.5, 0.2, 0.3]";
            self.missing("instrument", expected, out);
        }
        Some(Clue {
            reads,
            simulated,
            instrument,
            ..clue
        })
    }

    /// An entry of `hidden`: a quality that is never seen itself.
    pub fn hidden_quality(&self, out: &mut Vec<Diagnostic>) -> Option<Clue> {
        let id = self.word("id", out);
        let name = self.optional_word("name", out);
        let kind = self.optional_word("kind", out).unwrap_or_else(|| Placed {
            value: "graded".to_owned(),
            span: self.span,
        });
        let states = self.words("states", out);
        let simulated = self.simulated(out);
        let table = self.table(out);
        Some(Clue {
            id: id?,
            name,
            kind,
            states,
            absent: None,
            look: None,
            taken_from: None,
            weighing: None,
            wrong: None,
            reads: None,
            simulated,
            instrument: None,
            table,
        })
    }

    fn simulated(&self, out: &mut Vec<Diagnostic>) -> Option<Simulated> {
        let item = self.item("simulated", "a simulated state", out)?;
        let state = item.word("state", out);
        let of_reproductions = item.chance("of_reproductions", out);
        let of_others = item.chance("of_others", out);
        let seen = item.seen(out);
        item.finish(out);
        Some(Simulated {
            state: state?,
            of_reproductions,
            of_others,
            seen,
        })
    }

    /// `mean`, `sd` and `correlation` of a colour; `None` if the row is not about one.
    pub(super) fn colour_body(&self, out: &mut Vec<Diagnostic>) -> Option<Option<RowBody>> {
        let is_list = |key| {
            self.get(key)
                .is_some_and(|value| value.get_ref().is_array())
        };
        if !is_list("mean") && self.get("correlation").is_none() {
            return None;
        }
        let mut three = |key, expected| {
            if self.get(key).is_none() {
                self.missing(key, expected, out);
            }
            self.triple(key, out)
        };
        let mean = three("mean", "L*, a* and b*: [88.0, -2.0, 1.0]");
        let sd = three("sd", "of L*, a* and b*: [3.0, 0.8, 1.5]");
        let correlation = three(
            "correlation",
            "L* with a*, L* with b*, a* with b*: [0, 0, 0] if none is known",
        );
        let body = || {
            Some(RowBody::Colour {
                mean: mean?,
                sd: sd?,
                correlation: correlation?,
            })
        };
        Some(body())
    }

    fn triple(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Triple> {
        let place = self.get(key)?;
        let n_reports = out.len();
        let numbers = self.numbers(key, out)?;
        let values: Vec<f64> = numbers.iter().map(|number| number.value).collect();
        if out.len() > n_reports {
            return None;
        }
        let Ok(values) = <[f64; 3]>::try_from(values) else {
            self.wrong(place, key, "three numbers, for L*, a* and b*", out);
            return None;
        };
        Some(Triple {
            values,
            span: self.place(place.span()),
        })
    }
}
