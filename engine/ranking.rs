//! The marks of a registry, ranked by how well each would explain what was read.
//!
//! P(fragment | mark) is summed over the ways the mark can have been struck ([`crate::model::lettering`]), and a stated
//! quality of the strike is part of what was read; it takes no
//! account of how many pieces carry the mark, nor of where one looked: that is for the whole piece, in a script. A
//! likelihood ratio sets it against that of the mark that explains the fragment best; in decibans that is 10 log₁₀ of it.
//!
//! Source: Good 1950, *Probability and the Weighing of Evidence*, ch. 6 (decibans).

use serde::Serialize;

use crate::mark::{Aligned, Fragment, StrikeQuality, Token, best_alignment};
use crate::model::{LetteringRules, MarkFragment, Model, Values};
use crate::piece::{PieceError, lettering};

/// Every mark of a registry against one fragment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MarkRanking {
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// The fragment as written.
    pub fragment: String,
    /// The quality of the strike, if stated.
    pub strike: Option<&'static str>,
    /// Devices and companions looked for, and what was seen of each.
    pub looked_for: Vec<(String, &'static str)>,
    /// The marks, the one that explains the fragment best first; of equals in the order of the registry.
    pub marks: Vec<RankedMark>,
}

/// One mark against the fragment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RankedMark {
    /// Its name.
    pub mark: String,
    /// What it says; `?` if nobody knows, none for a device alone.
    pub text: Option<String>,
    /// Printed, impressed, incised, painted.
    pub method: String,
    /// Who used it.
    pub users: Vec<MarkUser>,
    /// ln P(fragment | mark), in nats; minus infinity (in JSON: null) if the pack makes it impossible.
    pub ln_likelihood: f64,
    /// P(fragment | mark) over that of the best mark.
    pub likelihood_ratio: f64,
    /// The same in decibans; minus infinity (in JSON: null) if the pack makes it impossible.
    pub decibans: f64,
    /// The quality of strike that goes best with the fragment under this mark.
    pub strike: &'static str,
    /// The most probable way in which this mark, struck so, came to be read as the fragment; empty if there is none.
    pub alignment: Vec<AlignedColumn>,
}

/// A maker who used a mark.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MarkUser {
    /// Short code.
    pub maker: String,
    /// Name.
    pub name: String,
    /// Years in which it used the mark.
    pub years: String,
}

/// One column of an alignment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlignedColumn {
    /// Character of the mark; empty where the mark has none, `*` where nobody knows it.
    pub mark: String,
    /// What was read; empty where nothing was.
    pub read: String,
    /// What became of it.
    pub what: ColumnKind,
}

/// What became of a character.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ColumnKind {
    /// Read as what it is, or may be.
    Read,
    /// Read as another.
    Misread,
    /// Lost, and noted as lost.
    Lost,
    /// Lost, and not noticed.
    LostUnnoticed,
    /// A stop that was passed over.
    PassedOver,
    /// Read where the mark has nothing.
    NotInTheMark,
}

impl Model {
    /// Ranks the registry against a fragment, at the stated beliefs.
    ///
    /// # Errors
    /// [`PieceError::NoLettering`] if the pack does not say how lettering is read; [`PieceError::Fragment`] for letters, a
    /// quality or a device that it does not know.
    pub fn rank_marks<'a>(
        &self,
        letters: &str,
        quality: Option<&str>,
        looked_for: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<MarkRanking, PieceError> {
        let rules = lettering(self)?;
        let noted = rules.note(letters, quality, looked_for)?;
        let values = self.beliefs.stated();
        let likelihoods = rules.ln_likelihoods(&noted, &values);
        let mut marks: Vec<RankedMark> = (0..rules.marks.len())
            .map(|mark| {
                let weights = self.quality_weights(rules, mark, &values);
                let terms: Vec<f64> = weights
                    .iter()
                    .zip(&likelihoods[mark])
                    .map(|(w, ln)| w.ln() + ln)
                    .collect();
                self.ranked(rules, &noted, mark, &terms, &values)
            })
            .collect();
        marks.sort_by(|a, b| b.ln_likelihood.total_cmp(&a.ln_likelihood));
        let best = marks.first().map_or(0.0, |mark| mark.ln_likelihood);
        for mark in &mut marks {
            // Where no mark can be read so, none is best.
            let ln_ratio = if best == f64::NEG_INFINITY {
                best
            } else {
                mark.ln_likelihood - best
            };
            mark.likelihood_ratio = ln_ratio.exp();
            mark.decibans = 10.0 * ln_ratio / std::f64::consts::LN_10;
        }
        let looked_for = noted.reports.iter();
        Ok(MarkRanking {
            pack: self.name.clone(),
            pack_sha256: self.hash.clone(),
            fragment: noted.fragment.written().to_owned(),
            strike: noted.quality.map(StrikeQuality::name),
            looked_for: looked_for
                .map(|(thing, report)| (rules.things[*thing].clone(), report.name()))
                .collect(),
            marks,
        })
    }

    /// P(quality | mark): over the ways in which the mark can have been struck.
    fn quality_weights(&self, rules: &LetteringRules, mark: usize, values: &Values) -> [f64; 4] {
        let strikes = self.strike_of(rules, mark, values);
        std::array::from_fn(|quality| {
            let of = |(strike, p): (usize, &f64)| p * rules.quality_given(strike, values)[quality];
            strikes.iter().enumerate().map(of).sum()
        })
    }

    /// One mark; the ratio to the best is filled in once that is known. `terms` are ln P(fragment, quality | mark).
    fn ranked(
        &self,
        rules: &LetteringRules,
        noted: &MarkFragment,
        mark: usize,
        terms: &[f64],
        values: &Values,
    ) -> RankedMark {
        let largest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = terms.iter().map(|ln| (ln - largest).exp()).sum();
        let ln_likelihood = if largest == f64::NEG_INFINITY {
            largest
        } else {
            largest + sum.ln()
        };
        let best = terms.iter().position(|&ln| ln == largest).unwrap_or(0);
        let quality = StrikeQuality::ALL[best];
        let registered = &rules.marks[mark];
        let (reading, chances) = rules.at(values);
        let alignment = best_alignment(
            &reading,
            &registered.lettering,
            &noted.encoded,
            &chances[quality.index()],
        );
        let spelt = reading.spell(&registered.lettering);
        let users = registered.makers.iter().map(|&(maker, years)| {
            let maker = &self.catalogue.makers[maker];
            MarkUser {
                maker: maker.id.clone(),
                name: maker.name.clone(),
                years: years
                    .or(maker.years)
                    .map_or_else(String::new, |years| years.to_string()),
            }
        });
        RankedMark {
            mark: registered.id.clone(),
            text: registered.text.clone(),
            method: registered.method.clone(),
            users: users.collect(),
            ln_likelihood,
            likelihood_ratio: 0.0,
            decibans: 0.0,
            strike: quality.name(),
            alignment: alignment.map_or_else(Vec::new, |alignment| {
                let columns = alignment.columns.iter();
                columns
                    .map(|&column| shown(column, &spelt, &noted.fragment))
                    .collect()
            }),
        }
    }
}

fn shown(column: Aligned, spelt: &[char], fragment: &Fragment) -> AlignedColumn {
    let tokens: Vec<&Token> = fragment.tokens().collect();
    let of_mark = |letter: usize| spelt.get(letter).map_or("*".to_owned(), char::to_string);
    let of_fragment = |token: Option<usize>| token.map_or(String::new(), |t| tokens[t].to_string());
    let (letter, token, what) = match column {
        Aligned::Read { letter, token } => {
            let is_right = match (tokens[token], spelt.get(letter)) {
                (Token::Letter(letters), Some(c)) => letters.contains(c),
                _ => true,
            };
            let what = if is_right {
                ColumnKind::Read
            } else {
                ColumnKind::Misread
            };
            (Some(letter), Some(token), what)
        }
        Aligned::Lost {
            letter,
            token,
            noted: true,
        } => (Some(letter), token, ColumnKind::Lost),
        Aligned::Lost { letter, token, .. } => (Some(letter), token, ColumnKind::LostUnnoticed),
        Aligned::PassedOver { letter } => (Some(letter), None, ColumnKind::PassedOver),
        Aligned::Inserted { token } => (None, Some(token), ColumnKind::NotInTheMark),
    };
    AlignedColumn {
        mark: letter.map_or(String::new(), of_mark),
        read: of_fragment(token),
        what,
    }
}
